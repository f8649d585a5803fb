"""Thermostats in a steady state: each does what its law says of its own sensor."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.solve.large import sheet
from tests.solving import solved_steady
from thermnet.network.build import build
from thermnet.network.network import duties
from thermnet.network.parts import BoundaryPart, HeatPart, LinkPart, NodePart, ThermostatPart
from thermnet.solve.thermostat import _settled


@pytest.mark.parametrize(("power", "duty"), [(100.0, 0.45), (20.0, 1.0), (0.0, None)])
def test_one_heater_gives_what_the_law_and_the_loss_agree_on(
    power: float, duty: float | None
) -> None:
    """1 W/K to 250 K: 100 W x (300 - T) / 10 K = T - 250 K at T = 3250/11 K; 20 W are too few."""
    network = build(
        [
            NodePart(name="unit", capacity=1.0),
            BoundaryPart(name="sink", temperature=250.0),
            LinkPart(a="unit", b="sink", strength=1.0),
            ThermostatPart(node="unit", sensor="unit", power=power, on=290.0, off=300.0),
        ]
    )
    solution = solved_steady(network)
    expected = {100.0: 3250.0 / 11.0, 20.0: 270.0, 0.0: 250.0}[power]
    assert solution.temperature[0, 0] == pytest.approx(expected, abs=1e-8)
    if duty is not None:
        assert solution.duty[0, 0] == pytest.approx({100.0: 50.0 / 110.0, 20.0: 1.0}[power])


def test_a_strong_heater_with_a_narrow_band_does_not_jump_to_and_fro() -> None:
    """Full power would warm the sensor by 500 times its band: few steps all the same."""
    network = build(
        [
            NodePart(name="unit", capacity=1.0),
            BoundaryPart(name="sink", temperature=250.0),
            LinkPart(a="unit", b="sink", strength=0.04),
            ThermostatPart(node="unit", sensor="unit", power=2.0, on=290.0, off=290.1),
        ]
    )
    solution = solved_steady(network)
    assert 290.0 < solution.temperature[0, 0] < 290.1
    assert solution.stats.steps <= 6


@pytest.mark.parametrize("long_range", [0, 30])
def test_twenty_heaters_of_a_large_network_settle_in_few_steps(long_range: int) -> None:
    network = sheet(16, long_range=long_range, thermostats=20)
    solution = solved_steady(network)
    law = duties(network, solution.temperature[0])
    np.testing.assert_allclose(solution.duty[0], law, atol=1e-9)
    assert ((law > 0.0) & (law < 1.0)).any()
    assert (law == 0.0).any()
    assert solution.stats.steps <= 8


def test_a_heater_far_from_its_sensor_answers_to_the_sensor() -> None:
    network = build(
        [
            NodePart(name="near", capacity=1.0),
            NodePart(name="far", capacity=1.0),
            BoundaryPart(name="sink", temperature=200.0),
            LinkPart(a="near", b="far", strength=0.5),
            LinkPart(a="far", b="sink", strength=0.5),
            HeatPart(node="far", amplitude=20.0),
            ThermostatPart(node="near", sensor="far", power=100.0, on=270.0, off=280.0),
        ]
    )
    # 0.5 (T - 200) = 20 + 10 (280 - T) at the far node: T = 2920 / 10.5 K.
    solution = solved_steady(network)
    assert solution.temperature[0, 1] == pytest.approx(2920.0 / 10.5, abs=1e-8)


@settings(max_examples=50)
@given(seed=st.integers(0, 2**31), count=st.integers(1, 8))
def test_duties_and_sensors_agree_for_any_answers_of_a_conducting_body(
    seed: int, count: int
) -> None:
    """Answers are rows of the inverse of a conductance matrix, times the heaters' powers."""
    random = np.random.default_rng(seed)
    links = random.uniform(0.0, 1.0, (count, count))
    conductance = np.diag(random.uniform(0.01, 1.0, count) + links.sum(axis=0)) - links
    response = np.linalg.inv(conductance) * random.uniform(0.1, 100.0, count)
    on = random.uniform(280.0, 290.0, count)
    off = on + random.uniform(0.1, 10.0, count)
    unaided = random.uniform(250.0, 300.0, count)
    duty = _settled(response, unaided, on, off)
    sensed = unaided + response @ duty
    law = np.clip((off - sensed) / (off - on), 0.0, 1.0)
    np.testing.assert_allclose(duty, law, atol=1e-6)
