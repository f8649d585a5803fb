"""The graph view: one edge per link, routes of least resistance."""

from __future__ import annotations

import pytest

from thermnet.errors import InputError
from thermnet.network import graph as graphs
from thermnet.network.build import build
from thermnet.network.graph import graph, route
from thermnet.network.parts import RADIATION, BoundaryPart, FlowLinkPart, LinkPart, NodePart, Part
from thermnet.network.primitives import Potential
from thermnet.physics.constants import STEFAN_BOLTZMANN

PARTS: tuple[Part, ...] = (
    NodePart(name="box", capacity=900.0),
    NodePart(name="deck", capacity=2000.0),
    NodePart(name="face"),
    BoundaryPart(name="space", temperature=3.0),
    BoundaryPart(name="bus", temperature=290.0),
    LinkPart(a="box", b="deck", strength=2.0, origin="links.mount"),
    LinkPart(a="deck", b="bus", strength=0.5, origin="links.legs"),
    LinkPart(a="box", b="face", strength=1e-9, potential=RADIATION, origin="blankets.box"),
    LinkPart(a="face", b="space", strength=1e-8, potential=Potential(exponent=4.67)),
    FlowLinkPart(a="deck", b="box", rate=3.0, origin="loop"),
)


def test_every_link_is_an_edge_with_its_law_and_origin() -> None:
    view = graph(build(PARTS))
    edges = {
        (frozenset({a, b}), data["law"], data["origin"]) for a, b, data in view.edges(data=True)
    }
    assert edges == {
        (frozenset({"box", "deck"}), "conduction", "links.mount"),
        (frozenset({"deck", "bus"}), "conduction", "links.legs"),
        (frozenset({"box", "face"}), "radiation", "blankets.box"),
        (frozenset({"face", "space"}), "other", ""),
        (frozenset({"deck", "box"}), "flow", "loop"),
    }


def test_nodes_say_what_they_are() -> None:
    nodes: dict[str, dict[str, object]] = dict(graph(build(PARTS)).nodes(data=True))
    assert nodes["box"] == {"capacity": 900.0, "boundary": False, "massless": False}
    assert nodes["face"]["massless"]
    assert nodes["space"]["boundary"]
    assert not nodes["space"]["massless"]


def test_radiation_is_compared_as_a_conductance_near_280_kelvin() -> None:
    """4 sigma 280^3 = 4.979 W/m2/K; derived: closed form."""
    parts: list[Part] = [
        NodePart(name="plate", capacity=1.0),
        BoundaryPart(name="space", temperature=3.0),
        LinkPart(a="plate", b="space", strength=STEFAN_BOLTZMANN, potential=RADIATION),
    ]
    (edge,) = graph(build(parts)).edges(data=True)
    assert edge[2]["conductance"] == pytest.approx(4.979, abs=5e-4)


def test_a_route_takes_the_way_of_least_resistance() -> None:
    assert route(build(PARTS), "box") == ("box", "deck", "bus")
    assert route(build(PARTS), "space") == ("space",)


def test_a_route_of_an_unknown_node_or_to_nowhere_is_refused() -> None:
    network = build([*PARTS, NodePart(name="spare", capacity=1.0)])
    with pytest.raises(KeyError, match="moon"):
        route(network, "moon")
    with pytest.raises(ValueError, match="no route from 'spare'"):
        route(network, "spare")


def test_too_many_links_are_refused_as_a_graph(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(graphs, "MOST_LINKS", 3)
    with pytest.raises(InputError, match=r"too many .* at most 3: look at a smaller model"):
        graph(build(PARTS))
