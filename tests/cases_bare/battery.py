"""A battery charged by solar cells, as a plain loop: an independent answer.

No import of thermnet. What the cells do not give to the demand fills the battery, less a share that
becomes heat; while it is full they give the demand alone. Seconds, watts, joules.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.cases_bare.bare import Array, History


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery:
    """Capacity [J], and the shares that are kept when energy goes in and when it comes out."""

    capacity: float
    charged: float
    discharged: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """What came of it, between the instants `time` f8[k + 1] [s].

    `full` f8[k] is 1 while the battery is full; `taken` f8[k] [W] is what the cells give, `losses`
    f8[k] [W] the heat of charging and discharging; `energy` f8[k + 1] [J] is what it holds.
    """

    time: Array
    full: Array
    taken: Array
    losses: Array
    energy: Array


def charge(battery: Battery, time: Array, cells: Array, demand: Array, begins: float) -> Charge:
    """From what cells could give at `time` f8[k + 1] and the demand f8[k] between, both [W].

    `begins` [J] is what it holds at first. Every stretch is taken at its mean power, and cut where
    the battery becomes full.
    """
    instants, energy = [float(time[0])], [begins]
    full, taken, losses = [], [], []

    def stretch(end: float, held: float, state: tuple[float, float, float]) -> None:
        instants.append(end)
        energy.append(held)
        full.append(state[0])
        taken.append(state[1])
        losses.append(state[2])

    for k in range(len(time) - 1):
        begin, end, given = float(time[k]), float(time[k + 1]), float(cells[k] + cells[k + 1]) / 2.0
        if end <= begin:
            continue
        surplus, held = given - float(demand[k]), energy[-1]
        if surplus < 0.0:
            out = -surplus / battery.discharged
            loss = out * (1.0 - battery.discharged)
            stretch(end, held - out * (end - begin), (0.0, given, loss))
            continue
        rise, loss = battery.charged * surplus, (1.0 - battery.charged) * surplus
        room = battery.capacity - held
        brim = begin + room / rise if rise > 0.0 else np.inf
        if brim >= end:
            stretch(end, held + rise * (end - begin), (0.0, given, loss))
            continue
        if brim > begin:
            stretch(brim, battery.capacity, (0.0, given, loss))
        stretch(end, battery.capacity, (1.0, float(demand[k]), 0.0))
    return Charge(
        time=np.array(instants), full=np.array(full), taken=np.array(taken),
        losses=np.array(losses), energy=np.array(energy),
    )  # fmt: skip


def turns(found: Charge) -> list[float]:
    """The instants [s] at which the battery becomes full, or ceases to be."""
    return [float(t) for t in found.time[1:-1][found.full[1:] != found.full[:-1]]]


def means(found: Charge, value: Array, edges: Sequence[float] | Array) -> Array:
    """Means f8[m - 1] between edges f8[m] of what has one value f8[k] in each stretch."""
    total = np.append(0.0, np.cumsum(value * np.diff(found.time)))
    at_edges = np.interp(np.asarray(edges), found.time, total)
    return np.asarray(np.diff(at_edges) / np.diff(edges))


def sampled(history: History, time: Array, *, after: bool) -> Array:
    """A history at instants f8[k], at the later side of its jumps with `after`."""
    t, v = history
    if len(t) == 1:
        return np.full(len(time), v[0])
    k = np.clip(np.searchsorted(t, time, side="right" if after else "left"), 1, len(t) - 1)
    width = t[k] - t[k - 1]
    share = np.where(width > 0.0, (time - t[k - 1]) / np.where(width > 0.0, width, 1.0), 0.0)
    return np.asarray(v[k - 1] + share * (v[k] - v[k - 1]))
