"""What may switch next, and when: thermostats at their limits, heat contents at their corners."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from thermnet.network.network import Network, boundary_temperatures
from thermnet.network.primitives import Floats, Indices
from thermnet.solve.control import switched
from thermnet.solve.segments import MERGE
from thermnet.solve.steps import MarchError

LOOKS = np.linspace(0.0, 1.0, 9)
"""Shares of a step at which to look for a crossing."""

BEYOND = 1e-6
"""K past a corner at which it is passed, so that a node at rest on one does not go to and fro."""


class Course(Protocol):
    """Temperatures between the ends of a step."""

    def at(self, times: float | Floats, nodes: Indices) -> Floats:
        """f8[nodes] at one time, f8[nodes, q] at q times."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """Levels [K] that matter in the present state; one per thermostat, then two per content curve.

    `node` is where the temperature is sensed, `boundary` its place among the boundaries or -1;
    `sign` is +1 to switch above the level, -1 below it.
    """

    network: Network
    node: Indices
    sign: Floats
    level: Floats
    boundary: Indices
    thermostats: int

    def first(self, course: Course, begin: float, end: float) -> tuple[float, list[int]] | None:
        """The first crossing within a step: its instant, and what crosses there."""
        if len(self.node) == 0:
            return None
        times = begin + LOOKS * (end - begin)
        sensed = course.at(times, self.node)
        for k in np.flatnonzero(self.boundary >= 0):
            sensed[k] = [self._imposed(self.boundary[k], t, end) for t in times]
        beyond = self.sign[:, None] * (sensed - self.level[:, None]) >= 0.0
        # A step that begins exactly on a level just left it: only a later return counts.
        beyond[:, 0] = False
        found: list[tuple[float, int]] = []
        for number in np.flatnonzero(beyond.any(axis=1)):
            place = int(beyond[number].argmax())
            between = float(times[place - 1]), float(times[place])
            instant = self._located(int(number), course, *between, end)
            found.append((max(instant, float(np.nextafter(begin, np.inf))), int(number)))
        if not found:
            return None
        first = min(found)[0]
        # Two heaters on one sensor switch as one: what comes together is taken together.
        return first, [number for instant, number in found if instant <= first + MERGE]

    def _located(
        self, number: int, course: Course, before: float, after: float, end: float
    ) -> float:
        # Slow to import, so only once something switches.
        from scipy.optimize import brentq

        node, level = self.node[number : number + 1], self.level[number]

        def distance(t: float) -> float:
            if self.boundary[number] >= 0:
                return self._imposed(self.boundary[number], t, end) - float(level)
            return float(course.at(t, node)[0] - level)

        if self.sign[number] * distance(before) >= 0.0:
            return before
        return float(brentq(distance, before, after, xtol=1e-9, rtol=1e-14))

    def _imposed(self, boundary: int, time: float, end: float) -> float:
        inner = min(time, float(np.nextafter(end, -np.inf)))
        return float(boundary_temperatures(self.network, inner)[boundary])

    def after(
        self, state: Floats | None, pieces: Indices, numbers: list[int]
    ) -> tuple[Floats | None, Indices]:
        """Thermostat states and content pieces when what `first` found has switched."""
        changed = None if state is None else state.copy()
        pieces = pieces.copy()
        for number in numbers:
            if changed is not None and number < self.thermostats:
                changed[number] = 1.0 - changed[number]
            else:
                corner = number - self.thermostats
                pieces[corner // 2] += 1 if corner % 2 else -1
        return changed, pieces


def watch(network: Network, massive: Indices, state: Floats | None, pieces: Indices) -> Watch:
    """All that may switch next in this state. Raises MarchError for a sensor without capacity."""
    stats = network.thermostats
    count = 0 if state is None else len(stats.node)
    sensors = stats.sensor[:count]
    boundary = np.full(len(network.names), -1, dtype=np.int32)
    boundary[network.boundary] = np.arange(len(network.boundary))
    for sensor in sensors[(boundary[sensors] < 0) & ~np.isin(sensors, massive)]:
        raise MarchError(
            f"the sensor of a thermostat is the massless node '{network.names[sensor]}', "
            "which would switch without end; give it a heat capacity or move the sensor"
        )
    rising = np.zeros(0, dtype=bool) if state is None else state > 0.5
    nodes, signs = [sensors], [np.where(rising, 1.0, -1.0)]
    levels = [np.where(rising, stats.off[:count], stats.on[:count])]
    for k, (node, curve) in enumerate(network.content):
        last = len(curve.x) - 2
        lower = float(curve.x[pieces[k]]) - BEYOND if pieces[k] > 0 else -np.inf
        upper = float(curve.x[pieces[k] + 1]) + BEYOND if pieces[k] < last else np.inf
        nodes.append(np.array([node, node], dtype=np.int32))
        signs.append(np.array([-1.0, 1.0]))
        levels.append(np.array([lower, upper]))
    sensed = np.concatenate(nodes).astype(np.int32)
    return Watch(
        network=network,
        node=sensed,
        sign=np.concatenate(signs),
        level=np.concatenate(levels),
        boundary=boundary[sensed],
        thermostats=count,
    )


def first_state(network: Network, temperature: Floats, state: Floats | None = None) -> Floats:
    """Thermostat states at given temperatures: on at or below `on`, off at or above `off`.

    Between the two a state is kept, and off where none is given.
    """
    stats = network.thermostats
    kept = np.zeros(len(stats.node)) if state is None else state
    sensed = temperature[stats.sensor]
    return np.asarray(switched(sensed, stats.on, stats.off, kept))


def content_pieces(network: Network, temperature: Floats) -> Indices:
    """The straight piece of every heat-content curve at given temperatures."""
    pieces = [
        int(np.clip(np.searchsorted(curve.x, temperature[node], side="right") - 1, 0, None))
        for node, curve in network.content
    ]
    limits = [len(curve.x) - 2 for _, curve in network.content]
    return np.minimum(np.array(pieces, dtype=np.int32), np.array(limits, dtype=np.int32))


def piece_capacities(network: Network, pieces: Indices) -> Floats:
    """Heat capacity of every node [J/K], the slope of its piece where it has a content curve."""
    capacity = network.capacity.copy()
    for (node, curve), piece in zip(network.content, pieces, strict=True):
        rise = curve.y[piece + 1] - curve.y[piece]
        capacity[node] = rise / (curve.x[piece + 1] - curve.x[piece])
    return np.asarray(capacity)
