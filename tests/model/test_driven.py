"""What becomes of amplitudes that follow histories: products, and one after another."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermnet.model.driven import Driven, product, spliced
from thermnet.model.histories import mean
from thermnet.network.grid import common_grid
from thermnet.network.parts import History

# 1 until 10 s, 3 from then on, falling to 1 at 20 s.
JUMP = Driven(
    amplitude=2.0,
    history=History(time=np.array([0.0, 10.0, 10.0, 20.0]), value=np.array([1.0, 1.0, 3.0, 1.0])),
)
NOTHING = Driven(amplitude=0.0)


def value(driven: Driven, time: float) -> float:
    """The later side of a jump at an instant."""
    assert driven.history is not None
    return driven.amplitude * float(common_grid([driven.history]).at(time)[0])


@pytest.mark.parametrize(
    ("parts", "before", "after", "total"),
    [
        # By hand: 2 x 3 falling to 2 x 1 over 10 s is 40; 2 x 1 over 10 s is 20.
        ((NOTHING, JUMP), 0.0, 6.0, 40.0),
        ((JUMP, NOTHING), 2.0, 0.0, 20.0),
    ],
)
def test_where_one_follows_another_at_a_jump_each_keeps_its_own_side_of_it(
    parts: tuple[Driven, Driven], before: float, after: float, total: float
) -> None:
    joint = spliced(parts, np.array([0.0, 10.0, 20.0]))
    assert joint.history is not None
    assert value(joint, 10.0 - 1e-9) == pytest.approx(before, abs=1e-6)
    assert value(joint, 10.0) == after
    assert joint.amplitude * mean(joint.history, 20.0) * 20.0 == pytest.approx(total)


def test_where_one_follows_another_between_instants_straight_lines_are_cut() -> None:
    joint = spliced((JUMP, NOTHING, JUMP), np.array([0.0, 5.0, 15.0, 20.0]))
    # By hand: 2 W until 5 s, then nothing, then from 4 W at 15 s down to 2 W.
    assert_allclose([value(joint, t) for t in (4.9, 5.0, 15.0, 20.0)], [2.0, 0.0, 4.0, 2.0])


def test_a_product_keeps_the_jumps_of_both_and_the_last_one_goes_on() -> None:
    late = Driven(
        amplitude=1.0,
        history=History(time=np.array([0.0, 20.0, 20.0]), value=np.array([1.0, 1, 5])),
    )
    joint = product(JUMP, late)
    assert_allclose([value(joint, t) for t in (0.0, 10.0, 20.0, 30.0)], [2.0, 6.0, 10.0, 10.0])
