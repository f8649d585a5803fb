"""Solar cells over temperature, and the charge of a battery over time."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermnet.physics.cells import Charge, charge_over_time, efficiency_curve
from thermnet.physics.curves import Floats


def charge(time: list[float], surplus: list[float], **changes: float) -> Charge:
    """Of a battery of 1000 J that begins with 500 J and loses nothing unless told otherwise."""
    usual = {
        "capacity": 1000.0,
        "begins": 500.0,
        "charge_efficiency": 1.0,
        "discharge_efficiency": 1.0,
    }
    return charge_over_time(np.array(time), np.array(surplus), **(usual | changes))


def full_from(found: Charge) -> Floats:
    before = np.append(False, found.full[:-1])
    return np.asarray(found.time[:-1][found.full & ~before])


def test_efficiency_falls_in_a_straight_line_from_that_at_the_reference_temperature() -> None:
    # Derived, 0.28 - 0.0006/K x 60 K = 0.244: 0.244/0.28 of that at 301.15 K.
    curve = efficiency_curve(0.28, 301.15, -0.0006, 0.9)
    assert curve is not None
    assert curve.value(np.array([301.15, 361.15])) == pytest.approx([1.0, 0.244 / 0.28])


def test_efficiency_is_never_below_zero_and_no_more_than_is_absorbed() -> None:
    # Derived: zero at 301.15 + 0.28/0.0006 K; 0.3 is reached at 301.15 - 0.02/0.0006 K.
    curve = efficiency_curve(0.28, 301.15, -0.0006, 0.3)
    assert curve is not None
    assert curve.value(np.array([800.0]))[0] == 0.0
    assert curve.value(np.array([100.0]))[0] == pytest.approx(0.3 / 0.28)


def test_constant_efficiency_needs_no_curve() -> None:
    assert efficiency_curve(0.28, 301.15, 0.0, 0.9) is None


def test_a_constant_surplus_fills_the_battery_after_its_room_over_what_is_held_of_it() -> None:
    # Derived: 500 J of room at 0.8 x 10 W.
    found = charge([0.0, 100.0], [10.0, 10.0], charge_efficiency=0.8)
    assert full_from(found) == pytest.approx([500.0 / 8.0])
    assert found.energy[-1] == 1000.0
    # Derived: of each watt put in 0.2 W is heat, until it is full.
    assert found.losses[-1] == pytest.approx(0.2 * 10.0 * 62.5)


def test_a_load_empties_the_battery_faster_by_the_efficiency_of_discharging() -> None:
    # Derived: 10 W takes 12.5 W out of 500 J, for 40 s; in the 20 s after 200 J are lacking.
    found = charge([0.0, 60.0], [-10.0, -10.0], discharge_efficiency=0.8)
    assert found.energy[-1] == 0.0
    assert np.interp(40.0, found.time, found.energy) == pytest.approx(0.0)
    assert found.lacking[-1] == pytest.approx(200.0)
    assert found.losses[-1] == pytest.approx(2.5 * 40.0)


@pytest.mark.parametrize("first", [0.0, 4.0, 40.0])
def test_a_rising_or_falling_surplus_fills_the_battery_at_the_root_of_a_quadratic(
    first: float,
) -> None:
    # Derived: first t + (20 - first) t^2 / 200 = 500 J, for power that ends at 20 W after 100 s.
    found = charge([0.0, 100.0], [first, 20.0])
    (instant,) = full_from(found)
    assert first * instant + (20.0 - first) * instant**2 / 200.0 == pytest.approx(500.0)


def test_what_is_put_in_and_taken_out_within_one_piece_meets_both_efficiencies() -> None:
    # Derived: from 10 W to -10 W in 40 s are 100 J in, 50 J held, and then 100 J out for 200 J.
    found = charge([0.0, 40.0], [10.0, -10.0], charge_efficiency=0.5, discharge_efficiency=0.5)
    assert found.energy[-1] == pytest.approx(500.0 + 50.0 - 200.0)
    assert found.losses[-1] == pytest.approx(50.0 + 100.0)


def test_a_full_battery_gives_at_once_when_the_surplus_jumps_below_zero() -> None:
    found = charge([0.0, 10.0, np.nextafter(10.0, 11.0), 20.0], [5.0, 5.0, -5.0, -5.0], begins=1e3)
    assert full_from(found) == pytest.approx([0.0])
    assert not found.full[-1]
    assert found.energy[-1] == pytest.approx(950.0)


def test_without_bounds_the_end_is_what_a_turn_adds() -> None:
    found = charge([0.0, 100.0], [-20.0, -20.0], begins=0.0, capacity=np.inf, empty=-np.inf)
    assert found.energy[-1] == pytest.approx(-2000.0)
    assert not found.full.any()


@given(
    st.lists(st.floats(-100.0, 100.0), min_size=2, max_size=20),
    st.floats(0.3, 1.0),
    st.floats(0.3, 1.0),
    st.floats(0.0, 1000.0),
)
def test_energy_is_held_lost_refused_or_lacking_and_nothing_else(
    surplus: list[float], charging: float, discharging: float, begins: float
) -> None:
    time = np.linspace(0.0, 50.0, len(surplus))
    found = charge(
        time.tolist(),
        surplus,
        begins=begins,
        charge_efficiency=charging,
        discharge_efficiency=discharging,
    )
    assert (found.energy >= 0.0).all()
    assert (found.energy <= 1000.0).all()
    power = np.interp(found.time, time, surplus)
    area = np.diff(found.time) * (power[1:] + power[:-1]) / 2.0
    refused = float(area[found.full].sum())
    kept = found.energy[-1] - found.energy[0] + found.losses[-1]
    assert kept + refused - found.lacking[-1] == pytest.approx(float(area.sum()), abs=1e-6)
