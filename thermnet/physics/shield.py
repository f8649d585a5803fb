"""Heat between two sheets apart from each other, whose gap is open at its edges."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Exchange factors of a gap between two plates, each for the area of one plate.

    A factor times the area times sigma (Ta^4 - Tb^4) is the heat [W]: `across` from the first plate
    to the second, `first_out` and `second_out` from each plate out of the open edges.
    """

    across: float
    first_out: float
    second_out: float


def gap(first: float, second: float, sideways: float) -> Gap:
    """The exchange factors of two equal, opposed plates with an open edge around their gap.

    `first` and `second` are the emittances of the faces in the gap, above 0 and at most 1;
    `sideways`, 0 to 1, is the share of its view that each plate has of the edge, which takes all
    that reaches it and sends back only what its own temperature gives. The plates are gray, diffuse
    and of one temperature each.

    Derived. With the view F = 1 - `sideways` of each plate on the other, reflectances r = 1 - e and
    the emission E = sigma T^4, the radiosities of the plates, with Ee of the edge, are

        J1 = e1 E1 + r1 (F J2 + (1 - F) Ee),  J2 = e2 E2 + r2 (F J1 + (1 - F) Ee).

    What a plate gives is e (E - H), H = F J + (1 - F) Ee being what comes to it. Solved for J1 and
    J2 and sorted by differences of E, with D = 1 - r1 r2 F^2:

        across     = e1 e2 F / D
        first_out  = e1 (1 - F) (1 + r2 F) / D
        second_out = e2 (1 - F) (1 + r1 F) / D

    For F = 1 it is the law of two infinite plates, 1 / (1/e1 + 1/e2 - 1).
    """
    facing = 1.0 - sideways
    dark, darker = 1.0 - first, 1.0 - second
    lost = 1.0 - dark * darker * facing**2
    return Gap(
        across=first * second * facing / lost,
        first_out=first * sideways * (1.0 + darker * facing) / lost,
        second_out=second * sideways * (1.0 + dark * facing) / lost,
    )


def sideways_of_squares(distance: float, side: float) -> float:
    """The share of its view that a square plate has past an equal one `distance` [m] before it.

    `side` [m] is that of both. 1 less the view factor of aligned parallel rectangles (closed form,
    Incropera, Fundamentals of Heat and Mass Transfer, Table 13.2: second-hand; for unit squares at
    unit distance it gives the view factor 0.199825). Its rounding is below 1e-14 at any distance.
    """
    x = side / distance
    root = math.sqrt(1.0 + x * x)
    total = math.log1p(x * x) - math.log1p(2.0 * x * x) / 2.0  # exact for far plates too
    total += 2.0 * x * (root * math.atan(x / root) - math.atan(x))
    return min(max(1.0 - 2.0 * total / (math.pi * x * x), 0.0), 1.0)
