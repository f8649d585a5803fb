"""When a benchmark is met, and which unmet ones the documentation excuses."""

from __future__ import annotations

from tests.benchmarks.measure import Goal, Row
from tests.benchmarks.report import HEADING, LIMITS, excused, verdict
from tests.benchmarks.rows import ROWS

PAGE = f"""# Limits

- **not this one**: stands under another heading

## {HEADING}

- **loading**: 0.6 instead of 0.35, since every value is checked and bound
- **start-up**: pydantic is slow to import

## And so on

- **nor this one**: neither
"""

SLOW = Goal(what="ours / theirs", value=2.0, limit=1.5)
FAST = Goal(what="theirs / ours", value=2.0, limit=1.5, at_least=True)


def test_only_what_stands_under_the_heading_is_excused() -> None:
    assert excused(PAGE).keys() == {"loading", "start-up"}
    assert "pydantic" in excused(PAGE)["start-up"]
    assert excused("# Limits\n") == {}


def test_a_limit_holds_from_below_or_from_above() -> None:
    assert not SLOW.met
    assert FAST.met


def test_a_row_is_met_by_all_its_goals_and_not_by_having_none() -> None:
    assert Row(name="a", workload="", goals=[FAST]).met
    assert not Row(name="a", workload="", goals=[FAST, SLOW]).met
    assert not Row(name="a", workload="", note="not built").met


def test_a_verdict_tells_an_excuse_that_is_no_longer_needed() -> None:
    met, unmet = (Row(name="loading", workload="", goals=[goal]) for goal in (FAST, SLOW))
    excuses = excused(PAGE)
    assert verdict(unmet, {}) == "NOT MET"
    assert verdict(unmet, excuses) == "not met, and listed so"
    assert verdict(met, excuses) == "met, though listed as not reached"


def test_only_rows_that_there_are_are_excused() -> None:
    assert excused(LIMITS.read_text(encoding="utf-8")).keys() <= ROWS.keys()


def test_rows_go_by_the_names_that_they_are_asked_for() -> None:
    """Their functions are named alike."""
    assert all(run.__name__ == name.replace("-", "_") for name, run in ROWS.items())
