"""Step from instant to instant through a whole span, as in `march`; record it or sum it up."""

from __future__ import annotations

import numpy as np

from thermnet.network.primitives import Floats
from thermnet.solve.compiled_algebra import FAILED, PLAIN
from thermnet.solve.compiled_curves import impose, set_drive
from thermnet.solve.compiled_events import first_crossing, set_states, switch
from thermnet.solve.compiled_heat import set_pieces
from thermnet.solve.compiled_jit import part
from thermnet.solve.compiled_newton import closed
from thermnet.solve.compiled_slots import (
    BEGINS,
    COUNT,
    CROSSED,
    ENDS,
    FIRST_STOP,
    KEPT,
    NODE,
    NUMBERS,
    PARTS,
    SAMPLE,
    SAMPLES,
    SPARE,
    STATE,
    STOPS,
    TEMPERATURE,
    TIMES,
    WEIGHTS,
    Flat,
    copy_nodes,
    size,
)
from thermnet.solve.compiled_step import (
    BEGIN,
    END,
    NO_BALANCE,
    NOW,
    SPREAD,
    TAKEN,
    begin_stretch,
    between,
    stepped,
    tried,
)
from thermnet.solve.control import CLOSER
from thermnet.solve.segments import MERGE

SEGMENT, PHASE, SWITCHINGS, JOINED, MOST_SWITCHINGS = range(5)
"""Places in `NUMBERS`; `JOINED` is 1 where a step begins at the last sample taken."""

NEW_SEGMENT, NEW_STRETCH, WITHIN = range(3)
"""Phases: what the next step begins."""

TOO_MANY = 4
"""A step that was not taken since too much has switched before; follows those of `stepped`."""

ROW = 3
"""A row of a record: begin and end of a step [s], number of its segment, then the states."""


@part
def record(flat: Flat, ruled: bool, rows: Floats, temperature: Floats) -> tuple[int, int]:
    """Record steps until the rows are full or the course is done: how many, and what stopped it.

    `rows` f8[s, ROW + h], `temperature` f8[s, 5, n] with nodes as in `Network.names`. TAKEN where
    nothing stopped it.
    """
    where, times, state = flat.at[NUMBERS], flat.at[TIMES], flat.at[STATE]
    count = 0
    while flat.place[where + SEGMENT] < size(flat, BEGINS) and count < len(rows):
        segment = flat.place[where + SEGMENT]
        outcome = advance(flat, ruled)
        if outcome == TAKEN:
            outcome = take_samples(flat, ruled, segment, True, temperature, count)
        if outcome != TAKEN:
            return count, outcome
        rows[count, 0] = flat.number[times + BEGIN]
        rows[count, 1] = flat.number[times + END]
        rows[count, 2] = segment
        for k in range(size(flat, STATE)):
            rows[count, ROW + k] = flat.number[state + k]
        count += 1
    return count, TAKEN


@part
def summarise(flat: Flat, ruled: bool, closing: bool, room: Floats, sums: Floats) -> int:
    """Step to the end and sum up in `sums` f8[3, n]: mean, lowest, highest.

    Massless nodes count only if `closing`. `room` f8[1, 5, n] takes the samples of one step. The
    last temperatures stand in `SAMPLE`, massless nodes in balance.
    """
    x, where, times, weights = flat.number, flat.at[NUMBERS], flat.at[TIMES], flat.at[WEIGHTS]
    for i in range(flat.nodes):
        sums[0, i], sums[1, i], sums[2, i] = 0.0, np.inf, -np.inf
    span, segment = 0.0, 0
    while flat.place[where + SEGMENT] < size(flat, BEGINS):
        segment = flat.place[where + SEGMENT]
        outcome = advance(flat, ruled)
        if outcome == TAKEN:
            outcome = take_samples(flat, ruled, segment, closing, room, 0)
        if outcome != TAKEN:
            return outcome
        width = x[times + END] - x[times + BEGIN]
        span += width
        for k in range(size(flat, WEIGHTS)):
            for i in range(flat.nodes):
                value = room[0, k, i]
                sums[0, i] += x[weights + k] * width * value
                sums[1, i] = min(sums[1, i], value)
                sums[2, i] = max(sums[2, i], value)
    for i in range(flat.nodes):
        sums[0, i] /= span
    last = np.nextafter(x[flat.at[ENDS] + segment], -np.inf)
    how = closed(flat, ruled, last, flat.at[SAMPLE], FAILED)
    switch(flat)
    return TAKEN if how != FAILED else NO_BALANCE


@part
def advance(flat: Flat, ruled: bool) -> int:
    """One accepted step, ended where something switches; what that changes waits for the next."""
    x, p, times, where = flat.number, flat.place, flat.at[TIMES], flat.at[NUMBERS]
    if switch(flat):
        p[where + SWITCHINGS] += 1
        if p[where + SWITCHINGS] > p[where + MOST_SWITCHINGS]:
            return TOO_MANY
    segment = p[where + SEGMENT]
    end = x[flat.at[ENDS] + segment]
    last = np.nextafter(end, -np.inf)
    if p[where + PHASE] == NEW_SEGMENT:
        x[times + NOW] = x[flat.at[BEGINS] + segment]
        if not ruled:
            set_states(flat, x[times + NOW])
    if p[where + PHASE] != WITHIN:
        set_pieces(flat)
        if not begin_stretch(flat, ruled, last, end):
            return NO_BALANCE
    outcome = stepped(flat, ruled, _next_stop(flat, segment), last)
    if outcome != TAKEN:
        return outcome
    p[where + JOINED] = 1 if p[where + PHASE] == WITHIN else 0
    p[where + PHASE] = WITHIN
    if size(flat, CROSSED) > 0 and _cut_short(flat, ruled, last):
        p[where + PHASE] = NEW_STRETCH
    if x[times + NOW] >= end:
        p[where + PHASE] = NEW_SEGMENT
        p[where + SEGMENT] += 1
    return TAKEN


@part
def _next_stop(flat: Flat, segment: int) -> float:
    first, now = flat.at[FIRST_STOP] + segment, flat.number[flat.at[TIMES] + NOW]
    for k in range(flat.place[first], flat.place[first + 1]):
        stop = flat.number[flat.at[STOPS] + k]
        if stop > now + MERGE:
            return float(stop)
    return float(flat.number[flat.at[ENDS] + segment])


@part
def _cut_short(flat: Flat, ruled: bool, last: float) -> bool:
    """End the step where the first thing crosses its level; False if nothing does."""
    x, at, times = flat.number, flat.at, flat.at[TIMES]
    begin, end, spread = x[times + BEGIN], x[times + NOW], x[times + SPREAD]
    instant = first_crossing(flat, ruled, end)
    if instant == np.inf:
        return False
    # Close to the end of a step the interpolant is at its best.
    for k in range(size(flat, PARTS)):
        x[at[SPARE] + k] = x[at[PARTS] + k]
    copy_nodes(flat, at[TEMPERATURE], at[PARTS])
    width = min(begin + CLOSER * (instant - begin), end) - begin
    again = np.inf
    if tried(flat, ruled, begin, width, last) < np.inf:
        x[times + SPREAD] = width
        again = first_crossing(flat, ruled, begin + width)
    if again == np.inf:
        for k in range(size(flat, PARTS)):
            x[at[PARTS] + k] = x[at[SPARE] + k]
        x[times + SPREAD] = spread
        again = first_crossing(flat, ruled, end)
    x[times + NOW] = x[times + END] = again
    for i in range(flat.free):
        x[at[TEMPERATURE] + i] = between(flat, i, (again - begin) / x[times + SPREAD])
    return True


@part
def take_samples(
    flat: Flat, ruled: bool, segment: int, closing: bool, temperature: Floats, row: int
) -> int:
    """Put the samples of the last step into one row; massless nodes in balance if `closing`."""
    x, p, at, times, sample = flat.number, flat.place, flat.at, flat.at[TIMES], flat.at[SAMPLE]
    last = np.nextafter(x[at[ENDS] + segment], -np.inf)
    how = PLAIN if p[at[COUNT] + KEPT] == PLAIN else FAILED
    for k in range(size(flat, SAMPLES)):
        if k > 0 or p[at[NUMBERS] + JOINED] == 0:
            lapse = x[at[SAMPLES] + k] * (x[times + END] - x[times + BEGIN])
            for i in range(flat.free):
                x[sample + i] = between(flat, i, lapse / x[times + SPREAD])
            time = min(x[times + BEGIN] + lapse, last)
            if closing:
                how = closed(flat, ruled, time, sample, how)
                if how == FAILED:
                    return NO_BALANCE
            else:
                set_drive(flat, time)
                impose(flat, sample)
        for i in range(flat.nodes):
            temperature[row, k, p[at[NODE] + i]] = x[sample + i]
    return TAKEN
