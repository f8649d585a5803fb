"""Which cases are solved before one that starts at the end of another."""

from __future__ import annotations

import pytest

from tests.model.small import SMALL, read
from thermnet.errors import InputError
from thermnet.model.starts import starts

CASES = """\
  next: {solve: transient, duration: 1 s, after: orbit}
  last: {extends: next, after: next}
  afresh: {extends: next, initial: steady}
  still: {extends: next, solve: steady}
"""


def after(case: str, more: str = CASES) -> tuple[str, ...]:
    """What is solved before a case of the small model with some more cases."""
    return starts(read(SMALL + more), case)


def test_a_case_of_its_own_needs_none() -> None:
    assert after("cooling") == ()


def test_all_that_lead_to_a_case_come_in_the_order_in_which_they_are_solved() -> None:
    assert after("last") == ("orbit", "next")


def test_what_is_stated_last_about_the_start_counts() -> None:
    assert after("afresh") == ()


def test_a_steady_state_has_no_start() -> None:
    assert after("still") == ()


def test_a_case_after_itself_is_an_error_with_its_place() -> None:
    with pytest.raises(InputError) as caught:
        after("round", "  round: {solve: transient, duration: 1 s, after: round}\n")
    told = str(caught.value)
    assert "cases start at each other's end: round -> round" in told
    assert "small.yaml:" in told
