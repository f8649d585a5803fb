"""Histories on one common grid of instants."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from thermnet.network.parts import History
from thermnet.network.primitives import Floats, Histories, read_only

MOST_VALUES = 100_000_000
"""Values of histories on their common grid above which they are refused, as too many to hold."""


def common_grid(
    histories: Sequence[History], period: float = float("inf"), until: float | None = None
) -> Histories:
    """Put histories onto one grid of instants, keeping both sides of every jump.

    With `until` [s] the grid ends there, so that means are over the time that is solved.
    A history of many takes as many columns. Raises ValueError for instants outside the period,
    and for more than `MOST_VALUES` values.
    """
    times = [history.time for history in histories]
    everything = np.unique(np.concatenate([np.zeros(1), *times]))
    if np.isfinite(period):
        if everything[0] < 0.0 or everything[-1] > period:
            raise ValueError(f"a history leaves its period of {period:g} s")
        everything = np.unique(np.append(everything, period))
    if until is not None:
        everything = np.append(everything[everything < until], until)
    if not np.isfinite(period):
        everything = np.append(everything, everything[-1])  # for what comes after the last instant
    widths = [1 if history.value.ndim == 1 else history.value.shape[1] for history in histories]
    edges = np.concatenate([[0], np.cumsum(widths)]).astype(int).tolist()
    if len(everything) * edges[-1] > MOST_VALUES:
        raise ValueError(
            f"{edges[-1]} histories with {len(everything)} instants between them are too many to "
            "hold; give those of one table the same instants"
        )
    later = np.empty((len(everything), edges[-1]))
    earlier = np.empty_like(later)
    for history, begin, end in zip(histories, edges, edges[1:], strict=False):
        values = history.value.reshape(len(history.time), -1)
        later[:, begin:end] = _one_side(history.time, values, everything)
        earlier[:, begin:end] = _one_side(-history.time[::-1], values[::-1], -everything)
    if not np.isfinite(period):
        earlier[-1] = later[-1]
    return Histories(
        instants=read_only(everything),
        start=read_only(later[:-1].copy()),
        stop=read_only(earlier[1:].copy()),
        period=period,
    )


def _one_side(known: Floats, values: Floats, time: Floats) -> Floats:
    """Values f8[q, m] of f8[k, m] with the later side at jumps. (Mirrored in time, the earlier.)"""
    begin = np.searchsorted(known, time, side="right") - 1
    begin = np.clip(begin, 0, len(known) - 1)
    end = np.minimum(begin + 1, len(known) - 1)
    width = known[end] - known[begin]
    share = np.where(width > 0.0, (time - known[begin]) / np.where(width > 0, width, 1), 0.0)
    share = np.clip(share, 0.0, 1.0)[:, None]
    return np.asarray(values[begin] + share * (values[end] - values[begin]))
