"""What is drawn from solar cells, which a solved case says and which the case is solved with.

How much the cells give hangs on their temperature, and their temperature on how much they give: a
case with a battery is solved again with what the last solution says, until nothing changes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from thermnet.model.assemble import assemble
from thermnet.model.kinds.battery import Battery
from thermnet.model.kinds.kind import Drawn
from thermnet.model.model import Model
from thermnet.model.plan import Plan
from thermnet.network.grid import common_grid
from thermnet.network.network import Network
from thermnet.network.parts import History
from thermnet.network.primitives import Floats
from thermnet.physics.cells import Charge
from thermnet.solve.solution import Solution
from thermnet.supply import JUMP, Powers, Supply, charging, powers_of, supply_of, the_battery

MOST_PASSES = 12
"""Solves of one case, after which the last one is as good as it gets."""

BETWEEN = (7, 9)
"""Passes after which what was drawn and what follows from it are averaged: most cases have settled
by then, and what swings about its end is there in a few more."""

SAME_INSTANT = 1.0
"""s by which the instant at which the battery is full may still move."""

SAME_ENERGY = 1e-4
"""Share by which the energy drawn, and that lost, may still move."""

ROUGHLY = 20.0
"""Times as far apart as two answers may be that only show the way."""

MOST_ROUGH = 7
"""Rough solves at the most."""

WATT_HOUR = 3600.0


def settled(
    model: Model,
    how: Plan,
    solved: Callable[[Network, bool], Solution],
    begins: float | None = None,
) -> tuple[Network, Solution, Mapping[str, Drawn]]:
    """The network of a case, its solution, and what is drawn from solar cells, by path.

    `solved` solves a network of the model, in which the case has been applied, roughly if told so.
    Without a battery it does so once, and nothing is said of what is drawn. With one, what is drawn
    is found roughly first. `begins` is the share of its capacity that the battery holds at first,
    where it does not state it. Raises InputError as `assemble` does.
    """
    batteries = model.entries(Battery, "batteries")
    network = assemble(model)
    rough = bool(batteries) and how.solve != "steady"
    solution = solved(network, rough)
    if not batteries or solution.failure:
        return network, solution, MappingProxyType({})
    supply = supply_of(model, how, network, begins)
    drawn: Mapping[str, Drawn] = {}
    before: Settling | None = None
    for k in range(1, MOST_PASSES):
        found, notes = _settling(supply, solution)
        if before is not None and found.same(before, ROUGHLY if rough else 1.0):
            if not rough:
                return network, _noted(solution, notes), drawn
            rough = False
        # A mean is no answer to the solution before it: it is not compared with the next one.
        back_and_forth = k in BETWEEN
        before = None if back_and_forth else found
        drawn = _between(drawn, found.drawn) if back_and_forth else found.drawn
        rough = rough and k < MOST_ROUGH
        network = assemble(model, drawn=drawn)
        solution = solved(network, rough)
        if solution.failure:
            return network, solution, drawn
    found, notes = _settling(supply, solution)
    if before is not None and not found.same(before):
        message = f"battery: the instants of full charge still move after {MOST_PASSES} solves"
        notes = (*notes, message)
    return network, _noted(solution, notes), drawn


def charge_at_end(
    model: Model, how: Plan, solution: Solution, begins: float | None = None
) -> float | None:
    """The share of its capacity that the battery holds at the end of a solved history.

    None where there is no battery, or nothing says what it holds: in a steady case, or where no
    state repeats. `begins` is as `settled` takes it.
    """
    if solution.kind == "steady" or solution.failure or not model.sections["batteries"]:
        return None
    supply = supply_of(model, how, assemble(model), begins)
    held = charging(supply, solution, powers_of(supply, solution)).energy
    return None if held.min() < 0.0 else float(held[-1]) / the_battery(supply).capacity


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Settling:
    """What one solution says of what is drawn.

    `full` f8[k] [s] are the instants at which the battery becomes full; `given` and `lost` [J, or W
    when steady] what the cells give and the battery loses.
    """

    drawn: Mapping[str, Drawn]
    full: Floats
    given: float
    lost: float

    def same(self, other: Settling, times: float = 1.0) -> bool:
        """Whether it says the same as another one, near enough or so many times as far off."""
        near = times * SAME_ENERGY * max(abs(self.given), 1e-9)
        return (
            len(self.full) == len(other.full)
            and bool((np.abs(self.full - other.full) < times * SAME_INSTANT).all())
            and abs(self.given - other.given) <= near
            and abs(self.lost - other.lost) <= near
        )


def _between(one: Mapping[str, Drawn], other: Mapping[str, Drawn]) -> dict[str, Drawn]:
    """The mean of two, path by path."""

    def half(first: History, second: History) -> History:
        edges = np.union1d(first.time, second.time)
        edges = edges[np.append(np.diff(edges) > JUMP, True)]
        middle = (edges[:-1] + edges[1:]) / 2.0 if len(edges) > 1 else edges
        value = common_grid([first, second]).at(middle).mean(axis=1)
        return _steps(edges, value) if len(edges) > 1 else _once(float(value[0]))

    return {
        path: Drawn(
            charging=half(each.charging, other[path].charging),
            demand=half(each.demand, other[path].demand),
            losses=half(each.losses, other[path].losses),
        )
        for path, each in one.items()
    }


def _noted(solution: Solution, notes: tuple[str, ...]) -> Solution:
    if not notes:
        return solution
    return replace(solution, stats=replace(solution.stats, notes=(*solution.stats.notes, *notes)))


def _settling(supply: Supply, solution: Solution) -> tuple[Settling, tuple[str, ...]]:
    powers = powers_of(supply, solution)
    if solution.kind == "steady":
        return _steady(supply, powers)
    charge = charging(supply, solution, powers)
    return _history(supply, powers, charge), tuple(_notes(supply, charge))


def _steady(supply: Supply, powers: Powers) -> tuple[Settling, tuple[str, ...]]:
    """Means over an orbit: the demand in shadow passes the battery, which takes its losses.

    With the share f of the orbit in sunlight, a mean demand D there and in shadow alike and the
    efficiencies a of charging and b of discharging, what the cells must give is
    D f + D (1 - f) / (a b): an energy balance.
    """
    battery = the_battery(supply)
    sunlight = supply.how.sunlight
    lit = 1.0 if sunlight is None else sunlight.mean(0.0)
    cells, demand = powers.cells[0], float(powers.demand[0])
    available = float(cells.sum())
    there_and_back = battery.charge_efficiency * battery.discharge_efficiency
    needed = demand * (lit + (1.0 - lit) / there_and_back)
    notes: tuple[str, ...] = ()
    enough = needed <= available
    if sunlight is None and demand > 0.0:
        message = (
            f"battery '{supply.name}': nothing says when it is dark: so that it is never used and "
            "loses nothing; state 'sunlit', or an orbit"
        )
        notes = (message,)
    if enough:
        lost = needed - demand
    else:
        message = (
            f"battery '{supply.name}': the cells give {available:.4g} W in the mean, but "
            f"{needed:.4g} W are needed: not enough power"
        )
        notes = (*notes, message)
        put_in = max(available - demand * lit, 0.0)
        lost = put_in * (1.0 - there_and_back)
    drawn = {
        f"surfaces.{name}.cells": Drawn(
            charging=_once(0.0 if enough else 1.0),
            demand=_once(needed * watts / available if enough and available > 0.0 else 0.0),
            losses=_once(0.0),
        )
        for name, watts in zip(supply.surfaces, cells.tolist(), strict=True)
    }
    drawn[f"batteries.{supply.name}"] = Drawn(
        charging=_once(0.0 if enough else 1.0),
        demand=_once(needed if enough else 0.0),
        losses=_once(lost),
    )
    given = needed if enough else available
    return Settling(drawn=drawn, full=np.zeros(0), given=given, lost=lost), notes


def _notes(supply: Supply, charge: Charge) -> Iterator[str]:
    name = f"battery '{supply.name}'"
    change = charge.energy[-1] - charge.energy[0]
    repeating = supply.how.solve == "repeating"
    if repeating and change < -1e-6 * the_battery(supply).capacity:
        yield (
            f"{name} loses {-change / WATT_HOUR:.4g} Wh in each period of the case: "
            "not enough power"
        )
    if charge.lacking[-1] > 0.0:
        k = int(np.flatnonzero(charge.lacking > 0.0)[0]) - 1
        lacking = charge.lacking[-1] / WATT_HOUR
        yield f"{name} is empty at {charge.time[k]:.0f} s; {lacking:.4g} Wh are lacking"


def _history(supply: Supply, powers: Powers, charge: Charge) -> Settling:
    """What is drawn, in pieces: all that the cells give, or their share of the mean demand."""
    edges = _edges(supply, powers, charge)
    middle = (edges[:-1] + edges[1:]) / 2.0
    stretch = np.clip(np.searchsorted(charge.time, middle) - 1, 0, len(charge.full) - 1)
    full = charge.full[stretch]
    width = np.diff(edges)
    cells = _integrals(powers.time, powers.cells, edges) / width[:, None]
    demand = _integrals(powers.time, powers.demand[:, None], edges)[:, 0] / width
    losses = np.diff(np.interp(edges, charge.time, charge.losses)) / width
    everything = cells.sum(axis=1)
    share = cells / np.where(everything > 0.0, everything, 1.0)[:, None]
    # What a piece lacks in its mean, a heater's pulse say, the cells cannot give.
    fed = np.where(full, np.minimum(demand, everything), 0.0)
    taken = np.where(full, 0.0, 1.0)
    charges, nothing = _steps(edges, taken), _once(0.0)
    drawn = {
        f"surfaces.{name}.cells": Drawn(
            charging=charges, demand=_steps(edges, fed * share[:, k]), losses=nothing
        )
        for k, name in enumerate(supply.surfaces)
    }
    drawn[f"batteries.{supply.name}"] = Drawn(
        charging=charges, demand=_steps(edges, fed), losses=_steps(edges, losses)
    )
    begins = np.flatnonzero(full & ~np.append(False, full[:-1]))
    return Settling(
        drawn=drawn,
        full=edges[begins],
        given=float(width @ (taken * everything + fed)),
        lost=float(charge.losses[-1]),
    )


def _edges(supply: Supply, powers: Powers, charge: Charge) -> Floats:
    """Instants between which powers are smooth and the battery is full or not, none far apart."""
    ends = np.array([0.0, supply.how.span])
    steady = np.column_stack([powers.cells, powers.units + powers.sent])
    least = 1e-9 * max(float(np.abs(steady).max(initial=0.0)), 1e-9)
    jumps = (np.diff(powers.time) < JUMP) & (np.abs(np.diff(steady, axis=0)) > least).any(axis=1)
    turns = charge.full[1:] != charge.full[:-1]
    sharp = np.concatenate([ends, powers.time[1:][jumps], charge.time[1:-1][turns]])
    # Of instants that are one, the last is that which the network knows: records end just before.
    sharp = np.unique(sharp)
    sharp = np.append(0.0, sharp[np.append(np.diff(sharp) > JUMP, True)][1:])
    marks = supply.marks
    after = np.searchsorted(sharp, marks)
    gap = np.minimum(
        np.abs(marks - sharp[np.minimum(after, len(sharp) - 1)]),
        np.abs(marks - sharp[np.maximum(after - 1, 0)]),
    )
    edges = np.union1d(sharp, marks[gap > SAME_INSTANT])
    edges[-1] = supply.how.span
    return edges


def _integrals(time: Floats, values: Floats, edges: Floats) -> Floats:
    """Integrals f8[k, m] between edges f8[k + 1] of values f8[q, m] joined by straight lines."""
    known = np.union1d(time, edges)
    result = np.empty((len(edges) - 1, values.shape[1]))
    for m in range(values.shape[1]):
        value = np.interp(known, time, values[:, m])
        area = np.diff(known) * (value[1:] + value[:-1]) / 2.0
        total = np.append(0.0, np.cumsum(area))
        result[:, m] = np.diff(total[np.searchsorted(known, edges)])
    return result


def _steps(edges: Floats, value: Floats) -> History:
    """A history with one value between two edges; equal neighbours are one."""
    near = 1e-9 * max(float(np.abs(value).max(initial=0.0)), 1e-9)
    kept = np.append(True, np.abs(np.diff(value)) > near)
    begin, value = edges[:-1][kept], value[kept]
    if len(begin) == 1:
        return _once(float(value[0]))
    time = np.concatenate([begin[:1], np.repeat(begin[1:], 2), edges[-1:]])
    return History(time=time, value=np.repeat(value, 2))


def _once(value: float) -> History:
    return History(time=np.zeros(1), value=np.array([value]))
