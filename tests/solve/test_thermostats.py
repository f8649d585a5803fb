"""Switching thermostats: located instants, hysteresis, no chatter."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.solving import highest, lowest, solved_transient, start_at, switchings
from thermnet.account import account
from thermnet.network.build import build
from thermnet.network.network import Network
from thermnet.network.parts import (
    BoundaryPart,
    HeatPart,
    History,
    LinkPart,
    NodePart,
    Part,
    ThermostatPart,
)
from thermnet.solve.solution import Options
from thermnet.solve.transient import transient

LO, HI = 273.15, 278.15
T_ON, T_OFF = 583.273, 782.210
"""s on and off: tau ln((310 - 273.15) / (310 - 278.15)), tau ln(28.15 / 23.15), tau 4000 s."""


def heated(*extra: Part, power: float = 30.0, sensor: str = "plate", **fields: object) -> Network:
    """C 2000 J/K, G 0.5 W/K to 250 K, 30 W between 273.15 and 278.15 K."""
    stat = {"node": "plate", "sensor": sensor, "power": power, "on": LO, "off": HI} | fields
    return build(
        [
            NodePart(name="plate", capacity=2000.0),
            BoundaryPart(name="sink", temperature=250.0),
            LinkPart(a="plate", b="sink", strength=0.5),
            ThermostatPart(origin="heater", **stat),
            *extra,
        ]
    )


def test_a_hundred_cycles_match_the_closed_form_within_one_second_each() -> None:
    """Time on, time off and period of each, at the default accuracy."""
    network = heated()
    solution = solved_transient(network, 100.5 * (T_ON + T_OFF), start=start_at(network, plate=LO))
    on, off = switchings(solution)
    assert len(on) == len(off) - 1 == 100
    np.testing.assert_allclose(off[1:] - on, T_ON, atol=0.1)
    np.testing.assert_allclose(on - off[:100], T_OFF, atol=0.1)
    np.testing.assert_allclose(np.diff(on), T_ON + T_OFF, atol=0.1)


def test_at_a_fine_tolerance_every_instant_of_a_hundred_cycles_is_within_a_second() -> None:
    """What the cycles miss adds up; each switching is held against its own closed-form instant."""
    t_on, t_off = 4000.0 * math.log(36.85 / 31.85), 4000.0 * math.log(28.15 / 23.15)
    assert (t_on, t_off) == pytest.approx((T_ON, T_OFF), abs=1e-3)
    cycle = t_on + t_off
    network = heated()
    fine = Options(accuracy=3e-4)
    solution = solved_transient(network, 100.5 * cycle, fine, start=start_at(network, plate=LO))
    on, off = switchings(solution)
    assert len(on) == len(off) - 1 == 100
    np.testing.assert_allclose(off[:100], cycle * np.arange(100) + T_ON, atol=1.0)
    np.testing.assert_allclose(on, cycle * np.arange(1, 101), atol=1.0)


def test_duty_mean_power_and_mean_temperature_of_whole_cycles() -> None:
    """Duty 0.427155, mean 275.6293 K; the mean power 12.8146 W is the mean loss."""
    network = heated()
    solution = solved_transient(network, 20.0 * (T_ON + T_OFF), start=start_at(network, plate=LO))
    assert solution.heater_duty == pytest.approx([0.427155], abs=1e-4)
    assert solution.mean[0] == pytest.approx(275.6293, abs=1e-3)
    joules = account(network, solution).by_origin()["heater"]
    assert joules / solution.span == pytest.approx(12.8146, abs=3e-3)


def test_the_temperature_stays_in_the_band() -> None:
    network = heated()
    solution = solved_transient(network, 2e4, start=start_at(network, plate=LO))
    assert lowest(network, solution, "plate") == pytest.approx(LO, abs=1e-3)
    assert highest(network, solution, "plate") == pytest.approx(HI, abs=1e-3)


@pytest.mark.parametrize("method", ["scipy-bdf", "scipy-radau", "scipy-lsoda"])
def test_every_integrator_switches_at_the_same_instants(method: str) -> None:
    network = heated()
    options = Options(method=method)
    solution = solved_transient(network, 8000.0, options, start=start_at(network, plate=LO))
    on, off = switchings(solution)
    assert len(on) == 5
    np.testing.assert_allclose(off[1:] - on[: len(off) - 1], T_ON, atol=1.0)
    np.testing.assert_allclose(on - off[: len(on)], T_OFF, atol=1.0)


@pytest.mark.parametrize("first", [1.0, 0.0])
def test_between_the_thresholds_the_given_state_is_kept(first: float) -> None:
    network = heated()
    solution = solved_transient(
        network, 300.0, start=start_at(network, plate=275.0), state=np.array([first])
    )
    assert (solution.duty == first).all()
    assert not solution.switchings[0]


@pytest.mark.parametrize(("begin", "state"), [(LO, 1.0), (LO - 5.0, 1.0), (HI, 0.0), (290.0, 0.0)])
def test_at_or_beyond_a_threshold_the_temperature_decides(begin: float, state: float) -> None:
    network = heated()
    solution = solved_transient(
        network, 10.0, start=start_at(network, plate=begin), state=np.array([1.0 - state])
    )
    assert solution.record.duty[0] == [state]


def test_a_heater_too_weak_to_reach_its_upper_threshold_stays_on() -> None:
    """5 W through 0.5 W/K holds 260 K."""
    network = heated(power=5.0)
    solution = solved_transient(network, 1e5, start=start_at(network, plate=280.0))
    assert solution.temperature[-1, 0] == pytest.approx(260.0, abs=0.01)
    assert solution.switchings == [1]
    assert solution.duty[-1] == [1.0]


def test_a_heater_that_is_not_enabled_gives_no_heat() -> None:
    """Enabled from 2000 s on; until then the plate falls towards 250 K."""
    later = History(time=np.array([0.0, 2000.0, 2000.0, 9000.0]), value=np.array([0.0, 0, 1, 1]))
    network = heated(enabled=later)
    solution = solved_transient(network, 9000.0, start=start_at(network, plate=275.0))
    fallen = 250.0 + 25.0 * math.exp(-2000.0 / 4000.0)
    assert lowest(network, solution, "plate") == pytest.approx(fallen, abs=0.01)
    joules = account(network, solution).by_origin()["heater"]
    assert solution.heater_duty[0] * 30.0 * 9000.0 == pytest.approx(joules, rel=1e-6)


def two_heaters(*heaters: ThermostatPart) -> Network:
    return build(
        [
            NodePart(name="plate", capacity=2000.0),
            BoundaryPart(name="sink", temperature=250.0),
            LinkPart(a="plate", b="sink", strength=0.5),
            *heaters,
        ]
    )


def heater(power: float, on: float, off: float) -> ThermostatPart:
    return ThermostatPart(node="plate", sensor="plate", power=power, on=on, off=off)


def test_two_heaters_on_one_sensor_with_one_band_act_as_one() -> None:
    """Two of 15 W switch together, like one of 30 W."""
    network = two_heaters(heater(15.0, LO, HI), heater(15.0, LO, HI))
    solution = solved_transient(network, 5 * (T_ON + T_OFF), start=start_at(network, plate=LO))
    assert (solution.record.duty[:, 0] == solution.record.duty[:, 1]).all()
    on, off = switchings(solution, 1)
    np.testing.assert_allclose(off, (T_ON + T_OFF) * np.arange(5) + T_ON, atol=0.3)
    np.testing.assert_allclose(on, (T_ON + T_OFF) * np.arange(1, len(on) + 1), atol=0.3)


def test_two_heaters_that_share_only_one_threshold_switch_together_there() -> None:
    """Both go off at 278.15 K, but the second comes on only at 274.15 K."""
    network = two_heaters(heater(15.0, LO, HI), heater(15.0, LO + 1.0, HI))
    solution = solved_transient(network, 2e4, start=start_at(network, plate=LO))
    first_off = [switchings(solution, k)[1][0] for k in (0, 1)]
    assert first_off[0] == pytest.approx(first_off[1], abs=1e-6)
    # After that 15 W hold 280 K, above the upper threshold: the first never comes on again.
    assert solution.switchings[0] == 1
    assert solution.switchings[1] > 5


def test_a_backup_heater_comes_on_only_below_its_own_threshold() -> None:
    network = two_heaters(heater(8.0, LO, HI), heater(30.0, LO - 5.0, LO - 2.0))
    solution = solved_transient(network, 2e4, start=start_at(network, plate=LO))
    assert lowest(network, solution, "plate") == pytest.approx(LO - 5.0, abs=1e-3)
    assert solution.record.duty[0].tolist() == [1.0, 0.0]
    assert solution.switchings[1] > 2


def test_a_heater_whose_sensor_lags_overshoots_both_ends_of_its_band() -> None:
    """Heat on a strip, sensor on a box behind it: switching is by the box, and exact there."""
    network = build(
        [
            NodePart(name="strip", capacity=200.0),
            NodePart(name="box", capacity=2000.0),
            BoundaryPart(name="sink", temperature=250.0),
            LinkPart(a="strip", b="box", strength=0.4),
            LinkPart(a="box", b="sink", strength=0.5),
            ThermostatPart(node="strip", sensor="box", power=30.0, on=LO, off=HI),
        ]
    )
    solution = solved_transient(network, 2e4, start=np.array([275.0, 275.0, 250.0]))
    record = solution.record
    change = np.diff(record.duty[:, 0])
    at_switch = record.temperature[1:, 1]
    assert at_switch[change > 0] == pytest.approx(LO, abs=1e-6)
    assert at_switch[change < 0] == pytest.approx(HI, abs=1e-6)
    assert highest(network, solution, "box") > HI + 0.2


def test_a_sensor_on_a_boundary_switches_where_the_boundary_crosses() -> None:
    """A wall that ramps from 290 to 250 K in 4000 s passes 273.15 K at 1685 s."""
    ramp = History(time=np.array([0.0, 4000.0]), value=np.array([0.0, 1.0]))
    wall = BoundaryPart(name="wall", temperature=290.0, swing=-40.0, history=ramp)
    network = heated(wall, sensor="wall")
    solution = solved_transient(network, 4000.0, start=start_at(network, plate=280.0, wall=290.0))
    on, off = switchings(solution)
    assert on == pytest.approx([1685.0], abs=0.01)
    assert len(off) == 0


def test_a_sensor_that_jumps_across_its_band_switches_at_the_jump() -> None:
    step = History(time=np.array([0.0, 1000.0, 1000.0, 4000.0]), value=np.array([0.0, 0, 1, 1]))
    wall = BoundaryPart(name="wall", temperature=290.0, swing=-40.0, history=step)
    network = heated(wall, sensor="wall")
    solution = solved_transient(network, 4000.0, start=start_at(network, plate=280.0, wall=290.0))
    on, _ = switchings(solution)
    assert on == pytest.approx([1000.0], abs=1e-6)


def test_a_sensor_on_a_massless_node_is_refused_by_name() -> None:
    network = build(
        [
            NodePart(name="plate", capacity=2000.0),
            NodePart(name="film"),
            BoundaryPart(name="sink", temperature=250.0),
            LinkPart(a="plate", b="film", strength=0.5),
            LinkPart(a="film", b="sink", strength=0.5),
            ThermostatPart(node="film", sensor="film", power=30.0, on=LO, off=HI),
        ]
    )
    solution = transient(network, 1000.0, start=np.array([280.0, 270.0, 250.0]))
    assert "massless node 'film'" in solution.failure
    assert "heat capacity" in solution.failure


@pytest.mark.parametrize("width", [1.0, 0.1, 0.01])
def test_a_narrow_band_switches_as_often_as_it_must_and_no_more(width: float) -> None:
    """Chatter is impossible: every cycle crosses the whole band, so its length has a floor."""
    network = heated(on=275.0, off=275.0 + width)
    span = 40.0 * 300.0 * width
    solution = solved_transient(network, span, start=start_at(network, plate=275.0))
    on, off = switchings(solution)
    t_on = 4000.0 * math.log(35.0 / (35.0 - width))
    t_off = 4000.0 * math.log((25.0 + width) / 25.0)
    assert len(on) == pytest.approx(span / (t_on + t_off), abs=1.0)
    np.testing.assert_allclose(np.diff(off), t_on + t_off, rtol=0.01)


def test_a_thermostat_at_rest_on_its_threshold_does_not_chatter() -> None:
    """20 W and a heater of 10 W at 278.15 K: off, the plate falls; on, it would rise for ever."""
    network = heated(HeatPart(node="plate", amplitude=0.5 * 28.15), power=10.0)
    solution = solved_transient(network, 1e5, start=start_at(network, plate=HI))
    assert solution.switchings[0] <= 1
    assert solution.temperature[-1, 0] == pytest.approx(HI, abs=0.01)
