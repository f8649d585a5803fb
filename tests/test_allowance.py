"""The uncertainty allowance by policy, against the printed rules of the standard."""

from __future__ import annotations

from typing import Literal

import pytest

from thermnet.allowance import allowance
from thermnet.model.kinds.settings import Uncertainty
from thermnet.physics.constants import ZERO_CELSIUS

TESTED = Uncertainty(policy="SMC-S-016", balance_tested=True)
UNTESTED = Uncertainty(policy="SMC-S-016", balance_tested=False)
FLAT = Uncertainty(policy="flat", allowance=5.0)
NONE = Uncertainty(policy="none")

# SMC-S-016 (5 September 2014) Table 4.4-2, passive hardware colder than -70 degC by its predicted
# temperature (check-value 9.06: read in the standard): one predicted temperature inside each row.
COLD_ROWS = [
    (-60.0, 11.0), (-78.0, 10.0), (-96.0, 9.0), (-114.0, 8.0), (-132.0, 7.0), (-150.0, 6.0),
    (-168.0, 5.0), (-186.0, 4.0), (-204.0, 3.0), (-223.0, 2.0), (-240.0, 1.0),
]  # fmt: skip


def of(policy: Uncertainty, celsius: float, side: Literal["hot", "cold"] = "hot") -> float:
    return allowance(policy, None, celsius + ZERO_CELSIUS, side)


def test_a_flat_policy_gives_its_own_value_at_any_temperature() -> None:
    assert [of(FLAT, celsius) for celsius in (-200.0, 20.0, 400.0)] == [5.0, 5.0, 5.0]


def test_no_policy_gives_nothing() -> None:
    assert of(NONE, 20.0) == 0.0


def test_passive_hardware_has_11_K_after_a_thermal_balance_test() -> None:
    """SMC-S-016 4.4.2.1 (check-value 9.04: read in the standard)."""
    assert of(TESTED, 20.0, "hot") == of(TESTED, 20.0, "cold") == 11.0


def test_passive_hardware_has_17_K_without_a_thermal_balance_test() -> None:
    """SMC-S-016 4.4.2.1 (check-value 9.04: read in the standard)."""
    assert of(UNTESTED, 20.0, "hot") == of(UNTESTED, 20.0, "cold") == 17.0


@pytest.mark.parametrize(("predicted", "value"), COLD_ROWS)
def test_cold_hardware_has_less_by_its_predicted_temperature(
    predicted: float, value: float
) -> None:
    """Table 4.4-2: the row is that of the predicted, not of the calculated temperature."""
    assert of(TESTED, predicted - value, "hot") == value
    assert of(TESTED, predicted + value, "cold") == value


@pytest.mark.parametrize(
    ("last", "value", "following"),
    [(-87.0, 10.0, 9.0), (-123.0, 8.0, 7.0), (-195.0, 4.0, 3.0), (-232.0, 2.0, 1.0)],
)
def test_a_row_of_cold_hardware_holds_down_to_its_printed_end(
    last: float, value: float, following: float
) -> None:
    """Table 4.4-2 (check-value 9.06): -70 to -87: 10, ..., -214 to -232: 2, below -232: 1."""
    assert of(TESTED, last + value + 0.01, "cold") == value
    assert of(TESTED, last - 1.0 + following, "cold") == following


def test_where_two_rows_fit_the_larger_allowance_is_taken() -> None:
    """Calculated -59.5: with 11 K -70.5, out of the row above -70; with 10 K -69.5, in it too."""
    assert of(TESTED, -59.0, "cold") == 11.0
    assert of(TESTED, -59.5, "cold") == 10.0


def test_untested_hardware_has_17_K_however_cold_it_is() -> None:
    """4.4.2.1 states 17 for any unit not balance tested (check-value 9.04: read)."""
    assert of(UNTESTED, -150.0, "cold") == 17.0


@pytest.mark.parametrize("policy", [FLAT, NONE, TESTED, UNTESTED])
def test_a_component_s_own_allowance_stands_before_any_policy(policy: Uncertainty) -> None:
    assert allowance(policy, 3.0, 293.15, "cold") == 3.0
    assert allowance(policy, 0.0, 293.15, "hot") == 0.0
