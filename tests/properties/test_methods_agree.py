"""The method of large networks, forced on small ones, finds what the usual method finds."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.full import FULL
from tests.properties.strategies import networks
from tests.solving import closed
from thermnet.network.build import build
from thermnet.network.parts import Part
from thermnet.solve import balance as prepared
from thermnet.solve.solution import Options
from thermnet.solve.steady import steady
from thermnet.solve.transient import transient

SPAN = 2000.0


@settings(max_examples=8 if FULL else 2)
@given(parts=networks(), seed=st.integers(0, 2**31))
def test_histories_by_both_methods_agree(parts: tuple[Part, ...], seed: int) -> None:
    network = build(parts)
    start = np.random.default_rng(seed).uniform(230.0, 330.0, len(network.names))
    fine = Options(accuracy=1e-3, compiled=False)
    usual = transient(network, SPAN, fine, start=start)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(prepared, "DENSE_UP_TO", 0)
        large = closed(network, transient(network, SPAN, fine, start=start))
    assert "order 3" in large.stats.method
    storing = [*np.flatnonzero(network.capacity), *(node for node, _ in network.content)]
    assert np.abs(usual.temperature - large.temperature)[:, storing].max(initial=0.0) < 0.02


@settings(max_examples=20)
@given(parts=networks())
def test_steady_states_by_dense_and_by_sparse_factors_agree(parts: tuple[Part, ...]) -> None:
    network = build(parts)
    dense = closed(network, steady(network))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(prepared, "DENSE_UP_TO", 0)
        sparse = closed(network, steady(network))
    assert sparse.stats.method != dense.stats.method
    np.testing.assert_allclose(sparse.temperature, dense.temperature, atol=1e-3)
