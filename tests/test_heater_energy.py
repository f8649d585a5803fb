"""The heater table against closed forms: what is enabled or failed, shadow, and bus voltage."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from tests.heated_plate import LINEAR, OWN, cycles, linear, rows
from tests.small_models import celsius, model_of
from thermnet.heaters import heaters_together
from thermnet.results import solve

# ---------------------------------------------------------------- failed, enabled


@pytest.mark.parametrize("case", ["solve: steady", cycles(3), "solve: repeating, period: 3000 s"])
def test_a_circuit_failed_on_gives_full_power_at_any_temperature(case: str) -> None:
    """30 W through 0.5 W/K lead to 36.85 degC, far above where it should go off."""
    result = linear(f"own: {{{OWN}, failed: on}}", case)
    row = rows(result)["own"]
    assert (row.mean, row.duty, row.duty_low) == pytest.approx((30.0, 1.0, 1.0))
    assert row.verdict == "failed"
    if "transient" not in case:
        assert celsius(result.solution.mean[0]) == pytest.approx(36.85, abs=1e-3)


def test_a_circuit_that_may_heat_half_of_the_time_has_its_duty_in_that_half() -> None:
    """Enabled for 500 of 1000 s and on all of it: 15 W in the mean, with a duty of 1.

    A duty of one half would hide that it is at its limit.
    """
    schedule = (
        "schedules:\n  half: {time: [0 s, 500 s], value: [1, 0], shape: steps, period: 1000 s}"
    )
    heaters = "own: {node: plate, power: 30 W, on_below: 60, off_above: 65, enabled: half}"
    for case in ("solve: repeating, period: 1000 s", "solve: steady"):
        row = rows(linear(heaters, case, schedule))["own"]
        assert (row.enabled, row.duty, row.mean) == pytest.approx((0.5, 1.0, 15.0))
        assert row.verdict == "allowance not covered"


def test_what_a_schedule_switches_counts_as_switching() -> None:
    """On at the beginning of every 1000 s and off in the middle: 2 in 1000 s."""
    schedule = (
        "schedules:\n  half: {time: [0 s, 500 s], value: [1, 0], shape: steps, period: 1000 s}"
    )
    heaters = "own: {node: plate, power: 30 W, on_below: 60, off_above: 65, enabled: half}"
    row = rows(linear(heaters, "solve: repeating, period: 1000 s", schedule))["own"]
    assert row.switchings == pytest.approx(2.0 * 86.4)


def test_a_circuit_that_may_never_heat_is_neither_needed_nor_judged() -> None:
    never = "schedules:\n  never: {time: [0 s], value: [0]}"
    row = rows(linear(f"own: {{{OWN}, enabled: never}}", more=never))["own"]
    assert (row.verdict, row.enabled, row.duty, row.mean) == ("not enabled", 0.0, 0.0, 0.0)


# ---------------------------------------------------------------- orbit and shadow

LIT = "schedules:\n  sun: {time: [0 s, 600 s], value: [1, 0], shape: steps, period: 1000 s}"


def test_energy_in_shadow_of_a_heater_that_is_always_on_is_power_times_shadow() -> None:
    """400 of every 1000 s are dark, in two of three periods as in one: 30 W x 0.4 x 86400 s."""
    for case in (
        "solve: repeating, period: 1000 s, sunlit: sun",
        "solve: transient, duration: 3000 s, sunlit: sun, initial: given",
    ):
        total = heaters_together(linear(f"own: {{{OWN}, failed: on}}", case, LIT))
        assert total.in_shadow == pytest.approx(30.0 * 0.4 * 86400.0, rel=1e-9)
        assert total.energy == pytest.approx(30.0 * 86400.0)


def test_a_heater_that_may_heat_only_in_the_dark_has_all_its_energy_there() -> None:
    dark = LIT + "\n  dark: {time: [0 s, 600 s], value: [0, 1], shape: steps, period: 1000 s}"
    heaters = "own: {node: plate, power: 30 W, on_below: 60, off_above: 65, enabled: dark}"
    row = rows(linear(heaters, "solve: repeating, period: 1000 s, sunlit: sun", dark))["own"]
    assert row.energy == pytest.approx(30.0 * 0.4 * 86400.0)
    assert row.in_shadow == pytest.approx(row.energy)


def test_energy_is_counted_by_the_orbit_where_there_is_one() -> None:
    """At 500 km and beta 0 the period is 5677.0 s and 0.37788 of it is dark (check-values 3.1,
    derived): 30 W for 2145.2 s.
    """
    orbit = """
orbits: {low: {altitude: 500 km, beta: 0 deg, shadow: cylinder}}
pointings: {nadir: {axis: +z, to: nadir, second_axis: +x, second_to: velocity}}
environments:
  own: {albedo: 0.3, infrared: 237 W/m2, sunlight: 1361 W/m2, infrared_height: 0 m, note: invented}
"""
    case = "solve: repeating, orbit: low, pointing: nadir, environment: own"
    total = heaters_together(linear(f"own: {{{OWN}, failed: on}}", case, orbit))
    assert total.per == "orbit"
    assert total.turn == pytest.approx(5677.0, abs=0.1)
    assert total.energy == pytest.approx(30.0 * 5677.0, rel=1e-4)
    assert total.in_shadow == pytest.approx(30.0 * 0.37788 * 5677.0, rel=1e-4)


def test_in_an_orbit_without_shadow_no_energy_is_taken_in_it() -> None:
    sun = "schedules:\n  sun: {time: [0 s], value: [1]}"
    case = "solve: repeating, period: 1000 s, sunlit: sun"
    assert rows(linear(f"own: {{{OWN}, failed: on}}", case, sun))["own"].in_shadow == 0.0


# ---------------------------------------------------------------- bus voltage

RATED = f"own: {{{OWN.replace('30 W', '30 W, rated_voltage: 28 V')}}}"
VOLTAGES = "bus_voltage: {low: 24 V, nominal: 28 V, high: 32 V}"


def test_a_resistor_is_shown_at_all_three_voltages() -> None:
    """30 W (V / 28 V)^2 (Joule's and Ohm's laws), whatever the voltage of the case."""
    for voltage, own in (("low", 24.0), ("nominal", 28.0), ("29 V", 29.0)):
        row = rows(linear(RATED, f"solve: steady, bus_voltage: {voltage}", VOLTAGES))["own"]
        powers = tuple(30.0 * (volts / 28.0) ** 2 for volts in (own, 24.0, 32.0))
        assert (row.power, row.low, row.high) == pytest.approx(powers)


def test_a_power_that_does_not_go_with_voltage_is_the_same_at_all_of_them() -> None:
    row = rows(linear(case="solve: steady, bus_voltage: low", more=VOLTAGES))["own"]
    assert (row.power, row.low, row.high) == (30.0, 30.0, 30.0)
    assert row.duty_low == row.duty


def test_the_duty_at_low_voltage_is_the_same_mean_power_of_a_weaker_heater() -> None:
    """(32 / 24)^2 times that of the case at 32 V."""
    row = rows(linear(RATED, "solve: steady, bus_voltage: high", VOLTAGES))["own"]
    assert row.duty_low == pytest.approx(row.duty * (32.0 / 24.0) ** 2)
    assert row.low is not None
    assert row.low * row.duty_low == pytest.approx(row.mean)


def test_the_duty_at_low_voltage_is_nearly_what_a_solve_at_low_voltage_gives() -> None:
    """In a narrow band the sensor is as warm at either voltage, so it needs the same power."""
    narrow = RATED.replace("on_below: 0", "on_below: 4.95")
    high, low = (
        rows(linear(narrow, f"solve: steady, bus_voltage: {name}", VOLTAGES))["own"]
        for name in ("high", "low")
    )
    assert high.duty_low == pytest.approx(low.duty, rel=1e-3)
    assert low.duty_low == low.duty


def test_a_case_below_the_low_voltage_is_judged_at_its_own() -> None:
    row = rows(linear(RATED, "solve: steady, bus_voltage: 22 V", VOLTAGES))["own"]
    assert row.duty_low == row.duty


def test_a_low_voltage_that_does_not_do_is_told_by_a_duty_above_one() -> None:
    weak = RATED.replace("30 W,", "16 W,")
    row = rows(linear(weak, "solve: steady, bus_voltage: high", VOLTAGES))["own"]
    assert row.duty < 0.8
    assert row.duty_low > 1.0
    assert (row.verdict, row.margin < 0.0) == ("allowance not covered", True)


def test_what_is_installed_counts_at_the_high_voltage() -> None:
    heaters = (
        f"{RATED}\n  other: {{node: tail, power: 5 W, on_below: 0, off_above: 5, failed: off}}"
    )
    total = heaters_together(linear(heaters, "solve: steady, bus_voltage: low", VOLTAGES))
    assert total.installed == pytest.approx(30.0 * (32.0 / 28.0) ** 2 + 5.0)


def test_a_case_that_was_not_solved_says_nothing_of_its_heaters() -> None:
    result = solve(
        model_of(f"{LINEAR}heaters:\n  own: {{{OWN}}}\ncases:\n  case: {{solve: steady}}\n"), "case"
    )
    failed = replace(result, solution=replace(result.solution, failure="no solution was found"))
    row = rows(failed)["own"]
    assert (row.verdict, row.energy, row.switchings) == ("not solved", None, None)
    assert math.isnan(row.duty)
    assert heaters_together(failed).peak is None


def test_a_heater_of_no_power_is_told_as_such_and_not_as_one_that_may_not_heat() -> None:
    row = rows(linear(f"own: {{{OWN.replace('30 W', '0 W')}}}"))["own"]
    assert (row.verdict, row.mean) == ("no power", 0.0)
