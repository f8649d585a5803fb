"""Why no steady state was found, in a sentence for the reader."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csc_array
from scipy.sparse.csgraph import connected_components

from thermnet.network.network import Network
from thermnet.network.primitives import Floats, Indices
from thermnet.solve.control import COLDEST, HOTTEST


def _cut_off(network: Network) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Which free nodes no link joins to a boundary node, however indirectly."""
    links, carried, n = network.links, network.flow_links, len(network.names)
    factor = np.append(network.histories.at(0.0), 1.0)
    strength = links.strength * factor[links.history], carried.rate * factor[carried.history]
    weight = np.concatenate(strength)
    ends = np.concatenate([links.a, carried.a]), np.concatenate([links.b, carried.b])
    graph = csc_array((weight, ends), shape=(n, n))
    graph.eliminate_zeros()
    _, island = connected_components(graph, directed=False)
    return np.asarray(~np.isin(island[network.free], island[network.boundary]))


def reason(network: Network, temperature: Floats, residual: Floats) -> str:
    """A sentence on a steady state not found: `residual` f8[free] [W] is left at f8[n] [K]."""
    cut_off = _cut_off(network)
    order = np.lexsort((-np.abs(residual), ~cut_off))[:3]
    free = network.free
    worst = ", ".join(
        f"'{network.names[free[k]]}' ({residual[k]:+.3g} W at {temperature[free[k]]:.1f} K)"
        for k in order
    )
    if cut_off.any():
        cause = (
            f"no link joins {_named(network, free[cut_off])} to a boundary node, so that nothing "
            "fixes its temperature"
        )
    elif (temperature[free] >= HOTTEST).any():
        cause = "heat has no sufficient way out of the hottest nodes: look for a missing link"
    elif (temperature[free] <= COLDEST).any():
        cause = "more heat is taken out than is there: look for negative heat or a curve at zero"
    elif network.thermostats.node.size or (network.links.curve >= 0).any():
        cause = "a thermostat band or a curve may be too steep: widen the band or smooth the curve"
    else:
        cause = "strengths of the links at these nodes may differ too much: see `check`"
    return f"no steady state found; worst balance at {worst}; likely cause: {cause}"


def _named(network: Network, nodes: Indices, most: int = 3) -> str:
    names = ", ".join(f"'{network.names[k]}'" for k in nodes[:most])
    return names if len(nodes) <= most else f"{names} and {len(nodes) - most} more"
