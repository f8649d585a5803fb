"""Counts of work that do not depend on the machine: they gate, wall time only informs."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.benchmarks.models import SKETCHES, network, network_of, with_thermostats
from tests.full import only_in_full
from thermnet.model.assemble import assemble
from thermnet.model.read import load
from thermnet.network.build import build
from thermnet.network.parts import (
    RADIATION,
    BoundaryPart,
    HeatPart,
    History,
    LinkPart,
    NodePart,
    Part,
)
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.solve.cyclic import cyclic
from thermnet.solve.solution import Options
from thermnet.solve.steady import steady
from thermnet.solve.transient import transient

MICROSATELLITE = Path(__file__).parents[2] / "cases" / "microsatellite" / "model.yaml"

# Goals of this project, set before the solvers were written: a steady state in six
# Newton steps from any start, a repeating orbit in six passes however slow its slowest node.
NEWTON_STEPS = 6
NEWTON_STEPS_WITH_THERMOSTATS = 8
PASSES = 6
FACTORS = 20  # over ten orbits


def panel_with_a_slow_tank(period: float = 5600.0) -> list[Part]:
    """A sunlit panel and a tank that follows it with a time constant of 17 days."""
    sunlit = History(
        time=np.array([0.0, 0.6 * period, 0.6 * period, period]),
        value=np.array([1.0, 1.0, 0.0, 0.0]),
    )
    return [
        NodePart(name="panel", capacity=5000.0),
        NodePart(name="tank", capacity=60000.0),
        BoundaryPart(name="space", temperature=3.0),
        LinkPart(a="tank", b="panel", strength=0.04),
        LinkPart(a="panel", b="space", strength=0.3 * STEFAN_BOLTZMANN, potential=RADIATION),
        HeatPart(node="panel", amplitude=150.0, history=sunlit),
    ]


@pytest.mark.parametrize("start", [3.0, 293.0, 1000.0, 2000.0])
def test_a_steady_state_takes_few_newton_steps_from_any_start(start: float) -> None:
    network = build(panel_with_a_slow_tank())
    solution = steady(network, Options(), start=np.full(3, start))
    assert solution.failure == ""
    assert solution.stats.steps <= NEWTON_STEPS


def test_a_node_slower_than_two_hundred_orbits_takes_few_passes() -> None:
    solution = cyclic(build(panel_with_a_slow_tank(), period=5600.0))
    assert solution.failure == ""
    assert solution.stats.passes <= PASSES + 1  # one more is recorded


@only_in_full
def test_the_microsatellite_orbit_closes_in_few_passes() -> None:
    solution = cyclic(assemble(load(MICROSATELLITE), "hot"))
    assert solution.failure == ""
    assert solution.stats.passes <= PASSES + 1


@pytest.mark.parametrize("name", ["p1k", "r1k", "e500"])
def test_large_steady_states_take_few_newton_steps(name: str) -> None:
    """A mesh, the same with long-range radiation, an enclosure."""
    solution = steady(network_of(name))
    assert solution.failure == ""
    assert solution.stats.steps <= NEWTON_STEPS


def test_fifty_thermostats_take_few_newton_steps_more() -> None:
    bare = network_of("p1k")
    heated = with_thermostats(SKETCHES["p1k"](), steady(bare).temperature[0])
    solution = steady(network(heated.parts()))
    assert solution.failure == ""
    assert 0 < np.count_nonzero((solution.duty > 0.0) & (solution.duty < 1.0)) < 50
    assert solution.stats.steps <= NEWTON_STEPS_WITH_THERMOSTATS


@pytest.mark.parametrize("name", ["p1k", "r1k"])
def test_ten_orbits_of_a_large_network_share_few_factors(name: str) -> None:
    solution = transient(network_of(name), 56000.0)
    assert solution.failure == ""
    assert solution.stats.factorizations <= FACTORS


@pytest.mark.parametrize("name", ["p96 + slow", "p1k + slow"])
def test_a_node_of_five_days_takes_no_more_orbits_than_the_rest(name: str) -> None:
    """Six in all, the recorded one included."""
    solution = cyclic(network_of(name))
    assert solution.failure == ""
    assert solution.stats.passes <= PASSES
