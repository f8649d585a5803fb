"""The calculated temperature at which a predicted one reaches a limit."""

from __future__ import annotations

import pytest

from tests.small_models import STEADY, celsius, solved
from thermnet.margins import Side
from thermnet.model.kinds.component import Component
from thermnet.physics.constants import ZERO_CELSIUS
from thermnet.studies.levels import level_of


def level(policy: str, side: Side, limit: float, own: str = "") -> float:
    """The level [degC] for a limit [degC] of a component under a policy."""
    text = STEADY.replace("policy: flat, allowance: 5 K", policy)
    text += f"components:\n  plate: {{at: plate, operating: [-200, 200]{own}}}\n"
    result = solved(text)
    component = result.model.entries(Component, "components")["plate"]
    return celsius(level_of(result, component, side, limit + ZERO_CELSIUS))


# SMC-S-016 Table 4.4-2 (read in the standard): 11 degC down to predictions of -70 degC, 10 to
# -87 degC, 9 to -105 degC.
@pytest.mark.parametrize(
    ("side", "limit", "expected"),
    [
        ("cold", 0.0, 11.0),
        ("hot", 40.0, 29.0),
        ("cold", -100.0, -91.0),
        ("hot", -100.0, -109.0),
        ("hot", -86.5, -96.5),
        ("hot", -87.5, -97.0),  # where 9 degC give way to 10
    ],
)
def test_the_allowance_of_cold_hardware_is_that_at_the_limit(
    side: Side, limit: float, expected: float
) -> None:
    policy = "policy: SMC-S-016, balance_tested: true"
    assert level(policy, side, limit) == pytest.approx(expected, abs=2e-6)


@pytest.mark.parametrize("own", [0.1, 1.0 / 3.0, 7.7, 25.0])
@pytest.mark.parametrize("limit", [-123.4, -0.1, 33.3])
def test_an_allowance_of_its_own_is_taken_off_on_both_sides(limit: float, own: float) -> None:
    stated = f", uncertainty: {own!r} K"
    assert level("policy: none", "cold", limit, stated) == pytest.approx(limit + own)
    assert level("policy: none", "hot", limit, stated) == pytest.approx(limit - own)


def test_without_an_allowance_the_level_is_the_limit() -> None:
    assert level("policy: none", "cold", -20.0) == pytest.approx(-20.0)
    assert level("policy: none", "hot", 50.0) == pytest.approx(50.0)
