"""View factors between simple shapes, in closed form.

The view factor from a face to another is the share of what leaves the first, diffusely, that
reaches the second. Sources: the catalogue of configuration factors of Howell (number in brackets),
Siegel and Howell, Thermal Radiation Heat Transfer, and table 13.2 of Incropera and DeWitt,
Fundamentals of Heat and Mass Transfer; parallel rectangles, coaxial discs and concentric shapes
second-hand, the others from memory. Tests hold each against quadrature or the closure of an
enclosure. Small plates that see a sphere stand in `thermnet.physics.view`.
"""

from __future__ import annotations

import math


def parallel_rectangles(width: float, height: float, gap: float) -> float:
    """View factor between two equal rectangles [m] that face each other across a gap [m] (C-11).

    Its rounding is below 1e-14, which is 1e-9 of the factor where the gap is a thousand sides.
    """
    x, y = width / gap, height / gap
    across, along = math.sqrt(1.0 + x * x), math.sqrt(1.0 + y * y)
    total = (math.log1p(x * x) + math.log1p(y * y) - math.log1p(x * x + y * y)) / 2.0
    total += x * (along * math.atan(x / along) - math.atan(x))
    total += y * (across * math.atan(y / across) - math.atan(y))
    return min(max(2.0 * total / (math.pi * x * y), 0.0), 1.0)


def perpendicular_rectangles(edge: float, first: float, second: float) -> float:
    """View factor from a rectangle to one at a right angle that shares an edge [m] (C-14).

    `first` and `second` [m] are how far each reaches from the edge.
    """
    w, h = first / edge, second / edge
    w2, h2 = w * w, h * h
    both = w2 + h2
    total = w * math.atan(1.0 / w) + h * math.atan(1.0 / h)
    total -= math.sqrt(both) * math.atan(1.0 / math.sqrt(both))
    logs = math.log((1.0 + w2) * (1.0 + h2) / (1.0 + both))
    logs += w2 * math.log(w2 * (1.0 + both) / ((1.0 + w2) * both))
    logs += h2 * math.log(h2 * (1.0 + both) / ((1.0 + h2) * both))
    return min(max((total + logs / 4.0) / (math.pi * w), 0.0), 1.0)


def coaxial_discs(first: float, second: float, gap: float) -> float:
    """View factor from a disc to one on the same axis that faces it (C-41).

    `first` and `second` [m] are the radii, `gap` [m] the distance.
    """
    a, b = first / gap, second / gap
    x = 1.0 + a * a + b * b
    # The smaller root of the quadratic, written so that nothing cancels.
    return min(2.0 * b * b / (x + math.sqrt(max(x * x - 4.0 * a * a * b * b, 0.0))), 1.0)


def sphere_to_disc(radius: float, distance: float) -> float:
    """View factor from a sphere to a disc of a radius [m] whose axis goes through its centre.

    `distance` [m] is that of the disc from the centre, beyond the sphere (C-123). It is the solid
    angle of the disc over that of all directions.
    """
    return 0.5 * (1.0 - distance / math.hypot(distance, radius))


def plate_to_disc(radius: float, distance: float) -> float:
    """View factor from a small plate to a disc [m] that is parallel and coaxial to it (B-12).

    It is the squared sine of half the angle that the disc fills.
    """
    return radius * radius / (radius * radius + distance * distance)


def plate_to_rectangle(
    width: float, height: float, distance: float, across: float, along: float
) -> float:
    """View factor from a small plate to a rectangle parallel to it.

    All in m; the normal of the plate meets the plane of the rectangle `across` its width and
    `along` its height from one corner, also outside of it. The sum of four rectangles above whose
    common corner the plate is (B-3), which count as negative where they reach beyond.
    """
    total = 0.0
    for a in (across / distance, (width - across) / distance):
        for b in (along / distance, (height - along) / distance):
            wide, high = math.sqrt(1.0 + a * a), math.sqrt(1.0 + b * b)
            total += a / wide * math.atan(b / wide) + b / high * math.atan(a / high)
    return total / (2.0 * math.pi)


def wedge(angle: float) -> float:
    """View factor between two long strips of one width that share an edge, at an angle [rad]:
    1 - sin(angle / 2) (C-16), by the crossed strings.
    """
    return 1.0 - math.sin(angle / 2.0)


def long_parallel_strips(width: float, gap: float) -> float:
    """View factor between two long strips of one width [m] that face each other across a gap [m]:
    by the crossed strings (C-1), which are two diagonals less two gaps, over two widths.
    """
    x = gap / width
    return 1.0 / (math.sqrt(1.0 + x * x) + x)
