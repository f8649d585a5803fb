"""A history from a stated start: outputs, true extremes and the record for the energy account."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from thermnet.network.network import Network, heater_powers
from thermnet.network.primitives import Floats
from thermnet.solve.events import first_state
from thermnet.solve.march import march
from thermnet.solve.solution import Extremes, Kind, Options, Record, Solution, Stats
from thermnet.solve.steady import steady
from thermnet.solve.steps import LOBATTO, LOBATTO_WEIGHTS, MarchError, Steps, lagrange

SAME = 1e-5
"""K within which two extremes are the same."""

FINE = 17
"""Points per step at which the interpolant is searched for extremes, before a parabola."""

FINELY = lagrange(np.linspace(0.0, 1.0, FINE))
"""The interpolant at these points, from the samples of a step."""

OVERSHOOT = 0.5
"""Share of a step's range by which the interpolant may exceed its samples, generously."""


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
    rows: Iterable[Steps],
    options: Options,
    *,
    notes: tuple[str, ...] = (),
    passes: int = 1,
    error_estimate: float = 0.0,
    before: Work | None = None,
) -> Solution:
    """Turn the samples of every step into a Solution; `before` is work done to get there."""
    taken: list[Steps] = []
    failure = ""
    try:
        taken.extend(rows)
    except MarchError as error:
        failure = str(error)
    if not taken:
        return unsolved(network, kind, failure or "nothing to integrate over")
    begin, end, offset, duty, segment, temperature = (
        np.concatenate([getattr(row, name) for row in taken])
        for name in ("begin", "end", "offset", "state", "segment", "temperature")
    )
    local = begin[:, None] + LOBATTO * (end - begin)[:, None]
    time = (offset[:, None] + local).ravel()
    local[:, -1] = np.nextafter(end, -np.inf)  # histories have their earlier side there
    record = Record(
        time=time,
        local_time=local.ravel(),
        temperature=temperature.reshape(-1, temperature.shape[2]),
        duty=np.repeat(duty, len(LOBATTO), axis=0),
        weight=((end - begin)[:, None] * LOBATTO_WEIGHTS).ravel(),
    )
    output = np.linspace(record.time[0], record.time[-1], options.outputs + 1)
    at_output, which = _interpolated(temperature, begin + offset, end + offset, output)
    powered = _powered(network, record)
    work = before or Work()
    for row in taken:
        work = work.plus(Work.of(row))
    return Solution(
        kind=kind,
        t=output,
        temperature=at_output,
        duty=duty[which],
        mean=record.weight @ record.temperature / record.weight.sum(),
        heater_duty=record.weight @ powered / record.weight.sum(),
        switchings=np.abs(np.diff(duty, axis=0)).sum(axis=0).astype(np.int64),
        extremes=_extremes(temperature, begin + offset, end + offset, segment),
        record=record,
        stats=Stats(
            method=f"{taken[-1].how}, accuracy {options.accuracy:g} K",
            steps=work.steps,
            evaluations=work.evaluations,
            factorizations=work.factorizations,
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


def _interpolated(
    temperature: Floats, begin: Floats, end: Floats, output: Floats
) -> tuple[Floats, np.ndarray[tuple[int, ...], np.dtype[np.intp]]]:
    which = np.clip(np.searchsorted(begin, output, side="right") - 1, 0, len(begin) - 1)
    share = np.clip((output - begin[which]) / (end - begin)[which], 0.0, 1.0)
    return np.einsum("ok,okn->on", lagrange(share), temperature[which]), which


def _extremes(
    temperature: Floats,
    begin: Floats,
    end: Floats,
    segment: np.ndarray[tuple[int, ...], np.dtype[np.int64]],
) -> Extremes:
    """Extremes of the interpolant in each segment, from the samples f8[step, 5, n] of its steps."""
    rows = []
    for number in np.unique(segment):
        inside = segment == number
        values, times = temperature[inside], (begin[inside], end[inside])
        highest, highest_at = _peak(values, *times)
        lowest, lowest_at = _peak(-values, *times)
        edges = np.array([times[0][0], times[1][-1]])
        rows.append((edges, -lowest, lowest_at, highest, highest_at))
    columns = [np.array(column) for column in zip(*rows, strict=True)]
    return Extremes(
        edges=columns[0],
        lowest=columns[1],
        lowest_at=columns[2],
        highest=columns[3],
        highest_at=columns[4],
    )


def _peak(values: Floats, begin: Floats, end: Floats) -> tuple[Floats, Floats]:
    """Highest value and its instant for each node, of samples f8[step, 5, n].

    Only steps whose samples come near the highest one are searched: finely, then by a parabola.
    A thermostat comes back to the same extreme again and again: the first such peak is named.
    """
    top = values.max(axis=1)
    reach = top - values.min(axis=1)
    step, node = np.nonzero(top + OVERSHOOT * reach >= top.max(axis=0))
    fine = values[step, :, node] @ FINELY.T
    row, place = np.arange(len(step)), fine.argmax(axis=1)
    inner = (place > 0) & (place < FINE - 1)
    left, right = fine[row, np.maximum(place - 1, 0)], fine[row, np.minimum(place + 1, FINE - 1)]
    peak = fine[row, place]
    bend = left - 2.0 * peak + right
    curved = inner & (bend < 0.0)
    shift = np.where(curved, 0.5 * (left - right) / np.where(curved, bend, 1.0), 0.0)
    peak = peak - 0.25 * (left - right) * shift
    width = (end - begin)[step]
    instant = begin[step] + (place + shift) / (FINE - 1) * width
    highest = np.full(values.shape[2], -np.inf)
    np.maximum.at(highest, node, peak)
    named = (peak == highest[node]) | (inner & (peak >= highest[node] - SAME))
    first = np.full(values.shape[2], len(step))
    np.minimum.at(first, node[named], row[named])
    return highest, instant[first]


def unsolved(network: Network, kind: Kind, failure: str) -> Solution:
    """A solution with a failure and no history, for a solver that could not even begin."""
    empty = steady(network, Options())
    return replace(empty, kind=kind, failure=failure)


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """Counts of what integrators did."""

    steps: int = 0
    evaluations: int = 0
    factorizations: int = 0

    @staticmethod
    def of(row: Steps) -> Work:
        return Work(
            steps=len(row.begin),
            evaluations=row.evaluations,
            factorizations=row.factorizations,
        )

    @staticmethod
    def so_far(stats: Stats) -> Work:
        return Work(
            steps=stats.steps,
            evaluations=stats.evaluations,
            factorizations=stats.factorizations,
        )

    def plus(self, other: Work) -> Work:
        return Work(
            steps=self.steps + other.steps,
            evaluations=self.evaluations + other.evaluations,
            factorizations=self.factorizations + other.factorizations,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Passed:
    """What remains of steps that are not recorded.

    `temperature` f8[n] and `state` f8[h] are the last ones; `mean`, `lowest` and `highest` f8[n]
    are over the whole pass (extremes at the samples of the steps).
    """

    temperature: Floats
    state: Floats | None
    mean: Floats
    lowest: Floats
    highest: Floats
    work: Work


def passed(network: Network, rows: Iterable[Steps], start: Floats, state: Floats | None) -> Passed:
    """Run steps from temperatures f8[n] and states f8[h] without a record."""
    total, span = np.zeros(len(start)), 0.0
    lowest = highest = temperature = start
    work = Work()
    for row in rows:
        width = row.end - row.begin
        flat = row.temperature.reshape(-1, len(start))
        total += (width[:, None] * LOBATTO_WEIGHTS).ravel() @ flat
        span += float(width.sum())
        lowest = np.minimum(lowest, flat.min(axis=0))
        highest = np.maximum(highest, flat.max(axis=0))
        temperature = flat[-1]
        if state is not None:
            state = first_state(network, temperature, row.state[-1])
        work = work.plus(Work.of(row))
    return Passed(
        temperature=temperature.copy(),
        state=state,
        mean=total / span if span else start,
        lowest=lowest,
        highest=highest,
        work=work,
    )
