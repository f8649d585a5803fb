"""A linearly implicit integrator for heat balances: no iteration, one linear system a stage.

C dT/dt = q(T, t), with C = 0 for massless nodes, is a differential-algebraic system of index 1.
Stiffly accurate, L-stable Rosenbrock methods step over both kinds of node alike, and each step
stands alone, so that starting again after a jump or a switching costs nothing.

Small networks take steps of any length with the exact Jacobian, factored each time. For large ones
a factor costs as much as forty solves: they use a method whose order holds with any Jacobian, step
lengths that are powers of two, and keep the factor of each length while it is nearly right.

Source: E. Hairer, G. Wanner, Solving Ordinary Differential Equations II, 2nd ed., Springer 1996,
sections IV.7 (the method in the form without products by the Jacobian) and VI.4 (index 1).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from thermnet.network.network import Network
from thermnet.network.primitives import CONSTANT, Floats, Indices
from thermnet.solve.control import (
    AT_CORNER,
    CORNER_TRIES,
    MASSLESS_SHARE,
    first_width,
    following_width,
    lapse_for,
    tried_width,
    vanishing,
    width_factor,
)
from thermnet.solve.factors import Factors
from thermnet.solve.front import Front
from thermnet.solve.linear import Factor
from thermnet.solve.segments import MERGE, Segment
from thermnet.solve.tableaus import RODAS4, ROS34PW2

STALE = 4
"""Failed attempts at a step after which a kept factor is blamed."""

LOOKS = np.linspace(0.0, 1.0, 17)
"""Shares of a step at which to look for the corner of a curve."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Between:
    """Temperatures f8[n] between the ends of one step, of order 3 for every node.

    `parts` f8[4, n] are the first and last temperatures and the two dense outputs.
    """

    begin: float
    width: float
    parts: Floats

    @property
    def first(self) -> Floats:
        return np.asarray(self.parts[0])

    @property
    def last(self) -> Floats:
        return np.asarray(self.parts[1])

    def at(self, times: float | Floats, nodes: Indices) -> Floats:
        """Temperatures of some nodes f8[nodes] at one time, f8[nodes, q] at q times."""
        return self._combined(times, self.parts[:, nodes])

    def __call__(self, times: float | Floats) -> Floats:
        """Temperatures f8[n] at one time, f8[n, q] at q times."""
        return self._combined(times, self.parts)

    def _combined(self, times: float | Floats, parts: Floats) -> Floats:
        x = (np.asarray(times) - self.begin) / self.width
        y = 1.0 - x
        bump = x * y
        return np.asarray(parts.T @ np.array([y, x, bump, x * bump]))


class Rosenbrock:
    """Steps through one segment; `t`, `status` and `step` as scipy's steppers.

    `temperature` f8[n] covers every node: boundaries are imposed, massless nodes consistent when
    given so. `capacity` f8[n] [J/K] is constant meanwhile. A local error above `tolerance` [K] at
    a node with capacity (ten times that at one without) is tried again with a smaller step.
    `width` is the step to try next [s], None to begin from the first rates. Bends of histories are
    stepped onto, never over, and so are, nearly, the corners of curves over temperature: of a slope
    that jumps within a step the error estimate may see nothing. There `settle(t, temperature)`
    brings the massless nodes back into balance, whose slope at one side says nothing of the other.
    `factors` are shared by all segments of a history.
    """

    def __init__(
        self,
        front: Front,
        factors: Factors,
        capacity: Floats,
        segment: Segment,
        begin: float,
        temperature: Floats,
        *,
        tolerance: float,
        width: float | None = None,
        corners: tuple[Indices, Floats] | None = None,
        settle: Callable[[float, Floats], Floats] | None = None,
    ) -> None:
        self.front, self.balance, self.factors = front, front.balance, factors
        self.small = front.kind == "dense"
        self.tableau = RODAS4 if self.small else ROS34PW2
        self.t, self.end = begin, segment.end
        self.last = float(np.nextafter(segment.end, -np.inf))
        self.temperature = temperature
        self.following: Floats | None = None
        self.status = "running"
        self.evaluations = self.factorizations = 0
        self.boundary = self.balance.network.boundary
        self.capacity = capacity.copy()
        self.capacity[self.boundary] = 1.0  # any; no heat reaches them here
        self.weight = np.where(self.capacity > 0.0, 1.0, MASSLESS_SHARE) / tolerance
        self.weight[self.boundary] = 0.0
        self.stops = [*segment.bends[segment.bends > begin + MERGE].tolist(), segment.end]
        massive = self.capacity > 0.0
        self.net: Floats | None = self.balance.heat(temperature, begin)
        rate = np.abs(self.net[massive]) / self.capacity[massive]
        fastest = float(rate.max(initial=0.0))
        self.width = first_width(width or 0.0, segment.end - begin, fastest, tolerance, begin)
        self.corner, self.level = corners or (np.zeros(0, dtype=np.int32), np.zeros(0))
        self.settle = settle if len(self.corner) else None
        self.near = 0.5 * tolerance
        self.between: Between | None = None

    def step(self) -> str | None:
        """Go one step on; a sentence, and the status "failed", when even tiny steps do not do."""
        stop = self.stops[0]
        limit, tries, failed = np.inf, 0, 0
        wish, first = self.width, self.between is None
        if not self.small:
            wish = self.factors.wish(self.t, self.width, first=first)
        while True:
            width, lands = self._chosen(min(wish, limit), stop - self.t)
            if vanishing(width, self.t) and not lands:
                self.status = "failed"
                return "no step is small enough"
            error, after = self._tried(width, fresh=failed > STALE)
            factor = width_factor(error, self.tableau.order)
            if error <= 1.0 and after is not None:
                share = self._corner_share(after) if tries < CORNER_TRIES else 1.0
                if share > AT_CORNER:
                    break
                limit, tries = share * width, tries + 1
            else:
                self.width, failed = width * min(factor, 0.9), failed + 1
                wish = self.width
        self.width = following_width(self.width, width, factor)
        self.factors.taken[round(self.t, 6)] = width
        self.between, self.temperature = after, after.last
        self.net, self.following = self.following, None
        self.t = stop if lands else self.t + width
        if self.settle is not None:
            self.temperature = self.settle(self.t, self.temperature)
            self.net = None
        if lands:
            self.stops.pop(0)
        if not self.stops:
            self.status = "finished"
        return None

    def _chosen(self, width: float, left: float) -> tuple[float, bool]:
        """The length of the next step, and whether it ends at the stop that is `left` away.

        Steps that are to share factors are powers of two but for those that land.
        """
        tried = tried_width(width, left)
        if tried == left or self.small:
            return tried, tried == left
        return float(2.0 ** np.floor(np.log2(width * (1.0 + 1e-9)))), False

    def dense_output(self) -> Between:
        """The interpolant of the last step."""
        if self.between is None:
            raise RuntimeError("no step yet")
        return self.between

    def shorter(self, end: float) -> Between:
        """The last step once more, from its begin to an earlier end; the stepper stays put.

        Where a factor costs much, the interpolant of the step itself has to do.
        """
        between = self.dense_output()
        if not self.small:
            return between
        here = self.t, self.temperature
        self.t, self.temperature, self.net = between.begin, between.first, None
        _, after = self._tried(end - between.begin)
        self.t, self.temperature = here
        return after or between

    def _corner_share(self, between: Between) -> float:
        """Share of a step after which the first corner of a curve is clearly passed, 1 if none."""
        if len(self.corner) == 0:
            return 1.0
        times = between.begin + LOOKS * between.width
        height = between.at(times, self.corner) - self.level[:, None]
        beyond = -np.sign(height[:, :1]) * height - self.near
        passed = beyond[:, 1:] > 0.0
        share = 1.0
        for row in np.flatnonzero(passed.any(axis=1)):
            k = int(passed[row].argmax())
            before, after = min(beyond[row, k], 0.0), beyond[row, k + 1]
            instant = LOOKS[k] - before / (after - before) * (LOOKS[k + 1] - LOOKS[k])
            share = min(share, float(instant))
        return share

    @np.errstate(over="ignore", invalid="ignore")  # a step far too long is only tried again
    def _tried(self, width: float, *, fresh: bool = False) -> tuple[float, Between | None]:
        """Scaled error of one step, and the step itself unless it came to nothing finite."""
        table, balance, capacity = self.tableau, self.balance, self.capacity
        begin, start = self.t, self.temperature
        lapse = lapse_for(width, begin)
        instants = begin + np.append(width * table.instant, lapse)
        instants = np.minimum(instants, self.last)
        given = balance.given(instants)
        imposed = balance.imposed(instants) if balance.moving else None
        try:
            solve = self._factor(width, fresh=fresh)
        except ZeroDivisionError:
            return np.inf, None
        net = balance.heat(start, begin, given[0]) if self.net is None else self.net
        self.net = net
        change = width * self._change(instants, given, imposed, net)
        inertia = capacity / width
        moves = np.empty((len(table.weight), len(start)))
        for k in range(len(moves)):
            if k:
                stage = start + table.stage[k, :k] @ moves[:k]
                if imposed is not None:
                    stage[self.boundary] = imposed[k]
                net = balance.heat(stage, float(instants[k]), given[k])
                net = net + inertia * (table.mix[k, :k] @ moves[:k])
            if table.slope[k]:
                net = net + table.slope[k] * change
            moves[k] = solve(net)
        self.evaluations += len(moves)
        error = float(np.abs((table.error @ moves) * self.weight).max())
        if not np.isfinite(error):
            return np.inf, None
        last = start + table.weight @ moves
        if imposed is not None:
            last[self.boundary] = balance.imposed(instants[-2])
        if table.dense is not None:
            dense = table.dense @ moves
        elif error <= 1.0:
            dense = self._cubic(width, last)
        else:
            dense = np.zeros((2, len(last)))
        parts = np.vstack([start, last, dense])
        return max(error, 1e-12), Between(begin=begin, width=width, parts=parts)

    def _factor(self, width: float, *, fresh: bool) -> Factor:
        weight = self.capacity / (width * self.tableau.diagonal)
        if self.small:
            self.factorizations += 1
            return self.front.factor(weight, self.temperature, self.t)
        before = self.factors.made
        found = self.factors.get(self.front, width, weight, self.temperature, self.t, fresh=fresh)
        self.factorizations += self.factors.made - before
        return found

    def _cubic(self, width: float, last: Floats) -> Floats:
        """The two bumps of the cubic that has the slopes of the balance at both ends.

        The heat at the end is also the first thing that the next step needs.
        """
        start = self.temperature
        before = self.balance.heat(start, self.t) if self.net is None else self.net
        after = self.balance.heat(last, min(self.t + width, self.last))
        self.evaluations += 1
        self.following = after
        slope = np.where(self.capacity > 0.0, width / np.maximum(self.capacity, 1e-300), 0.0)
        rise = np.where(slope > 0.0, last - start, 0.0)
        slope[self.boundary] = rise[self.boundary] = 0.0
        return np.array([slope * before - rise, 2.0 * rise - slope * (before + after)])

    def _change(
        self, instants: Floats, given: Floats, imposed: Floats | None, net: Floats
    ) -> Floats:
        """Partial derivative of the heat by time [W/s] at the beginning of a step."""
        lapse = max(float(instants[-1] - instants[0]), 1e-12)
        if self.balance.waits:
            return np.asarray((given[-1] - given[0]) / lapse)
        later = self.temperature
        if imposed is not None:
            later = later.copy()
            later[self.boundary] = imposed[-1]
        return np.asarray((self.balance.heat(later, float(instants[-1]), given[-1]) - net) / lapse)


def curve_corners(network: Network) -> tuple[Indices, Floats]:
    """Nodes and their temperatures [K] at which a curve that drives heat changes its slope."""
    nodes, levels = [np.zeros(0, dtype=np.int32)], [np.zeros(0)]
    for driven in (network.links, network.heats):
        for k in np.flatnonzero(driven.curve != CONSTANT):
            points = network.curves[driven.curve[k]].x
            nodes.append(np.full(len(points), driven.sensor[k], dtype=np.int32))
            levels.append(points)
    return np.concatenate(nodes), np.concatenate(levels)
