"""What solar cells give against what units, heaters and the battery make of it, in one case."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from thermnet.model.assemble import assemble
from thermnet.model.kinds.surface import Surface
from thermnet.network.primitives import Floats
from thermnet.physics.cells import Charge
from thermnet.results import Result
from thermnet.samples import heats_by_path
from thermnet.solve.solution import Solution
from thermnet.supply import (
    Powers,
    Supply,
    charging,
    over_one_turn,
    powers_of,
    supply_of,
)

TOLERANCE = 1e-3
"""Largest remainder, as a share of what is given or taken, that passes without a warning."""

SAME_CHARGE = 1e-6
"""Share of its capacity by which the charge of a battery may end below where it began."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Course:
    """Powers and charge over the time of a case; one instant for a steady case.

    `time` f8[k] [s] increases strictly, a jump takes next to no time. `available` is what the cells
    can give at their temperature, `drawn` what they give, `demand` what loads take, f8[k] [W];
    `charge` f8[k] the share of its capacity that the battery holds, NaN where nothing says so.
    """

    time: Floats
    available: Floats
    drawn: Floats
    demand: Floats
    charge: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Energy:
    """Where the power of solar cells goes in a case, over `span` [s], its period if it repeats.

    Amounts in `unit`: joules, or watts for a steady case, where `span` is 1. `given` is what the
    heat balance of the solved network lacks at the cells, `losses` what it has from the battery;
    `units`, `sent` and `heaters` are what the battery and the cells feed, `stored` what the battery
    holds more at the end, and `lacking` what nobody gives. `lowest` is the least share of its
    capacity that the battery holds and `full` [s] the instants at which it becomes full; `repeats`
    says whether what holds in the case holds again and again.
    `efficiency` is the mean of that of the cells, weighted by their sunlight, NaN without any.
    `battery` is its name, "" for none: then nothing says who takes what the cells give.
    """

    case: str
    unit: Literal["J", "W"]
    span: float
    battery: str
    given: float
    units: float
    sent: float
    heaters: float
    losses: float
    stored: float
    lacking: float
    lowest: float
    full: tuple[float, ...]
    repeats: bool
    efficiency: float
    course: Course

    @property
    def remainder(self) -> float:
        """What is given, or lacking, less all that it is said to become; NaN without a battery."""
        if not self.battery:
            return math.nan
        taken = self.units + self.sent + self.heaters + self.losses + self.stored
        return self.given + self.lacking - taken

    @property
    def share(self) -> float:
        """The remainder as a share of what is given or taken, whichever is more."""
        most = max(self.given, self.units + self.sent + self.heaters)
        return abs(self.remainder) / most if most > 0.0 else abs(self.remainder)

    @property
    def closes(self) -> bool:
        """Whether the remainder is small enough; always without a battery."""
        return not self.battery or self.share <= TOLERANCE

    @property
    def enough(self) -> bool:
        """Whether the power does: nothing is lacking, the battery is never empty and, in a case
        that repeats, ends with what it began with. Always without a battery.
        """
        charge = self.course.charge
        less = self.repeats and float(charge[-1]) < float(charge[0]) - SAME_CHARGE
        return not self.battery or not (less or self.lacking > 0.0 or self.lowest <= 0.0)


def energy(result: Result) -> Energy | None:
    """The energy of the solar cells in a solved case; None where there are none, or no solution."""
    model, how, network, solution = result.model, result.plan, result.network, result.solution
    supply = supply_of(model, how, assemble(model) if result.drawn else network, result.begins)
    if not supply.surfaces or solution.failure:
        return None
    record, period = solution.record, supply.network.histories.period
    turns = 1.0
    if np.isfinite(period) and solution.kind != "steady":
        turns = max(1.0, float(np.rint(record.weight.sum() / period)))
    weight = record.weight / turns
    steady = solution.kind == "steady"
    powers = powers_of(supply, solution)
    given = -heats_by_path(network, supply.cells, record).sum(axis=1)
    losses = np.zeros(1)
    if supply.battery is not None:
        losses = weight @ heats_by_path(network, [f"batteries.{supply.name}"], record)
    charge = None if steady or supply.battery is None else charging(supply, solution, powers)
    taken = {"units": powers.units, "sent": powers.sent, "heaters": powers.heaters}
    amounts = {name: _total(powers.time, watts) for name, watts in taken.items()}
    in_all, lost = float(weight @ given), float(losses[0])
    lacking = 0.0 if charge is None else float(charge.lacking[-1])
    # Cells that could give more lack nothing: what is left of the sum is its remainder.
    if steady and supply.battery is not None and in_all >= (1.0 - TOLERANCE) * powers.available[0]:
        lacking = max(sum(amounts.values()) + lost - in_all, 0.0)
    return Energy(
        case=how.name,
        unit="W" if steady else "J",
        span=1.0 if steady else how.span,
        battery=supply.name,
        given=in_all,
        **amounts,
        losses=lost,
        stored=0.0 if charge is None else float(charge.energy[-1] - charge.energy[0]),
        lacking=lacking,
        lowest=_lowest(supply, charge),
        full=_full(charge, repeats=how.solve == "repeating"),
        repeats=how.solve == "repeating",
        efficiency=_efficiency(supply, solution),
        course=_course(supply, powers, charge, over_one_turn(record, period, given[:, None])),
    )


def _total(time: Floats, watts: Floats) -> float:
    """The integral [J] of powers joined by straight lines; itself for one instant."""
    if len(time) == 1:
        return float(watts[0])
    return float(np.diff(time) @ (watts[1:] + watts[:-1]) / 2.0)


def _loses(charge: Charge) -> bool:
    """Whether it is shown from zero, since no state repeats."""
    return float(charge.energy.min()) < 0.0


def _lowest(supply: Supply, charge: Charge | None) -> float:
    if charge is None or supply.battery is None or _loses(charge):
        return math.nan
    return float(charge.energy.min()) / supply.battery.capacity


def _full(charge: Charge | None, *, repeats: bool) -> tuple[float, ...]:
    if charge is None or not len(charge.full):
        return ()
    before = np.append(charge.full[-1] if repeats else False, charge.full[:-1])
    return tuple(charge.time[:-1][charge.full & ~before].tolist())


def _efficiency(supply: Supply, solution: Solution) -> float:
    """What the cells can give over the sunlight on them, in the mean."""
    record = solution.record
    surfaces = supply.model.entries(Surface, "surfaces")
    cells = [surfaces[name].cells for name in supply.surfaces]
    stated = np.array([math.nan if each is None else each.efficiency for each in cells])
    can = -record.weight @ heats_by_path(supply.network, supply.cells, record)
    shining = -record.weight @ heats_by_path(supply.network, supply.cells, record, bent=False)
    sunlight = float((shining / stated).sum())
    return float(can.sum()) / sunlight if sunlight > 0.0 else math.nan


def _course(
    supply: Supply, powers: Powers, charge: Charge | None, given: tuple[Floats, Floats]
) -> Course:
    share = np.full(len(powers.time), np.nan)
    if charge is not None and supply.battery is not None:
        share = np.interp(powers.time, charge.time, charge.energy) / supply.battery.capacity
        if _loses(charge):
            share = 1.0 + share - share.max()  # from full, as the first time would go
    return Course(
        time=powers.time,
        available=powers.available,
        drawn=given[1][:, 0],
        demand=powers.demand,
        charge=share,
    )
