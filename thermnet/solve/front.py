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
from thermnet.network.primitives import Floats, Indices, Potential
from thermnet.solve.balance import Balance
from thermnet.solve.linear import Factor, factorized

BackEnd = Literal["dense", "sparse", "preconditioned"]

BACK_ENDS: dict[BackEnd, str] = {
    "dense": "dense factors",
    "sparse": "sparse factors",
    "preconditioned": "GMRES over sparse factors of the strong links",
}
"""What the statistics of a solution say."""

STRONG = 0.1
"""Share of a node's conductance that a radiative link must carry at one end to be factored."""

REFERENCE = 280.0
"""K at which links are compared."""

ITERATIONS, CYCLES = 40, 4
"""Most GMRES iterations, in cycles, before the whole matrix is factored after all."""

EXACT = 1e-9
"""Residual of an exact solve, as a share of its right-hand side, both as temperatures."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Front:
    """The pattern that is factored, found once for a balance, and the values that go into it.

    `free` are the nodes solved for; `own` f8[n] are the diagonals of the balance's matrices.
    `indices` and `indptr` are a pattern by columns over them,
    `column` the node of each entry, `diagonal` the places of the diagonal. `links` hold, for each
    potential, the summed strengths f8[nonzeros]. `heaters` are places and numbers of thermostats
    whose node and sensor are free; `rest` pairs of places here and in the rest's own pattern.
    """

    balance: Balance
    kind: BackEnd
    free: Indices
    own: tuple[Floats, ...]
    indices: Indices
    indptr: Indices
    column: Indices
    diagonal: Indices
    links: tuple[tuple[Potential, Floats], ...]
    heaters: tuple[Indices, Indices]
    rest: tuple[Indices, Indices]

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
        balance, size = self.balance, len(self.free)
        data = np.zeros(len(self.indices))
        for potential, strength in self.links:
            data -= strength * potential.slope(temperature)[self.column]
        if balance.ruled:
            places, numbers = self.heaters
            np.add.at(data, places, balance.duty_slopes(temperature, time)[numbers])
        if balance.rest is not None:
            places, numbers = self.rest
            data[places] -= jacobian_data(balance.rest, temperature, time)[numbers]
        data[self.diagonal] += weight[self.free]
        return csc_array((data, self.indices, self.indptr), shape=(size, size))

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
        converge, the whole matrix is factored.
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

    def _whole(self, weight: Floats, temperature: Floats, time: float) -> csc_array:
        balance = self.balance
        pattern, n = balance.network.pattern, len(temperature)
        data = -jacobian_data(balance.network, temperature, time, balance.state)
        matrix = csc_array((data, pattern.indices.copy(), pattern.indptr), shape=(n, n))
        part = csc_array(matrix[self.free][:, self.free])
        part.setdiag(part.diagonal() + weight[self.free])
        return part

    def _over_all_nodes(self, factor: Factor) -> Factor:
        free, n = self.free, len(self.balance.network.names)

        def solve(right: Floats, transposed: bool) -> Floats:
            result = np.zeros_like(right, shape=(n, *right.shape[1:]))
            result[free] = factor(right[free], transposed=transposed)
            return result

        return Factor(solve=solve, size=factor.size)


def front(balance: Balance) -> Front:
    """Choose the back end for a balance and find the pattern that is to be factored."""
    network = balance.network
    free, n = network.free, len(network.names)
    place = np.full(n, -1, dtype=np.int32)
    place[free] = np.arange(len(free))
    nothing = np.zeros(0, dtype=np.int32)
    own = tuple(np.asarray(matrix.diagonal()) for _, matrix in balance.links)
    if balance.dense:
        return Front(
            balance=balance,
            kind="dense",
            free=free,
            own=own,
            indices=nothing,
            indptr=nothing,
            column=nothing,
            diagonal=nothing,
            links=(),
            heaters=(nothing, nothing),
            rest=(nothing, nothing),
        )
    kept, complete = _kept(balance, place)
    stats = network.thermostats
    heated = np.flatnonzero((place[stats.node] >= 0) & (place[stats.sensor] >= 0))
    remaining, columns_of_rest = nothing, nothing
    rows_of_rest = nothing
    if balance.rest is not None:
        pattern = balance.rest.pattern
        rows_of_rest = place[pattern.indices]
        columns_of_rest = place[np.repeat(np.arange(n), np.diff(pattern.indptr))]
        remaining = np.flatnonzero((rows_of_rest >= 0) & (columns_of_rest >= 0)).astype(np.int32)
    size = len(free)
    keys = [rows + size * columns for rows, columns, _ in kept]
    keys.append(np.arange(size, dtype=np.int64) * (size + 1))
    keys.append(place[stats.node[heated]] + size * place[stats.sensor[heated]].astype(np.int64))
    keys.append(rows_of_rest[remaining] + size * columns_of_rest[remaining].astype(np.int64))
    every = np.sort(np.concatenate(keys))
    every = every[np.append(True, np.diff(every) > 0)]
    column = every // size
    aligned = []
    for (potential, _), (rows, columns, values) in zip(balance.links, kept, strict=True):
        strength = np.zeros(len(every))
        strength[np.searchsorted(every, rows + size * columns)] = values
        aligned.append((potential, strength))
    return Front(
        balance=balance,
        kind="sparse" if complete else "preconditioned",
        free=free,
        own=own,
        indices=(every % size).astype(np.int32),
        indptr=np.searchsorted(column, np.arange(size + 1)).astype(np.int32),
        column=free[column],
        diagonal=np.searchsorted(every, keys[-3]).astype(np.int32),
        links=tuple(aligned),
        heaters=(np.searchsorted(every, keys[-2]).astype(np.int32), heated.astype(np.int32)),
        rest=(np.searchsorted(every, keys[-1]).astype(np.int32), remaining),
    )


Triplets = tuple[Any, Any, Floats]


def _kept(balance: Balance, place: Indices) -> tuple[list[Triplets], bool]:
    """The entries to factor of each summed matrix as rows, columns, values; and whether all.

    Conduction and fluid stay, and so does all that touches a massless node, whose balance an
    integrator's method must know exactly. Rows and columns count free nodes.
    """
    network = balance.network
    slopes = [float(p.slope(np.array([REFERENCE]))[0]) for p, _ in balance.links]
    conductance = np.zeros(len(place))
    for slope, (_, matrix) in zip(slopes, balance.links, strict=True):
        conductance -= slope * matrix.diagonal()
    heavy = network.capacity > 0.0
    heavy[[node for node, _ in network.content]] = True
    least = np.where(heavy, STRONG * conductance, 0.0)
    least[network.boundary] = np.inf
    kept, complete = [], True
    for slope, (potential, matrix) in zip(slopes, balance.links, strict=True):
        every: Any = matrix
        always = potential.exponent == 1.0
        # Of a dense enclosure few entries pass the loosest test, which needs neither end.
        strength = np.abs(every.data) * slope
        passed = np.flatnonzero(strength >= (0.0 if always else least.min()))
        rows = np.searchsorted(every.indptr, passed, side="right") - 1
        columns, values = every.indices[passed], every.data[passed]
        inside = (place[rows] >= 0) & (place[columns] >= 0) & (rows != columns)
        if not always:
            inside &= strength[passed] >= np.minimum(least[rows], least[columns])
            complete &= int(inside.sum()) == _between_free(every, place)
        own = network.free
        kept.append(
            (
                np.concatenate([place[rows[inside]], place[own]]).astype(np.int64),
                np.concatenate([place[columns[inside]], place[own]]).astype(np.int64),
                np.concatenate([values[inside], every.diagonal()[own]]),
            )
        )
    return kept, complete


def _between_free(matrix: Any, place: Indices) -> int:
    """Number of entries of a matrix in rows and columns of two different free nodes."""
    free = place[matrix.indices] >= 0
    outside = np.flatnonzero(place < 0)
    imposed = sum(free[matrix.indptr[k] : matrix.indptr[k + 1]].sum() for k in outside)
    own = np.count_nonzero(matrix.diagonal()[place >= 0])
    return int(free.sum() - imposed - own)
