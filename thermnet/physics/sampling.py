"""Instants at which a smooth function is recorded, so that straight lines between them suffice."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from thermnet.physics.curves import Floats

Function = Callable[[Floats], Floats]
"""Values f8[j,n] at instants f8[j]."""

Judged = Callable[[Floats], Floats]
"""Values f8[j,n] -> the f8[j,p] whose accuracy counts."""

Flags = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]

INSET = 1e-6
"""Seconds inside a stretch at which its ends are evaluated: on the right side of a jump."""

PIECES = 24
"""Pieces of the whole span to begin with, at least two in every stretch."""

SHORTEST = 1e-6
"""Share of the span below which an interval is not halved."""

SAME = 1e-6
"""Share of a column's peak below which two values at an edge are no jump."""

CAUTION = 0.5
"""Share of the tolerance that a peak may be short by its parabola, which is an estimate."""

LARGEST = 0.125
"""Share of a column's magnitude that a single interval may hold."""

NOTHING = 1e-12
"""Share of the largest peak below which a column asks for nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Samples:
    """Instants `time` f8[k] [s] and `value` f8[k,n]; lines between; a repeated instant jumps."""

    time: Floats
    value: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class _Intervals:
    """Intervals in order: their ends f8[m], and values f8[m,n] at first, middle and last."""

    start: Floats
    end: Floats
    first: Floats
    middle: Floats
    last: Floats

    def width(self) -> Floats:
        return np.asarray(self.end - self.start)[:, np.newaxis]

    def lines(self) -> Floats:
        """Integrals f8[m,n] of the straight lines (trapezoid rule)."""
        return np.asarray(self.width() * (self.first + self.last) / 2.0)

    def parabolas(self) -> Floats:
        """Integrals f8[m,n] of the parabolas through the three values (Simpson's rule)."""
        return np.asarray(self.width() * (self.first + 4.0 * self.middle + self.last) / 6.0)

    def amounts(self) -> Floats:
        """Integrals f8[m,n] of the magnitude (Simpson's rule)."""
        ends = np.abs(self.first) + np.abs(self.last)
        return np.asarray(self.width() * (ends + 4.0 * np.abs(self.middle)) / 6.0)

    def as_(self, judged: Judged) -> _Intervals:
        """The same intervals of other quantities."""
        return replace(
            self,
            first=judged(self.first),
            middle=judged(self.middle),
            last=judged(self.last),
        )

    def recorded_peak(self) -> Floats:
        """Largest magnitude f8[n] among the recorded values."""
        first, last = np.abs(self.first).max(axis=0), np.abs(self.last).max(axis=0)
        return np.asarray(np.maximum(first, last))


def sample(
    function: Function, edges: Floats, tolerance: float, *, judged: Judged | None = None
) -> Samples:
    """Record `function` so finely that straight lines hold its integral and its peak.

    function: instants f8[j] [s] -> values f8[j,n], smooth between the `edges` f8[m], in order; the
    first and the last edge are the ends. At an edge it may jump: it is evaluated a microsecond
    inside either stretch and recorded at the edge, twice where it jumps. So an edge must lie
    within a microsecond of the jump. Edges nearer together than four of these count as one.

    For each column, straight lines between the instants then hold
    - its integral within `tolerance` (a share, 0..1) of the integral of its magnitude: intervals
      are halved until the differences between Simpson's and the trapezoid rule sum to less;
    - its peak magnitude within `tolerance`, judged with some caution by the parabola through the
      ends and the middle of an interval (the peak may fall between them). A peak narrower than a
      24th of the span at half its height may be off by half as much again.
    An interval is halved only where its difference (or that of its neighbours) exceeds the average
    that is allowed, or where the peak is, so that a kink is not chased; and never below a millionth
    of the span. Values are scaled at last, column by column and by at most the tolerance, so
    that the lines have the integral of Simpson's rule: for a smooth function its error falls as
    the square of the tolerance, that of the peak as the tolerance. One factor serves the whole
    column, so that zeros and signs stay, and nothing comes to jump. A column below 1e-12 of the
    largest asks for nothing.

    `judged` turns values f8[j,n] into f8[j,p] quantities, linear in them, whose accuracy counts
    instead of that of the columns.

    These are estimates, not bounds. Each stretch is first looked at in pieces of a 24th of the
    span, and their middles: what lasts less than a 48th, away from edges, may be missed. No
    interval is left with more than an eighth of a column, so that short heat is looked at closely.

    Sources: trapezoid and Simpson's rule, their difference as the error of the former (textbook).
    Raises ValueError for edges that do not increase to a span, a tolerance outside 0..1, or values
    that are not finite or not f8[j,n].
    """
    edges = _distinct(np.asarray(edges, dtype=np.float64))
    if not 0.0 < tolerance < 1.0:
        raise ValueError("the tolerance of sampling is a share: above 0 and below 1")
    shortest = SHORTEST * (edges[-1] - edges[0])
    intervals = _begin(function, edges)
    while True:
        halved = _insufficient(intervals if judged is None else intervals.as_(judged), tolerance)
        halved &= intervals.end - intervals.start >= 2.0 * shortest
        if not halved.any():
            return _record(intervals, tolerance)
        intervals = _halve(function, intervals, halved)


def _distinct(edges: Floats) -> Floats:
    """The edges without those too near to the one before; the first and the last stay."""
    if edges.ndim != 1 or not np.isfinite(edges).all() or (np.diff(edges) < 0.0).any():
        raise ValueError("the edges of sampling must be finite instants in order")
    kept = list(edges[:1])
    for edge in edges[1:]:
        if edge - kept[-1] >= 4.0 * INSET:
            kept.append(edge)
    if len(kept) < 2:
        raise ValueError("sampling needs two edges, more than a few microseconds apart")
    kept[-1] = edges[-1]
    return np.array(kept)


def _evaluate(function: Function, time: Floats) -> Floats:
    values = np.asarray(function(time), dtype=np.float64)
    if values.ndim != 2 or len(values) != len(time):
        raise ValueError("what is sampled must give a row of values for each instant")
    if not np.isfinite(values).all():
        raise ValueError("what is sampled must give finite values")
    return values


def _begin(function: Function, edges: Floats) -> _Intervals:
    """Equal pieces of every stretch, two at least: the middle of one alone shows no S-curve."""
    share = np.diff(edges) / (edges[-1] - edges[0])
    counts = np.maximum(np.ceil(PIECES * share * (1.0 - 1e-9)).astype(int), 2)
    stretches = zip(edges[:-1], edges[1:], counts, strict=True)
    points = [np.linspace(start, end, count + 1) for start, end, count in stretches]
    start = np.concatenate([stretch[:-1] for stretch in points])
    end = np.concatenate([stretch[1:] for stretch in points])
    middle = (start + end) / 2.0
    opens, closes = np.isin(start, edges), np.isin(end, edges)
    asked = np.concatenate([start + INSET * opens, middle, (end - INSET)[closes]])
    values = _evaluate(function, asked)
    first, at_middle, at_edge = np.split(values, [len(start), 2 * len(start)])
    last = np.roll(first, -1, axis=0)
    last[closes] = at_edge
    return _Intervals(start=start, end=end, first=first, middle=at_middle, last=last)


def _insufficient(intervals: _Intervals, tolerance: float) -> Flags:
    """Which intervals bool[m] are to be halved."""
    peak = np.maximum(intervals.recorded_peak(), np.abs(intervals.middle).max(axis=0))
    asking = peak > NOTHING * peak.max(initial=0.0)
    difference = np.abs(intervals.parabolas() - intervals.lines())
    amounts = intervals.amounts()
    amount = amounts.sum(axis=0)
    allowed = tolerance * amount
    expected = _with_neighbours(difference, intervals.width())
    coarse = (expected > allowed / len(difference)) & (difference.sum(axis=0) > allowed)
    # In one interval a kink and a bend may cancel; a short piece of heat must not rest on that.
    coarse |= amounts > LARGEST * amount
    peaks = _peaks(intervals)
    recorded = intervals.recorded_peak() * _factors(intervals, tolerance)
    missed = peaks - recorded > CAUTION * tolerance * np.maximum(peak, peaks.max(axis=0))
    # A peak at a recorded instant is short of itself only by the factor, which is within tolerance.
    missed &= peaks > intervals.recorded_peak()
    return np.asarray(((coarse | missed) & asking).any(axis=1))


def _with_neighbours(difference: Floats, width: Floats) -> Floats:
    """Differences f8[m,n], or what they would be were the function bent as beside the interval.

    Where a bend changes its sign the difference is small by chance; an interval left wide there
    would spoil the order of Simpson's rule.
    """
    bend = difference / width**3
    strongest = bend.copy()
    strongest[1:] = np.maximum(strongest[1:], bend[:-1])
    strongest[:-1] = np.maximum(strongest[:-1], bend[1:])
    return np.asarray(strongest * width**3)


def _peaks(intervals: _Intervals) -> Floats:
    """Largest magnitude f8[m,n] that the parabola through the three values reaches inside."""
    sign = np.sign(intervals.middle)
    half_rise = sign * (intervals.last - intervals.first) / 2.0
    bend = sign * (2.0 * intervals.middle - intervals.first - intervals.last)
    inside = bend > np.abs(half_rise)
    return np.abs(intervals.middle) + np.where(
        inside, half_rise**2 / (2.0 * np.where(inside, bend, 1.0)), 0.0
    )


def _factors(intervals: _Intervals, tolerance: float) -> Floats:
    """Factors f8[n] that give the lines the integral of the parabolas; 1 where it is not so near.

    It is near once a column of one sign is sampled enough; a column whose signs cancel may never
    be, and its integral says nothing about its size.
    """
    lines = intervals.lines().sum(axis=0)
    parabolas = intervals.parabolas().sum(axis=0)
    near = (np.abs(parabolas - lines) <= tolerance * np.abs(parabolas)) & (lines != 0.0)
    return np.asarray(np.where(near, parabolas / np.where(near, lines, 1.0), 1.0))


def _halve(function: Function, intervals: _Intervals, halved: Flags) -> _Intervals:
    """The intervals with some halved; only the middles of the halves are evaluated."""
    start, end = intervals.start[halved], intervals.end[halved]
    between = (start + end) / 2.0
    values = _evaluate(function, np.concatenate([(start + between) / 2.0, (between + end) / 2.0]))
    left, right = np.split(values, 2)
    middle = intervals.middle[halved]
    kept = ~halved
    starts = np.concatenate([intervals.start[kept], start, between])
    order = np.argsort(starts)
    return _Intervals(
        start=starts[order],
        end=np.concatenate([intervals.end[kept], between, end])[order],
        first=np.concatenate([intervals.first[kept], intervals.first[halved], middle])[order],
        middle=np.concatenate([intervals.middle[kept], left, right])[order],
        last=np.concatenate([intervals.last[kept], middle, intervals.last[halved]])[order],
    )


def _record(intervals: _Intervals, tolerance: float) -> Samples:
    """First values of all intervals, and last ones where the next does not begin with the same."""
    peak = intervals.recorded_peak()
    same = np.maximum(SAME * peak, NOTHING * peak.max(initial=0.0))
    jumps = (np.abs(intervals.last[:-1] - intervals.first[1:]) > same).any(axis=1)
    jumps = np.append(jumps, True)  # the end itself is recorded
    time = np.concatenate([intervals.start, intervals.end[jumps]])
    value = np.concatenate([intervals.first, intervals.last[jumps]])
    # At a jump the end of the stretch before comes first.
    begins = np.append(np.ones(len(intervals.start)), np.zeros(int(jumps.sum())))
    order = np.lexsort((begins, time))
    return Samples(time=time[order], value=value[order] * _factors(intervals, tolerance))
