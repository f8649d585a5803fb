"""What is wrong or suspicious with the network of a case: its structure, and how parts join it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thermnet.errors import Problem
from thermnet.model.model import Model
from thermnet.network.checks import check
from thermnet.network.network import Network
from thermnet.network.primitives import Indices


def problems_of_network(model: Model, network: Network) -> tuple[Problem, ...]:
    """All problems of the network of a model with a case applied, located, errors first."""
    return model.located([*check(network), *_unjoined(model, network)])


def _unjoined(model: Model, network: Network) -> Iterator[Problem]:
    """A warning for each interface of a part to which only the part itself joins anything."""
    for path, part in model.brought.items():
        if not path.startswith("interfaces."):
            continue
        node = network.index(path.removeprefix("interfaces."))
        if node in network.boundary:
            continue
        entries = {".".join(network.origins[k].split(".", 2)[:2]) for k in _touching(network, node)}
        owners = (model.brought.get(entry, "") for entry in entries)
        if all(f"{owner}/".startswith(f"{part}/") for owner in owners):
            message = (
                f"nothing but its own part '{part}' is joined to this interface: add a link of "
                "the model that carries it"
            )
            yield Problem(message=message, path=path, severity="warning")


def _touching(network: Network, node: int) -> Indices:
    """Origins of all links, heats and heaters that bring heat to a node or take it."""
    links, carried = network.links, network.flow_links
    heats, stats = network.heats, network.thermostats
    found = [
        links.origin[(links.a == node) | (links.b == node)],
        carried.origin[(carried.a == node) | (carried.b == node)],
        heats.origin[heats.node == node],
        stats.origin[stats.node == node],
    ]
    return np.unique(np.concatenate(found))
