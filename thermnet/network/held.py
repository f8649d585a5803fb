"""A network in which the temperature of one node is imposed, and the heat that it takes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from thermnet.network.network import Network, heat
from thermnet.network.primitives import CONSTANT, Floats, Indices, read_only
from thermnet.network.subset import blocks, subset


def held(network: Network, node: int, temperature: float) -> Network:
    """The same network with the node at position `node` imposed at a temperature [K].

    Its heat capacity no longer counts. Raises ValueError for a node that is imposed already.
    """
    if node in network.boundary:
        raise ValueError(f"the temperature of '{network.names[node]}' is imposed already")
    boundary = np.append(network.boundary, node).astype(np.int32)
    order = np.argsort(boundary)
    capacity = network.capacity.copy()
    capacity[node] = 0.0

    def with_one(values: Floats, one: float) -> Floats:
        return read_only(np.append(values, one)[order])

    histories: Indices = np.append(network.boundary_history, CONSTANT).astype(np.int32)
    return replace(
        network,
        capacity=read_only(capacity),
        content=tuple((each, curve) for each, curve in network.content if each != node),
        boundary=read_only(boundary[order]),
        boundary_mean=with_one(network.boundary_mean, temperature),
        boundary_swing=with_one(network.boundary_swing, 0.0),
        boundary_history=read_only(histories[order]),
    )


def heat_to_hold(
    network: Network, node: int, temperature: Floats, time: Floats, duty: Floats
) -> Floats:
    """Heat [W] that keeps an imposed node at its temperature, f8[q] at q samples.

    It is what the node gives away through its links less what its loads and heaters bring.
    `temperature` f8[q, n] [K], `time` f8[q] [s] as the histories see it, `duty` f8[q, h]. It is
    negative where heat would have to be taken away.
    """
    links, carried = network.links, network.flow_links
    stats = network.thermostats.node == node
    few = subset(
        network,
        links=(links.a == node) | (links.b == node),
        flow_links=(carried.a == node) | (carried.b == node),
        heats=network.heats.node == node,
        thermostats=stats,
    )
    found = np.empty(len(time))
    for some in blocks(len(time), few.histories.start.shape[-1] + len(network.names)):
        net = heat(few, temperature[some], time[some], duty[some][:, stats])
        found[some] = -net[:, node]
    return found
