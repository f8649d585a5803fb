"""Times to limits and warm-up times against closed forms of one node."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.small_models import celsius, model_of
from thermnet.account import account
from thermnet.errors import InputError
from thermnet.margins import margins
from thermnet.model.paths import apply_case, vary
from thermnet.model.plan import plan
from thermnet.results import Result, solve
from thermnet.solve.solution import Options
from thermnet.studies.continued import continued
from thermnet.studies.times import Times, TimeToLimit, WarmUp, event_of, times

FINE = Options(accuracy=1e-3)

# At 50 degC with 100 W, it falls to 0 degC with a time constant of 500 s: check-values 10.03,
# derived: closed form.
LINEAR = """
thermnet: 1
temperatures: degC
uncertainty: {policy: flat, allowance: 5 K}
nodes: {plate: {capacity: 1000 J/K, initial: 50}}
boundaries: {sink: {temperature: 0}}
links: {out: {from: plate, to: sink, conductance: 2 W/K}}
modes: {work: {}, rest: {}}
units: {box: {node: plate, heat: {work: 100 W}}}
timelines:
  day: {steps: {work: {mode: work, duration: 600 s}, rest: {mode: rest}}}
  turns: {repeats: at its end, steps: {
    work: {mode: work, duration: 600 s}, rest: {mode: rest, duration: 400 s}}}
components:
  box: {at: plate, unit: box, operating: [-10, 80], non_operating: [20, 90], switch_on: [-40, 40]}
cases:
  hot: {solve: steady, mode: work}
  cool: {solve: transient, duration: 2000 s, timeline: day, after: hot}
  short: {extends: cool, duration: 700 s}
  warm: {solve: transient, duration: 2000 s, mode: work, initial: given}
  turns: {solve: transient, duration: 5000 s, timeline: turns, after: hot}
"""
TAU = 500.0


def solved(text: str, case: str, **changes: object) -> Result:
    """A case solved finely, after it was seen that it is solved and that its account closes."""
    model = model_of(text)
    result = solve(vary(model, changes) if changes else model, case, FINE)
    assert result.solution.failure == ""
    assert account(result.network, result.solution).closes
    return result


def found(text: str, case: str, since: float | str | None = None) -> Times:
    return times(solved(text, case), since=since)


def row(every: Times, side: str, band: str = "non-operating") -> TimeToLimit:
    (chosen,) = [each for each in every.limits if (each.side, each.band) == (side, band)]
    return chosen


def warm_up(every: Times) -> WarmUp:
    (chosen,) = every.warm_ups
    return chosen


def test_a_linear_node_reaches_its_limit_after_tau_times_the_logarithm() -> None:
    """tau ln((T0 - Te)/(TL - Te)) = 500 ln(50/20), with 5 K of allowance 500 ln(50/25)."""
    cold = row(found(LINEAR, "cool"), "cold")
    assert cold.calculated == pytest.approx(TAU * math.log(50.0 / 20.0), abs=0.05)
    assert cold.predicted == pytest.approx(TAU * math.log(50.0 / 25.0), abs=0.05)
    assert (cold.ever, cold.ever_predicted) == ("within the case", "within the case")
    assert celsius(cold.at_event) == pytest.approx(50.0, abs=1e-3)
    assert cold.node == "plate"
    assert celsius(cold.limit) == pytest.approx(20.0)


def test_a_radiating_node_without_heat_reaches_its_limit_as_the_cube_says() -> None:
    """check-values 10.01 (derived: closed form): 300 to 250 K in 7467.151 s."""
    text = """
thermnet: 1
nodes: {box: {capacity: 3584 J/K, initial: 300 K}}
boundaries: {space: {temperature: 0 K}}
surfaces: {all: {node: box, area: 0.1463 m2, emittance: 0.52}}
components: {box: {at: box, operating: [250 K, 350 K]}}
cases: {cool: {solve: transient, initial: given, duration: 3 h}}
"""
    every = found(text, "cool")
    cold = row(every, "cold", "operating")
    assert cold.calculated == pytest.approx(7467.151, abs=0.5)
    assert cold.predicted == cold.calculated


def test_a_node_with_constant_heat_is_warm_after_tau_times_the_logarithm() -> None:
    """-tau ln(1 - dT G/Q): from 0 degC to 10 degC, and to 15 with the allowance (derived)."""
    text = LINEAR.replace("switch_on: [-40, 40]", "switch_on: [10, 40]")
    text = text.replace("initial: 50", "initial: 0")
    waiting = warm_up(found(text, "warm"))
    assert waiting.calculated == pytest.approx(-TAU * math.log(1.0 - 10.0 / 50.0), abs=0.05)
    assert waiting.predicted == pytest.approx(-TAU * math.log(1.0 - 15.0 / 50.0), abs=0.05)
    assert [celsius(end) for end in waiting.at_event] == pytest.approx([0.0, 0.0], abs=1e-6)


def test_a_unit_that_is_too_hot_may_be_switched_on_once_it_has_cooled() -> None:
    """500 ln(50/40), and 500 ln(50/35) with the allowance (derived)."""
    waiting = warm_up(found(LINEAR, "cool"))
    assert waiting.calculated == pytest.approx(TAU * math.log(50.0 / 40.0), abs=0.05)
    assert waiting.predicted == pytest.approx(TAU * math.log(50.0 / 35.0), abs=0.05)


def test_a_unit_that_cools_may_be_switched_on_only_until_it_is_too_cold() -> None:
    """From 35 to 20 degC with 5 K of allowance: 500 ln(50/35) to 500 ln(50/20) (derived)."""
    text = LINEAR.replace("switch_on: [-40, 40]", "switch_on: [15, 40]")
    waiting = warm_up(found(text, "cool"))
    assert waiting.predicted == pytest.approx(TAU * math.log(50.0 / 35.0), abs=0.05)
    assert waiting.closed == pytest.approx(TAU * math.log(50.0 / 20.0), abs=0.05)
    assert math.isinf(warm_up(found(LINEAR, "cool")).closed)


def test_a_unit_that_is_off_inside_its_switch_on_band_need_not_wait() -> None:
    text = LINEAR.replace("switch_on: [-40, 40]", "switch_on: [-40, 70]")
    waiting = warm_up(found(text, "cool"))
    assert (waiting.calculated, waiting.predicted) == (0.0, 0.0)


def test_a_unit_that_is_on_inside_its_switch_on_band_waits_for_nothing() -> None:
    text = LINEAR.replace("switch_on: [-40, 40]", "switch_on: [-40, 70]")
    assert found(text, "cool", "work").warm_ups == ()


def test_all_nodes_must_be_warm_before_a_unit_is_switched_on() -> None:
    """The second plate has twice the time constant, so its time counts (derived)."""
    text = LINEAR.replace("initial: 50}}", "initial: 0}, slow: {capacity: 2000 J/K, initial: 0}}")
    text = text.replace(
        "conductance: 2 W/K}}",
        "conductance: 2 W/K}, slow: {from: slow, to: sink, conductance: 2 W/K}}\n"
        "loads: {slow: {node: slow, heat: 100 W}}",
    )
    text = text.replace("at: plate", "at: [plate, slow]").replace("[-40, 40]", "[10, 60]")
    waiting = warm_up(found(text, "warm"))
    assert waiting.calculated == pytest.approx(-1000.0 * math.log(1.0 - 10.0 / 50.0), abs=0.1)


def test_the_last_step_of_a_timeline_is_the_event_unless_another_is_named() -> None:
    by_default, from_start = found(LINEAR, "cool"), found(LINEAR, "cool", "work")
    assert (by_default.step, by_default.since) == ("rest", 600.0)
    assert (from_start.step, from_start.since) == ("work", 0.0)
    late, early = row(from_start, "cold"), row(by_default, "cold")
    assert late.calculated == pytest.approx(600.0 + early.calculated, abs=1e-5)


def test_an_event_in_the_middle_of_a_step_counts_from_there() -> None:
    """100 s after the switching off: 500 ln(50/20) - 100 s are left (derived)."""
    every = found(LINEAR, "cool", 700.0)
    assert row(every, "cold").calculated == pytest.approx(
        TAU * math.log(50.0 / 20.0) - 100.0, abs=0.05
    )
    at_event = celsius(row(every, "cold").at_event)
    assert at_event == pytest.approx(50.0 * math.exp(-0.2), abs=2e-3)


def test_a_band_counts_only_from_when_it_applies() -> None:
    """Outside the non-operating band from the start, but switched off only after 600 s."""
    text = LINEAR.replace("non_operating: [20, 90]", "non_operating: [-20, 45]")
    every = found(text, "cool", "work")
    assert row(every, "hot").calculated == pytest.approx(600.0, abs=1e-6)
    assert row(found(text, "cool"), "hot").calculated == 0.0


def test_a_limit_that_is_never_reached_says_where_the_component_settles() -> None:
    """It settles at 0 degC: 90 - 5 K below the hot limit (by hand)."""
    hot = row(found(LINEAR, "cool"), "hot")
    assert math.isinf(hot.calculated)
    assert math.isinf(hot.predicted)
    assert (hot.ever, hot.ever_predicted) == ("never", "never")
    assert celsius(hot.settles) == pytest.approx(0.0, abs=1e-3)
    assert hot.margin == pytest.approx(85.0, abs=1e-3)


def test_a_limit_that_is_reached_only_after_the_case_says_so() -> None:
    """100 s after switching off it is at 41 degC; it settles at 0 degC, 25 K beyond."""
    cold = row(found(LINEAR, "short"), "cold")
    assert math.isinf(cold.predicted)
    assert (cold.ever, cold.ever_predicted) == ("after the case", "after the case")
    assert cold.margin == pytest.approx(-25.0, abs=1e-3)


def test_calculated_and_predicted_may_differ_about_whether_it_ever_comes_to_it() -> None:
    """It settles at 0 degC: above a limit of -3 degC, but not by the allowance."""
    text = LINEAR.replace("non_operating: [20, 90]", "non_operating: [-3, 90]")
    cold = row(found(text, "short"), "cold")
    assert (cold.ever, cold.ever_predicted) == ("never", "after the case")


def test_the_shortest_time_comes_first_and_never_last() -> None:
    every = found(LINEAR, "cool")
    assert [each.ever for each in every.limits] == ["within the case", "never"]


def test_what_rests_on_its_limit_has_not_left_it() -> None:
    text = LINEAR.replace("allowance: 5 K", "allowance: 0 K")
    text = text.replace("operating: [-10, 80]", "operating: [-10, 50]", 1)
    hot = row(found(text, "cool", "work"), "hot", "operating")
    assert math.isinf(hot.calculated)


def test_a_timeline_that_repeats_settles_in_the_state_that_repeats() -> None:
    """Square wave (derived): Tm (1 - a)/(1 - a b) at most, b times that at least."""
    every = found(LINEAR, "turns")
    a, b = math.exp(-600.0 / TAU), math.exp(-400.0 / TAU)
    highest = 50.0 * (1.0 - a) / (1.0 - a * b)
    assert every.continued is not None
    assert every.continued.solution.kind == "repeating"
    assert celsius(row(every, "cold").settles) == pytest.approx(b * highest, abs=0.01)
    assert celsius(row(every, "hot").settles) == pytest.approx(highest, abs=0.01)


def test_in_an_orbit_the_last_mode_goes_on_over_one_orbit() -> None:
    text = """
thermnet: 1
nodes: {box: {capacity: 900 J/K, initial: 300 K}}
boundaries: {space: {temperature: 2.7 K}}
surfaces: {top: {node: box, area: 0.1 m2, absorptance: 0.5, emittance: 0.8, normal: -z}}
orbits: {low: {altitude: 500 km, beta: 0 deg}}
pointings:
  nadir: {axis: +z, to: nadir, second_axis: +x, second_to: velocity}
  over: {axis: -z, to: nadir, second_axis: +x, second_to: velocity}
modes: {work: {}, safe: {}}
units: {box: {node: box, heat: {work: 10 W, safe: 4 W}}}
timelines:
  anomaly: {steps: {work: {mode: work, duration: 1000 s}, safe: {mode: safe, pointing: over}}}
components: {box: {at: box, operating: [100 K, 400 K]}}
cases:
  lost: {solve: transient, orbit: low, pointing: nadir, environment: mean, timeline: anomaly,
         initial: given, duration: 2000 s}
  safe: {extends: lost, solve: repeating, initial: steady, mode: safe, pointing: over}
"""
    later, own = continued(solved(text, "lost")), solved(text, "safe")
    assert later.plan.span == pytest.approx(5677.0, abs=0.1)
    for name in ("lowest", "highest"):
        mine, theirs = getattr(later.solution.extremes, name), getattr(own.solution.extremes, name)
        assert mine.min(axis=0) == pytest.approx(theirs.min(axis=0), abs=5e-3)
        assert mine.max(axis=0) == pytest.approx(theirs.max(axis=0), abs=5e-3)


def test_a_schedule_that_has_ended_keeps_its_last_value() -> None:
    """40 W at the end of the case give 20 degC, though their mean over time is less."""
    text = LINEAR.replace("cases:", "schedules: {up: {time: [0 s, 1000 s], value: [0, 1]}}\ncases:")
    text = text.replace("modes:", "loads: {more: {node: plate, heat: 40 W, schedule: up}}\nmodes:")
    hot = row(found(text, "cool"), "hot")
    assert celsius(hot.settles) == pytest.approx(20.0, abs=1e-3)


def test_a_case_s_own_scale_is_not_applied_again_to_what_follows() -> None:
    """Half of 40 W, once: 10 degC."""
    text = LINEAR.replace("modes:", "loads: {more: {node: plate, heat: 40 W}}\nmodes:", 1)
    text = text.replace("after: hot}", "after: hot, set: {loads.more.heat: {scale: 0.5}}}", 1)
    assert celsius(row(found(text, "cool"), "hot").settles) == pytest.approx(10.0, abs=1e-3)
    every = times(solved(text, "cool", **{"loads.more.heat": {"scale": 3.0}}))
    assert celsius(row(every, "hot").settles) == pytest.approx(30.0, abs=1e-3)


def test_where_periods_do_not_fit_what_follows_is_not_known() -> None:
    waves = "{one: {time: [0 s, 30 s], value: [0, 1], period: 70 s}, "
    waves += "two: {time: [0 s, 50 s], value: [0, 1], period: 100 s}}"
    text = LINEAR.replace("cases:", f"schedules: {waves}\ncases:")
    every = found(text, "cool")
    assert every.continued is None
    assert "period of 70 s does not fit" in every.reason
    assert row(every, "hot").ever == "not known"
    assert row(every, "cold").ever == "within the case"


def test_a_held_component_has_no_allowance_on_its_cold_side() -> None:
    """The heater cycles from 30 to 31 degC: the cold limit of 28 degC is kept, predicted too."""
    text = LINEAR.replace("modes:", "heaters: {plate: {node: plate, power: 200 W, "
                          "on_below: 30, off_above: 31}}\nmodes:")  # fmt: skip
    text = text.replace("unit: box,", "unit: box, held_by: plate,")
    text = text.replace("non_operating: [20, 90]", "non_operating: [28, 90]")
    assert math.isinf(row(found(text, "cool"), "cold").predicted)
    free = text.replace("held_by: plate,", "")
    assert row(found(free, "cool"), "cold").predicted == pytest.approx(
        TAU * math.log(50.0 / 33.0), abs=0.05
    )


def test_a_jump_of_a_massless_node_is_seen_at_its_instant() -> None:
    """It follows a wall that jumps from 0 to 10 degC at 400 s, beyond a limit of 5 degC."""
    text = """
thermnet: 1
temperatures: degC
nodes: {unit: {massless: true}, ballast: {capacity: 1000 J/K, initial: 0}}
boundaries: {wall: {temperature: 0, swing: 10 K, schedule: jump}}
links:
  unit: {from: unit, to: wall, conductance: 1 W/K}
  ballast: {from: ballast, to: wall, conductance: 1 W/K}
schedules: {jump: {time: [0 s, 400 s], value: [0, 1], shape: steps}}
components: {unit: {at: unit, operating: [-5, 5]}}
cases: {case: {solve: transient, duration: 1000 s, initial: given}}
"""
    hot = row(found(text, "case"), "hot", "operating")
    assert hot.calculated == pytest.approx(400.0, abs=1e-6)
    assert celsius(hot.at_event) == pytest.approx(0.0, abs=1e-6)


def test_whatever_the_margins_call_outside_has_a_time() -> None:
    """A limit 20 microkelvin below the peak of a swinging node is passed for a moment only."""
    text = LINEAR.replace("cases:", "schedules: {wave: {time: [0 s, 300 s, 600 s], "
                          "value: [0, 1, 0], period: 600 s}}\ncases:")  # fmt: skip
    text = text.replace(
        "modes:", "loads: {wave: {node: plate, heat: 90 W, schedule: wave}}\nmodes:"
    )
    peak = float(solved(text, "warm").solution.extremes.highest[:, 0].max())
    text = text.replace("operating: [-10, 80]", f"operating: [-10, {celsius(peak) - 2e-5!r}]", 1)
    every = found(text, "warm")
    (margin,) = [each for each in margins(every.result) if each.side == "hot"]
    assert margin.verdict == "outside band"
    assert row(every, "hot", "operating").calculated == pytest.approx(margin.instant, abs=5.0)


def test_times_are_asked_of_transient_cases_alone() -> None:
    result = solved(LINEAR, "hot")
    with pytest.raises(InputError, match="this one is steady: make a transient case"):
        times(result)


def test_an_unknown_step_names_the_nearest() -> None:
    result = solved(LINEAR, "cool")
    with pytest.raises(
        InputError, match="no step 'rests' begins in this case; did you mean 'rest'"
    ):
        times(result, since="rests")


@pytest.mark.parametrize("since", [-1.0, 2000.0, math.nan])
def test_an_event_outside_the_case_is_an_error(since: float) -> None:
    result = solved(LINEAR, "cool")
    with pytest.raises(InputError, match="must lie from 0 s to before 2000 s"):
        event_of(result.model, result.plan, since)


def test_an_unknown_component_names_the_nearest() -> None:
    result = solved(LINEAR, "cool")
    with pytest.raises(InputError, match="unknown component 'bx'; did you mean 'box'"):
        times(result, components=["bx"])


def test_a_case_without_a_solution_has_no_times_but_a_reason() -> None:
    text = LINEAR.replace("heat: {work: 100 W}", "heat: {work: 1e7 W}")
    result = solve(model_of(text), "cool")
    every = times(result)
    assert every.limits == ()
    assert every.reason == result.solution.failure != ""


def test_times_are_counted_on_the_course_between_the_steps_of_the_solver() -> None:
    """Coarse output changes nothing: 2 intervals or 200."""
    model = model_of(LINEAR)
    few, many = (
        row(times(solve(model, "cool", Options(accuracy=1e-3, outputs=count))), "cold").calculated
        for count in (2, 200)
    )
    assert few == many
    assert np.isfinite(few)


def test_a_peak_at_the_end_of_a_band_is_over_at_the_event_that_ends_it() -> None:
    """On from 0 degC for 600 s, to 34.94 degC, off for 400 s: it is beyond 30 degC again
    500 ln((50 - 15.70) / 20) = 269.75 s after it is switched on again (derived)."""
    text = LINEAR.replace("initial: 50", "initial: 0").replace("[-10, 80]", "[-10, 30]")
    text = text.replace("timeline: turns, after: hot", "timeline: turns, initial: given")
    peak = 50.0 * (1.0 - math.exp(-600.0 / TAU))
    again = TAU * math.log((50.0 - peak * math.exp(-400.0 / TAU)) / 20.0)
    hot = row(found(text, "turns", 600.0), "hot", "operating")
    assert hot.calculated == pytest.approx(400.0 + again, abs=0.05)


def test_a_last_step_that_goes_on_at_the_start_is_the_last_step_all_the_same() -> None:
    """At work from 200 s and at rest from 600 s of 1000 s: what begins at 0 s is the same rest."""
    text = LINEAR.replace("repeats: at its end", "repeats: 1000 s").replace(
        "work: {mode: work, duration: 600 s}, rest: {mode: rest, duration: 400 s}",
        "work: {mode: work, time: 200 s}, rest: {mode: rest, time: 600 s}",
    )
    model = apply_case(model_of(text), "turns")
    assert event_of(model, plan(model, "turns"), None) == (600.0, "rest")


def test_what_settles_on_its_limit_never_leaves_it() -> None:
    """It settles at 0 degC from above, which is its limit, but for the last digits."""
    text = LINEAR.replace("allowance: 5 K", "allowance: 0 K").replace("[20, 90]", "[1e-7, 90]")
    assert row(found(text, "short"), "cold").ever == "never"
