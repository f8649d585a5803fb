"""When a unit is on, and when a band applies: states, windows and switching-on of a result."""

from __future__ import annotations

import numpy as np

from thermnet.model.kinds.component import Component
from thermnet.model.kinds.schedule import Schedule
from thermnet.network.build import common_grid
from thermnet.network.network import Floats
from thermnet.results import Result

Flags = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]


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
    entry = result.model.entries(Schedule, "schedules")[schedule]
    if result.solution.kind == "steady":
        return np.array([max(entry.value) > 0.0])
    grid = common_grid([entry.history(result.plan.span)])
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
    segment = np.searchsorted(edges[:, 1], solution.record.time, side="left")
    return np.asarray(is_on(result, component)[np.minimum(segment, len(edges) - 1)])
