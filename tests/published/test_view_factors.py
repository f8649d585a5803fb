"""View factors with published or closed-form values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.sparse import csr_array

from tests.published.record import Known, Record
from thermnet.physics.exchange import closure, direct_areas, reciprocity
from thermnet.physics.view_factors import (
    coaxial_discs,
    parallel_rectangles,
    perpendicular_rectangles,
    plate_to_disc,
    sphere_to_disc,
)

PARALLEL = "four-dimensional Gauss quadrature of 24 points, which agrees to 1e-14"
CLOSED = "closure of a box by quadrature of its parallel faces, to 1e-15"
ANGLES = "shares of solid angle in closed form"
SMALL = 6e-10


def record(
    what: str,
    value: float,
    source: str,
    known: Known = "derived: closed form",
    tolerance: float = SMALL,
) -> Record:
    return Record(
        what=what, inputs={}, value=value, unit="", tolerance=tolerance, source=source, known=known
    )


RECTANGLES = [
    ((1.0, 1.0, 1.0), 0.199824896),
    ((2.0, 1.0, 1.0), 0.285875385),
    ((1.0, 1.0, 10.0), 0.003162057),
    ((2.0, 2.0, 1.0), 0.415253284),
    ((5.0, 5.0, 1.0), 0.690244694),
    ((10.0, 10.0, 1.0), 0.826994522),
]


@pytest.mark.parametrize(("size", "value"), RECTANGLES)
def test_parallel_rectangles(size: tuple[float, float, float], value: float) -> None:
    """Width, height and gap."""
    known: Known = "derived: independent solver"
    record(f"parallel rectangles {size}", value, PARALLEL, known).check(parallel_rectangles(*size))


RIGHT_ANGLES = [
    ((1.0, 1.0, 1.0), 0.200043776),
    ((1.0, 1.0, 2.0), 0.232852603),
    ((1.0, 2.0, 1.0), 0.116426301),
]


@pytest.mark.parametrize(("size", "value"), RIGHT_ANGLES)
def test_perpendicular_rectangles(size: tuple[float, float, float], value: float) -> None:
    """Edge, reach of the first, reach of the second."""
    record(f"perpendicular {size}", value, CLOSED).check(perpendicular_rectangles(*size))


def test_coaxial_discs_of_one_radius_that_is_their_gap() -> None:
    golden = (3.0 - math.sqrt(5.0)) / 2.0
    record("equal discs", golden, "(3 - sqrt 5) / 2", tolerance=1e-14).check(
        coaxial_discs(1.0, 1.0, 1.0)
    )


def test_coaxial_discs_of_two_radii() -> None:
    source = "closed form, reciprocal to each other"
    record("disc 0.5 to 1", 0.468871126, source).check(coaxial_discs(0.5, 1.0, 1.0))
    record("disc 1 to 0.5", 0.117217781, source).check(coaxial_discs(1.0, 0.5, 1.0))


def test_a_sphere_and_a_coaxial_disc() -> None:
    record("disc as large as far", 0.146446609, ANGLES).check(sphere_to_disc(1.0, 1.0))
    record("disc twice as large", 0.276393202, ANGLES).check(sphere_to_disc(2.0, 1.0))


def test_a_small_plate_and_a_disc_by_the_angle_that_it_fills() -> None:
    angle = math.radians(30.0)
    source = "Sukhatme, A Textbook on Heat Transfer, example 3.6: sine squared of the half-angle"
    expected = record("disc of half-angle 30 deg", 0.25, source, "second-hand", 1e-14)
    expected.check(plate_to_disc(math.tan(angle), 1.0))


def test_a_chart_reading_of_parallel_rectangles() -> None:
    """0.11 from a chart for 1.5 x 3 m, 3 m apart: it is 0.1167."""
    source = "Som, Introduction to Heat Transfer, example 11.6, read from a chart"
    found = parallel_rectangles(1.5, 3.0, 3.0)
    record("read from a chart", 0.11, source, "second-hand", 0.007).check(found)
    record("exact", 0.116654, PARALLEL, "derived: independent solver", 6e-7).check(found)


FRUSTUM_AREAS = np.array([9.0 * math.pi, 5.0 * math.pi * math.sqrt(17.0), 4.0 * math.pi])
FRUSTUM = np.array([[0.0, 0.853, 0.147], [0.372, 0.498, 0.130], [0.333, 0.667, 0.0]])
"""Top of 3 m, side and bottom of 2 m, 4 m apart, as printed."""

KREITH = "Kreith, Manglik and Bohn, Principles of Heat Transfer, 7th ed., example 9.12"


def test_printed_view_factors_of_a_frustum_close() -> None:
    for total in FRUSTUM.sum(axis=1):
        record("sum of a printed row", 1.0, KREITH, "second-hand", 1e-12).check(total)


def test_printed_view_factors_of_a_frustum_miss_reciprocity_by_0_7_percent() -> None:
    """A1 F13 / (A3 F31) = 0.9932: a miss of 0.0068 x 0.333 of the bottom's view."""
    missed = reciprocity(FRUSTUM_AREAS, csr_array(FRUSTUM)).toarray()
    share = 1.0 - FRUSTUM_AREAS[0] * 0.147 / (FRUSTUM_AREAS[2] * 0.333)
    record("share that is missed", 0.0068, KREITH, "second-hand", 6e-5).check(share)
    assert missed[0, 2] == pytest.approx(share * 0.333, rel=1e-9)


def test_the_disc_to_disc_view_of_the_frustum_from_its_shape() -> None:
    """The printed 0.147 belongs to a gap of 3.94 m, not of 4 m."""
    record("gap 4 m", 0.144402, "closed form", tolerance=6e-7).check(coaxial_discs(3.0, 2.0, 4.0))
    record("as printed", 0.147, KREITH, "second-hand", 0.003).check(coaxial_discs(3.0, 2.0, 4.0))


def test_the_mean_of_both_ways_keeps_the_frustum_closed_within_half_a_percent() -> None:
    direct = direct_areas(FRUSTUM_AREAS, csr_array(FRUSTUM))
    assert np.abs(closure(FRUSTUM_AREAS, direct) - 1.0).max() < 5e-3
