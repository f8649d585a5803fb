"""A surface that stands on a body: what it sees of sky and ground, and the Sun over the day.

The ground is flat, without end, and reflects alike in all directions. Angles are radians; tilt is
that of the outward normal from the vertical: 0 looks up, pi/2 to the horizon, pi down.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from thermnet.physics.curves import Floats


def sky_view(tilt: Any) -> Floats:
    """Share of its view that the sky takes, (1 + cos tilt) / 2; same shape as `tilt`.

    Source: textbook closed form for an infinite flat ground (the isotropic-sky model of solar
    engineering). It is linear in the cosine, so that a shape takes the mean cosine of its parts:
    a sphere, or an upright cylinder's side, sees as much sky as ground.
    """
    return np.asarray((1.0 + np.cos(tilt)) / 2.0)


def ground_view(tilt: Any) -> Floats:
    """Share of its view that the ground takes, (1 - cos tilt) / 2: what `sky_view` leaves."""
    return np.asarray((1.0 - np.cos(tilt)) / 2.0)


def ground_reflected(tilt: Any, elevation: Floats, reflectance: Any) -> Floats:
    """Sunlight reflected from the ground onto the surface, over sunlight; shapes broadcast.

    reflectance x max(0, sin elevation) x ground view (textbook, as `sky_view`): the ground is lit
    throughout, also where the surface's own shadow falls. Raises ValueError for a reflectance
    outside 0..1.
    """
    shares = np.asarray(reflectance, dtype=np.float64)
    if not ((shares >= 0.0) & (shares <= 1.0)).all():
        raise ValueError("a reflectance is a share of the sunlight: from 0 to 1")
    return np.asarray(shares * np.maximum(np.sin(elevation), 0.0) * ground_view(tilt))


def local_sun(latitude: float, declination: float, hour_angle: Floats) -> Floats:
    """Unit vectors f8[k,3] to the Sun in the local frame: x east, y north, z up.

    `hour_angle` f8[k], 0 at local noon and growing westward with time. The Sun is far away
    (one direction from the whole body). z is the sine of the elevation, negative at night.
    Source: spherical astronomy, the rotation from equator to horizon (textbook).
    """
    towards_noon = np.cos(declination) * np.cos(hour_angle)
    north_pole = np.sin(declination)
    east = -np.cos(declination) * np.sin(hour_angle)
    north = np.cos(latitude) * north_pole - np.sin(latitude) * towards_noon
    up = np.sin(latitude) * north_pole + np.cos(latitude) * towards_noon
    return np.stack([east, north, up], axis=-1)


def sunset_hour_angle(latitude: Any, declination: Any) -> Floats:
    """Hour angle at which the Sun's centre sets: 0 where it never rises, pi where it never sets.

    Source: cos h = -tan latitude tan declination (sunrise equation, textbook), written with sines
    and cosines so that it holds at the poles too. No refraction, no width of the Sun. On the
    horizon all day long (a pole at equinox) counts as half a day.
    """
    high = np.sin(latitude) * np.sin(declination)
    swing = np.abs(np.cos(latitude) * np.cos(declination))
    # The angle whose cosine is -high / swing, without the quotient, which a pole has not.
    aside = np.sqrt(np.maximum(swing**2 - high**2, 0.0))
    return np.asarray(np.arctan2(aside, -high))


def day_length(latitude: Any, declination: Any, day: float) -> Floats:
    """Time [s] from sunrise to sunset, of a solar day of `day` [s] on that body."""
    return np.asarray(day * sunset_hour_angle(latitude, declination) / np.pi)
