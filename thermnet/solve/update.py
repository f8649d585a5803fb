"""How Newton's step is applied to temperatures."""

from __future__ import annotations

import numpy as np

from thermnet.network.primitives import Floats

COLDEST, HOTTEST = 0.01, 5000.0
"""K between which iterates are kept."""


def moved(old: Floats, step: Floats) -> Floats:
    """Apply a Newton step to T where it is small, to T^4 where it is large (same linear system)."""
    by_power = old * np.maximum(1.0 + 4.0 * step / old, 1e-4) ** 0.25
    new = np.where(np.abs(step) < 0.1 * old, old + step, by_power)
    return np.asarray(np.minimum(np.maximum(new, COLDEST), HOTTEST))
