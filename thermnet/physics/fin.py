"""How well a fin radiates that is warm at its root: its efficiency.

A fin of length L, thickness t and conductivity k takes heat from its root at Tb, radiates with the
emittance e from one side or both (n = 1 or 2) to a sink at Ts, and loses nothing at its tip. Its
efficiency is the heat that it radiates over that of a fin which is all at Tb,

    k t T'' = n e s (T^4 - Ts^4),   efficiency = heat / [n e s L (Tb^4 - Ts^4)],   s = 5.67e-8,

where Ts stands for all that the fin absorbs, per area and e s, and so may be that of sunlight too.
It depends on two numbers, z = n e s Tb^3 L^2 / (k t) and Ts / Tb.
"""

from __future__ import annotations

import math

import numpy as np

from thermnet.physics.constants import STEFAN_BOLTZMANN

POINTS, WEIGHTS = np.polynomial.legendre.leggauss(64)

NEAR = 1e-4
"""How near to 1 the ratio Ts / Tb may come before the fin is taken as linear."""


def number(
    length: float, thickness: float, conductivity: float, emittance: float, root: float, sides: int
) -> float:
    """The number z of a fin: lengths [m], conductivity [W/m/K], root [K], 1 or 2 `sides`."""
    emitted = sides * emittance * STEFAN_BOLTZMANN * root**3
    return emitted * length**2 / (conductivity * thickness)


def linear_efficiency(z: float) -> float:
    """Efficiency of a fin of number z whose radiation is taken as linear about its root.

    tanh(m L) / (m L) with (m L)^2 = 4 z, as the coefficient is 4 n e s Tb^3 (closed form, any text
    of heat transfer). It is exact for a sink nearly as warm as the root, and lower than the exact
    one for any colder sink: by at most 21 %, that of a very long fin to a sink at 0 K.
    """
    slope = 2.0 * math.sqrt(z)
    return math.tanh(slope) / slope if slope > 1e-8 else 1.0


def efficiency(z: float, sink: float = 0.0) -> float:
    """Efficiency of a radiating fin of number z; `sink` is Ts / Tb, from 0 to below 1.

    Derived. With x = T / Tb, y = Ts / Tb and the tip at x0 the equation has the first integral
    x'^2 = 2 z g(x) / L^2 with g = (x^5 - x0^5) / 5 - y^4 (x - x0). Its integral from tip to root
    gives L, which fixes x0 by a root search, and x' at the root the heat. Quadrature by 64 points
    in sqrt(x - x0), where the integrand is smooth. Raises ValueError for a sink that is not colder
    than the root.
    """
    if not 0.0 <= sink < 1.0:
        raise ValueError("the sink must be colder than the root of the fin")
    if sink > 1.0 - NEAR or z < 1e-6:
        return linear_efficiency(z)

    from scipy.optimize import brentq  # slow to import: only where a fin states its sink

    def over(tip: float) -> float:
        """sqrt(2 z) less what the length comes to with this temperature of the tip."""
        return _length(tip, sink) - math.sqrt(2.0 * z)

    low = sink + (1.0 - sink) * 1e-12 if sink > 0.0 else 1e-9
    # A fin may be so long that its tip is as cold as the sink.
    tip = low if over(low) < 0.0 else brentq(over, low, 1.0 - 1e-15, xtol=1e-15, rtol=1e-14)
    root = (1.0 - tip**5) / 5.0 - sink**4 * (1.0 - tip)
    return math.sqrt(2.0 * z * root) / (z * (1.0 - sink**4))


def _length(tip: float, sink: float) -> float:
    """Integral of dx / sqrt(g) from the tip to the root, at 1."""
    u = (POINTS + 1.0) / 2.0
    width = 1.0 - tip
    x = tip + width * u * u
    # g / (x - tip), in which nothing cancels.
    powers = x**4 + x**3 * tip + x**2 * tip**2 + x * tip**3 + tip**4
    ratio = np.maximum(powers / 5.0 - sink**4, 1e-300)
    return float((WEIGHTS / 2.0 * 2.0 * math.sqrt(width) / np.sqrt(ratio)).sum())
