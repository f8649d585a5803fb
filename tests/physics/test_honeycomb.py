"""Honeycomb cores and sandwich panels against networks of their walls, laid out cell by cell."""

from __future__ import annotations

import math

import numpy as np
import pytest

from thermnet.physics.honeycomb import core, in_plane, through

CONDUCTIVITY = 150.0  # W/m/K
FOIL = 25.4e-6  # m
CELL = 6.35e-3  # m, across the flats
WALL = CELL / math.sqrt(3.0)  # m, length of one wall of a regular hexagon
AREA = math.sqrt(3.0) / 2.0 * CELL**2  # m2, of one cell

DOUBLE = np.array([1.0, 0.0])
SINGLES = np.array([[-0.5, math.sqrt(3.0) / 2.0], [-0.5, -math.sqrt(3.0) / 2.0]])


def by_network(direction: str) -> float:
    """Conductivity [W/m/K] of the core as a block, from the walls of one cell and a periodic field.

    Derived: a cell owns two corners, where three walls meet, and three walls, of which the one
    along the ribbon is double. Under a mean gradient g [K/m] a wall along e of length a carries
    k t (T_i - T_j - a e.g) / a for each metre of height; the corners balance; the mean flux is the
    sum over the walls of what they carry times a e, over the area of the cell.
    """
    gradient = {"ribbon": np.array([1.0, 0.0]), "across": np.array([0.0, 1.0])}[direction]
    walls = [(DOUBLE, 2.0 * FOIL), *((each, FOIL) for each in SINGLES)]
    conductances = np.array([CONDUCTIVITY * thick / WALL for _, thick in walls])
    rises = np.array([WALL * float(along @ gradient) for along, _ in walls])
    # the heat that enters the second corner by its three walls sums to nothing
    second = float(conductances @ rises) / float(conductances.sum())
    carried = conductances * (rises - second)
    flux = sum(heat * WALL * along for heat, (along, _) in zip(carried, walls, strict=True)) / AREA
    return float(np.asarray(flux) @ gradient)


@pytest.mark.parametrize("direction", ["ribbon", "across"])
def test_in_its_plane_a_core_conducts_as_the_network_of_its_walls(direction: str) -> None:
    found = getattr(core(CONDUCTIVITY, FOIL, CELL), direction)
    assert found == pytest.approx(by_network(direction), rel=1e-12)


def strip(columns: int) -> float:
    """Conductivity [W/m/K] along the ribbon of a long strip of cells, solved corner by
    corner: a second way, without the reasoning on a periodic field.

    Derived: resistors of the walls between corners on a honeycomb; periodic across the strip.
    """
    step = np.array([[1.5 * WALL, CELL / 2.0], [1.5 * WALL, -CELL / 2.0]])
    numbers: dict[tuple[int, int], int] = {}

    def number(x: float, y: float) -> int:
        key = (round(2.0 * x / WALL), round(2.0 * y / CELL) % rows)
        return numbers.setdefault(key, len(numbers))

    rows = 4  # half cell heights after which the pattern repeats across the strip
    walls = []
    for i in range(-columns, 2 * columns):
        for j in range(-columns - rows, 2 * columns + rows):
            x, y = i * step[0] + j * step[1]
            if -1e-9 <= x <= 1.5 * WALL * columns and 0.0 <= y < rows * CELL / 2.0 - 1e-9:
                for along, thick in [(DOUBLE, 2.0), *((each, 1.0) for each in SINGLES)]:
                    walls.append(((x, y), tuple(np.array([x, y]) + WALL * along), thick))
    ends = [(number(*a), number(*b), thick) for a, b, thick in walls]
    matrix = np.zeros((len(numbers), len(numbers)))
    for a, b, thick in ends:
        part = CONDUCTIVITY * FOIL * thick / WALL * np.array([[1.0, -1.0], [-1.0, 1.0]])
        matrix[np.ix_([a, b], [a, b])] += part
    at = {index: key[0] * WALL / 2.0 for key, index in numbers.items()}
    left, right = 0.5 * WALL, 1.5 * WALL * (columns - 1)
    held = {k: x for k, x in at.items() if x <= left or x >= right}
    free = [k for k in at if k not in held]
    temperature = np.array([held.get(k, 0.0) for k in range(len(at))])
    rest = matrix[np.ix_(free, list(held))] @ np.array(list(held.values()))
    temperature[free] = np.linalg.solve(matrix[np.ix_(free, free)], -rest)
    middle = (left + right) / 2.0
    heat = 0.0
    for a, b, thick in ends:
        if min(at[a], at[b]) < middle <= max(at[a], at[b]) and at[a] != at[b]:
            heat += CONDUCTIVITY * FOIL * thick / WALL * abs(temperature[a] - temperature[b])
    return heat / (rows * CELL / 2.0)


def test_along_the_ribbon_a_strip_of_many_cells_conducts_alike() -> None:
    found = core(CONDUCTIVITY, FOIL, CELL).ribbon
    assert strip(12) == pytest.approx(found, rel=1e-9)


def test_through_its_thickness_a_core_conducts_by_the_section_of_its_walls() -> None:
    # derived: one double wall and two single ones to a cell
    section = WALL * (2.0 + 1.0 + 1.0) * FOIL / AREA
    assert core(CONDUCTIVITY, FOIL, CELL).through == pytest.approx(CONDUCTIVITY * section)


def test_no_block_of_that_density_conducts_more_than_its_share_of_foil() -> None:
    # derived: conductivity in no direction exceeds density times that of the foil, and the sum of
    # the two in the plane is at most that share, as every wall lies in one direction of the plane
    found = core(CONDUCTIVITY, FOIL, CELL)
    share = CONDUCTIVITY * WALL * (2.0 + 1.0 + 1.0) * FOIL / AREA
    assert found.through == pytest.approx(share)
    assert found.across < found.ribbon < share
    assert found.ribbon + found.across <= share


def test_a_core_of_thinner_foil_conducts_less_in_proportion() -> None:
    thin, thick = core(CONDUCTIVITY, FOIL, CELL), core(CONDUCTIVITY, 2.0 * FOIL, CELL)
    assert thick.ribbon == pytest.approx(2.0 * thin.ribbon)


def test_along_a_panel_faces_and_core_conduct_side_by_side() -> None:
    # derived: 2 t_f k_f + h k_core for each metre of width: 2 x 0.3 mm x 150 + 20 mm x 0.9 = 0.108
    faces = 2 * 0.3e-3 * 150.0
    assert in_plane(faces, 0.02, 0.9, 0.5, 0.25) == pytest.approx(0.108 * 0.5 / 0.25)


def test_through_a_panel_its_layers_stand_one_behind_the_other() -> None:
    # derived: 0.02 / 1.6 + 1 / 1000 = 0.0135 m2 K/W over 0.04 m2
    assert through((0.02 / 1.6, 1e-3), 0.04) == pytest.approx(0.04 / 0.0135)
