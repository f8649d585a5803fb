"""Limits on more than temperature: what is limited, and how far it goes in a case.

Components limit differences, rates and, by what holds them, duties; the section `limits` adds heat
flows and energy. No allowance is added to any of them: predicted is calculated.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from thermnet.heaters import dark_share
from thermnet.interfaces import interface_heat
from thermnet.model.kinds.component import Component
from thermnet.model.kinds.limit import Limit
from thermnet.network.network import flows, heat, storing
from thermnet.network.primitives import Flags, Floats
from thermnet.network.subset import subset
from thermnet.results import Result
from thermnet.samples import heater_heat
from thermnet.solve.steady import recorded
from thermnet.solve.steps import LOBATTO
from thermnet.states import above_zero, holder, is_on

Quantity = Literal["temperature", "difference", "rate", "duty", "heat flow", "energy"]

READ: dict[Quantity, tuple[float, str, int]] = {
    "temperature": (1.0, "K", 1),
    "difference": (1.0, "K", 1),
    "rate": (60.0, "K/min", 2),
    "duty": (100.0, "%", 0),
    "heat flow": (1.0, "W", 2),
    "energy": (1.0 / 3600.0, "Wh", 2),
}
"""Scale from SI, unit and digits in which people read a quantity."""


_POWERS = np.arange(len(LOBATTO))
SLOPES = (_POWERS * LOBATTO[:, None] ** np.maximum(_POWERS - 1, 0)) @ np.linalg.inv(
    LOBATTO[:, None] ** _POWERS
)
"""Slopes over a step of width 1 at its samples, from the samples: those of their polynomial."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """How far something limited goes: `value` against `limit`, both in SI.

    `label` says what is limited, `side` whether from above (hot) or from below (cold). `node` and
    `instant` [s] are where and when; without a solution value and instant are NaN.
    """

    label: str
    quantity: Quantity
    side: Literal["hot", "cold"]
    limit: float
    value: float
    instant: float
    node: str


def of_component(result: Result, component: Component) -> Iterator[Reached]:
    """Differences and rates of a component while it is on, and the duty of what holds it."""
    if result.solution.failure:
        first = component.nodes[0]
        for label, limit in component.differences.items():
            yield _unsolved(label, "difference", "hot", limit.limit, first)
        if component.rate is not None:
            yield _unsolved("rate", "rate", "hot", component.rate, first)
        return
    on = _samples(result, is_on(result, component))
    record = result.solution.record
    if on.any():
        nodes = [result.network.index(node) for node in component.nodes]
        for label, limit in component.differences.items():
            other = record.temperature[on][:, result.network.index(limit.to)]
            apart = np.abs(record.temperature[on][:, nodes] - other[:, None])
            found = _largest(result, apart, on, component.nodes)
            yield _most(label, "difference", limit.limit, found)
        if component.rate is not None and result.solution.kind != "steady":
            rates = np.abs(_rates(result, nodes))[on]
            found = _largest(result, rates, on, component.nodes)
            yield _most("rate", "rate", component.rate, found)
    held = holder(result, component)
    if held is not None:
        heater, duty = held
        allowed = result.model.settings.uncertainty.heater_duty
        label = f"duty of {heater}"
        found = duty, float(record.time[0]), component.nodes[0]
        yield _most(label, "duty", allowed, found)


def of_limit(result: Result, limit: Limit) -> Iterator[Reached]:
    """What a limit of the section `limits` limits, in one case.

    Nothing in a case in which it never holds, nor rates and energies in shadow in a steady one.
    """
    steady = result.solution.kind == "steady"
    if steady and (limit.rate is not None or limit.energy_in_shadow is not None):
        return
    if result.solution.failure:
        yield from _all_unsolved(limit)
        return
    if limit.energy_in_shadow is not None:
        yield from _energy_in_shadow(result, limit, limit.energy_in_shadow)
        return
    on: Flags = np.ones(len(result.solution.record.time), dtype=bool)
    if limit.when is not None:
        on = _samples(result, above_zero(result, limit.when))
    if not on.any():
        return
    if limit.between is not None and limit.difference is not None:
        one, other = (result.network.index(node) for node in limit.between)
        temperature = result.solution.record.temperature[on]
        apart = np.abs(temperature[:, [one]] - temperature[:, [other]])
        found = _largest(result, apart, on, limit.between[:1])
        yield _most(_difference_label(limit), "difference", limit.difference, found)
    elif limit.node is not None and limit.rate is not None:
        rates = np.abs(_rates(result, [result.network.index(limit.node)]))[on]
        found = _largest(result, rates, on, (limit.node,))
        yield _most(f"rate of {limit.node}", "rate", limit.rate, found)
    else:
        yield from _heat_flow(result, limit, on)


def _heat_flow(result: Result, limit: Limit, on: Flags) -> Iterator[Reached]:
    """The largest heat flow, either way unless a least one is given too, and the least one."""
    flow = heat_through(result, limit)[on][:, None]
    where = (limit.interface or "",)
    label = _flow_label(limit)
    if limit.most is not None:
        found = _largest(result, flow if limit.least is not None else np.abs(flow), on, where)
        yield _most(label, "heat flow", limit.most, found)
    if limit.least is not None:
        value, instant, node = _largest(result, -flow, on, where)
        yield Reached(
            label=label, quantity="heat flow", side="cold", limit=limit.least, value=-value,
            instant=instant, node=node,
        )  # fmt: skip


def heat_through(result: Result, limit: Limit) -> Floats:
    """Heat flow f8[q] [W] that a limit is about, at the samples of the record.

    Through links: their sum, from `from` to `to`; a lost link carries nothing. Through an
    interface: into its part.
    """
    if limit.interface is not None:
        return np.asarray(interface_heat(result, [limit.interface])[:, 0])
    network, record = recorded(result.network, result.solution), result.solution.record
    paths = {f"links.{name}" for name in limit.links}
    origins = [k for k, path in enumerate(network.origins) if path in paths]
    # Of a big network only what counts is worked out, at every sample.
    few = subset(network, links=np.isin(network.links.origin, origins))
    return np.asarray(flows(few, record.temperature, record.local_time).sum(axis=1))


def _energy_in_shadow(result: Result, limit: Limit, most: float) -> Iterator[Reached]:
    """The largest energy [J] that heaters take in one passage through the shadow.

    A passage that goes on over the end of a repeating case is one. Where the case never leaves the
    shadow it is the mean over one period of its orbit.
    """
    record, steps = result.solution.record, (-1, len(LOBATTO))
    share = dark_share(result)
    if not share.any():
        return
    names = limit.heaters or tuple(result.model.sections["heaters"])
    powers = heater_heat(result.network, names, record)
    energy = (powers * record.weight).reshape(steps).sum(axis=1) * share
    begins = record.time.reshape(steps)[:, 0]
    if (share == 1.0).all():
        sunlight = result.plan.sunlight
        period = None if sunlight is None else sunlight.period
        turns = max(result.solution.span / (period or result.plan.span), 1.0)
        found = float(energy.sum()) / turns, float(begins[0]), ""
    else:
        # A repeating history may begin in the dark: it is looked at from where it comes to light.
        shift = int(np.argmin(share)) if result.solution.kind == "repeating" else 0
        dark = np.roll(share > 0.0, -shift)
        energy, begins = np.roll(energy, -shift), np.roll(begins, -shift)
        entered = dark & ~np.append(False, dark[:-1])
        passage = np.cumsum(entered) - 1
        sums = np.bincount(passage[dark], energy[dark])
        worst = int(np.argmax(sums))
        found = float(sums[worst]), float(begins[entered][worst]), ""
    yield _most("energy in shadow", "energy", most, found)


def _rates(result: Result, nodes: Sequence[int]) -> Floats:
    """Rate of change f8[q, nodes] [K/s] at every sample, from the heat balance."""
    network, record = result.network, result.solution.record
    given = record.duty if len(network.thermostats.node) else None
    net = heat(network, record.temperature, record.local_time, given)[:, nodes]
    massless = ~storing(network)[nodes]
    capacity = np.broadcast_to(network.capacity[nodes], net.shape).copy()
    for node, content in network.content:
        capacity[:, np.equal(nodes, node)] = content.slope(record.temperature[:, [node]])
    rates = net / np.where(massless, 1.0, capacity)
    if massless.any():
        # On the interpolant of each step: where heat jumps, such a node jumps with it, between two.
        time = record.time.reshape(-1, len(LOBATTO))
        values = record.temperature[:, nodes].reshape(*time.shape, len(nodes))
        width = np.maximum(time[:, -1] - time[:, 0], 1e-9)[:, None, None]
        slopes = np.einsum("kl,sln->skn", SLOPES, values) / width
        rates = np.where(massless, slopes.reshape(rates.shape), rates)
    return np.asarray(rates)


def _samples(result: Result, segments: Flags) -> Flags:
    """Which samples of the record lie in the segments of the solution that are marked."""
    solution = result.solution
    if solution.kind == "steady":
        return segments
    edges = solution.extremes.edges
    # The instant of an edge belongs to two steps: the middle of a step says where all of it lies.
    samples = len(LOBATTO)
    middle = solution.record.time.reshape(-1, samples)[:, samples // 2]
    segment = np.minimum(np.searchsorted(edges[:, 1], middle), len(edges) - 1)
    return np.repeat(segments[segment], samples)


Found = tuple[float, float, str]
"""A value in SI, its instant [s] and its node."""


def _largest(result: Result, values: Floats, on: Flags, nodes: Sequence[str]) -> Found:
    """The largest of values f8[samples, nodes] at the samples that are on."""
    best = int(values.argmax())
    sample = np.flatnonzero(on)[best // values.shape[1]]
    instant = float(result.solution.record.time[sample])
    return float(values.ravel()[best]), instant, nodes[best % values.shape[1]]


def _most(label: str, quantity: Quantity, limit: float, found: Found) -> Reached:
    value, instant, node = found
    return Reached(
        label=label, quantity=quantity, side="hot", limit=limit, value=value, instant=instant,
        node=node,
    )  # fmt: skip


def _all_unsolved(limit: Limit) -> Iterator[Reached]:
    """What a limit would be judged by, had the case a solution."""
    if limit.difference is not None and limit.between is not None:
        label = _difference_label(limit)
        yield _unsolved(label, "difference", "hot", limit.difference, limit.between[0])
    elif limit.rate is not None and limit.node is not None:
        yield _unsolved(f"rate of {limit.node}", "rate", "hot", limit.rate, limit.node)
    elif limit.energy_in_shadow is not None:
        yield _unsolved("energy in shadow", "energy", "hot", limit.energy_in_shadow, "")
    if limit.most is not None:
        yield _unsolved(_flow_label(limit), "heat flow", "hot", limit.most, limit.interface or "")
    if limit.least is not None:
        yield _unsolved(_flow_label(limit), "heat flow", "cold", limit.least, limit.interface or "")


def _unsolved(
    label: str, quantity: Quantity, side: Literal["hot", "cold"], limit: float, node: str
) -> Reached:
    nothing = float("nan")
    return Reached(
        label=label, quantity=quantity, side=side, limit=limit, value=nothing, instant=nothing,
        node=node,
    )  # fmt: skip


def _flow_label(limit: Limit) -> str:
    if limit.interface is not None:
        return f"heat flow into {limit.interface}"
    return f"heat flow through {' and '.join(limit.links)}"


def _difference_label(limit: Limit) -> str:
    one, other = limit.between or ("", "")
    return f"difference of {one} and {other}"
