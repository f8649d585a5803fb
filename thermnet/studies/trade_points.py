"""What one value of a trade comes to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermnet.account import account
from thermnet.blankets import mean_difference
from thermnet.margins import Margin, margins
from thermnet.model.kinds.blanket_entry import Blanket
from thermnet.network.network import flows
from thermnet.network.subset import subset
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.results import Result
from thermnet.studies.holding import Held

NOTHING = float("nan")


@dataclass(frozen=True, slots=True, kw_only=True)
class TradePoint:
    """What one value comes to; NaN stands where a case could not be solved.

    `emittance` is the effective emittance of the blanket as solved in the cold case, NaN without a
    blanket and where `effective_emittance` tells none. `needed` and `peak` [W] are the mean and the
    greatest heater power in the cold case; where none is needed, `by_itself` [K] is the lowest
    temperature of the component without it. `hottest` [K] is the calculated temperature in the hot
    case and `margin` the gravest one of its hot side, None where no band is judged. `failure` says
    what was not solved, `open_accounts` in which cases the energy account does not close.
    """

    value: float
    emittance: float = NOTHING
    needed: float = NOTHING
    peak: float = NOTHING
    by_itself: float | None = None
    hottest: float = NOTHING
    margin: Margin | None = None
    failure: str = ""
    open_accounts: tuple[str, ...] = ()


def point_of(
    value: float,
    held: Held,
    free: Result | None,
    warm: Result,
    *,
    component: str,
    node: str,
    blanket: str,
) -> TradePoint:
    """What one value comes to.

    `held` is the cold case with the node of the component held, `free` the same left to itself, for
    where no power is needed; `warm` is the hot case.
    """
    failures, unclosed = [], []
    needed = peak = emittance = hottest = NOTHING
    by_itself = margin = None
    if held.solution.failure:
        failures.append(f"{held.plan.name}: {held.solution.failure}")
    else:
        needed, peak = held.mean, held.peak
        emittance = effective_emittance(held, blanket) if blanket else NOTHING
        if not account(held.network, held.solution).closes:
            unclosed.append(held.plan.name)
    if free is not None and free.solution.failure:
        failures.append(f"{free.case} without a heater: {free.solution.failure}")
    elif free is not None:
        place = free.network.index(node)
        by_itself = float(free.solution.extremes.lowest[:, place].min())
    if warm.solution.failure:
        failures.append(f"{warm.case}: {warm.solution.failure}")
    else:
        margin = _hot_margin(warm, component)
        place = warm.network.index(node)
        hottest = float(warm.solution.extremes.highest[:, place].max())
        if not account(warm.network, warm.solution).closes:
            unclosed.append(warm.case)
    return TradePoint(
        value=value,
        emittance=emittance,
        needed=needed,
        peak=peak,
        by_itself=by_itself,
        hottest=hottest if margin is None else margin.calculated,
        margin=margin,
        failure="; ".join(failures),
        open_accounts=tuple(unclosed),
    )


def _hot_margin(result: Result, component: str) -> Margin | None:
    """The gravest margin of a component to the upper end of a band."""
    found = (
        margin
        for margin in margins(result)
        if margin.component == component
        and (margin.side, margin.quantity) == ("hot", "temperature")
    )
    return next(found, None)


def effective_emittance(held: Held, blanket: str) -> float:
    """All heat that leaves the covered node through a blanket over A sigma (T_from^4 - T_to^4).

    Both by their means over time. NaN where the two temperatures are the same, where the difference
    mostly cancels over time, and where the heat flows against it: then the heat does not follow
    from the mean difference, and the ratio says nothing of the blanket.
    """
    entry = held.model.entries(Blanket, "blankets")[blanket]
    network, record, path = held.network, held.solution.record, f"blankets.{blanket}"
    own = [each == path or each.startswith(f"{path}.") for each in network.origins]
    covered, face = network.index(entry.from_), network.index(entry.to)
    links, chosen = network.links, np.array(own, dtype=bool)
    few = subset(network, links=chosen[links.origin])
    outward = np.where(few.links.a == covered, 1.0, np.where(few.links.b == covered, -1.0, 0.0))
    through = flows(few, record.temperature, record.local_time) @ outward
    heat = float(record.weight @ through / record.weight.sum())
    driving = mean_difference(record, covered, face)
    return NOTHING if heat * driving < 0.0 else heat / (entry.area * STEFAN_BOLTZMANN * driving)
