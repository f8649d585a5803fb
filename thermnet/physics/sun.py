"""Where the Sun stands: from a date, from an orbit, and from a place on the ground.

The position is that of the low-precision formulas for the Sun in the Astronomical Almanac: the
apparent Sun seen from the Earth's centre, in the equator and equinox of date. The almanac states
0.01 degrees from 1950 to 2050. Coefficients from memory, checked against printed positions; the
direction is tested to 0.02 degrees against an astronomy library, from 2020 to 2035.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from thermnet.physics.curves import Floats

TROPICAL_YEAR = 365.2422 * 86400.0
"""s, in which the mean Sun goes once round the Earth's equator (from memory)."""

_NOON_2000 = datetime(2000, 1, 1, 12, tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class SunPosition:
    """Right ascension, 0 to 2 pi, and declination [rad]; distance [astronomical units].

    All of one shape.
    """

    right_ascension: Floats
    declination: Floats
    distance: Floats


def days_since_2000(when: datetime) -> float:
    """Days from 2000-01-01 12:00 to `when`; a time without a zone is Universal Time.

    The almanac counts in Terrestrial Time, about 70 s ahead: the Sun moves 0.0008 degrees in that
    time, which is left out.
    """
    if when.tzinfo is None:
        when = when.replace(tzinfo=UTC)
    return (when - _NOON_2000).total_seconds() / 86400.0


def _mean_longitude(days: Floats) -> Floats:
    """Mean longitude of the Sun [rad], aberration included."""
    return np.radians(np.mod(280.460 + 0.9856474 * np.asarray(days, dtype=float), 360.0))


def _apparent(days: Floats) -> tuple[Floats, Floats, Floats]:
    """Ecliptic longitude [rad], obliquity of the ecliptic [rad], distance [astronomical units]."""
    days = np.asarray(days, dtype=float)
    anomaly = np.radians(np.mod(357.528 + 0.9856003 * days, 360.0))
    ahead = 1.915 * np.sin(anomaly) + 0.020 * np.sin(2.0 * anomaly)
    longitude = _mean_longitude(days) + np.radians(ahead)
    obliquity = np.radians(23.439 - 4e-7 * days)
    distance = 1.00014 - 0.01671 * np.cos(anomaly) - 0.00014 * np.cos(2.0 * anomaly)
    return longitude, obliquity, np.asarray(distance)


def sun_direction(days: Floats) -> Floats:
    """Unit vectors f8[...,3] from the Earth to the Sun, at `days` f8[...] since 2000-01-01 12:00.

    z to the north of the Earth's equator, x to the equinox, both of date.
    """
    longitude, obliquity, _ = _apparent(days)
    return np.stack(
        [
            np.cos(longitude),
            np.cos(obliquity) * np.sin(longitude),
            np.sin(obliquity) * np.sin(longitude),
        ],
        axis=-1,
    )


def sun_position(days: Floats) -> SunPosition:
    """The apparent Sun at `days` f8[...] since 2000-01-01 12:00, arrays of the same shape."""
    direction = sun_direction(days)
    x, y, z = direction[..., 0], direction[..., 1], direction[..., 2]
    return SunPosition(
        right_ascension=np.mod(np.arctan2(y, x), 2.0 * math.pi),
        declination=np.arctan2(z, np.hypot(x, y)),
        distance=_apparent(days)[2],
    )


def mean_sun_right_ascension(days: Floats) -> Floats:
    """Right ascension [rad], 0 to 2 pi, of the Sun that mean time follows, of the shape of `days`.

    It runs evenly along the equator, with the mean longitude of the Sun.
    """
    return _mean_longitude(days)


def node_of_local_time(days: Floats, hours: Floats) -> Floats:
    """Right ascension of the ascending node [rad], 0 to 2 pi, of a given mean local time [hours].

    The mean local time at a node is 12 hours where the node stands below the mean Sun, and grows
    to the east by one hour each 15 degrees.
    """
    east = np.radians(15.0 * (np.asarray(hours, dtype=float) - 12.0))
    return np.mod(mean_sun_right_ascension(days) + east, 2.0 * math.pi)


def beta(sun: Floats, normal: Floats) -> Floats:
    """Angle [rad] f8[...] of the Sun above an orbit's plane, on the side of the orbit's normal.

    `sun` and `normal` are vectors f8[...,3]; their lengths do not matter.
    """
    above = np.sum(sun * normal, axis=-1)
    in_plane = np.linalg.norm(np.cross(sun, normal), axis=-1)
    return np.asarray(np.arctan2(above, in_plane))


def sun_elevation(latitude: Floats, declination: Floats, hour_angle: Floats) -> Floats:
    """Angle [rad] of the Sun above the horizon, negative below; spherical astronomy.

    `hour_angle` [rad] is 0 at local noon and grows by 2 pi a solar day.
    """
    # The Sun in the directions of the meridian and of the north pole, then up and level ones.
    towards_meridian = np.cos(declination) * np.cos(hour_angle)
    west = np.cos(declination) * np.sin(hour_angle)
    north = np.sin(declination)
    up = np.sin(latitude) * north + np.cos(latitude) * towards_meridian
    level = np.hypot(west, np.cos(latitude) * north - np.sin(latitude) * towards_meridian)
    return np.asarray(np.arctan2(up, level))
