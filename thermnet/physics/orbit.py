"""Kepler orbits about a body, and the slow drift that the body's oblateness gives them.

The frame is inertial: z to the north of the body's equator, x to the equinox. Two-body motion,
its elements and the secular drift stand in every text of celestial mechanics (such as Vallado,
Fundamentals of Astrodynamics and Applications, chapters 2 and 9).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from thermnet.physics.curves import Floats

TURN = 2.0 * math.pi


@dataclass(frozen=True, slots=True, kw_only=True)
class Orbit:
    """A closed orbit; angles in rad.

    `gravity` is the gravitational constant times the mass of the body, m3/s2; `semi_major_axis`
    in m; `node` the right ascension of the ascending node; `periapsis` the angle from the node to
    the periapsis, in the direction of flight; `start` the true anomaly at time 0. Raises
    ValueError for an orbit that is not closed, or a number that is not finite.
    """

    gravity: float
    semi_major_axis: float
    eccentricity: float = 0.0
    inclination: float = 0.0
    node: float = 0.0
    periapsis: float = 0.0
    start: float = 0.0

    def __post_init__(self) -> None:
        if not (0.0 < self.gravity < math.inf and 0.0 < self.semi_major_axis < math.inf):
            raise ValueError("an orbit needs a gravity and a semi-major axis above zero")
        if not 0.0 <= self.eccentricity < 1.0:
            raise ValueError(
                f"an eccentricity of {self.eccentricity:g} gives no closed orbit: "
                "choose one of at least 0 and below 1"
            )
        if not np.isfinite([self.inclination, self.node, self.periapsis, self.start]).all():
            raise ValueError("an orbit needs finite angles")


def mean_motion(orbit: Orbit) -> float:
    """Mean angular rate [rad/s], by Kepler's third law."""
    return math.sqrt(orbit.gravity / orbit.semi_major_axis**3)


def period(orbit: Orbit) -> float:
    """Time of one revolution [s]."""
    return TURN / mean_motion(orbit)


def semi_latus_rectum(orbit: Orbit) -> float:
    """Distance [m] from the body's centre where the true anomaly is a right angle."""
    return orbit.semi_major_axis * (1.0 - orbit.eccentricity**2)


def eccentric_anomaly(mean: Floats, eccentricity: float) -> Floats:
    """Solution E [rad] of Kepler's equation E - e sin E = mean, of the shape of `mean` [rad].

    To 1e-14 for an eccentricity up to 0.99, and unwrapped: each turn of `mean` adds 2 pi.
    """
    turns = np.round(mean / TURN)
    within_half_turn = mean - turns * TURN
    size = np.abs(within_half_turn)
    # On 0..pi the equation is convex, so Newton's method falls to the solution from any point
    # above it without passing it. Each of these three is above it: the last is pi, the first two
    # follow from sin E <= 1 and sin E <= E.
    anomaly = np.minimum(np.minimum(size + eccentricity, size / (1.0 - eccentricity)), math.pi)
    for _ in range(100):
        excess = anomaly - eccentricity * np.sin(anomaly) - size
        step = excess / (1.0 - eccentricity * np.cos(anomaly))
        anomaly = anomaly - step
        # The next step would be about the square of this one, far below rounding.
        if np.all(np.abs(step) <= 1e-9):
            break
    return np.copysign(anomaly, within_half_turn) + turns * TURN


def _true_from_eccentric(anomaly: Floats, eccentricity: float) -> Floats:
    """True anomaly [rad]; no quadrant to choose, as the difference stays below half a turn."""
    lean = eccentricity / (1.0 + math.sqrt(1.0 - eccentricity**2))
    return anomaly + 2.0 * np.arctan2(lean * np.sin(anomaly), 1.0 - lean * np.cos(anomaly))


def _mean_from_true(true: Floats, eccentricity: float) -> Floats:
    """Mean anomaly [rad], unwrapped."""
    lean = eccentricity / (1.0 + math.sqrt(1.0 - eccentricity**2))
    anomaly = true - 2.0 * np.arctan2(lean * np.sin(true), 1.0 + lean * np.cos(true))
    return anomaly - eccentricity * np.sin(anomaly)


def _eccentric_at(orbit: Orbit, t: Floats) -> Floats:
    start = _mean_from_true(np.asarray(orbit.start), orbit.eccentricity)
    mean = start + mean_motion(orbit) * np.asarray(t, dtype=float)
    return eccentric_anomaly(mean, orbit.eccentricity)


def true_anomaly(orbit: Orbit, t: Floats) -> Floats:
    """Angle f8[k] [rad] from the periapsis at instants `t` f8[k] [s]; each revolution adds 2 pi."""
    return _true_from_eccentric(_eccentric_at(orbit, t), orbit.eccentricity)


def orbit_angle(orbit: Orbit, t: Floats) -> Floats:
    """Angle f8[k] [rad] travelled in the orbit's plane from time 0 to `t` f8[k] [s]."""
    return true_anomaly(orbit, t) - orbit.start


def instant_at_angle(orbit: Orbit, angle: Floats) -> Floats:
    """Instants f8[k] [s] at which `orbit_angle` is `angle` f8[k] [rad]."""
    start = _mean_from_true(np.asarray(orbit.start), orbit.eccentricity)
    there = _mean_from_true(orbit.start + np.asarray(angle, dtype=float), orbit.eccentricity)
    return (there - start) / mean_motion(orbit)


def plane_axes(orbit: Orbit) -> Floats:
    """Three unit vectors f8[3,3], one a row.

    To the periapsis; in the plane a right angle ahead of it; along the normal, about which the
    spacecraft revolves counter-clockwise.
    """
    cos_n, sin_n = math.cos(orbit.node), math.sin(orbit.node)
    cos_i, sin_i = math.cos(orbit.inclination), math.sin(orbit.inclination)
    cos_p, sin_p = math.cos(orbit.periapsis), math.sin(orbit.periapsis)
    to_node = np.array([cos_n, sin_n, 0.0])
    ahead_of_node = np.array([-sin_n * cos_i, cos_n * cos_i, sin_i])
    return np.array(
        [
            cos_p * to_node + sin_p * ahead_of_node,
            cos_p * ahead_of_node - sin_p * to_node,
            [sin_n * sin_i, -cos_n * sin_i, cos_i],
        ]
    )


def normal(orbit: Orbit) -> Floats:
    """Unit vector f8[3] along the orbital angular momentum."""
    return np.asarray(plane_axes(orbit)[2])


def position_at(orbit: Orbit, true: Floats) -> Floats:
    """Vectors f8[k,3] [m] from the body's centre to the points of true anomaly `true` f8[k]."""
    distance = semi_latus_rectum(orbit) / (1.0 + orbit.eccentricity * np.cos(true))
    along = np.stack([np.cos(true), np.sin(true)], axis=-1) @ plane_axes(orbit)[:2]
    return np.asarray(distance[..., None] * along)


def position(orbit: Orbit, t: Floats) -> Floats:
    """Vectors f8[k,3] [m] from the body's centre to the spacecraft at instants `t` f8[k] [s]."""
    return position_at(orbit, true_anomaly(orbit, t))


def velocity(orbit: Orbit, t: Floats) -> Floats:
    """Inertial velocity f8[k,3] [m/s] at instants `t` f8[k] [s]."""
    anomaly = _eccentric_at(orbit, t)
    breadth = math.sqrt(1.0 - orbit.eccentricity**2)
    rate = mean_motion(orbit) / (1.0 - orbit.eccentricity * np.cos(anomaly))
    in_plane = np.stack([-np.sin(anomaly), breadth * np.cos(anomaly)], axis=-1)
    along = in_plane @ plane_axes(orbit)[:2]
    return np.asarray(orbit.semi_major_axis * rate[..., None] * along)


def true_anomaly_towards(orbit: Orbit, direction: Floats) -> float:
    """True anomaly [rad], -pi to pi, where the spacecraft stands nearest to `direction` f8[3].

    With the direction of the Sun this is orbit noon. A direction along the orbit's normal is
    equally far from every point of the orbit: then it is 0, the periapsis.
    """
    ahead, across = plane_axes(orbit)[:2] @ direction
    if math.hypot(ahead, across) <= 1e-12 * float(np.linalg.norm(direction)):
        return 0.0
    return math.atan2(across, ahead)


def drift_rates(orbit: Orbit, j2: float, radius: float) -> tuple[float, float]:
    """Mean drift [rad/s] of the node and of the periapsis in the field of an oblate body.

    First order in `j2`, the second zonal harmonic (no unit), which belongs to the equatorial
    `radius` [m]: -3/2 n j2 (R/p)2 cos i and 3/4 n j2 (R/p)2 (5 cos2 i - 1), with p the semi-latus
    rectum and n the mean motion. Changes within a revolution, which average to zero, are left out.
    """
    strength = mean_motion(orbit) * j2 * (radius / semi_latus_rectum(orbit)) ** 2
    tilt = math.cos(orbit.inclination)
    return -1.5 * strength * tilt, 0.75 * strength * (5.0 * tilt**2 - 1.0)


def drifted(orbit: Orbit, j2: float, radius: float, seconds: float) -> Orbit:
    """The orbit after `seconds` of the drift of `drift_rates`; all but node and periapsis stays."""
    node_rate, periapsis_rate = drift_rates(orbit, j2, radius)
    return replace(
        orbit,
        node=orbit.node + node_rate * seconds,
        periapsis=orbit.periapsis + periapsis_rate * seconds,
    )


def sun_synchronous_inclination(
    gravity: float,
    radius: float,
    j2: float,
    semi_major_axis: float,
    eccentricity: float,
    year: float,
) -> float:
    """Inclination [rad] at which the node drifts once round in a `year` [s], as the mean Sun does.

    `gravity` in m3/s2; `j2` belongs to the equatorial `radius` [m]; `semi_major_axis` in m.
    Raises ValueError, which says what to do, where no inclination is enough.
    """
    if j2 <= 0.0:
        raise ValueError(
            "a Sun-synchronous orbit needs an oblate body (j2 above zero): "
            "give the inclination and the node, or the beta angle"
        )
    polar = Orbit(gravity=gravity, semi_major_axis=semi_major_axis, eccentricity=eccentricity)
    fastest = -drift_rates(polar, j2, radius)[0]  # of a retrograde orbit in the equator's plane
    needed = TURN / year
    if needed <= fastest:
        return math.acos(-needed / fastest)
    # The drift falls with the semi-major axis to the power 3.5.
    highest = semi_major_axis * (fastest / needed) ** (2.0 / 7.0)
    if highest * (1.0 - eccentricity) <= radius:
        raise ValueError(
            "no orbit of this eccentricity above this body is Sun-synchronous: its node drifts too "
            "slowly at any altitude; give the inclination and the node, or the beta angle"
        )
    raise ValueError(
        f"no inclination is Sun-synchronous at a semi-major axis of {semi_major_axis / 1e3:.0f} km "
        f"and an eccentricity of {eccentricity:g}: choose a semi-major axis of at most "
        f"{math.floor(highest / 1e3):.0f} km, or give the inclination and the node"
    )
