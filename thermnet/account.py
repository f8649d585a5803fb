"""The energy account: where every watt went, computed from the stored temperatures alone.

Nothing here trusts the integrator: stored heat comes from the temperatures at both ends, flows
from quadrature of the stored interpolant. What does not add up is the remainder.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
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
from thermnet.network.primitives import Floats, Indices
from thermnet.network.subset import blocks
from thermnet.solve.solution import Solution
from thermnet.solve.steady import recorded

CauseKind = Literal["link", "flow link", "heat", "heater", "stored"]

TOLERANCE = {"steady": 1e-6, "transient": 1e-3, "repeating": 1e-3}
"""Largest remainder, as a share of the heat passing through, that passes without a warning."""

LITTLE = 5.0
"""K. A history in which less happens is as good as its temperatures are, not as their changes."""

ROUNDING = 1e-13
"""Share of |slope| times temperature that is lost where nearly equal flows are subtracted."""


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
class Causes:
    """Causes of one kind in arrays, as many as there are of them; fields as those of `Entry`.

    `a`, `b` and `origin` are positions in the account's names and in `origins`; b is -1 for none.
    """

    kind: CauseKind
    a: Indices
    b: Indices
    origin: Indices
    origins: tuple[str, ...]
    amount: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """The account of one solution; amounts in `unit`, watts for a steady state, joules else.

    `remainder` f8[n] is what is unbalanced at each node (zero at boundary nodes), `passing` the
    heat that entered the free nodes, `share` the summed remainders over it (less what rounding of
    the flows explains, which is all there is between nodes of one temperature). In a history in
    which hardly anything happens, `share` is over the heat that would warm every node by 5 K.
    """

    unit: Literal["W", "J"]
    causes: tuple[Causes, ...]
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

    @property
    def entries(self) -> tuple[Entry, ...]:
        """Every cause by itself: one object for each link, made on request."""
        return tuple(
            self._entry(causes, int(k)) for causes in self.causes for k in range(len(causes.amount))
        )

    def by_origin(self) -> dict[str, float]:
        """Summed amounts by path."""
        totals: dict[str, float] = {}
        for causes in self.causes:
            sums = np.bincount(causes.origin, causes.amount, len(causes.origins))
            for k in np.unique(causes.origin).tolist():
                path = causes.origins[k]
                totals[path] = totals.get(path, 0.0) + float(sums[k])
        return totals

    def of_node(self, name: str) -> tuple[Entry, ...]:
        """Every entry that touches a node, amounts positive into it (stored heat negative)."""
        node = self.names.index(name)
        touching = []
        for causes in self.causes:
            for k in np.flatnonzero((causes.a == node) | (causes.b == node)).tolist():
                entry = self._entry(causes, k)
                if causes.b[k] == node:
                    touching.append(replace(entry, a=entry.b, b=entry.a))
                elif causes.kind != "flow link":  # whose heat is given to the node downstream
                    outward = causes.kind in ("link", "stored")
                    amount = -entry.amount if outward else entry.amount
                    touching.append(replace(entry, amount=amount))
        return tuple(touching)

    def _entry(self, causes: Causes, k: int) -> Entry:
        return Entry(
            kind=causes.kind,
            origin=causes.origins[causes.origin[k]],
            a=self.names[causes.a[k]],
            b=self.names[causes.b[k]] if causes.b[k] >= 0 else "",
            amount=float(causes.amount[k]),
        )


def account(network: Network, solution: Solution) -> Account:
    """Draw up the account of a solution, by node and by cause."""
    network = recorded(network, solution)
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
        causes=_causes(network, flow[:m], through, source, heater, stored),
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

    Links of constant strength are integrated by the potentials of their ends, all at once. Last,
    the heat that entered: whatever came in at some time, though it left again later.
    """
    record = solution.record
    links, carried = network.links, network.flow_links
    inward = _inward(network)
    constant = network.pattern.constant_links
    looked_at = ~constant | (inward != 0.0)  # one by one, at every sample
    some = replace(network, links=links.some(looked_at))
    m = len(some.links.a)
    powers = np.zeros((len(links.potentials), len(network.names)))
    sums = [np.zeros(m + len(carried.a)), np.zeros(len(network.heats.node))]
    sums += [np.zeros(len(network.thermostats.node)), np.zeros(len(carried.a))]
    entered = 0.0
    for part in blocks(len(record.time), len(network.names) + sum(map(len, sums))):
        time, temperature = record.local_time[part], record.temperature[part]
        for total, potential in zip(powers, links.potentials, strict=True):
            if potential.curve is None:
                np.add(total, record.weight[part] @ potential.value(temperature), out=total)
        now = flows(some, temperature, time)
        given = sources(network, temperature, time)
        heated = heater_powers(network, record.duty[part], time)
        drop = 1.0 - temperature[:, carried.b] / temperature[:, carried.a]
        through = now[:, m:] * drop
        for total, values in zip(sums, (now, given, heated, through), strict=True):
            np.add(total, record.weight[part] @ values, out=total)
        coming = (given, heated, now[:, :m] * inward[looked_at], np.abs(through))
        every = sum(np.maximum(part_of, 0.0).sum(axis=1) for part_of in coming)
        entered += float(record.weight[part] @ every)
    flow = np.empty(len(links.a))
    for total, begin, end in zip(powers, links.groups[:-1], links.groups[1:], strict=True):
        group = slice(begin, end)
        flow[group] = links.strength[group] * (total[links.a[group]] - total[links.b[group]])
    flow[looked_at] = sums[0][:m]
    return np.concatenate([flow, sums[0][m:]]), sums[1], sums[2], sums[3], entered


def _inward(network: Network) -> Floats:
    """For each link 1 if it leads from a boundary to a free node, -1 back, 0 between equals."""
    imposed = np.zeros(len(network.names))
    imposed[network.boundary] = 1.0
    return np.asarray(imposed[network.links.a] - imposed[network.links.b])


def _rounding(network: Network, solution: Solution) -> float:
    record = solution.record
    temperature = record.temperature[-1]
    gross = 0.0
    for potential, matrix in network.pattern.sums:  # every column sums to zero
        slopes = potential.slope(temperature) * temperature
        gross += float(-2.0 * matrix.diagonal() @ slopes)
    varied = ~network.pattern.constant_links
    rest = replace(
        network,
        links=network.links.some(varied),
        pattern=replace(network.pattern, links=network.links.some(varied)),
    )
    slopes = jacobian(rest, temperature, record.local_time[-1], record.duty[-1])
    gross += float((abs(slopes) @ temperature).sum())
    held = 0.0 if solution.kind == "steady" else np.abs(stored_heat(network, temperature)).sum()
    return ROUNDING * (gross * float(record.weight.sum()) + float(held))


def _stored(network: Network, solution: Solution) -> Floats:
    if solution.kind == "steady":
        return np.zeros(len(network.names))
    first, last = solution.record.temperature[0], solution.record.temperature[-1]
    change = stored_heat(network, last) - stored_heat(network, first)
    change[network.boundary] = 0.0
    return change


def _causes(
    network: Network,
    flow: Floats,
    through: Floats,
    source: Floats,
    heater: Floats,
    stored: Floats,
) -> tuple[Causes, ...]:
    links, carried, heats = network.links, network.flow_links, network.heats
    stats, changed = network.thermostats, np.flatnonzero(stored).astype(np.int32)

    def causes(
        kind: CauseKind, a: Indices, b: Indices | None, origin: Indices, amount: Floats
    ) -> Causes:
        none = np.full(len(a), -1, dtype=np.int32)
        return Causes(
            kind=kind,
            a=a,
            b=none if b is None else b,
            origin=origin,
            origins=network.node_origins if kind == "stored" else network.origins,
            amount=amount,
        )

    return (
        causes("link", links.a, links.b, links.origin, flow),
        causes("flow link", carried.a, carried.b, carried.origin, through),
        causes("heat", heats.node, None, heats.origin, source),
        causes("heater", stats.node, None, stats.origin, heater),
        causes("stored", changed, None, changed, stored[changed]),
    )
