"""Limits on the energy of heaters in shadow: power times the time in it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.small_models import solved
from thermnet.account import account
from thermnet.errors import InputError
from thermnet.margins import Margin, margins
from thermnet.model.read import parse
from thermnet.results import solve

HEATED = """
thermnet: 1
temperatures: degC
uncertainty: {policy: none}
nodes:
  tank: {capacity: 1000 J/K, initial: 0}
  line: {capacity: 1000 J/K, initial: 0}
boundaries:
  sink: {temperature: 0}
links:
  tank to sink: {from: tank, to: sink, conductance: 1 W/K}
  line to sink: {from: line, to: sink, conductance: 1 W/K}
heaters:
  tank: {node: tank, power: 8 W, on_below: 90, off_above: 95}
  line: {node: line, power: 3 W, on_below: 90, off_above: 95}
schedules:
  light: {time: [0 s, 300 s, 700 s], value: [1, 0, 1], shape: steps, period: 1000 s}
  night: {time: [0 s, 200 s, 900 s], value: [0, 1, 0], shape: steps, period: 1000 s}
  dark: {time: [0 s], value: [0], period: 1000 s}
cases:
  case: {solve: repeating, period: 1000 s, sunlit: light}
"""
"""Both heaters stay on: 11 W warm nothing to 90 degC. The shadow lasts 400 s."""


def limited(body: str, text: str) -> tuple[Margin, ...]:
    """The margins of the limit `own` with these keys."""
    return margins(solved(f"{text}limits:\n  own: {{{body}}}\n"))


def only(body: str, text: str = HEATED) -> Margin:
    (margin,) = limited(body, text)
    return margin


def test_heater_energy_in_shadow_is_power_times_the_time_in_it() -> None:
    """(8 + 3) W x 400 s = 4400 J (closed form)."""
    margin = only("energy_in_shadow: 5000 J", HEATED)
    assert (margin.calculated, margin.margin) == pytest.approx((4400.0, 600.0))
    assert margin.quantity == "energy"
    assert margin.instant == pytest.approx(300.0)


def test_a_limit_on_energy_may_name_its_heaters() -> None:
    """8 W x 400 s = 3200 J against 0.5 Wh = 1800 J."""
    margin = only("energy_in_shadow: 0.5 Wh, heaters: [tank]", HEATED)
    assert (margin.calculated, margin.limit) == pytest.approx((3200.0, 1800.0))
    assert margin.verdict == "outside band"


def test_a_passage_through_the_shadow_goes_on_over_the_end_of_a_period() -> None:
    """Dark from 900 s to 200 s of the next turn: 300 s x 11 W."""
    margin = only("energy_in_shadow: 1 Wh", HEATED.replace("sunlit: light", "sunlit: night"))
    assert margin.calculated == pytest.approx(3300.0)
    assert margin.instant == pytest.approx(900.0)


def test_of_several_passages_the_worst_one_counts() -> None:
    """The tank's heater goes off for good before the second passage: 11 W, then 3 W."""
    text = HEATED.replace("off_above: 95}\n  line", "off_above: 95, enabled: early}\n  line")
    text = text.replace(
        "schedules:\n",
        "schedules:\n  early: {time: [0 s, 1000 s], value: [1, 0], shape: steps}\n",
    )
    text = text.replace("solve: repeating, period: 1000 s", "solve: transient, duration: 2000 s")
    margin = only("energy_in_shadow: 2 Wh", text.replace("sunlit", "initial: given, sunlit"))
    assert margin.calculated == pytest.approx(4400.0)
    assert margin.instant == pytest.approx(300.0)


def test_without_any_light_the_energy_is_that_of_a_period() -> None:
    """11 W x 1000 s."""
    margin = only("energy_in_shadow: 5 Wh", HEATED.replace("sunlit: light", "sunlit: dark"))
    assert margin.calculated == pytest.approx(11000.0)


def test_without_shadow_or_without_light_stated_there_is_nothing_to_judge() -> None:
    assert limited("energy_in_shadow: 5 Wh", HEATED.replace(", sunlit: light", "")) == ()
    text = HEATED.replace("value: [1, 0, 1]", "value: [1, 1, 1]")
    assert limited("energy_in_shadow: 5 Wh", text) == ()


def test_a_cycling_heater_counts_by_the_time_that_it_is_on() -> None:
    """No more than its power through the shadow, and what the account gives it over a period."""
    text = HEATED.replace(
        "on_below: 90, off_above: 95}\n  line", "on_below: 4, off_above: 5}\n  line"
    )
    whole = text.replace("sunlit: light", "sunlit: dark")
    result = solved(f"{whole}limits:\n  own: {{energy_in_shadow: 5 Wh, heaters: [tank]}}\n")
    (margin,) = margins(result)
    turns = result.solution.span / 1000.0
    given = account(result.network, result.solution).by_origin()["heaters.tank"]
    assert margin.calculated == pytest.approx(given / turns, rel=1e-9)
    assert margin.calculated < 8000.0


@pytest.mark.parametrize("body", ["node: tank, rate: 1 K/min", "energy_in_shadow: 1 Wh"])
def test_what_needs_a_history_is_not_solved_where_that_broke_off(body: str) -> None:
    result = solved(f"{HEATED}limits:\n  own: {{{body}}}\n")
    broken = replace(result, solution=replace(result.solution, failure="it broke off"))
    (margin,) = margins(broken)
    assert (margin.verdict, margin.component) == ("not solved", "own")


HOST = """
thermnet: 1
temperatures: degC
parts: {unit: {file: unit.yaml}}
nodes: {panel: {capacity: 1000 J/K}}
boundaries: {sink: {temperature: 0}}
links: {panel: {from: panel, to: sink, conductance: 1 W/K}}
heaters: {panel: {node: panel, power: 20 W, on_below: 90, off_above: 95}}
cases: {case: {solve: repeating, period: 1000 s, sunlit: unit/light}}
"""


def test_a_limit_of_a_part_counts_the_heaters_of_the_part_alone() -> None:
    """(8 + 3) W x 400 s = 4400 J (closed form), and nothing of the host's 20 W."""
    part = f"{HEATED}limits:\n  own: {{energy_in_shadow: 5000 J}}\n"
    model = parse({"host.yaml": HOST, "unit.yaml": part}, "host.yaml")
    result = solve(model, "case")
    assert account(result.network, result.solution).closes
    (margin,) = margins(result)
    assert margin.component == "unit/own"
    assert margin.calculated == pytest.approx(4400.0)


def test_a_part_without_a_heater_has_no_energy_of_heaters_to_limit() -> None:
    begin, end = HEATED.index("heaters:"), HEATED.index("schedules:")
    part = HEATED[:begin] + HEATED[end:] + "limits:\n  own: {energy_in_shadow: 5000 J}\n"
    with pytest.raises(InputError, match=r"unit\.yaml:.*limits\.unit/own: .*the part has none"):
        parse({"host.yaml": HOST, "unit.yaml": part}, "host.yaml")
