"""Who feeds whom: solar cells, units, heaters and the battery, and what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.full import only_in_full
from tests.powered import (
    CAPACITY,
    DEMAND,
    EFFICIENCY,
    GIVEN,
    INTO,
    LIT,
    MODEL,
    OUT_OF,
    PACKING,
    PERIOD,
    PLATE,
    energy_of,
    result_of,
)
from tests.small_models import model_of, solved
from thermnet.errors import InputError
from thermnet.model.assemble import assemble
from thermnet.model.paths import vary
from thermnet.results import Result, solve
from thermnet.samples import heats_by_path
from thermnet.saved import open_result, save


def test_a_schedule_says_what_share_is_drawn_where_there_is_no_battery() -> None:
    text = PLATE.replace("packing:", "drawn: half, packing:")
    found = energy_of(result_of("case", {"surfaces.front.cells.efficiency_slope": 0.0}, text))
    assert found.given == pytest.approx(0.5 * EFFICIENCY * PACKING * 1361.0)


def test_what_is_sent_away_is_taken_but_warms_nothing() -> None:
    found = energy_of(result_of("sending"))
    # Derived: ten watts more, with the same heat.
    assert found.sent == pytest.approx(10.0 * PERIOD)
    assert found.units == pytest.approx(DEMAND * PERIOD)
    by_hand = (DEMAND + 10.0) * (LIT + (PERIOD - LIT) / (INTO * OUT_OF))
    assert found.given == pytest.approx(by_hand, rel=1e-6)


def test_a_transient_starts_with_the_charge_that_is_stated() -> None:
    found = energy_of(result_of("day", {"batteries.pack.begins": 0.25}))
    # Derived: a (P - D) is held until the shadow comes, which is not enough to fill it.
    assert found.course.charge[0] == pytest.approx(0.25)
    before_shadow = 0.25 + INTO * (GIVEN - DEMAND) * LIT / CAPACITY
    assert before_shadow < 1.0
    at_entry = np.interp(LIT - 1e-3, found.course.time, found.course.charge)
    assert at_entry == pytest.approx(before_shadow, abs=1e-5)
    assert found.share < 1e-6


HEATED = (
    MODEL
    + """
heaters:
  box: {node: box, power: 60 W, on_below: 12, off_above: 14}
"""
)


@pytest.mark.parametrize("case", ["orbit", "day"])
def test_heaters_are_fed_as_they_were_switched(case: str) -> None:
    result = result_of(case, text=HEATED)
    found = energy_of(result)
    # Derived: power times the time that it is on, of all turns in their mean.
    record = result.solution.record
    turns = round(float(record.weight.sum()) / result.plan.span)
    on = float(record.weight @ record.duty[:, 0])
    assert found.heaters == pytest.approx(60.0 * on / turns, rel=1e-6)
    assert found.heaters > 0.0
    assert found.share < 2e-3


TWO_FACES = MODEL.replace(
    "units:",
    """  tail:
    node: box
    area: 0.5 m2
    absorptance: 0.9
    emittance: 0.0001
    to: sink
    absorbed: {solar: {heat: 200 W, schedule: sun}}
    cells: {efficiency: 0.28, packing: 0.9}
units:""",
    1,
).replace("cells: [wing]", "cells: [wing, tail]")


def test_a_full_battery_draws_from_each_face_in_proportion_to_what_it_can_give() -> None:
    result = result_of("orbit", text=TWO_FACES)
    wing, tail = (result.drawn[f"surfaces.{name}.cells"].demand for name in ("wing", "tail"))
    # Derived: 600 to 200 W of sunlight with the same cells.
    assert wing.value.max() == pytest.approx(0.75 * DEMAND)
    assert tail.value.max() == pytest.approx(0.25 * DEMAND)
    assert energy_of(result).share < 1e-6


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("efficiency: 0.28, packing: 0.9", "efficiency: 1.4", "must be below 1"),
        ("efficiency: 0.28, packing: 0.9", "efficiency: 0.95", "of which only 0.9 is absorbed"),
        (
            "efficiency: 0.28, packing: 0.9",
            "efficiency: 0.28, efficiency_slope: 0.01 1/K",
            "must be at most 0",
        ),
        ("cells: [wing]", "cells: [wnig]", "did you mean 'wing'"),
        ("cells: [wing]", "cells: []", "at least one surface with solar cells"),
        ("cells: [wing]", "cells: [wing, wing]", "'wing' is listed already"),
        ("    cells: {efficiency: 0.28, packing: 0.9}\n", "", "has no solar cells"),
        ("packing: 0.9}", "drawn: sun}", "battery 'pack' says what is drawn already"),
        ("    absorptance: 0.9\n", "", "missing key 'absorptance'"),
        (
            "    absorbed: {solar: {heat: 600.0 W, schedule: sun}}\n",
            "",
            "nothing says what sunlight",
        ),
        ("capacity: 150 Wh", "capacity: 150 W", "J"),
    ],
)
def test_a_mistake_is_shown_where_it_was_made(old: str, new: str, message: str) -> None:
    assert MODEL.count(old) == 1
    with pytest.raises(InputError) as error:
        solve(model_of(MODEL.replace(old, new)), "mean")
    assert message in str(error.value)
    assert "model.yaml:" in str(error.value)


def test_no_more_than_all_of_the_power_can_be_drawn() -> None:
    text = PLATE.replace("packing:", "drawn: half, packing:").replace("[0.5]", "[1.5]")
    with pytest.raises(InputError, match="values must be from 0 to 1"):
        solve(model_of(text), "case")


def test_a_second_battery_is_refused_with_a_word_of_what_to_do() -> None:
    second = (
        "  other: {node: box, capacity: 1 Wh, charge_efficiency: 1.0, discharge_efficiency: 1.0, "
        "cells: [wing]}\nschedules:"
    )
    with pytest.raises(InputError, match="write 'pack' and 'other' as one"):
        solve(model_of(MODEL.replace("schedules:", second, 1)), "mean")


def test_cells_give_nothing_where_there_is_no_sun() -> None:
    changes = {"surfaces.wing.absorbed.solar.heat": 0.0}
    found = energy_of(result_of("mean", changes))
    assert found.given == 0.0
    assert np.isnan(found.efficiency)


def test_a_capacity_is_energy_and_a_case_may_change_it() -> None:
    model = vary(model_of(MODEL), {"batteries.pack.capacity": "100 Wh"})
    assert model.sections["batteries"]["pack"].capacity == pytest.approx(360000.0)  # type: ignore[attr-defined]
    assert len(assemble(model, "orbit").names) == 3


def test_a_case_after_another_begins_with_the_charge_that_the_other_leaves(tmp_path: Path) -> None:
    text = MODEL + "  later: {solve: transient, duration: 1000 s, after: day, mode: on}\n"
    found = energy_of(result_of("later", text=text))
    assert found.course.charge[0] == pytest.approx(energy_of(result_of("day")).course.charge[-1])
    assert found.course.charge[0] < 0.9
    again = open_result(save(result_of("later", text=text), tmp_path / "later.nc"))
    assert energy_of(again).course.charge[0] == found.course.charge[0]


# A wing that follows the Sun and cells on the top of the body, in a low orbit with shadow; modes
# follow the orbit angle.
IN_ORBIT = """
thermnet: 1
temperatures: degC
modes: {imaging: {}, rest: {}}
nodes:
  wing: {capacity: 4000 J/K}
  box: {capacity: 15000 J/K}
boundaries: {space: {temperature: 2.7 K}}
links: {hinge: {from: wing, to: box, conductance: 0.05 W/K}}
surfaces:
  wing:
    {node: wing, area: 0.3 m2, absorptance: 0.9, emittance: 0.85, follows_sun: two axes,
     cells: {efficiency: 0.28, efficiency_slope: -0.0006 1/K, packing: 0.9}}
  top:
    {node: box, area: 0.3 m2, absorptance: 0.9, emittance: 0.85, normal: -z,
     cells: {efficiency: 0.28, efficiency_slope: -0.0006 1/K, packing: 0.8}}
orbits: {low: {altitude: 500 km, beta: 20 deg}}
pointings: {nadir: {axis: +z, to: nadir, second_axis: +x, second_to: velocity}}
environments:
  own: {albedo: 0.3, infrared: 237 W/m2, sunlight: 1361 W/m2, infrared_height: 0 m, note: by hand}
timelines:
  day:
    repeats: orbit
    steps: {pass: {mode: imaging, angle: 90 deg, duration: 10 min}, rest: {mode: rest}}
units: {bus: {node: box, heat: {imaging: 50 W, rest: 30 W}}}
batteries:
  pack:
    node: box
    capacity: 60 Wh
    charge_efficiency: 0.95
    discharge_efficiency: 0.97
    cells: [wing, top]
cases:
  orbit: {solve: repeating, orbit: low, pointing: nadir, environment: own, timeline: day}
"""


@only_in_full
def test_in_an_orbit_cells_that_turn_and_cells_that_do_not_share_the_demand_of_every_mode() -> None:
    result = solved(IN_ORBIT, "orbit")
    found = energy_of(result)
    assert found.share < 1e-4
    (full,) = found.full
    course, (entry, exit_) = found.course, result.plan.shadows(result.plan.span)[0]
    # Derived: from full charge until the shadow the cells give the demand, in shadow nothing, and
    # after it all that they can; a piece of the orbit is 95 s.
    feeding = (course.time > full + 1.0) | (course.time < entry - 100.0)
    assert course.drawn[feeding] == pytest.approx(course.demand[feeding], rel=1e-6)
    dark = (course.time > entry + 20.0) & (course.time < exit_ - 20.0)
    assert course.drawn[dark] == pytest.approx(0.0, abs=1e-6)
    filling = (course.time > exit_ + 20.0) & (course.time < full - 1.0)
    assert course.drawn[filling] == pytest.approx(course.available[filling], rel=1e-6)
    assert filling.sum() > 10


def test_albedo_gives_no_power() -> None:
    pytest.importorskip("numba", reason="takes some seconds without compiled code")
    dull = solved(IN_ORBIT, "orbit", changes={"environments.own.albedo": 0.0})
    bright = solved(IN_ORBIT, "orbit", changes={"environments.own.albedo": 0.9})
    # Derived: the same sunlight in both; what is brighter only makes the cells hotter.
    given = [each.course.available.max() for each in map(energy_of, (dull, bright))]
    assert given[1] < given[0]


def test_a_schedule_of_what_is_drawn_follows_the_sunlight_also_in_a_mean() -> None:
    text = IN_ORBIT.replace("packing: 0.9}", "packing: 0.9, drawn: lit}", 1)
    text = text.replace("cells: [wing, top]", "cells: [top]")
    text += "  mean: {extends: orbit, solve: steady}\nschedules: {lit: {follows: sunlight}}\n"
    text = text.replace("efficiency_slope: -0.0006 1/K, ", "")
    # Derived: all of the power is drawn in sunlight, and in shadow there is none to draw.
    drawn = [_drawn_of_wing(solved(text, case)) for case in ("orbit", "mean")]
    assert drawn[0] == pytest.approx(drawn[1], rel=1e-3)


def _drawn_of_wing(result: Result) -> float:
    """W in the mean."""
    record = result.solution.record
    given = heats_by_path(result.network, ["surfaces.wing.cells"], record)
    return float(record.weight @ given[:, 0] / record.weight.sum())


def test_a_battery_without_cells_is_told_before_anything_is_solved() -> None:
    broken = MODEL.replace("    cells: {efficiency: 0.28, packing: 0.9}\n", "")
    with pytest.raises(InputError, match="has no solar cells"):
        assemble(model_of(broken), "mean")


def test_cells_that_could_give_more_lack_nothing_in_a_steady_state() -> None:
    """What they give settles to 1e-4 of what a heater takes that their losses warm: no lack."""
    text = HEATED.replace("on_below: 12, off_above: 14", "on_below: -6, off_above: -4")
    found = energy_of(result_of("mean", text=text))
    assert found.heaters > 0.0
    assert found.given < found.course.available[0] - 1.0
    assert found.lacking == 0.0
    assert found.enough
