"""Orbits and shadows drawn anew: cones that touch both spheres, and rays traced one by one."""

from __future__ import annotations

import math

import numpy as np

from thermnet.physics.constants import ASTRONOMICAL_UNIT
from thermnet.physics.curves import Floats
from thermnet.physics.orbit import TURN, Orbit, period, position
from thermnet.physics.shadow import SUN_RADIUS

GRAVITY = 3.986004418e14  # m3/s2, Earth, WGS 84 (second-hand)
RADIUS = 6378137.0  # m, Earth's equator, WGS 84 (second-hand)
TO_SUN = ASTRONOMICAL_UNIT
CONVERGING = math.asin((SUN_RADIUS - RADIUS) / TO_SUN)  # half angle of the umbra's cone
DIVERGING = math.asin((SUN_RADIUS + RADIUS) / TO_SUN)  # and of the penumbra's


def circular(height: float, start: float = 0.0) -> Orbit:
    return Orbit(gravity=GRAVITY, semi_major_axis=RADIUS + height, start=start)


def sun_at(beta: float) -> Floats:
    """Over the x-y plane by `beta`, so that orbit noon lies on +x."""
    return np.array([math.cos(beta), 0.0, math.sin(beta)])


def depth(where: Floats, sun: Floats, radius: float, sun_distance: float | None) -> Floats:
    """0 in full sunlight, 1 in the penumbra (or a cylinder), 2 in the umbra, 3 in the ring.

    From the cones that touch both spheres: their tips and slopes, on the axis away from the Sun.
    """
    behind = -(where @ sun)
    beside = np.linalg.norm(where + behind[:, None] * sun, axis=1)
    if sun_distance is None:
        return ((behind > 0.0) & (beside < radius)).astype(int)
    converging = math.asin((SUN_RADIUS - radius) / sun_distance)
    diverging = math.asin((SUN_RADIUS + radius) / sun_distance)
    tip = radius / math.sin(converging)  # behind the body
    crossing = radius / math.sin(diverging)  # before it
    # Each cone begins where it touches the body, a little to one side of its centre.
    outer = (beside < (behind + crossing) * math.tan(diverging)) & (
        behind > -radius * math.sin(diverging)
    )
    umbra = (beside < (tip - behind) * math.tan(converging)) & (
        behind > radius * math.sin(converging)
    )
    ring = beside < (behind - tip) * math.tan(converging)
    return np.where(umbra, 2, np.where(ring, 3, np.where(outer, 1, 0)))


def scanned_edges(orbit: Orbit, sun: Floats, sun_distance: float | None) -> tuple[Floats, Floats]:
    """Instants before and after each change of depth in one period, 0.05 s apart.

    In steps of 2 s, and then of 0.05 s through each step with a change.
    """
    t = np.append(np.arange(0.0, period(orbit), 2.0), period(orbit))
    inside = depth(position(orbit, t), sun, RADIUS, sun_distance)
    before, after = [], []
    for change in np.flatnonzero(inside[1:] != inside[:-1]):
        fine = np.linspace(t[change], t[change + 1], 41)
        there = depth(position(orbit, fine), sun, RADIUS, sun_distance)
        edges = np.flatnonzero(there[1:] != there[:-1])
        before += fine[edges].tolist()
        after += fine[edges + 1].tolist()
    return np.array(before), np.array(after)


def half_angle(contact: float, beta: float) -> float:
    """Orbit angle from midnight to a contact, 0 where there is none.

    Derived: a circular orbit leaves a cone where its point is `contact` from the cone's axis, and
    cos contact = cos beta cos angle.
    """
    return math.acos(min(math.cos(contact) / math.cos(beta), 1.0))


def contacts(orbit: Orbit) -> tuple[float, float]:
    """Angles from the axis at which a circle about the body leaves penumbra and umbra.

    Derived: the edge passes the body's centre at one radius, and leans to the axis.
    """
    limb = math.asin(RADIUS / orbit.semi_major_axis)
    return limb + DIVERGING, limb - CONVERGING


ELLIPSES = {
    "low circle": Orbit(gravity=GRAVITY, semi_major_axis=6.88e6, inclination=0.9, start=0.3),
    "low ellipse": Orbit(
        gravity=GRAVITY, semi_major_axis=8.4e6, eccentricity=0.2, inclination=1.2, periapsis=2.0
    ),
    "transfer": Orbit(
        gravity=GRAVITY, semi_major_axis=2.44e7, eccentricity=0.73, inclination=0.1, start=3.0
    ),
    "half a day": Orbit(
        gravity=GRAVITY, semi_major_axis=2.66e7, eccentricity=0.74, inclination=1.1, periapsis=4.7
    ),
    "geostationary": circular(35786e3),
}


def traced(where: Floats, sun: Floats, radius: float, sun_distance: float) -> float:
    """Share of rays from one point to points of the Sun's disc that miss the body."""
    to_sun = sun_distance * sun - where
    far = float(np.linalg.norm(to_sun))
    forward = to_sun / far
    side = np.cross(forward, [0.0, 1.0, 0.0])
    side /= np.linalg.norm(side)
    # The visible rim lies before the centre: its apparent radius is asin(radius / distance).
    tangent = math.tan(math.asin(SUN_RADIUS / far))
    rings = np.sqrt((np.arange(400) + 0.5) / 400.0) * tangent
    turns = (np.arange(720) + 0.5) * (TURN / 720.0)
    x, y = np.outer(rings, np.cos(turns)), np.outer(rings, np.sin(turns))
    rays = forward + x[..., None] * side + y[..., None] * np.cross(forward, side)
    rays /= np.linalg.norm(rays, axis=-1, keepdims=True)
    along = rays @ where
    nearest = np.sqrt(np.maximum(where @ where - along**2, 0.0))
    return float(np.mean((along > 0.0) | (nearest > radius)))
