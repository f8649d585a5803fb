"""Plates, swept surfaces and spheres: what they see of a direction and of a planet."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermnet.physics.curves import Floats
from thermnet.physics.view import (
    aspect,
    horizon_cosine,
    plate_to_sphere,
    sphere_to_sphere,
    swept_to_sphere,
)

COSINES = st.floats(-1.0, 1.0)
ANGLES = st.floats(0.0, np.pi)
RATIOS = st.floats(-4.0, np.log10(49.0)).map(lambda power: 1.0 + 10.0**power)
"""Distance over radius, from 1.0001 to 50."""


def gauss(first: float, last: float, count: int = 60) -> tuple[Floats, Floats]:
    """Points and widths on a stretch."""
    points, widths = np.polynomial.legendre.leggauss(count)
    return first + (last - first) * (points + 1.0) / 2.0, (last - first) * widths / 2.0


def integrated_over_planet(ratio: float, tilt: float) -> float:
    """View factor of a plate: cos(angle from its normal) / pi over the planet's solid angle.

    Integrated by azimuth, then by angle from nadir, both cut where the plate's horizon bends.
    """
    limb = np.arcsin(1.0 / ratio)
    horizon = abs(np.pi / 2.0 - tilt)
    edges = [0.0, horizon, limb] if horizon < limb else [0.0, limb]
    total = 0.0
    for first, last in zip(edges[:-1], edges[1:], strict=True):
        # By squares of sines, since the seen arc opens like a root.
        u, width = gauss(0.0, np.pi / 2.0)
        angle = (first + (last - first) * np.sin(u) ** 2)[:, None]
        step = (last - first) * np.sin(2.0 * u) * width
        along, across = np.cos(tilt) * np.cos(angle), np.sin(tilt) * np.sin(angle)
        end = np.arccos(np.clip(-along / np.maximum(across, 1e-300), -1.0, 1.0))
        share, share_width = gauss(0.0, 1.0)
        received = np.maximum(along + across * np.cos(end * share), 0.0) @ share_width
        total += step @ (np.sin(angle[:, 0]) * 2.0 * end[:, 0] * received) / np.pi
    return total


@given(cosine=COSINES)
def test_a_plate_gets_the_cosine_of_incidence_and_nothing_from_behind(cosine: float) -> None:
    assert aspect(cosine, 0.0) == max(0.0, cosine)
    both = aspect(np.array([cosine, cosine]), np.array([0.0, 1.0]))
    assert both[0] == max(0.0, cosine)


def test_the_side_of_a_cylinder_gets_its_silhouette_over_its_area() -> None:
    """2 r l sin(angle from the axis) over 2 pi r l; derived: closed form."""
    angle = np.linspace(0.0, np.pi, 37)
    silhouette = np.sin(angle) / np.pi
    cone = np.full(37, np.pi / 2)
    np.testing.assert_allclose(aspect(np.cos(angle), cone), silhouette, atol=1e-15)
    mixed = aspect(np.cos(angle)[:, None], np.array([np.pi / 2, 0.3]))[:, 0]
    np.testing.assert_allclose(mixed, silhouette, atol=1e-15)


def test_a_sphere_gets_a_quarter_from_everywhere() -> None:
    """Its disc over its surface; derived: closed form."""
    np.testing.assert_array_equal(aspect(np.array([-1.0, 0.2, 1.0]), np.nan), 0.25)
    np.testing.assert_array_equal(
        aspect(np.array([-1.0, 0.2]), np.array([np.nan, 0.0])), [0.25, 0.2]
    )


@given(cosine=COSINES, cone=ANGLES)
def test_a_turning_plate_gets_the_mean_over_its_turn(cosine: float, cone: float) -> None:
    turn = (np.arange(20_000) + 0.5) * 2.0 * np.pi / 20_000
    incidence = np.cos(cone) * cosine + np.sin(cone) * np.sqrt(1.0 - cosine**2) * np.cos(turn)
    mean = np.maximum(incidence, 0.0).mean()
    assert aspect(cosine, cone) == pytest.approx(mean, abs=1e-7)


@given(ratio=RATIOS, tilt=ANGLES)
def test_the_view_of_a_planet_is_its_integral_over_the_planet(ratio: float, tilt: float) -> None:
    found = plate_to_sphere(ratio, np.cos(tilt))
    assert found == pytest.approx(integrated_over_planet(ratio, tilt), abs=1e-7)


@pytest.mark.parametrize("ratio", [1.0001, 1.0627, 1.5, 6.6, 50.0])
def test_the_view_is_continuous_where_the_horizon_begins_and_ends_to_cut(ratio: float) -> None:
    switches = np.arccos([1.0 / ratio, -1.0 / ratio])
    before, after = (plate_to_sphere(ratio, np.cos(switches + step)) for step in (-1e-9, 1e-9))
    np.testing.assert_allclose(before, after, atol=3e-9)
    assert after[1] == pytest.approx(0.0, abs=1e-15)


@given(ratio=RATIOS)
def test_the_view_falls_as_the_plate_turns_away(ratio: float) -> None:
    view = plate_to_sphere(ratio, np.cos(np.linspace(0.0, np.pi, 400)))
    assert (np.diff(view) <= 1e-15).all()
    assert view[0] == pytest.approx(1.0 / ratio**2, rel=1e-12)
    assert view[-1] == 0.0


@given(ratio=RATIOS)
def test_a_plate_edge_on_sees_what_its_closed_form_says(ratio: float) -> None:
    """[atan(1 / q) - q / H^2] / pi; derived: closed form, confirmed by quadrature."""
    q = np.sqrt(ratio**2 - 1.0)
    expected = (np.arctan(1.0 / q) - q / ratio**2) / np.pi
    assert plate_to_sphere(ratio, 0.0) == pytest.approx(expected, abs=1e-12)


def test_on_the_ground_a_plate_sees_the_half_space_below() -> None:
    """(1 + cos(tilt)) / 2 above a plane; derived: closed form."""
    cosine = np.linspace(-1.0, 1.0, 41)
    np.testing.assert_allclose(plate_to_sphere(1.0, cosine), (1.0 + cosine) / 2.0, atol=1e-15)


def test_far_away_the_views_go_with_the_square_of_the_distance() -> None:
    """cos / H^2, and 1 / (4 H^2) for a sphere, but for 1 / (4 H^2) of it; derived: closed form."""
    assert plate_to_sphere(1e6, 0.3) == pytest.approx(0.3e-12, rel=1e-9)
    assert sphere_to_sphere(1e6) == pytest.approx(0.25e-12, rel=1e-9)
    assert swept_to_sphere(1e6, 0.3, 0.2) == pytest.approx(0.3e-12 * np.cos(0.2), rel=1e-9)


@given(ratio=RATIOS)
def test_plates_of_all_tilts_see_in_the_mean_what_a_sphere_sees(ratio: float) -> None:
    """A sphere is made of them."""
    edges = [-1.0, -1.0 / ratio, 0.0, 1.0 / ratio, 1.0]
    pieces = [gauss(*ends, 80) for ends in zip(edges[:-1], edges[1:], strict=True)]
    total = sum(width @ plate_to_sphere(ratio, cosine) for cosine, width in pieces)
    assert total / 2.0 == pytest.approx(sphere_to_sphere(ratio), abs=1e-7)


@given(ratio=RATIOS, cosine=COSINES, cone=ANGLES)
def test_a_turning_plate_sees_the_mean_over_its_turn(
    ratio: float, cosine: float, cone: float
) -> None:
    turn = np.arange(3000) * 2.0 * np.pi / 3000
    tilt = np.cos(cone) * cosine + np.sin(cone) * np.sqrt(1.0 - cosine**2) * np.cos(turn)
    mean = plate_to_sphere(ratio, tilt).mean()
    assert swept_to_sphere(ratio, cosine, cone) == pytest.approx(mean, abs=1e-6)


@given(ratio=RATIOS, cosine=COSINES)
def test_a_turning_plate_along_its_axis_is_a_plate(ratio: float, cosine: float) -> None:
    found = swept_to_sphere(ratio, cosine, 0.0)
    assert found == pytest.approx(plate_to_sphere(ratio, cosine), abs=1e-14)


def test_the_limb_stands_where_the_line_of_sight_touches_the_sphere() -> None:
    """sin(angle from nadir) = 1 / H; derived: closed form."""
    ratio = np.array([1.0, 1.1, 2.0, 50.0])
    np.testing.assert_allclose(horizon_cosine(ratio), np.cos(np.arcsin(1.0 / ratio)), atol=1e-15)


@pytest.mark.parametrize("ratio", [0.99, -2.0, np.nan, np.inf])
def test_inside_a_body_nothing_is_seen_and_it_is_said(ratio: float) -> None:
    with pytest.raises(ValueError, match="at least its radius"):
        plate_to_sphere(np.array([1.5, ratio]), 1.0)
