"""Which band applies when: a massless unit follows a wall whose temperature is imposed."""

from __future__ import annotations

import math

import pytest

from tests.small_models import FOLLOWING, STEADY, celsius, pick, solved
from thermnet.margins import margins
from thermnet.results import Result

# From 0 to 10 degC within 1000 s in a straight line, so at t it has t/100 degC.
RAMP = """
schedules:
  wall: {time: [0 s, 1000 s], value: [0, 10]}
  first half: {time: [0 s, 500 s], value: [1, 0], shape: steps}
  middle: {time: [0 s, 300 s, 600 s], value: [0, 1, 0], shape: steps}
  twice: {time: [0 s, 200 s, 400 s, 700 s, 900 s], value: [0, 1, 0, 1, 0], shape: steps}
  never: {time: [0 s], value: [0]}
"""


def following(component: str, schedules: str = RAMP) -> Result:
    return solved(f"{FOLLOWING}{schedules}components:\n  unit: {{at: unit, {component}}}\n")


def bands_of(result: Result) -> set[str]:
    return {margin.band for margin in margins(result)}


def test_the_operating_band_is_judged_while_the_unit_is_on() -> None:
    """On from 300 to 600 s: from 3 to 6 degC."""
    result = following("operating: [1, 8], on: middle")
    hot, cold = pick(result, "operating", "hot"), pick(result, "operating", "cold")
    assert (celsius(cold.calculated), cold.instant) == pytest.approx((3.0, 300.0), abs=1e-6)
    assert (celsius(hot.calculated), hot.instant) == pytest.approx((6.0, 600.0), abs=1e-6)
    assert (cold.margin, hot.margin) == pytest.approx((2.0, 2.0), abs=1e-6)


def test_the_non_operating_band_is_judged_while_the_unit_is_off() -> None:
    """On from 0 to 500 s, so off from 5 to 10 degC."""
    result = following("non_operating: [-9, 30], on: first half")
    assert celsius(pick(result, "non-operating", "cold").calculated) == pytest.approx(5.0)
    assert celsius(pick(result, "non-operating", "hot").calculated) == pytest.approx(10.0)


def test_each_band_sees_its_own_part_of_one_history() -> None:
    result = following("operating: [-1, 5.5], non_operating: [4.5, 30], on: first half")
    assert pick(result, "operating", "hot").margin == pytest.approx(0.5, abs=1e-6)
    assert pick(result, "non-operating", "cold").margin == pytest.approx(0.5, abs=1e-6)


@pytest.mark.parametrize(("on", "judged"), [("true", {"operating"}), ("false", {"non-operating"})])
def test_a_unit_that_is_always_on_or_off_is_judged_by_one_band(on: str, judged: set[str]) -> None:
    result = following(f"operating: [-9, 30], non_operating: [-20, 40], on: {on}")
    assert bands_of(result) == judged
    assert celsius(pick(result, judged.pop(), "hot").calculated) == pytest.approx(10.0)


def test_the_switch_on_band_is_judged_at_the_instant_of_switching_on() -> None:
    """On at 300 s, at 3 degC, whatever follows."""
    result = following("switch_on: [2, 5], on: middle")
    for side in ("hot", "cold"):
        margin = pick(result, "switch-on", side)
        assert (celsius(margin.calculated), margin.instant) == pytest.approx((3.0, 300.0))


def test_of_several_instants_of_switching_on_the_worst_counts() -> None:
    """On at 200 s and at 700 s: cold side at 2 degC, hot side at 7 degC."""
    result = following("switch_on: [0, 10], on: twice")
    assert celsius(pick(result, "switch-on", "cold").calculated) == pytest.approx(2.0)
    assert celsius(pick(result, "switch-on", "hot").calculated) == pytest.approx(7.0)


def test_a_unit_that_is_on_from_the_start_of_a_history_is_not_switched_on() -> None:
    assert bands_of(following("switch_on: [2, 5], on: first half")) == set()
    assert bands_of(following("switch_on: [2, 5], on: true")) == set()


def test_a_unit_that_stays_off_is_not_switched_on() -> None:
    assert bands_of(following("switch_on: [2, 5], operating: [2, 5], on: never")) == set()


def test_in_a_repeating_orbit_a_unit_on_at_both_ends_is_switched_on_once() -> None:
    """On from 600 s through the end of the period to 200 s of the next: switched on at 600 s."""
    text = FOLLOWING.replace(
        "transient, duration: 1000 s, initial: given", "repeating, period: 1000 s"
    )
    schedules = """
schedules:
  wall: {time: [0 s, 500 s, 1000 s], value: [0, 10, 0]}
  round: {time: [0 s, 200 s, 600 s], value: [1, 0, 1], shape: steps}
"""
    component = "components:\n  unit: {at: unit, switch_on: [0, 30], on: round}\n"
    result = solved(text + schedules + component)
    for side in ("hot", "cold"):
        margin = pick(result, "switch-on", side)
        assert (celsius(margin.calculated), margin.instant) == pytest.approx((8.0, 600.0))


def test_a_named_state_is_judged_while_its_schedule_is_above_zero() -> None:
    result = following("states: {charging: {band: [2, 7], when: middle}}")
    assert celsius(pick(result, "charging", "cold").calculated) == pytest.approx(3.0)
    assert celsius(pick(result, "charging", "hot").calculated) == pytest.approx(6.0)


def test_a_named_state_does_not_depend_on_whether_the_unit_is_on() -> None:
    result = following("on: false, states: {charging: {band: [2, 7], when: middle}}")
    assert celsius(pick(result, "charging", "hot").calculated) == pytest.approx(6.0)


def test_a_window_is_judged_between_its_instants() -> None:
    """Neither instant is one of a schedule: the history is cut there all the same."""
    result = following("windows: {deployment: {band: [0, 5], from: 123 s, to: 456 s}}")
    assert celsius(pick(result, "deployment", "cold").calculated) == pytest.approx(1.23)
    assert celsius(pick(result, "deployment", "hot").calculated) == pytest.approx(4.56)


def test_a_window_recurs_in_every_period_of_a_repeating_orbit() -> None:
    text = FOLLOWING.replace(
        "transient, duration: 1000 s, initial: given", "repeating, period: 1000 s"
    )
    schedules = "schedules:\n  wall: {time: [0 s, 500 s, 1000 s], value: [0, 10, 0]}\n"
    component = (
        "components:\n  unit: {at: unit, windows: {use: {band: [0, 9], from: 600 s, to: 700 s}}}\n"
    )
    result = solved(text + schedules + component)
    assert celsius(pick(result, "use", "hot").calculated) == pytest.approx(8.0)
    assert celsius(pick(result, "use", "cold").calculated) == pytest.approx(6.0)


def test_a_jump_of_temperature_is_seen_by_the_state_on_its_own_side() -> None:
    """The wall jumps from 0 to 10 degC as the unit goes off: operating never sees the 10."""
    schedules = """
schedules:
  wall: {time: [0 s, 500 s], value: [0, 10], shape: steps}
  first half: {time: [0 s, 500 s], value: [1, 0], shape: steps}
"""
    result = following("operating: [-5, 5], non_operating: [5, 15], on: first half", schedules)
    assert celsius(pick(result, "operating", "hot").calculated) == pytest.approx(0.0, abs=1e-6)
    assert celsius(pick(result, "non-operating", "cold").calculated) == pytest.approx(10.0)


def test_a_case_may_say_that_a_unit_is_off() -> None:
    text = (
        STEADY + "components:\n  unit: {at: plate, operating: [-9, 30], non_operating: [-20, 40]}\n"
    )
    survival = "  survival: {solve: steady, set: {components.unit.on: false}}\n"
    both = text.replace("  case: {solve: steady}\n", "  case: {solve: steady}\n" + survival)
    assert bands_of(solved(both)) == {"operating"}
    assert bands_of(solved(both, "survival")) == {"non-operating"}


def test_a_case_may_change_the_band_itself() -> None:
    text = STEADY.replace(
        "{solve: steady}", "{solve: steady, set: {components.unit.operating: [0, 22]}}"
    )
    result = solved(text + "components:\n  unit: {at: plate, operating: [-50, 90]}\n")
    assert pick(result, "operating", "hot").margin == pytest.approx(22.0 - 25.0)


def test_in_a_steady_case_a_unit_whose_schedule_is_ever_above_zero_counts_as_on() -> None:
    text = FOLLOWING.replace("solve: transient, duration: 1000 s, initial: given", "solve: steady")
    bands = "operating: [-9, 30], non_operating: [-20, 40], switch_on: [-5, 20]"
    for on, judged in (("middle", {"operating"}), ("never", {"non-operating"})):
        result = solved(f"{text}{RAMP}components:\n  unit: {{at: unit, {bands}, on: {on}}}\n")
        assert bands_of(result) == judged


# The plate is at the sink's 0 degC while nothing heats it.
AFTER = """
thermnet: 1
temperatures: degC
uncertainty: {policy: none}
nodes: {plate: {capacity: 1000 J/K, initial: 0}}
boundaries: {sink: {temperature: 0}}
links: {strap: {from: plate, to: sink, conductance: 1 W/K}}
modes: {rest: {}, work: {}}
units: {box: {node: plate, heat: {work: 20 W}}}
components: {box: {at: plate, unit: box, operating: [-50, 50], switch_on: [10, 40]}}
timelines:
  rest at last: {steps: {work: {mode: work, duration: 50 s}, rest: {mode: rest}}}
cases:
  resting: {mode: rest}
  works: {mode: work}
  rests at last: {solve: transient, duration: 100 s, timeline: rest at last, initial: given}
  case: {solve: transient, duration: 100 s, mode: work, after: resting}
"""


def test_a_unit_that_was_off_before_is_switched_on_at_the_first_instant() -> None:
    """At rest the plate is at 0 degC, 10 K below the switch-on band."""
    margin = pick(solved(AFTER), "switch-on", "cold")
    assert (margin.margin, margin.instant) == pytest.approx((-10.0, 0.0), abs=1e-6)


def test_a_unit_counts_as_what_it_was_at_the_end_of_the_case_before() -> None:
    after = solved(AFTER.replace("after: resting", "after: rests at last"))
    # Derived: 20 W for 50 s, and 50 s without, at a time constant of 1000 s.
    warm = 20.0 * (1.0 - math.exp(-0.05)) * math.exp(-0.05)
    calculated = celsius(pick(after, "switch-on", "cold").calculated)
    assert calculated == pytest.approx(warm, abs=1e-3)
    assert "switch-on" not in bands_of(solved(AFTER.replace("after: resting", "after: works")))


def test_a_component_that_the_case_before_had_switched_off_is_switched_on() -> None:
    text = AFTER.replace("unit: box, ", "")
    off = text.replace(
        "resting: {mode: rest}", "resting: {mode: rest, set: {components.box.on: false}}"
    )
    assert pick(solved(off), "switch-on", "cold").instant == 0.0
    assert "switch-on" not in bands_of(solved(text))
