"""Limits on heat flow, differences and rates, on models with closed forms.

The plate of `tests.small_models` stands at 20 degC and loses 20 W, the mirror at 12 degC and 12 W.
"""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path

import numpy as np
import pytest

from tests.small_models import FOLLOWING, STEADY, model_of, solved
from thermnet.account import account
from thermnet.cli.main import main
from thermnet.errors import InputError
from thermnet.limits import heat_through
from thermnet.margins import Margin, governing, holds, margins, summaries
from thermnet.model.kinds.limit import Limit
from thermnet.model.read import parse
from thermnet.results import Result, solve, solve_cases
from thermnet.solve.solution import Options


def limited(body: str, text: str = STEADY, case: str = "case") -> tuple[Margin, ...]:
    """The margins of the limit `own` with these keys."""
    return margins(solved(f"{text}limits:\n  own: {{{body}}}\n", case))


def only(body: str, text: str = STEADY) -> Margin:
    (margin,) = limited(body, text)
    return margin


# ---------------------------------------------------------------- heat flow


def test_heat_flow_through_a_link_is_conductance_times_difference() -> None:
    """1 W/K x (20 - 0) K = 20 W (closed form): 1 W left of 21 W."""
    margin = only("through: plate to sink, most: 21 W")
    assert (margin.calculated, margin.margin) == pytest.approx((20.0, 1.0))
    assert (margin.quantity, margin.side, margin.verdict) == ("heat flow", "hot", "holds")


def test_heat_flow_over_its_limit_is_outside_and_the_model_does_not_hold() -> None:
    found = limited("through: plate to sink, most: 19 W")
    assert [margin.verdict for margin in found] == ["outside band"]
    assert not holds(found)


def test_no_allowance_is_added_to_what_is_not_a_temperature() -> None:
    """The model's policy is a flat 5 K."""
    margin = only("through: plate to sink, most: 21 W")
    assert margin.allowance == 0.0
    assert margin.predicted == margin.calculated
    assert margin.clearance == margin.margin


def test_the_heat_of_several_links_counts_together() -> None:
    """20 W + 12 W."""
    margin = only("through: [plate to sink, mirror to sink], most: 40 W")
    assert margin.calculated == pytest.approx(32.0)


TURNED = STEADY.replace("from: plate, to: sink", "from: sink, to: plate")
"""The same heat, which now counts as -20 W."""


def test_a_largest_heat_flow_alone_limits_it_both_ways() -> None:
    margin = only("through: plate to sink, most: 19 W", TURNED)
    assert margin.calculated == pytest.approx(20.0)
    assert margin.verdict == "outside band"


def test_with_a_least_heat_flow_the_sign_counts() -> None:
    """-20 W lies between -25 W and 5 W."""
    hot, cold = sorted(
        limited("through: plate to sink, least: -25 W, most: 5 W", TURNED),
        key=lambda margin: margin.side,
        reverse=True,
    )
    assert (hot.side, cold.side) == ("hot", "cold")
    assert (hot.calculated, hot.margin) == pytest.approx((-20.0, 25.0))
    assert (cold.calculated, cold.margin) == pytest.approx((-20.0, 5.0))


def test_too_little_heat_through_a_link_is_on_the_cold_side() -> None:
    margin = only("through: plate to sink, least: 22 W")
    assert (margin.side, margin.verdict) == ("cold", "outside band")
    assert margin.margin == pytest.approx(-2.0)


def test_a_least_heat_flow_of_nothing_can_be_stated() -> None:
    margin = only("through: plate to sink, least: 0 W")
    assert margin.margin == pytest.approx(20.0)
    assert margin.verdict == "holds"


WAVE = """
schedules:
  wall: {time: [0 s, 400 s, 1000 s], value: [0, 30, 10]}
  late: {time: [0 s, 700 s], value: [0, 1], shape: steps}
limits:
"""
"""The wall at 30 degC at 400 s; the ballast hangs on it by 0.01 W/K and hardly warms."""


def through_the_wall(body: str) -> Margin:
    found = margins(solved(f"{FOLLOWING}{WAVE}  own: {{{body}}}\n"))
    (margin,) = found
    return margin


def test_the_largest_heat_flow_of_a_history_comes_with_its_instant() -> None:
    """0.01 W/K x (30 - T) K into a ballast that took up 0.01 x 15 K x 400 s / 1000 J/K = 0.06 K:
    0.2994 W, to the second order in time over its time constant of 1e5 s."""
    margin = through_the_wall("through: ballast to wall, most: 1 W")
    assert margin.instant == pytest.approx(400.0)
    assert margin.calculated == pytest.approx(0.2994, abs=1e-5)


def test_a_limit_holds_only_while_its_schedule_is_above_zero() -> None:
    """From 700 s on: 30 - 20 x 300 / 600 = 20 degC of the wall, and 0.01 W/K."""
    margin = through_the_wall("through: ballast to wall, most: 1 W, when: late")
    assert margin.instant == pytest.approx(700.0)
    assert margin.calculated == pytest.approx(0.199, abs=5e-4)


def test_a_table_of_links_counts_as_one() -> None:
    table = """
links:
  rods:
    table: |
      from, to, conductance [W/K]
      plate, sink, 0.75
      plate, sink, 0.25
  mirror to sink: {from: mirror, to: sink, conductance: 1 W/K}
"""
    begin, end = STEADY.index("links:"), STEADY.index("loads:")
    margin = only("through: rods, most: 21 W", STEADY[:begin] + table + STEADY[end:])
    assert margin.calculated == pytest.approx(20.0)


def test_the_flow_that_is_judged_is_that_of_the_energy_account() -> None:
    result = solved(f"{FOLLOWING}{WAVE}  own: {{through: ballast to wall, most: 1 W}}\n")
    limit = result.model.entries(Limit, "limits")["own"]
    summed = float(result.solution.record.weight @ heat_through(result, limit))
    booked = account(result.network, result.solution).by_origin()["links.ballast to wall"]
    assert summed == pytest.approx(booked, rel=1e-12)


# ---------------------------------------------------------------- differences and rates


def test_a_difference_between_two_nodes_is_limited_either_way() -> None:
    """20 - 12 = 8 K."""
    for pair in ("plate, mirror", "mirror, plate"):
        margin = only(f"between: [{pair}], difference: 9 K")
        assert (margin.calculated, margin.margin) == pytest.approx((8.0, 1.0))
        assert margin.quantity == "difference"


def test_a_difference_to_a_boundary_may_be_limited() -> None:
    assert only("between: [plate, sink], difference: 19 K").verdict == "outside band"


def test_a_rate_is_heat_over_capacity_whether_or_not_anything_is_on() -> None:
    """20 W / 1000 J/K from 0 degC, where nothing is lost yet: 1.2 K/min (closed form)."""
    text = STEADY.replace("{solve: steady}", "{solve: transient, duration: 300 s, initial: given}")
    margin = only("node: plate, rate: 1.5 K/min", text)
    assert margin.calculated * 60.0 == pytest.approx(1.2, rel=1e-6)
    assert margin.margin * 60.0 == pytest.approx(0.3, rel=1e-5)
    assert margin.quantity == "rate"


def test_a_rate_follows_a_heat_content_that_changes() -> None:
    """Melting begins halfway, at 0 degC; beyond it (20 - 0.5) W warm 20 J/K (closed form)."""
    filling = (
        "melting: {mass: 0.01 kg, over: 1 K, melts_at: 0, latent_heat: 200 kJ/kg, "
        "specific_heat: 2000, specific_heat_liquid: 2000}"
    )
    text = STEADY.replace("plate: {capacity: 1000 J/K,", f"plate: {{{filling},").replace(
        "{solve: steady}", "{solve: transient, duration: 300 s, initial: given}"
    )
    margin = only("node: plate, rate: 1 K/s", text)
    assert margin.calculated == pytest.approx(0.975, rel=1e-3)


@pytest.mark.parametrize("accuracy", [0.1, 1e-4])
def test_a_jump_of_a_massless_node_is_no_rate_however_fine_the_steps(accuracy: float) -> None:
    """The wall rises by 30 K in 400 s and jumps by 30 K: 4.5 K/min between jumps (by hand)."""
    text = FOLLOWING + WAVE.replace(
        "400 s, 1000 s], value: [0, 30, 10]", "400 s, 400 s, 1000 s], value: [0, 30, 60, 50]"
    )
    text += "  own: {node: unit, rate: 6 K/min}\n"
    (margin,) = margins(solved(text, options=Options(accuracy=accuracy)))
    assert margin.calculated * 60.0 == pytest.approx(4.5, rel=1e-6)


def test_a_steady_case_has_neither_rates_nor_shadow() -> None:
    assert limited("node: plate, rate: 1 K/min") == ()
    assert limited("energy_in_shadow: 1 Wh") == ()


# ---------------------------------------------------------------- among the margins

BOTH = """
components:
  own: {at: plate, operating: [-50, 90]}
limits:
  own: {through: plate to sink, most: 10 W, group: payload}
  never: {node: plate, rate: 1 K/min}
"""


def test_a_limit_is_a_row_of_its_own_even_under_the_name_of_a_component() -> None:
    rows = {(row.component, row.is_limit): row for row in summaries([solved(STEADY + BOTH)])}
    assert set(rows) == {("own", False), ("own", True), ("never", True)}
    assert rows["own", False].others == ()
    (margin,) = rows["own", True].others
    assert (margin.verdict, margin.group, margin.level) == ("outside band", "payload", "")
    assert (rows["own", True].hot, rows["own", True].cold) == (None, None)


def test_a_limit_that_no_case_is_judged_by_is_listed_without_a_verdict() -> None:
    rows = summaries([solved(STEADY + BOTH)])
    assert (rows[-1].component, rows[-1].others) == ("never", ())


def test_limits_are_no_governing_temperature_margins() -> None:
    found = margins(solved(STEADY + BOTH))
    assert {margin.quantity for margin in governing(found)} == {"temperature"}


def test_the_worst_case_of_a_limit_governs_on_each_side() -> None:
    text = STEADY + "  warm: {solve: steady, set: {loads.plate.heat: 30 W}}\n"
    text += "limits:\n  own: {through: plate to sink, least: 15 W, most: 31 W}\n"
    (row,) = summaries(solve_cases(model_of(text)))
    assert {margin.side: margin.case for margin in row.others} == {"hot": "warm", "cold": "case"}


def test_a_case_may_change_a_limit() -> None:
    text = STEADY + "  tight: {solve: steady, set: {limits.own.most: 15 W}}\n"
    found = margins(
        solve_cases(model_of(f"{text}limits:\n  own: {{through: plate to sink, most: 25 W}}\n"))
    )
    assert [(margin.case, margin.verdict) for margin in found] == [
        ("tight", "outside band"), ("case", "holds"),
    ]  # fmt: skip


def unsolvable(body: str) -> Result:
    """A million watts through 1 W/K: beyond any temperature that a solver follows."""
    text = STEADY.replace("heat: 20 W", "heat: 1e6 W")
    result = solve(model_of(f"{text}limits:\n  own: {{{body}}}\n"), "case")
    assert result.solution.failure != ""
    return result


@pytest.mark.parametrize(
    ("body", "count"),
    [
        ("through: plate to sink, least: 1 W, most: 1e9 W", 2),
        ("between: [plate, mirror], difference: 1e9 K", 1),
    ],
)
def test_a_case_without_a_solution_holds_no_limit(body: str, count: int) -> None:
    found = margins(unsolvable(body))
    assert [margin.verdict for margin in found] == ["not solved"] * count
    assert all(math.isnan(margin.margin) for margin in found)
    assert not holds(found)


def test_a_case_that_makes_nonsense_of_a_limit_is_told_at_its_line() -> None:
    text = STEADY.replace("{solve: steady}", "{solve: steady, set: {limits.own.least: 30 W}}")
    with pytest.raises(InputError, match=r"(?s)model.yaml:17.*'most' must lie above 'least'"):
        solve(model_of(f"{text}limits:\n  own: {{through: plate to sink, most: 25 W}}\n"), "case")


def test_the_heat_flow_of_each_sample_is_known() -> None:
    result = solved(f"{STEADY}limits:\n  own: {{through: plate to sink, most: 21 W}}\n")
    flow = heat_through(result, result.model.entries(Limit, "limits")["own"])
    assert flow == pytest.approx(np.array([20.0]))


# ---------------------------------------------------------------- interfaces, lost links

PART = """
thermnet: 1
temperatures: degC
interfaces:
  mount: {temperature: 20}
nodes:
  body: {capacity: 100 J/K, initial: 20}
links:
  bracket: {from: body, to: mount, conductance: 0.2 W/K}
loads:
  body: {node: body, heat: 3 W}
limits:
  own: {interface: mount, least: -2 W, most: 4 W}
cases:
  case: {solve: steady}
"""

HOST = """
thermnet: 1
temperatures: degC
parts:
  camera: {file: camera.yaml}
boundaries:
  wall: {temperature: 20}
links:
  mount: {from: wall, to: camera/mount, conductance: 0.4 W/K}
cases:
  case: {solve: steady}
"""


def test_heat_into_a_part_alone_is_limited_at_its_interface() -> None:
    """The part gives its 3 W away: -3 W into it, 1 W less than the least of -2 W."""
    found = {margin.side: margin for margin in margins(solved(PART))}
    assert found["cold"].calculated == pytest.approx(-3.0)
    assert found["cold"].verdict == "outside band"
    assert found["hot"].margin == pytest.approx(7.0)
    assert found["cold"].node == "mount"


def test_a_limit_of_a_part_is_judged_in_its_host_too() -> None:
    sources = {"model.yaml": HOST, "camera.yaml": PART}
    found = {each.side: each for each in margins(solve(parse(sources, "model.yaml"), "case"))}
    assert found["cold"].component == "camera/own"
    assert found["cold"].calculated == pytest.approx(-3.0)
    assert found["cold"].band == "heat flow into camera/mount"


def test_a_lost_link_carries_less_than_the_least_heat() -> None:
    """All of the plate's 20 W go through the other link."""
    text = STEADY.replace(
        "  mirror to sink", "  spare: {from: plate, to: sink, conductance: 1 W/K}\n  mirror to sink"
    )
    text += "  lost: {solve: steady, set: {links.plate to sink.lost: true}}\n"
    text += "limits:\n  own: {through: plate to sink, least: 5 W}\n"
    found = {each.case: each for each in margins(solve_cases(model_of(text)))}
    assert found["case"].calculated == pytest.approx(10.0)
    assert (found["lost"].calculated, found["lost"].verdict) == (0.0, "outside band")


# ---------------------------------------------------------------- the command

COMMANDED = STEADY + BOTH


def test_the_exit_status_of_margins_counts_limits(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "model.yaml"
    path.write_text(COMMANDED, encoding="utf-8")
    assert main(["margins", str(path)]) == 1
    printed = capsys.readouterr().out
    assert "heat flow through plate to sink" in printed
    assert "outside limit" in printed
    assert "outside band" not in printed
    assert "1 of 1 components hold, 0 of 1 further limits" in printed
    assert "judged in none of these cases: never" in printed
    path.write_text(COMMANDED.replace("most: 10 W", "most: 21 W"), encoding="utf-8")
    assert main(["margins", str(path)]) == 0


def test_limits_are_written_for_people_and_for_programs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "model.yaml"
    path.write_text(COMMANDED, encoding="utf-8")
    main(["margins", str(path), "--json"])
    told = [each for each in json.loads(capsys.readouterr().out) if each["quantity"] == "heat flow"]
    assert [(each["component"], each["verdict"]) for each in told] == [("own", "outside band")]
    assert told[0]["calculated"] == pytest.approx(20.0)
    main(["margins", str(path), "--out", str(tmp_path / "out")])
    with (tmp_path / "out" / "margins.csv").open(encoding="utf-8") as file:
        (row,) = [row for row in csv.DictReader(file) if row["quantity"] == "heat flow"]
    assert (row["limit"], row["verdict"]) == ("10.0", "outside band")
