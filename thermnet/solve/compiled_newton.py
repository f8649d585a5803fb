"""Nodes in balance: the massless ones at an instant, or all free ones in a steady state."""

from __future__ import annotations

import numpy as np

from thermnet.solve.compiled_algebra import FAILED
from thermnet.solve.compiled_curves import impose, set_drive
from thermnet.solve.compiled_heat import factored, set_heat, solved
from thermnet.solve.compiled_jit import part
from thermnet.solve.compiled_slots import (
    CANDIDATE,
    CHANGE,
    HEAT,
    LATER,
    SLOPE,
    STAGE,
    Flat,
    copy_nodes,
)
from thermnet.solve.control import kept_between, moved_by_power, small_move

for _function in (kept_between, moved_by_power, small_move):
    part(_function)

CLOSED = 1e-4
"""K; a smaller Newton step is the last one of the massless nodes, as in `closure`."""

PLAIN_STEPS = 40
"""Plain steps after which the more careful search of the array path is asked for."""

STEADY = 1e-6
"""K; Newton's step from where it was so small leaves the balance at rounding."""

MOST_STEPS = 400


@part
def moved(old: float, step: float) -> float:
    """A Newton step applied to T or to T^4, by its size."""
    return float(kept_between(old + step if small_move(old, step) else moved_by_power(old, step)))


@part
def closed(flat: Flat, ruled: bool, time: float, temperature: int, how: int) -> int:
    """Bring the massless nodes into balance in place, boundaries imposed.

    `how` says how the leading block of `MATRIX` was factored near here, FAILED if it was not.
    Returns how it is factored now, FAILED without a balance.
    """
    set_drive(flat, time)
    impose(flat, temperature)
    x, count, before, step = flat.number, flat.massless, np.inf, flat.at[LATER]
    if count == 0:
        return max(how, 1)
    for _ in range(PLAIN_STEPS):
        set_heat(flat, ruled, temperature, step)
        if how == FAILED:
            how = factored(flat, ruled, temperature, 0.0, count, 0.0)
            if how == FAILED:
                return FAILED
        solved(flat, how, count, step)
        largest = _largest(flat, step, count)
        for i in range(count):
            if largest < CLOSED:
                x[temperature + i] += x[step + i]
            else:
                x[temperature + i] = moved(x[temperature + i], x[step + i])
        if largest < CLOSED:
            return how
        if not largest < 0.1 * before:
            how = FAILED
        before = largest
    return FAILED


@part
def balanced(flat: Flat, ruled: bool, temperature: int, count: int) -> bool:
    """Newton's method for the first `count` nodes, in place; False where it does not get there.

    A step is applied to T or to T^4, by its size; one that makes the balance worse is taken again
    with a brake on the diagonal, as in `steady`.
    """
    x, residual, step = flat.number, flat.at[HEAT], flat.at[STAGE]
    candidate, later = flat.at[CANDIDATE], flat.at[LATER]
    set_heat(flat, ruled, temperature, residual)
    total, brake, steps = _sum(flat, residual, count), 0.0, 0
    for _ in range(MOST_STEPS):
        if not _newton_step(flat, ruled, temperature, count, brake):
            return False
        copy_nodes(flat, candidate, temperature)
        for i in range(count):
            x[candidate + i] = moved(x[temperature + i], x[step + i])
        if brake == 0.0 and _largest(flat, step, count) < STEADY:
            copy_nodes(flat, temperature, candidate)
            return True
        set_heat(flat, ruled, candidate, later)
        other = _sum(flat, later, count)
        if not other <= total:
            other = _plainer(flat, ruled, temperature, count, other)
        worse = not other <= total
        if worse and brake < 1e6 and steps > 3:
            brake = max(4.0 * brake, 0.5)
            continue
        brake = brake / 8.0 if brake > 1e-3 else 0.0
        copy_nodes(flat, temperature, candidate)
        copy_nodes(flat, residual, later)
        total = other
        steps += 1
    return False


@part
def linearised(flat: Flat, ruled: bool, temperature: int) -> bool:
    """One plain Newton step of all free nodes from where they are, in place; False if singular."""
    set_heat(flat, ruled, temperature, flat.at[HEAT])
    if not _newton_step(flat, ruled, temperature, flat.free, 0.0):
        return False
    x, step = flat.number, flat.at[STAGE]
    for i in range(flat.free):
        x[temperature + i] = kept_between(x[temperature + i] + x[step + i])
    return True


@part
def _newton_step(flat: Flat, ruled: bool, temperature: int, count: int, brake: float) -> bool:
    """Newton's step from the residual in `HEAT` to `STAGE`; False if singular."""
    how = factored(flat, ruled, temperature, 0.0, count, brake)
    if how == FAILED:
        return False
    copy_nodes(flat, flat.at[STAGE], flat.at[HEAT])
    solved(flat, how, count, flat.at[STAGE])
    return True


@part
def _plainer(flat: Flat, ruled: bool, temperature: int, count: int, total: float) -> float:
    """Try the step on T alone and keep what is better; returns the total residual of that."""
    x, plain, residual, step = flat.number, flat.at[SLOPE], flat.at[CHANGE], flat.at[STAGE]
    copy_nodes(flat, plain, temperature)
    for i in range(count):
        x[plain + i] = kept_between(x[temperature + i] + x[step + i])
    set_heat(flat, ruled, plain, residual)
    other = _sum(flat, residual, count)
    if total <= other:
        return total
    copy_nodes(flat, flat.at[CANDIDATE], plain)
    copy_nodes(flat, flat.at[LATER], residual)
    return other


@part
def _sum(flat: Flat, values: int, count: int) -> float:
    total = 0.0
    for i in range(count):
        total += abs(flat.number[values + i])
    return total


@part
def _largest(flat: Flat, values: int, count: int) -> float:
    """Largest amount; infinite if one is not finite."""
    largest = 0.0
    for i in range(count):
        value = abs(flat.number[values + i])
        if not value < np.inf:
            return np.inf
        largest = max(largest, value)
    return largest
