"""What may switch next, and when: thermostats at their limits, heat contents at their corners."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import brentq

from thermnet.network.network import Network, boundary_temperatures
from thermnet.network.primitives import Floats, Indices
from thermnet.solve.segments import MERGE
from thermnet.solve.steps import MarchError

LOOKS = np.linspace(0.0, 1.0, 9)
"""Shares of a step at which to look for a crossing."""

BEYOND = 1e-6
"""K past a corner at which it is passed, so that a node at rest on one does not go to and fro."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """Levels [K] that matter in the present state; one per thermostat, then two per content curve.

    `row` is the place in the massive nodes, or -1 for a boundary at place `boundary`; `sign` is
    +1 to switch above the level, -1 below it.
    """

    network: Network
    row: Indices
    sign: Floats
    level: Floats
    boundary: Indices
    thermostats: int

    def first(
        self, interpolant: Callable[[Any], Floats], begin: float, end: float
    ) -> tuple[float, list[int]] | None:
        """The first crossing within a step: its instant, and what crosses there."""
        if len(self.row) == 0:
            return None
        times = begin + LOOKS * (end - begin)
        sensed = interpolant(times)[self.row]
        if (self.row < 0).any():
            imposed = self.row < 0
            sensed[imposed] = [
                [self._imposed(self.boundary[k], t, end) for t in times]
                for k in np.flatnonzero(imposed)
            ]
        beyond = self.sign[:, None] * (sensed - self.level[:, None]) >= 0.0
        # A step that begins exactly on a level just left it: only a later return counts.
        beyond[:, 0] = False
        found: list[tuple[float, int]] = []
        for number in np.flatnonzero(beyond.any(axis=1)):
            place = int(beyond[number].argmax())
            instant = self._located(
                int(number), interpolant, float(times[place - 1]), float(times[place]), end
            )
            found.append((max(instant, float(np.nextafter(begin, np.inf))), int(number)))
        if not found:
            return None
        first = min(found)[0]
        # Two heaters on one sensor switch as one: what comes together is taken together.
        return first, [number for instant, number in found if instant <= first + MERGE]

    def _located(
        self,
        number: int,
        interpolant: Callable[[Any], Floats],
        before: float,
        after: float,
        end: float,
    ) -> float:
        row, level = self.row[number], self.level[number]

        def distance(t: float) -> float:
            value = self._imposed(self.boundary[number], t, end) if row < 0 else interpolant(t)[row]
            return float(value - level)

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
    row_of = {int(node): row for row, node in enumerate(massive)}
    boundary_of = {int(node): k for k, node in enumerate(network.boundary)}
    count = 0 if state is None else len(stats.node)
    watched: list[tuple[int, float, float, int]] = []
    for k in range(count):
        sensor = int(stats.sensor[k])
        if sensor not in row_of and sensor not in boundary_of:
            raise MarchError(
                f"the sensor of a thermostat is the massless node '{network.names[sensor]}', "
                "which would switch without end; give it a heat capacity or move the sensor"
            )
        rising = state is not None and state[k] > 0.5
        level = float(stats.off[k] if rising else stats.on[k])
        sign = 1.0 if rising else -1.0
        watched.append((row_of.get(sensor, -1), sign, level, boundary_of.get(sensor, -1)))
    for k, (node, curve) in enumerate(network.content):
        last = len(curve.x) - 2
        lower = float(curve.x[pieces[k]]) - BEYOND if pieces[k] > 0 else -np.inf
        upper = float(curve.x[pieces[k] + 1]) + BEYOND if pieces[k] < last else np.inf
        watched.append((row_of[node], -1.0, lower, -1))
        watched.append((row_of[node], 1.0, upper, -1))
    rows, signs, levels, boundaries = zip(*watched, strict=True) if watched else ((),) * 4
    return Watch(
        network=network,
        row=np.array(rows, dtype=np.int32),
        sign=np.array(signs, dtype=np.float64),
        level=np.array(levels, dtype=np.float64),
        boundary=np.array(boundaries, dtype=np.int32),
        thermostats=count,
    )


def first_state(network: Network, temperature: Floats, state: Floats | None = None) -> Floats:
    """Thermostat states at given temperatures: on at or below `on`, off at or above `off`.

    Between the two a state is kept, and off where none is given.
    """
    stats = network.thermostats
    kept = np.zeros(len(stats.node)) if state is None else state
    sensed = temperature[stats.sensor]
    return np.where(sensed <= stats.on, 1.0, np.where(sensed >= stats.off, 0.0, kept))


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
