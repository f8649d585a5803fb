"""Histories of large networks: the method with kept factors against independent integrators."""

from __future__ import annotations

import numpy as np
import pytest

from tests.solve.large import PERIOD, sheet
from tests.solving import solved_cyclic, solved_transient
from thermnet.network.network import Network, heat, jacobian
from thermnet.network.primitives import Floats
from thermnet.solve import balance as prepared
from thermnet.solve.cyclic import cyclic
from thermnet.solve.solution import Options
from thermnet.solve.steady import steady

FINE = Options(method="scipy-radau", accuracy=1e-3)


def start_of(network: Network) -> Floats:
    return np.asarray(steady(network).temperature[0])


@pytest.mark.parametrize("long_range", [0, 30])
def test_an_orbit_agrees_with_radau(long_range: int) -> None:
    network = sheet(15, long_range=long_range)
    start = start_of(network)
    ours = solved_transient(network, PERIOD, start=start)
    theirs = solved_transient(network, PERIOD, FINE, start=start)
    assert np.abs(ours.temperature - theirs.temperature).max() < 0.01
    assert np.abs(ours.extremes.highest - theirs.extremes.highest).max() < 0.01


@pytest.mark.parametrize("long_range", [0, 30])
def test_massless_nodes_of_a_large_network_stay_in_balance(long_range: int) -> None:
    network = sheet(15, long_range=long_range, massless=40)
    start = start_of(network)
    ours = solved_transient(network, PERIOD, start=start)
    theirs = solved_transient(network, PERIOD, FINE, start=start)
    assert np.abs(ours.temperature - theirs.temperature).max() < 0.01
    still = np.setdiff1d(network.free, np.flatnonzero(network.capacity))
    record = ours.record
    for row in range(0, len(record.time), 50):
        time, temperature = float(record.local_time[row]), record.temperature[row]
        slopes = np.abs(jacobian(network, temperature, time).diagonal()[still])
        assert (np.abs(heat(network, temperature, time)[still]) < 1e-4 * slopes).all()


def test_factors_are_kept_from_orbit_to_orbit() -> None:
    network = sheet(16, long_range=20)
    one = solved_transient(network, PERIOD, start=start_of(network))
    five = solved_transient(network, 5.0 * PERIOD, start=start_of(network))
    assert five.stats.factorizations <= 20
    assert five.stats.steps > 4.0 * one.stats.steps


def test_switchings_of_a_large_network_are_located() -> None:
    """Against the same history by BDF: every heater switches as often, and when it does."""
    network = sheet(15, thermostats=6)
    start = start_of(network)
    ours = solved_transient(network, PERIOD, Options(accuracy=1e-3), start=start)
    theirs = solved_transient(
        network, PERIOD, Options(method="scipy-bdf", accuracy=1e-3), start=start
    )
    assert ours.switchings.sum() > 4
    np.testing.assert_array_equal(ours.switchings, theirs.switchings)
    for k in range(6):
        instants = [s.record.time[1:][np.diff(s.record.duty[:, k]) != 0.0] for s in (ours, theirs)]
        np.testing.assert_allclose(instants[0], instants[1], atol=1.0)


def test_a_large_orbit_repeats_after_few_passes() -> None:
    network = sheet(16, long_range=20)
    solution = solved_cyclic(network)
    assert solution.stats.passes <= 6
    again = solved_transient(network, PERIOD, start=solution.record.temperature[-1])
    assert np.abs(again.temperature - solution.temperature).max() < 0.02


def test_the_large_method_and_the_small_one_agree() -> None:
    """Just above and just below the size at which the method changes, node by node."""
    small = cyclic(sheet(14), Options(compiled=False))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(prepared, "DENSE_UP_TO", 10)
        large = cyclic(sheet(14), Options(compiled=False))
    assert "order 4, dense" in small.stats.method
    assert "order 3, kept" in large.stats.method
    assert np.abs(small.temperature - large.temperature).max() < 0.02
