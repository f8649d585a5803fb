"""What single kinds of entry hold and refuse beyond the bad files in `tests/errors`."""

from __future__ import annotations

import numpy as np
import pytest

from tests.model.small import SMALL, read
from thermnet.model.histories import Repeated, joined
from thermnet.model.kinds.component import Component
from thermnet.model.kinds.node import Node
from thermnet.model.kinds.schedule import Schedule


def schedule(body: str) -> Repeated:
    """The schedule with these keys."""
    model = read(SMALL.replace("  jump: {", f"  own: {{{body}}}\n  jump: {{"))
    own = model.entries(Schedule, "schedules")["own"]
    assert own.period != "orbit"
    once = joined(np.array(own.time), np.array(own.value), own.shape, own.period)
    return Repeated(once=once, period=own.period)


@pytest.mark.parametrize(
    ("body", "mean"),
    [
        ("time: [0 s, 30 s], value: [1, 0], shape: steps, period: 100 s", 0.3),
        ("time: [0 s, 100 s], value: [0, 1], period: 100 s", 0.5),
        # a triangle of height 2 over 40 s, then nothing
        ("time: [0 s, 20 s, 40 s], value: [0, 2, 0], period: 100 s", 0.4),
        # the first value holds before its instant, the last one after it
        ("time: [50 s], value: [3], period: 100 s", 3.0),
        # 1 until a jump at 60 s, -1 after it
        ("time: [0 s, 60 s, 60 s, 100 s], value: [1, 1, -1, -1], period: 100 s", 0.2),
    ],
)
def test_the_mean_of_a_schedule_is_the_area_under_it(body: str, mean: float) -> None:
    assert schedule(body).mean(0.0) == pytest.approx(mean)


def test_the_mean_without_a_period_is_that_over_the_span() -> None:
    own = schedule("time: [0 s, 10 s], value: [1, 0], shape: steps")
    assert own.mean(40.0) == pytest.approx(0.25)
    assert own.mean(0.0) == 1.0


def test_an_unrolled_history_keeps_every_jump_and_the_mean() -> None:
    history = schedule("time: [0 s, 30 s], value: [1, 0], shape: steps, period: 100 s").history(300)
    assert history.time.tolist() == [0, 30, 30, 100, 100, 130, 130, 200, 200, 230, 230, 300]
    assert history.value.tolist() == [1, 1, 0, 0] * 3
    means = (history.value[1:] + history.value[:-1]) / 2.0
    assert float(np.diff(history.time) @ means) / 300.0 == pytest.approx(0.3)


def test_a_schedule_may_stand_in_a_table() -> None:
    rows = "time [min], value\n      0, 0\n      2, 1\n"
    text = SMALL.replace("schedules:\n", f"schedules:\n  own:\n    table: |\n      {rows}")
    own = read(text).entries(Schedule, "schedules")["own"]
    assert (own.time, own.value) == ((0.0, 120.0), (0.0, 1.0))


def test_a_component_has_one_node_or_several() -> None:
    components = read().entries(Component, "components")
    assert components["box"].nodes == ("box",)
    assert components["plate"].nodes == ("plate", "face")
    assert components["box"].schedules == ("pass",)


def test_temperatures_of_the_file_are_kelvin_inside() -> None:
    model = read()
    assert model.entries(Node, "nodes")["box"].initial == pytest.approx(293.15)
    assert model.entries(Component, "components")["box"].operating == pytest.approx(
        (263.15, 313.15)
    )
