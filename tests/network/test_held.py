"""A node that is imposed, and the heat that keeps it there: every kind of part, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tests.solving import solved_steady
from thermnet.network.build import build
from thermnet.network.held import heat_to_hold, held
from thermnet.network.network import Network
from thermnet.network.parts import (
    BoundaryPart,
    FlowLinkPart,
    HeatPart,
    LinkPart,
    NodePart,
    ThermostatPart,
)
from thermnet.physics.curves import Curve
from thermnet.solve.solution import Solution

MELTING = Curve(x=np.array([200.0, 300.0]), y=np.array([0.0, 5e4]), extend=True)

PARTS = (
    NodePart(name="far", capacity=10.0),
    NodePart(name="tank", content=MELTING),
    BoundaryPart(name="cold", temperature=250.0),
    BoundaryPart(name="inlet", temperature=310.0),
    LinkPart(a="tank", b="far", strength=2.0),
    LinkPart(a="far", b="cold", strength=2.0),
    FlowLinkPart(a="inlet", b="tank", rate=0.5),
    FlowLinkPart(a="tank", b="inlet", rate=0.5),
    HeatPart(node="tank", amplitude=3.0),
    ThermostatPart(node="tank", sensor="tank", power=8.0, on=280.0, off=300.0),
)


def solved() -> tuple[Network, Solution]:
    network = build(PARTS)
    imposed = held(network, network.index("tank"), 290.0)
    return imposed, solved_steady(imposed)


def test_the_rest_comes_into_balance_around_the_imposed_node() -> None:
    """Half way between 290 and 250 K over two equal links (derived)."""
    network, solution = solved()
    assert solution.mean[network.index("tank")] == 290.0
    assert solution.mean[network.index("far")] == pytest.approx(270.0)


def test_the_heat_to_hold_is_what_leaves_less_what_comes() -> None:
    """By hand: 2 (290 - 270) out, 0.5 (310 - 290), 3 and half of 8 W in."""
    network, solution = solved()
    record = solution.record
    heat = heat_to_hold(
        network, network.index("tank"), record.temperature, record.local_time, record.duty
    )
    assert heat.tolist() == pytest.approx([40.0 - 10.0 - 3.0 - 4.0])


def test_what_is_imposed_already_cannot_be_held() -> None:
    network = build(PARTS)
    with pytest.raises(ValueError, match="'cold' is imposed already"):
        held(network, network.index("cold"), 290.0)


def test_the_network_itself_stays_as_it_was() -> None:
    network = build(PARTS)
    held(network, network.index("tank"), 290.0)
    assert network.index("tank") not in network.boundary
    assert len(network.content) == 1
