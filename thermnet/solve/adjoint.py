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

from thermnet.network.network import Network, capacities
from thermnet.network.primitives import Floats
from thermnet.solve.adjoint_sums import Gradient, Sums
from thermnet.solve.adjoint_sweep import Sweep, terminal
from thermnet.solve.balance import prepare
from thermnet.solve.drift import gain_of
from thermnet.solve.front import Front, front
from thermnet.solve.linear import Factor
from thermnet.solve.solution import Solution
from thermnet.solve.steady import averaged

MOST_SWEEPS = 30
"""Sweeps backwards through a repeating orbit after which the search is given up."""

SETTLED = 1e-5
"""Change of the costate, as a share of its largest value, that ends the search."""

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
    failed solution, and where a heater switches between the start and the output.
    """
    if solution.failure:
        raise ValueError(f"a solution that failed has no gradient: {solution.failure}")
    if solution.kind == "steady":
        balance = _Steady.at(network, solution.temperature[0])
        return tuple(balance.sums(output.weight).gradient() for output in outputs)
    sweep = Sweep.over(network, solution)
    beginning = _Steady.at(network, sweep.temperature(0.0)) if start == "steady" else None
    return tuple(_of_history(sweep, solution, output, beginning) for output in outputs)


def _of_history(
    sweep: Sweep, solution: Solution, output: Output, beginning: _Steady | None
) -> Gradient:
    instant = _instant(solution, output)
    _refuse_switching(sweep.network, solution, instant)
    sums = Sums(network=sweep.network)
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
    front: Front
    factor: Factor
    temperature: Floats

    @staticmethod
    def at(network: Network, temperature: Floats) -> _Steady:
        network = averaged(network)
        system, nothing = front(prepare(network, None)), np.zeros(len(temperature))
        return _Steady(
            network=network,
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
        sums = Sums(network=self.network)
        sums.add(1.0, costate, self.temperature, 0.0)
        sums.add_weight(weight)
        return sums


def _instant(solution: Solution, output: Output) -> float | None:
    """When a node is hottest or coldest; None for a mean."""
    if output.kind == "mean":
        return None
    nodes = np.flatnonzero(output.weight)
    if len(nodes) != 1:
        raise ValueError("a highest or lowest value is that of one node; ask for each by itself")
    extremes, node = solution.extremes, int(nodes[0])
    if output.kind == "highest":
        return float(extremes.highest_at[extremes.highest[:, node].argmax(), node])
    return float(extremes.lowest_at[extremes.lowest[:, node].argmin(), node])


def _refuse_switching(network: Network, solution: Solution, instant: float | None) -> None:
    record = solution.record
    before = np.ones(len(record.time), dtype=bool)
    if instant is not None and solution.kind != "repeating":
        before = record.time <= instant
    changes = (record.duty[before] != record.duty[0]).any(axis=0)
    if changes.any():
        paths = ", ".join(network.origins[k] for k in network.thermostats.origin[changes][:3])
        raise ValueError(
            f"{paths} switches before the output, whose gradient is then not defined here; use a "
            "steady state, where thermostats are proportional, or differences of whole solves"
        )


def _through(
    sweep: Sweep,
    end: float,
    costate: Floats,
    output: Output,
    instant: float | None,
    sums: Sums | None,
) -> Floats:
    """Costate times capacity f8[n] at the start, from that at the end, by way of the output."""
    if instant is None:
        return sweep.back(end, 0.0, costate, forcing=output.weight / sweep.span, sums=sums)
    if sums is not None or costate.any():
        costate = sweep.back(end, instant, costate, sums=sums)
    costate = costate + terminal(sweep, instant, output.weight, sums)
    return sweep.back(instant, 0.0, costate, sums=sums)


def _repeating(
    sums: Sums, sweep: Sweep, solution: Solution, output: Output, instant: float | None
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
