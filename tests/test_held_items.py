"""Items that a heater holds: its capacity margin in place of the cold-side allowance."""

from __future__ import annotations

import math

import pytest

from tests.small_models import STEADY, celsius, pick, solved
from thermnet.errors import InputError
from thermnet.margins import margins
from thermnet.results import Result

HELD = """
heaters:
  plate: {node: plate, power: 14 W, on_below: 10, off_above: 12}
"""
# Without its load the plate needs as many watts as it has degrees, and by the proportional law
# the heater gives P d at 12 - 2 d degC: so d = 12 / (P + 2), 0.75 for 14 W (closed form).


def held(
    component: str = "operating: [8, 40]", heater: str = HELD, *, more: str = "", case: str = ""
) -> Result:
    text = STEADY.replace("heat: 20 W", "heat: 0 W").replace("{solve: steady}", f"{{{case}}}")
    if not case:
        text = text.replace("{}", "{solve: steady}")
    return solved(
        f"{text}{heater}{more}components:\n  unit: {{at: plate, held_by: plate, {component}}}\n"
    )


def test_a_cycling_sensor_takes_its_thermostat_s_band_as_its_range() -> None:
    """The steady state stands at 10.5 degC; in truth it goes from 10 to 12 degC and back."""
    result = held()
    assert celsius(result.solution.mean[result.network.index("plate")]) == pytest.approx(10.5)
    assert celsius(pick(result, "operating", "cold").calculated) == pytest.approx(10.0)
    assert celsius(pick(result, "operating", "hot").calculated) == pytest.approx(12.0)


def test_a_heater_that_is_always_on_or_off_leaves_its_sensor_where_it_is() -> None:
    weak = HELD.replace("14 W", "9 W")
    assert celsius(pick(held(heater=weak), "operating", "cold").calculated) == pytest.approx(9.0)
    idle = HELD.replace("10, off_above: 12", "-9, off_above: -5")
    result = held("operating: [-20, 40]", heater=idle)
    assert celsius(pick(result, "operating", "cold").calculated) == pytest.approx(0.0, abs=1e-9)


def test_the_heater_that_holds_an_item_takes_the_place_of_its_cold_allowance() -> None:
    """10 degC calculated is 10 degC predicted: 2 K inside the limit of 8."""
    cold = pick(held(), "operating", "cold")
    assert (cold.allowance, cold.held_by, cold.verdict) == (0.0, "plate", "holds")
    assert cold.margin == pytest.approx(2.0)
    assert (cold.duty, cold.allowed_duty) == pytest.approx((0.75, 0.8))


def test_the_hot_side_of_a_held_item_keeps_its_allowance() -> None:
    """12 degC + 5 K against 16."""
    hot = pick(held("operating: [8, 16]"), "operating", "hot")
    assert (hot.allowance, hot.held_by) == (5.0, "")
    assert hot.margin == pytest.approx(-1.0)
    assert hot.verdict == "allowance not covered"


@pytest.mark.parametrize(
    ("power", "verdict"), [("13.1 W", "holds"), ("12.9 W", "allowance not covered")]
)
def test_a_held_item_needs_its_heater_s_capacity_margin(power: str, verdict: str) -> None:
    """Duty 12 / (P + 2) is 0.8 at 13 W: 25 % more power than needed (check-value 9.07: read)."""
    result = held(heater=HELD.replace("14 W", power))
    assert pick(result, "operating", "cold").verdict == verdict
    assert pick(result, "duty of plate", "hot").verdict == verdict


def test_the_allowed_duty_is_the_model_s() -> None:
    text = STEADY.replace("allowance: 5 K", "allowance: 5 K, heater_duty: 0.7")
    text = text.replace("heat: 20 W", "heat: 0 W")
    component = "components:\n  unit: {at: plate, held_by: plate, operating: [8, 40]}\n"
    duty = pick(solved(text + HELD + component), "duty of plate", "hot")
    assert (duty.calculated, duty.limit, duty.margin) == pytest.approx((0.75, 0.7, -0.05))
    assert duty.verdict == "allowance not covered"


def test_the_capacity_margin_is_that_at_the_bus_voltage_of_the_case() -> None:
    """At 24 of 28 V: 14 W become 10.29 W and the duty 12 / 12.29 = 0.977."""
    rated = HELD.replace("14 W,", "14 W, rated_voltage: 28 V,")
    cold = pick(held(heater=rated, case="solve: steady, bus_voltage: 24 V"), "operating", "cold")
    assert cold.duty == pytest.approx(12.0 / (14.0 * (24.0 / 28.0) ** 2 + 2.0))
    assert cold.verdict == "allowance not covered"


def test_the_capacity_margin_is_that_at_the_low_bus_voltage_of_the_model() -> None:
    """14 W at 28 V with a duty of 0.75 are 10.29 W at 24 V, and the duty for the same mean power
    is 0.75 (28 / 24)^2 = 1.02: too weak (derived from the V squared law).
    """
    rated = HELD.replace("14 W,", "14 W, rated_voltage: 28 V,")
    voltages = "bus_voltage: {low: 24 V, nominal: 28 V, high: 32 V}\n"
    case = "solve: steady, bus_voltage: nominal"
    result = held(heater=rated, more=voltages, case=case)
    cold = pick(result, "operating", "cold")
    assert cold.duty == pytest.approx(0.75 * (28.0 / 24.0) ** 2)
    assert (cold.held_by, cold.verdict) == ("plate", "allowance not covered")
    assert pick(result, "duty of plate", "hot").verdict == "allowance not covered"


def test_a_heater_that_does_not_go_with_voltage_has_one_capacity_margin() -> None:
    voltages = "bus_voltage: {low: 24 V, nominal: 28 V, high: 32 V}\n"
    result = held(more=voltages, case="solve: steady, bus_voltage: high")
    assert pick(result, "operating", "cold").duty == pytest.approx(0.75)


def test_an_item_may_be_held_in_proportion() -> None:
    """The steady law is the same: duty 12 / (14 + 2), but the sensor stands still at 10.5 degC."""
    proportional = HELD.replace("14 W,", "14 W, control: proportional,")
    cold = pick(held(heater=proportional), "operating", "cold")
    assert celsius(cold.calculated) == pytest.approx(10.5)
    assert (cold.held_by, cold.allowance, cold.verdict) == ("plate", 0.0, "holds")
    assert cold.duty == pytest.approx(0.75)


def test_the_thresholds_that_a_case_uses_decide_whether_a_heater_comes_on_in_time() -> None:
    """On at -3 degC in time for -4, but not with a tolerance of 2 K at its low end."""
    text = HELD.replace("10, off_above: 12", "-3, off_above: -1, tolerance: 2 K, use: nominal")
    assert pick(held("operating: [-4, 40]", heater=text), "operating", "cold").held_by == "plate"
    low = text.replace("nominal", "low")
    assert pick(held("operating: [-4, 40]", heater=low), "operating", "cold").held_by == ""


def test_a_failed_heater_holds_nothing_and_the_allowance_is_back() -> None:
    """0 degC - 5 K against -4."""
    failed = HELD.replace("14 W,", "14 W, failed: off,")
    result = held("operating: [-4, 40]", heater=failed)
    cold = pick(result, "operating", "cold")
    assert (cold.allowance, cold.held_by, cold.verdict) == (5.0, "", "allowance not covered")
    assert cold.margin == pytest.approx(-1.0)
    assert not [margin for margin in margins(result) if margin.quantity == "duty"]


SPARE = HELD + ("  spare: {node: plate, power: 14 W, on_below: 4, off_above: 6, spare_of: plate}\n")
# With the main circuit failed off the spare one gives 14 d at 6 - 2 d degC: d = 6 / 16.


def test_a_spare_circuit_holds_an_item_once_the_main_one_gives_no_heat() -> None:
    found = held("operating: [3, 40]", heater=SPARE.replace("14 W,", "14 W, failed: off,", 1))
    cold = pick(found, "operating", "cold")
    assert celsius(cold.calculated) == pytest.approx(4.0)
    assert (cold.allowance, cold.verdict) == (0.0, "holds")
    assert cold.duty == pytest.approx(6.0 / 16.0)


def test_a_spare_circuit_counts_for_nothing_while_the_main_one_works() -> None:
    assert pick(held(heater=SPARE), "operating", "cold").duty == pytest.approx(0.75)


def test_a_spare_circuit_holds_nothing_when_it_fails_too_or_comes_on_too_late() -> None:
    none = SPARE.replace("14 W,", "14 W, failed: off,")
    assert pick(held("operating: [-9, 40]", heater=none), "operating", "cold").allowance == 5.0
    late = SPARE.replace("14 W,", "14 W, failed: off,", 1).replace(
        "4, off_above: 6", "-9, off_above: -5"
    )
    assert pick(held("operating: [-4, 40]", heater=late), "operating", "cold").allowance == 5.0


def test_a_main_circuit_failed_on_leaves_nothing_to_its_spare_one() -> None:
    """14 degC, and what would come on at 4 degC does not control it."""
    stuck = SPARE.replace("14 W,", "14 W, failed: on,", 1)
    cold = pick(held("operating: [10, 40]", heater=stuck), "operating", "cold")
    assert (cold.held_by, cold.allowance) == ("", 5.0)


def test_an_unknown_main_circuit_is_named_with_the_nearest() -> None:
    with pytest.raises(InputError, match="unknown heater 'plte'; did you mean 'plate'"):
        held(heater=SPARE.replace("spare_of: plate", "spare_of: plte"))


def test_a_heater_failed_on_controls_nothing_and_the_allowance_is_back() -> None:
    """14 W through 1 W/K: 14 degC calculated, 9 predicted, against 10."""
    stuck = HELD.replace("14 W,", "14 W, failed: on,")
    cold = pick(held("operating: [10, 40]", heater=stuck), "operating", "cold")
    assert celsius(cold.calculated) == pytest.approx(14.0)
    assert cold.held_by == ""
    assert cold.margin == pytest.approx(-1.0)


def test_a_failed_heater_does_not_make_its_sensor_range_over_a_band() -> None:
    """At 0 degC, in the middle of a band from -1 to 1 degC, but without heat."""
    failed = HELD.replace("14 W,", "14 W, failed: off,").replace(
        "10, off_above: 12", "-1, off_above: 1"
    )
    cold = pick(held("operating: [-20, 40]", heater=failed), "operating", "cold")
    assert celsius(cold.calculated) == pytest.approx(0.0, abs=1e-9)


def test_a_heater_that_would_come_on_only_below_the_limit_holds_nothing() -> None:
    """0 degC against -4, the heater comes on at -9: the allowance of 5 K is not covered."""
    late = HELD.replace("10, off_above: 12", "-9, off_above: -5")
    cold = pick(held("operating: [-4, 40]", heater=late), "operating", "cold")
    assert (cold.held_by, cold.verdict) == ("", "allowance not covered")
    in_time = HELD.replace("10, off_above: 12", "-3, off_above: -1")
    cold = pick(held("operating: [-4, 40]", heater=in_time), "operating", "cold")
    assert (cold.held_by, cold.duty, cold.verdict) == ("plate", 0.0, "holds")


GIVEN = "solve: transient, duration: 3000 s, initial: given"


def enabled(values: str) -> Result:
    """An hour in which the heater may be disabled; the plate starts at 0 degC."""
    schedule = (
        f"\nschedules:\n  heating: {{time: [0 s, 1000 s, 2500 s], value: {values}, shape: steps}}\n"
    )
    heater = HELD.replace("12}", "12, enabled: heating}").replace("14 W", "40 W")
    return held("operating: [-9, 40], windows: {late: {band: [0, 40], from: 1500 s, to: 2800 s}}",
                heater, more=schedule, case=GIVEN)  # fmt: skip


def test_a_heater_that_is_not_enabled_at_the_extreme_holds_nothing() -> None:
    """Disabled from 1000 to 2500 s: coldest at 2500 s, exp(-1.5) of what it was at 1000 s."""
    result = enabled("[1, 0, 1]")
    cold = pick(result, "late", "cold")
    assert cold.instant == pytest.approx(2500.0)
    record = result.solution.record
    at_1000 = record.temperature[abs(record.time - 1000.0).argmin(), 0]
    assert celsius(cold.calculated) == pytest.approx(celsius(at_1000) * math.exp(-1.5), abs=0.02)
    assert (cold.held_by, cold.allowance) == ("", 5.0)
    assert cold.verdict == "allowance not covered"


def test_a_heater_that_is_enabled_at_the_extreme_holds_whatever_came_before() -> None:
    """Disabled until 1000 s, and the window begins at 1500 s."""
    cold = pick(enabled("[0, 1, 1]"), "late", "cold")
    assert celsius(cold.calculated) == pytest.approx(10.0, abs=0.02)
    assert (cold.held_by, cold.allowance, cold.verdict) == ("plate", 0.0, "holds")


def test_a_heater_enabled_by_modes_holds_in_these_alone() -> None:
    """Safe until 1000 s and again from 2500 s on; coldest in the window at 2500 s, when it comes on
    again, so that nothing held it.
    """
    modes = """modes: {safe: {}, sun: {}}
timelines:
  day:
    steps:
      before: {mode: safe, duration: 1000 s}
      between: {mode: sun, duration: 1500 s}
      after: {mode: safe}
"""
    heater = HELD.replace("12}", "12, modes: [safe]}").replace("14 W", "40 W")
    windows = "windows: {late: {band: [0, 40], from: 1500 s, to: 2400 s}}"
    result = held(f"operating: [-9, 40], {windows}", heater, more=modes,
                  case=f"{GIVEN}, timeline: day")  # fmt: skip
    cold = pick(result, "late", "cold")
    assert cold.instant == pytest.approx(2400.0)
    assert (cold.held_by, cold.allowance, cold.verdict) == ("", 5.0, "allowance not covered")
    always = modes.replace("mode: sun", "mode: safe")
    result = held(f"operating: [-9, 40], {windows}", heater, more=always,
                  case=f"{GIVEN}, timeline: day")  # fmt: skip
    assert pick(result, "late", "cold").held_by == "plate"


def test_the_duty_is_that_of_the_heater_that_holds() -> None:
    """Two heaters, 20 W and 14 W: 12 / (20 + 2) and 12 / (14 + 2)."""
    text = STEADY.replace("heat: 20 W", "heat: 0 W").replace("heat: 12 W", "heat: 0 W")
    heaters = """
heaters:
  mirror: {node: mirror, power: 20 W, on_below: 10, off_above: 12}
  plate: {node: plate, power: 14 W, on_below: 10, off_above: 12}
components:
  unit: {at: plate, held_by: plate, operating: [8, 40]}
  optics: {at: mirror, held_by: mirror, operating: [8, 40]}
"""
    result = solved(text + heaters)
    assert pick(result, "operating", "cold", "unit").duty == pytest.approx(0.75)
    assert pick(result, "operating", "cold", "optics").duty == pytest.approx(12.0 / 22.0)
