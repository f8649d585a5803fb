"""One step of the linearly implicit method, tried until it is exact enough, as in `rosenbrock`."""

from __future__ import annotations

import numpy as np

from thermnet.solve.compiled_algebra import FAILED
from thermnet.solve.compiled_curves import impose, set_drive
from thermnet.solve.compiled_heat import factored, set_given, set_heat, solved
from thermnet.solve.compiled_jit import part
from thermnet.solve.compiled_newton import closed
from thermnet.solve.compiled_slots import (
    BY_DENSE,
    BY_ERROR,
    BY_INSTANT,
    BY_MIX,
    BY_SLOPE,
    BY_STAGE,
    BY_WEIGHT,
    CAPACITY,
    CHANGE,
    CORNER,
    CORNER_LEVEL,
    COUNT,
    HEAT,
    KEPT,
    LATER,
    MOVES,
    PARTS,
    POWER,
    STAGE,
    TEMPERATURE,
    TIMES,
    WEIGHT,
    Flat,
    U,
    add_scaled,
    copy_nodes,
    size,
)
from thermnet.solve.control import (
    AT_CORNER,
    CORNER_TRIES,
    MASSLESS_SHARE,
    first_width,
    following_width,
    lapse_for,
    tried_width,
    vanishing,
    width_factor,
)

for _function in (first_width, following_width, lapse_for, tried_width, vanishing, width_factor):
    part(_function)

NOW, WISH, BEGIN, END, SPREAD, TOLERANCE = range(6)
"""Places in `TIMES`: the integrator's time, the next step to wish for, the last accepted step, the
width over which its interpolant is spread [s], and the local error tolerance [K]."""

TAKEN, NO_STEP, NOT_FINITE, NO_BALANCE = range(4)
"""What came of a step."""

CORNER_LOOKS = 16
"""Pieces of a step at whose ends to look for the corner of a curve."""


@part
def between(flat: Flat, node: int, x: float) -> float:
    """Temperature of a node at share x of the last step."""
    number, n, y = flat.number, flat.nodes, 1.0 - x
    first = flat.at[PARTS] + node
    bump = number[U(first + 2 * n)] + x * number[U(first + 3 * n)]
    return float(y * number[U(first)] + x * number[U(first + n)] + x * y * bump)


@part
def begin_stretch(flat: Flat, ruled: bool, last: float, end: float) -> bool:
    """Massless nodes in balance and a first width, after a jump or a switching."""
    x, at, times = flat.number, flat.at, flat.at[TIMES]
    now, tolerance = x[times + NOW], x[times + TOLERANCE]
    if closed(flat, ruled, min(now, last), at[TEMPERATURE], FAILED) == FAILED:
        return False
    set_heat(flat, ruled, at[TEMPERATURE], at[HEAT])
    fastest = 0.0
    for i in range(flat.free):
        massive = i >= flat.massless
        x[at[WEIGHT] + i] = (1.0 if massive else MASSLESS_SHARE) / tolerance
        if massive:
            fastest = max(fastest, abs(x[at[HEAT] + i]) / x[at[CAPACITY] + i])
    x[times + WISH] = first_width(x[times + WISH], end - now, fastest, tolerance, now)
    return True


@part
def stepped(flat: Flat, ruled: bool, stop: float, last: float) -> int:
    """Go one step on from `TEMPERATURE`, at most to `stop`; fills `PARTS`."""
    x, times, temperature = flat.number, flat.at[TIMES], flat.at[TEMPERATURE]
    now, limit, tries = x[times + NOW], np.inf, 0
    while True:
        left = stop - now
        width = tried_width(min(x[times + WISH], limit), left)
        if vanishing(width, now) and width < left:
            return NO_STEP
        error = tried(flat, ruled, now, width, last)
        factor = width_factor(error, flat.order)
        if error <= 1.0:
            share = _corner_share(flat) if tries < CORNER_TRIES else 1.0
            if share > AT_CORNER:
                break
            limit, tries = share * width, tries + 1
        else:
            x[times + WISH] = width * min(factor, 0.9)
    x[times + WISH] = following_width(x[times + WISH], width, factor)
    x[times + BEGIN], x[times + SPREAD] = now, width
    x[times + NOW] = stop if width == left else now + width
    x[times + END] = x[times + NOW]
    copy_nodes(flat, temperature, flat.at[PARTS] + flat.nodes)
    if size(flat, CORNER) > 0:
        # The slope at one side of a corner says nothing of the other.
        how = closed(flat, ruled, min(x[times + NOW], last), temperature, FAILED)
        flat.place[flat.at[COUNT] + KEPT] = how
        if how == FAILED:
            return NO_BALANCE
    for i in range(flat.nodes):
        if not abs(x[temperature + i]) < np.inf:
            return NOT_FINITE
    return TAKEN


@part
def tried(flat: Flat, ruled: bool, begin: float, width: float, last: float) -> float:
    """Scaled error of a step from `TEMPERATURE`, infinite if it came to nothing finite."""
    x, at, start = flat.number, flat.at, flat.at[TEMPERATURE]
    set_drive(flat, min(begin, last))
    how = factored(flat, ruled, start, 1.0 / (width * flat.diagonal), flat.free, 0.0)
    flat.place[at[COUNT] + KEPT] = how
    if how == FAILED:
        return np.inf
    for k in range(size(flat, BY_SLOPE)):
        _set_stage(flat, k)
        if k > 0:
            set_drive(flat, min(begin + width * x[at[BY_INSTANT] + k], last))
            impose(flat, at[STAGE])
        set_heat(flat, ruled, at[STAGE], at[HEAT])
        _add_inertia(flat, k, width)
        if k == 0:
            _set_change(flat, ruled, begin, width, last)
        move, slope = at[MOVES] + k * flat.nodes, x[at[BY_SLOPE] + k] * width
        copy_nodes(flat, move, at[HEAT])
        add_scaled(flat, move, slope, at[CHANGE])
        solved(flat, how, flat.free, move)
    return _collected(flat)


@part
def _set_stage(flat: Flat, k: int) -> None:
    """Temperatures at which stage k is evaluated."""
    stage, row = flat.at[STAGE], flat.at[BY_STAGE] + k * size(flat, BY_SLOPE)
    copy_nodes(flat, stage, flat.at[TEMPERATURE])
    for j in range(k):
        add_scaled(flat, stage, flat.number[row + j], flat.at[MOVES] + j * flat.nodes)


@part
def _add_inertia(flat: Flat, k: int, width: float) -> None:
    """What earlier stages add to the heat of stage k."""
    total, row = flat.at[LATER], flat.at[BY_MIX] + k * size(flat, BY_SLOPE)
    mixed = flat.number[total : total + flat.free]
    net, capacity = flat.number[flat.at[HEAT] :], flat.number[flat.at[CAPACITY] :]
    for i in range(flat.free):
        mixed[i] = 0.0
    for j in range(k):
        share = flat.number[row + j] / width
        add_scaled(flat, total, share, flat.at[MOVES] + j * flat.nodes)
    for i in range(flat.free):
        net[i] += capacity[i] * mixed[i]


@part
def _set_change(flat: Flat, ruled: bool, begin: float, width: float, last: float) -> None:
    """Partial derivative of the heat by time at the beginning [W/s], from a little later."""
    first = min(begin, last)
    time = min(begin + lapse_for(width, begin), last)
    lapse = max(time - first, 1e-12)
    x, change, before = flat.number, flat.at[CHANGE], flat.at[HEAT]
    if flat.waits and not (ruled and size(flat, POWER) > 0):
        before = flat.at[LATER]
        set_given(flat, ruled, before)
        set_drive(flat, time)
        set_given(flat, ruled, change)
    else:
        copy_nodes(flat, flat.at[STAGE], flat.at[TEMPERATURE])
        set_drive(flat, time)
        impose(flat, flat.at[STAGE])
        set_heat(flat, ruled, flat.at[STAGE], change)
    for i in range(flat.free):
        x[change + i] = (x[change + i] - x[before + i]) / lapse


@part
def _collected(flat: Flat) -> float:
    """Ends and dense outputs of a step from its stages; returns its scaled error."""
    x, at, n, stages = flat.number, flat.at, flat.nodes, size(flat, BY_WEIGHT)
    parts, estimate, worst = at[PARTS], at[LATER], 0.0
    copy_nodes(flat, parts, at[TEMPERATURE])
    copy_nodes(flat, parts + n, at[STAGE])  # the boundaries at the end
    for i in range(flat.free):
        x[parts + n + i] = x[parts + i]
    for i in range(2 * n):
        x[parts + 2 * n + i] = 0.0
    for i in range(flat.free):
        x[estimate + i] = 0.0
    for k in range(stages):
        move = at[MOVES] + k * n
        add_scaled(flat, parts + n, x[at[BY_WEIGHT] + k], move)
        add_scaled(flat, parts + 2 * n, x[at[BY_DENSE] + k], move)
        add_scaled(flat, parts + 3 * n, x[at[BY_DENSE] + stages + k], move)
        add_scaled(flat, estimate, x[at[BY_ERROR] + k], move)
    for i in range(flat.free):
        scaled = abs(x[estimate + i]) * x[at[WEIGHT] + i]
        if not scaled < np.inf:
            return np.inf
        worst = max(worst, scaled)
    return max(worst, 1e-12)


@part
def _corner_share(flat: Flat) -> float:
    """Share of the step after which the first corner of a curve is clearly passed, 1 if none."""
    near, least = 0.5 * flat.number[flat.at[TIMES] + TOLERANCE], 1.0
    for k in range(size(flat, CORNER)):
        corner, level = flat.place[flat.at[CORNER] + k], flat.number[flat.at[CORNER_LEVEL] + k]
        first = between(flat, corner, 0.0) - level
        side = np.sign(first)
        before = -side * first - near
        for look in range(1, CORNER_LOOKS + 1):
            after = -side * (between(flat, corner, look / CORNER_LOOKS) - level) - near
            if after > 0.0:
                before = min(before, 0.0)
                share = (look - 1 - before / (after - before)) / CORNER_LOOKS
                least = min(least, share)
                break
            before = after
    return least
