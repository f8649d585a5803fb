"""Steady states: found from anywhere, exact to rounding, and honest where there is none."""

from __future__ import annotations

import numpy as np
import pytest

from tests.solving import solved_steady, steady_temperatures, uniform
from thermnet.account import account
from thermnet.network.build import build
from thermnet.network.network import heat
from thermnet.network.parts import (
    RADIATION,
    BoundaryPart,
    FlowLinkPart,
    HeatPart,
    History,
    LinkPart,
    NodePart,
    Part,
    ThermostatPart,
)
from thermnet.network.primitives import Potential
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.physics.curves import Curve
from thermnet.solve.solution import Options
from thermnet.solve.steady import steady

STARTS = [3.0, 30.0, 150.0, 280.0, 600.0, 2000.0]


def satellite(*extra: Part) -> list[Part]:
    """A heated box on a deck, a radiator, a blanket whose outer face has no heat capacity."""
    radiators = [("radiator", "space", 0.2), ("face", "space", 1.0), ("deck", "face", 0.02)]
    return [
        NodePart(name="box", capacity=4000.0),
        NodePart(name="deck", capacity=9000.0),
        NodePart(name="radiator", capacity=1500.0),
        NodePart(name="face"),
        BoundaryPart(name="space", temperature=2.7),
        LinkPart(a="box", b="deck", strength=2.5),
        LinkPart(a="deck", b="radiator", strength=4.0),
        *(
            LinkPart(a=a, b=b, strength=STEFAN_BOLTZMANN * area, potential=RADIATION)
            for a, b, area in radiators
        ),
        HeatPart(node="box", amplitude=20.0),
        *extra,
    ]


HEATER = ThermostatPart(node="deck", sensor="box", power=40.0, on=275.0, off=278.0, origin="heater")


@pytest.mark.parametrize("linearised", [True, False])
@pytest.mark.parametrize("start", STARTS)
def test_any_start_leads_to_the_same_state(start: float, linearised: bool) -> None:
    network = build(satellite(HEATER))
    expected = solved_steady(network).temperature
    options = Options(linearised_start=linearised)
    found = solved_steady(network, options, start=uniform(network, start))
    np.testing.assert_allclose(found.temperature, expected, atol=1e-7)
    assert found.duty == pytest.approx(solved_steady(network).duty, abs=1e-8)


@pytest.mark.parametrize("start", STARTS)
def test_a_chain_of_massless_radiating_nodes_from_any_start(start: float) -> None:
    """Six shields between 300 K and 4 K: the fourth powers are evenly spaced."""
    names = [f"shield {k}" for k in range(6)]
    stops = ["wall", *names, "dewar"]
    parts: list[Part] = [
        BoundaryPart(name="wall", temperature=300.0),
        BoundaryPart(name="dewar", temperature=4.0),
        *(NodePart(name=name) for name in names),
        *(
            LinkPart(a=a, b=b, strength=1e-9, potential=RADIATION)
            for a, b in zip(stops[:-1], stops[1:], strict=True)
        ),
    ]
    network = build(parts)
    options = Options(linearised_start=False)
    found = solved_steady(network, options, start=uniform(network, start))
    fourth = np.linspace(300.0**4, 4.0**4, 8)[1:-1]
    np.testing.assert_allclose(found.temperature[0, :6], fourth**0.25, rtol=1e-9)


def test_the_balance_is_exact_to_rounding() -> None:
    network = build(satellite(HEATER))
    solution = solved_steady(network)
    net = heat(network, solution.temperature[0], 0.0)[network.free]
    assert np.abs(net).max() < 1e-9
    assert account(network, solution).share < 1e-10


def test_the_count_of_steps_stays_small() -> None:
    assert solved_steady(build(satellite(HEATER))).stats.steps <= 12


def test_histories_count_by_their_time_means() -> None:
    """6 W for 30 of 90 s is 2 W; a wall at 250 K for 60 and at 280 K for 30 s is at 260 K."""
    pulse = History(time=np.array([0.0, 30.0, 30.0, 90.0]), value=np.array([1.0, 1.0, 0.0, 0.0]))
    parts: list[Part] = [
        NodePart(name="plate", capacity=10.0),
        BoundaryPart(name="wall", temperature=250.0, swing=30.0, history=pulse),
        LinkPart(a="plate", b="wall", strength=0.5),
        HeatPart(node="plate", amplitude=6.0, history=pulse),
    ]
    assert steady_temperatures(parts)["plate"] == pytest.approx(264.0, abs=1e-9)


def test_a_thermostat_settles_proportionally_within_its_band() -> None:
    """G (T - 250) = P (off - T) / (off - on): T = (0.5 x 250 + 6 x 278.15) / 6.5 K."""
    parts: list[Part] = [
        NodePart(name="plate", capacity=10.0),
        BoundaryPart(name="wall", temperature=250.0),
        LinkPart(a="plate", b="wall", strength=0.5),
        ThermostatPart(node="plate", sensor="plate", power=30.0, on=273.15, off=278.15),
    ]
    assert steady_temperatures(parts)["plate"] == pytest.approx((125.0 + 6.0 * 278.15) / 6.5)


def test_a_heater_that_is_too_weak_is_always_on() -> None:
    parts: list[Part] = [
        NodePart(name="plate", capacity=10.0),
        BoundaryPart(name="wall", temperature=250.0),
        LinkPart(a="plate", b="wall", strength=0.5),
        ThermostatPart(node="plate", sensor="plate", power=5.0, on=273.15, off=278.15),
    ]
    solution = solved_steady(build(parts))
    assert solution.temperature[0, 0] == pytest.approx(260.0)
    assert solution.heater_duty == [1.0]


@pytest.mark.parametrize("width", [1.0, 0.01, 1e-4])
@pytest.mark.parametrize("start", [3.0, 280.0, 2000.0])
def test_a_narrow_thermostat_band_is_found(start: float, width: float) -> None:
    heater = ThermostatPart(node="deck", sensor="box", power=40.0, on=275.0, off=275.0 + width)
    network = build(satellite(heater))
    found = solved_steady(network, Options(linearised_start=False), start=uniform(network, start))
    assert 275.0 <= found.temperature[0, network.index("box")] <= 275.0 + width


def test_a_louver_that_opens_with_temperature() -> None:
    """Radiator area 0.2 m2 closed, 1 m2 open: 50 W held at the T where f(T) sigma T^4 = 50 W."""
    louver = Curve(x=np.array([280.0, 300.0]), y=np.array([0.2, 1.0]))
    parts: list[Part] = [
        NodePart(name="plate", capacity=10.0),
        BoundaryPart(name="space", temperature=0.0),
        LinkPart(
            a="plate",
            b="space",
            strength=STEFAN_BOLTZMANN,
            potential=RADIATION,
            curve=louver,
            sensor="plate",
        ),
        HeatPart(node="plate", amplitude=200.0),
    ]
    at = steady_temperatures(parts)["plate"]
    opened = 0.2 + 0.8 * (at - 280.0) / 20.0
    assert 280.0 < at < 300.0
    assert opened * STEFAN_BOLTZMANN * at**4 == pytest.approx(200.0, rel=1e-9)


@pytest.mark.parametrize("start", STARTS)
def test_a_curve_with_two_states_settles_in_one_where_the_nodes_would_stay(start: float) -> None:
    """A heat switch that closes as it warms has an unstable state between two stable ones."""
    switch = Curve(x=np.array([250.0, 300.0]), y=np.array([0.05, 1.0]))
    parts: list[Part] = [
        NodePart(name="stage", capacity=10.0),
        BoundaryPart(name="cold", temperature=150.0),
        BoundaryPart(name="warm", temperature=330.0),
        LinkPart(a="stage", b="cold", strength=0.2),
        LinkPart(a="warm", b="stage", strength=1.0, curve=switch, sensor="stage"),
    ]
    network = build(parts)
    found = solved_steady(network, Options(linearised_start=False), start=uniform(network, start))
    at = found.temperature[0]
    pushed = at + np.array([0.01, 0.0, 0.0])
    assert heat(network, pushed, 0.0)[0] < 0.0


def test_a_fluid_loop_between_two_plates() -> None:
    """5 W through a loop of 2 W/K: 2.5 K between the plates, both above the sink by 5 W / 1 W/K."""
    parts: list[Part] = [
        NodePart(name="hot", capacity=10.0),
        NodePart(name="cold", capacity=10.0),
        BoundaryPart(name="sink", temperature=270.0),
        FlowLinkPart(a="hot", b="cold", rate=2.0),
        FlowLinkPart(a="cold", b="hot", rate=2.0),
        LinkPart(a="cold", b="sink", strength=1.0),
        HeatPart(node="hot", amplitude=5.0),
    ]
    found = steady_temperatures(parts)
    assert found["cold"] == pytest.approx(275.0)
    assert found["hot"] == pytest.approx(277.5)


def test_a_strut_from_300_to_4_kelvin_carries_the_integral_of_its_conductivity() -> None:
    """k = 0.01 T W/m/K: the integral is 0.005 (300^2 - 4^2) = 449.92 W/m, times A/L of 2 mm.

    A conductivity at the mean temperature gives the same only because k is linear, so half a
    strut is asked for too: its middle is at sqrt((300^2 + 4^2)/2) K.
    """
    conductivity = Curve(x=np.array([0.0, 300.0]), y=np.array([0.0, 3.0]))
    law = Potential(curve=conductivity)
    parts: list[Part] = [
        NodePart(name="middle"),
        BoundaryPart(name="warm", temperature=300.0),
        BoundaryPart(name="cold", temperature=4.0),
        LinkPart(a="warm", b="middle", strength=4e-3, potential=law, origin="half"),
        LinkPart(a="middle", b="cold", strength=4e-3, potential=law, origin="other"),
    ]
    network = build(parts)
    solution = solved_steady(network)
    assert solution.temperature[0, 0] == pytest.approx(np.sqrt((300.0**2 + 4.0**2) / 2.0))
    carried = account(network, solution).by_origin()
    assert carried == pytest.approx({"half": 0.89984, "other": 0.89984}, rel=1e-9)


@pytest.mark.parametrize("sink", [0.0, 0.5, 1.5])
def test_a_boundary_colder_than_2_kelvin_is_taken_as_it_is(sink: float) -> None:
    parts: list[Part] = [
        NodePart(name="stage", capacity=1.0),
        BoundaryPart(name="cooler", temperature=sink),
        LinkPart(a="stage", b="cooler", strength=1e-3),
        HeatPart(node="stage", amplitude=5e-3),
    ]
    assert steady_temperatures(parts)["stage"] == pytest.approx(sink + 5.0, abs=1e-9)


def test_a_network_of_boundaries_alone_is_solved() -> None:
    parts: list[Part] = [
        BoundaryPart(name="warm", temperature=300.0),
        BoundaryPart(name="cold", temperature=280.0),
        LinkPart(a="warm", b="cold", strength=2.0, origin="strap"),
    ]
    network = build(parts)
    assert account(network, solved_steady(network)).by_origin() == {"strap": 40.0}


def test_a_mesh_larger_than_the_dense_limit_is_solved() -> None:
    """A bar of 401 nodes with heat at one end and a sink at the other: a straight line."""
    bar = [f"x{k}" for k in range(401)]
    parts: list[Part] = [
        *(NodePart(name=name, capacity=1.0) for name in bar),
        BoundaryPart(name="sink", temperature=250.0),
        *(LinkPart(a=a, b=b, strength=40.0) for a, b in zip(bar, bar[1:] + ["sink"], strict=True)),
        HeatPart(node="x0", amplitude=4.0),
    ]
    at = solved_steady(build(parts)).temperature[0, :401]
    np.testing.assert_allclose(at, 250.0 + 0.1 * np.arange(401, 0, -1), atol=1e-8)


def failure(parts: list[Part]) -> str:
    with np.errstate(all="ignore"):
        return steady(build(parts)).failure


def test_heat_that_cannot_leave_names_its_node_and_the_watts() -> None:
    adrift = [NodePart(name="instrument", capacity=5.0), HeatPart(node="instrument", amplitude=7.0)]
    message = failure(satellite(*adrift))
    assert "'instrument'" in message
    assert "7 W" in message
    assert "link" in message


def test_an_island_with_heat_names_its_nodes() -> None:
    island: list[Part] = [
        NodePart(name="camera", capacity=5.0),
        NodePart(name="lens", capacity=5.0),
        LinkPart(a="camera", b="lens", strength=0.3),
        HeatPart(node="camera", amplitude=7.0),
    ]
    message = failure(satellite(*island))
    assert "'camera'" in message
    assert " W" in message


def test_a_node_without_any_link_is_named() -> None:
    assert "'spare'" in failure(satellite(NodePart(name="spare")))


def test_more_heat_taken_out_than_there_is_names_the_node() -> None:
    message = failure(satellite(HeatPart(node="radiator", amplitude=-80.0)))
    assert "more heat is taken out" in message
    assert "'radiator'" in message
    assert "W at" in message
