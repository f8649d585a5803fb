"""Margins: a solution held against every component's allowable bands.

*Calculated* is what the solver gave; *predicted* adds the uncertainty allowance. Both sides of a
band are judged in every case. What the words mean, and why a held item has no cold allowance,
stands in `docs/how-to/read-the-margins.md`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from thermnet.allowance import allowance
from thermnet.model.kinds.component import Band, Component
from thermnet.network.network import capacities, heat
from thermnet.network.primitives import Flags, Floats
from thermnet.results import Result
from thermnet.states import applies, at_switching_on, holding, samples_on

Side = Literal["hot", "cold"]
Verdict = Literal["outside band", "allowance not covered", "holds", "not solved"]
Quantity = Literal["temperature", "difference", "rate", "duty"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """One side of one limit of one component in one case.

    `band` names the limit: "operating", "non-operating", "switch-on", a state's or window's name,
    or for other quantities what is limited. `calculated` is what the solver gave, `predicted`
    includes the uncertainty allowance; both, `limit` and `margin` in K for a temperature, K for a
    difference, K/s for a rate and 1 for a duty. `margin` is limit against predicted, positive
    inside; `clearance` is limit against calculated. `held_by` names the heater that holds this
    side and `duty` its duty (allowed up to `allowed_duty`); then the allowance is zero.
    """

    component: str
    group: str
    band: str
    quantity: Quantity
    side: Side
    case: str
    node: str
    instant: float
    calculated: float
    allowance: float
    predicted: float
    limit: float
    margin: float
    clearance: float
    verdict: Verdict
    level: str = "design"
    held_by: str = ""
    duty: float = 0.0
    allowed_duty: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseRange:
    """Calculated range [K] of a component in one case; `kind` is the case's: hot, cold, ..."""

    case: str
    kind: str
    lowest: float
    highest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """All that one row of the margin table or plot shows of a component.

    `bands` maps band names to (low, high) [K]. `hot` and `cold` are the governing temperature
    margins of each side over all cases, None where no band is judged. `others` are the governing
    limits on differences, rates and duties.
    """

    component: str
    group: str
    level: str
    bands: dict[str, tuple[float, float]]
    ranges: tuple[CaseRange, ...]
    hot: Margin | None
    cold: Margin | None
    others: tuple[Margin, ...] = ()


SAME = 1e-5
"""K within which two extremes are the same."""


def margins(results: Result | Iterable[Result]) -> tuple[Margin, ...]:
    """Every margin of every component in one or several solved cases, the smallest first.

    A case that could not be solved gives margins "not solved"; they come first.
    """
    several = (results,) if isinstance(results, Result) else tuple(results)
    found = [
        margin
        for result in several
        for name, component in _components(result)
        for margin in _of_component(result, name, component)
    ]
    return tuple(sorted(found, key=gravity))


def governing(found: Iterable[Margin]) -> tuple[Margin, ...]:
    """The gravest temperature margin of each component and side, over all cases and bands."""
    worst: dict[tuple[str, Side], Margin] = {}
    for margin in found:
        if margin.quantity != "temperature":
            continue
        key = margin.component, margin.side
        if key not in worst or gravity(margin) < gravity(worst[key]):
            worst[key] = margin
    return tuple(sorted(worst.values(), key=gravity))


def gravity(margin: Margin) -> tuple[int, bool, float]:
    """Sort key: by verdict, temperatures first, then by margin (as a share of other limits)."""
    order = ("not solved", "outside band", "allowance not covered", "holds")
    other = margin.quantity != "temperature"
    size = margin.margin / margin.limit if other else margin.margin
    # Rounded, so that of equal margins the first stays first whatever the last digits are.
    return order.index(margin.verdict), other, round(size, 4)


def summaries(results: Sequence[Result]) -> tuple[Summary, ...]:
    """One row per component over all cases, the gravest first, those without a band last."""
    found = margins(results)
    sides = {(margin.component, margin.side): margin for margin in governing(found)}
    rows = []
    for name, component in _components(results[0]):
        others: dict[tuple[str, str], Margin] = {}
        for margin in found:
            if margin.component == name and margin.quantity != "temperature":
                others.setdefault((margin.quantity, margin.band), margin)
        rows.append(
            Summary(
                component=name,
                group=component.group,
                level=component.level,
                bands=dict(_bands(component)),
                ranges=tuple(_range(result, component) for result in results),
                hot=sides.get((name, "hot")),
                cold=sides.get((name, "cold")),
                others=tuple(others.values()),
            )
        )

    def grave(row: Summary) -> tuple[int, bool, float]:
        judged = [margin for margin in (row.hot, row.cold, *row.others) if margin is not None]
        return min(map(gravity, judged), default=(9, True, 0.0))

    return tuple(sorted(rows, key=grave))


def holds(found: Iterable[Margin]) -> bool:
    """Whether every margin holds."""
    return all(margin.verdict == "holds" for margin in found)


def _components(result: Result) -> Iterator[tuple[str, Component]]:
    yield from result.model.entries(Component, "components").items()


def _bands(component: Component) -> Iterator[tuple[str, Band]]:
    for name, band in (
        ("operating", component.operating),
        ("non-operating", component.non_operating),
        ("switch-on", component.switch_on),
    ):
        if band is not None:
            yield name, band
    for name, state in component.states.items():
        yield name, state.band
    for name, window in component.windows.items():
        yield name, window.band


def _of_component(result: Result, name: str, component: Component) -> Iterator[Margin]:
    for band_name, band in _bands(component):
        for side in ("hot", "cold"):
            extreme = _extreme(result, component, band_name, side)
            if extreme is not None or result.solution.failure:
                yield _judged(result, name, component, band_name, band, side, extreme)
    if not result.solution.failure:
        yield from _limits(result, name, component)
        return
    for label, apart in component.differences.items():
        yield _unsolved(result, name, component, label, "difference", "hot", apart.limit)
    if component.rate is not None:
        yield _unsolved(result, name, component, "rate", "rate", "hot", component.rate)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Extreme:
    value: float
    instant: float
    node: str


def _extreme(result: Result, component: Component, band: str, side: Side) -> _Extreme | None:
    """The worst temperature of a component while a band applies, None where it never does."""
    solution = result.solution
    if solution.failure:
        return None
    nodes = [result.network.index(node) for node in component.nodes]
    if band == "switch-on":
        values, times = at_switching_on(result, component, nodes)
    else:
        inside = applies(result, component, band)
        extremes = solution.extremes
        chosen = ("highest", "highest_at") if side == "hot" else ("lowest", "lowest_at")
        values = getattr(extremes, chosen[0])[inside][:, nodes]
        times = getattr(extremes, chosen[1])[inside][:, nodes]
        values = _cycling(result, nodes, values, side)
    if values.size == 0:
        return None
    # A thermostat comes back to the same extreme again and again: the first one is named.
    worst = values.max() if side == "hot" else values.min()
    best = int(np.argmax(np.abs(values - worst).ravel() <= SAME))
    return _Extreme(
        value=float(worst),
        instant=float(times.ravel()[best]),
        node=component.nodes[best % len(nodes)],
    )


def _cycling(result: Result, nodes: list[int], values: Floats, side: Side) -> Floats:
    """In a steady state a sensor whose heater cycles ranges over its thermostat's whole band."""
    stats = result.network.thermostats
    if result.solution.kind != "steady":
        return values
    values = values.copy()
    for k, duty in enumerate(result.solution.duty[0]):
        if stats.sensor[k] in nodes and 0.0 < duty < 1.0 and stats.power[k] > 0.0:
            column = nodes.index(int(stats.sensor[k]))
            values[:, column] = stats.off[k] if side == "hot" else stats.on[k]
    return values


def _judged(
    result: Result,
    name: str,
    component: Component,
    band_name: str,
    band: Band,
    side: Side,
    extreme: _Extreme | None,
) -> Margin:
    sign, limit = (1.0, band[1]) if side == "hot" else (-1.0, band[0])
    if extreme is None:
        return _unsolved(result, name, component, band_name, "temperature", side, limit)
    policy = result.model.settings.uncertainty
    held = None
    if side == "cold":
        held = holding(result, component, instant=extreme.instant, limit=limit)
    extra = (
        0.0 if held is not None else allowance(policy, component.uncertainty, extreme.value, side)
    )
    predicted = extreme.value + sign * extra
    clearance = sign * (limit - extreme.value)
    margin = sign * (limit - predicted)
    covered = margin >= 0.0 and (held is None or held <= policy.heater_duty)
    verdict: Verdict = "holds" if covered else "allowance not covered"
    return Margin(
        component=name,
        group=component.group,
        band=band_name,
        quantity="temperature",
        side=side,
        case=result.case,
        node=extreme.node,
        instant=extreme.instant,
        calculated=extreme.value,
        allowance=extra,
        predicted=predicted,
        limit=limit,
        margin=margin,
        clearance=clearance,
        verdict="outside band" if clearance < 0.0 else verdict,
        level=component.level,
        held_by=component.held_by or "" if held is not None else "",
        duty=held or 0.0,
        allowed_duty=policy.heater_duty,
    )


def _unsolved(
    result: Result,
    name: str,
    component: Component,
    band: str,
    quantity: Quantity,
    side: Side,
    limit: float,
) -> Margin:
    nothing = float("nan")
    return Margin(
        component=name, group=component.group, band=band, quantity=quantity,
        side=side, case=result.case, node=component.nodes[0], instant=nothing,
        calculated=nothing, allowance=nothing, predicted=nothing, limit=limit,
        margin=nothing, clearance=nothing, verdict="not solved", level=component.level,
    )  # fmt: skip


def _limits(result: Result, name: str, component: Component) -> Iterator[Margin]:
    """Margins to limits on differences and rates, while the unit is on, and on heater duty."""
    on = samples_on(result, component)
    record = result.solution.record
    if on.any():
        for label, limit in component.differences.items():
            other = record.temperature[on][:, result.network.index(limit.to)]
            nodes = [result.network.index(node) for node in component.nodes]
            apart = np.abs(record.temperature[on][:, nodes] - other[:, None])
            yield _limited(result, name, component, label, "difference", limit.limit, apart, on)
        if component.rate is not None and result.solution.kind != "steady":
            rates = np.abs(_rates(result, component))[on]
            yield _limited(result, name, component, "rate", "rate", component.rate, rates, on)
    duty = holding(result, component)
    if duty is not None:
        allowed = result.model.settings.uncertainty.heater_duty
        once = np.array([[duty]])
        first = np.arange(len(record.time)) == 0
        label = f"duty of {component.held_by}"
        yield _limited(result, name, component, label, "duty", allowed, once, first)


def _rates(result: Result, component: Component) -> Floats:
    """Rate of change f8[q, nodes] [K/s] at every sample, from the heat balance."""
    network, record = result.network, result.solution.record
    nodes = [network.index(node) for node in component.nodes]
    given = record.duty if len(network.thermostats.node) else None
    net = heat(network, record.temperature, record.local_time, given)[:, nodes]
    capacity = capacities(network, record.temperature[0])[nodes]
    massless = capacity == 0.0
    rates = net / np.where(massless, 1.0, capacity)
    if massless.any():
        change = np.gradient(record.temperature[:, nodes], axis=0)
        step = np.maximum(np.gradient(record.time), 1e-9)[:, None]
        rates = np.where(massless, change / step, rates)
    return np.asarray(rates)


def _limited(  # noqa: PLR0917 all that a margin states
    result: Result,
    name: str,
    component: Component,
    label: str,
    quantity: Quantity,
    limit: float,
    values: Floats,
    on: Flags,
) -> Margin:
    """The margin of the largest of some values f8[samples, nodes] to a limit."""
    best = int(values.argmax())
    value = float(values.ravel()[best])
    sample = np.flatnonzero(on)[best // values.shape[1]]
    verdict: Verdict = "holds" if value <= limit else "outside band"
    return Margin(
        component=name,
        group=component.group,
        band=label,
        quantity=quantity,
        side="hot",
        case=result.case,
        node=component.nodes[best % values.shape[1]],
        instant=float(result.solution.record.time[sample]),
        calculated=value,
        allowance=0.0,
        predicted=value,
        limit=limit,
        margin=limit - value,
        clearance=limit - value,
        verdict="allowance not covered" if quantity == "duty" and value > limit else verdict,
        level=component.level,
    )


def _range(result: Result, component: Component) -> CaseRange:
    nodes = [result.network.index(node) for node in component.nodes]
    extremes = result.solution.extremes
    solved = not result.solution.failure
    nothing = float("nan")
    return CaseRange(
        case=result.case,
        kind=result.plan.kind,
        lowest=float(extremes.lowest[:, nodes].min()) if solved else nothing,
        highest=float(extremes.highest[:, nodes].max()) if solved else nothing,
    )
