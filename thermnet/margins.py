"""Margins: a solution held against every component's allowable bands, and against other limits.

*Calculated* is what the solver gave; *predicted* adds the uncertainty allowance. Both sides of a
band are judged in every case. What the words mean, and why a held item has no cold allowance,
stands in `docs/how-to/read-the-margins.md`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from thermnet.allowance import allowance
from thermnet.limits import Quantity, Reached, of_component, of_limit
from thermnet.model.kinds.component import Band, Component
from thermnet.model.kinds.limit import Limit
from thermnet.model.usable import components
from thermnet.network.primitives import Floats
from thermnet.results import Result
from thermnet.states import applies, at_switching_on, holder

Side = Literal["hot", "cold"]
Verdict = Literal["outside band", "allowance not covered", "holds", "not solved"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """One side of one limit of one component in one case, or of one entry of the limits.

    `band` names the limit: "operating", "non-operating", "switch-on", a state's or window's name,
    "usable" for a material of a blanket, or for other quantities what is limited. `calculated` is
    what the solver gave, `predicted` includes the uncertainty allowance; both, `limit` and `margin`
    in K for a temperature, K for a difference, K/s for a rate, 1 for a duty, W for a heat flow and
    J for an energy. `margin` is limit against predicted, positive inside; `clearance` is limit
    against calculated. `held_by` names the heater that holds this side and `duty` its duty (allowed
    up to `allowed_duty`); then the allowance is zero, as it is for every quantity but temperature.
    An entry of the limits stands in the place of the component; its `level` is "", and its `side`
    hot against what is too much, cold against too little.
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

    @property
    def of_limit(self) -> bool:
        """Whether it belongs to an entry of the limits and to no component."""
        return not self.level


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseRange:
    """Calculated range [K] of a component in one case; `kind` is the case's: hot, cold, ..."""

    case: str
    kind: str
    lowest: float
    highest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """All that one row of the margin table or plot shows of a component, or of a limit.

    `bands` maps band names to (low, high) [K], where cases differ each end that of the case that
    governs its side. `hot` and `cold` are the governing temperature margins of each side over all
    cases, None where no band is judged. `others` are the governing limits on other quantities. A
    limit has nothing else, and no `ranges`.
    """

    component: str
    group: str
    level: str
    bands: dict[str, tuple[float, float]]
    ranges: tuple[CaseRange, ...]
    hot: Margin | None
    cold: Margin | None
    others: tuple[Margin, ...] = ()

    @property
    def is_limit(self) -> bool:
        """Whether it is an entry of the limits and no component."""
        return not self.ranges


SAME = 1e-5
"""K within which two extremes are the same."""


def margins(results: Result | Iterable[Result]) -> tuple[Margin, ...]:
    """Every margin of every component and limit in one or several solved cases, smallest first.

    A case that could not be solved gives margins "not solved"; they come first.
    """
    several = (results,) if isinstance(results, Result) else tuple(results)
    found = [
        margin for result in several for margin in (*_of_components(result), *_of_limits(result))
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
    size = margin.margin / (abs(margin.limit) or 1.0) if other else margin.margin
    # Rounded, so that of equal margins the first stays first whatever the last digits are.
    return order.index(margin.verdict), other, round(size, 4)


def summaries(results: Sequence[Result]) -> tuple[Summary, ...]:
    """One row per component and per limit, over all cases, the gravest first.

    Components without a band, and limits that are judged in no case, come last.
    """
    found = sorted((each for result in results for each in _of_components(result)), key=gravity)
    sides = {(margin.component, margin.side): margin for margin in governing(found)}
    entries = {result.case: _components(result) for result in results}
    first = {name: each for case in reversed(entries.values()) for name, each in case.items()}
    rows = []
    for name in dict.fromkeys(name for case in entries.values() for name in case):
        component = first[name]
        hot, cold = sides.get((name, "hot")), sides.get((name, "cold"))
        rows.append(
            Summary(
                component=name,
                group=component.group,
                level=component.level,
                bands=_bands_shown(component, name, entries, hot, cold),
                ranges=tuple(
                    _range(result, entries[result.case][name])
                    for result in results
                    if name in entries[result.case]  # a case may name a material of its own
                ),
                hot=hot,
                cold=cold,
                others=_gravest(found, name),
            )
        )
    limited = sorted((each for result in results for each in _of_limits(result)), key=gravity)
    for name, limit in results[0].model.entries(Limit, "limits").items():
        rows.append(
            Summary(
                component=name, group=limit.group, level="", bands={}, ranges=(),
                hot=None, cold=None, others=_gravest(limited, name),
            )
        )  # fmt: skip

    def grave(row: Summary) -> tuple[int, bool, float]:
        judged = [margin for margin in (row.hot, row.cold, *row.others) if margin is not None]
        return min(map(gravity, judged), default=(9, True, 0.0))

    return tuple(sorted(rows, key=grave))


def _bands_shown(
    component: Component,
    name: str,
    entries: Mapping[str, Mapping[str, Component]],
    hot: Margin | None,
    cold: Margin | None,
) -> dict[str, tuple[float, float]]:
    """The bands of a component, each end as it is in the case that governs its side."""
    upper = component if hot is None else entries[hot.case][name]
    lower = component if cold is None else entries[cold.case][name]
    ends = {band: limits[1] for band, limits in _bands(upper)}
    return {
        band: (limits[0], ends[band])
        for band, limits in _bands(lower)
        if band in ends  # a case may take a band away
    }


def _gravest(found: Iterable[Margin], name: str) -> tuple[Margin, ...]:
    """Of margins in order, the first one to each limit of a thing that is not a temperature's."""
    others: dict[tuple[str, str, str], Margin] = {}
    for margin in found:
        if margin.component == name and margin.quantity != "temperature":
            others.setdefault((margin.quantity, margin.band, margin.side), margin)
    return tuple(others.values())


def holds(found: Iterable[Margin]) -> bool:
    """Whether every margin holds."""
    return all(margin.verdict == "holds" for margin in found)


def _components(result: Result) -> dict[str, Component]:
    return components(result.model)


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


def _of_components(result: Result) -> Iterator[Margin]:
    for name, component in _components(result).items():
        for band_name, band in _bands(component):
            for side in ("hot", "cold"):
                extreme = _extreme(result, component, band_name, side)
                if extreme is not None or result.solution.failure:
                    yield _judged(result, name, component, band_name, band, side, extreme)
        for reached in of_component(result, component):
            yield _held_against(result, name, component.group, component.level, reached)


def _of_limits(result: Result) -> Iterator[Margin]:
    for name, limit in result.model.entries(Limit, "limits").items():
        for reached in of_limit(result, limit):
            yield _held_against(result, name, limit.group, "", reached)


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
        unsolved = Reached(
            label=band_name, quantity="temperature", side=side, limit=limit, value=float("nan"),
            instant=float("nan"), node=component.nodes[0],
        )  # fmt: skip
        return _held_against(result, name, component.group, component.level, unsolved)
    policy = result.model.settings.uncertainty
    held = None
    if side == "cold":
        held = holder(result, component, instant=extreme.instant, limit=limit)
    extra = (
        0.0 if held is not None else allowance(policy, component.uncertainty, extreme.value, side)
    )
    predicted = extreme.value + sign * extra
    clearance = sign * (limit - extreme.value)
    margin = sign * (limit - predicted)
    holding, duty = held or ("", 0.0)
    covered = margin >= 0.0 and duty <= policy.heater_duty
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
        held_by=holding,
        duty=duty,
        allowed_duty=policy.heater_duty,
    )


def _held_against(result: Result, name: str, group: str, level: str, reached: Reached) -> Margin:
    """The margin of what is reached of a limit that is not one of temperature: no allowance."""
    margin = (1.0 if reached.side == "hot" else -1.0) * (reached.limit - reached.value)
    verdict: Verdict = "holds" if margin >= 0.0 else "outside band"
    if margin < 0.0 and reached.quantity == "duty":
        verdict = "allowance not covered"
    unsolved = bool(result.solution.failure)
    return Margin(
        component=name,
        group=group,
        band=reached.label,
        quantity=reached.quantity,
        side=reached.side,
        case=result.case,
        node=reached.node,
        instant=reached.instant,
        calculated=reached.value,
        allowance=float("nan") if unsolved else 0.0,
        predicted=reached.value,
        limit=reached.limit,
        margin=margin,
        clearance=margin,
        verdict="not solved" if unsolved else verdict,
        level=level,
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
