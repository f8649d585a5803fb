"""What a network is made of: histories, potentials, and the few primitives that carry heat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np

from thermnet.physics.curves import Curve, share_between
from thermnet.physics.potentials import power, power_slope

Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
Indices = np.ndarray[tuple[int, ...], np.dtype[np.int32]]
Flags = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
Array = TypeVar("Array", bound=np.ndarray[Any, Any])

CONSTANT = -1
"""Index of a history, curve or node that says: none, the factor is 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Histories:
    """Piecewise linear functions of time on one common grid; each may jump at every instant.

    Piece k runs from `instants[k]` to `instants[k + 1]`, on which history h goes linearly from
    `start[k, h]` to `stop[k, h]`. With a finite `period` the grid spans 0 to period and repeats;
    otherwise the first and last value hold outside the grid (the last piece, without width, holds
    the value after a jump at the last instant).
    """

    instants: Floats
    start: Floats
    stop: Floats
    period: float = float("inf")

    def at(self, time: float | Floats) -> Floats:
        """Values f8[..., h] at times [s] within the grid; the later side of a jump."""
        piece = self.instants[1:-1].searchsorted(time, "right")
        begin, end = self.instants[piece], self.instants[piece + 1]
        share = np.asarray(share_between(time, begin, end))[..., None]
        start = self.start[piece]
        return np.asarray(start + share * (self.stop[piece] - start))

    def mean(self) -> Floats:
        """Time means f8[h] over the whole grid."""
        width = np.diff(self.instants)
        if not width.any():
            return np.asarray(self.start[-1])
        return np.asarray(width @ (self.start + self.stop) / (2.0 * width.sum()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Potential:
    """What drives a link: a power of temperature T**exponent, or the integral of a curve.

    The curve (conductivity over temperature, say) gives Phi(T) = integral of curve from 0 K to T.
    """

    exponent: float = 1.0
    curve: Curve | None = None

    @property
    def law(self) -> str:
        """What it stands for: "conduction", "radiation", or "other" for any other power."""
        if self.curve is not None:
            return "conduction"
        return {1.0: "conduction", 4.0: "radiation"}.get(self.exponent, "other")

    def value(self, temperature: Floats) -> Floats:
        if self.curve is not None:
            return self.curve.integral(temperature)
        return (
            temperature if self.exponent == 1.0 else np.asarray(power(temperature, self.exponent))
        )

    def slope(self, temperature: Floats) -> Floats:
        if self.curve is not None:
            return self.curve.value(temperature)
        if self.exponent == 1.0:
            return np.ones_like(temperature)
        return np.asarray(power_slope(temperature, self.exponent))


@dataclass(frozen=True, slots=True, kw_only=True)
class Links:
    """m links: strength * history(t) * curve(T of sensor) * [Phi(T_a) - Phi(T_b)], W from a to b.

    Sorted by potential: links `groups[k]` to `groups[k + 1]` share `potentials[k]`.
    """

    a: Indices
    b: Indices
    strength: Floats
    history: Indices
    curve: Indices
    sensor: Indices
    potentials: tuple[Potential, ...]
    groups: tuple[int, ...]
    origin: Indices

    def of_law(self, law: str) -> Flags:
        """Whether each link is of a law: see `Potential.law`."""
        known = [potential.law == law for potential in self.potentials]
        return np.repeat(np.array(known, dtype=bool), np.diff(self.groups))

    def some(self, chosen: Flags) -> Links:
        """The links marked in `chosen`, a flag each."""
        before = np.concatenate([[0], np.cumsum(chosen)])
        arrays = ("a", "b", "strength", "history", "curve", "sensor", "origin")
        return Links(
            **{name: getattr(self, name)[chosen] for name in arrays},
            potentials=self.potentials,
            groups=tuple(int(before[k]) for k in self.groups),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowLinks:
    """Heat carried one way by a fluid: rate [W/K] * history(t) * T_a leaves a and enters b."""

    a: Indices
    b: Indices
    rate: Floats
    history: Indices
    origin: Indices


@dataclass(frozen=True, slots=True, kw_only=True)
class Heats:
    """Heat on nodes: amplitude [W] * history(t) * curve(T of sensor)."""

    node: Indices
    amplitude: Floats
    history: Indices
    curve: Indices
    sensor: Indices
    origin: Indices


@dataclass(frozen=True, slots=True, kw_only=True)
class Thermostats:
    """Heaters switched by a sensor: power [W] * enabled(t) * state.

    The state goes to 1 at or below `on` and to 0 at or above `off` [K]. Without a given state the
    proportional law holds: (off - T) / (off - on), limited to 0..1.
    """

    node: Indices
    sensor: Indices
    power: Floats
    on: Floats
    off: Floats
    enabled: Indices
    origin: Indices


def read_only(array: Array) -> Array:
    """The same array, which from now on cannot be changed."""
    array.flags.writeable = False
    return array
