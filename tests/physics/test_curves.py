"""Curves: straight lines between points, exact slopes and integrals."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from thermnet.physics.curves import Curve

CURVE = Curve(x=np.array([50.0, 100.0, 300.0]), y=np.array([1.0, 5.0, 3.0]))
CONTENT = Curve(x=np.array([270.0, 280.0]), y=np.array([100.0, 300.0]), extend=True)


def test_between_points_a_curve_is_straight() -> None:
    np.testing.assert_allclose(CURVE.value(np.array([75.0, 200.0])), [3.0, 4.0])


def test_outside_its_points_a_curve_holds_its_end_values() -> None:
    np.testing.assert_allclose(CURVE.value(np.array([0.0, 400.0])), [1.0, 3.0])
    np.testing.assert_allclose(CURVE.slope(np.array([0.0, 400.0])), [0.0, 0.0])


def test_an_extended_curve_continues_its_end_slopes() -> None:
    np.testing.assert_allclose(CONTENT.value(np.array([260.0, 290.0])), [-100.0, 500.0])
    np.testing.assert_allclose(CONTENT.slope(np.array([260.0, 290.0])), [20.0, 20.0])


def test_the_slope_at_a_corner_is_that_of_the_piece_to_the_right() -> None:
    np.testing.assert_allclose(CURVE.slope(np.array([50.0, 100.0])), [0.08, -0.01])


@pytest.mark.parametrize("x", [0.0, 20.0, 50.0, 60.0, 100.0, 170.0, 300.0, 450.0])
def test_the_integral_is_the_area_from_zero(x: float) -> None:
    area, _ = quad(lambda t: float(np.interp(t, CURVE.x, CURVE.y)), 0.0, x, points=[50, 100, 300])
    assert CURVE.integral(np.array([x]))[0] == pytest.approx(area, rel=1e-12, abs=1e-9)


def test_the_slope_of_the_integral_is_the_curve() -> None:
    at, step = np.array([30.0, 75.0, 200.0, 400.0]), 1e-3
    difference = CURVE.integral(at + step) - CURVE.integral(at - step)
    np.testing.assert_allclose(difference / (2.0 * step), CURVE.value(at), rtol=1e-8)


def test_the_integral_of_an_extended_curve_is_refused() -> None:
    with pytest.raises(ValueError, match="not defined"):
        CONTENT.integral(np.array([275.0]))


@pytest.mark.parametrize(
    ("x", "y", "message"),
    [
        ([1.0], [1.0], "two or more points"),
        ([1.0, 2.0], [1.0], "two or more points"),
        ([1.0, 1.0], [1.0, 2.0], "increase strictly"),
        ([2.0, 1.0], [1.0, 2.0], "increase strictly"),
        ([1.0, float("nan")], [1.0, 2.0], "finite"),
        ([1.0, 2.0], [1.0, float("inf")], "finite"),
    ],
)
def test_what_is_no_curve_is_refused(x: list[float], y: list[float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        Curve(x=np.array(x), y=np.array(y))


def test_the_points_of_a_curve_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="read-only"):
        CURVE.x[0] = 0.0
