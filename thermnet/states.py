"""When a unit is on, when a band applies, and when a heater holds a component."""

from __future__ import annotations

import numpy as np

from thermnet.heaters import heater_duty_low
from thermnet.model.histories import Repeated
from thermnet.model.kinds.component import Component
from thermnet.model.kinds.heater import Heater
from thermnet.model.paths import apply_case
from thermnet.model.plan import plan
from thermnet.network.grid import common_grid
from thermnet.network.primitives import Flags, Floats
from thermnet.results import Result


def applies(result: Result, component: Component, band: str) -> Flags:
    """Which segments of the solution a band applies in."""
    if band == "operating":
        return is_on(result, component)
    if band == "non-operating":
        return ~is_on(result, component)
    if band in component.states:
        return above_zero(result, component.states[band].when)
    window = component.windows[band]
    middle = _local_middles(result)
    if result.solution.kind == "steady":
        return np.ones(len(middle), dtype=bool)
    return (middle > window.from_) & (middle < window.to)


def is_on(result: Result, component: Component) -> Flags:
    if component.unit is not None:
        return _above_zero(result, result.plan.units[component.unit])
    if isinstance(component.on, str):
        return above_zero(result, component.on)
    return np.full(len(result.solution.extremes.edges), component.on)


def above_zero(result: Result, schedule: str) -> Flags:
    """Whether a schedule is above zero in each segment; in a steady state, whether it ever is."""
    return _above_zero(result, result.plan.schedules[schedule])


def _above_zero(result: Result, points: Repeated) -> Flags:
    if result.solution.kind == "steady":
        return np.array([points.once.value.max() > 0.0])
    grid = common_grid([points.history(result.plan.span)])
    return np.asarray(grid.at(_local_middles(result))[:, 0] > 0.0)


def _local_middles(result: Result) -> Floats:
    """Middle of every segment [s], in the time that schedules see."""
    middle = result.solution.extremes.edges.mean(axis=1)
    period = result.network.histories.period
    return np.asarray(middle % period if np.isfinite(period) else middle)


def at_switching_on(
    result: Result, component: Component, nodes: list[int]
) -> tuple[Floats, Floats]:
    """Temperatures at the instants at which the unit is switched on."""
    on, record = is_on(result, component), result.solution.record
    if result.solution.kind == "steady":
        return np.empty((0, len(nodes))), np.empty((0, len(nodes)))
    before = np.roll(on, 1)
    if result.solution.kind == "transient":
        before[0] = on[0] if result.plan.after is None else _on_before(result, component)
    instants = result.solution.extremes.edges[on & ~before, 0]
    samples = np.searchsorted(record.time, instants)
    values = record.temperature[samples][:, nodes]
    return values, np.repeat(instants[:, None], len(nodes), axis=1)


def _on_before(result: Result, component: Component) -> bool:
    """Whether a unit was on at the end of the case that a transient starts after."""
    after = result.plan.after or ""
    every = result.model.entries(Component, "components")
    name = next(name for name, each in every.items() if each is component)
    applied = apply_case(result.model, after)
    earlier, how = applied.entries(Component, "components")[name], plan(applied, after)
    if earlier.unit is not None:
        points = how.units[earlier.unit]
    elif isinstance(earlier.on, str):
        points = how.schedules[earlier.on]
    else:
        return earlier.on
    if how.solve == "steady":
        return bool(points.once.value.max() > 0.0)
    grid = common_grid([points.history(how.span)])
    return bool(grid.at(np.array([np.nextafter(how.span, 0.0)]))[0, 0] > 0.0)


def holder(
    result: Result,
    component: Component,
    *,
    instant: float | None = None,
    limit: float | None = None,
) -> tuple[str, float] | None:
    """The heater that holds a component, and its duty; None when it has none that can heat.

    The duty is that at the lowest bus voltage (see `thermnet.heaters`). A heater that has failed,
    has no power, or is not enabled at the instant [s] holds nothing, and its spare circuits are
    asked in turn; nor does one that never came on and would come on only below the limit [K]. One
    that failed on is out of control, and no spare circuit would come on beside it.
    """
    if component.held_by is None:
        return None
    heaters = result.model.entries(Heater, "heaters")
    if heaters[component.held_by].failed == "on":
        return None
    spares = [name for name, each in heaters.items() if each.spare_of == component.held_by]
    able = (
        name
        for name in (component.held_by, *spares)
        if _able(result, heaters[name]) and _enabled(result, heaters[name], instant)
    )
    name = next(able, None)
    if name is None:
        return None
    duty = heater_duty_low(result, name)
    if duty == 0.0 and limit is not None and heaters[name].thresholds[0] < limit:
        return None
    return name, duty


def _able(result: Result, heater: Heater) -> bool:
    return heater.failed == "no" and heater.power_at(result.plan.bus_voltage) > 0.0


def _enabled(result: Result, heater: Heater, instant: float | None) -> bool:
    """Whether a heater may heat at an instant [s] of the solution."""
    if instant is None:
        return True
    if heater.modes:
        activity = result.plan.activity
        if activity is None:
            return False
        enabled = _above_zero(result, activity.within(heater.modes))
    elif heater.enabled is not None:
        enabled = above_zero(result, heater.enabled)
    else:
        return True
    segment = np.searchsorted(result.solution.extremes.edges[:, 1], instant)
    return bool(enabled[min(int(segment), len(enabled) - 1)])
