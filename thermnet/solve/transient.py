"""A history from a stated start: outputs, true extremes and the record for the energy account."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from thermnet.network.network import Network, heater_powers
from thermnet.network.primitives import Floats
from thermnet.solve.closure import partition
from thermnet.solve.events import first_state
from thermnet.solve.march import Step, march
from thermnet.solve.solution import Extremes, Kind, Options, Record, Solution, Stats
from thermnet.solve.steady import steady
from thermnet.solve.steps import LOBATTO, LOBATTO_WEIGHTS, MarchError

SAME = 1e-5
"""K within which two extremes are the same."""

FINE = 17
"""Points per step at which the interpolant is searched for extremes, before a parabola."""


def transient(
    network: Network,
    span: float,
    options: Options = Options(),
    *,
    start: Floats | None = None,
    state: Floats | None = None,
) -> Solution:
    """Integrate over `span` [s] from `start` f8[n] [K], by default the steady state of the means.

    `state` f8[h] are the first thermostat states (0 or 1) for sensors inside their band; off
    unless given. Thermostats switch at located instants, with hysteresis. `failure` is a sentence
    when the integrator cannot go on; what was computed up to there is kept.
    """
    if start is None:
        before = steady(network, options)
        if before.failure:
            return replace(before, kind="transient")
        start = before.temperature[0]
    first = first_state(network, start, state)
    return collect(network, "transient", march(network, span, start, first, options), options)


def collect(
    network: Network,
    kind: Kind,
    steps: Iterable[Step],
    options: Options,
    *,
    notes: tuple[str, ...] = (),
    passes: int = 1,
    error_estimate: float = 0.0,
) -> Solution:
    """Sample every step, and turn the samples into a Solution."""
    count, evaluations, failure = len(network.thermostats.node), 0, ""
    samples: list[Floats] = []
    begins, ends, offsets, states, numbers = [], [], [], [], []
    try:
        for step in steps:
            samples.append(step.samples())
            begins.append(step.begin)
            ends.append(step.end)
            offsets.append(step.offset)
            states.append(np.zeros(count) if step.state is None else step.state)
            numbers.append(step.segment)
            evaluations = step.evaluations
    except MarchError as error:
        failure = str(error)
    if not samples:
        return _nothing(network, kind, failure or "nothing to integrate over")
    temperature = np.array(samples)  # [step, sample, node]
    begin, end, offset = np.array(begins), np.array(ends), np.array(offsets)
    local = begin[:, None] + LOBATTO * (end - begin)[:, None]
    local[:, -1] = np.nextafter(end, -np.inf)  # histories have their earlier side there
    duty = np.array(states).reshape(len(samples), count)
    record = Record(
        time=(offset[:, None] + begin[:, None] + LOBATTO * (end - begin)[:, None]).ravel(),
        local_time=local.ravel(),
        temperature=temperature.reshape(-1, temperature.shape[2]),
        duty=np.repeat(duty, len(LOBATTO), axis=0),
        weight=((end - begin)[:, None] * LOBATTO_WEIGHTS).ravel(),
    )
    output = np.linspace(record.time[0], record.time[-1], options.outputs + 1)
    at_output, which = _interpolated(temperature, begin + offset, end + offset, output)
    powered = _powered(network, record)
    return Solution(
        kind=kind,
        t=output,
        temperature=at_output,
        duty=duty[which],
        mean=record.weight @ record.temperature / record.weight.sum(),
        heater_duty=record.weight @ powered / record.weight.sum(),
        switchings=np.abs(np.diff(duty, axis=0)).sum(axis=0).astype(np.int64),
        extremes=_extremes(temperature, begin + offset, end + offset, np.array(numbers)),
        record=record,
        stats=Stats(
            method=f"{options.method}, accuracy {options.accuracy:g} K",
            steps=len(samples),
            evaluations=evaluations,
            passes=passes,
            error_estimate=error_estimate,
            notes=notes,
        ),
        failure=failure,
    )


def _powered(network: Network, record: Record) -> Floats:
    """Share of its power that each heater gives, at every sample: state times enabled."""
    power = np.where(network.thermostats.power > 0.0, network.thermostats.power, 1.0)
    return heater_powers(network, record.duty, record.local_time) / power


def _basis(x: Floats) -> Floats:
    """Lagrange polynomials of the Lobatto points at x in 0..1: f8[len(x), 5]."""
    result = np.ones((len(x), len(LOBATTO)))
    for k, node in enumerate(LOBATTO):
        for other in np.delete(LOBATTO, k):
            result[:, k] *= (x - other) / (node - other)
    return result


def _interpolated(
    temperature: Floats, begin: Floats, end: Floats, output: Floats
) -> tuple[Floats, np.ndarray[tuple[int, ...], np.dtype[np.intp]]]:
    which = np.clip(np.searchsorted(begin, output, side="right") - 1, 0, len(begin) - 1)
    share = np.clip((output - begin[which]) / (end - begin)[which], 0.0, 1.0)
    return np.einsum("ok,okn->on", _basis(share), temperature[which]), which


def _extremes(
    temperature: Floats,
    begin: Floats,
    end: Floats,
    segment: np.ndarray[tuple[int, ...], np.dtype[np.int64]],
) -> Extremes:
    """Extremes of the interpolant in each segment: finely sampled, then a parabola."""
    fine = np.linspace(0.0, 1.0, FINE)
    basis = _basis(fine)
    rows = []
    for number in np.unique(segment):
        inside = segment == number
        values = np.einsum("fk,skn->sfn", basis, temperature[inside])
        times = begin[inside][:, None] + fine * (end - begin)[inside][:, None]
        highest, highest_at = _peak(values, times)
        lowest, lowest_at = _peak(-values, times)
        edges = np.array([begin[inside][0], end[inside][-1]])
        rows.append((edges, -lowest, lowest_at, highest, highest_at))
    columns = [np.array(column) for column in zip(*rows, strict=True)]
    return Extremes(
        edges=columns[0],
        lowest=columns[1],
        lowest_at=columns[2],
        highest=columns[3],
        highest_at=columns[4],
    )


def _peak(values: Floats, times: Floats) -> tuple[Floats, Floats]:
    """Highest value and its instant for each node, of values f8[step, fine, n].

    A thermostat comes back to the same extreme again and again: the first such peak is named.
    """
    flat = values.reshape(-1, values.shape[2])
    rises = np.diff(flat, axis=0, prepend=flat[:1]) >= 0.0
    falls = np.diff(flat, axis=0, append=flat[-1:]) <= 0.0
    first = (rises & falls & (flat >= flat.max(axis=0) - SAME)).argmax(axis=0)
    peak, _ = _refined(values, times, flat.argmax(axis=0))
    _, instant = _refined(values, times, first)
    return peak, instant


def _refined(
    values: Floats, times: Floats, best: np.ndarray[tuple[int, ...], np.dtype[np.intp]]
) -> tuple[Floats, Floats]:
    """Value and instant of the parabola through a peak at flat places i8[n] and its neighbours."""
    _, fine, n = values.shape
    node = np.arange(n)
    step, place = np.divmod(best, fine)
    peak, instant = values[step, place, node], times.ravel()[best]
    inner = (place > 0) & (place < fine - 1)
    left = values[step, np.maximum(place - 1, 0), node]
    right = values[step, np.minimum(place + 1, fine - 1), node]
    bend = left - 2.0 * peak + right
    curved = inner & (bend < 0.0)
    shift = np.where(curved, 0.5 * (left - right) / np.where(curved, bend, 1.0), 0.0)
    width = (times[:, 1] - times[:, 0])[step]
    return peak - 0.25 * (left - right) * shift, instant + shift * width


def _nothing(network: Network, kind: Kind, failure: str) -> Solution:
    """A solution without temperatures, for a solver that could not even begin."""
    empty = steady(network, Options())
    return replace(empty, kind=kind, failure=failure)


@dataclass(frozen=True, slots=True, kw_only=True)
class Passed:
    """What remains of steps that are not recorded.

    `temperature` f8[n] and `state` f8[h] are the last ones; `mean`, `lowest` and `highest` belong
    to the massive nodes (extremes at the samples of the steps).
    """

    temperature: Floats
    state: Floats | None
    mean: Floats
    lowest: Floats
    highest: Floats


def passed(network: Network, steps: Iterable[Step], start: Floats, state: Floats | None) -> Passed:
    """Run steps from temperatures f8[n] and states f8[h] without a record."""
    massive, _ = partition(network)
    temperature, total, span = start, np.zeros(len(massive)), 0.0
    lowest = highest = start[massive]
    step: Step | None = None
    for step in steps:
        width = step.end - step.begin
        values = step.massive(step.begin + LOBATTO * width)
        total += values @ LOBATTO_WEIGHTS * width
        span += width
        lowest = np.minimum(lowest, values.min(axis=1))
        highest = np.maximum(highest, values.max(axis=1))
    if step is not None:
        temperature = step.samples()[-1]
        state = first_state(network, temperature, step.state) if step.state is not None else None
    return Passed(
        temperature=temperature,
        state=state,
        mean=total / span if span else start[massive],
        lowest=lowest,
        highest=highest,
    )
