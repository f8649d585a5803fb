"""What switches within a step, and when, as in `events`: thermostats and corners of contents.

Watched are the thermostats by number, then the lower and the upper end of every content's piece.
"""

from __future__ import annotations

import numpy as np

from thermnet.solve.compiled_curves import imposed, set_drive
from thermnet.solve.compiled_jit import part
from thermnet.solve.compiled_slots import (
    CONTENT,
    CONTENT_CURVE,
    CROSSED,
    CURVE_BEGIN,
    CURVE_X,
    HEATER_SENSOR,
    OFF,
    ON,
    PIECES,
    STATE,
    TEMPERATURE,
    TIMES,
    Flat,
    size,
)
from thermnet.solve.compiled_step import BEGIN, SPREAD, between
from thermnet.solve.control import switched
from thermnet.solve.events import BEYOND
from thermnet.solve.segments import MERGE

part(switched)

LOOKS = 8
"""Pieces of a step at whose ends to look for a crossing."""

EXACT = 1e-9
"""s to which a crossing is located."""


@part
def set_states(flat: Flat, time: float) -> None:
    """Thermostat states by the temperatures at an instant, as hysteresis has them."""
    x, at = flat.number, flat.at
    set_drive(flat, time)
    for k in range(size(flat, STATE)):
        sensor, state = flat.place[at[HEATER_SENSOR] + k], at[STATE] + k
        sensed = x[at[TEMPERATURE] + sensor]
        if sensor >= flat.free:
            sensed = imposed(flat, sensor - flat.free)
        x[state] = switched(sensed, x[at[ON] + k], x[at[OFF] + k], x[state])


@part
def first_crossing(flat: Flat, ruled: bool, end: float) -> float:
    """Instant of the first crossing up to `end`, infinite if there is none.

    Marks in `CROSSED` what crosses then: what comes together is taken together.
    """
    crossed, first = flat.at[CROSSED], np.inf
    _clear(flat)
    for number in range(size(flat, STATE) if ruled else 0, size(flat, CROSSED)):
        instant = _crossing(flat, number, end)
        if instant == np.inf or instant > first + MERGE:
            continue
        if instant < first - MERGE:
            _clear(flat)
        first = min(first, instant)
        flat.place[crossed + number] = 1
    return first


@part
def switch(flat: Flat) -> bool:
    """Change the state of what has crossed; False if nothing has."""
    x, p, at, heaters, changed = flat.number, flat.place, flat.at, size(flat, STATE), False
    for number in range(size(flat, CROSSED)):
        if p[at[CROSSED] + number] == 0:
            continue
        changed = True
        if number < heaters:
            x[at[STATE] + number] = 1.0 - x[at[STATE] + number]
        else:
            corner = number - heaters
            p[at[PIECES] + corner // 2] += 2 * (corner % 2) - 1
    _clear(flat)
    return changed


@part
def _clear(flat: Flat) -> None:
    for number in range(size(flat, CROSSED)):
        flat.place[flat.at[CROSSED] + number] = 0


@part
def _level(flat: Flat, number: int) -> tuple[int, float, float]:
    """The node that is watched, the sign (+1: to rise above), and the level [K]."""
    x, p, at, heaters = flat.number, flat.place, flat.at, size(flat, STATE)
    if number < heaters:
        sensor = p[at[HEATER_SENSOR] + number]
        if x[at[STATE] + number] > 0.5:
            return sensor, 1.0, x[at[OFF] + number]
        return sensor, -1.0, x[at[ON] + number]
    content = (number - heaters) // 2
    node, piece = p[at[CONTENT] + content], p[at[PIECES] + content]
    begin = at[CURVE_BEGIN] + p[at[CONTENT_CURVE] + content]
    point = p[begin] + piece
    if (number - heaters) % 2 == 1:
        inner = point + 2 < p[begin + 1]
        return node, 1.0, x[at[CURVE_X] + point + 1] + BEYOND if inner else np.inf
    return node, -1.0, x[at[CURVE_X] + point] - BEYOND if piece > 0 else -np.inf


@part
def _sensed(flat: Flat, node: int, time: float, end: float) -> float:
    """Temperature of a node within the last step, which may be a boundary's."""
    if node < flat.free:
        times = flat.at[TIMES]
        lapse = time - flat.number[times + BEGIN]
        return between(flat, node, lapse / flat.number[times + SPREAD])
    set_drive(flat, min(time, np.nextafter(end, -np.inf)))
    return imposed(flat, node - flat.free)


@part
def _crossing(flat: Flat, number: int, end: float) -> float:
    """Instant at which one thing crosses its level, infinite if it does not."""
    node, sign, level = _level(flat, number)
    begin = flat.number[flat.at[TIMES] + BEGIN]
    if not abs(level) < np.inf:
        return np.inf
    before = begin
    for look in range(1, LOOKS + 1):
        after = begin + look / LOOKS * (end - begin)
        # A step that begins exactly on a level just left it: only a later return counts.
        if sign * (_sensed(flat, node, after, end) - level) >= 0.0:
            instant = _located(flat, node, sign, level, before, after, end)
            return float(max(instant, np.nextafter(begin, np.inf)))
        before = after
    return np.inf


@part
def _located(
    flat: Flat, node: int, sign: float, level: float, before: float, after: float, end: float
) -> float:
    """The earliest instant beyond the level, by halving."""
    if sign * (_sensed(flat, node, before, end) - level) >= 0.0:
        return before
    while after - before > EXACT:
        middle = 0.5 * (before + after)
        if middle <= before or middle >= after:
            break
        if sign * (_sensed(flat, node, middle, end) - level) >= 0.0:
            after = middle
        else:
            before = middle
    return after
