"""The stretches of a history between known instants, over which the heat balance is smooth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermnet.network.network import Network
from thermnet.network.primitives import Floats, Histories

SHARP = 0.1
"""Change of slope over the shorter piece, as a share of a history's largest value, at which to
stop and start again."""

MERGE = 1e-6
"""s within which two instants are one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """A stretch between known instants, `begin` to `end` [s] in local time.

    `offset` leads to the time of the solve. `bends` are the instants inside, in order, at which a
    history bends a little; no step of a method with a memory may be longer than `longest`, the
    shortest straight piece of any history inside.
    """

    offset: float
    begin: float
    end: float
    longest: float
    bends: Floats


def segments(network: Network, span: float) -> list[Segment]:
    """The stretches to integrate one by one: their ends are jumps, sharp bends and marks."""
    histories, period = network.histories, network.histories.period
    last = min(span, period)
    known = histories.instants[_sharp(histories)]
    edges = np.concatenate([known, network.instants, [0.0, last]])
    edges = np.unique(edges[(edges >= 0.0) & (edges <= last)])
    edges = edges[np.append(True, np.diff(edges) > MERGE)]
    instants = np.unique(np.concatenate([edges, histories.instants]))
    result = []
    for k in range(int(np.ceil(span / period - 1e-12)) if np.isfinite(period) else 1):
        offset = k * period if k else 0.0
        for begin, end in zip(edges[:-1], edges[1:], strict=True):
            stop = min(float(end), span - offset)
            if stop - begin > MERGE:
                pieces = np.diff(instants[(instants >= begin) & (instants <= end)])
                inside = (instants > begin + MERGE) & (instants < stop - MERGE)
                segment = Segment(
                    offset=offset,
                    begin=float(begin),
                    end=stop,
                    longest=float(pieces[pieces > MERGE].min(initial=end - begin)),
                    bends=instants[inside],
                )
                result.append(segment)
    return result


def _sharp(histories: Histories) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Instants at which a history jumps, or bends by more than a share of its whole range.

    Weaker bends, those of a tabulated smooth curve, only bound the step.
    """
    width = np.diff(histories.instants)[:, None]
    reach = np.maximum(np.abs(histories.start).max(axis=0), np.abs(histories.stop).max(axis=0))
    jump = np.abs(histories.start[1:] - histories.stop[:-1])
    slope = (histories.stop - histories.start) / np.where(width > 0.0, width, 1.0)
    bend = np.abs(np.diff(slope, axis=0)) * np.minimum(width[1:], width[:-1])
    inside = ((jump > 1e-12 * reach) | (bend > SHARP * reach)).any(axis=1)
    return np.concatenate([[True], inside, [True]])
