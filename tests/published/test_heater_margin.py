"""The published margin rules for heaters: what they ask for as a duty, and at which voltage."""

from __future__ import annotations

import pytest

from tests.published.record import Record
from tests.small_models import STEADY, pick, solved
from thermnet.heaters import HeaterRow, heater_table
from thermnet.margins import margins
from thermnet.model.kinds.settings import Uncertainty
from thermnet.results import Result

RULES = [
    Record(
        what="heater power over what is needed, at a duty of 80 %",
        inputs={"duty": 0.80},
        value=0.25,
        unit="1",
        tolerance=1e-9,
        source="SMC-S-016 (5 September 2014) 4.4.2.2: 25 % margin is a duty of at most 80 %",
        known="read",
    ),
    Record(
        what="heater power over what is needed, at a duty of 70 %",
        inputs={"duty": 0.70},
        value=0.43,
        unit="1",
        tolerance=0.005,
        source="GSFC-STD-1000: heaters at most 70 % duty at worst cold and minimum voltage",
        known="from memory",
    ),
]

VOLTAGE = Record(
    what="power of a resistor at 0.9 of its rated voltage",
    inputs={"voltage": 0.9},
    value=0.81,
    unit="1",
    tolerance=1e-12,
    source="Joule's and Ohm's laws, V squared over R",
    known="derived: closed form",
)


def heated(power: float, *, allowed: str = "", voltage: str = "nominal") -> Result:
    """A plate that needs as many watts as it has degC: duty 12 / (P + 2) between 10 and 12 degC.

    (Closed form: P d at 12 - 2 d degC.) The low bus voltage is 0.9 of the nominal one.
    """
    text = STEADY.replace("heat: 20 W", "heat: 0 W").replace(
        "{solve: steady}", f"{{solve: steady, bus_voltage: {voltage}}}"
    )
    text = text.replace("allowance: 5 K", f"allowance: 5 K{allowed}")
    return solved(
        f"""{text}
bus_voltage: {{low: 25.2 V, nominal: 28 V, high: 30 V}}
heaters:
  own: {{node: plate, power: {power!r} W, rated_voltage: 28 V, on_below: 10, off_above: 12}}
components:
  unit: {{at: plate, held_by: own, operating: [8, 40]}}
"""
    )


def row(result: Result) -> HeaterRow:
    (found,) = heater_table(result)
    return found


def power_for(duty: float) -> float:
    """Power [W] at which the plate's heater has a duty, at the voltage of its rating."""
    return 12.0 / duty - 2.0


@pytest.mark.parametrize("rule", RULES, ids=str)
def test_an_allowed_duty_is_a_margin_of_capacity(rule: Record) -> None:
    """At the low voltage the case's own duty counts."""
    duty = rule.inputs["duty"]
    found = row(heated(power_for(duty) / VOLTAGE.value, voltage="low"))
    assert found.duty_low == pytest.approx(duty)
    rule.check(found.margin)


@pytest.mark.parametrize("duty", [0.80, 0.70])
@pytest.mark.parametrize(("more", "verdict"), [(1.001, "holds"), (0.999, "allowance not covered")])
def test_the_rule_that_the_model_states_is_kept_to_a_tenth_of_a_percent(
    duty: float, more: float, verdict: str
) -> None:
    power = more * power_for(duty) / VOLTAGE.value
    result = heated(power, allowed=f", heater_duty: {duty}", voltage="low")
    assert row(result).verdict == verdict
    assert pick(result, "operating", "cold").verdict == verdict
    assert pick(result, "duty of own", "hot").verdict == verdict


def test_unless_stated_the_rule_is_that_of_the_published_standard() -> None:
    assert Uncertainty(policy="none").heater_duty == RULES[0].inputs["duty"]


def test_a_resistor_has_the_square_of_the_voltage_left() -> None:
    found = row(heated(14.0))
    assert found.low is not None
    VOLTAGE.check(found.low / found.power)


@pytest.mark.parametrize(("duty", "verdict"), [(0.647, "holds"), (0.649, "allowance not covered")])
def test_the_rule_holds_at_minimum_voltage_whatever_the_voltage_of_the_case(
    duty: float, verdict: str
) -> None:
    """Solved at the nominal voltage, 80 % at 0.9 of it are 0.81 x 80 % = 64.8 % (derived)."""
    result = heated(power_for(duty))
    assert row(result).duty == pytest.approx(duty)
    assert row(result).verdict == verdict
    assert pick(result, "duty of own", "hot").verdict == verdict
    assert {margin.verdict for margin in margins(result) if margin.quantity == "duty"} == {verdict}
