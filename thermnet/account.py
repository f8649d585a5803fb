"""The energy account: where every watt went, computed from the stored temperatures alone.

Nothing here trusts the integrator: stored heat comes from the temperatures at both ends, flows
from quadrature of the stored interpolant. What does not add up is the remainder.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from thermnet.network.network import (
    Network,
    capacities,
    flows,
    heater_powers,
    jacobian,
    sources,
    stored_heat,
)
from thermnet.network.primitives import Floats
from thermnet.solve.solution import Solution
from thermnet.solve.steady import averaged

CauseKind = Literal["link", "flow link", "heat", "heater", "stored"]

TOLERANCE = {"steady": 1e-6, "transient": 1e-3, "repeating": 1e-3}
"""Largest remainder, as a share of the heat passing through, that passes without a warning."""

LITTLE = 5.0
"""K. A history in which less happens is as good as its temperatures are, not as their changes."""

ROUNDING = 1e-13
"""Share of |slope| times temperature that is lost where nearly equal flows are subtracted."""

SAMPLES = 4096
"""Samples of the record that are held in memory at a time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One cause: `amount` [W or J] from node `a` to node `b` for links, into `a` otherwise.

    A flow link's amount is its rate times the temperature difference, so that it does not depend
    on the zero of temperature. `origin` is the path in the model.
    """

    kind: CauseKind
    origin: str
    a: str
    b: str
    amount: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """The account of one solution; amounts in `unit`, watts for a steady state, joules else.

    `remainder` f8[n] is what is unbalanced at each node (zero at boundary nodes), `passing` the
    heat that entered the free nodes, `share` the summed remainders over it (less what rounding of
    the flows explains, which is all there is between nodes of one temperature). In a history in
    which hardly anything happens, `share` is over the heat that would warm every node by 5 K.
    """

    unit: Literal["W", "J"]
    entries: tuple[Entry, ...]
    names: tuple[str, ...]
    remainder: Floats
    passing: float
    share: float
    tolerance: float

    @property
    def closes(self) -> bool:
        """Whether the remainder is within tolerance."""
        return bool(self.share <= self.tolerance)

    @property
    def worst(self) -> str:
        """The node with the largest remainder."""
        return self.names[int(np.argmax(np.abs(self.remainder)))]

    def by_origin(self) -> dict[str, float]:
        """Summed amounts by path."""
        totals: dict[str, float] = {}
        for entry in self.entries:
            totals[entry.origin] = totals.get(entry.origin, 0.0) + entry.amount
        return totals

    def of_node(self, name: str) -> tuple[Entry, ...]:
        """Every entry that touches a node, amounts positive into it (stored heat negative)."""
        signs = {"stored": -1.0}
        touching = []
        for entry in self.entries:
            linked = entry.kind in ("link", "flow link")
            if entry.a == name:
                sign = -1.0 if linked else signs.get(entry.kind, 1.0)
            elif linked and entry.b == name:
                sign = 1.0
            else:
                continue
            if entry.kind == "flow link" and entry.a == name:
                continue  # its heat, by temperature difference, is given to the node downstream
            touching.append(
                Entry(
                    kind=entry.kind,
                    origin=entry.origin,
                    a=name,
                    b=entry.b if entry.a == name else entry.a,
                    amount=sign * entry.amount,
                )
            )
        return tuple(touching)


def account(network: Network, solution: Solution) -> Account:
    """Draw up the account of a solution, by node and by cause."""
    if solution.kind == "steady":
        network = averaged(network)
    flow, source, heater, through, entered = _integrals(network, solution)
    stored = _stored(network, solution)
    links, carried = network.links, network.flow_links
    heats, stats = network.heats, network.thermostats
    n, m = len(network.names), len(links.a)
    a, b = np.concatenate([links.a, carried.a]), np.concatenate([links.b, carried.b])
    balance = np.zeros(n)  # of no entries at all, bincount returns integers
    balance += np.bincount(b, flow, n) - np.bincount(a, flow, n)
    balance += np.bincount(heats.node, source, n) + np.bincount(stats.node, heater, n)
    remainder = balance - stored
    remainder[network.boundary] = 0.0

    released = np.abs(stored[network.free]).sum() / 2.0
    passing = float(max(entered, released))
    total = max(float(np.abs(remainder).sum()) - _rounding(network, solution), 0.0)
    moving = solution.kind != "steady"
    warming = capacities(network, solution.record.temperature[-1]).sum() if moving else 0.0
    scale = max(passing, LITTLE * float(warming))
    return Account(
        unit="W" if solution.kind == "steady" else "J",
        entries=_entries(network, flow[:m], through, source, heater, stored),
        names=network.names,
        remainder=remainder,
        passing=passing,
        share=total / scale if scale > 0.0 else total,
        tolerance=TOLERANCE[solution.kind],
    )


def _integrals(
    network: Network, solution: Solution
) -> tuple[Floats, Floats, Floats, Floats, float]:
    """Quadrature of every flow, source and heater; flow links once more by difference.

    Last, the heat that entered: whatever came in at some time, though it left again later.
    """
    record = solution.record
    carried = network.flow_links
    m = len(network.links.a)
    inward = _inward(network)
    entered = 0.0
    sums = [np.zeros(m + len(carried.a)), np.zeros(len(network.heats.node))]
    sums += [np.zeros(len(network.thermostats.node)), np.zeros(len(carried.a))]
    for first in range(0, len(record.time), SAMPLES):
        part = slice(first, first + SAMPLES)
        time, temperature = record.local_time[part], record.temperature[part]
        now = flows(network, temperature, time)
        given = sources(network, temperature, time)
        heated = heater_powers(network, record.duty[part], time)
        drop = 1.0 - temperature[:, carried.b] / temperature[:, carried.a]
        through = now[:, m:] * drop
        for total, values in zip(sums, (now, given, heated, through), strict=True):
            np.add(total, record.weight[part] @ values, out=total)
        coming = (given, heated, now[:, :m] * inward, np.abs(through))
        every = sum(np.maximum(part_of, 0.0).sum(axis=1) for part_of in coming)
        entered += float(record.weight[part] @ every)
    return sums[0], sums[1], sums[2], sums[3], entered


def _inward(network: Network) -> Floats:
    """For each link 1 if it leads from a boundary to a free node, -1 back, 0 between equals."""
    imposed = np.zeros(len(network.names))
    imposed[network.boundary] = 1.0
    return np.asarray(imposed[network.links.a] - imposed[network.links.b])


def _rounding(network: Network, solution: Solution) -> float:
    record = solution.record
    temperature = record.temperature[-1]
    slopes = jacobian(network, temperature, record.local_time[-1], record.duty[-1])
    gross = float((abs(slopes) @ temperature).sum() * record.weight.sum())
    held = 0.0 if solution.kind == "steady" else np.abs(stored_heat(network, temperature)).sum()
    return ROUNDING * (gross + float(held))


def _stored(network: Network, solution: Solution) -> Floats:
    if solution.kind == "steady":
        return np.zeros(len(network.names))
    first, last = solution.record.temperature[0], solution.record.temperature[-1]
    change = stored_heat(network, last) - stored_heat(network, first)
    change[network.boundary] = 0.0
    return change


def _entries(
    network: Network,
    flow: Floats,
    through: Floats,
    source: Floats,
    heater: Floats,
    stored: Floats,
) -> tuple[Entry, ...]:
    names, origins = network.names, network.origins
    rows: list[Entry] = []

    def add(kind: CauseKind, origin: str, a: int, b: int | None, amount: float) -> None:
        other = names[b] if b is not None else ""
        rows.append(Entry(kind=kind, origin=origin, a=names[a], b=other, amount=float(amount)))

    for links, amounts, kind in (
        (network.links, flow, "link"),
        (network.flow_links, through, "flow link"),
    ):
        for k, amount in enumerate(amounts):
            label: CauseKind = "link" if kind == "link" else "flow link"
            add(label, origins[links.origin[k]], links.a[k], links.b[k], amount)
    for k, amount in enumerate(source):
        heats = network.heats
        add("heat", origins[heats.origin[k]], heats.node[k], None, amount)
    for k, amount in enumerate(heater):
        stats = network.thermostats
        add("heater", origins[stats.origin[k]], stats.node[k], None, amount)
    for node in np.flatnonzero(stored):
        add("stored", network.node_origins[int(node)], int(node), None, stored[node])
    return tuple(rows)
