from __future__ import annotations

import networkx as nx
import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from tests.figures.pages import assert_legible, by_name, marks, texts
from tests.full import first_of
from thermnet.figures.diagram import network_figure
from thermnet.figures.diagram_layout import arrange, overlaps
from thermnet.figures.style import Stamp

ORIGIN = Stamp(model="Heron microsatellite", case="", hash="3f2a9c81d07b", version="0.1.0")


def spacecraft(count: int) -> nx.MultiGraph[str]:
    """Six panels that radiate to space, and units on them, some with a blanket."""
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    graph.add_node("space", boundary=True)
    graph.add_node("launch adapter", boundary=True)
    panels = [f"panel {side}" for side in ("+x", "-x", "+y", "-y", "+z", "-z")]
    for k, name in enumerate(panels):
        graph.add_node(name)
        graph.add_edge(name, "space", law="radiation")
        graph.add_edge(name, panels[(k + 1) % 6], law="conduction")
    graph.add_edge("panel -z", "launch adapter", law="conduction")
    for k in range(count - len(graph)):
        name = f"unit number {k} of the payload" if k % 4 else f"unit {k} blanket"
        graph.add_node(name, massless=k % 4 == 0)
        graph.add_edge(name, panels[k % 6], law="conduction")
        if k % 2:
            graph.add_edge(name, panels[k % 6], law="radiation")
        if k % 4 == 0:
            graph.add_edge(name, "space", law="radiation")
    return graph


def groups(graph: nx.MultiGraph[str]) -> dict[str, str]:
    """The panels are one group, the units three."""
    return {
        name: "structure" if name.startswith("panel") else f"group {k % 3}"
        for k, name in enumerate(graph)
    }


def draw(graph: nx.MultiGraph[str]) -> Figure:
    return network_figure(graph, ORIGIN, title="Network", groups=groups(graph))


@pytest.mark.parametrize("count", first_of([9, 45, 150], keep=2))
def test_no_text_overlaps_and_none_is_too_small(count: int) -> None:
    assert_legible(draw(spacecraft(count)))


def test_every_node_and_every_link_is_drawn() -> None:
    graph = spacecraft(45)
    figure = draw(graph)
    named = [text for text in texts(figure) if str(text.get_gid()).startswith("name ")]
    lines = [line for line in figure.findobj(Line2D) if " link " in str(line.get_gid() or "")]
    # Space has many links: it stands at the end of each, and once in the legend.
    assert len(named) == 44
    assert len(lines) == graph.number_of_edges()
    assert f"link to space: {graph.degree('space')}" in by_name(figure, "legend")


def test_conduction_is_solid_radiation_dashed_and_boundaries_square() -> None:
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    graph.add_node("room", boundary=True)
    graph.add_edge("plate", "box", law="conduction")
    graph.add_edge("box", "room", law="radiation")
    figure = draw(graph)
    (solid,) = marks(figure, "conduction link box – plate")
    (dashed,) = marks(figure, "radiation link box – room")
    (boundary,), (node,) = marks(figure, "node room"), marks(figure, "node box")
    assert isinstance(solid, Line2D)
    assert isinstance(dashed, Line2D)
    assert isinstance(boundary, Line2D)
    assert isinstance(node, Line2D)
    assert solid.get_linestyle() == "-"
    assert dashed.get_linestyle() == "--"
    assert boundary.get_marker() == "s"
    assert node.get_marker() != "s"


def test_groups_are_told_apart_without_colour() -> None:
    figure = draw(spacecraft(20))
    nodes = [
        line for line in figure.findobj(Line2D) if str(line.get_gid() or "").startswith("node ")
    ]
    looks = {(line.get_marker(), line.get_markerfacecolor()) for line in nodes}
    greys = {float(str(fill)) for _, fill in looks}
    assert len(looks) == 5  # four groups and the boundary
    assert all(0.0 <= grey <= 1.0 for grey in greys)


def test_layout_is_the_same_every_time() -> None:
    one = draw(spacecraft(20))
    other = draw(spacecraft(20))
    places = [[text.get_position() for text in texts(figure)] for figure in (one, other)]
    assert places[0] == places[1]


def test_boxes_of_islands_and_hubs_do_not_overlap() -> None:
    pairs = np.array([(0, k) for k in range(1, 20)] + [(20, 21)], dtype=np.int32)
    boxes = np.tile([25.0, 9.0], (24, 1))
    middles, width, height = arrange(pairs, boxes, 164.0, 195.0)
    assert not overlaps(middles, boxes).any()
    assert (middles - boxes / 2.0 >= -1e-9).all()
    assert (middles + boxes / 2.0 <= np.array([width, height]) + 1e-9).all()


def test_single_node_is_drawn() -> None:
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    graph.add_node("plate")
    assert_legible(draw(graph))


def test_more_than_150_nodes_are_refused_with_advice() -> None:
    with pytest.raises(ValueError, match="one group at a time"):
        draw(spacecraft(151))
