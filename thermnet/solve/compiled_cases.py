"""Many cases of one network: their steady states and repeating orbits, thermostats in proportion.

The methods are those of `steady` and `cyclic`; what a case changes is put in place of the
network's own numbers.
"""

from __future__ import annotations

import numpy as np

from thermnet.network.primitives import Floats
from thermnet.solve.compiled_algebra import FAILED
from thermnet.solve.compiled_curves import impose, piece_at, set_mean_drive
from thermnet.solve.compiled_heat import factored, set_pieces, solved
from thermnet.solve.compiled_jit import part
from thermnet.solve.compiled_march import MOST_SWITCHINGS, summarise
from thermnet.solve.compiled_newton import balanced, linearised
from thermnet.solve.compiled_slots import (
    AMPLITUDE,
    BOUNDARY,
    CANDIDATE,
    CAPACITY,
    CONSTANT_HEAT,
    CONTENT,
    CONTENT_CURVE,
    CURVE_BEGIN,
    FIXED_NODE,
    FIXED_SOURCE,
    HEAT,
    HEAT_SOURCE,
    LINK_SOURCE,
    NODE,
    NUMBERS,
    OWN_CAPACITY,
    PIECES,
    POWER,
    SAMPLE,
    STAGE,
    STRENGTH,
    TEMPERATURE,
    TIMES,
    Flat,
    copy_nodes,
    size,
)
from thermnet.solve.compiled_step import TAKEN, TOLERANCE
from thermnet.solve.control import COLDEST, tolerance_for
from thermnet.solve.cyclic import FINE_BELOW, FIRST_PASSES, MEMORY, MOST_PASSES
from thermnet.solve.drift import FIRST_POLE, SECOND_POLE
from thermnet.solve.steady import START

part(tolerance_for)

BEFORE, CORRECTED, WEIGHED = 0, 1, 2
"""Rows of the memory f8[MEMORY_ROWS, n] of a repeating orbit: where a pass begins, its corrected
change, weights; then come earlier points, their changes, the columns of a small fit, and what
these do to the temperatures."""

POINTS, CHANGES, COLUMNS, MOVING = range(3, 3 + 4 * MEMORY, MEMORY)
MEMORY_ROWS = 3 + 4 * MEMORY

NEGLIGIBLE = 1e-8
"""Share of the longest column below which one says nothing new."""


@part
def set_case(
    flat: Flat,
    strength: Floats,
    amplitude: Floats,
    capacity: Floats,
    boundary: Floats,
    power: Floats,
    case: int,
) -> None:
    """Put the numbers of one case in place; an array without rows changes nothing."""
    x, p, at = flat.number, flat.place, flat.at
    if len(strength) > 0:
        for k in range(size(flat, STRENGTH)):
            x[at[STRENGTH] + k] = strength[case, p[at[LINK_SOURCE] + k]]
    if len(amplitude) > 0:
        for i in range(flat.nodes):
            x[at[CONSTANT_HEAT] + i] = 0.0
        for k in range(size(flat, FIXED_SOURCE)):
            heat = amplitude[case, p[at[FIXED_SOURCE] + k]]
            x[at[CONSTANT_HEAT] + p[at[FIXED_NODE] + k]] += heat
        for k in range(size(flat, AMPLITUDE)):
            x[at[AMPLITUDE] + k] = amplitude[case, p[at[HEAT_SOURCE] + k]]
    if len(capacity) > 0:
        for i in range(flat.nodes):
            x[at[OWN_CAPACITY] + i] = capacity[case, p[at[NODE] + i]]
    if len(boundary) > 0:
        for k in range(flat.nodes - flat.free):
            x[at[BOUNDARY] + 2 * k] = boundary[case, k]
    if len(power) > 0:
        for k in range(size(flat, POWER)):
            x[at[POWER] + k] = power[case, k]


@part
def steady_case(flat: Flat) -> bool:
    """Steady state of the means in `TEMPERATURE`; False where it was not found."""
    temperature = flat.at[TEMPERATURE]
    set_mean_drive(flat)
    for i in range(flat.nodes):
        flat.number[temperature + i] = START
    impose(flat, temperature)
    return linearised(flat, True, temperature) and balanced(flat, True, temperature, flat.free)


@part
def cyclic_case(
    flat: Flat, period: float, accuracy: float, room: Floats, sums: Floats, memory: Floats
) -> tuple[int, float]:
    """The repeating orbit: passes and estimated error [K], no passes where it does not close.

    `sums` f8[3, n] are mean, lowest and highest of a last pass, whose end stands in `SAMPLE`.
    `room` f8[1, 5, n] is for samples, `memory` f8[MEMORY_ROWS, n] for earlier passes.
    """
    if not steady_case(flat):
        return 0, np.inf
    x, at, estimate, kept = flat.number, flat.at, np.inf, 0
    rough = FIRST_PASSES * accuracy
    for number in range(1, MOST_PASSES + 1):
        for i in range(flat.nodes):
            memory[BEFORE, i] = x[at[TEMPERATURE] + i]
        fine = estimate < FINE_BELOW * rough
        if _pass(flat, accuracy if fine else rough, False, room, sums) != TAKEN:
            return 0, np.inf
        if not _set_corrected(flat, period, sums, memory):
            return 0, np.inf
        estimate = 0.0
        for i in range(flat.massless, flat.free):
            if not abs(memory[CORRECTED, i]) <= estimate:
                estimate = abs(memory[CORRECTED, i])
        done = fine and estimate < accuracy
        kept = 0 if done else _remember(flat, memory, kept)
        copy_nodes(flat, at[TEMPERATURE], at[SAMPLE])
        for i in range(flat.massless, flat.free):
            following = memory[BEFORE, i] + memory[CORRECTED, i]
            x[at[TEMPERATURE] + i] = max(following, COLDEST)
        _mix(flat, memory, kept)
        if done:
            outcome = _pass(flat, accuracy, True, room, sums)
            return (number + 1 if outcome == TAKEN else 0), estimate
    return 0, estimate


@part
def _pass(flat: Flat, accuracy: float, closing: bool, room: Floats, sums: Floats) -> int:
    """March through one period from `TEMPERATURE`."""
    x, p, at = flat.number, flat.place, flat.at
    for k in range(size(flat, NUMBERS)):
        if k != MOST_SWITCHINGS:
            p[at[NUMBERS] + k] = 0
    for k in range(size(flat, TIMES)):
        x[at[TIMES] + k] = 0.0
    x[at[TIMES] + TOLERANCE] = tolerance_for(accuracy)
    copy_nodes(flat, at[CAPACITY], at[OWN_CAPACITY])
    _find_pieces(flat, at[TEMPERATURE])
    return summarise(flat, True, closing, room, sums)


@part
def _find_pieces(flat: Flat, temperature: int) -> None:
    """The piece of every heat-content curve at these temperatures."""
    p, at = flat.place, flat.at
    for k in range(size(flat, CONTENT)):
        curve = p[at[CONTENT_CURVE] + k]
        point = piece_at(flat, curve, flat.number[temperature + p[at[CONTENT] + k]])
        p[at[PIECES] + k] = point - p[at[CURVE_BEGIN] + curve]


@part
def _set_corrected(flat: Flat, period: float, sums: Floats, memory: Floats) -> bool:
    """Change over a pass with what is still to come, as `drift.Gain.corrected` has it."""
    x, at, mean = flat.number, flat.at, flat.at[CANDIDATE]
    set_mean_drive(flat)
    for i in range(flat.nodes):
        x[mean + i] = sums[0, flat.place[at[NODE] + i]]
    _find_pieces(flat, mean)
    set_pieces(flat)
    for i in range(flat.free):
        change = x[at[SAMPLE] + i] - memory[BEFORE, i]
        memory[CORRECTED, i] = change
        x[at[HEAT] + i] = x[at[CAPACITY] + i] * change / period
    for pole in range(2):
        how = factored(flat, True, mean, pole * SECOND_POLE / period, flat.free, 0.0)
        if how == FAILED:
            return False
        copy_nodes(flat, at[STAGE], at[HEAT])
        solved(flat, how, flat.free, at[STAGE])
        for i in range(flat.free):
            share = -FIRST_POLE if pole else 1.0
            memory[CORRECTED, i] += share * x[at[STAGE] + i]
    return True


@part
def _remember(flat: Flat, memory: Floats, kept: int) -> int:
    """Keep a point and its change, the oldest left out where there are too many."""
    if kept == MEMORY:
        kept -= 1
        for k in range(kept):
            for i in range(flat.nodes):
                memory[POINTS + k, i] = memory[POINTS + k + 1, i]
                memory[CHANGES + k, i] = memory[CHANGES + k + 1, i]
    for i in range(flat.nodes):
        memory[POINTS + kept, i] = memory[BEFORE, i]
        memory[CHANGES + kept, i] = memory[CORRECTED, i]
    return kept + 1


@part
def _mix(flat: Flat, memory: Floats, kept: int) -> None:
    """Anderson's correction of `TEMPERATURE` from the passes so far; large capacities weigh more.

    Differences of changes are made orthogonal, the newest first, and what belongs to them of the
    temperatures is carried along.
    """
    x, temperature, first, last = flat.number, flat.at[TEMPERATURE], flat.massless, flat.free
    _set_weights(flat, memory)
    longest = 0.0
    for number in range(kept - 1):
        k, column, moves = kept - 2 - number, COLUMNS + number, MOVING + number
        for i in range(first, last):
            turn = memory[CHANGES + k + 1, i] - memory[CHANGES + k, i]
            memory[column, i] = memory[WEIGHED, i] * turn
            memory[moves, i] = memory[POINTS + k + 1, i] - memory[POINTS + k, i] + turn
        longest = max(longest, _dot(memory, column, column, first, last) ** 0.5)
        for other in range(number):
            share = _dot(memory, COLUMNS + other, column, first, last)
            for i in range(first, last):
                memory[column, i] -= share * memory[COLUMNS + other, i]
                memory[moves, i] -= share * memory[MOVING + other, i]
        length = _dot(memory, column, column, first, last) ** 0.5
        scale = 1.0 / length if length > NEGLIGIBLE * longest else 0.0
        part_of_change = 0.0
        for i in range(first, last):
            memory[column, i] *= scale
            memory[moves, i] *= scale
            change = memory[WEIGHED, i] * memory[CHANGES + kept - 1, i]
            part_of_change += memory[column, i] * change
        for i in range(first, last):
            x[temperature + i] -= part_of_change * memory[moves, i]
    for i in range(first, last):
        x[temperature + i] = max(x[temperature + i], COLDEST)


@part
def _set_weights(flat: Flat, memory: Floats) -> None:
    largest = 0.0
    for i in range(flat.massless, flat.free):
        largest = max(largest, flat.number[flat.at[OWN_CAPACITY] + i])
    for i in range(flat.massless, flat.free):
        capacity = flat.number[flat.at[OWN_CAPACITY] + i]
        # Those of heat contents are not known here: where there are no others, all weigh alike.
        memory[WEIGHED, i] = (capacity + 1e-3 * largest) ** 0.5 if largest > 0.0 else 1.0


@part
def _dot(memory: Floats, a: int, b: int, first: int, last: int) -> float:
    total = 0.0
    for i in range(first, last):
        total += memory[a, i] * memory[b, i]
    return total
