"""Histories on one common grid of instants."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from thermnet.network.parts import History
from thermnet.network.primitives import Floats, Histories, read_only


def common_grid(histories: Sequence[History], period: float = float("inf")) -> Histories:
    """Put histories onto one grid of instants, keeping both sides of every jump."""
    times = [history.time for history in histories]
    everything = np.unique(np.concatenate([np.zeros(1), *times]))
    if np.isfinite(period):
        if everything[0] < 0.0 or everything[-1] > period:
            raise ValueError(f"a history leaves its period of {period:g} s")
        everything = np.unique(np.append(everything, period))
    if not np.isfinite(period):
        everything = np.append(everything, everything[-1])  # for what comes after the last instant
    later = np.empty((len(everything), len(histories)))
    earlier = np.empty_like(later)
    for k, history in enumerate(histories):
        later[:, k] = _one_side(history, everything)
        earlier[:, k] = _one_side(
            History(time=-history.time[::-1], value=history.value[::-1]), -everything
        )
    if not np.isfinite(period):
        earlier[-1] = later[-1]
    return Histories(
        instants=read_only(everything),
        start=read_only(later[:-1].copy()),
        stop=read_only(earlier[1:].copy()),
        period=period,
    )


def _one_side(history: History, time: Floats) -> Floats:
    """Values with the later side at jumps. (Mirrored in time, the earlier side.)"""
    begin = np.searchsorted(history.time, time, side="right") - 1
    begin = np.clip(begin, 0, len(history.time) - 1)
    end = np.minimum(begin + 1, len(history.time) - 1)
    width = history.time[end] - history.time[begin]
    share = np.where(width > 0.0, (time - history.time[begin]) / np.where(width > 0, width, 1), 0.0)
    share = np.clip(share, 0.0, 1.0)
    return np.asarray(history.value[begin] + share * (history.value[end] - history.value[begin]))
