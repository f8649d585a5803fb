"""Gradients of one temperature by every number of a network, from one solve backwards.

What heat at a node and an instant would do to an output, the costate lambda [K/W, or K/J in a
history], follows from the transposed Jacobian: -J^T lambda = w for a steady state and, backwards in
time, C dlambda/dt = -J^T lambda for a history. Every derivative is lambda times that of the heat,
whether there are ten numbers or a million.

Source: Y. Cao, S. Li, L. Petzold, R. Serban, SIAM J. Sci. Comput. 24 (2003) 1076, on adjoints of
differential-algebraic systems of index 1 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.sparse import csc_array
from scipy.sparse.csgraph import connected_components

from thermnet.network.network import Network, capacities
from thermnet.network.primitives import Flags, Floats
from thermnet.solve.adjoint_sums import Gradient, Shares, Slopes, Sums, shares
from thermnet.solve.adjoint_sweep import EDGE, Sweep, terminal
from thermnet.solve.balance import prepare
from thermnet.solve.drift import gain_of
from thermnet.solve.front import Front, front
from thermnet.solve.linear import Factor
from thermnet.solve.solution import Options, Solution
from thermnet.solve.steady import averaged, steady

MOST_SWEEPS = 30
"""Sweeps backwards through a repeating orbit after which the search is given up."""

SETTLED = 1e-5
"""Change of the costate, as a share of its largest value, that ends the search."""

SAME_START = 1e-3
"""K by which a transient's start may differ from the steady state that it is said to be."""

MEMORY = 5
"""Earlier sweeps that are mixed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """A number to differentiate: the mean, highest or lowest of a weighted sum of temperatures.

    `weight` f8[n]. Of a steady state, every kind is the sum itself; a highest or lowest value is
    that of one node, with a single weight.
    """

    weight: Floats
    kind: Literal["mean", "highest", "lowest"] = "mean"


def of_node(network: Network, name: str, kind: Literal["mean", "highest", "lowest"]) -> Output:
    """The output of one node. Raises KeyError for an unknown name."""
    weight = np.zeros(len(network.names))
    weight[network.index(name)] = 1.0
    return Output(weight=weight, kind=kind)


def gradients(
    network: Network,
    solution: Solution,
    outputs: Sequence[Output],
    *,
    start: Literal["steady", "given"] = "steady",
) -> tuple[Gradient, ...]:
    """Derivatives of outputs of a solution by every number of the network; outputs share factors.

    Thermostats follow their proportional law in a steady state; in a history they keep the state
    that they are in. `start` says how a transient began: from the steady state of the means, which
    moves with the numbers, or from given temperatures. Raises ValueError, with a sentence, for a
    failed solution, for a case with a battery, for a transient that did not begin as `start` says,
    and where a heater that the output feels switches between the start and the output.
    """
    if solution.failure:
        raise ValueError(f"a solution that failed has no gradient: {solution.failure}")
    if any(origin.startswith("batteries.") for origin in network.origins):
        # What the cells give is a history here, which does not move with the temperatures.
        raise ValueError(
            "what is drawn from solar cells follows from the temperatures: vary the model and "
            "solve again"
        )
    if solution.kind == "steady":
        balance = _Steady.at(network, solution.temperature[0])
        return tuple(balance.sums(output.weight).gradient() for output in outputs)
    sweep = Sweep.over(network, solution)
    beginning = None
    if solution.kind == "transient" and start == "steady":
        beginning = _Steady.at(network, _steady_start(network, sweep.temperature(0.0)))
    return tuple(_of_history(sweep, solution, output, beginning) for output in outputs)


def _steady_start(network: Network, first: Floats) -> Floats:
    """The steady temperatures f8[n] that a transient with first temperatures f8[n] began from.

    Massless nodes and boundaries left them at once: at the first instant the histories have their
    first values, not their means.
    """
    found = steady(network, Options(linearised_start=False), start=first)
    storing = capacities(network, first) > 0.0
    apart = np.abs(found.temperature[0] - first)[storing].max(initial=0.0)
    if found.failure or not apart <= SAME_START:
        raise ValueError(
            "the transient did not begin from the steady state of the means; say start='given'"
        )
    return np.asarray(found.temperature[0])


def _of_history(
    sweep: Sweep, solution: Solution, output: Output, beginning: _Steady | None
) -> Gradient:
    instant = _instant(solution, output)
    _refuse_switching(sweep, solution, output, instant)
    sums = Sums(shares=sweep.shares)
    sums.add_weight(output.weight)
    if solution.kind == "repeating":
        _repeating(sums, sweep, solution, output, instant)
        return sums.gradient()
    nothing = np.zeros(len(sweep.network.names))
    costate = _through(sweep, solution.span, nothing, output, instant, sums)
    if beginning is None:
        return sums.gradient(initial=costate)
    return sums.gradient(also=beginning.sums(costate))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Steady:
    """A steady state of the means, with its factor: `temperature` f8[n]."""

    network: Network
    shares: Shares
    slopes: Slopes
    front: Front
    factor: Factor
    temperature: Floats

    @staticmethod
    def at(network: Network, temperature: Floats) -> _Steady:
        network = averaged(network)
        system, nothing = front(prepare(network, None)), np.zeros(len(temperature))
        shared = shares(system.balance)
        return _Steady(
            network=network,
            shares=shared,
            slopes=shared.slopes(temperature, 0.0, None),
            front=system,
            factor=system.factor(nothing, temperature, 0.0),
            temperature=temperature,
        )

    def sums(self, weight: Floats) -> Sums:
        """What the weights f8[n] on the temperatures lead to."""
        right = weight.copy()
        right[self.network.boundary] = 0.0
        nothing = np.zeros(len(right))
        where = nothing, self.temperature, 0.0
        costate, _ = self.front.solve(self.factor, *where, right, own=True, transposed=True)
        sums = Sums(shares=self.shares)
        sums.add(1.0, costate, self.temperature, 0.0, slopes=self.slopes)
        sums.add_weight(weight)
        return sums


@dataclass(frozen=True, slots=True, kw_only=True)
class _Instant:
    """When a node is hottest or coldest [s]; `early` if that is the side before a jump."""

    time: float
    early: bool


def _instant(solution: Solution, output: Output) -> _Instant | None:
    """When a node is hottest or coldest; None for a mean."""
    if output.kind == "mean":
        return None
    nodes = np.flatnonzero(output.weight)
    if len(nodes) != 1:
        raise ValueError("a highest or lowest value is that of one node; ask for each by itself")
    extremes, node = solution.extremes, int(nodes[0])
    if output.kind == "highest":
        segment = int(extremes.highest[:, node].argmax())
        time = float(extremes.highest_at[segment, node])
    else:
        segment = int(extremes.lowest[:, node].argmin())
        time = float(extremes.lowest_at[segment, node])
    # A massless node may be hottest at the very end of a segment, before a jump.
    return _Instant(time=time, early=time >= extremes.edges[segment, 1] - EDGE * solution.span)


def _refuse_switching(
    sweep: Sweep, solution: Solution, output: Output, instant: _Instant | None
) -> None:
    network, record = sweep.network, solution.record
    before = np.ones(len(record.time), dtype=bool)
    if instant is not None and solution.kind != "repeating":
        before = record.time <= instant.time + EDGE * sweep.span
    changes = (record.duty[before] != record.duty[0]).any(axis=0)
    if changes.any():
        changes &= _felt(network, output)[network.thermostats.node]
    if changes.any():
        paths = ", ".join(network.origins[k] for k in network.thermostats.origin[changes][:3])
        raise ValueError(
            f"{paths} switches before the output, whose gradient is then not defined here; use a "
            "steady state, where thermostats are proportional, or differences of whole solves"
        )


def _felt(network: Network, output: Output) -> Flags:
    """Which nodes are joined to a weighed one otherwise than through a boundary."""
    pattern, free = network.pattern, network.free
    n = len(network.names)
    whole = csc_array((np.ones(len(pattern.indices)), pattern.indices, pattern.indptr), (n, n))
    _, part = connected_components(whole[free][:, free], directed=False)
    result = np.zeros(n, dtype=bool)
    result[free] = np.isin(part, part[output.weight[free] != 0.0])
    return result


def _through(
    sweep: Sweep,
    end: float,
    costate: Floats,
    output: Output,
    instant: _Instant | None,
    sums: Sums | None,
) -> Floats:
    """Costate times capacity f8[n] at the start, from that at the end, by way of the output."""
    if instant is None:
        return sweep.back(end, 0.0, costate, forcing=output.weight / sweep.span, sums=sums)
    if sums is not None or costate.any():
        costate = sweep.back(end, instant.time, costate, sums=sums)
    here, early = instant.time, instant.early
    costate = costate + terminal(sweep, here, output.weight, sums, early=early)
    return sweep.back(here, 0.0, costate, sums=sums)


def _repeating(
    sums: Sums, sweep: Sweep, solution: Solution, output: Output, instant: _Instant | None
) -> None:
    """Find the costate that repeats with the orbit, then add up along it.

    The same slow-mode correction as for the orbit itself, transposed, and the same mixing.
    """
    network, period = sums.network, sweep.span
    gain = gain_of(network, solution.mean, sweep.front)
    capacity = capacities(network, solution.mean)
    storing = capacity > 0.0
    costate = np.zeros(len(network.names))
    points: list[Floats] = []
    changes: list[Floats] = []
    for _ in range(MOST_SWEEPS):
        change = _through(sweep, period, costate, output, instant, None) - costate
        corrected = np.where(storing, gain.corrected_transposed(change, period), 0.0)
        points, changes = [*points, costate][-MEMORY:], [*changes, corrected][-MEMORY:]
        costate = costate + corrected
        if np.abs(corrected).max() <= SETTLED * np.abs(costate).max():
            break
        if len(points) > 1:
            steps, turns = np.diff(np.array(points), axis=0).T, np.diff(np.array(changes), axis=0).T
            share = np.linalg.lstsq(turns, corrected, rcond=1e-8)[0]
            costate = costate - (steps + turns) @ share
    else:
        raise ValueError("the costate of the repeating orbit does not settle")
    _through(sweep, period, costate, output, instant, sums)
