"""Points over time as piecewise linear histories: steps written out, periods unrolled, means.

A history may be of many quantities with the same instants, values f8[k, m]; then so is what comes
of it, and their means are f8[m].
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from thermnet.network.parts import History
from thermnet.network.primitives import Floats

Shape = Literal["linear", "steps"]
"""`linear` joins the points, `steps` holds each value until the next instant."""


FIT = 1e-3
"""s by which periods, and the last instant of one, may miss each other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """The time of a case: its `span` [s], 0 when steady, whether it repeats, its orbit's period."""

    span: float = 0.0
    repeating: bool = False
    orbit: float | None = None


def joined(time: Floats, value: Floats, shape: Shape, period: float | None) -> History:
    """Points f8[k] [s] and f8[k] or f8[k, m] as a history; over all of the period, if there is one.

    Before the first instant of a period and after the last one the nearest value holds; steps hold
    the last value of the turn before until the first instant.
    """
    if period is not None:
        time = np.minimum(time, period)  # what is written may miss it by rounding
    if shape == "steps":
        time = np.concatenate([time[:1], np.repeat(time[1:], 2)])
        value = np.concatenate([np.repeat(value[:-1], 2, axis=0), value[-1:]])
    if period is not None:
        if time[-1] < period:
            time, value = np.append(time, period), np.concatenate([value, value[-1:]])
        if time[0] > 0.0 and shape == "steps":
            time = np.concatenate([[0.0], time[:1], time])
            value = np.concatenate([value[-1:], value[-1:], value])
        elif time[0] > 0.0:
            time, value = np.append(0.0, time), np.concatenate([value[:1], value])
    return History(time=time, value=value)


def unrolled(history: History, period: float | None, span: float) -> History:
    """A history of one period [s], repeated from 0 to `span` [s]; itself where none repeats."""
    if period is None or period >= span:
        return history
    turns = int(np.ceil(span / period - 1e-9))
    start = np.arange(turns + 1)[:, None] * period
    # Where one turn ends the next begins, whatever the last digit of a sum says.
    time = np.minimum(history.time + start[:-1], start[1:])
    time = np.where(history.time == period, start[1:], time).ravel()
    value = np.concatenate([history.value] * turns)
    # A jump at the end of a turn goes on to the beginning of the next: only its two sides count.
    between = np.zeros(len(time), dtype=bool)
    between[1:-1] = time[2:] == time[:-2]
    return History(time=time[~between], value=value[~between])


def means(history: History, end: float) -> Floats:
    """Time means f8[] or f8[m] over 0 to `end` [s]; at 0 the first value."""
    time, value = history.time, history.value
    if end == 0.0:
        return np.asarray(value[0])
    time = np.concatenate([[min(0.0, time[0])], time, [end]])
    value = np.concatenate([value[:1], value, value[-1:]])
    widths = np.diff(np.clip(time, 0.0, end))
    return np.asarray(np.tensordot(widths, value[1:] + value[:-1], 1) / (2.0 * end))


def mean(history: History, end: float) -> float:
    """Time mean of a history of one quantity over 0 to `end` [s]; at 0 the first value."""
    return float(means(history, end))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Repeated:
    """A schedule in a case: its history, and the period [s] after which it repeats, if any."""

    once: History
    period: float | None = None

    def history(self, span: float) -> History:
        """From 0 to `span` [s], the period unrolled."""
        return unrolled(self.once, self.period, span)

    def mean(self, span: float) -> float:
        """Time mean over the period, or over 0 to `span` [s] without one; the first value at 0."""
        return mean(self.once, self.period or span)
