"""Every primitive's law, on numbers that a reader can check by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.properties.strategies import gathered, networks
from tests.reference import heat as reference_heat
from thermnet.network.build import build
from thermnet.network.network import (
    Network,
    boundary_temperatures,
    capacities,
    duties,
    flows,
    heat,
    stored_heat,
)
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
from thermnet.network.primitives import CONSTANT, Links, Potential
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.physics.curves import Curve

PAIR = (NodePart(name="warm", capacity=10.0), NodePart(name="cool", capacity=20.0))
AT = np.array([400.0, 300.0])


def pair(*parts: Part) -> Network:
    return build([*PAIR, *parts])


def link(**changes: object) -> LinkPart:
    fields: dict[str, object] = {"a": "warm", "b": "cool", "strength": 2.0} | changes
    return LinkPart(**fields)


def square_wave() -> History:
    return History(time=np.array([0.0, 50.0, 50.0, 90.0]), value=np.array([1.0, 1.0, 0.25, 0.25]))


@pytest.mark.parametrize(
    ("exponent", "drive"),
    [
        (1.0, 100.0),
        (2.0, 400.0**2 - 300.0**2),
        (4.0, 400.0**4 - 300.0**4),
        (4.67, np.exp(4.67 * np.log(400.0)) - np.exp(4.67 * np.log(300.0))),
    ],
)
def test_a_link_carries_strength_times_the_difference_of_powers(
    exponent: float, drive: float
) -> None:
    network = pair(link(potential=Potential(exponent=exponent)))
    assert flows(network, AT, 0.0) == pytest.approx([2.0 * drive], rel=1e-14)
    assert heat(network, AT, 0.0) == pytest.approx([-2.0 * drive, 2.0 * drive], rel=1e-14)


def test_separators_of_a_blanket_conduct_with_the_mean_temperature() -> None:
    """A conductance c Tm, Tm the mean of both, is a link of exponent 2 and strength c / 2."""
    network = pair(link(strength=0.5 * 0.03, potential=Potential(exponent=2.0)))
    assert flows(network, AT, 0.0) == pytest.approx([0.03 * 350.0 * 100.0], rel=1e-14)


def test_a_strut_carries_the_integral_of_its_conductivity() -> None:
    """k = 10 + 0.1 (T - 200): mean 25 between 300 and 400 K, so 2 x 25 x 100 W."""
    conductivity = Curve(x=np.array([200.0, 500.0]), y=np.array([10.0, 40.0]))
    network = pair(link(potential=Potential(curve=conductivity)))
    assert flows(network, AT, 0.0) == pytest.approx([5000.0], rel=1e-14)


def test_a_radiative_link_at_room_temperature() -> None:
    """sigma (400^4 - 300^4) = 992.3155 W/m2, with the exact sigma; derived: closed form."""
    network = pair(link(strength=STEFAN_BOLTZMANN, potential=RADIATION))
    assert flows(network, AT, 0.0) == pytest.approx([992.3155233], rel=1e-9)


@pytest.mark.parametrize(("time", "share"), [(0.0, 1.0), (49.9, 1.0), (50.0, 0.25), (200.0, 0.25)])
def test_a_history_modulates_a_link(time: float, share: float) -> None:
    network = pair(link(history=square_wave()))
    assert flows(network, AT, time) == pytest.approx([share * 200.0], rel=1e-14)


@pytest.mark.parametrize(("sensor", "share"), [("warm", 1.0), ("cool", 0.2), ("far", 0.6)])
def test_a_curve_of_a_named_node_modulates_a_link(sensor: str, share: float) -> None:
    louver = Curve(x=np.array([300.0, 400.0]), y=np.array([0.2, 1.0]))
    network = pair(
        NodePart(name="far", capacity=1.0), link(potential=RADIATION, curve=louver, sensor=sensor)
    )
    flow = flows(network, np.array([400.0, 300.0, 350.0]), 0.0)
    assert flow == pytest.approx([2.0 * share * (400.0**4 - 300.0**4)], rel=1e-14)


def test_history_and_curve_of_a_link_multiply() -> None:
    curve = Curve(x=np.array([300.0, 400.0]), y=np.array([0.2, 1.0]))
    network = pair(link(curve=curve, sensor="cool", history=square_wave()))
    assert flows(network, AT, 60.0) == pytest.approx([200.0 * 0.2 * 0.25], rel=1e-14)


def test_links_keep_their_own_law_when_they_are_sorted_by_potential() -> None:
    parts: list[Part] = [
        link(strength=1.0, origin="first"),
        link(strength=1e-8, potential=RADIATION, origin="second"),
        link(strength=3.0, origin="third"),
    ]
    network = pair(*parts)
    flow = flows(network, AT, 0.0)
    found = {network.origins[k]: float(w) for k, w in zip(network.links.origin, flow, strict=True)}
    expected = {"first": 100.0, "second": 1e-8 * (400.0**4 - 300.0**4), "third": 300.0}
    assert found == pytest.approx(expected, rel=1e-14)


def test_a_flow_link_carries_its_rate_times_the_temperature_upstream() -> None:
    network = pair(FlowLinkPart(a="warm", b="cool", rate=3.0, history=square_wave()))
    assert heat(network, AT, 60.0) == pytest.approx([-300.0, 300.0], rel=1e-14)


def test_a_closed_loop_of_flow_links_depends_on_temperature_differences_only() -> None:
    loop = [FlowLinkPart(a="warm", b="cool", rate=3.0), FlowLinkPart(a="cool", b="warm", rate=3.0)]
    network = pair(*loop)
    for zero in (0.0, 1000.0):
        assert heat(network, AT + zero, 0.0) == pytest.approx([-300.0, 300.0], rel=1e-12)


@pytest.mark.parametrize(("time", "watts"), [(0.0, 8.0), (50.0, 2.0)])
def test_heat_follows_its_history(time: float, watts: float) -> None:
    network = pair(HeatPart(node="cool", amplitude=8.0, history=square_wave()))
    assert heat(network, AT, time) == pytest.approx([0.0, watts], rel=1e-14)


def test_heat_may_depend_on_the_temperature_of_a_named_node() -> None:
    """A dissipation that rises by 0.5 % of 8 W per kelvin of the other node."""
    curve = Curve(x=np.array([300.0, 500.0]), y=np.array([1.0, 2.0]))
    network = pair(HeatPart(node="cool", amplitude=8.0, curve=curve, sensor="warm"))
    assert heat(network, AT, 0.0) == pytest.approx([0.0, 12.0], rel=1e-14)


def test_a_boundary_follows_its_history() -> None:
    network = pair(BoundaryPart(name="wall", temperature=290.0, swing=-40.0, history=square_wave()))
    assert boundary_temperatures(network, 0.0) == pytest.approx([250.0])
    assert boundary_temperatures(network, 60.0) == pytest.approx([280.0])


@pytest.mark.parametrize(
    ("sensed", "duty"), [(260.0, 1.0), (283.0, 1.0), (284.0, 2.0 / 3.0), (286.0, 0.0), (300.0, 0.0)]
)
def test_a_proportional_thermostat_is_full_on_at_its_lower_end(sensed: float, duty: float) -> None:
    thermostat = ThermostatPart(node="warm", sensor="cool", power=9.0, on=283.0, off=286.0)
    network = pair(thermostat)
    temperature = np.array([400.0, sensed])
    assert duties(network, temperature) == pytest.approx([duty], abs=1e-14)
    assert heat(network, temperature, 0.0) == pytest.approx([9.0 * duty, 0.0], abs=1e-13)


def test_a_switching_thermostat_gives_its_state_times_power_where_enabled() -> None:
    thermostat = ThermostatPart(
        node="warm", sensor="cool", power=9.0, on=283.0, off=286.0, enabled=square_wave()
    )
    network = pair(thermostat)
    assert heat(network, AT, 0.0, np.array([1.0])) == pytest.approx([9.0, 0.0])
    assert heat(network, AT, 60.0, np.array([1.0])) == pytest.approx([9.0 / 4.0, 0.0])
    assert heat(network, AT, 60.0, np.array([0.0])) == pytest.approx([0.0, 0.0])


def test_heat_content_by_capacity_or_by_curve() -> None:
    """Wax that melts between 300 and 302 K: 1000 J/K solid, 20 kJ of melting, 1500 J/K liquid."""
    content = Curve(
        x=np.array([200.0, 300.0, 302.0, 400.0]),
        y=np.array([0.0, 100e3, 120e3, 267e3]),
        extend=True,
    )
    network = pair(NodePart(name="wax", content=content))
    at = np.array([400.0, 300.0, 301.0])
    np.testing.assert_allclose(stored_heat(network, at), [4000.0, 6000.0, 110e3])
    np.testing.assert_allclose(capacities(network, at), [10.0, 20.0, 10e3])


def test_what_leaves_one_node_enters_another() -> None:
    """Only sources add heat: every link, at any temperature, sums to nothing over the nodes."""
    conductivity = Curve(x=np.array([200.0, 500.0]), y=np.array([10.0, 40.0]))
    network = pair(
        link(),
        link(potential=RADIATION, strength=1e-7),
        link(potential=Potential(exponent=4.67), strength=1e-9),
        link(potential=Potential(curve=conductivity), strength=0.1),
        FlowLinkPart(a="warm", b="cool", rate=3.0),
        HeatPart(node="warm", amplitude=11.0),
    )
    assert heat(network, AT, 0.0).sum() == pytest.approx(11.0, rel=1e-11)


def test_flows_of_arrays_written_out() -> None:
    """The law without the builder, index arrays and potentials as they stand; then built."""
    none = np.full(3, CONSTANT, dtype=np.int32)
    links = Links(
        a=np.array([0, 1, 0], dtype=np.int32),
        b=np.array([1, 2, 2], dtype=np.int32),
        strength=np.array([2.0, 0.5, 1e-9]),
        history=none,
        curve=none,
        sensor=none,
        potentials=(Potential(exponent=1.0), Potential(exponent=4.0)),
        groups=(0, 2, 3),
        origin=np.zeros(3, dtype=np.int32),
    )
    nodes: list[Part] = [*PAIR, BoundaryPart(name="sink", temperature=100.0)]
    temperature = np.array([400.0, 300.0, 100.0])
    radiated = 1e-9 * (400.0**4 - 100.0**4)
    found = flows(replace(build(nodes), links=links), temperature, 0.0)
    np.testing.assert_allclose(found, [200.0, 100.0, radiated])
    built = build(
        [
            *nodes,
            LinkPart(a="warm", b="cool", strength=2.0),
            LinkPart(a="warm", b="sink", strength=1e-9, potential=RADIATION),
            LinkPart(a="cool", b="sink", strength=0.5),
        ]
    )
    for name in ("a", "b", "strength", "history", "curve", "sensor"):
        np.testing.assert_array_equal(getattr(built.links, name), getattr(links, name))
    assert (built.links.potentials, built.links.groups) == (links.potentials, links.groups)
    np.testing.assert_allclose(
        heat(built, temperature, 0.0), [-200.0 - radiated, 100.0, 100.0 + radiated]
    )


def test_the_reference_balance_of_the_suite_agrees() -> None:
    """tests/reference.py, which the independent integrators use, on one of everything."""
    louver = Curve(x=np.array([300.0, 400.0]), y=np.array([0.2, 1.0]))
    parts: list[Part] = [
        *PAIR,
        link(history=square_wave(), curve=louver, sensor="cool"),
        link(potential=RADIATION, strength=1e-7),
        link(potential=Potential(curve=louver), strength=5.0),
        FlowLinkPart(a="cool", b="warm", rate=3.0, history=square_wave()),
        HeatPart(node="cool", amplitude=8.0, curve=louver, sensor="warm", history=square_wave()),
        ThermostatPart(node="cool", sensor="warm", power=9.0, on=390.0, off=410.0),
    ]
    at = {"warm": 397.0, "cool": 321.0}
    expected = reference_heat(parts, at, 60.0)
    found = heat(build(parts), np.array([at["warm"], at["cool"]]), 60.0)
    np.testing.assert_allclose(found, [expected["warm"].real, expected["cool"].real], rtol=1e-13)


@settings(max_examples=25)
@given(parts=networks(), time=st.floats(0.0, 2000.0))
def test_alike_parts_put_together_as_arrays_carry_the_same_heat(
    parts: tuple[Part, ...], time: float
) -> None:
    single, many = build(parts), build(gathered(parts))
    temperature = dict(zip(single.names, np.linspace(150.0, 400.0, len(single.names)), strict=True))
    net = [
        dict(
            zip(
                network.names,
                heat(network, np.array([temperature[name] for name in network.names]), time),
                strict=True,
            )
        )
        for network in (single, many)
    ]
    assert net[0] == pytest.approx(net[1], rel=1e-11, abs=1e-9)
