"""The three back ends solve one and the same system, that of the network's exact Jacobian."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.properties.strategies import networks
from tests.solve.large import sheet
from thermnet.network.build import build
from thermnet.network.network import Network, jacobian
from thermnet.network.parts import Part
from thermnet.network.primitives import Floats
from thermnet.solve import balance as prepared
from thermnet.solve import factors as kept_factors
from thermnet.solve import front as fronts
from thermnet.solve.balance import prepare
from thermnet.solve.factors import Factors
from thermnet.solve.front import Front, front
from thermnet.solve.steady import steady


def exact_matrix(network: Network, weight: Floats, temperature: Floats, time: float) -> Floats:
    """By the network's own Jacobian, free rows and columns."""
    free = network.free
    slopes = jacobian(network, temperature, time).toarray()[np.ix_(free, free)]
    return np.asarray(np.diag(weight[free]) - slopes)


def prepared_front(network: Network, *, dense_up_to: int) -> Front:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(prepared, "DENSE_UP_TO", dense_up_to)
        return front(prepare(network, None))


@pytest.mark.parametrize("dense_up_to", [0, 200])
@settings(max_examples=20)
@given(
    parts=networks(), seed=st.integers(0, 2**31), time=st.floats(0.0, 2000.0), flip=st.booleans()
)
def test_solutions_are_those_of_the_exact_jacobian(
    dense_up_to: int, parts: tuple[Part, ...], seed: int, time: float, flip: bool
) -> None:
    network = build(parts)
    random = np.random.default_rng(seed)
    n = len(network.names)
    temperature, weight = random.uniform(100.0, 400.0, n), random.uniform(0.5, 50.0, n)
    right = random.normal(size=n)
    right[network.boundary] = 0.0
    system = prepared_front(network, dense_up_to=dense_up_to)
    matrix = exact_matrix(network, weight, temperature, time)
    if np.linalg.cond(matrix) > 1e9:
        return
    factor = system.factor(weight, temperature, time)
    found, _ = system.solve(factor, weight, temperature, time, right, transposed=flip)
    expected = np.linalg.solve(matrix.T if flip else matrix, right[network.free])
    scale = np.abs(expected).max()
    np.testing.assert_allclose(found[network.free], expected, atol=1e-6 * scale)
    assert not found[network.boundary].any()


@settings(max_examples=20)
@given(parts=networks(), seed=st.integers(0, 2**31), time=st.floats(0.0, 2000.0))
def test_the_diagonal_is_that_of_the_exact_jacobian(
    parts: tuple[Part, ...], seed: int, time: float
) -> None:
    network = build(parts)
    temperature = np.random.default_rng(seed).uniform(100.0, 400.0, len(network.names))
    weight = np.arange(1.0, len(temperature) + 1.0)
    expected = exact_matrix(network, weight, temperature, time).diagonal()
    for dense_up_to in (0, 200):
        system = prepared_front(network, dense_up_to=dense_up_to)
        found = system.diagonal_values(weight, temperature, time)[network.free]
        np.testing.assert_allclose(found, expected, rtol=1e-9, atol=1e-9 * np.abs(expected).max())


def test_a_mesh_is_factored_whole_and_long_range_radiation_is_not() -> None:
    assert front(prepare(sheet(8), None)).kind == "dense"
    assert front(prepare(sheet(16), None)).kind == "sparse"
    cavity = front(prepare(sheet(16, long_range=40), None))
    assert cavity.kind == "preconditioned"
    mesh = front(prepare(sheet(16), None))
    assert _kept(cavity) == _kept(mesh)  # every long-range link is a weak one


def test_a_strong_radiative_link_stays_in_the_factors() -> None:
    """Two sheets of a blanket that see little but each other: without it GMRES would crawl."""
    network = sheet(16, long_range=40)
    links = network.links
    strength = links.strength.copy()
    strength[-1] *= 1e4
    stronger = replace(links, strength=strength)
    strong = replace(network, links=stronger, pattern=replace(network.pattern, links=stronger))
    before, after = (_kept(front(prepare(which, None))) for which in (network, strong))
    assert after == before + 2


def test_gmres_takes_a_handful_of_iterations_in_a_cavity() -> None:
    solution = steady(sheet(20, long_range=30))
    assert solution.failure == ""
    assert solution.stats.iterations <= 10 * (solution.stats.steps + 1)
    assert solution.stats.factorizations <= 3


def test_where_gmres_does_not_converge_the_whole_matrix_is_factored(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    network = sheet(16, long_range=40)
    monkeypatch.setattr(fronts, "ITERATIONS", 1)
    monkeypatch.setattr(fronts, "CYCLES", 1)
    system = front(prepare(network, None))
    temperature = np.full(len(network.names), 290.0)
    weight, right = np.zeros(len(temperature)), np.ones(len(temperature))
    right[network.boundary] = 0.0
    found, _ = system.solve(
        system.factor(weight, temperature, 0.0), weight, temperature, 0.0, right
    )
    matrix = exact_matrix(network, weight, temperature, 0.0)
    np.testing.assert_allclose(
        found[network.free], np.linalg.solve(matrix, right[network.free]), rtol=1e-9
    )


def test_kept_factors_are_bounded_by_their_bytes(monkeypatch: pytest.MonkeyPatch) -> None:
    network = sheet(16)
    system, factors = front(prepare(network, None)), Factors()
    temperature = np.full(len(network.names), 290.0)

    def get(width: float) -> None:
        factors.get(system, width, network.capacity / width, temperature, 0.0)

    get(1.0)
    one = factors._bytes()
    monkeypatch.setattr(kept_factors, "MOST_BYTES", int(3.5 * one))
    for width in (2.0, 4.0, 1.0, 8.0):
        get(width)
    assert factors.made == 4
    assert list(factors.kept) == [4.0, 1.0, 8.0]  # the least recently used one went


def test_a_kept_factor_is_made_anew_when_the_radiation_has_changed() -> None:
    network = sheet(16)
    system, factors = front(prepare(network, None)), Factors()
    weight = network.capacity / 64.0
    cold = np.full(len(network.names), 250.0)
    factors.get(system, 64.0, weight, cold, 0.0)
    factors.get(system, 64.0, weight, cold + 1.0, 0.0)
    assert factors.made == 1
    factors.get(system, 64.0, weight, 4.0 * cold, 0.0)
    assert factors.made == 2


def _kept(system: Front) -> int:
    assert system.kept is not None
    return len(system.kept.indices)
