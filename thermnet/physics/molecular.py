"""Heat of the thin gas that a fast body runs into: free-molecular heating."""

from __future__ import annotations

from typing import Any

import numpy as np

from thermnet.physics.curves import Floats

FAIRING_RELEASE = 1135.0
"""W/m2: launchers commonly drop the fairing once free-molecular heating falls below this (launcher
user manuals as a university's lecture notes on spacecraft thermal design quote them: second-hand).
"""


def free_molecular_heating(accommodation: Any, density: Any, speed: Any, cosine: Floats) -> Floats:
    """Absorbed heat [W/m2] = accommodation x 1/2 density speed^3 x max(0, cosine).

    `accommodation`: share of the incoming kinetic energy that stays in the surface, 0 to 1 (1 is
    the upper bound); `density` of the gas [kg/m3]; `speed` [m/s] relative to the gas; `cosine`
    f8[...] of the angle between the outward normal and the direction of flight (for other shapes
    than a plate: projected over total area). All broadcast together; the result has their shape.

    Source: the common textbook formula of spacecraft thermal design, the kinetic energy that a
    stream of mass density x speed x cosine carries (closed form; 1/2 density speed^3 x
    accommodation also in launcher user manuals). It holds where the mean free path is much longer
    than the body, and the body much faster than the molecules. What random motion brings to a face
    along the flow is left out: 1/(2 sqrt(pi) s) of the heat of a face square to it, s being the
    speed over the molecules' most probable speed; 3.5 % for s = 8 (derived: kinetic theory, mass
    flux density x mean speed / 4).

    Raises ValueError for an accommodation outside 0..1, or a negative density or speed.
    """
    shares = np.asarray(accommodation, dtype=np.float64)
    if not ((shares >= 0.0) & (shares <= 1.0)).all():
        raise ValueError("an accommodation is a share of the energy: from 0 to 1")
    if not ((np.asarray(density) >= 0.0).all() and (np.asarray(speed) >= 0.0).all()):
        raise ValueError("the density of a gas and the speed through it cannot be negative")
    stream = 0.5 * np.asarray(density) * np.asarray(speed, dtype=np.float64) ** 3
    return np.asarray(shares * stream * np.maximum(cosine, 0.0))


def density_at(
    altitude: Floats, *, density: float, reference_altitude: float, scale_height: float
) -> Floats:
    """Density [kg/m3] of a gas at `altitude` f8[...] [m], from that at a reference altitude [m].

    Exponential law: density x exp(-(altitude - reference altitude) / scale height), the exact
    profile of a gas of one temperature in uniform gravity (textbook). The upper atmosphere is
    neither; keep within a scale height [m] or two of the reference. Raises ValueError for a
    negative density, or a scale height that is not positive.
    """
    if not density >= 0.0:
        raise ValueError("the density of a gas cannot be negative")
    if not scale_height > 0.0:
        raise ValueError("a scale height must be positive")
    return np.asarray(density * np.exp((reference_altitude - altitude) / scale_height))
