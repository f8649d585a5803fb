"""Fins: against a boundary-value solver, and against closed forms at both ends of their range."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from thermnet.physics import fin
from thermnet.physics.constants import STEFAN_BOLTZMANN

NUMBERS = (0.01, 0.1, 0.3, 1.0, 3.0, 10.0)
SINKS = (0.0, 0.3, 0.6, 0.9, 0.99)


def solved(z: float, sink: float) -> float:
    """Efficiency by x'' = z (x^4 - y^4), x = 1 at the root, x' = 0 at the tip: collocation."""
    place = np.linspace(0.0, 1.0, 200)
    slope = 2.0 * math.sqrt(z)
    guess = np.cosh(slope * (1.0 - place)) / math.cosh(slope)
    found = solve_bvp(
        lambda _, u: np.array([u[1], z * (u[0] ** 4 - sink**4)]),
        lambda root, tip: np.array([root[0] - 1.0, tip[1]]),
        place,
        np.array([sink + (1.0 - sink) * guess, -guess]),
        tol=1e-8,
        max_nodes=20000,
    )
    assert found.success
    return float(-found.y[1, 0] / (z * (1.0 - sink**4)))


@pytest.mark.parametrize("sink", SINKS)
@pytest.mark.parametrize("z", NUMBERS)
def test_the_first_integral_gives_what_a_boundary_value_solver_gives(z: float, sink: float) -> None:
    assert fin.efficiency(z, sink) == pytest.approx(solved(z, sink), rel=1e-6)


def test_a_fin_hotter_by_a_little_than_its_sink_is_linear() -> None:
    """Derived: T^4 - Ts^4 goes to 4 Ts^3 (T - Ts), whose solution is tanh(mL) / (mL)."""
    for z in NUMBERS:
        slope = 2.0 * math.sqrt(z)
        closed = math.tanh(slope) / slope
        errors = [abs(fin.efficiency(z, 1.0 - off) - closed) for off in (1e-2, 1e-3)]
        assert errors[1] < 2e-3 * closed
        assert errors[1] == pytest.approx(errors[0] / 10.0, rel=0.1)  # first order in the step


def test_a_very_long_fin_to_cold_space_has_a_closed_form() -> None:
    """Derived: with a tip at 0 K the first integral at the root is x'^2 = 2 z / 5, at any length,
    and so the efficiency sqrt(2 / 5) / sqrt(z).
    """
    assert fin.efficiency(1e4) == pytest.approx(math.sqrt(0.4) / 100.0, rel=1e-5)


def test_a_very_long_fin_to_a_warm_sink_has_a_closed_form() -> None:
    """Derived: the tip is at the sink, x'^2 / (2 z) = (1 - y^5) / 5 - y^4 (1 - y)."""
    y, z = 0.7, 400.0
    root = math.sqrt(2.0 * ((1.0 - y**5) / 5.0 - y**4 * (1.0 - y)))
    expected = root / math.sqrt(z) / (1.0 - y**4)
    assert fin.efficiency(z, y) == pytest.approx(expected, rel=1e-6)


def test_a_short_or_well_conducting_fin_is_all_at_the_temperature_of_its_root() -> None:
    """Derived: of first order in z both efficiencies are 1 - 4 z / 3, whatever the sink."""
    for z in (1e-7, 1e-5, 1e-4):
        for found in (fin.linear_efficiency(z), fin.efficiency(z), fin.efficiency(z, 0.8)):
            assert found == pytest.approx(1.0 - 4.0 * z / 3.0, abs=3.0 * z * z + 1e-8)
    assert fin.linear_efficiency(0.0) == 1.0


def test_the_linear_fin_is_cautious_for_any_colder_sink() -> None:
    """It gives less than the exact one: at most by 1 - sqrt(5 / 8), that of a long fin at 0 K."""
    most = 1.0 - math.sqrt(5.0 / 8.0)
    for z in (0.001, *NUMBERS, 300.0):
        for sink in SINKS:
            exact, linear = fin.efficiency(z, sink), fin.linear_efficiency(z)
            assert -1e-12 < 1.0 - linear / exact < most + 1e-6


def test_a_colder_sink_makes_a_better_fin() -> None:
    found = [fin.efficiency(0.5, sink) for sink in SINKS]
    assert found == sorted(found, reverse=True)


def test_the_number_of_a_fin_counts_both_sides_and_the_cube_of_its_root() -> None:
    """Evaluated by hand: n e s T^3 L^2 / (k t)."""
    one = fin.number(0.2, 1e-3, 150.0, 0.88, 273.15, 1)
    assert one == pytest.approx(0.88 * STEFAN_BOLTZMANN * 273.15**3 * 0.04 / 0.15, rel=1e-12)
    assert fin.number(0.2, 1e-3, 150.0, 0.88, 273.15, 2) == pytest.approx(2.0 * one, rel=1e-12)


@pytest.mark.parametrize("sink", [1.0, 1.2, -0.1])
def test_a_sink_that_is_not_colder_is_refused(sink: float) -> None:
    with pytest.raises(ValueError, match="colder than the root"):
        fin.efficiency(0.5, sink)
