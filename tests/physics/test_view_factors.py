"""View factors of simple shapes against quadrature, closure and each other."""

from __future__ import annotations

import math

import numpy as np
import pytest

from thermnet.physics.curves import Floats
from thermnet.physics.view_factors import (
    coaxial_discs,
    long_parallel_strips,
    parallel_rectangles,
    perpendicular_rectangles,
    plate_to_disc,
    plate_to_rectangle,
    sphere_to_disc,
    wedge,
)

NODES, WEIGHTS = np.polynomial.legendre.leggauss(24)


def points(start: float, end: float) -> tuple[Floats, Floats]:
    """Points and weights of Gauss between two ends."""
    half = (end - start) / 2.0
    return start + half * (1.0 + NODES), half * WEIGHTS


def seen(at: Floats, normal: Floats, other: Floats, facing: Floats, weight: Floats) -> float:
    """View factor f8 from a small plate to a face of points, normals f8[n, 3] and areas f8[n]:
    the sum of cos cos / (pi r2) dA.
    """
    way = other - at
    square = (way**2).sum(axis=1)
    near, far = way @ normal, -(way * facing).sum(axis=1)
    return float((near * far / (math.pi * square**2) * weight).sum())


def rectangle(corner: Floats, first: Floats, second: Floats) -> tuple[Floats, Floats]:
    """Points f8[n, 3] and areas f8[n] of a rectangle with a corner and two sides."""
    u, wu = points(0.0, 1.0)
    place = corner + u[:, None, None] * first + u[None, :, None] * second
    size = float(np.linalg.norm(np.cross(first, second)))
    return place.reshape(-1, 3), np.outer(wu, wu).ravel() * size


X, Y, Z = np.eye(3)
ORIGIN = np.zeros(3)


def between(
    one: tuple[Floats, Floats], up: Floats, two: tuple[Floats, Floats], down: Floats
) -> float:
    """View factor between two flat faces by quadrature over both."""
    facing = np.broadcast_to(down, two[0].shape)
    each = [seen(at, up, two[0], facing, two[1]) for at in one[0]]
    return float((np.array(each) * one[1]).sum() / one[1].sum())


@pytest.mark.parametrize(("width", "height", "gap"), [(1.0, 1.0, 1.0), (2.0, 0.5, 0.8)])
def test_parallel_rectangles_by_quadrature(width: float, height: float, gap: float) -> None:
    floor = rectangle(ORIGIN, width * X, height * Y)
    lid = rectangle(gap * Z, width * X, height * Y)
    expected = between(floor, Z, lid, -Z)
    assert parallel_rectangles(width, height, gap) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("first", "second"), [(0.7, 0.7), (2.0, 0.3), (0.2, 1.5)])
def test_perpendicular_rectangles_by_quadrature(first: float, second: float) -> None:
    """Of the four integrals the two along an edge of length 1 are done by hand. What is left of
    y z / (pi r4), in polar coordinates s and a around the edge, is sin a cos a atan(1 / s) / pi.
    """
    total, corner = 0.0, math.atan2(second, first)
    for start, end in ((0.0, corner), (corner, math.pi / 2.0)):
        for angle, weight in zip(*points(start, end), strict=True):
            reach = min(first / math.cos(angle), second / math.sin(angle))
            s, ws = points(0.0, reach)
            along = float((np.arctan2(1.0, s) * ws).sum())
            total += weight * math.sin(angle) * math.cos(angle) * along / math.pi
    found = perpendicular_rectangles(1.0, first, second)
    assert found == pytest.approx(total / first, rel=1e-9)


@pytest.mark.parametrize("size", [(1.0, 1.0, 1.0), (2.0, 1.0, 0.5), (0.3, 4.0, 0.01)])
def test_a_face_of_a_box_sees_all_of_it(size: tuple[float, float, float]) -> None:
    length, width, height = size
    facing = parallel_rectangles(length, width, height)
    ends = perpendicular_rectangles(length, width, height)
    sides = perpendicular_rectangles(width, length, height)
    assert facing + 2.0 * (ends + sides) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize(("edge", "first", "second"), [(1.0, 2.0, 0.3), (0.1, 5.0, 0.2)])
def test_perpendicular_rectangles_are_reciprocal(edge: float, first: float, second: float) -> None:
    there = first * perpendicular_rectangles(edge, first, second)
    back = second * perpendicular_rectangles(edge, second, first)
    assert there == pytest.approx(back, rel=1e-12)


def test_far_rectangles_see_each_other_by_area_over_distance() -> None:
    """A / (pi d2); the next term is of (size / distance) squared."""
    far = 1e4
    assert parallel_rectangles(2.0, 0.5, far) * math.pi * far**2 == pytest.approx(1.0, abs=1e-7)


def test_near_rectangles_see_nothing_else() -> None:
    assert parallel_rectangles(1.0, 1.0, 1e-6) == pytest.approx(1.0, abs=5e-6)


def test_coaxial_discs_by_quadrature() -> None:
    """Rings of the first disc, each seen from a point of it; the second in polar coordinates."""
    first, second, gap = 0.5, 1.2, 0.7
    r, wr = points(0.0, second)
    angle = np.arange(96) * 2.0 * math.pi / 96
    places = np.stack(
        [np.outer(r, np.cos(angle)), np.outer(r, np.sin(angle)), np.full((24, 96), gap)], axis=2
    ).reshape(-1, 3)
    weight = np.repeat(wr * r, 96) * 2.0 * math.pi / 96
    down = np.broadcast_to(-Z, places.shape)
    s, ws = points(0.0, first)
    each = np.array([seen(at * X, Z, places, down, weight) for at in s])
    expected = float((each * 2.0 * s * ws).sum() / first**2)
    assert coaxial_discs(first, second, gap) == pytest.approx(expected, rel=1e-9)


def test_coaxial_discs_are_reciprocal() -> None:
    there, back = coaxial_discs(0.5, 1.2, 0.7), coaxial_discs(1.2, 0.5, 0.7)
    assert 0.5**2 * there == pytest.approx(1.2**2 * back, rel=1e-14)


def test_far_discs_of_unlike_sizes_keep_their_digits() -> None:
    """r2 / d2 of the second where it is small: nothing cancels."""
    assert coaxial_discs(1.0, 1e-6, 100.0) == pytest.approx(1e-12 / (100.0**2 + 1.0), rel=1e-9)


def test_a_small_plate_sees_a_disc_by_the_limit_of_two_discs() -> None:
    assert plate_to_disc(0.4, 0.9) == pytest.approx(coaxial_discs(1e-6, 0.4, 0.9), rel=1e-9)


@pytest.mark.parametrize("corner", [(0.0, 0.0), (0.3, 0.9), (-0.4, 0.2), (1.1, 2.0)])
def test_a_small_plate_sees_a_rectangle_by_quadrature(corner: tuple[float, float]) -> None:
    """Above a corner of it, above its inside, beside it, and beyond the far corner."""
    across, along = corner
    place, weight = rectangle(0.6 * Z - across * X - along * Y, 0.8 * X, 1.5 * Y)
    expected = seen(ORIGIN, Z, place, np.broadcast_to(-Z, place.shape), weight)
    found = plate_to_rectangle(0.8, 1.5, 0.6, across, along)
    assert found == pytest.approx(expected, rel=1e-9)


def test_a_plate_over_the_corner_of_an_endless_rectangle_sees_a_quarter_of_all() -> None:
    assert plate_to_rectangle(1e9, 1e9, 1.0, 0.0, 0.0) == pytest.approx(0.25, abs=1e-8)


def test_the_mean_view_of_small_plates_is_that_of_the_rectangle_they_make_up() -> None:
    """Each point of a rectangle is a small plate before the one that faces it."""
    width, height, gap = 1.0, 0.6, 0.5
    x, wx = points(0.0, width)
    y, wy = points(0.0, height)
    total = sum(
        a * b * plate_to_rectangle(width, height, gap, u, v)
        for u, a in zip(x, wx, strict=True)
        for v, b in zip(y, wy, strict=True)
    )
    found = parallel_rectangles(width, height, gap)
    assert found == pytest.approx(total / (width * height), rel=1e-9)


def test_a_sphere_sees_a_disc_by_its_share_of_all_directions() -> None:
    """By quadrature of the solid angle of the disc over 4 pi."""
    radius, distance = 0.8, 0.5
    r, wr = points(0.0, radius)
    angle = (2.0 * math.pi * r * distance / (r**2 + distance**2) ** 1.5 * wr).sum()
    expected = float(angle) / (4.0 * math.pi)
    assert sphere_to_disc(radius, distance) == pytest.approx(expected, rel=1e-9)


def test_two_endless_discs_take_all_that_a_sphere_gives() -> None:
    assert 2.0 * sphere_to_disc(1e9, 1.0) == pytest.approx(1.0, abs=1e-8)


def test_a_wedge_closes_with_the_strip_across_its_mouth() -> None:
    """Crossed strings: a triangle of sides 1, 1 and 2 sin(angle / 2), where each sees the rest."""
    angle = 0.7
    mouth = 2.0 * math.sin(angle / 2.0)
    expected = (1.0 + 1.0 - mouth) / 2.0
    assert wedge(angle) == pytest.approx(expected, rel=1e-14)


def test_a_right_wedge_is_two_endless_perpendicular_rectangles() -> None:
    assert wedge(math.pi / 2.0) == pytest.approx(perpendicular_rectangles(1e5, 1.0, 1.0), abs=1e-4)


def test_a_flat_wedge_sees_nothing_of_itself() -> None:
    assert wedge(math.pi) == pytest.approx(0.0, abs=1e-15)


def test_long_strips_are_rectangles_that_go_on() -> None:
    expected = parallel_rectangles(1.0, 1e6, 0.4)
    assert long_parallel_strips(1.0, 0.4) == pytest.approx(expected, rel=1e-5)


def test_long_strips_close_with_the_walls_between_them() -> None:
    """A square duct: facing, and two walls at a right angle."""
    assert long_parallel_strips(1.0, 1.0) + 2.0 * wedge(math.pi / 2.0) == pytest.approx(1.0)
