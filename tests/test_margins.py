"""Margins and verdicts, on tiny models whose temperatures are known in closed form."""

from __future__ import annotations

import math

import pytest

from tests.small_models import FOLLOWING, STEADY, celsius, model_of, pick, solved
from thermnet.margins import (
    Margin,
    governing,
    holds,
    margins,
    summaries,
)
from thermnet.results import Result, solve, solve_cases

BAND = "at: plate, operating: [-10, 40]"
FAR = "operating: [-200, 400]"


def steady(component: str, **changes: str) -> Result:
    """The plate at 20 degC, the mirror at 12 degC, 5 K of allowance unless changed."""
    text = STEADY
    for old, new in changes.items():
        text = text.replace(f"{{{old}: flat, allowance: 5 K}}", new)
    return solved(f"{text}components:\n  unit: {{at: plate, {component}}}\n")


# ---------------------------------------------------------------- verdicts and signs


def test_both_sides_of_a_band_are_judged_in_every_case() -> None:
    found = margins(steady("operating: [-10, 40]"))
    assert {margin.side for margin in found} == {"hot", "cold"}
    assert holds(found)


def test_the_margin_is_the_distance_from_predicted_to_limit_on_each_side() -> None:
    """At 20 degC with 5 K: 25 against 40, and 15 against -10."""
    result = steady("operating: [-10, 40]")
    hot, cold = pick(result, "operating", "hot"), pick(result, "operating", "cold")
    assert (hot.margin, hot.clearance) == pytest.approx((15.0, 20.0))
    assert (cold.margin, cold.clearance) == pytest.approx((25.0, 30.0))


def test_the_allowance_makes_hot_hotter_and_cold_colder_once() -> None:
    result = steady("operating: [-10, 40]")
    hot, cold = pick(result, "operating", "hot"), pick(result, "operating", "cold")
    assert celsius(hot.calculated) == celsius(cold.calculated) == pytest.approx(20.0)
    assert celsius(hot.predicted) == pytest.approx(25.0)
    assert celsius(cold.predicted) == pytest.approx(15.0)
    assert hot.allowance == cold.allowance == 5.0


@pytest.mark.parametrize(
    ("upper", "verdict"),
    [
        ("25.001", "holds"),
        ("24.999", "allowance not covered"),
        ("20.001", "allowance not covered"),
        ("19.999", "outside band"),
    ],
)
def test_the_hot_side_verdict_changes_at_predicted_and_at_calculated(
    upper: str, verdict: str
) -> None:
    """20 degC calculated, 25 degC predicted."""
    assert pick(steady(f"operating: [-10, {upper}]"), "operating", "hot").verdict == verdict


@pytest.mark.parametrize(
    ("lower", "verdict"),
    [
        ("14.999", "holds"),
        ("15.001", "allowance not covered"),
        ("19.999", "allowance not covered"),
        ("20.001", "outside band"),
    ],
)
def test_the_cold_side_verdict_changes_at_predicted_and_at_calculated(
    lower: str, verdict: str
) -> None:
    """20 degC calculated, 15 degC predicted."""
    assert pick(steady(f"operating: [{lower}, 90]"), "operating", "cold").verdict == verdict


def test_a_temperature_on_its_limit_holds() -> None:
    """A wall at 50 degC to the last bit, an upper limit of 50 degC, no allowance."""
    text = FOLLOWING.replace("temperature: 0, swing: 1 K, schedule: wall", "temperature: 50")
    text = text.replace("transient, duration: 1000 s, initial: given", "steady")
    result = solved(text + "components:\n  unit: {at: unit, operating: [-10, 50]}\n")
    margin = pick(result, "operating", "hot")
    assert (margin.margin, margin.verdict) == (0.0, "holds")


def test_without_a_policy_predicted_is_calculated() -> None:
    result = steady("operating: [-10, 20.001]", policy="{policy: none}")
    hot = pick(result, "operating", "hot")
    assert (hot.predicted, hot.verdict) == (hot.calculated, "holds")


def test_a_component_s_own_allowance_stands_for_the_model_s() -> None:
    """20 + 2 degC against 23: 1 K, where the model's 5 K would give -2 K."""
    assert pick(steady("operating: [-10, 23], uncertainty: 2 K"), "operating", "hot").margin == (
        pytest.approx(1.0)
    )


def test_the_published_policy_takes_11_K_or_17_K() -> None:
    """SMC-S-016 4.4.2.1 (check-value 9.04: read): 11 K balance tested, 17 K not."""
    for tested, allowed in (("true", 11.0), ("false", 17.0)):
        policy = f"{{policy: SMC-S-016, balance_tested: {tested}}}"
        hot = pick(steady("operating: [-10, 40]", policy=policy), "operating", "hot")
        assert hot.margin == pytest.approx(20.0 - allowed)


def test_a_margin_says_where_when_at_which_level_and_in_which_case() -> None:
    hot = pick(steady(f"{FAR}, group: payload, level: acceptance"), "operating", "hot")
    stated = (hot.component, hot.group, hot.node, hot.case, hot.level, hot.instant)
    assert stated == ("unit", "payload", "plate", "case", "acceptance", 0.0)


def test_of_several_nodes_each_side_takes_its_own_worst() -> None:
    """Plate 20 degC, mirror 12 degC."""
    text = STEADY + "components:\n  unit: {at: [mirror, plate], operating: [-10, 40]}\n"
    result = solved(text)
    hot, cold = pick(result, "operating", "hot"), pick(result, "operating", "cold")
    assert (hot.node, cold.node) == ("plate", "mirror")
    assert (celsius(hot.calculated), celsius(cold.calculated)) == pytest.approx((20.0, 12.0))


def test_an_extreme_between_two_outputs_is_the_one_that_is_judged() -> None:
    """A peak of the wall at 504 s that lasts 4 s; outputs come every 8.3 s."""
    schedule = """
schedules:
  wall: {time: [0 s, 502 s, 504 s, 506 s, 1000 s], value: [0, 0, 50, 0, 0]}
"""
    result = solved(
        f"{FOLLOWING}{schedule}components:\n  unit: {{at: unit, operating: [-1, 49]}}\n"
    )
    assert not (abs(result.solution.t - 504.0) < 2.0).any()
    hot = pick(result, "operating", "hot")
    assert (celsius(hot.calculated), hot.instant) == pytest.approx((50.0, 504.0))
    assert hot.verdict == "outside band"


# ---------------------------------------------------------------- differences, rates


def test_a_difference_to_another_node_is_judged_either_way() -> None:
    """Plate 20, mirror 12: 8 K, seen from either."""
    for at, to in (("plate", "mirror"), ("mirror", "plate")):
        component = f"at: {at}, differences: {{focus: {{to: {to}, limit: 8.5 K}}}}"
        margin = pick(solved(f"{STEADY}components:\n  unit: {{{component}}}\n"), "focus", "hot")
        assert (margin.calculated, margin.margin) == pytest.approx((8.0, 0.5))
        assert (margin.quantity, margin.verdict) == ("difference", "holds")


def test_a_difference_beyond_its_limit_is_outside() -> None:
    result = steady("differences: {focus: {to: mirror, limit: 7.9 K}}")
    assert pick(result, "focus", "hot").verdict == "outside band"
    assert not holds(margins(result))


def test_a_difference_counts_only_while_the_unit_is_on() -> None:
    """Wall from 0 to 10 degC, ballast near 0: the difference at 300 s, when the unit goes off."""
    schedules = """
schedules:
  wall: {time: [0 s, 1000 s], value: [0, 10]}
  begin: {time: [0 s, 300 s], value: [1, 0], shape: steps}
components:
  unit:
    at: unit
    on: begin
    differences: {bend: {to: wall, limit: 1 K}, away: {to: ballast, limit: 9 K}}
"""
    result = solved(FOLLOWING + schedules)
    away = pick(result, "away", "hot")
    assert away.instant == pytest.approx(300.0)
    assert away.calculated == pytest.approx(3.0, abs=0.01)
    assert pick(result, "bend", "hot").calculated == pytest.approx(0.0, abs=1e-6)


PULSE = """
schedules:
  pulse: {time: [0 s, 100 s, 200 s], value: [0, 1, 0], shape: steps}
"""


def rated(on: str, limit: str = "rate: 1 K/min") -> Margin:
    """20 W on 1000 J/K from 100 to 200 s, from 0 degC: the rate is steepest as it begins."""
    text = STEADY.replace("{solve: steady}", "{solve: transient, duration: 300 s, initial: given}")
    text = text.replace("heat: 20 W}", "heat: 20 W, schedule: pulse}")
    unit = f"components:\n  unit: {{at: plate, {limit}, on: {on}}}\n"
    return pick(solved(text + PULSE + unit), "rate", "hot")


def test_the_rate_of_change_is_heat_over_capacity() -> None:
    """20 W / 1000 J/K at the very instant of switching on, before any loss (closed form)."""
    margin = rated("true")
    assert margin.calculated == pytest.approx(0.02, rel=1e-6)
    assert margin.instant == pytest.approx(100.0)
    assert margin.limit == pytest.approx(1.0 / 60.0)
    assert margin.verdict == "outside band"


def test_the_rate_at_the_instant_of_switching_on_belongs_to_the_unit_that_is_on() -> None:
    assert rated("pulse").calculated == pytest.approx(0.02, rel=1e-6)


def test_the_rate_at_the_instant_of_switching_off_belongs_to_the_unit_that_was_on() -> None:
    """A unit on only until 100 s sees nothing of the heat that begins there."""
    text = STEADY.replace("{solve: steady}", "{solve: transient, duration: 300 s, initial: given}")
    text = text.replace("heat: 20 W}", "heat: 20 W, schedule: pulse}")
    early = "  early: {time: [0 s, 100 s], value: [1, 0], shape: steps}\n"
    unit = "components:\n  unit: {at: plate, rate: 1 K/min, on: early}\n"
    assert pick(solved(text + PULSE + early + unit), "rate", "hot").calculated < 1e-9


def test_a_falling_temperature_has_a_rate_too() -> None:
    """From 40 degC to a sink at 0: 1 W/K x 40 K over 1000 J/K at first."""
    text = STEADY.replace("{solve: steady}", "{solve: transient, duration: 100 s, initial: given}")
    text = text.replace("heat: 20 W", "heat: 0 W")
    text = text.replace("capacity: 1000 J/K, initial: 0}", "capacity: 1000 J/K, initial: 40}")
    unit = "components:\n  unit: {at: plate, rate: 3 K/min}\n"
    margin = pick(solved(text + unit), "rate", "hot")
    assert margin.calculated == pytest.approx(0.04, rel=1e-6)
    assert margin.margin == pytest.approx(0.01, rel=1e-5)


def test_a_steady_state_has_no_rate() -> None:
    assert margins(steady("rate: 1 K/min")) == ()


# ---------------------------------------------------------------- order, summaries, failures

MANY = """
components:
  inside: {at: plate, operating: [-50, 90]}
  without band: {at: mirror}
  tight: {at: plate, operating: [-50, 26]}
  outside: {at: mirror, operating: [-50, 11]}
  short: {at: mirror, operating: [10, 90]}
  bent: {at: plate, operating: [-60, 90], differences: {focus: {to: mirror, limit: 9 K}}}
"""


def test_the_worst_margin_comes_first_by_verdict_and_then_by_size() -> None:
    found = margins(solved(STEADY + MANY))
    verdicts = ("outside band", "allowance not covered", "holds")
    ranks = [verdicts.index(margin.verdict) for margin in found]
    assert ranks == sorted(ranks)
    assert [margin.component for margin in found[:3]] == ["outside", "short", "tight"]
    held_margins = [m.margin for m in found if m.verdict == "holds" and m.quantity == "temperature"]
    assert held_margins == sorted(held_margins)


def test_a_small_clearance_outside_comes_before_a_larger_lack_of_allowance() -> None:
    """Outside by 0.1 K (5.1 K short) and inside by 0.1 K (4.9 K short)."""
    inside = "  a: {at: plate, operating: [0, 20.1]}\n"
    outside = "  b: {at: mirror, operating: [0, 11.9]}\n"
    found = margins(solved(f"{STEADY}components:\n{inside}{outside}"))
    assert [margin.component for margin in found[:2]] == ["b", "a"]


def test_the_governing_margin_of_a_side_is_the_worst_of_all_cases() -> None:
    text = STEADY + "  warm: {solve: steady, set: {loads.plate.heat: 30 W}}\n"
    text += "components:\n  unit: {at: plate, operating: [0, 60]}\n"
    sides = {m.side: m for m in governing(margins(solve_cases(model_of(text))))}
    assert (sides["hot"].case, sides["cold"].case) == ("warm", "case")
    assert sides["hot"].margin == pytest.approx(60.0 - 35.0)
    assert sides["cold"].margin == pytest.approx(15.0)


def test_a_component_without_a_band_is_listed_last_and_never_as_holding() -> None:
    rows = summaries([solved(STEADY + MANY)])
    assert [row.component for row in rows][-1] == "without band"
    assert rows[-1].hot is None
    assert rows[-1].cold is None
    assert rows[-1].others == ()
    assert {row.component for row in rows} == {
        "inside", "without band", "tight", "outside", "short", "bent",
    }  # fmt: skip


def test_a_row_holds_the_ranges_of_every_case_and_the_other_limits() -> None:
    text = STEADY + "  warm: {solve: steady, kind: hot, set: {loads.plate.heat: 30 W}}\n" + MANY
    rows = {row.component: row for row in summaries(solve_cases(model_of(text)))}
    first, second = rows["bent"].ranges
    assert (first.case, first.kind, second.case, second.kind) == ("case", "other", "warm", "hot")
    assert celsius(second.highest) == pytest.approx(30.0)
    (focus,) = rows["bent"].others
    assert focus.case == "warm"
    assert focus.margin == pytest.approx(9.0 - 18.0)


def test_each_end_of_a_band_is_shown_as_it_is_in_the_case_that_governs_its_side() -> None:
    """The other case lowers both ends: its upper one governs, the lower one is the first's."""
    text = STEADY + "  other: {solve: steady, set: {components.unit.operating: [-20, 30]}}\n"
    (row,) = summaries(solve_cases(model_of(f"{text}components:\n  unit: {{{BAND}}}\n")))
    assert row.hot is not None
    assert row.cold is not None
    assert (row.hot.case, row.cold.case) == ("other", "case")
    assert [celsius(end) for end in row.bands["operating"]] == pytest.approx([-10.0, 30.0])


def test_two_limits_of_one_name_are_both_kept() -> None:
    text = STEADY.replace("{solve: steady}", "{solve: transient, duration: 100 s, initial: given}")
    unit = "{at: plate, rate: 90 K/min, differences: {rate: {to: mirror, limit: 50 K}}}"
    (row,) = summaries([solved(f"{text}components:\n  unit: {unit}\n")])
    assert {margin.quantity for margin in row.others} == {"rate", "difference"}


def unsolvable(component: str) -> Result:
    """A million watts through 1 W/K: beyond any temperature that a solver follows."""
    model = model_of(
        STEADY.replace("heat: 20 W", "heat: 1e6 W")
        + f"components:\n  unit: {{at: plate, {component}}}\n"
    )
    result = solve(model, "case")
    assert result.solution.failure != ""
    return result


def test_a_case_without_a_solution_never_holds() -> None:
    found = margins(unsolvable("operating: [-270, 1e9]"))
    assert [margin.verdict for margin in found] == ["not solved", "not solved"]
    assert all(math.isnan(margin.margin) for margin in found)
    assert not holds(found)


def test_other_limits_do_not_hold_without_a_solution_either() -> None:
    found = margins(unsolvable("rate: 1 K/s, differences: {focus: {to: mirror, limit: 1e9 K}}"))
    assert {(m.quantity, m.verdict) for m in found} == {
        ("rate", "not solved"), ("difference", "not solved"),
    }  # fmt: skip
    assert not holds(found)


def test_a_case_without_a_solution_comes_before_everything_else() -> None:
    text = STEADY + "  burnt: {solve: steady, set: {loads.plate.heat: 1e6 W}}\n"
    text += "components:\n  unit: {at: plate, operating: [-10, 11]}\n"
    found = margins(solve_cases(model_of(text)))
    assert [margin.verdict for margin in found[:3]] == ["not solved", "not solved", "outside band"]
    (row,) = summaries(solve_cases(model_of(text)))
    assert row.hot is not None
    assert row.hot.verdict == "not solved"
