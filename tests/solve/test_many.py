"""Many cases at once give what each alone does, compiled or by arrays."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from tests.properties.strategies import networks
from thermnet.network.build import build
from thermnet.network.network import Network
from thermnet.network.parts import (
    CONDUCTION,
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
from thermnet.solve.many import cyclic_many, steady_many
from thermnet.solve.solution import Options
from thermnet.solve.steady import steady
from thermnet.solve.variants import Variants, variant

ARRAYS = Options(compiled=False)
PERIOD = 5400.0


def satellite() -> Network:
    """A small invented one: two panels in the sun by turns, a heated box, a foil."""
    sun = History(
        time=np.array([0.0, 2700.0, 2700.0, PERIOD]), value=np.array([1.0, 1.0, 0.0, 0.0])
    )
    return build(
        [
            NodePart(name="front", capacity=900.0),
            NodePart(name="back", capacity=700.0),
            NodePart(name="box", capacity=4000.0),
            NodePart(name="foil"),
            BoundaryPart(name="space", temperature=3.0),
            LinkPart(a="front", b="space", strength=2e-8, potential=RADIATION),
            LinkPart(a="back", b="space", strength=1.5e-8, potential=RADIATION),
            LinkPart(a="front", b="back", strength=0.8, potential=CONDUCTION),
            LinkPart(a="box", b="back", strength=0.3, potential=CONDUCTION),
            LinkPart(a="box", b="foil", strength=1e-9, potential=RADIATION),
            LinkPart(a="foil", b="space", strength=6e-9, potential=RADIATION),
            FlowLinkPart(a="box", b="front", rate=0.2),
            FlowLinkPart(a="front", b="box", rate=0.2),
            HeatPart(node="front", amplitude=240.0, history=sun),
            HeatPart(node="box", amplitude=12.0),
            ThermostatPart(node="box", sensor="box", power=30.0, on=278.0, off=284.0),
        ],
        period=PERIOD,
    )


def variants(network: Network, count: int) -> Variants:
    random = np.random.default_rng(4)
    return Variants(
        strength=network.links.strength * random.uniform(0.7, 1.3, (count, 6)),
        amplitude=network.heats.amplitude * random.uniform(0.8, 1.2, (count, 2)),
        capacity=network.capacity * random.uniform(0.5, 2.0, (count, 1)),
        boundary=random.uniform(3.0, 100.0, (count, 1)),
        power=random.uniform(5.0, 60.0, (count, 1)),
    )


@pytest.mark.parametrize("compiled", [False, True])
def test_steady_states_are_those_of_each_case_alone(compiled: bool) -> None:
    if compiled:
        pytest.importorskip("numba")
    network = satellite()
    many = variants(network, 40)
    found = steady_many(network, many, Options(compiled=compiled))
    assert not found.failed.any()
    for case in range(0, 40, 5):
        alone = steady(variant(network, many, case), ARRAYS)
        assert np.abs(found.temperature[case] - alone.temperature[0]).max() < 1e-5


@settings(max_examples=15, deadline=None)
@given(parts=networks())
@pytest.mark.parametrize("compiled", [False, True])
def test_drawn_networks_have_the_steady_states_of_each_alone(
    compiled: bool, parts: tuple[Part, ...]
) -> None:
    if compiled:
        pytest.importorskip("numba")
    network = build(parts)
    scale = np.linspace(0.8, 1.2, 3)[:, None]
    many = Variants(strength=network.links.strength * scale)
    found = steady_many(network, many, Options(compiled=compiled))
    assert not found.failed.any()
    for case in range(3):
        alone = steady(variant(network, many, case), ARRAYS)
        assert np.abs(found.temperature[case] - alone.temperature[0]).max() < 1e-4


def test_compiled_orbits_are_those_of_the_array_path() -> None:
    pytest.importorskip("numba")
    network = satellite()
    many = variants(network, 4)
    found, expected = cyclic_many(network, many), cyclic_many(network, many, ARRAYS)
    assert not found.failed.any()
    assert not expected.failed.any()
    for name in ("temperature", "mean", "lowest", "highest"):
        difference = getattr(found, name) - getattr(expected, name)
        assert np.abs(difference).max() < Options().accuracy


def test_a_case_without_a_way_out_for_its_heat_is_marked() -> None:
    network = satellite()
    strength = np.tile(network.links.strength, (2, 1))
    strength[1, network.links.b == network.index("space")] = 0.0
    found = steady_many(network, Variants(strength=strength), ARRAYS)
    assert found.failed.tolist() == [False, True]


def test_rows_and_columns_that_do_not_fit_are_refused() -> None:
    network = satellite()
    with pytest.raises(ValueError, match="strength needs 6 columns"):
        steady_many(network, Variants(strength=np.ones((3, 5))))
    with pytest.raises(ValueError, match="as many rows"):
        steady_many(network, Variants(strength=np.ones((3, 6)), power=np.ones((2, 1))))
    with pytest.raises(ValueError, match="as many rows"):
        steady_many(network, Variants())


def test_a_repeating_orbit_needs_a_period() -> None:
    network = satellite()
    endless = replace(network, histories=replace(network.histories, period=float("inf")))
    with pytest.raises(ValueError, match="needs a period"):
        cyclic_many(endless, Variants(power=np.ones((1, 1))))
