"""One failure at a time: what each does to a spacecraft whose steady states are known."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pytest

from tests.small_models import celsius, model_of
from thermnet.account import account
from thermnet.errors import InputError
from thermnet.model.failures import problems_of_failures
from thermnet.model.model import Model
from thermnet.model.paths import vary
from thermnet.results import solve
from thermnet.studies import failed_cases as study
from thermnet.studies.failures import UNFAILED, FailureRow, failures, judged

FAILING = """
thermnet: 1
temperatures: degC
uncertainty: {policy: none}
nodes:
  box: {capacity: 1000 J/K, initial: 0}
  radiator: {capacity: 500 J/K, initial: 0}
  tank: {capacity: 800 J/K, initial: 6}
boundaries:
  sink: {temperature: 0}
links:
  heat pipe: {from: box, to: radiator, conductance: 8 W/K}
  wall of the heat pipe: {from: box, to: radiator, conductance: 0.5 W/K}
  radiator: {from: radiator, to: sink, conductance: 4 W/K}
  tank: {from: tank, to: sink, conductance: 0.5 W/K}
loads:
  box: {node: box, heat: 40 W}
heaters:
  tank: {node: tank, power: 10 W, on_below: 5, off_above: 8}
components:
  box: {at: box, operating: [-10, 50]}
  tank: {at: tank, operating: [2, 30], held_by: tank}
cases:
  cold: {solve: steady}
  warm: {solve: steady, set: {boundaries.sink.temperature: 15}}
failures:
  dry pipe: {links: [heat pipe]}
  hot dissipation: {set: {loads.box.heat: {scale: 2}, boundaries.sink.temperature: 10}}
  only when warm: {set: {loads.box.heat: 0 W}, cases: [warm]}
"""
"""As it is and cold: radiator 40 / 4 = 10 degC, box 10 + 40 / 8.5 degC; a tank without heat at the
sink's 0 degC, held from 5 to 8 degC by its heater."""

MODES = """
modes: {nominal: {}, safe: {}}
units:
  radio: {node: box, heat: {nominal: 20 W}}
timelines:
  day:
    repeats: at its end
    steps: {work: {mode: nominal, duration: 600 s}, rest: {mode: safe, duration: 600 s}}
"""


def rows_of(
    text: str = FAILING, *, changes: Mapping[str, Any] | None = None, **how: Any
) -> tuple[FailureRow, ...]:
    """Every row, after it was seen that the accounts of all that is solved close."""
    model = model_of(text)
    rows = failures(vary(model, changes) if changes else model, **how)
    assert all(row.closes for row in rows)
    return rows


def row_of(rows: tuple[FailureRow, ...], failure: str, case: str = "cold") -> FailureRow:
    (row,) = [row for row in rows if (row.failure, row.case) == (failure, case)]
    return row


def limit(row: FailureRow, component: str, side: str) -> tuple[float, float, str]:
    """Calculated temperature [degC], margin [K] and verdict of a component's operating band."""
    (found,) = [
        margin
        for margin in row.margins
        if (margin.component, margin.band, margin.side) == (component, "operating", side)
    ]
    return celsius(found.calculated), found.margin, found.verdict


def with_modes(case: str) -> str:
    text = FAILING.replace("  hot dissipation", "  stuck: {mode: nominal}\n  hot dissipation")
    text = text.replace("{solve: steady, set", "{solve: steady, mode: safe, set")
    return text.replace("  cold: {solve: steady}", f"  cold: {case}") + MODES


def test_a_lost_heat_pipe_leaves_the_box_to_the_pipes_wall() -> None:
    """Derived: 10 degC of the radiator, and 40 W through 0.5 W/K alone."""
    row = row_of(rows_of(), "dry pipe")
    calculated, margin, verdict = limit(row, "box", "hot")
    assert calculated == pytest.approx(90.0, abs=1e-6)
    assert margin == pytest.approx(-40.0, abs=1e-6)
    assert verdict == "outside band"
    assert row.failing == row.newly == ("box",)
    assert row.moved == pytest.approx(40.0 / 8.5 - 80.0, abs=1e-6)


def test_a_heater_failed_off_lets_its_tank_fall_to_the_sink() -> None:
    """Derived: no heat, so 0 degC of the sink, 2 K below the band."""
    row = row_of(rows_of(), "heater tank failed off")
    calculated, margin, verdict = limit(row, "tank", "cold")
    assert calculated == pytest.approx(0.0, abs=1e-6)
    assert margin == pytest.approx(-2.0, abs=1e-6)
    assert verdict == "outside band"
    assert row.newly == ("tank",)


def test_a_heater_failed_on_heats_without_end() -> None:
    """Derived: 10 W over 0.5 W/K, 20 K above the sink."""
    rows = rows_of()
    assert limit(row_of(rows, "heater tank failed on"), "tank", "hot")[0] == pytest.approx(20.0)
    warm = row_of(rows, "heater tank failed on", "warm")
    assert limit(warm, "tank", "hot")[:2] == pytest.approx((35.0, -5.0))


def test_values_of_a_failure_are_read_as_those_of_a_case() -> None:
    """Bare temperatures in the file's degC, scales on the case's value: 80 W over 4 and 8.5 W/K."""
    row = row_of(rows_of(), "hot dissipation")
    assert limit(row, "box", "hot")[0] == pytest.approx(10.0 + 80.0 / 4.0 + 80.0 / 8.5, abs=1e-6)


def test_a_failure_stands_above_what_a_case_sets_at_the_same_path() -> None:
    """The warm case has its sink at 15 degC; the failure puts it to 10 degC."""
    row = row_of(rows_of(), "hot dissipation", "warm")
    assert limit(row, "box", "hot")[0] == pytest.approx(10.0 + 80.0 / 4.0 + 80.0 / 8.5, abs=1e-6)


def test_a_failure_scales_what_the_case_set() -> None:
    text = FAILING.replace("temperature: 15}", "temperature: 15, loads.box.heat: 10 W}")
    row = row_of(rows_of(text), "hot dissipation", "warm")
    assert limit(row, "box", "hot")[0] == pytest.approx(10.0 + 20.0 / 4.0 + 20.0 / 8.5, abs=1e-6)


def test_a_failed_case_is_the_case_with_its_paths_changed() -> None:
    """The same code judges both: all margins are those of the model varied by hand."""
    from thermnet.margins import margins

    result = solve(vary(model_of(FAILING), {"links.heat pipe.lost": True}), "cold")
    assert account(result.network, result.solution).closes
    assert row_of(rows_of(), "dry pipe").margins == margins(result)


def test_a_heater_that_never_comes_on_is_not_missed() -> None:
    """The warm sink keeps the tank at 15 degC, above the thermostat."""
    row = row_of(rows_of(), "heater tank failed off", "warm")
    assert row.no_effect == "the heater does not come on"
    assert row.margins[0].margin == row_of(rows_of(), UNFAILED, "warm").margins[0].margin


def test_a_heater_that_only_stands_by_is_missed_by_the_allowance() -> None:
    """What a heater holds needs no allowance; without the heater 11 K are not covered at 12 degC.

    Derived: the tank lies at the sink's 12 degC, 10 K above its band, less 11 K of allowance.
    """
    text = FAILING.replace("policy: none", "policy: flat, allowance: 11 K")
    text = text.replace("temperature: 15}", "temperature: 12}")
    row = row_of(rows_of(text), "heater tank failed off", "warm")
    assert row.no_effect == ""
    calculated, margin, verdict = limit(row, "tank", "cold")
    assert calculated == pytest.approx(12.0)
    assert margin == pytest.approx(-1.0)
    assert verdict == "allowance not covered"
    assert row.newly == ("tank",)


def test_a_transient_from_a_steady_state_may_owe_its_start_to_a_heater() -> None:
    """The heater is idle while a load warms the tank, but without it the tank starts at 0 degC."""
    text = FAILING.replace(
        "  cold: {solve: steady}",
        "  cold: {solve: transient, duration: 200 s, set: {heaters.tank.on_below: -20}}",
    )
    row = row_of(rows_of(text, only=["heater tank failed off"]), "heater tank failed off")
    assert row.no_effect == ""


AFTER = FAILING.replace(
    "  warm:",
    "  later: {solve: transient, duration: 100 s, after: cold, "
    "set: {boundaries.sink.temperature: 40}}\n  warm:",
)
"""After the cold case comes one in which the heater has nothing to do any more."""


def test_a_case_after_another_owes_its_start_to_a_heater_of_that_one() -> None:
    """Derived: the tank starts at the cold sink's 0 degC, 2 K below its band, and only warms."""
    row = row_of(rows_of(AFTER, only=["heater tank failed off"]), "heater tank failed off", "later")
    calculated, margin, verdict = limit(row, "tank", "cold")
    assert calculated == pytest.approx(0.0, abs=1e-3)
    assert margin == pytest.approx(-2.0, abs=1e-3)
    assert verdict == "outside band"


def test_a_heater_idle_in_a_case_and_in_the_one_before_is_not_missed() -> None:
    text = AFTER.replace("after: cold", "after: warm")
    row = row_of(rows_of(text, only=["heater tank failed off"]), "heater tank failed off", "later")
    assert row.no_effect == "the heater does not come on"


def test_a_failure_reaches_through_the_case_before_as_in_a_model_varied_by_hand() -> None:
    from thermnet.margins import margins

    by_hand = solve(vary(model_of(AFTER), {"links.heat pipe.lost": True}), "later")
    assert row_of(rows_of(AFTER), "dry pipe", "later").margins == margins(by_hand)


def test_a_mode_stuck_in_the_case_before_changes_the_start_of_one_without_timeline() -> None:
    """Derived: 60 W instead of 50 W before, so that the box starts 10 / 4 + 10 / 8.5 K warmer."""
    text = with_modes("{solve: steady, timeline: day}").replace(
        "  warm:", "  later: {solve: transient, duration: 1 s, mode: safe, after: cold}\n  warm:"
    )
    rows = rows_of(text, cases=["later"])
    warmer = limit(row_of(rows, "stuck", "later"), "box", "hot")[0]
    as_it_is = limit(row_of(rows, UNFAILED, "later"), "box", "hot")[0]
    assert warmer - as_it_is == pytest.approx(10.0 / 4.0 + 10.0 / 8.5, abs=1e-3)


def test_a_case_that_others_start_after_is_solved_once_for_each_failure(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    solves: list[str] = []

    def counted(model: Model, case: str, *more: Any) -> Any:
        solves.append(case)
        return solve(model, case, *more)

    monkeypatch.setattr(study, "solve", counted)
    rows_of(AFTER, cases=["cold", "later"], only=["dry pipe"])
    assert solves == ["cold", "cold", "later", "later"]


def test_a_case_after_one_that_a_failure_leaves_unsolved_is_not_solved_either() -> None:
    text = AFTER.replace("links: [heat pipe]", "links: [heat pipe, wall of the heat pipe]")
    row = row_of(rows_of(text, cases=["later"], only=["dry pipe"]), "dry pipe", "later")
    cause = "'dry pipe' leaves it without a solution: no route"
    assert f"case 'cold', after which it starts, is not solved: {cause}" in row.not_solved


def test_what_has_failed_already_is_not_judged_twice() -> None:
    rows = rows_of(changes={"links.heat pipe.lost": True, "heaters.tank.failed": "off"})
    for name in ("dry pipe", "heater tank failed off"):
        assert row_of(rows, name).no_effect == "the case has it so already"


def test_a_heater_without_power_cannot_fail() -> None:
    rows = rows_of(changes={"heaters.tank.power": 0.0})
    for name in ("heater tank failed off", "heater tank failed on"):
        assert row_of(rows, name).no_effect == "the heater has no power"


def test_a_mode_stuck_gives_its_heat_all_along() -> None:
    """Derived: 20 W on half of the time is 10 W in the mean, and 20 W when stuck: 60 W in all."""
    rows = rows_of(with_modes("{solve: steady, timeline: day}"))
    as_it_is, stuck = row_of(rows, UNFAILED), row_of(rows, "stuck")
    assert limit(as_it_is, "box", "hot")[0] == pytest.approx(50.0 / 4.0 + 50.0 / 8.5, abs=1e-6)
    assert limit(stuck, "box", "hot")[0] == pytest.approx(60.0 / 4.0 + 60.0 / 8.5, abs=1e-6)


def test_a_mode_is_stuck_only_where_there_is_a_timeline() -> None:
    row = row_of(rows_of(with_modes("{solve: steady, mode: nominal}")), "stuck")
    assert row.no_effect == "the case follows no timeline"


def test_a_stopped_pump_is_a_failure() -> None:
    """Derived: with the pump 40 W go down 8.5 W/K and 1 W/K side by side; without it 8.5 alone."""
    text = FAILING.replace("loads:", (
        "loops:\n  coolant: {through: [tank, radiator], capacity_rate: 5 W/K}\nloads:"
    ))  # fmt: skip
    text = text.replace("links: [heat pipe]", "loops: [coolant]")
    stopped = row_of(rows_of(text), "dry pipe")
    assert limit(stopped, "box", "hot")[0] == pytest.approx(10.0 + 40.0 / 8.5, abs=1e-6)
    running = row_of(rows_of(text), UNFAILED)
    assert limit(running, "box", "hot")[0] != pytest.approx(10.0 + 40.0 / 8.5, abs=0.5)


def test_a_failure_that_cuts_a_part_off_has_no_solution_and_comes_first() -> None:
    text = FAILING.replace("links: [heat pipe]", "links: [heat pipe, wall of the heat pipe]")
    rows = rows_of(text)
    row = row_of(rows, "dry pipe")
    assert "no route to a boundary node for the heat on 'box'" in row.not_solved
    assert (row.verdict, row.holds, row.worst) == ("not solved", False, None)
    assert rows[2].failure == "dry pipe"  # after the two cases as they are


def test_rows_come_gravest_first_below_the_cases_as_they_are() -> None:
    rows = rows_of()
    assert [(row.failure, row.case) for row in rows[:2]] == [(UNFAILED, "cold"), (UNFAILED, "warm")]
    solved = [row for row in rows[2:] if not row.no_effect]
    sizes = [row.worst.margin for row in solved if row.worst is not None]
    outside = [size for size in sizes if size < 0.0]
    assert sizes == sorted(sizes)
    assert outside[0] == pytest.approx(-55.0, abs=1e-6)  # dry pipe, 15 K warmer sink
    assert all(row.no_effect for row in rows[2 + len(solved) :])


def test_the_limit_that_loses_most_is_named_though_another_is_graver() -> None:
    """A box that is outside its band anyway does not hide what a heater does to the tank."""
    rows = rows_of(changes={"components.box.operating.1": "10 degC"})
    row = row_of(rows, "heater tank failed off")
    assert row.worst is not None
    assert row.hit is not None
    assert row.worst.component == "box"
    assert row.moved == pytest.approx(0.0, abs=1e-9)
    assert (row.hit.component, row.hit.side) == ("tank", "cold")
    assert row.lost == pytest.approx(5.0, abs=1e-6)  # from the threshold of 5 degC to 0 degC
    assert row.newly == ("tank",)


def test_a_failure_is_judged_only_in_its_cases() -> None:
    rows = rows_of()
    assert [row.case for row in rows if row.failure == "only when warm"] == ["warm"]


def test_only_what_is_asked_for_is_solved() -> None:
    rows = rows_of(cases=["cold"], only=["dry pipe"])
    assert [(row.failure, row.case) for row in rows] == [(UNFAILED, "cold"), ("dry pipe", "cold")]


def test_what_has_no_effect_is_not_solved(monkeypatch: pytest.MonkeyPatch) -> None:
    solves: list[str] = []

    def counted(model: Model, case: str, *more: Any) -> Any:
        solves.append(case)
        return solve(model, case, *more)

    monkeypatch.setattr(study, "solve", counted)
    rows_of(cases=["warm"], only=["heater tank failed off"])
    assert solves == ["warm"]


def test_rows_come_one_by_one_with_word_of_how_far_it_is() -> None:
    told: list[tuple[str, str, int, int]] = []
    rows = judged(model_of(FAILING), ["cold"], progress=lambda *each: told.append(each))
    assert next(rows).failure == UNFAILED
    assert told == [("cold", UNFAILED, 0, 5)]
    assert next(rows).failure == "dry pipe"
    assert told[1] == ("cold", "dry pipe", 1, 5)


def test_a_case_that_cannot_be_solved_leaves_nothing_to_compare() -> None:
    rows = rows_of(changes={"links.radiator.conductance": 1e-12})
    for row in rows:
        if row.not_solved:
            assert math.isnan(row.moved)


def test_an_unknown_failure_is_met_with_the_nearest() -> None:
    with pytest.raises(InputError, match="unknown failure 'dry pip'; did you mean 'dry pipe'"):
        failures(model_of(FAILING), only=["dry pip"])


@pytest.mark.parametrize(
    ("entry", "path", "words"),
    [
        ("{set: {loads.bx.heat: 3 W}}", "failures.wrong.set.loads.bx.heat", "'box'"),
        ("{set: {loads.box.heat: 3 K}}", "failures.wrong.set.loads.box.heat", "W"),
        ("{set: {links.heat pipe.lst: true}}", "failures.wrong.set.links.heat pipe.lst", "lost"),
    ],
)
def test_a_value_that_cannot_be_set_is_told_where_it_stands(
    entry: str, path: str, words: str
) -> None:
    with pytest.raises(InputError) as caught:
        failures(model_of(f"{FAILING}  wrong: {entry}\n"))
    (problem,) = caught.value.problems
    assert problem.path == path
    assert words in problem.message
    assert problem.place is not None


def test_an_entry_cannot_bear_the_name_of_a_failure_known_without_it() -> None:
    text = f"{FAILING}  heater tank failed off: {{links: [heat pipe]}}\n"
    with pytest.raises(InputError, match="fails off without an entry") as caught:
        failures(model_of(text))
    assert caught.value.problems[0].place is not None


def test_a_sound_model_has_no_problems_of_failures() -> None:
    assert problems_of_failures(model_of(FAILING)) == []
