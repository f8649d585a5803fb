"""Networks large enough for sparse factors, with and without long-range radiation."""

from __future__ import annotations

import numpy as np

from thermnet.network.build import build
from thermnet.network.network import Network
from thermnet.network.parts import (
    RADIATION,
    BoundaryPart,
    HeatsPart,
    History,
    LinksPart,
    NodesPart,
    Part,
    ThermostatPart,
)
from thermnet.physics.constants import STEFAN_BOLTZMANN

PERIOD = 5600.0
SUNLIT = History(
    time=np.array([0.0, 0.4, 0.4, 0.78, 0.78, 1.0]) * PERIOD,
    value=np.array([1.0, 0.3, 0.0, 0.0, 0.5, 1.0]),
)


def sheet(
    side: int = 16, *, long_range: int = 0, thermostats: int = 0, massless: int = 0
) -> Network:
    """A square sheet of side x side nodes that conducts, radiates to space and is sunlit.

    `long_range` further radiative links per node lead anywhere, as inside a cavity; each of the
    `thermostats` heats a node of its own; `massless` nodes have no heat capacity.
    """
    random = np.random.default_rng(side)
    n = side * side
    place = np.arange(n, dtype=np.int32).reshape(side, side)
    a = np.concatenate([place[:, :-1].ravel(), place[:-1].ravel()])
    b = np.concatenate([place[:, 1:].ravel(), place[1:].ravel()])
    names = [*(f"n{k}" for k in range(n)), "space"]
    area = 6.0 / n
    capacity = random.uniform(2000.0, 8000.0, n) * area
    capacity[random.permutation(n)[:massless]] = 0.0
    parts: list[Part] = [
        NodesPart(names=names[:-1], capacity=capacity),
        BoundaryPart(name="space", temperature=3.0),
        LinksPart(nodes=names, a=a, b=b, strength=np.full(len(a), 0.3)),
        LinksPart(
            nodes=names,
            a=place.ravel(),
            b=np.full(n, n, dtype=np.int32),
            strength=STEFAN_BOLTZMANN * area * random.uniform(0.1, 0.8, n),
            potential=RADIATION,
        ),
        HeatsPart(nodes=names, node=place.ravel(), amplitude=random.uniform(20, 150, n) * area),
        HeatsPart(
            nodes=names,
            node=place[: side // 2].ravel(),
            amplitude=np.full(side * (side // 2), 250.0 * area),
            history=SUNLIT,
        ),
    ]
    if long_range:
        ends = random.integers(0, n, (2, n * long_range)).astype(np.int32)
        ends = ends[:, ends[0] != ends[1]]
        strength = STEFAN_BOLTZMANN * area * random.uniform(0.05, 0.6, ends.shape[1]) / long_range
        parts.append(
            LinksPart(nodes=names, a=ends[0], b=ends[1], strength=strength, potential=RADIATION)
        )
    for k in range(thermostats):
        node = names[(k * n) // thermostats]
        parts.append(ThermostatPart(node=node, sensor=node, power=4.0, on=272.0, off=275.0))
    return build(parts, period=PERIOD)
