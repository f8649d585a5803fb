"""Time to limit after an event, warm-up time to switch-on, and whether a limit is ever reached."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from thermnet.errors import InputError, Problem, nearest
from thermnet.margins import Margin, Side, margins
from thermnet.model.kinds.component import Band, Component
from thermnet.model.model import Model
from thermnet.model.plan import Plan
from thermnet.model.usable import ALWAYS, components
from thermnet.network.primitives import Flags, Floats
from thermnet.results import Result
from thermnet.states import applies, is_on
from thermnet.studies.continued import continued
from thermnet.studies.crossings import Excess, Track, first, track_from
from thermnet.studies.levels import BEYOND, levels_of, narrowed

Ever = Literal["within the case", "after the case", "never", "not known"]

NEVER = float("inf")
UNKNOWN = float("nan")


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeToLimit:
    """When a component leaves one side of a band that applies in some time after the event.

    `at_event` [K] is its calculated temperature then, at its worst node. `calculated` and
    `predicted` [s] count from the event to the first instant at which the calculated temperature,
    or the predicted one, lies beyond `limit` [K] while the band applies: 0 where it does at the
    event, infinite where it does not within the case. Then `ever` and `ever_predicted` say whether
    it comes to that later, by the state that the end of the case leads to, where the component
    settles at `settles` [K] with a predicted `margin` [K]; not a number where that is not known,
    or the band does not apply then. `node` is where it is reached, or the worst at the event.
    """

    case: str
    component: str
    group: str
    band: str
    side: Side
    node: str
    limit: float
    at_event: float
    calculated: float
    predicted: float
    ever: Ever
    ever_predicted: Ever
    settles: float = UNKNOWN
    margin: float = UNKNOWN


@dataclass(frozen=True, slots=True, kw_only=True)
class WarmUp:
    """When a component may be switched on that is off, or outside its switch-on band, at the event.

    `calculated` and `predicted` [s] count from the event to the first instant at which all its
    nodes are inside `band` [K], without and with the allowance inside of it; infinite where that
    does not come within the case. By prediction it is outside again from `closed` [s] on; infinite
    where it stays inside to the end of the case, or never came there. `at_event` and `settles` [K]
    are its lowest and highest temperature at the event, and where the end of the case leads to.
    """

    case: str
    component: str
    group: str
    band: tuple[float, float]
    at_event: tuple[float, float]
    calculated: float
    predicted: float
    closed: float
    ever: Ever
    ever_predicted: Ever
    settles: tuple[float, float] = (UNKNOWN, UNKNOWN)


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """All times of one case after an event at `since` [s], the shortest first.

    `step` is the step of the timeline that begins then, "" for none. `continued` is the state
    that the end of the case leads to, None where nothing asked for it or where `reason` says why
    there is none.
    """

    result: Result
    since: float
    step: str
    limits: tuple[TimeToLimit, ...]
    warm_ups: tuple[WarmUp, ...]
    continued: Result | None
    reason: str


def times(
    result: Result, *, since: float | str | None = None, components: Iterable[str] = ()
) -> Times:
    """The times of a solved transient case after an event, of all components or of some.

    `since` is an instant [s] or the name of a step of the case's timeline; by default the last
    step, where there are several, or else the start of the case.

    Raises InputError for a case that is not transient, an event outside of it, and an unknown step
    or component. A case that was not solved has no times.
    """
    chosen = components_of(result.model, components)
    event, step = event_of(result.model, result.plan, since)
    if result.solution.failure:
        reason = result.solution.failure
        return Times(
            result=result, since=event, step=step, limits=(), warm_ups=(), continued=None,
            reason=reason,
        )  # fmt: skip
    track = track_from(result.solution, event)
    limits = [row for each in chosen.items() for row in _limits(result, track, *each)]
    warm_ups = [row for each in chosen.items() for row in _warm_ups(result, track, *each)]
    later, reason = None, ""
    if NEVER in [row.predicted for row in limits] + [row.predicted for row in warm_ups]:
        later, reason = _continued(result)
    if later is not None:
        found = margins(later)
        limits = [_settled_limit(row, found) for row in limits]
        warm_ups = [_settled_warm_up(row, result, later, event) for row in warm_ups]
    return Times(
        result=result,
        since=event,
        step=step,
        limits=tuple(sorted(limits, key=_soonest)),
        warm_ups=tuple(sorted(warm_ups, key=_soonest)),
        continued=later,
        reason=reason,
    )


def event_of(model: Model, how: Plan, since: float | str | None) -> tuple[float, str]:
    """The instant [s] of an event in a case, and the step that begins then, "" for none.

    Raises InputError as `times` does.
    """

    def refused(message: str) -> InputError:
        return InputError(model.located([Problem(message=message, path=f"cases.{how.name}")]))

    if how.solve != "transient":
        raise refused(
            f"times count from an event in a transient case, and this one is {how.solve}: make a "
            f"transient case that starts 'after: {how.name}'"
        )
    begins: dict[str, float] = {}
    if how.activity is not None:
        each = zip(how.activity.steps, how.activity.begin.tolist(), strict=True)
        begins = {step: begin for step, begin in each if step and begin < how.span}
    if since is None:
        if not begins:
            return 0.0, ""
        step = max(begins, key=begins.__getitem__)
        return begins[step], step
    if isinstance(since, str):
        if since not in begins:
            raise refused(f"no step '{since}' begins in this case{nearest(since, begins)}")
        return begins[since], since
    if not 0.0 <= since < how.span:
        raise refused(f"the event must lie from 0 s to before {how.span:g} s, got {since:g} s")
    return since, next((step for step, begin in begins.items() if begin == since), "")


def components_of(model: Model, chosen: Iterable[str]) -> dict[str, Component]:
    """The components of these names, all for none. Raises InputError for an unknown one."""
    every = components(model)
    wanted = list(chosen)
    for name in wanted:
        if name not in every:
            message = f"unknown component '{name}'{nearest(name, every)}"
            raise InputError([Problem(message=message)])
    return {name: every[name] for name in wanted} if wanted else every


def _continued(result: Result) -> tuple[Result | None, str]:
    """The state that the end of a case leads to, or why there is none."""
    try:
        later = continued(result)
    except InputError as error:
        return None, error.problems[0].message
    return (None, later.solution.failure) if later.solution.failure else (later, "")


def _limits(result: Result, track: Track, name: str, component: Component) -> Iterator[TimeToLimit]:
    """Both sides of every band that applies after the event; windows end by themselves."""
    bands = {"operating": component.operating, "non-operating": component.non_operating}
    bands |= {state: each.band for state, each in component.states.items()}
    bands |= {name: each.band for name, each in component.windows.items() if each.to == ALWAYS[1]}
    for band_name, band in bands.items():
        if band is None:
            continue
        where = applies(result, component, band_name)
        if where[track.segment].any():
            for side in ("hot", "cold"):
                yield _limit(result, track, name, component, band_name, band, side, where)


def _limit(  # noqa: PLR0917 all that a row states
    result: Result,
    track: Track,
    name: str,
    component: Component,
    band_name: str,
    band: Band,
    side: Side,
    where: Flags,
) -> TimeToLimit:
    nodes = [result.network.index(node) for node in component.nodes]
    sign, limit = (1.0, band[1]) if side == "hot" else (-1.0, band[0])
    levels = levels_of(result, component, side, limit, where)
    event = float(track.begin[0])
    calculated, predicted = (
        min(
            first(track, nodes, _beyond(sign, each), where),
            _peak_beyond(result, nodes, sign, np.where(where, each, sign * NEVER), event),
        )
        for each in (np.full(len(where), limit), levels)
    )
    reached = min(predicted, calculated)
    known = event if reached == NEVER else reached
    at_event, then = track.at(event)[nodes], track.at(known)[nodes]
    return TimeToLimit(
        case=result.case,
        component=name,
        group=component.group,
        band=band_name,
        side=side,
        node=component.nodes[int(np.argmax(sign * then))],
        limit=limit,
        at_event=float(sign * (sign * at_event).max()),
        calculated=calculated - event,
        predicted=predicted - event,
        ever=_ever(calculated),
        ever_predicted=_ever(predicted),
    )


def _beyond(sign: float, levels: Floats) -> Excess:
    """How far the worst node lies beyond the level of a segment, above (+1) or below (-1)."""

    def excess(temperature: Floats, segment: int) -> Floats:
        worst = (sign * temperature).max(axis=-1)
        return np.asarray(worst - sign * levels[segment] - BEYOND)

    return excess


def _warm_ups(result: Result, track: Track, name: str, component: Component) -> Iterator[WarmUp]:
    band = component.switch_on
    if band is None:
        return
    nodes = [result.network.index(node) for node in component.nodes]
    event = float(track.begin[0])
    now = track.at(event)[nodes]
    on = bool(is_on(result, component)[track.segment[0]])
    if on and band[0] <= now.min() and now.max() <= band[1]:
        return
    everywhere = np.ones(len(result.solution.extremes.edges), dtype=bool)
    # The instant of an edge belongs to two segments: what holds after the event counts.
    after = float(result.solution.extremes.edges[track.segment[0]].mean())
    smaller = narrowed(result, component, band, after)
    calculated = first(track, nodes, _inside(band), everywhere)
    predicted = first(track, nodes, _inside(smaller), everywhere)
    closed = NEVER
    if predicted < track.end[-1]:
        rest = track_from(result.solution, predicted)
        closed = first(rest, nodes, _outside(smaller), everywhere)
    yield WarmUp(
        case=result.case,
        component=name,
        group=component.group,
        band=band,
        at_event=(float(now.min()), float(now.max())),
        calculated=calculated - event,
        predicted=predicted - event,
        closed=closed - event,
        ever=_ever(calculated),
        ever_predicted=_ever(predicted),
    )


def _peak_beyond(
    result: Result, nodes: list[int], sign: float, levels: Floats, event: float
) -> float:
    """The first extreme [s] beyond the level of its segment, however short it is."""
    extremes = result.solution.extremes
    hot = sign > 0.0
    values = (extremes.highest if hot else extremes.lowest)[:, nodes]
    instants = (extremes.highest_at if hot else extremes.lowest_at)[:, nodes]
    after = extremes.edges[:, 1] > event  # what ends at the event is over
    beyond = (sign * (values - levels[:, None]) > BEYOND) & (instants >= event) & after[:, None]
    return float(instants[beyond].min(initial=NEVER))


def _inside(band: Band) -> Excess:
    """How far the worst node lies inside a band."""

    def excess(temperature: Floats, segment: int) -> Floats:  # noqa: ARG001 one band throughout
        within = np.minimum(temperature - band[0], band[1] - temperature)
        return np.asarray(within.min(axis=-1) + BEYOND)

    return excess


def _outside(band: Band) -> Excess:
    """How far the worst node lies outside a band."""
    inside = _inside(band)

    def excess(temperature: Floats, segment: int) -> Floats:
        return -inside(temperature, segment)

    return excess


def _ever(reached: float) -> Ever:
    return "not known" if reached == NEVER else "within the case"


def _settled_limit(row: TimeToLimit, found: Iterable[Margin]) -> TimeToLimit:
    """A row with where the component settles; a band that does not apply then is never left."""
    wanted = (row.component, row.band, row.side, "temperature")
    where = [
        margin
        for margin in found
        if (margin.component, margin.band, margin.side, margin.quantity) == wanted
    ]
    clearance, left = (where[0].clearance, where[0].margin) if where else (0.0, 0.0)
    return replace(
        row,
        ever=_later(row.ever, reached=clearance < -BEYOND),
        ever_predicted=_later(row.ever_predicted, reached=left < -BEYOND),
        settles=where[0].calculated if where else UNKNOWN,
        margin=left if where else UNKNOWN,
    )


def _settled_warm_up(row: WarmUp, result: Result, later: Result, event: float) -> WarmUp:
    component = result.model.entries(Component, "components")[row.component]
    nodes = [later.network.index(node) for node in component.nodes]
    lowest = later.solution.extremes.lowest[:, nodes].min(axis=0)
    highest = later.solution.extremes.highest[:, nodes].max(axis=0)

    def reaches(band: Band) -> bool:
        return bool(band[0] <= band[1] and (highest >= band[0]).all() and (lowest <= band[1]).all())

    return replace(
        row,
        ever=_later(row.ever, reached=reaches(row.band)),
        ever_predicted=_later(
            row.ever_predicted, reached=reaches(narrowed(result, component, row.band, event))
        ),
        settles=(float(lowest.min()), float(highest.max())),
    )


def _later(ever: Ever, *, reached: bool) -> Ever:
    if ever == "within the case":
        return ever
    return "after the case" if reached else "never"


def _soonest(row: TimeToLimit | WarmUp) -> tuple[float, float, int, float]:
    """Sort key: the shortest predicted time first, then what comes after the case, then never."""
    order = ("within the case", "after the case", "not known", "never")
    left = getattr(row, "margin", UNKNOWN)
    margin = NEVER if np.isnan(left) else round(left, 4)  # what is equal stays in its order
    return row.predicted, row.calculated, order.index(row.ever_predicted), margin
