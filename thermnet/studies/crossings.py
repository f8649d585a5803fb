"""The first instant at which a history does something, on the interpolant of the solver's steps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from thermnet.network.primitives import Flags, Floats
from thermnet.solve.solution import Solution
from thermnet.solve.steps import LOBATTO, lagrange

LOOKS = np.linspace(0.0, 1.0, 17)
"""Shares of a step at which to look, before the instant itself is located between two of them."""

AT_LOOKS = lagrange(LOOKS)
"""The interpolant at these shares, from the samples of a step."""

CLOSE = 1e-6
"""s within which an instant is located."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """Steps of a history from some instant on, s of them.

    `begin` and `end` f8[s] are their instants [s], `temperature` f8[s, 5, n] [K] the samples of
    each at its Lobatto points, `segment` i8[s] the segment of the solution that it lies in.
    """

    begin: Floats
    end: Floats
    temperature: Floats
    segment: np.ndarray[tuple[int, ...], np.dtype[np.int64]]

    def at(self, instant: float) -> Floats:
        """Temperatures f8[n] [K] at an instant [s], after a jump where there is one."""
        last = len(self.begin) - 1
        step = min(max(int(np.searchsorted(self.begin, instant, side="right")) - 1, 0), last)
        share = (instant - self.begin[step]) / (self.end[step] - self.begin[step])
        return np.asarray(lagrange(np.array([min(share, 1.0)]))[0] @ self.temperature[step])


def track_from(solution: Solution, since: float) -> Track:
    """The steps of a history from an instant [s] on; the one that holds it is cut there.

    The cut step is the same polynomial, sampled anew. Raises ValueError for an instant that is not
    before the end of the history.
    """
    samples = len(LOBATTO)
    time = solution.record.time.reshape(-1, samples)
    begin, end, middle = time[:, 0], time[:, -1], time[:, samples // 2]
    kept = end > since
    if not kept.any():
        raise ValueError(f"nothing of the history lies after {since:g} s")
    temperature = solution.record.temperature.reshape(len(time), samples, -1)[kept].copy()
    begin, end = begin[kept].copy(), end[kept]
    if begin[0] < since:
        share = (since - begin[0]) / (end[0] - begin[0])
        temperature[0] = lagrange(share + (1.0 - share) * LOBATTO) @ temperature[0]
        begin[0] = since
    edges = solution.extremes.edges
    segment = np.minimum(np.searchsorted(edges[:, 1], middle[kept]), len(edges) - 1)
    return Track(begin=begin, end=end, temperature=temperature, segment=segment)


Excess = Callable[[Floats, int], Floats]
"""From temperatures f8[..., nodes] [K] in a segment to f8[...], above zero where it has come."""


def first(track: Track, nodes: list[int], excess: Excess, where: Flags) -> float:
    """The first instant [s] at which `excess` is above zero; infinite where it never is.

    Only segments `where` (one flag for each) are searched. What goes above zero and comes back
    between two looks, a sixteenth of a step apart, is not seen.
    """
    for segment in np.unique(track.segment):
        if not where[segment]:
            continue
        steps = np.flatnonzero(track.segment == segment)
        looks = np.einsum("lk,skn->sln", AT_LOOKS, track.temperature[steps][:, :, nodes])
        above = excess(looks, int(segment)) > 0.0
        if above.any():
            step = int(above.any(axis=1).argmax())
            look = int(above[step].argmax())
            return _located(track, int(steps[step]), look, nodes, excess)
    return float("inf")


def _located(track: Track, step: int, look: int, nodes: list[int], excess: Excess) -> float:
    """The instant [s] between a look and the one before it, by halving."""
    begin, width = float(track.begin[step]), float(track.end[step] - track.begin[step])
    samples, segment = track.temperature[step][:, nodes], int(track.segment[step])
    below, above = float(LOOKS[max(look - 1, 0)]), float(LOOKS[look])
    while (above - below) * width > CLOSE:
        middle = 0.5 * (below + above)
        if excess(lagrange(np.array([middle])) @ samples, segment)[0] > 0.0:
            above = middle
        else:
            below = middle
    return begin + above * width
