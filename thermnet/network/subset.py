"""Some links, heats and thermostats of a network, and some samples at a time: little memory."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, replace
from typing import TypeVar

import numpy as np

from thermnet.network.network import Network
from thermnet.network.pattern import Pattern
from thermnet.network.primitives import CONSTANT, Flags, FlowLinks, Heats, Indices, Thermostats

MOST_NUMBERS = 6_000_000
"""Numbers of samples that are looked at together: 50 MB of each of their arrays."""

Primitives = TypeVar("Primitives", FlowLinks, Heats, Thermostats)


def subset(
    network: Network,
    *,
    links: Flags | None = None,
    flow_links: Flags | None = None,
    heats: Flags | None = None,
    thermostats: Flags | None = None,
) -> Network:
    """The same nodes with only what is marked, a flag each, and the histories that it follows.

    What is not named is left out altogether.
    """
    some_links = network.links.some(_none(links, len(network.links.a)))
    some_carried = _some(network.flow_links, flow_links)
    some_heats = _some(network.heats, heats)
    some_stats = _some(network.thermostats, thermostats)
    followed = (some_links.history, some_carried.history, some_heats.history, some_stats.enabled)
    used = np.unique(np.concatenate([*followed, network.boundary_history]))
    used = used[used != CONSTANT]

    def renumbered(numbers: Indices) -> Indices:
        places = np.searchsorted(used, numbers)
        return np.where(numbers == CONSTANT, CONSTANT, places).astype(np.int32)

    parts = {
        "links": replace(some_links, history=renumbered(some_links.history)),
        "flow_links": replace(some_carried, history=renumbered(some_carried.history)),
        "heats": replace(some_heats, history=renumbered(some_heats.history)),
        "thermostats": replace(some_stats, enabled=renumbered(some_stats.enabled)),
    }
    grid = network.histories
    return replace(
        network,
        **parts,  # type: ignore[arg-type]
        boundary_history=renumbered(network.boundary_history),
        histories=replace(grid, start=grid.start[:, used], stop=grid.stop[:, used]),
        pattern=Pattern(**parts, size=len(network.names)),  # type: ignore[arg-type]
    )


def blocks(samples: int, numbers: int) -> Iterator[slice]:
    """As many samples at a time, in order, as memory is for, where each takes so many numbers."""
    size = max(1, MOST_NUMBERS // max(1, numbers))
    for first in range(0, samples, size):
        yield slice(first, first + size)


def _none(chosen: Flags | None, count: int) -> Flags:
    return np.zeros(count, dtype=bool) if chosen is None else chosen


def _some(arrays: Primitives, chosen: Flags | None) -> Primitives:
    """Of primitives in arrays those marked in `chosen`."""
    marked = _none(chosen, len(arrays.origin))
    names = [field.name for field in fields(arrays)]
    return replace(arrays, **{name: getattr(arrays, name)[marked] for name in names})
