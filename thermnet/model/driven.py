"""Amplitudes that follow a history, and what becomes of two of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from thermnet.model.histories import mean
from thermnet.network.grid import common_grid
from thermnet.network.parts import History
from thermnet.network.primitives import Floats, Histories


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Driven:
    """`amplitude x history(t)`; without a history it is constant."""

    amplitude: float
    history: History | None = None

    @property
    def mean(self) -> float:
        """The mean over its history, from 0 to its last instant."""
        if self.history is None:
            return self.amplitude
        return self.amplitude * mean(self.history, float(self.history.time[-1]))


def product(one: Driven, other: Driven) -> Driven:
    """One times another, on the instants of both; jumps stay."""
    amplitude = one.amplitude * other.amplitude
    if one.history is None or other.history is None:
        return Driven(amplitude=amplitude, history=one.history or other.history)
    grid = common_grid([one.history, other.history])
    joint = _joined(grid, grid.start.prod(axis=1), grid.stop.prod(axis=1))
    return Driven(amplitude=amplitude, history=joint.history)


def spliced(parts: Sequence[Driven], edges: Floats) -> Driven:
    """The first of k parts from edges[0] to edges[1] [s], then the second, and so on."""
    times: list[Floats] = []
    values: list[Floats] = []
    for part, begin, end in zip(parts, edges[:-1], edges[1:], strict=True):
        time, value = np.array([begin, end]), np.ones(2)
        if part.history is not None:
            known = part.history
            inside = (known.time > begin) & (known.time < end)
            first = _at(known, begin, later=True)
            last = _at(known, end, later=False)
            time = np.concatenate([[begin], known.time[inside], [end]])
            value = np.concatenate([[first], known.value[inside], [last]])
        times.append(time)
        values.append(part.amplitude * value)
    return Driven(amplitude=1.0, history=_shortened(np.concatenate(times), np.concatenate(values)))


def _at(history: History, instant: float, *, later: bool) -> float:
    """The value at an instant, on one side of a jump there; beyond the ends the nearest."""
    time, value = history.time, history.value
    if later:
        before = int(np.searchsorted(time, instant, side="right")) - 1
        after = before + 1
    else:
        after = int(np.searchsorted(time, instant, side="left"))
        before = after - 1
        if after < len(time) and time[after] == instant:
            before = after
    if before < 0 or after >= len(time):
        return float(value[0 if before < 0 else -1])
    width = time[after] - time[before]
    share = (instant - time[before]) / width if width > 0.0 else 0.0
    return float(value[before] + share * (value[after] - value[before]))


def _joined(grid: Histories, start: Floats, stop: Floats) -> Driven:
    """The history that goes from `start` to `stop` f8[k] in each piece of a grid."""
    # The last piece of such a grid has no length: it is for what comes after.
    ends = np.append(np.stack([grid.instants[:-2], grid.instants[1:-1]], axis=1), grid.instants[-1])
    value = np.append(np.stack([start[:-1], stop[:-1]], axis=1), start[-1])
    return Driven(amplitude=1.0, history=_shortened(ends, value))


def _shortened(time: Floats, value: Floats) -> History:
    """A history without the points that repeat the one before."""
    again = np.append(False, (np.diff(time) == 0.0) & (np.diff(value) == 0.0))
    return History(time=time[~again], value=value[~again])
