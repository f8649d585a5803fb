"""Backwards through a stored history: the costate, by an L-stable method of order 2.

C dlambda/ds = J(T(t))^T lambda + forcing, with s running against t and C = 0 for massless nodes.
The temperatures are those of the stored interpolant. Steps begin short where the output is taken,
since there the costate spreads from one node, and grow from there. They end at the corners of
heat-content curves, past which lambda goes on as it is while C lambda jumps with C.

Method: the singly diagonally implicit pair of stages with diagonal 1 - 1/sqrt(2); R. Alexander,
SIAM J. Numer. Anal. 14 (1977) 1006 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from thermnet.network.network import Network, capacities
from thermnet.network.primitives import Floats
from thermnet.solve.adjoint_sums import Shares, Sums, shares
from thermnet.solve.balance import prepare
from thermnet.solve.factors import Factors
from thermnet.solve.front import Front, front
from thermnet.solve.solution import Record, Solution
from thermnet.solve.steps import LOBATTO, lagrange

DIAGONAL = 1.0 - np.sqrt(0.5)

FIRST = 0.01
"""First step, as a share of the time constant of the fastest node that the output weighs."""

GROWTH, AFTER = 4.0, 10
"""Factor by which steps grow, and how many are of one length before."""

LONGEST = 1.0 / 50.0
"""Longest step, as a share of the period or of the span."""

EXACT = 1e-5
"""Residual of the linear solves, as a share."""

EDGE = 1e-9
"""Share of the span within which two instants are one."""


@dataclass(slots=True, kw_only=True)
class Sweep:
    """A stored history and the factors that sweeps through it share.

    `edges` are the instants [s] onto which steps must land: ends of segments, and where the
    temperature of a node passes a corner of its heat-content curve.
    """

    network: Network
    shares: Shares
    front: Front
    record: Record
    edges: Floats
    span: float
    longest: float
    factors: Factors = field(default_factory=Factors)

    @staticmethod
    def over(network: Network, solution: Solution) -> Sweep:
        """Prepare sweeps through a history in which no heater switches."""
        record = solution.record
        span, period = solution.span, network.histories.period
        system = front(prepare(network, record.duty[0]))
        return Sweep(
            network=network,
            shares=shares(system.balance),
            front=system,
            record=record,
            edges=np.unique(np.append(solution.extremes.edges, _corners(network, record))),
            span=span,
            longest=LONGEST * min(period, span),
        )

    def temperature(self, time: float, *, early: bool = False) -> Floats:
        """Temperatures f8[n] at a time of the solve [s]; the side of a jump as for `local`."""
        step = self._step(time, early)
        begin, end = self.record.time[step], self.record.time[step + len(LOBATTO) - 1]
        share = np.array([(time - begin) / (end - begin)])
        rows = slice(step, step + len(LOBATTO))
        return np.asarray((lagrange(share) @ self.record.temperature[rows])[0])

    def capacity(self, time: float, *, early: bool = False) -> Floats:
        """Heat capacities f8[n] [J/K]; at a corner of a heat content the side as for `local`."""
        middle = self._step(time, early) + len(LOBATTO) // 2  # corners are at ends of steps
        return capacities(self.network, self.record.temperature[middle])

    def local(self, time: float, *, early: bool = False) -> float:
        """What the histories see of a time [s] of the solve, `early` at the end of a step.

        At a jump that is the earlier side, otherwise the later one.
        """
        step = self._step(time, early)
        offset = self.record.time[step] - self.record.local_time[step]
        return min(time - float(offset), float(self.record.local_time[step + len(LOBATTO) - 1]))

    def _step(self, time: float, early: bool) -> int:
        """Place in the record of the first sample of the step that a time is in, or ends."""
        begins = self.record.time[:: len(LOBATTO)]
        near = -EDGE if early else EDGE
        number = int(np.searchsorted(begins, time + near * self.span, side="right")) - 1
        return len(LOBATTO) * max(number, 0)

    def back(
        self,
        begin: float,
        end: float,
        costate: Floats,
        *,
        forcing: Floats | None = None,
        sums: Sums | None = None,
    ) -> Floats:
        """From `begin` back to `end` [s]; the costate times capacity f8[n] [K/K] there and here.

        `forcing` f8[n] [K/K/s] is what the output gains per second and kelvin.
        """
        if begin <= end + EDGE * self.span:
            return costate
        time, taken, first = begin, 0, self._first(begin, costate, forcing)
        capacity = self.capacity(begin, early=True)
        costate = np.where(capacity > 0.0, costate / np.maximum(capacity, 1e-300), 0.0)
        while time > end + EDGE * self.span:
            stop = max(
                float(self.edges[self.edges < time - EDGE * self.span].max(initial=end)), end
            )
            width = min(first * GROWTH ** (taken // AFTER), self.longest)
            left = time - stop
            if width >= 0.999 * left:
                width = left
            elif width > 0.5 * left:
                width = 0.5 * left
            costate = self._stepped(time, width, costate, forcing, sums)
            time, taken = time - width, taken + 1
            time = stop if width == left else time
        return np.asarray(self.capacity(end) * costate)

    def _first(self, time: float, costate: Floats, forcing: Floats | None) -> float:
        temperature, nothing = self.temperature(time), np.zeros(len(costate))
        own = self.front.diagonal_values(nothing, temperature, self.local(time))
        capacity = self.capacity(time, early=True)
        weighed = (costate != 0.0) & (capacity > 0.0)
        if forcing is not None:
            weighed |= (forcing != 0.0) & (capacity > 0.0)
        if not weighed.any():
            return self.longest
        return float(FIRST * (capacity / np.maximum(own, 1e-30))[weighed].min())

    def _stepped(
        self,
        time: float,
        width: float,
        costate: Floats,
        forcing: Floats | None,
        sums: Sums | None,
    ) -> Floats:
        """Costates f8[n] [K/J] after a step of two stages; each stage has its part in the sums."""
        given = np.zeros(len(costate)) if forcing is None else forcing
        capacity = self.capacity(time - 0.5 * width)
        weight, begun = capacity / (DIAGONAL * width), capacity * costate
        right, stages = begun, []
        for number, share in enumerate((DIAGONAL, 1.0)):
            at = time - share * width
            inside = at if number == 0 else max(at, 0.0)
            temperature, local = self.temperature(inside), self.local(inside)
            solved = self._solved(
                width, weight, temperature, local, right / (DIAGONAL * width) + given
            )
            stages.append((solved, temperature, local))
            slope = (capacity * solved - right) / (DIAGONAL * width)
            right = begun + (1.0 - DIAGONAL) * width * slope
            right = np.where(capacity > 0.0, right, 0.0)
        if sums is not None:
            self._add(sums, width, capacity, stages)
        return solved

    def _add(
        self,
        sums: Sums,
        width: float,
        capacity: Floats,
        stages: list[tuple[Floats, Floats, float]],
    ) -> None:
        state = self.front.balance.state
        for share, (costate, temperature, local) in zip(
            (1.0 - DIAGONAL, DIAGONAL), stages, strict=True
        ):
            net = self.front.balance.heat(temperature, local)
            rate = np.where(capacity > 0.0, net / np.maximum(capacity, 1e-300), 0.0)
            sums.add(share * width, costate, temperature, local, duty=state, rate=rate)

    def _solved(
        self, width: float, weight: Floats, temperature: Floats, time: float, right: Floats
    ) -> Floats:
        right = right.copy()
        right[self.network.boundary] = 0.0
        if self.front.kind == "dense":
            factor = self.front.factor(weight, temperature, time)
        else:
            factor = self.factors.get(self.front, width, weight, temperature, time)
        solved, _ = self.front.solve(
            factor, weight, temperature, time, right, exact=EXACT, transposed=True
        )
        return solved


def _corners(network: Network, record: Record) -> Floats:
    """Instants [s] at which a step begins on another piece of a heat content than the last."""
    size, middle = len(LOBATTO), len(LOBATTO) // 2
    begins, passes = record.time[::size], np.zeros(len(record.time) // size, dtype=bool)
    for node, curve in network.content:
        piece = np.searchsorted(curve.x, record.temperature[middle::size, node])
        passes[1:] |= np.diff(piece) != 0
    return begins[passes]


def terminal(
    sweep: Sweep, time: float, weight: Floats, sums: Sums | None, *, early: bool = False
) -> Floats:
    """Costate times capacity that weights f8[n] on the temperatures of one instant begin with.

    A massless node's temperature follows from those of the others: so do its weight, and what the
    output owes directly to the heat that balances it. It may jump: `early` is just before.
    """
    temperature, local = sweep.temperature(time, early=early), sweep.local(time, early=early)
    capacity = sweep.capacity(time, early=early)
    massless = (weight != 0.0) & (capacity == 0.0)
    result = np.where(capacity > 0.0, weight, 0.0)
    if not massless.any():
        return result
    # Holding all others, heat at massless nodes moves the weighted temperature by mu.
    pinned = np.where(capacity > 0.0, 1e12 * np.maximum(capacity, 1.0), 0.0)
    factor = sweep.front.factor(pinned, temperature, local)
    right = np.where(massless, weight, 0.0)
    right[sweep.network.boundary] = 0.0
    direct, _ = sweep.front.solve(
        factor, pinned, temperature, local, right, exact=EXACT, transposed=True, own=True
    )
    direct = np.where(capacity > 0.0, 0.0, direct)
    if sums is not None:
        sums.add(1.0, direct, temperature, local, duty=sweep.front.balance.state)
    pulled = sweep.front.product(np.zeros(len(weight)), temperature, local, transposed=True)
    whole = np.zeros(len(weight))
    whole[sweep.front.free] = -pulled(direct[sweep.front.free])
    return np.asarray(result + np.where(capacity > 0.0, whole, 0.0))
