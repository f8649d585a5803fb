"""The prepared heat balance gives the numbers of `network.heat` and its Jacobian, only sooner."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.properties.strategies import networks
from thermnet.network.build import build
from thermnet.network.network import Network, heat, jacobian
from thermnet.network.parts import Part
from thermnet.network.primitives import Floats
from thermnet.solve import balance as prepared
from thermnet.solve.balance import prepare

SIZES = {"dense": 200, "sparse": 0}


def random_state(network: Network, seed: int) -> tuple[Floats, Floats]:
    random = np.random.default_rng(seed)
    temperature = random.uniform(5.0, 600.0, len(network.names))
    return temperature, np.round(random.uniform(size=len(network.thermostats.node)))


@pytest.mark.parametrize("kind", SIZES)
@settings(max_examples=15)
@given(
    parts=networks(),
    seed=st.integers(0, 2**31),
    time=st.floats(0.0, 2000.0),
    switching=st.booleans(),
)
def test_prepared_heat_and_slopes_are_those_of_the_network(
    kind: str, parts: tuple[Part, ...], seed: int, time: float, switching: bool
) -> None:
    network = build(parts)
    temperature, duty = random_state(network, seed)
    state = duty if switching else None
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(prepared, "DENSE_UP_TO", SIZES[kind])
        balance = prepare(network, None).switched(state)
        found = balance.heat(temperature, time)
    expected = heat(network, temperature, time, state)
    expected[network.boundary] = 0.0
    scale = max(1.0, np.abs(expected).max(initial=0.0))
    np.testing.assert_allclose(found, expected, atol=1e-11 * scale)

    if kind == "dense":
        weight = np.arange(1.0, len(temperature) + 1)
        slopes = -jacobian(network, temperature, time, state).toarray()
        slopes[network.boundary] = 0.0
        slopes += np.diag(weight)
        matrix = balance.shifted(weight, temperature, time)
        np.testing.assert_allclose(matrix, slopes, atol=1e-11 * np.abs(slopes).max())


@settings(max_examples=15)
@given(parts=networks(), seed=st.integers(0, 2**31))
def test_many_instants_at_once_are_each_instant_alone(parts: tuple[Part, ...], seed: int) -> None:
    network = build(parts)
    random = np.random.default_rng(seed)
    times = random.uniform(0.0, 2000.0, 4)
    temperatures = random.uniform(100.0, 400.0, (4, len(network.names)))
    balance = prepare(network, None).switched(None)
    together = balance.heat(temperatures, times)
    alone = [balance.heat(row, float(t)) for row, t in zip(temperatures, times, strict=True)]
    np.testing.assert_allclose(together, alone, rtol=1e-12, atol=1e-9)
    np.testing.assert_allclose(
        heat(network, temperatures, times),
        [heat(network, row, float(t)) for row, t in zip(temperatures, times, strict=True)],
        rtol=1e-12,
        atol=1e-9,
    )
