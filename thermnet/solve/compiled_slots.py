"""How compiled code sees a network: all numbers in one array, all places in another, by slots.

A compiler of scalar code takes minutes over functions that pass a hundred arrays on, and they run
slowly; with two arrays, and the place of each named piece in them, it takes seconds.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from thermnet.network.primitives import Floats
from thermnet.solve.compiled_jit import part

Places = np.ndarray[tuple[int, ...], np.dtype[np.int64]]


class Flat(NamedTuple):
    """A network, the room for its integration, and its course through time.

    Slot k begins at `at[k]` in `number` or in `place`, and holds `at[SLOTS + k]`. Of all `nodes`
    the first `massless`, then up to `free`, are free; the rest are boundaries. `histories` is the
    number of the history that is 1. Heats up to `varied` have a history alone. `waits` is 1 if
    time enters by these heats alone (and by enabled heaters). `diagonal` and `order` are those of
    the method.
    """

    number: Floats
    place: Places
    at: Places
    nodes: int
    free: int
    massless: int
    histories: int
    varied: int
    waits: int
    order: int
    diagonal: float


# Numbers of a network: nodes, boundaries (mean and swing), links, flow links, heats, thermostats,
# curves (points of all, one after the other), histories (grid, then pieces by rows), corners.
(OWN_CAPACITY, BOUNDARY, STRENGTH, EXPONENT, RATE) = range(5)
(CONSTANT_HEAT, AMPLITUDE, POWER, ON, OFF) = range(5, 10)
(CURVE_X, CURVE_Y, CURVE_SLOPES, CURVE_AREAS) = range(10, 14)
(INSTANTS, START, STOP, CORNER_LEVEL) = range(14, 18)

# Places of a network. Links come in groups of one potential, in each those first that have
# neither history nor curve; `SOURCE` slots lead back to the network's own order.
(NODE, BOUNDARY_HISTORY, GROUP_BEGIN, GROUP_DRIVEN, GROUP_CURVE) = range(18, 23)
(LINK_A, LINK_B, LINK_HISTORY, LINK_CURVE, LINK_SENSOR, LINK_SOURCE) = range(23, 29)
(FLOW_A, FLOW_B, FLOW_HISTORY) = range(29, 32)
(HEAT_NODE, HEAT_HISTORY, HEAT_CURVE, HEAT_SENSOR, HEAT_SOURCE) = range(32, 37)
(FIXED_SOURCE, FIXED_NODE) = range(37, 39)
(HEATER_NODE, HEATER_SENSOR, ENABLED) = range(39, 42)
(CURVE_BEGIN, EXTEND, CORNER, CONTENT, CONTENT_CURVE) = range(42, 47)
(PATTERN_BEGIN, PATTERN_ROW) = range(47, 49)

# Room for intermediate results, so that nothing is allocated on the way; f8[n] unless said.
(DRIVE, POTENTIAL, SLOPE, HEAT, LATER, CHANGE, STAGE, CANDIDATE) = range(49, 57)
(TEMPERATURE, SAMPLE, CAPACITY, WEIGHT) = range(57, 61)
(MOVES, PARTS, SPARE, MATRIX, STATE) = range(61, 66)  # f8[6, n], f8[4, n] twice, f8[n, n], f8[h]
(PIVOTS, CROSSED, PIECES, COUNT) = range(66, 70)

# Coefficients of the method, and the course of one march (see `compiled_march`).
(BY_STAGE, BY_MIX, BY_INSTANT, BY_SLOPE, BY_WEIGHT, BY_ERROR, BY_DENSE) = range(70, 77)
(BEGINS, ENDS, STOPS, SAMPLES, WEIGHTS, TIMES) = range(77, 83)
(FIRST_STOP, NUMBERS, MEANS) = range(83, 86)  # means of all histories
SLOTS = 86

U = np.uint64
"""Makes a place unsigned, in the innermost loops: with a signed one the compiler has to look each
time whether it counts from the end of the array, which costs more than the arithmetic."""

EVALUATIONS, FACTORIZATIONS, KEPT, FULL, TEXT = range(5)
"""Places in `COUNT`: work done, how what stands in `MATRIX` was factored, whether it has entries
beside the pattern, and which text ran."""


@part
def size(flat: Flat, slot: int) -> int:
    """How much a slot holds."""
    return int(flat.at[SLOTS + slot])


@part
def copy_nodes(flat: Flat, target: int, source: int) -> None:
    """Copy one number for each node; both are places in `number`."""
    into, out = flat.number[target : target + flat.nodes], flat.number[source:]
    for i in range(flat.nodes):
        into[i] = out[i]


@part
def add_scaled(flat: Flat, target: int, share: float, source: int) -> None:
    """Add a share of one number to another for each free node; both are places in `number`."""
    # Views, since the compiler has to see that no place is negative to take several at once.
    into, out = flat.number[target : target + flat.free], flat.number[source:]
    for i in range(flat.free):
        into[i] += share * out[i]


def numbers(flat: Flat, slot: int) -> Floats:
    """A view of one slot of numbers."""
    begin = flat.at[slot]
    return flat.number[begin : begin + flat.at[SLOTS + slot]]


def places(flat: Flat, slot: int) -> Places:
    """A view of one slot of places."""
    begin = flat.at[slot]
    return flat.place[begin : begin + flat.at[SLOTS + slot]]


def extended(flat: Flat, new: Mapping[int, Any]) -> Flat:
    """A copy with further slots, whose kind follows from that of their arrays."""
    at = flat.at.copy()
    stored: list[list[Any]] = [[flat.number], [flat.place]]
    sizes = [len(flat.number), len(flat.place)]
    for slot, values in new.items():
        array = np.ravel(values)
        kind = 0 if array.dtype == np.float64 else 1
        stored[kind].append(array)
        at[slot], at[SLOTS + slot] = sizes[kind], len(array)
        sizes[kind] += len(array)
    number = np.concatenate(stored[0])
    place = np.concatenate(stored[1]).astype(np.int64, copy=False)
    return flat._replace(number=number, place=place, at=at)
