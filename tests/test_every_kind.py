"""One shipped case uses every kind of entry, and is steady, transient and repeating."""

from __future__ import annotations

from pathlib import Path

from tests.full import only_in_full
from thermnet.model.kinds import KINDS
from thermnet.model.kinds.case import Case
from thermnet.model.read import load
from thermnet.used import rows_used

LANDER = Path(__file__).parents[1] / "cases" / "mars_lander" / "model.yaml"


def test_the_lander_uses_every_kind() -> None:
    model = load(LANDER)
    assert {section for section in KINDS if not model.sections[section]} == set()


def test_the_lander_is_steady_transient_and_repeating() -> None:
    cases = load(LANDER).entries(Case, "cases").values()
    assert {case.solve for case in cases} == {"steady", "transient", "repeating"}


def test_the_lander_stands_on_rows_of_every_table_of_the_library() -> None:
    tables = {"bodies", "contacts", "environments", "fasteners", "finishes", "gases", "materials",
              "separators"}  # fmt: skip
    assert rows_used(load(LANDER)).keys() == tables


@only_in_full  # solved in tests/test_cases.py too, held against its promises there
def test_the_account_of_every_case_of_the_lander_closes() -> None:
    from thermnet.account import account
    from thermnet.results import solve_cases

    for result in solve_cases(load(LANDER)):
        assert result.solution.failure == ""
        assert account(result.network, result.solution).closes
