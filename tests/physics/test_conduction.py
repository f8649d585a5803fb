"""Shape factors of conduction: closed forms against many thin pieces in series."""

from __future__ import annotations

import math

import numpy as np
import pytest

from thermnet.physics.conduction import bar, cylinder, sphere, strap

PIECES = 20_000


def shells(inner: float, outer: float) -> tuple[np.ndarray, np.ndarray]:
    """Middle radii and thicknesses of many thin shells between two radii."""
    edges = np.linspace(inner, outer, PIECES + 1)
    return (edges[1:] + edges[:-1]) / 2.0, np.diff(edges)


def test_a_hollow_cylinder_is_thin_shells_in_series() -> None:
    middle, thickness = shells(0.01, 0.04)
    resistance = (thickness / (2.0 * math.pi * middle * 0.3)).sum()
    assert cylinder(0.01, 0.04, 0.3) == pytest.approx(1.0 / resistance, rel=1e-7)


def test_a_hollow_sphere_is_thin_shells_in_series() -> None:
    middle, thickness = shells(0.01, 0.04)
    resistance = (thickness / (4.0 * math.pi * middle**2)).sum()
    assert sphere(0.01, 0.04) == pytest.approx(1.0 / resistance, rel=1e-7)


def test_a_thin_cylinder_is_a_plane_wall() -> None:
    area = 2.0 * math.pi * 0.5 * 0.3
    assert cylinder(0.5, 0.5001, 0.3) == pytest.approx(bar(area, 0.0001), rel=2e-4)


def test_foils_side_by_side_are_one_thick_foil() -> None:
    assert strap(40, 1e-4, 0.03, 0.15) == pytest.approx(bar(40 * 1e-4 * 0.03, 0.15), rel=1e-14)


def test_spacers_of_glass_fibre_laminate_conduct_as_in_the_course_notes() -> None:
    # read: four spacers of 6 mm diameter and 15 mm length, 0.35 W/m/K, 2.64e-3 W/K (notes of a
    # course on a small satellite, SizingLab)
    area = math.pi * 0.006**2 / 4.0
    assert 4.0 * 0.35 * bar(area, 0.015) == pytest.approx(2.64e-3, abs=5e-6)
