"""The network as a graph, on request: for diagrams, routes and queries, never for solving."""

from __future__ import annotations

import networkx as nx
import numpy as np

from thermnet.errors import InputError, Problem
from thermnet.network.checks import conductances
from thermnet.network.network import Network

MOST_LINKS = 50_000
"""Links above which a graph is refused: an object for each takes a hundred times the memory and
the time of the arrays (a million links: about half a gigabyte and ten seconds)."""


def graph(network: Network) -> nx.MultiGraph[str]:
    """One graph node per network node, one edge per link.

    Nodes carry `capacity` [J/K], `boundary` and `massless`; edges `conductance` [W/K] near
    280 K, `law` ("conduction", "radiation", "flow" or "other") and `origin`. Raises InputError
    above `MOST_LINKS` links.
    """
    links, carried = network.links, network.flow_links
    count = len(links.a) + len(carried.a)
    if count > MOST_LINKS:
        message = (
            f"{count} links are too many for a graph or a diagram, which take at most "
            f"{MOST_LINKS}: look at a smaller model of the part in question; solving, `check` and "
            "thermnet.network.checks.islands need no graph"
        )
        raise InputError([Problem(message=message)])
    result: nx.MultiGraph[str] = nx.MultiGraph()
    imposed = set(network.boundary.tolist())
    stores = {node for node, _ in network.content}
    for k, name in enumerate(network.names):
        held = k in imposed
        massless = not held and network.capacity[k] == 0.0 and k not in stores
        result.add_node(name, capacity=float(network.capacity[k]), boundary=held, massless=massless)
    names, strength = network.names, conductances(network)
    for potential, begin, end in zip(
        links.potentials, links.groups[:-1], links.groups[1:], strict=True
    ):
        for k in range(begin, end):
            result.add_edge(
                names[links.a[k]],
                names[links.b[k]],
                conductance=float(strength[k]),
                law=potential.law,
                origin=network.origins[links.origin[k]],
            )
    for k in range(len(carried.a)):
        result.add_edge(
            names[carried.a[k]],
            names[carried.b[k]],
            conductance=float(carried.rate[k]),
            law="flow",
            origin=network.origins[carried.origin[k]],
        )
    return result


def route(network: Network, name: str) -> tuple[str, ...]:
    """The way of least resistance from a node to the nearest boundary node, by names.

    Resistances [K/W] are those of the links near 280 K. Raises KeyError for an unknown node,
    ValueError when there is no way and InputError as `graph` does.
    """
    network.index(name)
    whole = graph(network)
    for _, _, data in whole.edges(data=True):
        strength = data["conductance"]
        data["resistance"] = 1.0 / strength if strength > 0.0 else np.inf
    best: tuple[float, tuple[str, ...]] = (np.inf, ())
    lengths = nx.single_source_dijkstra_path_length(whole, name, weight="resistance")
    paths = nx.single_source_dijkstra_path(whole, name, weight="resistance")
    for k in network.boundary:
        end = network.names[k]
        if lengths.get(end, np.inf) < best[0]:
            best = (lengths[end], tuple(paths[end]))
    if not best[1]:
        raise ValueError(f"no route from '{name}' to a boundary node")
    return best[1]
