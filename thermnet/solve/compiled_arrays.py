"""From a network to the slots of compiled code.

Nodes are renumbered in the order in which they are eliminated: massless ones first, so that the
leading block of every factored Jacobian is that of their balance, then the other free ones, then
the boundaries. A history, curve or thermostat keeps its number; the history after the last one is
the factor 1.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from thermnet.network.network import Network
from thermnet.network.primitives import CONSTANT, Floats, Indices
from thermnet.physics.curves import Curve
from thermnet.solve import compiled_slots as slot
from thermnet.solve.closure import partition
from thermnet.solve.compiled_slots import SLOTS, Flat, Places, extended
from thermnet.solve.rosenbrock import curve_corners
from thermnet.solve.tableaus import RODAS4, Tableau

Slots = dict[int, Any]


def flattened(network: Network, method: Tableau = RODAS4) -> Flat:
    """Arrays for compiled code, with room for one integration."""
    massive, massless = partition(network)
    pattern, order = _eliminated(network, massive, massless)
    place = np.empty(len(network.names), dtype=np.int64)
    node = np.concatenate([order, network.boundary])
    place[node] = np.arange(len(node))
    links, heats = network.links, network.heats
    driven_heats = (heats.curve != CONSTANT) & (heats.history != CONSTANT)
    changing = (links.history != CONSTANT).any() or (network.flow_links.history != CONSTANT).any()
    moving = bool((network.boundary_swing != 0.0).any())
    one = len(network.histories.start[0])
    empty = Flat(
        number=np.zeros(0),
        place=np.zeros(0, dtype=np.int64),
        at=np.zeros(2 * SLOTS, dtype=np.int64),
        nodes=len(node),
        free=len(order),
        massless=len(massless),
        histories=one,
        varied=int(((heats.curve == CONSTANT) & (heats.history != CONSTANT)).sum()),
        waits=int(not (moving or changing or driven_heats.any())),
        diagonal=method.diagonal,
        order=method.order,
    )
    curves = _Curves(network)
    corner, level = curve_corners(network)
    new: Slots = {
        slot.NODE: node,
        slot.OWN_CAPACITY: network.capacity[node],
        slot.BOUNDARY: np.stack([network.boundary_mean, network.boundary_swing], axis=1),
        slot.BOUNDARY_HISTORY: _drives(network.boundary_history, one),
        slot.INSTANTS: network.histories.instants,
        slot.START: network.histories.start,
        slot.STOP: network.histories.stop,
        slot.MEANS: network.histories.mean(),
        slot.CORNER: place[corner],
        slot.CORNER_LEVEL: level,
        slot.CONTENT: place[[item[0] for item in network.content]],
        slot.CONTENT_CURVE: np.array([curves.of(curve) for _, curve in network.content], dtype=int),
    }
    new |= _links(network, place, one, curves) | _flow_links(network, place, one)
    new |= _heats(network, place, one) | _thermostats(network, place, one)
    new |= curves.slots() | pattern | _room(network, one) | _coefficients(method)
    return extended(empty, new)


def _room(network: Network, one: int) -> Slots:
    n, heaters, contents = len(network.names), len(network.thermostats.node), len(network.content)
    rows = [slot.POTENTIAL, slot.SLOPE, slot.HEAT, slot.LATER, slot.CHANGE, slot.STAGE]
    rows += [slot.CANDIDATE, slot.TEMPERATURE, slot.SAMPLE, slot.CAPACITY, slot.WEIGHT]
    new: Slots = {row: np.zeros(n) for row in rows}
    return new | {
        slot.DRIVE: np.ones(one + 1),
        slot.MOVES: np.zeros(6 * n),
        slot.PARTS: np.zeros(4 * n),
        slot.SPARE: np.zeros(4 * n),
        slot.MATRIX: np.zeros(n * n),
        slot.STATE: np.zeros(heaters),
        slot.PIVOTS: np.zeros(n, dtype=np.int64),
        slot.CROSSED: np.zeros(heaters + 2 * contents, dtype=np.int64),
        slot.PIECES: np.zeros(contents, dtype=np.int64),
        slot.COUNT: np.zeros(5, dtype=np.int64),
    }


def _coefficients(method: Tableau) -> Slots:
    return {
        slot.BY_STAGE: method.stage,
        slot.BY_MIX: method.mix,
        slot.BY_INSTANT: method.instant,
        slot.BY_SLOPE: method.slope,
        slot.BY_WEIGHT: method.weight,
        slot.BY_ERROR: method.error,
        slot.BY_DENSE: method.dense,
    }


class _Curves:
    """Every curve once, those of potentials and contents after the network's own."""

    def __init__(self, network: Network) -> None:
        self.items: list[Curve] = list(network.curves)

    def of(self, curve: Curve) -> int:
        self.items.append(curve)
        return len(self.items) - 1

    def slots(self) -> Slots:
        def joined(rows: list[Floats]) -> Floats:
            return np.concatenate([np.zeros(0), *rows])

        sizes = np.array([len(curve.x) for curve in self.items], dtype=np.int64)
        return {
            slot.CURVE_BEGIN: np.append(0, np.cumsum(sizes)),
            slot.EXTEND: np.array([int(curve.extend) for curve in self.items], dtype=np.int64),
            slot.CURVE_X: joined([curve.x for curve in self.items]),
            slot.CURVE_Y: joined([curve.y for curve in self.items]),
            slot.CURVE_SLOPES: joined([np.append(curve.slopes, 0.0) for curve in self.items]),
            slot.CURVE_AREAS: joined([curve.areas for curve in self.items]),
        }


def _drives(history: Indices, one: int) -> Places:
    return np.where(history == CONSTANT, one, history).astype(np.int64)


def _sensors(sensor: Indices, place: Places) -> Places:
    """Places of sensors; any place where there is none, since there is no curve either."""
    return np.asarray(place[np.where(sensor == CONSTANT, 0, sensor)])


def _links(network: Network, place: Places, one: int, curves: _Curves) -> Slots:
    links, potentials = network.links, network.links.potentials
    driven = (links.history != CONSTANT) | (links.curve != CONSTANT)
    group = np.repeat(np.arange(len(potentials)), np.diff(links.groups))
    source = np.lexsort((driven, group))
    begin = np.array(links.groups, dtype=np.int64)
    own = [-1 if law.curve is None else curves.of(law.curve) for law in potentials]
    return {
        slot.GROUP_BEGIN: begin,
        slot.GROUP_DRIVEN: begin[:-1] + np.bincount(group[~driven], minlength=len(potentials)),
        slot.GROUP_CURVE: np.array(own, dtype=np.int64),
        slot.EXPONENT: np.array([law.exponent for law in potentials], dtype=np.float64),
        slot.LINK_A: place[links.a[source]],
        slot.LINK_B: place[links.b[source]],
        slot.STRENGTH: links.strength[source],
        slot.LINK_HISTORY: _drives(links.history[source], one),
        slot.LINK_CURVE: links.curve[source],
        slot.LINK_SENSOR: _sensors(links.sensor[source], place),
        slot.LINK_SOURCE: source,
    }


def _flow_links(network: Network, place: Places, one: int) -> Slots:
    carried = network.flow_links
    return {
        slot.FLOW_A: place[carried.a],
        slot.FLOW_B: place[carried.b],
        slot.RATE: carried.rate,
        slot.FLOW_HISTORY: _drives(carried.history, one),
    }


def _heats(network: Network, place: Places, one: int) -> Slots:
    heats = network.heats
    curved = heats.curve != CONSTANT
    summed = ~curved & (heats.history == CONSTANT)
    fixed = np.flatnonzero(summed)
    source = np.concatenate([np.flatnonzero(~curved & ~summed), np.flatnonzero(curved)])
    node = place[heats.node]
    constant = np.zeros(len(place))  # of no entries at all, bincount returns integers
    constant += np.bincount(node[fixed], heats.amplitude[fixed], len(place))
    return {
        slot.CONSTANT_HEAT: constant,
        slot.FIXED_SOURCE: fixed,
        slot.FIXED_NODE: node[fixed],
        slot.HEAT_NODE: node[source],
        slot.AMPLITUDE: heats.amplitude[source],
        slot.HEAT_HISTORY: _drives(heats.history[source], one),
        slot.HEAT_CURVE: heats.curve[source],
        slot.HEAT_SENSOR: _sensors(heats.sensor[source], place),
        slot.HEAT_SOURCE: source,
    }


def _thermostats(network: Network, place: Places, one: int) -> Slots:
    stats = network.thermostats
    return {
        slot.HEATER_NODE: place[stats.node],
        slot.HEATER_SENSOR: place[stats.sensor],
        slot.POWER: stats.power,
        slot.ON: stats.on,
        slot.OFF: stats.off,
        slot.ENABLED: _drives(stats.enabled, one),
    }


def _eliminated(network: Network, massive: Indices, massless: Indices) -> tuple[Slots, Indices]:
    """Rows below each pivot that have an entry, and the free nodes in their order.

    Each pivot is one of smallest degree. The neighbours of a node are the bits of a number; to
    eliminate it joins them to each other.
    """
    places = network.pattern.places
    n = len(network.names)
    column = np.repeat(np.arange(n), np.diff(places.indptr))
    free = np.zeros(n, dtype=bool)
    free[massive] = free[massless] = True
    inside = free[places.indices] & free[column]
    joined = [1 << k for k in range(n)]
    for i, j in zip(places.indices[inside].tolist(), column[inside].tolist(), strict=True):
        joined[i] |= 1 << j
        joined[j] |= 1 << i
    order: list[int] = []
    after: list[list[int]] = []
    for some in (massless.tolist(), massive.tolist()):
        left = list(some)
        while left:
            pivot = min(left, key=lambda k: joined[k].bit_count())
            left.remove(pivot)
            neighbours = _bits(joined[pivot] & ~(1 << pivot))
            for k in neighbours:
                joined[k] = (joined[k] | joined[pivot]) & ~(1 << pivot)
            order.append(pivot)
            after.append(neighbours)
    rank = {node: k for k, node in enumerate(order)}
    rows = [sorted(rank[k] for k in neighbours) for neighbours in after]
    new: Slots = {
        slot.PATTERN_BEGIN: np.append(0, np.cumsum([len(row) for row in rows])).astype(np.int64),
        slot.PATTERN_ROW: np.array([k for row in rows for k in row], dtype=np.int64),
    }
    return new, np.array(order, dtype=np.int32)


def _bits(number: int) -> list[int]:
    """Places of the ones in a number."""
    result = []
    while number:
        lowest = number & -number
        result.append(lowest.bit_length() - 1)
        number ^= lowest
    return result
