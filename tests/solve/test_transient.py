"""Histories of every kind of node and link, and how their error falls with the tolerance."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.solving import (
    at_instant,
    highest,
    history_of,
    lowest,
    solved_steady,
    solved_transient,
    start_at,
    uniform,
)
from thermnet.account import account
from thermnet.network.build import build
from thermnet.network.network import Network, heat, stored_heat
from thermnet.network.parts import (
    RADIATION,
    BoundaryPart,
    FlowLinkPart,
    HeatPart,
    History,
    LinkPart,
    NodePart,
    Part,
)
from thermnet.network.primitives import Potential
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.physics.curves import Curve
from thermnet.solve.solution import Options
from thermnet.solve.transient import transient

METHODS = ["rosenbrock", "scipy-bdf", "scipy-radau", "scipy-lsoda"]

WAX = Curve(
    x=np.array([250.0, 300.0, 300.5, 350.0]),
    y=np.array([0.0, 50e3, 70e3, 169e3]),
    extend=True,
)
"""1000 J/K solid, 20 kJ between 300 and 300.5 K, 2000 J/K liquid."""


def pulse(begin: float, end: float, span: float) -> History:
    return History(
        time=np.array([0.0, begin, begin, end, end, span]),
        value=np.array([0.0, 0.0, 1.0, 1.0, 0.0, 0.0]),
    )


def satellite() -> Network:
    """Conduction, radiation, a massless face and a pulse."""
    links = [("box", "face", 0.02), ("radiator", "space", 0.2), ("face", "space", 1.0)]
    return build(
        [
            NodePart(name="box", capacity=4000.0),
            NodePart(name="radiator", capacity=1500.0),
            NodePart(name="face"),
            BoundaryPart(name="space", temperature=2.7),
            LinkPart(a="box", b="radiator", strength=2.5),
            *(
                LinkPart(a=a, b=b, strength=STEFAN_BOLTZMANN * area, potential=RADIATION)
                for a, b, area in links
            ),
            HeatPart(node="box", amplitude=20.0),
            HeatPart(node="face", amplitude=300.0, history=pulse(1000.0, 3000.0, 8000.0)),
        ]
    )


@pytest.mark.parametrize("method", METHODS)
def test_freezing_takes_the_latent_heat_over_the_power(method: str) -> None:
    """20 kJ at 10 W: 2000 s between the corners, within 0.5 %; here to 0.1 s."""
    network = build([NodePart(name="wax", content=WAX), HeatPart(node="wax", amplitude=-10.0)])
    options = Options(method=method)
    solution = solved_transient(network, 6000.0, options, start=np.array([301.0]))
    corners = [solution.record.time[np.argmin(np.abs(solution.record.temperature[:, 0] - at))]
               for at in (300.5, 300.0)]  # fmt: skip
    assert corners[0] == pytest.approx(0.5 * 2000.0 / 10.0, abs=0.1)
    assert corners[1] - corners[0] == pytest.approx(2000.0, rel=0.005)
    assert solution.temperature[-1, 0] == pytest.approx(300.0 - (6000.0 - 2100.0) / 100.0, abs=0.01)


def test_a_pulse_that_melts_only_part_leaves_the_rest() -> None:
    """From 299 K 11 kJ warm the wax by 1 kJ and melt half of it: 300.25 K."""
    network = build(
        [
            NodePart(name="wax", content=WAX),
            HeatPart(node="wax", amplitude=110.0, history=pulse(50.0, 150.0, 500.0)),
        ]
    )
    solution = solved_transient(network, 500.0, start=np.array([299.0]))
    assert solution.temperature[-1, 0] == pytest.approx(300.25, abs=1e-3)
    stored = stored_heat(network, solution.temperature[-1]) - stored_heat(
        network, np.array([299.0])
    )
    assert stored == pytest.approx([11e3], rel=1e-5)


def test_wax_holds_the_temperature_of_what_is_bolted_to_it() -> None:
    """A radiator alone would swing by many kelvin; with wax it stays in the melting range."""
    wave = History(
        time=np.array([0.0, 2700.0, 2700.0, 5400.0]), value=np.array([1.0, 1.0, -1.0, -1.0])
    )
    parts: list[Part] = [
        NodePart(name="wax", content=WAX),
        BoundaryPart(name="sink", temperature=300.25),
        LinkPart(a="wax", b="sink", strength=0.01),
        HeatPart(node="wax", amplitude=3.0, history=wave),
    ]
    network = build(parts)
    solution = solved_transient(network, 5400.0, start=np.array([300.25, 300.25]))
    assert lowest(network, solution, "wax") > 299.99
    assert highest(network, solution, "wax") < 300.51


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("begin", [295.0, 301.0])
def test_wax_that_comes_to_rest_on_a_corner_does_not_go_to_and_fro(
    method: str, begin: float
) -> None:
    """A sink at the very temperature at which it begins to melt, reached from either side."""
    network = build(
        [
            NodePart(name="wax", content=WAX),
            BoundaryPart(name="sink", temperature=300.0),
            LinkPart(a="wax", b="sink", strength=20.0),
        ]
    )
    options = Options(method=method)
    solution = solved_transient(network, 2e4, options, start=start_at(network, wax=begin))
    assert solution.temperature[-1, 0] == pytest.approx(300.0, abs=1e-3)
    assert solution.stats.steps < (200 if method == "rosenbrock" else 4000)


def test_a_strut_cools_by_the_integral_of_its_conductivity() -> None:
    """C dT/dt = -s k0 T^2 / 2 to a sink at 0 K with k = k0 T: 1/T = 1/T0 + s k0 t / (2 C)."""
    conductivity = Curve(x=np.array([0.0, 400.0]), y=np.array([0.0, 4.0]))
    network = build(
        [
            NodePart(name="stage", capacity=50.0),
            BoundaryPart(name="cold", temperature=0.0),
            LinkPart(a="stage", b="cold", strength=0.2, potential=Potential(curve=conductivity)),
        ]
    )
    solution = solved_transient(
        network, 1000.0, Options(outputs=10, accuracy=1e-3), start=np.array([300.0, 0.0])
    )
    expected = 1.0 / (1.0 / 300.0 + 0.2 * 0.01 * solution.t / (2.0 * 50.0))
    np.testing.assert_allclose(history_of(network, solution, "stage"), expected, atol=1e-3)


def test_a_massless_node_is_closed_at_every_instant() -> None:
    """Balanced to 1e-5 K of its own slope, at every sample and on both sides of every jump."""
    network = satellite()
    solution = solved_transient(network, 8000.0, start=uniform(network, 290.0))
    record, face = solution.record, network.index("face")
    for time, temperature in zip(record.local_time, record.temperature, strict=True):
        slope = 4.0 * STEFAN_BOLTZMANN * 1.02 * temperature[face] ** 3
        assert abs(heat(network, temperature, time)[face]) < 2e-5 * slope


def test_a_massless_node_jumps_where_its_heat_jumps_and_is_never_averaged() -> None:
    """The face is 62 K before the pulse and 270 K in it, not something between at the edge."""
    network = satellite()
    solution = solved_transient(network, 8000.0, start=uniform(network, 290.0))
    extremes, face = solution.extremes, network.index("face")
    np.testing.assert_allclose(extremes.edges[:, 0], [0.0, 1000.0, 3000.0])
    lit = (300.0 / (STEFAN_BOLTZMANN * 1.02)) ** 0.25
    assert extremes.lowest[1, face] > lit - 1.0
    assert extremes.highest[[0, 2], face].max() < 130.0


def test_a_massive_node_bends_where_its_heat_jumps() -> None:
    """One second either side of a jump the slopes are 0 and 0.1 K/s, as no average would be."""
    network = build(
        [
            NodePart(name="plate", capacity=100.0),
            HeatPart(node="plate", amplitude=10.0, history=pulse(100.0, 200.0, 300.0)),
        ]
    )
    solution = solved_transient(network, 300.0, Options(outputs=300), start=np.array([280.0]))
    at = history_of(network, solution, "plate")
    assert at[99:103] == pytest.approx([280.0, 280.0, 280.1, 280.2], abs=1e-6)
    assert at[198:202] == pytest.approx([289.8, 289.9, 290.0, 290.0], abs=1e-6)


def test_a_network_of_massless_nodes_follows_its_heat() -> None:
    """Quasi-steady: a foil of 1 m2 in a ramp of sunlight, T = (q / sigma)^(1/4)."""
    ramp = History(time=np.array([0.0, 100.0]), value=np.array([0.1, 1.0]))
    network = build(
        [
            NodePart(name="foil"),
            BoundaryPart(name="space", temperature=0.0),
            LinkPart(a="foil", b="space", strength=STEFAN_BOLTZMANN, potential=RADIATION),
            HeatPart(node="foil", amplitude=1361.0, history=ramp),
        ]
    )
    solution = solved_transient(network, 100.0, Options(outputs=10), start=np.array([300.0, 0.0]))
    watts = 1361.0 * (0.1 + 0.9 * solution.t / 100.0)
    expected = (watts / STEFAN_BOLTZMANN) ** 0.25
    np.testing.assert_allclose(history_of(network, solution, "foil"), expected, atol=0.01)


def test_a_network_of_boundaries_alone_has_a_history() -> None:
    ramp = History(time=np.array([0.0, 100.0]), value=np.array([0.0, 1.0]))
    network = build(
        [
            BoundaryPart(name="a", temperature=300.0, swing=10.0, history=ramp),
            BoundaryPart(name="b", temperature=280.0),
            LinkPart(a="a", b="b", strength=2.0, origin="strap"),
        ]
    )
    solution = solved_transient(network, 100.0, Options(outputs=4))
    assert history_of(network, solution, "a") == pytest.approx([300.0, 302.5, 305.0, 307.5, 310.0])
    joules = account(network, solution).by_origin()["strap"]
    assert joules == pytest.approx(2.0 * 25.0 * 100.0, rel=1e-9)


def test_a_fluid_loop_delays_and_mixes() -> None:
    """Two equal nodes joined by a loop of rate w: their difference decays as exp(-2 w t / C)."""
    network = build(
        [
            NodePart(name="hot", capacity=500.0),
            NodePart(name="cold", capacity=500.0),
            FlowLinkPart(a="hot", b="cold", rate=2.0),
            FlowLinkPart(a="cold", b="hot", rate=2.0),
        ]
    )
    solution = solved_transient(
        network, 200.0, Options(outputs=4, accuracy=1e-3), start=np.array([320.0, 280.0])
    )
    difference = history_of(network, solution, "hot") - history_of(network, solution, "cold")
    np.testing.assert_allclose(difference, 40.0 * np.exp(-solution.t / 125.0), atol=2e-3)


@pytest.mark.parametrize("method", METHODS)
def test_every_integrator_gives_the_same_history(method: str) -> None:
    network = satellite()
    start = uniform(network, 290.0)
    exact = solved_transient(
        network, 8000.0, Options(method="scipy-radau", accuracy=1e-5, outputs=40), start=start
    )
    options = Options(method=method, outputs=40)
    found = solved_transient(network, 8000.0, options, start=start)
    off = np.abs(found.temperature - exact.temperature)
    # The outputs at the two jumps show one side of a massless node each; 1000 s is output 5.
    assert off[:, [0, 1]].max() < 0.01
    assert off[np.setdiff1d(np.arange(41), [5, 15])].max() < 0.01


@pytest.mark.parametrize("method", METHODS)
def test_the_error_falls_with_the_tolerance(method: str) -> None:
    """Within the accuracy asked for at each, from 0.1 to 1e-4 K, against a closed form."""
    network = build(
        [
            NodePart(name="sphere", capacity=3584.0),
            BoundaryPart(name="space", temperature=200.0),
            LinkPart(a="sphere", b="space", strength=4.313794e-9, potential=RADIATION),
        ]
    )
    errors = []
    for accuracy in (0.1, 0.01, 1e-3, 1e-4):
        options = Options(method=method, accuracy=accuracy)
        solution = solved_transient(
            network, 10756.823, options, start=start_at(network, sphere=300.0)
        )
        errors.append(abs(float(solution.temperature[-1, 0]) - 250.0))
        assert errors[-1] <= accuracy
    assert errors[3] < 0.1 * errors[0] + 1e-5


@pytest.mark.parametrize("method", METHODS)
def test_the_start_of_a_history_is_the_start_given(method: str) -> None:
    network = satellite()
    start = start_at(network, box=301.0, radiator=277.0)
    options = Options(method=method)
    solution = solved_transient(network, 100.0, options, start=start)
    assert solution.t[0] == 0.0
    assert solution.temperature[0, [0, 1]] == pytest.approx([301.0, 277.0], abs=1e-9)


def test_without_a_start_a_history_begins_at_the_steady_state_of_its_means() -> None:
    network = satellite()
    solution = solved_transient(network, 100.0)
    expected = solved_steady(network).temperature[0]
    assert solution.temperature[0, [0, 1]] == pytest.approx(expected[[0, 1]], abs=1e-9)


def test_a_history_without_a_start_fails_as_its_steady_state_does() -> None:
    parts: list[Part] = [
        NodePart(name="plate", capacity=10.0),
        HeatPart(node="plate", amplitude=5.0),
    ]
    solution = transient(build(parts), 100.0)
    assert solution.kind == "transient"
    assert "'plate'" in solution.failure


def test_a_solve_changes_neither_its_network_nor_its_start() -> None:
    network = satellite()
    start = uniform(network, 290.0)
    first = solved_transient(network, 8000.0, start=start)
    again = solved_transient(network, 8000.0, start=start)
    np.testing.assert_array_equal(start, uniform(network, 290.0))
    np.testing.assert_array_equal(first.temperature, again.temperature)


def test_a_period_repeats_the_history_of_its_heat() -> None:
    """Two orbits of a repeated history are the history written out twice."""

    def orbits(time: list[float], period: float) -> Network:
        value = [1.0, 1.0, 0.0, 0.0] * (len(time) // 4)
        history = History(time=np.array(time), value=np.array(value))
        parts: list[Part] = [
            NodePart(name="plate", capacity=1000.0),
            BoundaryPart(name="sink", temperature=250.0),
            LinkPart(a="plate", b="sink", strength=2.0),
            HeatPart(node="plate", amplitude=20.0, history=history),
        ]
        return build(parts, period=period)

    once = orbits([0.0, 300.0, 300.0, 1000.0], 1000.0)
    twice = orbits([0.0, 300.0, 300.0, 1000.0, 1000.0, 1300.0, 1300.0, 2000.0], math.inf)
    start = uniform(once, 250.0)
    one, other = (solved_transient(network, 2000.0, start=start) for network in (once, twice))
    np.testing.assert_allclose(one.temperature, other.temperature, atol=1e-3)
    np.testing.assert_allclose(one.extremes.edges, other.extremes.edges)


def test_further_instants_split_the_extremes() -> None:
    """A window of time that carries no heat still has its own highest and lowest."""
    parts: list[Part] = [
        NodePart(name="plate", capacity=1000.0),
        BoundaryPart(name="sink", temperature=250.0),
        LinkPart(a="plate", b="sink", strength=2.0),
    ]
    network = build(parts, instants=[200.0, 300.0])
    solution = solved_transient(network, 1000.0, start=start_at(network, plate=300.0))
    np.testing.assert_allclose(solution.extremes.edges, [[0, 200], [200, 300], [300, 1000]])
    window = 250.0 + 50.0 * np.exp(-np.array([200.0, 300.0]) / 500.0)
    assert solution.extremes.highest[1, 0] == pytest.approx(window[0], abs=0.01)
    assert solution.extremes.lowest[1, 0] == pytest.approx(window[1], abs=0.01)
    assert at_instant(network, solution, "plate", 300.0) == pytest.approx(window[1], abs=0.01)


def test_a_massless_node_without_balance_is_named() -> None:
    """A foil that loses its only link for a while: nothing fixes its temperature then."""
    gone = History(time=np.array([0.0, 50.0, 50.0, 100.0]), value=np.array([1.0, 1.0, 0.0, 0.0]))
    network = build(
        [
            NodePart(name="plate", capacity=10.0),
            NodePart(name="foil"),
            LinkPart(a="plate", b="foil", strength=1.0, history=gone),
            HeatPart(node="foil", amplitude=1.0),
        ]
    )
    solution = transient(network, 100.0, start=np.array([300.0, 300.0]))
    assert "'foil'" in solution.failure
    assert "link" in solution.failure
