"""The one way to the linear systems (W - J) x = b of a heat balance: three back ends.

J is the Jacobian of the heat into the free nodes, W a diagonal: heat capacity over a time step, or
nothing. Small networks are factored dense. Larger ones are factored sparse, with a minimum-degree
order, as long as every link may take part. Long-range radiation would fill such factors; then only
conduction, the whole diagonal and the radiative links that matter at one of their ends are
factored. That suffices for the integrator, whose order any Jacobian leaves as it is, and it makes
the preconditioner of the exact systems, which GMRES solves in a handful of iterations.

Sources: J. W. H. Liu, ACM Trans. Math. Softw. 11 (1985) 141 for the order; Y. Saad and M. H.
Schultz, SIAM J. Sci. Stat. Comput. 7 (1986) 856 for GMRES (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from scipy.sparse import coo_array, csc_array
from scipy.sparse.linalg import LinearOperator, gmres

from thermnet.network.network import jacobian_data
from thermnet.network.primitives import Floats, Indices
from thermnet.solve.balance import Balance
from thermnet.solve.kept import Kept, kept_entries
from thermnet.solve.linear import Factor, factorized

BackEnd = Literal["dense", "sparse", "preconditioned"]

BACK_ENDS: dict[BackEnd, str] = {
    "dense": "dense factors",
    "sparse": "sparse factors",
    "preconditioned": "GMRES over sparse factors of the strong links",
}
"""What the statistics of a solution say."""

ITERATIONS, CYCLES = 40, 4
"""Most GMRES iterations, in cycles, before the whole matrix is factored after all."""

WHOLE_UP_TO = 5000
"""Free nodes up to which a dense matrix fits into memory whatever its links are."""

SPARSE_SHARE = 0.02
"""Share of entries that are not zero below which sparse factors stay sparse."""

EXACT = 1e-9
"""Residual of an exact solve, as a share of its right-hand side, both as temperatures."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Front:
    """What is found once for a balance: its back end, and the pattern that is factored.

    `free` are the nodes solved for; `own` f8[n] are the diagonals of the balance's matrices.
    `kept` is None for a dense back end.
    """

    balance: Balance
    kind: BackEnd
    free: Indices
    own: tuple[Floats, ...]
    kept: Kept | None

    def factor(self, weight: Floats, temperature: Floats, time: float) -> Factor:
        """Factor the matrix at f8[n] temperatures, weights f8[n]; approximate if preconditioned.

        Raises ZeroDivisionError for a singular matrix.
        """
        if self.kind == "dense":
            weight = weight.copy()
            weight[self.balance.network.boundary] = 1.0  # any; no heat reaches them here
            return factorized(self.balance.shifted(weight, temperature, time))
        return self._over_all_nodes(factorized(self.matrix(weight, temperature, time)))

    def matrix(self, weight: Floats, temperature: Floats, time: float) -> csc_array:
        """What `factor` factors of the free nodes, unless dense."""
        balance, size, kept = self.balance, len(self.free), self.kept
        if kept is None:
            raise ValueError("a dense back end factors no sparse matrix")
        data = np.zeros(len(kept.indices))
        for strength, (potential, _) in zip(kept.strengths, balance.links, strict=True):
            data -= strength * potential.slope(temperature)[kept.column]
        if balance.ruled:
            places, numbers = kept.heaters
            np.add.at(data, places, balance.duty_slopes(temperature, time)[numbers])
        if balance.rest is not None:
            places, numbers = kept.rest
            data[places] -= jacobian_data(balance.rest, temperature, time)[numbers]
        data[kept.diagonal] += weight[self.free]
        return csc_array((data, kept.indices, kept.indptr), shape=(size, size))

    def diagonal_values(self, weight: Floats, temperature: Floats, time: float) -> Floats:
        """The diagonal of the matrix f8[n], one at boundary nodes."""
        balance = self.balance
        result = weight.copy()
        for own, (potential, _) in zip(self.own, balance.links, strict=True):
            result -= own * potential.slope(temperature)
        if balance.ruled:
            stats = balance.network.thermostats
            here = stats.node == stats.sensor
            np.add.at(result, stats.node[here], balance.duty_slopes(temperature, time)[here])
        if balance.rest is not None:
            pattern = balance.rest.pattern
            data = jacobian_data(balance.rest, temperature, time)
            column = np.repeat(np.arange(len(result)), np.diff(pattern.indptr))
            here = pattern.indices == column
            result[column[here]] -= data[here]
        result[balance.network.boundary] = 1.0
        return result

    def solve(
        self,
        factor: Factor,
        weight: Floats,
        temperature: Floats,
        time: float,
        right: Floats,
        *,
        exact: float = EXACT,
        transposed: bool = False,
        own: bool = False,
    ) -> tuple[Floats, int]:
        """Solve the exact system at these arguments, with a factor made nearby or, `own`, at them.

        Returns f8[n] (zero at boundary nodes) and the number of iterations. Where these do not
        converge, the whole matrix is factored, unless that would take all memory there is: then
        ZeroDivisionError is raised as for a singular one.
        """
        if self.kind == "dense" or (own and self.kind == "sparse"):
            solved = factor(right, transposed=transposed)
            solved[self.balance.network.boundary] = 0.0
            return solved, 0
        free, size = self.free, len(self.free)
        diagonal = self.diagonal_values(weight, temperature, time)[free]
        product = self.product(weight, temperature, time, transposed=transposed)
        count = 0

        def scaled(values: Floats) -> Floats:
            nonlocal count
            count += 1
            return np.asarray(product(values) / diagonal)

        def preconditioned(values: Floats) -> Floats:
            whole = np.zeros(len(weight))
            whole[free] = diagonal * values
            return factor(whole, transposed=transposed)[free]

        shape: Any = (size, size)
        found: Any
        found, unfinished = gmres(
            LinearOperator(shape, matvec=scaled, dtype=np.float64),
            right[free] / diagonal,
            M=LinearOperator(shape, matvec=preconditioned, dtype=np.float64),
            rtol=exact,
            restart=ITERATIONS,
            maxiter=CYCLES,
        )
        if unfinished:
            if size > WHOLE_UP_TO:
                raise ZeroDivisionError("the iteration of a large linear system does not converge")
            whole = factorized(self._whole(weight, temperature, time))
            found = np.asarray(whole(right[free], transposed=transposed))
        result = np.zeros(len(weight))
        result[free] = found
        return result, count

    def product(
        self, weight: Floats, temperature: Floats, time: float, *, transposed: bool = False
    ) -> Any:
        """A function from f8[free] to the exact matrix times it."""
        balance, free = self.balance, self.free
        parts = [
            (matrix.T if transposed else matrix, potential.slope(temperature))
            for potential, matrix in balance.links
        ]
        further = self._further(temperature, time)

        def multiply(values: Floats) -> Floats:
            whole = np.zeros(len(weight))
            whole[free] = values
            total = weight * whole
            for matrix, slope in parts:
                total -= slope * (matrix @ whole) if transposed else matrix @ (slope * whole)
            if further is not None:
                total -= (further.T if transposed else further) @ whole
            return np.asarray(total[free])

        return multiply

    def _further(self, temperature: Floats, time: float) -> csc_array | None:
        """The part of the Jacobian that is not summed in matrices, n x n."""
        balance, n = self.balance, len(temperature)
        result: csc_array | None = None
        if balance.rest is not None:
            pattern = balance.rest.pattern
            data = jacobian_data(balance.rest, temperature, time)
            result = csc_array((data, pattern.indices, pattern.indptr), shape=(n, n))
        if balance.ruled:
            stats = balance.network.thermostats
            slopes = csc_array(
                coo_array(
                    (-balance.duty_slopes(temperature, time), (stats.node, stats.sensor)),
                    shape=(n, n),
                )
            )
            result = slopes if result is None else csc_array(result + slopes)
        return result

    def _whole(self, weight: Floats, temperature: Floats, time: float) -> Floats | csc_array:
        """The exact matrix of the free nodes, dense where it is no longer sparse."""
        balance = self.balance
        pattern, n = balance.network.pattern, len(temperature)
        data = -jacobian_data(balance.network, temperature, time, balance.state)
        matrix = csc_array((data, pattern.indices.copy(), pattern.indptr), shape=(n, n))
        part = csc_array(matrix[self.free][:, self.free])
        part.setdiag(part.diagonal() + weight[self.free])
        return part if part.nnz < SPARSE_SHARE * part.shape[0] ** 2 else part.toarray()

    def _over_all_nodes(self, factor: Factor) -> Factor:
        free, n = self.free, len(self.balance.network.names)

        def solve(right: Floats, transposed: bool) -> Floats:
            result = np.zeros_like(right, shape=(n, *right.shape[1:]))
            result[free] = factor(right[free], transposed=transposed)
            return result

        return Factor(solve=solve, size=factor.size)


def front(balance: Balance) -> Front:
    """Choose the back end for a balance and find the pattern that is to be factored."""
    kept = None if balance.dense else kept_entries(balance)
    kind: BackEnd = "dense"
    if kept is not None:
        kind = "sparse" if kept.complete else "preconditioned"
    return Front(
        balance=balance,
        kind=kind,
        free=balance.network.free,
        own=tuple(np.asarray(matrix.diagonal()) for _, matrix in balance.links),
        kept=kept,
    )
