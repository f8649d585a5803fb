"""Solving a case: what is solved, from where it starts, and what never changes."""

from __future__ import annotations

import numpy as np
import pytest

from tests.small_models import STEADY, celsius, model_of, solved
from thermnet.errors import InputError
from thermnet.model.paths import value, vary
from thermnet.results import given_start, solve, solve_cases

TWO = STEADY + "  warm: {solve: steady, set: {loads.plate.heat: {scale: 1.5}}}\n"
HALVES = """
  to mirror: {from: between, to: mirror, conductance: 0.5 W/K}
  to plate: {from: between, to: plate, conductance: 0.5 W/K}
"""
HISTORY = STEADY.replace("{solve: steady}", "{solve: transient, duration: 500 s, initial: given}")


def plate(result_of: str, case: str = "case") -> float:
    result = solved(result_of, case)
    return celsius(float(result.of("plate")[-1]))


def test_a_case_is_the_file_with_its_own_values() -> None:
    assert plate(TWO) == pytest.approx(20.0)
    assert plate(TWO, "warm") == pytest.approx(30.0)


def test_solving_one_case_leaves_the_model_as_it_was() -> None:
    model = model_of(TWO)
    before = model.sections
    solve(model, "warm")
    assert model.sections is before
    assert value(model, "loads.plate.heat") == 20.0
    assert model.case == ""


def test_a_result_solved_again_is_not_changed_twice() -> None:
    """Its model has the case applied: 1.5 x 20 W, not 1.5 x 1.5 x 20 W."""
    first = solve(model_of(TWO), "warm")
    assert value(first.model, "loads.plate.heat") == pytest.approx(30.0)
    again = solve(first.model, "warm")
    assert value(again.model, "loads.plate.heat") == pytest.approx(30.0)
    back = solve(first.model, "case")
    assert celsius(float(back.of("plate")[0])) == pytest.approx(20.0)


def test_a_caller_s_scale_is_applied_once_on_top_of_the_case() -> None:
    """2 x 20 W as the file has it, 2 x 1.5 x 20 W in the warm case."""
    model = vary(model_of(TWO), {"loads.plate.heat": {"scale": 2.0}})
    assert celsius(float(solve(model, "case").of("plate")[0])) == pytest.approx(40.0)
    assert celsius(float(solve(model, "warm").of("plate")[0])) == pytest.approx(60.0)


def test_a_caller_s_value_stands_above_that_of_the_case() -> None:
    model = vary(model_of(TWO), {"loads.plate.heat": 7.0})
    assert celsius(float(solve(model, "warm").of("plate")[0])) == pytest.approx(7.0)


def test_of_two_calls_the_later_value_counts() -> None:
    model = vary(model_of(TWO), {"loads.plate.heat": 7.0})
    model = vary(model, {"loads.*.heat": 9.0})
    assert celsius(float(solve(model, "case").of("plate")[0])) == pytest.approx(9.0)


def test_all_cases_are_solved_in_the_order_of_the_file() -> None:
    told: list[str] = []
    results = solve_cases(model_of(TWO), progress=told.append)
    assert [result.case for result in results] == told == ["case", "warm"]
    assert [result.case for result in solve_cases(model_of(TWO), ["warm"])] == ["warm"]


def test_a_history_starts_from_the_nodes_temperatures_where_the_case_says_so() -> None:
    result = solved(HISTORY)
    assert celsius(float(result.of("plate")[0])) == pytest.approx(0.0)


def test_a_history_starts_from_the_steady_state_of_its_means_by_default() -> None:
    result = solved(HISTORY.replace(", initial: given", ""))
    assert celsius(float(result.of("plate")[0])) == pytest.approx(20.0)


def test_a_massless_node_needs_no_first_temperature_and_starts_in_balance() -> None:
    """Half way between two plates at 0 degC and 20 degC by two equal links."""
    text = HISTORY.replace("nodes:\n", "nodes:\n  between: {massless: true}\n")
    text = text.replace(
        "plate: {capacity: 1000 J/K, initial: 0", "plate: {capacity: 1 J/K, initial: 20"
    )
    text = text.replace("links:\n", f"links:\n{HALVES}")
    assert celsius(float(solved(text).of("between")[0])) == pytest.approx(10.0)


def test_a_given_start_without_a_temperature_is_an_error_at_the_node() -> None:
    text = HISTORY.replace(
        "mirror: {capacity: 1000 J/K, initial: 0}", "mirror: {capacity: 1000 J/K}"
    )
    with pytest.raises(InputError) as caught:
        solve(model_of(text), "case")
    (problem,) = caught.value.problems
    assert str(problem).startswith("model.yaml:7:")
    assert "nodes.mirror: missing key 'initial'" in str(problem)


def test_an_island_with_heat_and_no_sink_is_an_error_before_the_solve() -> None:
    text = STEADY.replace(
        "mirror to sink: {from: mirror, to: sink", "mirror to sink: {from: plate, to: sink"
    )
    with pytest.raises(InputError, match="mirror"):
        solve(model_of(text), "case")


def test_an_unknown_case_names_the_nearest() -> None:
    with pytest.raises(InputError, match=r"unknown case 'worm'.*warm"):
        solve(model_of(TWO), "worm")


def test_an_unknown_node_has_no_history() -> None:
    with pytest.raises(KeyError):
        solved(STEADY).of("plait")


def test_a_failed_solve_is_a_value_with_a_sentence() -> None:
    result = solve(model_of(STEADY.replace("heat: 20 W", "heat: 1e6 W")), "case")
    assert "'plate'" in result.solution.failure
    assert "W" in result.solution.failure


def test_boundaries_and_given_temperatures_make_the_start() -> None:
    result = solved(HISTORY)
    start = given_start(result.model, result.network)
    np.testing.assert_allclose(start, 273.15)
