"""Where a body flies or stands, how it is turned and which faces it has: what decides its light.

All of it is plain numbers, equal when they are, so that what was computed from it can be kept.
"""

from __future__ import annotations

from dataclasses import dataclass

from thermnet.physics import orbit
from thermnet.physics.orbit import Orbit

Vector = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """An exterior face as the body has it: what is absorbed depends on nothing else of it.

    `axis` is the normal of a plate, the axis of a cylinder (`cylinder`), or the axis that a plate
    turns about to follow the Sun (`follows` "one axis"); None for a sphere, and for a plate that
    follows about two axes. `back` is the other side of such a plate.
    """

    axis: Vector | None
    cylinder: bool = False
    follows: str = ""
    back: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Attitude:
    """How the body stands: `axis` points exactly `to`, `second_axis` as near `second_to` as it can.

    Targets are words, or fixed inertial directions. Where `spin`, the body turns about `axis` and
    needs no second one.
    """

    axis: Vector
    to: str | Vector
    second_axis: Vector | None = None
    second_to: str | Vector | None = None
    spin: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Flight:
    """An orbit with its Sun and attitudes.

    `sun` is the inertial direction to the Sun, `sun_distance` [m] is None for a cylindrical
    shadow. `radius` [m] is the body's, `glow_radius` [m] that from which its light and infrared
    are stated. `attitudes` come with the orbit angle [rad] at which each begins. `air` is density
    [kg/m3] at an altitude [m], and scale height [m], infinite for a constant density.
    """

    orbit: Orbit
    sun: Vector
    sun_distance: float | None
    radius: float
    glow_radius: float
    attitudes: tuple[tuple[float, Attitude], ...]
    air: tuple[float, float, float] | None = None

    @property
    def period(self) -> float:
        """s after which everything repeats."""
        return orbit.period(self.orbit)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cruise:
    """A flight with a Sun and no planet."""

    sun: Vector
    attitude: Attitude


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """A place on a body's flat ground, from one noon to the next; angles in rad, `day` in s."""

    latitude: float
    declination: float
    day: float
    attitude: Attitude

    @property
    def period(self) -> float:
        """s after which everything repeats."""
        return self.day


Setting = Flight | Cruise | Stand
