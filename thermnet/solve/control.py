"""Control of steps, for one number or an array alike: how long, how exact, what has switched.

Written so that a compiler of scalar code takes the same functions as they stand.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from thermnet.network.primitives import Floats

SAFETY = 0.85
"""Factor on the next step, so that few steps are tried in vain."""

GROWTH = 5.0
"""Largest factor from one step to the next; its inverse is the smallest."""

FIRST_CHANGE = 1000.0
"""Tolerances that the fastest node may move, at its first rate, in the first step of a stretch: a
method that damps what is fast would else step over its decay after a jump unseen."""

MASSLESS_SHARE = 0.1
"""Weight of the error at a massless node against that at one with capacity."""

NEXT_TIME = 1e-3
"""Share of a step over which the change of heat with time is taken; histories are straight."""

AT_CORNER = 0.95
"""Share of a step after which a corner of a curve may lie in it."""

CORNER_TRIES = 8
"""Most attempts to end a step at a corner."""

CLOSER = 1.02
"""A step in which something switches is taken again to this multiple of the time until then."""

ROSENBROCK_SHARE = 0.3
"""Local error tolerance of our own method at 0.01 K as a share of the accuracy asked for."""

USUAL_ACCURACY = 0.01
"""K. The heat balance of the interpolant gains less than the tolerance does, about its 3/4 power:
below this the tolerance goes with the 4/3 power of the accuracy, the balance then with itself."""

MOST_SWITCHINGS = 200_000
"""Switchings in a history after which a thermostat is told to be too narrow."""

COLDEST, HOTTEST = 0.01, 5000.0
"""K between which iterates of Newton's method are kept."""

PLAIN_MOVE = 0.1
"""Share of a temperature up to which a Newton step is applied to T, beyond it to T^4."""


def tolerance_for(accuracy: float) -> float:
    """Local error tolerance [K] of our own method that keeps a stated accuracy [K]."""
    finer = min(accuracy / USUAL_ACCURACY, 1.0) ** (1.0 / 3.0)
    return float(accuracy * finer * ROSENBROCK_SHARE)


def first_width(before: float, left: float, fastest: float, tolerance: float, now: float) -> float:
    """First step of a stretch [s]; `before` is the last one's wish, zero or less where none is.

    `left` [s] remain; the fastest node moves at `fastest` [K/s].
    """
    limit = FIRST_CHANGE * tolerance / max(fastest, 1e-30)
    limit = max(limit, 1e-9 * max(abs(now), 1.0))
    return min(before if before > 0.0 else left, limit)


def tried_width(wish: float, left: float) -> float:
    """Step to try [s] with `left` [s] to a stop: all of it, half of it, or what is wished."""
    if wish >= 0.999 * left:
        return left
    return min(wish, 0.5 * left)


def vanishing(width: float, now: float) -> bool:
    """Whether a step no longer changes the time."""
    return width < 1e-12 * max(abs(now), 1.0)


def lapse_for(width: float, now: float) -> float:
    """Time [s] over which the change of heat with time is taken."""
    return max(NEXT_TIME * width, 1e-8 * max(abs(now), 1.0))


def width_factor(error: float, order: int) -> float:
    """Factor on the step from its scaled error, that of a method of this order."""
    return float(min(max(SAFETY * error ** (-1.0 / order), 1.0 / GROWTH), GROWTH))


def following_width(wish: float, width: float, factor: float) -> float:
    """Next step to wish for after one of `width` [s].

    A step cut short by a stop or a corner tells little about the next one.
    """
    return max(wish, width * factor) if width < wish else width * factor


def small_move(old: Any, step: Any) -> Any:
    """Whether a Newton step is small enough to be applied to T, else it goes to T^4."""
    return np.abs(step) < PLAIN_MOVE * old


def moved_by_power(old: Any, step: Any) -> Any:
    """Apply a Newton step to T^4 (the linear system is the same)."""
    return old * np.maximum(1.0 + 4.0 * step / old, 1e-4) ** 0.25


def kept_between(temperature: Any) -> Any:
    """The temperature, or the coldest or hottest that iterates may have."""
    return np.minimum(np.maximum(temperature, COLDEST), HOTTEST)


def moved(old: Floats, step: Floats) -> Floats:
    """Apply a Newton step to T where it is small, to T^4 where it is large (same linear system)."""
    new = np.where(small_move(old, step), old + step, moved_by_power(old, step))
    return np.asarray(kept_between(new))


def switched(sensed: Any, on: Any, off: Any, before: Any) -> Any:
    """Thermostat state with hysteresis: 1 at or below `on`, 0 at or above `off`, else as before."""
    return np.maximum(1.0 * (sensed <= on), before * (1.0 - 1.0 * (sensed >= off)))


def stuck(names: Any, temperature: Any, time: float, message: str | None) -> str:
    """Why an integrator stopped at `time` [s], for the nodes with capacity by name and f8[n]."""
    wild = int(np.argmax(np.where(np.isfinite(temperature), np.abs(temperature), np.inf)))
    return (
        f"the integrator stopped at {time:.6g} s ({message or 'no finite temperature'}); "
        f"largest temperature {temperature[wild]:.4g} K at '{names[wild]}'; "
        "look for a jump without an instant or a very steep curve there"
    )


def restless(most: int, time: float) -> str:
    """Why an integrator gave up at `time` [s] after `most` switchings."""
    return (
        f"more than {most} switchings by {time:.6g} s: "
        "a thermostat band is too narrow for its heater's power; widen the band"
    )
