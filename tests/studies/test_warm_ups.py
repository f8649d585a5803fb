"""Warm-up by a heater that holds the item, against the closed form of one node."""

from __future__ import annotations

import math

import pytest

from tests.small_models import model_of
from thermnet.account import account
from thermnet.results import solve
from thermnet.solve.solution import Options
from thermnet.studies.times import times

# 200 W on 1000 J/K that lose 2 W/K to 0 degC: 100 degC (1 - exp(-t / 500 s)) from 0 degC.
HEATED = """
thermnet: 1
temperatures: degC
uncertainty: {policy: flat, allowance: 5 K}
nodes: {plate: {capacity: 1000 J/K, initial: 0}}
boundaries: {sink: {temperature: 0}}
links: {out: {from: plate, to: sink, conductance: 2 W/K}}
modes: {asleep: {}, waking: {}}
units: {box: {node: plate}}
heaters: {plate: {node: plate, power: 200 W, on_below: 30, off_above: 35, modes: [waking]}}
timelines:
  morning: {steps: {asleep: {mode: asleep, duration: 600 s}, waking: {mode: waking}}}
components:
  box: {at: plate, unit: box, switch_on: [10, 60], held_by: plate}
cases:
  morning: {solve: transient, duration: 1000 s, timeline: morning, initial: given}
"""


@pytest.mark.parametrize(("holding", "level"), [(", held_by: plate", 10.0), ("", 15.0)])
def test_an_item_held_from_the_event_on_needs_no_cold_allowance_to_be_switched_on(
    holding: str, level: float
) -> None:
    model = model_of(HEATED.replace(", held_by: plate", holding))
    result = solve(model, "morning", Options(accuracy=1e-3))
    assert account(result.network, result.solution).closes
    (row,) = times(result, since=None).warm_ups
    # Derived: t = 500 s ln(100 / (100 - T)); the allowance of 5 K counts where nothing holds it.
    assert row.calculated == pytest.approx(500.0 * math.log(100.0 / 90.0), abs=0.05)
    assert row.predicted == pytest.approx(500.0 * math.log(100.0 / (100.0 - level)), abs=0.05)
