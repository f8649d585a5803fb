"""The first crossing on the course between the steps of a solver."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.small_models import STEADY, celsius, solved
from thermnet.physics.constants import ZERO_CELSIUS
from thermnet.solve.solution import Options, Solution
from thermnet.studies.crossings import first, track_from

# From 0 to 20 degC with a time constant of 1000 s; a mark at 400 s cuts the course in two.
WARMING = STEADY.replace(
    "{solve: steady}", "{solve: transient, duration: 900 s, initial: given}"
) + (
    "schedules:\n  half: {time: [0 s, 400 s], value: [1, 0], shape: steps}\n"
    "components:\n  plate: {at: plate, on: half, operating: [-100, 100]}\n"
)


def warming() -> Solution:
    return solved(WARMING, options=Options(accuracy=1e-4)).solution


def at(instant: float) -> float:
    """Temperature of the plate [degC] (derived: a linear node that relaxes)."""
    return 20.0 * (1.0 - math.exp(-instant / 1000.0))


def crossing(
    solution: Solution, level: float, since: float = 0.0, only: int | None = None
) -> float:
    """The first instant at which the plate is above a level [degC]."""
    where = np.array([only in (None, k) for k in range(len(solution.extremes.edges))])
    return first(
        track_from(solution, since),
        [0],
        lambda temperature, _: temperature.max(axis=-1) - (level + ZERO_CELSIUS),
        where,
    )


def test_a_crossing_is_found_between_the_samples_of_a_step() -> None:
    solution = warming()
    for instant in (1.0, 123.4, 399.9, 400.1, 777.7):
        assert crossing(solution, at(instant)) == pytest.approx(instant, abs=0.02)


def test_what_is_above_from_the_start_is_found_at_the_start() -> None:
    assert crossing(warming(), -5.0) == 0.0
    assert crossing(warming(), -5.0, since=250.0) == 250.0


def test_what_is_never_above_is_never_found() -> None:
    assert crossing(warming(), 15.0) == math.inf


def test_only_the_segments_asked_for_are_searched() -> None:
    """It is above 2 degC from 105 s on, but the second segment begins at 400 s."""
    assert crossing(warming(), 2.0, only=1) == pytest.approx(400.0, abs=1e-9)
    assert crossing(warming(), at(500.0), only=0) == math.inf


@pytest.mark.parametrize("since", [0.0, 0.3, 123.4, 400.0, 899.9])
def test_a_course_that_is_cut_within_a_step_is_the_same_course(since: float) -> None:
    whole, cut = track_from(warming(), 0.0), track_from(warming(), since)
    assert cut.begin[0] == since
    for instant in np.linspace(since, 900.0, 7):
        assert cut.at(instant)[0] == pytest.approx(whole.at(instant)[0], abs=1e-9)
        assert celsius(cut.at(instant)[0]) == pytest.approx(at(instant), abs=3e-4)


def test_nothing_lies_after_the_end() -> None:
    with pytest.raises(ValueError, match="nothing of the history lies after 900 s"):
        track_from(warming(), 900.0)
