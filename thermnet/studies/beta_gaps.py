"""Which angles of a grid a scan over beta has to solve so as to miss nothing.

A gap between two neighbouring solved angles is halved as long as it can hold anything graver than
the gravest that was found. It can, where the lower bound of a margin within the gap does not lie
above the least margin found in any case. The bound assumes two things:

- within the gap the margin falls nowhere faster than `STEEP` times the steepest of the slopes from
  end to end of this gap and of the two beside it;
- even where these slopes are level, it dips at most `ROOM` below the lower end of the gap.

What would be missed is a dip between two angles of the first round, at most `COARSE` degrees wide,
that lies far above the least margin found at both its ends and falls below it in between.
Temperatures do turn sharply where a shadow edge comes or goes, and at 0, where faces change from
one side of the Sun to the other: therefore both sides of the one, and the other, are solved first.
A margin that is the same at every solved angle, within the accuracy of the solve, counts as the
same everywhere.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

import numpy as np

from thermnet.errors import InputError, Problem
from thermnet.physics.curves import Floats
from thermnet.studies.beta_points import Key, Point, graver

COARSE = 5.0
"""Degrees between the angles of the first round."""

ROOM = 0.5
"""K."""

STEEP = 2.0
"""Factor on slopes."""


def angles(low: float, high: float, step: float) -> tuple[float, ...]:
    """The multiples of `step` from `low` to `high`, and these two; all in deg.

    Raises InputError for angles that are none, or a step out of range.
    """
    if not -90.0 <= low <= high <= 90.0:
        message = f"expected angles from -90 to 90 in rising order, got {low:g} to {high:g}"
        raise InputError([Problem(message=message)])
    if not 0.01 <= step <= 180.0:
        message = f"expected a step from 0.01 to 180 degrees, got {step:g}"
        raise InputError([Problem(message=message)])
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    inside = [round(number * step, 9) + 0.0 for number in range(first, last + 1)]
    within = [angle for angle in inside if low + 1e-6 < angle < high - 1e-6]
    return tuple(sorted({low, *within, high}))


def first_round(grid: Sequence[float], edges: Callable[[float], int]) -> set[int]:
    """Places in a grid of angles [deg] that are solved first.

    `edges` says how many shadow edges the orbit has at an angle.
    """
    near = {round(COARSE * number, 9) for number in range(-18, 19)}
    places = {min(range(len(grid)), key=lambda k: abs(grid[k] - angle))
              for angle in near if grid[0] <= angle <= grid[-1]}  # fmt: skip
    places |= {0, len(grid) - 1}
    gaps = list(pairwise(sorted(places)))
    while gaps:
        low, high = gaps.pop()
        if edges(grid[low]) == edges(grid[high]):
            continue
        places |= {low, high}
        if high - low > 1:
            middle = (low + high) // 2
            gaps += [(low, middle), (middle, high)]
    return places


def least(points: Sequence[Point]) -> dict[Key, Point]:
    """The point at which each thing is gravest; of equals the first."""
    found: dict[Key, Point] = {}
    for point in points:
        for key in point.weights:
            if key not in found or graver(key, point, found[key]):
                found[key] = point
    return found


def spread(points: Sequence[Point], key: Key) -> float:
    """By how much a weight differs between the points that have it; inf where some have not."""
    solved = [point for point in points if not point.failure]
    weights = [point.weights[key] for point in solved if key in point.weights]
    return max(weights) - min(weights) if 0 < len(weights) == len(solved) else math.inf


def halved(
    grid: Sequence[float], solved: Mapping[int, Point], best: Mapping[Key, Point], accuracy: float
) -> set[int]:
    """Places in the grid of one case that are to be solved next; none when nothing is missed.

    `best` is the gravest found in any case; `accuracy` [K] is that of the solves.
    """
    places = sorted(place for place, point in solved.items() if not point.failure)
    points = [solved[place] for place in places]
    here = dict.fromkeys(key for point in points for key in point.weights)
    keys = [key for key in here if not spread(points, key) <= accuracy]
    if len(places) < 2 or not keys:
        return set()
    weights = np.array([[point.weights.get(key, math.nan) for key in keys] for point in points])
    # What governs by its verdict (a heater on too long) may be more than the least.
    bars = np.array([best[key].weights[key] for key in keys])
    width = np.diff(np.array(grid)[places])
    open_gaps = (_floors(weights, width) <= bars).any(axis=1) & (np.diff(places) > 1)
    middles = [(places[k] + places[k + 1]) // 2 for k in np.flatnonzero(open_gaps)]
    return {middle for middle in middles if middle not in solved}


def _floors(weights: Floats, width: Floats) -> Floats:
    """Lower bounds f8[p - 1, q] of q weights f8[p, q] in the gaps of `width` f8[p - 1] [deg].

    Where a weight is missing at one end of a gap, the other end stands for both.
    """
    before, after = weights[:-1], weights[1:]
    before, after = (np.where(np.isnan(before), after, before),
                     np.where(np.isnan(after), before, after))  # fmt: skip
    slope = np.nan_to_num(np.abs(after - before)) / width[:, None]
    edged = np.pad(slope, ((1, 1), (0, 0)))
    steepest = np.max([edged[:-2], edged[1:-1], edged[2:]], axis=0)
    by_slope = (before + after - STEEP * steepest * width[:, None]) / 2.0
    floor = np.minimum(by_slope, np.minimum(before, after) - ROOM)
    return np.where(np.isnan(floor), math.inf, floor)
