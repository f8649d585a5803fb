"""The heater table against closed forms: duty, shares, main and spare, proportional control."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from tests.heated_plate import DUTY, LINEAR, OWN, T_OFF, T_ON, cycles, linear, rows
from tests.small_models import celsius, solved
from thermnet.account import account
from thermnet.heaters import heater_table, heaters_together
from thermnet.results import Result
from thermnet.saved import write_csv
from thermnet.solve.adjoint import gradients, of_node
from thermnet.solve.solution import Options

# ---------------------------------------------------------------- duty, energy, switchings


def test_the_duty_of_a_thermostat_is_time_on_over_time_of_a_cycle() -> None:
    assert pytest.approx(0.427155, abs=1e-6) == DUTY
    row = rows(linear(case=cycles(20)))["own"]
    assert row.duty == pytest.approx(DUTY, abs=1e-4)
    assert row.mean == pytest.approx(12.8146, abs=3e-3)
    assert (row.power, row.enabled, row.verdict) == (30.0, 1.0, "holds")
    assert row.margin == pytest.approx(1.0 / DUTY - 1.0, abs=1e-3)


def test_a_thermostat_switches_twice_a_cycle() -> None:
    """2 x 86400 / (t_on + t_off) a day; over 40 cycles the ends may miss one switching."""
    result = linear(case=cycles(40))
    expected = 2.0 * 86400.0 / (T_ON + T_OFF)
    assert rows(result)["own"].switchings == pytest.approx(
        expected, abs=1.001 * 86400.0 / result.solution.span
    )


def test_energy_is_counted_by_the_day_where_there_is_no_orbit() -> None:
    """What the account says that heaters gave, over the time of the solve, times a day."""
    result = linear(case=cycles(20))
    total = heaters_together(result)
    joules = account(result.network, result.solution).by_origin()["heaters.own"]
    assert (total.per, total.turn) == ("day", 86400.0)
    assert total.energy == pytest.approx(joules / result.solution.span * 86400.0, rel=1e-6)
    assert total.in_shadow is None


def test_in_a_steady_state_a_heater_has_power_and_duty_alone() -> None:
    """By the proportional law 0.5 (T + 23.15) = 30 (5 - T) / 5: so T = 18.425 / 6.5 degC."""
    result = linear()
    row = rows(result)["own"]
    temperature = (30.0 - 0.5 * 23.15) / (0.5 + 6.0)
    assert row.duty == pytest.approx((5.0 - temperature) / 5.0)
    assert row.mean == pytest.approx(0.5 * (temperature + 23.15))
    assert (row.energy, row.in_shadow, row.switchings) == (None, None, None)
    assert heaters_together(result).peak is None


def test_a_sensor_elsewhere_holds_its_own_node_and_leaves_the_heated_one_warmer() -> None:
    """The tail, by 2 W/K behind the plate, is heated; all of it goes through the plate to the sink.

    T_plate as by a heater on it; T_tail = T_plate + P d / 2 (derived from the two balances).
    """
    text = LINEAR.replace(
        "from: tail, to: sink, conductance: 1", "from: tail, to: plate, conductance: 2"
    )
    heater = OWN.replace("node: plate", "node: tail, sensor: plate")
    result = solved(f"{text}heaters:\n  own: {{{heater}}}\ncases:\n  case: {{solve: steady}}\n")
    temperature = (30.0 - 0.5 * 23.15) / (0.5 + 6.0)
    mean = result.solution.mean
    assert celsius(mean[0]) == pytest.approx(temperature)
    assert celsius(mean[1]) == pytest.approx(temperature + 0.5 * (temperature + 23.15) / 2.0)


# ---------------------------------------------------------------- shares

SHARED = LINEAR.replace("250 K", "0 degC").replace("0.5 W/K", "1 W/K").replace(
    "tail, to: sink, conductance: 1 W/K}",
    "tail, to: sink, conductance: 0.5 W/K}\n  both: {from: plate, to: tail, conductance: 1 W/K}",
) + """
heaters:
  own: {shares: {plate: 0.6, tail: 0.4}, sensor: plate, power: 28 W, on_below: 10, off_above: 12}
components: {plate: {at: plate, operating: [0, 40], held_by: own}}
cases:
  case: {solve: steady}
  history: {solve: transient, duration: 3 h, initial: given}
  orbit: {solve: repeating, period: 2 h}
"""  # fmt: skip
# 2 T_p - T_t = 0.6 q and 1.5 T_t - T_p = 0.4 q: so T_p = 0.65 q and T_t = 0.7 q, with
# q = 28 (12 - T_p) / 2 by the proportional law.
Q = 14.0 * 12.0 / (1.0 + 14.0 * 0.65)


def test_shares_of_one_circuit_are_one_row_and_their_heat_is_the_circuit_s() -> None:
    result = solved(SHARED)
    assert len(result.network.thermostats.node) == 2
    (row,) = heater_table(result)
    assert celsius(result.solution.mean[0]) == pytest.approx(0.65 * Q)
    assert celsius(result.solution.mean[1]) == pytest.approx(0.7 * Q)
    assert (row.nodes, row.sensor, row.holds) == (("plate", "tail"), "plate", ("plate",))
    assert (row.power, row.mean, row.duty) == pytest.approx((28.0, Q, Q / 28.0))


@pytest.mark.parametrize("case", ["history", "orbit"])
@pytest.mark.parametrize(
    "options",
    [Options(), Options(compiled=False), Options(method="scipy-bdf")],
    ids=["compiled", "plain", "other integrator"],
)
def test_all_nodes_of_a_circuit_are_heated_at_the_same_instants(
    case: str, options: Options
) -> None:
    result = solved(SHARED, case, options=options)
    duty = result.solution.record.duty
    assert result.solution.switchings[0] > 2
    np.testing.assert_array_equal(duty[:, 0], duty[:, 1])
    assert heaters_together(result).peak == pytest.approx(28.0)


def test_the_gradient_by_the_power_of_a_shared_circuit_is_that_of_the_closed_form() -> None:
    """T = 0.65 q with q = 6 P / (1 + 0.325 P): dT/dP = 0.65 x 6 / (1 + 0.325 P)^2 at 28 W."""
    result = solved(SHARED)
    network = result.network
    (found,) = gradients(network, result.solution, [of_node(network, "plate", "mean")])
    assert np.dot([0.6, 0.4], found.power) == pytest.approx(0.65 * 6.0 / (1.0 + 0.325 * 28.0) ** 2)


def test_a_shared_circuit_is_one_column_of_the_temperatures_that_are_written(
    tmp_path: Path,
) -> None:
    path = write_csv(solved(SHARED, "history"), tmp_path / "history.csv")
    with path.open(encoding="utf-8") as file:
        table = list(csv.reader(file))
    assert table[0] == ["time [s]", "plate [degC]", "tail [degC]", "sink [degC]", "heaters.own"]
    assert {len(line) for line in table} == {5}


# ---------------------------------------------------------------- main and spare

BOTH = """\
main: {node: plate, power: %s W, on_below: 10, off_above: 12}
  spare: {node: plate, power: 40 W, on_below: 6, off_above: 8}"""


def circuits(main: str, case: str = "solve: steady", more: str = "") -> Result:
    """The plate loses 1 W/K to -20 degC; both circuits sense it."""
    text = LINEAR.replace("250 K", "-20 degC").replace("0.5 W/K", "1 W/K")
    return solved(f"{text}heaters:\n  {BOTH % main}\n{more}cases:\n  case: {{{case}}}\n")


def test_the_main_circuit_alone_holds_while_it_can() -> None:
    """40 (12 - T) / 2 = T + 20: T = 220 / 21 degC, above where the spare one would come on."""
    result = circuits("40")
    found = rows(result)
    assert celsius(result.solution.mean[0]) == pytest.approx(220.0 / 21.0)
    assert found["main"].duty == pytest.approx((12.0 - 220.0 / 21.0) / 2.0)
    assert (found["main"].verdict, found["spare"].verdict) == ("holds", "not needed")
    assert found["spare"].margin == math.inf


def test_the_spare_circuit_adds_what_a_weak_main_one_lacks() -> None:
    """20 W always on, and 40 (8 - T) / 2 of the spare: 20 + 160 - 20 T = T + 20, T = 160 / 21."""
    result = circuits("20")
    found = rows(result)
    temperature = 160.0 / 21.0
    assert celsius(result.solution.mean[0]) == pytest.approx(temperature)
    assert found["main"].duty == pytest.approx(1.0)
    assert found["main"].verdict == "allowance not covered"
    assert found["spare"].duty == pytest.approx((8.0 - temperature) / 2.0)
    assert found["spare"].verdict == "holds"
    total = heaters_together(result)
    assert (total.mean, total.installed) == pytest.approx((temperature + 20.0, 60.0))


def test_with_the_main_circuit_failed_off_the_spare_one_cycles_in_its_own_band() -> None:
    """On from 6 to 8 degC towards 20: 2000 ln(14 / 12) s; off from 8 to 6 towards -20."""
    t_on, t_off = 2000.0 * math.log(14.0 / 12.0), 2000.0 * math.log(28.0 / 26.0)
    duration = f"solve: transient, duration: {20.0 * (t_on + t_off)!r} s, initial: given"
    text = LINEAR.replace("250 K", "-20 degC").replace("0.5 W/K", "1 W/K")
    text = text.replace("initial: 0}", "initial: 6}", 1)
    heaters = (BOTH % "40").replace("40 W, on_below: 10", "40 W, failed: off, on_below: 10")
    result = solved(f"{text}heaters:\n  {heaters}\ncases:\n  case: {{{duration}}}\n")
    extremes = result.solution.extremes
    assert celsius(extremes.lowest[:, 0].min()) == pytest.approx(6.0, abs=1e-3)
    assert celsius(extremes.highest[:, 0].max()) == pytest.approx(8.0, abs=1e-3)
    found = rows(result)
    assert found["spare"].duty == pytest.approx(t_on / (t_on + t_off), abs=1e-3)
    assert (found["main"].verdict, found["main"].mean, found["main"].duty) == ("failed", 0.0, 0.0)
    assert found["main"].power == 40.0
    assert math.isnan(found["main"].margin)


def test_both_circuits_switch_where_the_main_one_is_too_weak() -> None:
    """20 W of the main never switch off below 10 degC: the spare one cycles from 6 to 8 degC.

    Off towards 0 degC: 2000 ln(8 / 6) s; on towards 40 degC: 2000 ln(34 / 32) s.
    """
    t_off, t_on = 2000.0 * math.log(8.0 / 6.0), 2000.0 * math.log(34.0 / 32.0)
    duration = f"solve: transient, duration: {10.0 * (t_on + t_off)!r} s, initial: given"
    text = LINEAR.replace("250 K", "-20 degC").replace("0.5 W/K", "1 W/K")
    text = text.replace("initial: 0}", "initial: 6}", 1)
    result = solved(f"{text}heaters:\n  {BOTH % '20'}\ncases:\n  case: {{{duration}}}\n")
    found = rows(result)
    assert found["spare"].duty == pytest.approx(t_on / (t_on + t_off), abs=1e-3)
    assert found["main"].duty == pytest.approx(1.0)
    assert heaters_together(result).peak == pytest.approx(60.0)


# ---------------------------------------------------------------- proportional control

IN_PROPORTION = f"own: {{{OWN}, control: proportional}}"


def test_proportional_control_settles_between_its_thresholds() -> None:
    """T = (G T_s + P off / band) / (G + P / band) (derived: the balance of one node)."""
    result = linear(IN_PROPORTION)
    temperature = (0.5 * -23.15 + 30.0 * 5.0 / 5.0) / (0.5 + 30.0 / 5.0)
    assert celsius(result.solution.mean[0]) == pytest.approx(temperature)
    row = rows(result)["own"]
    assert row.duty == pytest.approx((5.0 - temperature) / 5.0)
    assert row.mean == pytest.approx(0.5 * (temperature + 23.15))


def test_proportional_control_approaches_that_with_a_time_constant_of_its_own() -> None:
    """tau = C / (G + P / band); the mean duty over t is d + (d_0 - d) tau / t (1 - e^-t/tau)."""
    result = linear(IN_PROPORTION, "solve: transient, duration: 600 s, initial: given")
    tau = 2000.0 / 6.5
    settled = 1.0 - (30.0 - 0.5 * 23.15) / 6.5 / 5.0
    expected = settled + (1.0 - settled) * tau / 600.0 * (1.0 - math.exp(-600.0 / tau))
    row = rows(result)["own"]
    assert row.duty == pytest.approx(expected, rel=1e-3)
    assert row.switchings == 0.0
    joules = account(result.network, result.solution).by_origin()["heaters.own"]
    assert row.energy == pytest.approx(joules / 600.0 * 86400.0, rel=1e-6)
    assert heaters_together(result).peak == pytest.approx(30.0, rel=1e-3)


@pytest.mark.parametrize("band", [5.0, 0.5, 0.02])
def test_proportional_control_settles_however_narrow_its_band_among_radiating_nodes(
    band: float,
) -> None:
    """From a start that is 100 K off; it gives what leaves at the temperature it holds."""
    text = LINEAR.replace(
        "links:", "radiation:\n  plate: {from: plate, to: sink, area: 0.3 m2}\nlinks:"
    )
    text = text.replace("initial: 0}", "initial: 100}")
    heater = f"{{node: plate, power: 300 W, on_below: {5.0 - band}, off_above: 5, control: %s}}"
    found = [
        solved(f"{text}heaters:\n  own: {heater % how}\ncases:\n  case: {{solve: steady}}\n")
        for how in ("proportional", "thermostat")
    ]
    assert rows(found[0])["own"].mean == pytest.approx(rows(found[1])["own"].mean, rel=1e-6)
    assert 5.0 - band < celsius(found[0].solution.mean[0]) < 5.0


def test_proportional_control_in_an_orbit_makes_its_node_a_better_linked_one() -> None:
    """Within its band it gives 1.5 W/K (265 K - T): with 0.5 W/K to 205 K as 2 W/K to 250 K.

    Then 20 W for 0.6 of 5400 s, and 1000 J/K, lead to 250.132798 and 259.984866 K, 256 K in the
    mean (check-values 10.05, derived), and the duty is (265 - 256) / 20.
    """
    result = solved(
        """
thermnet: 1
nodes: {plate: {capacity: 1000 J/K}}
boundaries: {sink: {temperature: 205 K}}
links: {plate: {from: plate, to: sink, conductance: 0.5 W/K}}
loads: {plate: {node: plate, heat: 20 W, schedule: pulse}}
schedules: {pulse: {time: [0 s, 3240 s], value: [1, 0], shape: steps, period: 5400 s}}
heaters:
  own: {node: plate, power: 30 W, control: proportional, on_below: 245 K, off_above: 265 K}
cases: {case: {solve: repeating, period: 5400 s}}
""",
        options=Options(accuracy=1e-3),
    )
    extremes = result.solution.extremes
    assert extremes.lowest[:, 0].min() == pytest.approx(250.132798, abs=2e-3)
    assert extremes.highest[:, 0].max() == pytest.approx(259.984866, abs=2e-3)
    (row,) = heater_table(result)
    assert row.duty == pytest.approx(9.0 / 20.0, abs=1e-4)


def test_the_gradient_of_a_node_in_proportional_control_is_that_of_the_closed_form() -> None:
    """T = (G T_s + P off / b) / (G + P / b), in K: dT/dP = G (off - T_s) / b / (G + P / b)^2."""
    result = linear(IN_PROPORTION)
    network = result.network
    (found,) = gradients(network, result.solution, [of_node(network, "plate", "mean")])
    assert found.amplitude == pytest.approx([0.5 * 28.15 / 5.0 / 6.5**2])


def test_a_spare_circuit_is_listed_with_what_its_main_one_holds() -> None:
    spare = "{node: plate, power: 9 W, on_below: -9, off_above: -5, spare_of: own}"
    component = "components: {plate: {at: plate, operating: [-20, 40], held_by: own}}"
    found = rows(linear(f"own: {{{OWN}}}\n  spare: {spare}", more=component))
    assert found["own"].holds == found["spare"].holds == ("plate",)


def test_installed_is_at_least_the_power_as_solved() -> None:
    """By hand: a case at 36 V, above the model's high 32 V: 10 (36/28)^2 W, or at 24 V that of
    32 V."""
    text = (
        LINEAR
        + """
bus_voltage: {low: 24 V, nominal: 28 V, high: 32 V}
heaters: {own: {node: plate, power: 10 W, rated_voltage: 28 V, on_below: 0, off_above: 5}}
cases:
  above: {bus_voltage: 36 V}
  below: {bus_voltage: low}
"""
    )
    for case, volts in (("above", 36.0), ("below", 32.0)):
        installed = heaters_together(solved(text, case)).installed
        assert installed == pytest.approx(10.0 * (volts / 28.0) ** 2)
