"""Solving a case: what is solved, from where it starts, and what never changes."""

from __future__ import annotations

import numpy as np
import pytest

from tests.small_models import STEADY, celsius, model_of, solved
from thermnet.errors import InputError
from thermnet.model.paths import value, vary
from thermnet.results import given_start, solve, solve_cases
from thermnet.solve.solution import Options

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


# A plate with a time constant of 1000 s: 20 degC at 20 W, 0 degC without.
CHAIN = (
    STEADY.replace("{solve: steady}", "{solve: steady, set: {loads.plate.heat: 40}}")
    + """
  first: {solve: transient, duration: 400 s, after: case}
  second: {solve: transient, duration: 600 s, after: first}
  whole: {solve: transient, duration: 1000 s, after: case}
  cold: {extends: second, set: {boundaries.sink.temperature: -30}}
"""
)


def test_a_case_starts_at_the_temperatures_of_a_steady_one() -> None:
    """40 degC at 40 W, whatever the 20 W of the case itself would give."""
    assert celsius(float(solved(CHAIN, "first").of("plate")[0])) == pytest.approx(40.0)


def test_two_cases_one_after_the_other_are_the_same_as_one_through() -> None:
    """20 + 20 exp(-1) degC after 1000 s (derived: a linear node that relaxes)."""
    fine = Options(accuracy=1e-4)
    first, second = (solved(CHAIN, case, options=fine) for case in ("first", "second"))
    assert second.of("plate")[0] == pytest.approx(first.of("plate")[-1], abs=1e-9)
    whole = solved(CHAIN, "whole", options=fine).of("plate")[-1]
    expected = 20.0 + 20.0 * np.exp(-1.0)
    assert celsius(float(second.of("plate")[-1])) == pytest.approx(expected, abs=3e-4)
    assert celsius(float(whole)) == pytest.approx(expected, abs=3e-4)


def test_a_boundary_has_the_temperature_of_the_case_that_starts() -> None:
    result = solved(CHAIN, "cold")
    assert celsius(float(result.of("sink")[0])) == pytest.approx(-30.0)
    before = solved(CHAIN, "first").of("plate")[-1]
    assert result.of("plate")[0] == pytest.approx(before)


def test_a_massless_node_starts_in_balance_with_the_case_that_starts() -> None:
    """Half way between the plate at 40 degC and the sink at 0, then at -30 degC."""
    text = CHAIN.replace("nodes:\n", "nodes:\n  between: {massless: true}\n")
    text = text.replace("links:\n", f"links:\n{HALVES.replace('mirror', 'sink')}")
    text += "  then: {solve: transient, duration: 1 s, after: case, "
    text += "set: {boundaries.sink.temperature: -30}}\n"
    # Two halves in a row are 0.25 W/K beside 1 W/K: 40 W / 1.25 W/K.
    assert celsius(float(solved(text).of("between")[0])) == pytest.approx(16.0)
    assert celsius(float(solved(text, "then").of("between")[0])) == pytest.approx(1.0)


SQUARE = (
    STEADY.replace("plate, heat: 20 W", "plate, heat: 20 W, schedule: square")
    + """
  again: {solve: repeating, period: 1000 s}
  after: {solve: transient, duration: 1000 s, after: again}
schedules:
  square: {time: [0 s, 600 s], value: [1, 0], shape: steps, period: 1000 s}
"""
)


def test_what_follows_a_repeating_case_goes_on_without_a_jump_and_repeats_it() -> None:
    """Square wave on a linear node (derived): Tmax = Q/G (1 - a)/(1 - a b), Tmin = b Tmax."""
    fine = Options(accuracy=1e-4)
    again, after = solved(SQUARE, "again", options=fine), solved(SQUARE, "after", options=fine)
    last = again.solution.record.temperature[-1]
    np.testing.assert_allclose(after.solution.temperature[0], last, rtol=0.0, atol=1e-6)
    a, b = np.exp(-0.6), np.exp(-0.4)
    highest = 20.0 * (1.0 - a) / (1.0 - a * b)
    for result in (again, after):
        found = result.solution.extremes
        place = result.network.index("plate")
        assert celsius(float(found.highest[:, place].max())) == pytest.approx(highest, abs=5e-4)
        assert celsius(float(found.lowest[:, place].min())) == pytest.approx(b * highest, abs=5e-4)


# check-values 10.07: C 2000, G 0.5, sink 250 K, 30 W, band 273.15 to 278.15 K.
THERMOSTAT = """
thermnet: 1
nodes: {tank: {capacity: 2000 J/K, initial: 273.15 K}}
boundaries: {sink: {temperature: 250 K}}
links: {out: {from: tank, to: sink, conductance: 0.5 W/K}}
heaters: {tank: {node: tank, power: 30 W, on_below: 273.15 K, off_above: 278.15 K}}
cases:
  before: {solve: transient, initial: given, duration: 300 s}
  then: {solve: transient, after: before, duration: 1000 s}
"""


def test_a_heater_that_is_on_stays_on_in_the_case_that_follows() -> None:
    """On for 583.273 s (derived: closed form), 300 s of them in the case before."""
    result = solved(THERMOSTAT, "then", options=Options(accuracy=1e-4))
    duty, time = result.solution.record.duty[:, 0], result.solution.record.time
    assert duty[0] == 1.0
    assert time[np.argmin(duty)] == pytest.approx(283.273, abs=0.05)


def test_a_heater_that_is_off_stays_off_in_the_case_that_follows() -> None:
    """Off for 782.210 s after 583.273 s on (derived: closed form)."""
    text = THERMOSTAT.replace("duration: 300 s", "duration: 700 s")
    result = solved(text, "then", options=Options(accuracy=1e-4))
    duty, time = result.solution.record.duty[:, 0], result.solution.record.time
    assert duty[0] == 0.0
    assert time[np.argmax(duty)] == pytest.approx(583.273 + 782.210 - 700.0, abs=0.1)


def test_no_case_is_solved_twice_though_several_start_at_its_end() -> None:
    told: list[str] = []
    results = solve_cases(model_of(CHAIN), ["second", "first", "whole"], progress=told.append)
    assert told == ["case", "first", "second", "whole"]
    assert [result.case for result in results] == ["second", "first", "whole"]


def test_a_result_that_is_there_is_not_solved_again() -> None:
    model = model_of(CHAIN)
    warmer = solve(vary(model, {"loads.plate.heat": 50.0}), "case")
    result = solve(model, "first", before={"case": warmer})
    assert celsius(float(result.of("plate")[0])) == pytest.approx(50.0)


def test_a_caller_s_change_holds_in_the_case_before_as_well() -> None:
    model = vary(model_of(CHAIN), {"loads.plate.heat": 7.0})
    assert celsius(float(solve(model, "first").of("plate")[0])) == pytest.approx(7.0)


def test_a_case_after_one_without_a_solution_has_none_and_names_it() -> None:
    hot = "loads.plate.heat: 1e6"
    result = solve(model_of(CHAIN.replace("loads.plate.heat: 40", hot)), "first")
    assert result.solution.failure.startswith("case 'case', after which it starts, is not solved")


def test_cases_that_start_at_each_other_s_end_are_a_located_error() -> None:
    text = CHAIN.replace("400 s, after: case", "400 s, after: second")
    with pytest.raises(InputError) as caught:
        solve(model_of(text), "second")
    assert any(
        "cases start at each other's end: second -> first -> second" in str(problem)
        and str(problem).startswith("model.yaml:")
        for problem in caught.value.problems
    )


ORBITING = """
thermnet: 1
nodes: {box: {capacity: 900 J/K}}
boundaries: {space: {temperature: 2.7 K}}
surfaces: {all: {node: box, area: 1 m2, absorptance: 0.5, emittance: 0.8, normal: -z}}
orbits: {low: {altitude: 500 km, beta: 0 deg}}
pointings: {nadir: {axis: +z, to: nadir, second_axis: +x, second_to: velocity}}
cases:
  before: {solve: transient, orbit: low, pointing: nadir, environment: mean, duration: 6000 s}
  then: {extends: before, after: before, duration: 60 s}
  turn: {extends: before, solve: repeating}
  after turn: {extends: before, after: turn, duration: 60 s}
"""


def test_a_start_at_another_point_of_the_orbit_is_a_warning() -> None:
    """6000 s are 323 s more than the 5677 s of an orbit at 500 km (check-values 3.1)."""
    (problem,) = solve(model_of(ORBITING), "then").problems
    assert problem.severity == "warning"
    assert problem.path == "cases.then.after"
    assert "ends 323 s into its orbit of 5677 s" in problem.message


def test_a_start_at_the_same_point_of_the_orbit_needs_no_word() -> None:
    assert solve(model_of(ORBITING), "after turn").problems == ()
    text = ORBITING.replace("duration: 6000 s", "duration: 5677 s")
    assert solve(model_of(text), "then").problems == ()
