"""When a unit is on, when a band applies, and when a heater holds a component."""

from __future__ import annotations

import numpy as np

from thermnet.model.kinds.component import Component
from thermnet.model.kinds.heater import Heater
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
    if isinstance(component.on, str):
        return above_zero(result, component.on)
    return np.full(len(result.solution.extremes.edges), component.on)


def above_zero(result: Result, schedule: str) -> Flags:
    """Whether a schedule is above zero in each segment; in a steady state, whether it ever is."""
    points = result.plan.schedules[schedule]
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
    if on.all() or result.solution.kind == "steady":
        return np.empty((0, len(nodes))), np.empty((0, len(nodes)))
    before = np.roll(on, 1)
    if result.solution.kind == "transient":
        before[0] = on[0]
    instants = result.solution.extremes.edges[on & ~before, 0]
    samples = np.searchsorted(record.time, instants)
    values = record.temperature[samples][:, nodes]
    return values, np.repeat(instants[:, None], len(nodes), axis=1)


def samples_on(result: Result, component: Component) -> Flags:
    """Which samples of the record lie in segments in which the unit is on."""
    solution = result.solution
    edges = solution.extremes.edges
    if solution.kind == "steady":
        return is_on(result, component)
    from thermnet.solve.steps import LOBATTO

    # The instant of an edge belongs to two steps: the middle of a step says where all of it lies.
    samples = len(LOBATTO)
    middle = solution.record.time.reshape(-1, samples)[:, samples // 2]
    segment = np.minimum(np.searchsorted(edges[:, 1], middle), len(edges) - 1)
    return np.repeat(is_on(result, component)[segment], samples)


def holding(
    result: Result,
    component: Component,
    *,
    instant: float | None = None,
    limit: float | None = None,
) -> float | None:
    """Duty of the heater that holds a component; None when it has none that can heat.

    A heater without power, or not enabled at the instant [s], holds nothing; nor does one that
    never came on and would come on only below the limit [K].
    """
    if component.held_by is None:
        return None
    heater = result.model.entries(Heater, "heaters")[component.held_by]
    if heater.power_at(result.plan.bus_voltage) <= 0.0:
        return None
    if heater.enabled is not None and instant is not None:
        segment = np.searchsorted(result.solution.extremes.edges[:, 1], instant)
        enabled = above_zero(result, heater.enabled)
        if not enabled[min(int(segment), len(enabled) - 1)]:
            return None
    duty = heater_duty(result, component.held_by)
    if duty == 0.0 and limit is not None and heater.on_below < limit:
        return None
    return duty


def heater_duty(result: Result, heater: str) -> float:
    """Duty of a heater by name: on-time over time, or its mean share of power when steady."""
    origins = result.network.origins
    for k, origin in enumerate(result.network.thermostats.origin):
        if origins[origin] == f"heaters.{heater}":
            return float(result.solution.heater_duty[k])
    raise KeyError(heater)
