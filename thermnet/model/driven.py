"""Amplitudes that follow a history, and what becomes of two of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from thermnet.network.grid import common_grid
from thermnet.network.parts import History
from thermnet.network.primitives import Floats, Histories


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Driven:
    """`amplitude x history(t)`; without a history it is constant."""

    amplitude: float
    history: History | None = None


def product(one: Driven, other: Driven) -> Driven:
    """One times another, on the instants of both; jumps stay."""
    amplitude = one.amplitude * other.amplitude
    if one.history is None or other.history is None:
        return Driven(amplitude=amplitude, history=one.history or other.history)
    grid = common_grid([one.history, other.history])
    joint = _joined(grid, grid.start.prod(axis=1), grid.stop.prod(axis=1))
    return Driven(amplitude=amplitude, history=joint.history)


def total(several: Sequence[Driven]) -> Driven:
    """The sum of several, on the instants of all; jumps stay."""
    constant = sum((each.amplitude for each in several if each.history is None), 0.0)
    changing = [each for each in several if each.history is not None]
    if not changing:
        return Driven(amplitude=constant)
    grid = common_grid([each.history for each in changing if each.history is not None])
    amplitudes = np.array([each.amplitude for each in changing])
    return _joined(grid, grid.start @ amplitudes + constant, grid.stop @ amplitudes + constant)


def _joined(grid: Histories, start: Floats, stop: Floats) -> Driven:
    """The history that goes from `start` to `stop` f8[k] in each piece of a grid."""
    # The last piece of such a grid has no length: it is for what comes after.
    ends = np.append(np.stack([grid.instants[:-2], grid.instants[1:-1]], axis=1), grid.instants[-1])
    value = np.append(np.stack([start[:-1], stop[:-1]], axis=1), start[-1])
    again = np.append(False, (np.diff(ends) == 0.0) & (np.diff(value) == 0.0))
    return Driven(amplitude=1.0, history=History(time=ends[~again], value=value[~again]))
