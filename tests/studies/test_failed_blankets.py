"""Failures of blankets, in cases that use one of their bounds."""

from __future__ import annotations

import pytest

from tests.studies.test_failures import FAILING, row_of, rows_of

WRAPPED = FAILING.replace(
    "loads:",
    "blankets:\n  wrap: {from: tank, to: sink, area: 1 m2, effective_emittance: 0.02, low: 0.01, "
    "high: 0.2}\nloads:",
).replace(
    "failures:",
    "failures:\n  torn: {set: {blankets.wrap.effective_emittance: 0.1}}\n"
    "  torn wide: {set: {blankets.wrap.effective_emittance: 0.1, blankets.wrap.use: nominal}}",
)


@pytest.mark.parametrize("bound", ["low", "high"])
def test_a_number_of_a_blanket_that_the_case_does_not_use_is_told(bound: str) -> None:
    text = WRAPPED.replace("low: 0.01", "low: 0.01, use: " + bound)
    changes = {"blankets.wrap.low": 0.02} if bound == "low" else {}
    rows = rows_of(text, cases=["cold"], only=["torn", "torn wide"], changes=changes)
    assert row_of(rows, "torn").no_effect == f"the case uses the '{bound}' bound of blanket 'wrap'"
    assert row_of(rows, "torn wide").no_effect == ""


def test_a_number_of_a_blanket_that_the_case_uses_is_solved() -> None:
    rows = rows_of(WRAPPED, cases=["cold"], only=["torn"])
    assert row_of(rows, "torn").no_effect == ""
