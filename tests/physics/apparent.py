"""The apparent Sun by an astronomy library."""

from __future__ import annotations

import erfa
import numpy as np

from thermnet.physics.curves import Floats

AHEAD = 69.0 / 86400.0  # days of Terrestrial Time ahead of Universal Time, 2020 to 2035


def apparent_sun(days: Floats) -> tuple[Floats, Floats]:
    """Unit vectors to the Sun, true equator and equinox of date, and its distance, by erfa.

    Earth's ephemeris, aberration by its barycentric velocity, precession and nutation of 2006.
    """
    epoch, terrestrial = 2451545.0, days + AHEAD
    heliocentric, barycentric = erfa.epv00(epoch, terrestrial)
    to_sun = -heliocentric["p"]
    distance = np.linalg.norm(to_sun, axis=-1)
    light_day = 299792458.0 * 86400.0 / 1.495978707e11  # astronomical units
    speed = barycentric["v"] / light_day
    slow = np.sqrt(1.0 - (speed**2).sum(axis=-1))
    seen = erfa.ab(to_sun / distance[:, None], speed, distance, slow)
    return np.einsum("kij,kj->ki", erfa.pnm06a(epoch, terrestrial), seen), distance
