"""Gas that leaves a volume through holes: against closed forms of emptying and of slow falls."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import trapezoid
from scipy.optimize import brentq

from thermnet.physics.venting import (
    AIR,
    GREATEST_VOLUME,
    LEAST_AREA,
    Outside,
    Vented,
    flow_function,
    greatest_difference,
    inside,
)

HEAT_RATIO = 1.4
START = 1e5


def vented(*, vents: float = 1e-4, volume: float = 5e-3, heat_ratio: float = HEAT_RATIO) -> Vented:
    return Vented(
        volume=volume,
        vents=vents,
        discharge=0.6,
        temperature=293.15,
        molar_mass=AIR[0],
        heat_ratio=heat_ratio,
    )


def falling(constant: float, span: float) -> Outside:
    """An exponential fall with a time constant [s], from the start on."""
    end = START * math.exp(-span / constant)
    return Outside(time=np.array([0.0, span]), pressure=np.array([START, end]))


def opened(span: float) -> Outside:
    """A vacuum as good as at once, which stays."""
    return Outside(time=np.array([0.0, 1e-7, span]), pressure=np.array([START, 1e-3, 1e-3]))


# The flow through a hole


def test_a_small_difference_drives_an_incompressible_flow() -> None:
    # Bernoulli: flow = area sqrt(2 density difference), which is sqrt(2 x) for a ratio of 1 - x
    for x in (1e-4, 1e-6, 1e-8):
        assert flow_function(1.0 - x, HEAT_RATIO) == pytest.approx(math.sqrt(2.0 * x), rel=x + 1e-6)


def test_nothing_flows_between_equal_pressures() -> None:
    assert flow_function(1.0, HEAT_RATIO) == 0.0


@pytest.mark.parametrize("heat_ratio", [1.1, 1.4, 5.0 / 3.0])
def test_flow_is_choked_below_the_critical_ratio(heat_ratio: float) -> None:
    # closed form of any textbook of gas dynamics; 0.6847 for 1.4
    g = heat_ratio
    choked = math.sqrt(g) * (2.0 / (g + 1.0)) ** ((g + 1.0) / (2.0 * (g - 1.0)))
    critical = (2.0 / (g + 1.0)) ** (g / (g - 1.0))
    for ratio in (0.0, 0.5 * critical, critical):
        assert flow_function(ratio, g) == pytest.approx(choked, rel=1e-12)
    assert flow_function(1.02 * critical, g) < choked


# A volume that empties into a vacuum


def test_an_isothermal_volume_empties_exponentially() -> None:
    one = vented()
    course = inside(one, opened(0.2), "isothermal")
    expected = START * np.exp(-course.time / one.time_constant)
    choked = course.pressure > 1.0
    assert np.allclose(course.pressure[choked], expected[choked], rtol=1e-5)


def test_an_adiabatic_volume_empties_as_a_power_of_time() -> None:
    # from dm/dt = -m^((g + 1)/2)/tau, with m the mass over that at the start
    one, g = vented(), HEAT_RATIO
    course = inside(one, opened(0.2), "adiabatic")
    mass = (1.0 + 0.5 * (g - 1.0) * course.time / one.time_constant) ** (-2.0 / (g - 1.0))
    assert np.allclose(course.mass, mass, rtol=1e-5)
    assert np.allclose(course.pressure, START * mass**g, rtol=1e-5)


# A slow fall


def test_in_an_exponential_fall_the_difference_stays_in_proportion() -> None:
    # the gas inside then leaves at the same rate, which one flow through the holes carries
    one, constant = vented(volume=0.02), 10.0
    course = inside(one, falling(constant, 50.0), "isothermal")
    expected = brentq(
        lambda ratio: flow_function(ratio, HEAT_RATIO) - 1.0 / (constant * one.speed),
        0.6, 1.0 - 1e-12, xtol=1e-14,
    )  # fmt: skip
    around = falling(constant, 50.0).at(course.time)
    settled = course.time > 40.0
    assert np.allclose((around / course.pressure)[settled], expected, rtol=1e-6)
    # and as long as it is small it is that of an incompressible flow
    bernoulli = (one.volume / (0.6 * one.vents * constant)) ** 2 / (
        2.0 * one.specific * one.temperature
    )
    assert 1.0 - expected == pytest.approx(bernoulli, rel=0.02)


def test_a_small_difference_grows_with_the_square_of_volume_to_area() -> None:
    outside = falling(20.0, 20.0)
    small = greatest_difference(vented(vents=2e-4), outside)
    large = greatest_difference(vented(vents=1e-4), outside)
    assert large.difference / small.difference == pytest.approx(4.0, rel=2e-3)


def test_gas_that_stays_warm_is_the_worse_while_much_of_it_is_left() -> None:
    # what cools loses pressure by itself: the flow is less by the ratio of specific heats
    found = greatest_difference(vented(), falling(20.0, 20.0))
    assert found.exchange == "isothermal"
    assert found.difference == pytest.approx(found.inside - found.outside)


def test_gas_that_cools_is_the_worse_once_little_of_it_is_left() -> None:
    ramp = Outside(time=np.array([0.0, 10.0]), pressure=np.array([START, 0.0]), straight="pressure")
    found = greatest_difference(vented(), ramp)
    assert found.exchange == "adiabatic"
    assert found.instant == pytest.approx(10.0)
    assert found.outside == 0.0


# Balances


@pytest.mark.parametrize("exchange", ["isothermal", "adiabatic"])
def test_the_mass_that_is_gone_is_what_flowed_out(exchange: str) -> None:
    one, outside = vented(volume=0.05), falling(2.0, 8.0)
    course = inside(one, outside, exchange)  # type: ignore[arg-type]
    around = outside.at(course.time)
    warmth = course.pressure / START / course.mass
    flow = [
        one.speed * math.sqrt(warm) * left * flow_function(ratio, HEAT_RATIO)
        for warm, left, ratio in zip(
            warmth, course.mass, np.minimum(around / course.pressure, 1.0), strict=True
        )
    ]
    assert course.mass[0] == 1.0
    assert trapezoid(flow, course.time) == pytest.approx(1.0 - course.mass[-1], rel=1e-3)


def test_gas_flows_back_in_when_the_pressure_rises_again() -> None:
    outside = Outside(
        time=np.array([0.0, 5.0, 10.0, 20.0]), pressure=START * np.array([1, 0.1, 1, 1])
    )
    for exchange in ("isothermal", "adiabatic"):
        course = inside(vented(), outside, exchange)  # type: ignore[arg-type]
        assert course.pressure[-1] == pytest.approx(START, rel=1e-4)
    # gas that neither gives nor takes heat comes back warmer than it left, and so there is less
    assert course.mass[-1] < 1.0


def test_a_pressure_that_only_rises_leaves_nothing_above_the_outside() -> None:
    rising = Outside(time=np.array([0.0, 5.0, 10.0]), pressure=START * np.array([0.1, 0.3, 1.0]))
    found = greatest_difference(vented(), rising)
    assert (found.difference, found.instant) == (0.0, 0.0)


# Rules and refusals


def test_rules_of_thumb_in_si() -> None:
    assert pytest.approx(5.7, abs=0.01) == LEAST_AREA * 1e6 / 1e3  # mm2 to a litre
    assert pytest.approx(50.8) == GREATEST_VOLUME


@pytest.mark.parametrize(
    ("time", "pressure", "message"),
    [
        ([0.0], [1e5], "at least two"),
        ([0.0, 1.0], [1e5, 0.0], "above 0 Pa"),
        ([0.0, 0.0], [1e5, 1e4], "must increase"),
    ],
)
def test_pressures_that_make_no_history(
    time: list[float], pressure: list[float], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        Outside(time=np.array(time), pressure=np.array(pressure))


def test_an_ascent_does_not_begin_in_a_vacuum() -> None:
    nothing = Outside(time=np.array([0.0, 1.0]), pressure=np.zeros(2), straight="pressure")
    with pytest.raises(ValueError, match="begin above 0 Pa"):
        inside(vented(), nothing, "isothermal")
