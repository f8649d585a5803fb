"""A gap between two sheets against a general solution of radiosities, and its view factors."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.physics.shield import gap, sideways_of_squares

emittances = st.floats(0.001, 1.0)
shares = st.floats(0.0, 1.0)
temperatures = st.floats(3.0, 600.0)


def given_off(emittance: list[float], view: np.ndarray, emission: list[float]) -> np.ndarray:
    """Net heat [W/m2] that each gray, diffuse face of an enclosure gives off.

    The general method of any number of faces (any text on radiation in enclosures): a linear
    system of radiosities J = e E + (1 - e) F J, and q = J - F J.
    """
    e, power = np.array(emittance), np.array(emission)
    radiosity = np.linalg.solve(np.eye(len(e)) - (1.0 - e)[:, np.newaxis] * view, e * power)
    return np.asarray(radiosity - view @ radiosity)


@given(emittances, emittances, shares, st.tuples(temperatures, temperatures, temperatures))
def test_a_gap_is_an_enclosure_of_two_gray_plates_and_a_black_edge(
    first: float, second: float, sideways: float, kelvin: tuple[float, float, float]
) -> None:
    emission = [STEFAN_BOLTZMANN * t**4 for t in kelvin]
    facing = 1.0 - sideways
    # The edge is as large as it likes, and black: what the plates see of it is all that counts.
    view = np.array([[0.0, facing, sideways], [facing, 0.0, sideways], [0.0, 0.0, 1.0]])
    expected = given_off([first, second, 1.0], view, emission)
    found = gap(first, second, sideways)
    a, b, edge = emission
    across = found.across * (a - b)
    assert across + found.first_out * (a - edge) == pytest.approx(
        expected[0], abs=1e-9 * sum(emission)
    )
    assert -across + found.second_out * (b - edge) == pytest.approx(
        expected[1], abs=1e-9 * sum(emission)
    )


def test_a_closed_gap_is_one_between_infinite_plates() -> None:
    found = gap(0.8, 0.4, 0.0)
    assert found.across == pytest.approx(1.0 / (1.0 / 0.8 + 1.0 / 0.4 - 1.0))  # 4/11, derived
    assert found.first_out == found.second_out == 0.0


def test_plates_that_see_nothing_of_each_other_radiate_to_the_edge_alone() -> None:
    found = gap(0.8, 0.4, 1.0)
    assert (found.across, found.first_out, found.second_out) == (0.0, 0.8, 0.4)


def test_black_plates_exchange_by_their_view_factors() -> None:
    found = gap(1.0, 1.0, 0.3)
    assert (found.across, found.first_out, found.second_out) == pytest.approx((0.7, 0.3, 0.3))


@given(emittances, emittances, shares)
def test_no_heat_goes_from_cold_to_hot_and_no_face_gives_more_than_a_black_sky_would_take(
    first: float, second: float, sideways: float
) -> None:
    found = gap(first, second, sideways)
    assert min(found.across, found.first_out, found.second_out) >= 0.0
    assert found.across + found.first_out <= first * (1.0 + 1e-12)
    assert found.across + found.second_out <= second * (1.0 + 1e-12)


@given(emittances, emittances, shares)
def test_a_gap_is_the_same_from_both_sides(first: float, second: float, sideways: float) -> None:
    found, turned = gap(first, second, sideways), gap(second, first, sideways)
    assert found.across == pytest.approx(turned.across, rel=1e-14)
    assert found.first_out == turned.second_out


@pytest.mark.parametrize(
    ("side", "view"),
    # derived: aligned squares confirmed by Gauss quadrature in four dimensions
    [(1.0, 0.199824896), (2.0, 0.415253284), (5.0, 0.690244694), (10.0, 0.826994522)],
)
def test_the_share_out_of_the_edges_is_what_an_equal_square_leaves(
    side: float, view: float
) -> None:
    assert sideways_of_squares(1.0, side) == pytest.approx(1.0 - view, abs=1e-9)
    assert sideways_of_squares(0.02, 0.02 * side) == pytest.approx(1.0 - view, abs=1e-9)


@pytest.mark.parametrize("apart", [30.0, 1e3, 1e5, 1e8])
def test_far_squares_see_each_other_like_two_points(apart: float) -> None:
    # derived: area over pi distance^2, in the limit
    view = 1.0 - sideways_of_squares(apart, 1.0)
    assert view == pytest.approx(1.0 / (math.pi * apart**2), rel=1.0 / apart**2, abs=1e-14)


def test_near_squares_lose_what_leaves_through_the_strip_at_their_edges() -> None:
    # derived: along an edge of length L the loss to first order is gap x L / (2 area), as of two
    # infinite strips (1 - F = gap / width for two edges); four edges of a square give 2 gap / side
    assert sideways_of_squares(1e-4, 1.0) == pytest.approx(2e-4, rel=1e-3)
