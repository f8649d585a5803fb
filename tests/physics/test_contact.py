"""Joints: the range of their conductance, and how it goes with pressure."""

from __future__ import annotations

import pytest

from thermnet.physics.contact import Ranged, Use, pressed

BOLT = Ranged(name="bolt", low=0.5, nominal=1.0, high=2.0)
LONE = Ranged(name="lone", nominal=1.0)


@pytest.mark.parametrize(("use", "value"), [("low", 0.5), ("nominal", 1.0), ("high", 2.0)])
def test_each_use_takes_its_value_of_the_range(use: Use, value: float) -> None:
    assert BOLT.at(use) == value


@pytest.mark.parametrize("use", ["low", "high"])
def test_an_end_that_nobody_states_is_not_guessed(use: Use) -> None:
    with pytest.raises(ValueError, match=f"'lone' states no '{use}' value"):
        LONE.at(use)
    assert LONE.at("nominal") == 1.0


def test_ten_times_the_pressure_conducts_five_times_as_well() -> None:
    # derived from the exponent 0.73 (ASME J. Heat Transfer 94 (3), 276 (1972), read in its
    # abstract): 10^0.73 = 5.37
    assert pressed(1e6, 1e5) == pytest.approx(5.37, abs=5e-3)


def test_the_pressure_of_the_values_itself_changes_nothing() -> None:
    assert pressed(3e5, 3e5) == 1.0


def test_pressing_twice_is_pressing_by_the_product() -> None:
    assert pressed(4e5, 1e5) == pytest.approx(pressed(2e5, 1e5) * pressed(4e5, 2e5))


@pytest.mark.parametrize("pressure", [0.99e4, 1.01e6])
def test_a_pressure_more_than_ten_times_off_is_refused(pressure: float) -> None:
    with pytest.raises(ValueError, match="more than 10 times off the 100000 Pa"):
        pressed(pressure, 1e5)
