"""Conduction through simple shapes: what multiplies the conductivity.

The heat that flows in a steady state through a body of one material between two isothermal faces is
S * integral of k(T) dT between their temperatures, with a shape factor S [m] that knows nothing of
the material (Kirchhoff's transform; Carslaw and Jaeger, Conduction of Heat in Solids, section 1.6:
from memory; the factors below are derived by integration of Fourier's law over each shape).
"""

from __future__ import annotations

import math


def bar(area: float, length: float) -> float:
    """Shape factor [m] of a bar of `area` [m2] and `length` [m], heat flowing along it."""
    return area / length


def cylinder(inner_radius: float, outer_radius: float, length: float) -> float:
    """Shape factor [m] of a hollow cylinder [m], heat flowing from its inner to its outer face."""
    return 2.0 * math.pi * length / math.log(outer_radius / inner_radius)


def sphere(inner_radius: float, outer_radius: float) -> float:
    """Shape factor [m] of a hollow sphere [m], heat flowing from its inner to its outer face."""
    return 4.0 * math.pi / (1.0 / inner_radius - 1.0 / outer_radius)


def strap(layers: int, thickness: float, width: float, length: float) -> float:
    """Shape factor [m] of foils or braids side by side, each a bar of `thickness` and `width`."""
    return layers * bar(thickness * width, length)
