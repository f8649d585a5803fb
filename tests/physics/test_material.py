"""Properties over temperature: fits as curves, heat contents, melting."""

from __future__ import annotations

import numpy as np
import pytest

from thermnet.physics.curves import Curve
from thermnet.physics.fits import curve_of, joined, log_polynomial, log_ratio, through_points
from thermnet.physics.material import (
    NEAR,
    SPREAD,
    heat_content,
    melted_share,
    melting_content,
    together,
)

STEEL = (-1.4087, 1.3982, 0.2543, -0.6260, 0.2334, 0.4256, -0.4658, 0.1650, -0.0199)
"""Conductivity of steel 304: second-hand, a fit of NIST."""


def steel(temperature: np.ndarray) -> np.ndarray:
    return log_polynomial(STEEL, temperature)


def test_a_logarithmic_polynomial_of_two_terms_is_a_power_law() -> None:
    found = log_polynomial((1.0, 2.0), np.array([3.0]))
    assert found == pytest.approx([90.0])


def test_a_ratio_takes_its_coefficients_in_turns_above_and_below() -> None:
    # derived: T = 4 K, r = 2: above 1 + 3 * 2 = 7, below 1 + 2 * 2 + 1 * 4 = 9
    found = log_ratio((1.0, 2.0, 3.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0), np.array([4.0]))
    assert found == pytest.approx([10.0 ** (7.0 / 9.0)])


def test_a_curve_is_within_a_twentieth_of_a_percent_of_its_fit_everywhere() -> None:
    curve = curve_of(steel, 4.0, 300.0)
    at = np.linspace(4.0, 300.0, 30_001)
    assert np.abs(curve.value(at) / steel(at) - 1.0).max() < 5e-4


def test_a_curve_has_no_more_points_than_it_needs() -> None:
    assert len(curve_of(steel, 4.0, 300.0).x) < 100
    assert len(curve_of(lambda t: 2.0 + 0.0 * t, 4.0, 300.0).x) == 2


def test_a_fit_that_is_nowhere_smooth_is_refused() -> None:
    with pytest.raises(ValueError, match="bends too much"):
        curve_of(lambda t: np.where(t > 77.7, 2.0, 1.0), 4.0, 300.0)


def test_a_fit_that_turns_negative_is_refused() -> None:
    with pytest.raises(ValueError, match="positive"):
        curve_of(lambda t: 100.0 - t, 4.0, 300.0)


def test_a_table_is_kept_at_its_points_and_a_power_law_between_them() -> None:
    x = np.array([100.0, 200.0, 300.0, 500.0])
    curve = through_points(x, 3.0 * x**-1.5)
    assert curve.value(x) == pytest.approx(3.0 * x**-1.5, rel=1e-12)
    at = np.linspace(100.0, 500.0, 999)
    assert curve.value(at) == pytest.approx(3.0 * at**-1.5, rel=5e-4)


def test_a_table_rises_and_falls_between_its_points_only_as_they_do() -> None:
    x, y = np.array([10.0, 20.0, 30.0, 40.0, 50.0]), np.array([1.0, 100.0, 101.0, 101.0, 5.0])
    curve = through_points(x, y)
    for first, last in zip(x[:-1], x[1:], strict=True):
        within = curve.value(np.linspace(first, last, 200))
        steps = np.diff(within) * np.sign(within[-1] - within[0])
        assert (steps >= -1e-12).all()
        assert within.max() <= 101.0 * (1.0 + 1e-12)


def test_where_two_pieces_meet_the_later_one_counts() -> None:
    cold = Curve(x=np.array([1.0, 2.0]), y=np.array([1.0, 2.0]))
    warm = Curve(x=np.array([2.0, 3.0]), y=np.array([5.0, 6.0]))
    whole = joined((cold, warm))
    assert whole.value(np.array([1.0, 2.0, 3.0])) == pytest.approx([1.0, 5.0, 6.0])


def test_pieces_must_not_overlap() -> None:
    curve = Curve(x=np.array([1.0, 2.0]), y=np.array([1.0, 2.0]))
    with pytest.raises(ValueError, match="must follow each other"):
        joined((curve, curve))


SPECIFIC_HEAT = Curve(x=np.array([50.0, 150.0, 300.0]), y=np.array([100.0, 700.0, 900.0]))


def test_a_heat_content_is_the_integral_of_the_specific_heat_at_its_points() -> None:
    content = heat_content(SPECIFIC_HEAT, 2.0)
    # derived: the area under the two straight pieces
    assert content.y[-1] == pytest.approx(2.0 * (100.0 * 400.0 + 150.0 * 800.0))


def test_the_capacity_of_a_heat_content_is_within_some_percent_of_the_curve() -> None:
    content = heat_content(SPECIFIC_HEAT, 2.0)
    at = np.linspace(50.0, 299.9, 5000)
    ratio = content.slope(at) / (2.0 * SPECIFIC_HEAT.value(at))
    assert np.abs(ratio - 1.0).max() < SPREAD - 1.0


def test_the_capacity_follows_a_steep_specific_heat_at_the_lowest_temperatures() -> None:
    x = np.geomspace(4.0, 300.0, 30)
    cubic = Curve(x=x, y=1e-3 * x**3)
    at = np.linspace(4.0, 299.9, 50_000)
    ratio = heat_content(cubic, 1.0).slope(at) / cubic.value(at)
    assert np.abs(ratio - 1.0).max() < SPREAD - 1.0


def test_a_heat_content_has_few_corners() -> None:
    # derived: 4 % each from 100 to 150 J/kg/K, ln(1.5) / ln(1.04) = 10 pieces; from there on
    # 0.005 K each, the integral of sqrt(slope / (0.04 c)): 58 up to 700 and 31 up to 900 J/kg/K
    assert 100 <= len(heat_content(SPECIFIC_HEAT, 1.0).x) < 120


@pytest.mark.parametrize(
    "curve",
    [
        SPECIFIC_HEAT,
        Curve(x=np.array([100.0, 400.0]), y=np.array([900.0, 920.0])),
        Curve(x=np.array([4.0, 100.0]), y=np.array([1.0, 500.0])),
    ],
    ids=["bent", "nearly constant", "steep"],
)
def test_a_heat_content_is_nearer_to_its_integral_than_a_solver_resolves(curve: Curve) -> None:
    """The half of 0.01 K, whatever the specific heat does; derived: the exact integral."""
    at = np.linspace(curve.x[0], curve.x[-1], 100_001)
    exact = curve.integral(at) - curve.integral(curve.x[:1])
    apart = (heat_content(curve, 1.0).value(at) - exact) / curve.value(at)
    assert np.abs(apart).max() < 1.1 * NEAR


def test_what_melts_holds_its_latent_heat_and_both_specific_heats() -> None:
    content = melting_content(0.5, 301.0, 0.2, 243e3, 1950.0, 2250.0)
    rise = np.diff(content.value(np.array([291.0, 311.0])))
    assert rise == pytest.approx(0.5 * (243e3 + 10.0 * 1950.0 + 10.0 * 2250.0))


def test_half_is_melted_at_the_melting_temperature() -> None:
    assert melted_share(301.0, 301.0, 0.2) == 0.5
    assert melted_share(300.9, 301.0, 0.2) == pytest.approx(0.0, abs=1e-12)
    assert melted_share(302.0, 301.0, 0.2) == 1.0


def test_contents_and_capacities_add_up() -> None:
    melting = melting_content(0.5, 200.0, 1.0, 1e5, 1000.0, 2000.0)
    content = heat_content(SPECIFIC_HEAT, 2.0)
    whole = together((content, melting), 70.0)
    first, last = np.array([120.0]), np.array([280.0])
    parts = [each.value(last) - each.value(first) for each in (content, melting)]
    assert whole.value(last) - whole.value(first) == pytest.approx(sum(parts) + 70.0 * 160.0)
