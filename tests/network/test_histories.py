"""Histories: one common grid, both sides of every jump kept, means exact."""

from __future__ import annotations

import numpy as np
import pytest

from thermnet.network.grid import common_grid
from thermnet.network.parts import History


def history(*points: tuple[float, float]) -> History:
    time, value = np.array(points).T
    return History(time=time, value=value)


PULSE = history((0, 0), (100, 0), (100, 5), (120, 5), (120, 0), (200, 0))
RAMP = history((0, 0), (200, 200))


def test_a_common_grid_holds_the_instants_of_all_histories() -> None:
    grid = common_grid([PULSE, RAMP], period=250.0)
    np.testing.assert_array_equal(grid.instants, [0.0, 100.0, 120.0, 200.0, 250.0])


def test_a_jump_keeps_both_its_sides() -> None:
    grid = common_grid([PULSE, RAMP], period=200.0)
    np.testing.assert_array_equal(grid.stop[:, 0], [0.0, 5.0, 0.0])
    np.testing.assert_array_equal(grid.start[:, 0], [0.0, 5.0, 0.0])
    np.testing.assert_array_equal(grid.start[:, 1], [0.0, 100.0, 120.0])


def test_at_a_jump_the_later_side_holds() -> None:
    grid = common_grid([PULSE], period=200.0)
    assert grid.at(np.nextafter(100.0, 0.0)) == pytest.approx([0.0])
    assert grid.at(100.0) == [5.0]
    assert grid.at(120.0) == [0.0]


def test_between_instants_a_history_is_straight() -> None:
    assert common_grid([PULSE, RAMP], period=200.0).at(110.0) == pytest.approx([5.0, 110.0])


def test_the_mean_is_the_area_over_the_width() -> None:
    mean = common_grid([PULSE, RAMP], period=200.0).mean()
    np.testing.assert_allclose(mean, [5.0 * 20.0 / 200.0, 100.0], rtol=1e-15)


def test_a_jump_at_the_end_of_a_period_belongs_to_the_next_period() -> None:
    grid = common_grid([history((0, 1), (50, 1), (50, 9))], period=50.0)
    assert grid.at(np.nextafter(50.0, 0.0)) == [1.0]
    assert grid.mean() == [1.0]


def test_without_a_period_the_last_value_holds_for_ever() -> None:
    assert common_grid([RAMP]).at(1e6) == [200.0]


def test_without_a_period_a_jump_at_the_last_instant_holds_for_ever() -> None:
    grid = common_grid([history((0, 1), (50, 1), (50, 9))])
    assert grid.at(np.nextafter(50.0, 0.0)) == [1.0]
    assert grid.at(50.0) == [9.0]
    assert grid.at(1e6) == [9.0]


def test_before_its_first_instant_a_history_has_its_first_value() -> None:
    assert common_grid([history((50, 3), (60, 4))]).at(10.0) == [3.0]


def test_one_instant_is_a_constant() -> None:
    grid = common_grid([history((0, 7))])
    assert grid.at(0.0) == grid.at(1e9) == grid.mean() == [7.0]


def test_no_history_at_all_is_a_grid_too() -> None:
    grid = common_grid([], period=100.0)
    assert len(grid.at(3.0)) == 0
    assert grid.period == 100.0


def test_a_history_that_leaves_its_period_is_refused() -> None:
    with pytest.raises(ValueError, match="leaves its period of 150 s"):
        common_grid([RAMP], period=150.0)


@pytest.mark.parametrize(
    ("points", "message"),
    [
        ([(10, 0), (0, 1)], "must not decrease"),
        ([(0, 0), (0, 1), (0, 2)], "come three times"),
        ([(0, float("nan"))], "finite"),
    ],
)
def test_what_is_no_history_is_refused(points: list[tuple[float, float]], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        history(*points)


def test_as_many_values_as_instants_are_needed() -> None:
    with pytest.raises(ValueError, match="as many values as instants"):
        History(time=np.array([0.0, 1.0]), value=np.array([1.0]))


def test_up_to_an_instant_the_mean_is_the_area_up_to_there() -> None:
    # By hand: 5 for 10 of 110 s, and a ramp from 0 to 110; beyond the last instant its value holds,
    # 200 s of the ramp to 200 and 200 s at it.
    np.testing.assert_allclose(common_grid([PULSE, RAMP], until=110.0).mean(), [50.0 / 110.0, 55.0])
    np.testing.assert_allclose(common_grid([PULSE, RAMP], until=400.0).mean(), [0.25, 150.0])


def test_up_to_an_instant_the_course_is_as_it_was() -> None:
    short, whole = common_grid([PULSE, RAMP], until=110.0), common_grid([PULSE, RAMP])
    for time in (0.0, 99.0, 100.0, 109.0, 110.0):
        np.testing.assert_allclose(short.at(time), whole.at(time))
