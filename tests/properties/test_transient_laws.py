"""Laws that every history obeys, whatever the network."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.properties.strategies import EVERYTHING, LAWS, SPAN, networks
from tests.solving import (
    history_of,
    solved_steady,
    solved_transient,
    start_at,
    steady_temperatures,
)
from thermnet.network.build import build
from thermnet.network.network import Network, heat, jacobian
from thermnet.network.parts import HeatPart, NodePart, Part
from thermnet.network.primitives import Floats
from thermnet.solve.solution import Options

SMOOTH = [feature for feature in EVERYTHING if feature not in ("thermostats", "content")]
PASSIVE = [*LAWS, "massless", "content", "modulation"]


def starts(network: Network, seed: int) -> Floats:
    """A warm node here, a cold one there."""
    return np.random.default_rng(seed).uniform(230.0, 330.0, len(network.names))


seeds = st.integers(0, 2**31)


@settings(max_examples=25)
@given(parts=networks(), seed=seeds)
def test_the_account_of_a_history_closes(parts: tuple[Part, ...], seed: int) -> None:
    network = build(parts)
    solved_transient(network, SPAN, start=starts(network, seed))


@settings(max_examples=10)
@given(parts=networks(SMOOTH), seed=seeds)
def test_massless_nodes_are_in_balance_at_every_instant(parts: tuple[Part, ...], seed: int) -> None:
    network = build(parts)
    solution = solved_transient(network, SPAN, start=starts(network, seed))
    contents = dict(network.content)
    massless = [k for k in network.free if network.capacity[k] == 0.0 and k not in contents]
    record = solution.record
    for time, temperature in zip(record.local_time, record.temperature, strict=True):
        slope = np.abs(jacobian(network, temperature, time).diagonal()[massless])
        net = heat(network, temperature, time)[massless]
        assert (np.abs(net) <= 2e-4 * slope + 1e-9).all()  # 2e-4 K from balance


@settings(max_examples=10)
@given(parts=networks(PASSIVE, sinks=[240.0, 310.0]), seed=seeds)
def test_without_sources_a_history_stays_between_its_extremes(
    parts: tuple[Part, ...], seed: int
) -> None:
    network = build(parts)
    start = starts(network, seed)
    solution = solved_transient(network, SPAN, start=start)
    storing = [*np.flatnonzero(network.capacity), *(node for node, _ in network.content)]
    low = min(240.0, start[storing].min(initial=400.0))
    high = max(310.0, start[storing].max(initial=0.0))
    assert solution.extremes.lowest.min() >= low - 0.01
    assert solution.extremes.highest.max() <= high + 0.01


@settings(max_examples=10)
@given(parts=networks(SMOOTH), data=st.data())
def test_the_order_of_the_parts_does_not_matter(
    parts: tuple[Part, ...], data: st.DataObject
) -> None:
    shuffled = data.draw(st.permutations(parts))
    first, second = build(parts), build(shuffled)
    at_first = {f"n{k}": 250.0 + 15.0 * k for k in range(6)}
    one = solved_transient(first, SPAN, start=start_at(first, **at_first))
    other = solved_transient(second, SPAN, start=start_at(second, **at_first))
    for name in first.names:
        np.testing.assert_allclose(
            history_of(first, one, name), history_of(second, other, name), atol=0.01
        )


@settings(max_examples=8)
@given(parts=networks(["conduction", "massless", "modulation", "pulses", "heat"]), seed=seeds)
def test_histories_of_linear_networks_superpose(parts: tuple[Part, ...], seed: int) -> None:
    calm = [part for part in parts if not isinstance(part, HeatPart)]
    heats = [part for part in parts if isinstance(part, HeatPart)]
    network = build(parts)
    start = starts(network, seed)

    def history(*selected: Part) -> Floats:
        run = solved_transient(build([*calm, *selected]), SPAN, Options(accuracy=1e-3), start=start)
        return run.temperature

    rest, rises = history(), [history(heat) for heat in heats]
    total = rest + sum((rise - rest for rise in rises), np.zeros_like(rest))
    np.testing.assert_allclose(history(*heats), total, atol=0.005)


@settings(max_examples=8)
@given(
    parts=networks([*LAWS, "massless", "heat", "flow links"], most_nodes=4, sinks=[250.0, 300.0]),
    seed=seeds,
)
def test_the_steady_state_is_where_a_history_ends(parts: tuple[Part, ...], seed: int) -> None:
    """After many of the longest time constants, of some 1e5 s."""
    network = build(parts)
    solution = solved_transient(network, 5e6, Options(outputs=1), start=starts(network, seed))
    expected = solved_steady(network).temperature[0]
    np.testing.assert_allclose(solution.temperature[-1], expected, atol=0.02)


@settings(max_examples=8)
@given(parts=networks(["radiation", "conduction", "massless", "heat"]))
def test_a_history_that_begins_steady_stays(parts: tuple[Part, ...]) -> None:
    settled = steady_temperatures(parts)
    network = build(parts)
    solution = solved_transient(network, SPAN)
    for name in network.names:
        assert history_of(network, solution, name) == pytest.approx(settled[name], abs=1e-3)


@settings(max_examples=8)
@given(parts=networks(["radiation", "conduction", "heat", "pulses", "thermostats"]), seed=seeds)
def test_extremes_enclose_every_output(parts: tuple[Part, ...], seed: int) -> None:
    network = build(parts)
    solution = solved_transient(network, SPAN, start=starts(network, seed))
    lowest = solution.extremes.lowest.min(axis=0)
    highest = solution.extremes.highest.max(axis=0)
    assert (solution.temperature >= lowest - 1e-3).all()
    assert (solution.temperature <= highest + 1e-3).all()
    nodes = [network.index(part.name) for part in parts if isinstance(part, NodePart)]
    assert (highest[nodes] >= solution.mean[nodes] - 1e-9).all()
    assert (lowest[nodes] <= solution.mean[nodes] + 1e-9).all()
