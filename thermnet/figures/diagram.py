"""The network as a diagram: conduction solid, radiation dashed, boundaries square."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke

from thermnet.figures import style
from thermnet.figures.diagram_layout import arrange

if TYPE_CHECKING:
    from networkx import MultiGraph

MOST_NODES = 150
MOST_HEIGHT = 195.0
"""Of the drawing on a report page [mm]; larger networks take a larger sheet."""
HUB = 6
"""A boundary node with more links than this is drawn as a small square at each of its links."""
NAME_ROOM = 30.0
"""Width [mm] of a name; a longer one takes two lines."""
EDGE = 3.0
GLYPH = 3.0
"""Height [mm] that the marker of a node takes above its name."""

LINES: dict[str, Any] = {
    "conduction": "solid",
    "radiation": (0, (3.5, 1.8)),
    "flow": (0, (5, 1.4, 1, 1.4)),
    "other": (0, (1, 1.4)),
}
EDGE_WIDTH, LIGHT_LINE = 0.8, 0.7
SHAPES = ("o", "D", "^", "p", "v")
FILLS = (style.WHITE, style.MIDDLE, style.BLACK, style.LIGHT)
BOUNDARY_FILLS = (style.WHITE, style.DARK, style.LIGHT)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """Marker of each node and, in order, the legend's entries (words, shape, fill)."""

    marker: dict[str, tuple[str, str]]
    legend: tuple[tuple[str, str, str], ...]


def network_figure(
    graph: MultiGraph[str],
    origin: style.Stamp,
    *,
    title: str,
    groups: Mapping[str, str] | None = None,
) -> Figure:
    """Draw a network of up to `MOST_NODES` nodes, as `thermnet.network.graph.graph` gives it.

    Of nodes it reads `boundary` and `massless`, of edges `law`: "conduction", "radiation", "flow"
    or any other word; all may be missing. `groups` maps names of nodes to their groups. Raises
    ValueError for more nodes, or none.
    """
    names = sorted(str(name) for name in graph.nodes)
    if not names:
        raise ValueError("nothing to draw: the network has no nodes")
    if len(names) > MOST_NODES:
        raise ValueError(
            f"cannot draw {len(names)} nodes legibly, at most {MOST_NODES}: draw one group at a "
            "time, or a subgraph around the nodes of interest"
        )
    hubs = [
        name for name in names if graph.nodes[name].get("boundary") and graph.degree(name) > HUB
    ]
    shown = [name for name in names if name not in hubs]
    labels = {name: style.wrap(name, NAME_ROOM, style.SMALLEST) for name in shown}
    boxes = np.array([_box(labels[name]) for name in shown])
    width = style.PAGE_WIDTH - 2.0 * EDGE
    index = {name: k for k, name in enumerate(shown)}
    pairs = [(index[a], index[b]) for a, b in graph.edges() if a in index and b in index]
    links = np.array(pairs, dtype=np.int32).reshape(-1, 2)
    middles, width, height = arrange(links, boxes, width, MOST_HEIGHT)
    looks = _looks(graph, names, groups or {})
    rows = _legend_rows(looks, graph, width)
    lines = style.wrap(title, width, style.TITLE, bold=True)
    top = 2.0 + len(lines) * style.line_height(style.TITLE) + 3.0
    with style.look():
        figure, sheet = style.page(width + 2.0 * EDGE, top + height + 5.0 + 5.0 * len(rows) + 6.0)
        for number, line in enumerate(lines):
            y = 2.0 + (number + 0.5) * style.line_height(style.TITLE)
            style.write(sheet, EDGE, y, line, size=style.TITLE, bold=True, name="title")
        # The marker stands in the upper part of its box, the name in the lower.
        places = {
            name: (EDGE + middles[k, 0], top + middles[k, 1] - boxes[k, 1] / 2.0 + GLYPH / 2 + 0.8)
            for name, k in index.items()
        }
        _draw_links(sheet, graph, places)
        _draw_hub_links(sheet, graph, hubs, places, looks)
        for name in shown:
            _draw_node(sheet, graph, name, labels[name], places[name], looks)
        _draw_legend(sheet, rows, top + height + 5.0)
        style.stamp(figure, origin)
    return figure


def _box(lines: Sequence[str]) -> tuple[float, float]:
    """Width and height [mm] of a marker with its name under it, and some air."""
    widest = max(style.text_width(line, style.SMALLEST) for line in lines)
    height = GLYPH + len(lines) * style.line_height(style.SMALLEST) + 2.2
    return max(widest, 3.0 * GLYPH) + 3.0, height


def _looks(graph: MultiGraph[str], names: Sequence[str], belongs: Mapping[str, str]) -> _Look:
    """A shape and grey for every group, a square for boundary nodes, one of its own for a hub."""
    inner = [name for name in names if not graph.nodes[name].get("boundary")]
    groups = sorted({belongs.get(name, "") for name in inner})
    kinds = [(shape, fill) for shape in SHAPES for fill in FILLS]
    by_group = {group: kinds[min(k, len(kinds) - 1)] for k, group in enumerate(groups)}
    marker = {}
    legend = [(group or "no group", *by_group[group]) for group in groups[: len(kinds) - 1]]
    if len(groups) >= len(kinds):
        legend.append(("other groups", *kinds[-1]))
    if groups == [""]:
        legend = [("node", *by_group[""])]
    hubs = 0
    for name in names:
        node = graph.nodes[name]
        if not node.get("boundary"):
            marker[name] = by_group[belongs.get(name, "")]
        elif graph.degree(name) > HUB:
            marker[name] = ("s", BOUNDARY_FILLS[min(hubs, len(BOUNDARY_FILLS) - 1)])
            legend.append((f"link to {name}: {graph.degree(name)}", *marker[name]))
            hubs += 1
        else:
            marker[name] = ("s", style.PALE)
            legend += (
                [] if ("boundary", "s", style.PALE) in legend else [("boundary", "s", style.PALE)]
            )
    return _Look(marker=marker, legend=tuple(legend))


def _law(data: dict[str, Any]) -> str:
    law = str(data.get("law", "other"))
    return law if law in LINES else "other"


def _draw_links(
    sheet: Axes, graph: MultiGraph[str], places: dict[str, tuple[float, float]]
) -> None:
    """Straight lines; several links between the same two nodes are bowed apart."""
    between: dict[tuple[str, str], list[str]] = defaultdict(list)
    for a, b, data in graph.edges(data=True):
        if a in places and b in places:
            between[(a, b) if a <= b else (b, a)].append(_law(data))
    share = np.linspace(0.0, 1.0, 21)
    for (a, b), kinds in sorted(between.items()):
        start, end = np.array(places[a]), np.array(places[b])
        along = end - start
        across = np.array([-along[1], along[0]]) / max(float(np.hypot(*along)), 1e-9)
        for number, kind in enumerate(sorted(kinds)):
            bow = 3.0 * (number - (len(kinds) - 1) / 2.0)
            points = start + share[:, None] * along
            points = points + (4.0 * bow * share * (1.0 - share))[:, None] * across
            style.stroke(
                sheet,
                points[:, 0].tolist(),
                points[:, 1].tolist(),
                style.LINE if kind == "conduction" else LIGHT_LINE,
                color=style.BLACK if kind == "conduction" else style.DARK,
                dashes=LINES[kind],
                name=f"{kind} link {a} – {b}",
            )


def _draw_hub_links(
    sheet: Axes,
    graph: MultiGraph[str],
    hubs: Sequence[str],
    places: dict[str, tuple[float, float]],
    looks: _Look,
) -> None:
    """A stub from the node, with the square of the boundary at its end."""
    taken: dict[str, int] = defaultdict(int)
    for hub in hubs:
        for _, other, data in sorted(graph.edges(hub, data=True), key=lambda edge: str(edge[1])):
            if other not in places:
                continue
            x, y = places[other]
            side = 1.0 if taken[other] % 2 == 0 else -1.0
            far = 4.2 + 2.2 * (taken[other] // 2)
            taken[other] += 1
            kind = _law(data)
            style.stroke(
                sheet,
                (x, x + side * far),
                (y, y),
                LIGHT_LINE,
                color=style.DARK,
                dashes=LINES[kind],
                zorder=2.5,
                name=f"{kind} link {other} – {hub}",
            )
            shape, fill = looks.marker[hub]
            style.mark(sheet, x + side * far, y, shape, 3.2, fill=fill, edge=EDGE_WIDTH, zorder=5.0)


def _draw_node(
    sheet: Axes,
    graph: MultiGraph[str],
    name: str,
    lines: Sequence[str],
    place: tuple[float, float],
    looks: _Look,
) -> None:
    shape, fill = looks.marker[name]
    size = 4.0 if graph.nodes[name].get("massless") else 7.0
    style.mark(
        sheet, *place, shape, size, fill=fill, edge=EDGE_WIDTH, zorder=5.0, name=f"node {name}"
    )
    below = place[1] + GLYPH / 2.0 + len(lines) * style.line_height(style.SMALLEST) / 2.0 + 0.2
    text = style.write(
        sheet,
        place[0],
        below,
        "\n".join(lines),
        size=style.SMALLEST,
        align="center",
        name=f"name {name}",
    )
    text.set_zorder(7.0)
    text.set_path_effects([withStroke(linewidth=2.0, foreground=style.WHITE)])


def _legend_rows(
    looks: _Look, graph: MultiGraph[str], width: float
) -> list[list[tuple[str, str, str, float]]]:
    """Entries (words, shape or kind of line, fill, size) flowing over the width of the page."""
    found = {_law(data) for _, _, data in graph.edges(data=True)}
    entries = [(law, law, "", 0.0) for law in LINES if law in found]
    entries += [(words, shape, fill, 7.0) for words, shape, fill in looks.legend]
    if any(data.get("massless") for _, data in graph.nodes(data=True)):
        entries.append(("small: massless", "o", style.WHITE, 4.0))
    rows: list[list[tuple[str, str, str, float]]] = [[]]
    used = 0.0
    for entry in entries:
        wide = _entry_width(entry[0])
        if rows[-1] and used + wide > width:
            rows.append([])
            used = 0.0
        rows[-1].append(entry)
        used += wide
    return rows


def _entry_width(words: str) -> float:
    shown = style.shorten(words, 60.0, style.SMALLEST)
    return 10.0 + style.text_width(shown, style.SMALLEST) + 4.0


def _draw_legend(
    sheet: Axes, rows: Sequence[Sequence[tuple[str, str, str, float]]], top: float
) -> None:
    for number, row in enumerate(rows):
        x, y = EDGE, top + 5.0 * number + 1.0
        for words, shape, fill, size in row:
            if shape in LINES:
                wide = style.LINE if shape == "conduction" else LIGHT_LINE
                style.stroke(sheet, (x, x + 8.0), (y, y), wide, dashes=LINES[shape])
            else:
                style.mark(sheet, x + 6.0, y, shape, size, fill=fill, edge=EDGE_WIDTH)
            shown = style.shorten(words, 60.0, style.SMALLEST)
            style.write(sheet, x + 9.2, y, shown, size=style.SMALLEST, name="legend")
            x += _entry_width(words)
