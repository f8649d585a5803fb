"""scipy's integrators, the ones behind `solve_ivp`, as an independent way through a stretch."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.integrate import BDF, LSODA, Radau
from scipy.sparse import csc_array, diags_array

from thermnet.network.primitives import Floats, Indices
from thermnet.solve.closure import Closure
from thermnet.solve.linear import DENSE_UP_TO
from thermnet.solve.segments import Segment
from thermnet.solve.solution import Options

INTEGRATORS: dict[str, Any] = {"scipy-bdf": BDF, "scipy-radau": Radau, "scipy-lsoda": LSODA}

TOLERANCE_SHARE = 0.05
"""Local error tolerance as a share of the accuracy asked for: errors of many steps add up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Course:
    """scipy's interpolant of the massive nodes; massless ones are only guessed."""

    massive: Any
    row: Indices
    guess: Floats

    def at(self, times: float | Floats, nodes: Indices) -> Floats:
        """As `events.Course`."""
        values = np.asarray(self.massive(times))
        rows = self.row[nodes]
        guessed = rows < 0
        result = values[np.where(guessed, 0, rows)]
        result[guessed] = self.guess[nodes[guessed]].reshape(-1, *[1] * (values.ndim - 1))
        return result


class ScipyStepper:
    """One stretch of a history, stepped by scipy over the massive nodes alone."""

    def __init__(
        self,
        closure: Closure,
        capacity: Floats,
        begin: float,
        segment: Segment,
        y: Floats,
        options: Options,
    ) -> None:
        self.closure, self.how = closure, options.method
        capacity = capacity[closure.massive]
        dense = len(closure.massive) <= DENSE_UP_TO or options.method == "scipy-lsoda"

        def rate(time: float, values: Floats) -> Floats:
            return np.asarray(closure.full(time, values)[1][closure.massive] / capacity)

        def slope(time: float, values: Floats) -> Any:
            reduced = closure.reduced_jacobian(time, values)
            if isinstance(reduced, np.ndarray):
                return reduced / capacity[:, None]
            scaled = csc_array(diags_array(1.0 / capacity) @ reduced)
            return scaled.toarray() if dense else scaled

        tolerance = options.accuracy * TOLERANCE_SHARE
        self.inner: Any = INTEGRATORS[options.method](
            rate,
            begin,
            y,
            segment.end,
            jac=slope,
            rtol=1e-10,
            atol=tolerance,
            max_step=segment.longest,
        )

    @property
    def t(self) -> float:
        return float(self.inner.t)

    @property
    def y(self) -> Floats:
        return np.asarray(self.inner.y)

    @property
    def status(self) -> str:
        return str(self.inner.status)

    @property
    def factorizations(self) -> int:
        return int(self.inner.nlu)

    def step(self) -> str | None:
        message = self.inner.step()
        return None if message is None else str(message)

    def course(self) -> _Course:
        """Temperatures between the ends of the last step."""
        closure = self.closure
        row = np.full(len(closure.network.names), -1, dtype=np.int32)
        row[closure.massive] = np.arange(len(closure.massive))
        guess = np.zeros(len(closure.network.names))
        guess[closure.massless] = closure.guess
        return _Course(massive=self.inner.dense_output(), row=row, guess=guess)
