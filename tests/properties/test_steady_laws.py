"""Laws that every steady state obeys, whatever the network."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.properties.strategies import EVERYTHING, LAWS, networks
from tests.solving import solved_steady, steady_temperatures, uniform
from thermnet.network.build import build
from thermnet.network.network import flows
from thermnet.network.parts import BoundaryPart, HeatPart, LinkPart, NodePart, Part
from thermnet.solve.solution import Options

UNIQUE = [feature for feature in EVERYTHING if feature != "curves"]
"""Without curves that make a link weaker as it gets hotter, there is one steady state."""

PASSIVE = [*LAWS, "massless", "content", "modulation"]
LINEAR = ["conduction", "massless", "modulation"]


def changed(parts: Sequence[Part], kind: type[LinkPart], *, split: str) -> list[Part]:
    """Every link replaced by two: side by side, or in a row with a massless node between."""
    result: list[Part] = []
    for k, part in enumerate(parts):
        if not isinstance(part, kind):
            result.append(part)
        elif split == "side by side":
            share = replace(part, strength=part.strength * 0.3)
            result += [share, replace(part, strength=part.strength * 0.7)]
        else:
            middle, double = f"middle {k}", 2.0 * part.strength
            result.append(NodePart(name=middle))
            result.append(replace(part, b=middle, strength=double))
            result.append(replace(part, a=middle, strength=double))
    return result


@settings(max_examples=30)
@given(parts=networks())
def test_the_account_of_a_steady_state_closes(parts: tuple[Part, ...]) -> None:
    solved_steady(build(parts))


@settings(max_examples=15)
@given(parts=networks(UNIQUE), start=st.floats(3.0, 2000.0))
def test_the_start_does_not_matter(parts: tuple[Part, ...], start: float) -> None:
    network = build(parts)
    expected = solved_steady(network).temperature
    for linearised in (True, False):
        options = Options(linearised_start=linearised)
        found = solved_steady(network, options, start=uniform(network, start))
        np.testing.assert_allclose(found.temperature, expected, atol=1e-5)


@settings(max_examples=20)
@given(parts=networks([*PASSIVE, "curves", "flow links"], sinks=[260.0, 260.0]))
def test_between_equal_boundaries_nothing_flows(parts: tuple[Part, ...]) -> None:
    network = build(parts)
    solution = solved_steady(network)
    np.testing.assert_allclose(solution.temperature[0], 260.0, rtol=1e-10)
    flow = flows(network, solution.temperature[0], 0.0)[: len(network.links.a)]
    np.testing.assert_allclose(flow, 0.0, atol=1e-8)


@settings(max_examples=20)
@given(parts=networks([*PASSIVE, "curves", "flow links"], sinks=[150.0, 330.0]))
def test_without_sources_no_node_leaves_the_range_of_the_boundaries(
    parts: tuple[Part, ...],
) -> None:
    temperature = solved_steady(build(parts)).temperature
    assert temperature.min() >= 150.0 - 1e-7
    assert temperature.max() <= 330.0 + 1e-7


@settings(max_examples=20)
@given(parts=networks())
def test_heat_flows_from_hot_to_cold(parts: tuple[Part, ...]) -> None:
    """In every link, so that none lowers the entropy: the second law."""
    network = build(parts)
    temperature = solved_steady(network).temperature[0]
    links = network.links
    drop = temperature[links.a] - temperature[links.b]
    flow = flows(network, temperature, 0.0)[: len(links.a)]
    assert (flow * np.sign(drop) >= 0.0).all()
    entropy = flow * (1.0 / temperature[links.b] - 1.0 / temperature[links.a])
    assert (entropy >= -1e-15).all()


@settings(max_examples=20)
@given(parts=networks(UNIQUE), data=st.data())
def test_the_order_of_the_parts_does_not_matter(
    parts: tuple[Part, ...], data: st.DataObject
) -> None:
    shuffled = data.draw(st.permutations(parts))
    expected, found = steady_temperatures(parts), steady_temperatures(shuffled)
    assert found == pytest.approx(expected, abs=1e-6)


@settings(max_examples=20)
@given(parts=networks(UNIQUE), split=st.sampled_from(["side by side", "in a row"]))
def test_a_link_may_be_split_in_two(parts: tuple[Part, ...], split: str) -> None:
    expected = steady_temperatures(parts)
    found = steady_temperatures(changed(parts, LinkPart, split=split))
    assert {name: found[name] for name in expected} == pytest.approx(expected, abs=1e-6)


@settings(max_examples=20)
@given(
    parts=networks(LINEAR, sinks=[250.0, 300.0]),
    powers=st.lists(st.integers(0, 20), min_size=4, max_size=4),
)
def test_linear_networks_superpose(parts: tuple[Part, ...], powers: list[int]) -> None:
    """The rise by two sets of heats together is the sum of the rises by each."""
    nodes = [part.name for part in parts if isinstance(part, NodePart)]

    def with_heats(*numbers: int) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        extra = [HeatPart(node=nodes[k % len(nodes)], amplitude=float(powers[k])) for k in numbers]
        return np.array([*steady_temperatures([*parts, *extra]).values()])

    rest, first, second = with_heats(), with_heats(0, 1), with_heats(2, 3)
    both = with_heats(0, 1, 2, 3)
    np.testing.assert_allclose(both - rest, (first - rest) + (second - rest), atol=1e-7)


@settings(max_examples=15)
@given(parts=networks(LINEAR, sinks=[250.0]), data=st.data())
def test_linear_networks_are_reciprocal(parts: tuple[Part, ...], data: st.DataObject) -> None:
    """Heat at one node warms a second as much as the same heat at the second warms the first."""
    nodes = st.sampled_from([part.name for part in parts if isinstance(part, NodePart)])
    first, second = data.draw(nodes), data.draw(nodes)
    by_first = steady_temperatures([*parts, HeatPart(node=first, amplitude=3.0)])
    by_second = steady_temperatures([*parts, HeatPart(node=second, amplitude=3.0)])
    assert by_first[second] == pytest.approx(by_second[first], abs=1e-7)


@settings(max_examples=20)
@given(
    parts=networks(["radiation", "massless", "heat", "modulation"], sinks=[0.0]),
    factor=st.sampled_from([0.1, 2.0, 16.0]),
)
def test_radiation_alone_scales_with_the_fourth_root_of_heat(
    parts: tuple[Part, ...], factor: float
) -> None:
    """All heats times k make all temperatures times k^(1/4), above a sink at 0 K."""
    nodes = [part.name for part in parts if isinstance(part, NodePart)]
    heated = [*parts, *(HeatPart(node=name, amplitude=1.0) for name in nodes)]
    scaled = [
        replace(part, amplitude=part.amplitude * factor) if isinstance(part, HeatPart) else part
        for part in heated
    ]
    before, after = steady_temperatures(heated), steady_temperatures(scaled)
    for name in nodes:
        assert after[name] == pytest.approx(before[name] * factor**0.25, rel=1e-8)


@settings(max_examples=20)
@given(parts=networks(UNIQUE), data=st.data())
def test_more_heat_makes_no_node_colder(parts: tuple[Part, ...], data: st.DataObject) -> None:
    calm = [part for part in parts if not isinstance(part, HeatPart)]
    name = data.draw(st.sampled_from([part.name for part in parts if isinstance(part, NodePart)]))
    before = steady_temperatures(calm)
    after = steady_temperatures([*calm, HeatPart(node=name, amplitude=5.0)])
    sensed = any(type(part).__name__ == "ThermostatPart" for part in parts)
    for node, temperature in after.items():
        # A heater elsewhere that goes down because its sensor is warmer may cool its own node.
        assert sensed or temperature >= before[node] - 1e-6


@settings(max_examples=10)
@given(parts=networks(UNIQUE))
def test_fixing_a_node_where_it_settles_changes_nothing(parts: tuple[Part, ...]) -> None:
    settled = steady_temperatures(parts)
    fixed = [
        BoundaryPart(name=part.name, temperature=settled[part.name])
        if isinstance(part, NodePart) and part.name == "n0"
        else part
        for part in parts
    ]
    assert steady_temperatures(fixed) == pytest.approx(settled, abs=1e-5)
