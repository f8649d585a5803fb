"""Conduction in honeycomb cores and sandwich panels, from their geometry.

A core is made of strips of foil of thickness d, joined at regular stripes and pulled apart to
regular hexagonal cells of size S, measured across their flats. Of the six walls of a cell the two
along the ribbon are double. With a = S / sqrt(3) the length of a wall, a cell of area
sqrt(3) / 2 * S^2 has walls of cross-section 4 a d of its own. Heat that flows along the ribbon goes
through double and single walls in turn, heat across it through single walls alone, in zigzag.

Source: derived from that geometry (the forms of handbooks of spacecraft thermal design, such as
ECSS-E-HB-31-01 part 4, are the same: from memory). Radiation and gas inside the cells, and the
adhesive along the walls, are left out.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Core:
    """Conductivity [W/m/K] of a core taken as a solid block, by direction.

    `through` its thickness, along the `ribbon`, and `across` the ribbon, both in its plane.
    """

    through: float
    ribbon: float
    across: float


def core(conductivity: float, foil: float, cell: float) -> Core:
    """A hexagonal core of a foil of conductivity [W/m/K], thickness [m] and cell size [m]."""
    solid = conductivity * foil / cell
    return Core(through=8.0 / 3.0 * solid, ribbon=1.5 * solid, across=solid)


def in_plane(faces: float, height: float, core: float, width: float, length: float) -> float:
    """Conductance [W/K] along a sandwich panel of a width and a length [m].

    `faces` [W/K] is the sum of conductivity times thickness of both face sheets, `height` [m] that
    of the core and `core` [W/m/K] its conductivity in this direction. Faces and core are side by
    side (sum of parallel conductances).
    """
    return (faces + height * core) * width / length


def through(resistances: tuple[float, ...], area: float) -> float:
    """Conductance [W/K] through layers one behind the other, each of a resistance [m2 K/W]."""
    return area / sum(resistances)
