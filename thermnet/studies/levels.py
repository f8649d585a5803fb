"""At which calculated temperature a predicted one reaches a limit: the allowance turned round."""

from __future__ import annotations

import numpy as np

from thermnet.allowance import allowance
from thermnet.margins import Side
from thermnet.model.kinds.component import Band, Component
from thermnet.network.primitives import Flags, Floats
from thermnet.results import Result
from thermnet.states import holder

BEYOND = 1e-6
"""K past a limit at which it is left, so that what rests on its limit has not left it."""

WARM = 1000.0
"""K, where allowances that depend on the temperature are at their largest."""


def level_of(result: Result, component: Component, side: Side, limit: float) -> float:
    """The calculated temperature [K] at which the predicted one reaches a limit from inside.

    Where the allowance depends on the temperature it grows with it, so that the last of several
    such temperatures is found from above, and the first from below by halving.
    """

    def extra(calculated: float) -> float:
        policy = result.model.settings.uncertainty
        return allowance(policy, component.uncertainty, calculated, side)

    if side == "cold":
        level = limit + extra(WARM)
        while (lower := limit + extra(level)) < level:
            level = lower
        return level
    below, above = limit - extra(limit), limit
    if below + extra(below) >= limit:
        return below
    while above - below > BEYOND:
        middle = 0.5 * (below + above)
        below, above = (below, middle) if middle + extra(middle) >= limit else (middle, above)
    return above


def levels_of(
    result: Result, component: Component, side: Side, limit: float, where: Flags
) -> Floats:
    """In each segment the calculated temperature [K] at which the predicted one is at a limit."""
    level = level_of(result, component, side, limit)
    levels = np.full(len(where), level)
    if side == "cold" and component.held_by is not None:
        middles = result.solution.extremes.edges.mean(axis=1)
        for segment in np.flatnonzero(where):
            instant = float(middles[segment])
            if holder(result, component, instant=instant, limit=limit) is not None:
                levels[segment] = limit
    return levels


def narrowed(result: Result, component: Component, band: Band, instant: float) -> Band:
    """A band without the allowance on both sides."""
    held = holder(result, component, instant=instant, limit=band[0]) is not None
    low = band[0] if held else level_of(result, component, "cold", band[0])
    return low, level_of(result, component, "hot", band[1])
