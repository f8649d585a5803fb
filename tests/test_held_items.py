"""Items that a heater holds: its capacity margin in place of the cold-side allowance."""

from __future__ import annotations

import math

import pytest

from tests.small_models import STEADY, celsius, pick, solved
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


def test_a_failed_heater_holds_nothing_and_the_allowance_is_back() -> None:
    """0 degC - 5 K against -4."""
    failed = HELD.replace("14 W,", "14 W, failed: true,")
    result = held("operating: [-4, 40]", heater=failed)
    cold = pick(result, "operating", "cold")
    assert (cold.allowance, cold.held_by, cold.verdict) == (5.0, "", "allowance not covered")
    assert cold.margin == pytest.approx(-1.0)
    assert not [margin for margin in margins(result) if margin.quantity == "duty"]


def test_a_failed_heater_does_not_make_its_sensor_range_over_a_band() -> None:
    """At 0 degC, in the middle of a band from -1 to 1 degC, but without heat."""
    failed = HELD.replace("14 W,", "14 W, failed: true,").replace(
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
