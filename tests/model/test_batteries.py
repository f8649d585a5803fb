"""Batteries: whom they feed where they do not say so."""

from __future__ import annotations

import pytest

from tests.powered import DEMAND, FINE, MODEL, PERIOD, energy_of
from thermnet.account import account
from thermnet.model.paths import value
from thermnet.model.read import parse
from thermnet.results import solve


def test_a_battery_of_a_part_feeds_the_units_of_the_part_alone() -> None:
    """Derived: the 80 W of the part through the orbit; the host's 500 W are none of its own."""
    host = f"""
thermnet: 1
temperatures: degC
parts: {{bus: {{file: bus.yaml}}}}
modes: {{on: {{}}}}
nodes: {{deck: {{capacity: 5000 J/K}}}}
links: {{deck: {{from: deck, to: bus/sink, conductance: 5 W/K}}}}
units: {{furnace: {{node: deck, heat: {{on: 500 W}}}}}}
cases: {{orbit: {{solve: repeating, period: {PERIOD} s, mode: on, sunlit: bus/sun}}}}
"""
    model = parse({"host.yaml": host, "bus.yaml": MODEL}, "host.yaml")
    result = solve(model, "orbit", FINE)
    assert account(result.network, result.solution).closes
    assert energy_of(result).units == pytest.approx(DEMAND * PERIOD, rel=1e-9)


def test_a_battery_of_the_model_feeds_all_that_it_has() -> None:
    assert value(parse({"bus.yaml": MODEL}, "bus.yaml"), "batteries.pack.units") is None
