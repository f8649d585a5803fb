"""A linearly implicit integrator for heat balances: one factor a step, and no iteration.

C dT/dt = q(T, t), with C = 0 for massless nodes, is a differential-algebraic system of index 1.
Stiffly accurate, L-stable Rosenbrock methods step over both kinds of node alike, and each step
stands alone, so that starting again after a jump or a switching costs nothing.

Source: E. Hairer, G. Wanner, Solving Ordinary Differential Equations II, 2nd ed., Springer 1996,
sections IV.7 (the method in the form without products by the Jacobian) and VI.4 (index 1).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from thermnet.network.primitives import Floats
from thermnet.solve.balance import Balance, corners
from thermnet.solve.linear import factorized
from thermnet.solve.segments import MERGE, Segment


@dataclass(frozen=True, slots=True, kw_only=True)
class Tableau:
    """Coefficients of a stiffly accurate Rosenbrock method with s stages.

    Stage i solves (C / (h diagonal) - J) U_i = q(T + sum_j stage_ij U_j, t + instant_i h)
    + C / h sum_j mix_ij U_j + h slope_i dq/dt. The step ends at T + weight . U; error . U is what
    the embedded method of one order less says otherwise. Between, at share x of the step, lies
    (1 - x) T_0 + x (T_1 + (1 - x) (dense_0 . U + x dense_1 . U)), of order 3.
    """

    diagonal: float
    stage: Floats
    mix: Floats
    instant: Floats
    slope: Floats
    weight: Floats
    error: Floats
    dense: Floats
    order: int


def _lower(*rows: tuple[float, ...]) -> Floats:
    """Strictly lower triangular matrix from its rows, the empty first one left out."""
    result = np.zeros((len(rows) + 1, len(rows) + 1))
    for k, row in enumerate(rows, start=1):
        result[k, :k] = row
    return result


RODAS4 = Tableau(
    diagonal=0.25,
    stage=_lower(
        (1.544,),
        (0.9466785280815826, 0.2557011698983284),
        (3.314825187068521, 2.896124015972201, 0.9986419139977817),
        (1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950),
        (1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950, 1.0),
    ),
    mix=_lower(
        (-5.6688,),
        (-2.430093356833875, -0.2063599157091915),
        (-0.1073529058151375, -9.594562251023355, -20.47028614809616),
        (7.496443313967647, -10.24680431464352, -33.99990352819905, 11.70890893206160),
        (
            8.083246795921522,
            -7.981132988064893,
            -31.52159432874371,
            16.31930543123136,
            -6.058818238834054,
        ),
    ),
    instant=np.array([0.0, 0.386, 0.21, 0.63, 1.0, 1.0]),
    slope=np.array([0.25, -0.1043, 0.1035, -0.0362, 0.0, 0.0]),
    weight=np.array(
        [1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950, 1.0, 1.0]
    ),
    error=np.array([0.0, 0.0, 0.0, 0.0, 0.0, 1.0]),
    dense=np.array(
        [
            [
                10.12623508344586,
                -7.487995877610167,
                -34.80091861555747,
                -7.992771707568823,
                1.025137723295662,
                0.0,
            ],
            [
                -0.6762803392801253,
                6.087714651680015,
                16.43084320892478,
                24.76722511418386,
                -6.594389125716872,
                0.0,
            ],
        ]
    ),
    order=4,
)
"""Order 4, embedded order 3, exact Jacobian: the method of the code RODAS in the book above.

Digits from memory; the tests find that every order condition holds to 14 digits, which no
mistaken digit would leave standing.
"""

SAFETY = 0.85
"""Factor on the next step, so that few steps are tried in vain."""

GROWTH = 5.0
"""Largest factor from one step to the next; its inverse is the smallest."""

FIRST_CHANGE = 1000.0
"""Tolerances that the fastest node may move, at its first rate, in the first step of a stretch: a
method that damps what is fast would else step over its decay after a jump unseen."""

LOOKS = np.linspace(0.0, 1.0, 17)
"""Shares of a step at which to look for the corner of a curve."""

AT_CORNER = 0.95
"""Share of a step after which a corner may lie in it."""

CORNER_TRIES = 8
"""Most attempts to end a step at a corner."""

NEXT_TIME = 1e-3
"""Share of a step over which the change of heat with time is taken; histories are straight."""


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

    def __call__(self, time: float | Floats) -> Floats:
        """Temperatures f8[n] at one time, f8[n, q] at q times."""
        x = (np.asarray(time) - self.begin) / self.width
        y = 1.0 - x
        bump = x * y
        return np.asarray(self.parts.T @ np.array([y, x, bump, x * bump]))


class Rosenbrock:
    """Steps through one segment; `t`, `status`, `step` and `dense_output` as scipy's steppers.

    `temperature` f8[n] covers every node: boundaries are imposed, massless nodes consistent when
    given so. `capacity` f8[n] [J/K] is constant meanwhile. A local error above `tolerance` [K] at
    a node with capacity (ten times that at one without) is tried again with a smaller step.
    `width` is the step to try next [s], None to begin from the first rates. Bends of histories are
    stepped onto, never over, and so are, nearly, the corners of curves over temperature: of a slope
    that jumps within a step the error estimate may see nothing. There `settle(t, temperature)`
    brings the massless nodes back into balance, whose slope at one side says nothing of the other.
    """

    def __init__(
        self,
        balance: Balance,
        capacity: Floats,
        segment: Segment,
        begin: float,
        temperature: Floats,
        *,
        tolerance: float,
        width: float | None = None,
        tableau: Tableau = RODAS4,
        settle: Callable[[float, Floats], Floats] | None = None,
    ) -> None:
        self.balance = balance
        self.tableau = tableau
        self.t, self.end = begin, segment.end
        self.last = float(np.nextafter(segment.end, -np.inf))
        self.temperature = temperature
        self.status = "running"
        self.evaluations = self.factorizations = self.rejections = 0
        self.boundary = balance.network.boundary
        self.capacity = capacity.copy()
        self.capacity[self.boundary] = 1.0  # any; no heat reaches them here
        self.weight = np.where(self.capacity > 0.0, 1.0, 0.1) / tolerance
        self.weight[self.boundary] = 0.0
        self.stops = [*segment.bends[segment.bends > begin + MERGE].tolist(), segment.end]
        massive = self.capacity > 0.0
        rate = np.abs(balance.heat(temperature, begin)[massive]) / self.capacity[massive]
        limit = FIRST_CHANGE * tolerance / max(float(rate.max(initial=0.0)), 1e-30)
        limit = max(limit, 1e-9 * max(abs(begin), 1.0))
        self.width = min(segment.end - begin if width is None else width, limit)
        self.corner, self.level = corners(balance.network)
        self.settle = settle if len(self.corner) else None
        self.near = 0.5 * tolerance
        self.between: Between | None = None

    def step(self) -> str | None:
        """Go one step on; a sentence, and the status "failed", when even tiny steps do not do."""
        stop = self.stops[0]
        limit, tries = np.inf, 0
        while True:
            left = stop - self.t
            width, lands = min(self.width, limit), False
            if width >= 0.999 * left:
                width, lands = left, True
            elif width > 0.5 * left:
                width = 0.5 * left
            if width < 1e-12 * max(abs(self.t), 1.0) and not lands:
                self.status = "failed"
                return "no step is small enough"
            error, after = self._tried(width)
            factor = min(max(SAFETY * error ** (-1.0 / self.tableau.order), 1.0 / GROWTH), GROWTH)
            if error <= 1.0 and after is not None:
                share = self._corner_share(after) if tries < CORNER_TRIES else 1.0
                if share > AT_CORNER:
                    break
                limit, tries = share * width, tries + 1
            else:
                self.width = width * min(factor, 0.9)
            self.rejections += 1
        # A step cut short by a stop or a corner tells little about the next one.
        shortened = width < self.width
        self.width = max(self.width, width * factor) if shortened else width * factor
        self.between, self.temperature = after, after.last
        self.t = stop if lands else self.t + width
        if self.settle is not None:
            self.temperature = self.settle(self.t, self.temperature)
        if lands:
            self.stops.pop(0)
        if not self.stops:
            self.status = "finished"
        return None

    def dense_output(self) -> Between:
        """The interpolant of the last step."""
        if self.between is None:
            raise RuntimeError("no step yet")
        return self.between

    def shorter(self, end: float) -> Between:
        """The last step once more, from its begin to an earlier end; the stepper stays put."""
        between = self.dense_output()
        here = self.t, self.temperature
        self.t, self.temperature = between.begin, between.first
        _, after = self._tried(end - between.begin)
        self.t, self.temperature = here
        return after or between

    def _corner_share(self, between: Between) -> float:
        """Share of a step after which the first corner of a curve is clearly passed, 1 if none."""
        if len(self.corner) == 0:
            return 1.0
        times = between.begin + LOOKS * between.width
        height = between(times)[self.corner] - self.level[:, None]
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
    def _tried(self, width: float) -> tuple[float, Between | None]:
        """Scaled error of one step, and the step itself unless it came to nothing finite."""
        table, balance, capacity = self.tableau, self.balance, self.capacity
        begin, start = self.t, self.temperature
        lapse = max(NEXT_TIME * width, 1e-8 * max(abs(begin), 1.0))
        instants = begin + np.append(width * table.instant, lapse)
        instants = np.minimum(instants, self.last)
        given = balance.given(instants)
        imposed = balance.imposed(instants) if balance.moving else None
        try:
            matrix = balance.shifted(capacity / (width * table.diagonal), start, begin)
            solve = factorized(matrix)
        except ZeroDivisionError:
            return np.inf, None
        self.factorizations += 1
        net = balance.heat(start, begin, given[0])
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
        parts = np.vstack([start, last, table.dense @ moves])
        return max(error, 1e-12), Between(begin=begin, width=width, parts=parts)

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
