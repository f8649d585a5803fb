"""The linear systems of every solver: conductance matrices, dense when small, sparse otherwise."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.linalg.lapack import dgetrf, dgetrs
from scipy.sparse import coo_array, csc_array
from scipy.sparse.linalg import splu

from thermnet.network.pattern import Pattern
from thermnet.network.primitives import Floats, Indices

DENSE_UP_TO = 200
"""Nodes up to which dense factors are quicker than sparse ones."""

VALUE_AND_PLACE = 12
"""Bytes of one value of a sparse factor with its place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """The part of a sparse pattern at some rows and columns, found once, filled many times."""

    rows: Indices
    columns: Indices
    position: Indices
    shape: tuple[int, int]

    def dense(self, data: Floats) -> Floats:
        """The block as a dense array, from the values on the whole pattern."""
        result = np.zeros(self.shape)
        result[self.rows, self.columns] = data[self.position]
        return result

    def sparse(self, data: Floats) -> csc_array:
        """The block as a sparse array, from the values on the whole pattern."""
        whole = coo_array((data[self.position], (self.rows, self.columns)), shape=self.shape)
        return whole.tocsc()

    def matrix(self, data: Floats) -> Floats | csc_array:
        """Dense where small, sparse otherwise."""
        return self.dense(data) if max(self.shape) <= DENSE_UP_TO else self.sparse(data)


def block(pattern: Pattern, rows: Indices, columns: Indices) -> Block:
    """Find the entries of a pattern that lie at the given rows and columns."""
    size = len(pattern.indptr) - 1
    row_of, column_of = np.full((2, size), -1, dtype=np.int32)
    row_of[rows] = np.arange(len(rows))
    column_of[columns] = np.arange(len(columns))
    at_row = row_of[pattern.indices]
    at_column = column_of[np.repeat(np.arange(size), np.diff(pattern.indptr))]
    position = np.flatnonzero((at_row >= 0) & (at_column >= 0)).astype(np.int32)
    return Block(
        rows=at_row[position],
        columns=at_column[position],
        position=position,
        shape=(len(rows), len(columns)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Factor:
    """A factored square matrix: called with right-hand sides f8[n] or f8[n, k] it solves for them.

    `size` [bytes] is what it holds in memory.
    """

    solve: Callable[[Floats, bool], Floats]
    size: int

    def __call__(self, right: Floats, *, transposed: bool = False) -> Floats:
        return self.solve(right, transposed)


def factorized(matrix: Floats | csc_array) -> Factor:
    """Factor a square matrix once and return a function that solves for right-hand sides.

    Raises ZeroDivisionError when the matrix is singular or not finite. Sparse factors keep the
    minimum-degree order of the symmetric pattern, which conductance matrices (diagonally dominant
    by columns) allow without pivoting.
    """
    if matrix.shape[0] == 0:
        return Factor(solve=_nothing, size=0)
    return _dense(matrix) if isinstance(matrix, np.ndarray) else _sparse(matrix)


def _nothing(right: Floats, transposed: bool) -> Floats:  # noqa: ARG001 -- as every factor
    return right


def _dense(matrix: Floats) -> Factor:
    if not np.isfinite(matrix).all():
        raise ZeroDivisionError("conductance matrix is not finite")
    factors, pivots, zero_pivot = dgetrf(matrix)
    if zero_pivot:
        raise ZeroDivisionError("singular conductance matrix")

    def solve(right: Floats, transposed: bool) -> Floats:
        return np.asarray(dgetrs(factors, pivots, right, trans=int(transposed))[0])

    return Factor(solve=solve, size=factors.nbytes)


def _sparse(matrix: csc_array) -> Factor:
    if not np.isfinite(matrix.data).all():
        raise ZeroDivisionError("conductance matrix is not finite")
    factors: Any
    try:
        factors = splu(
            matrix,
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            relax=1,
            options={"SymmetricMode": True},
        )
    except RuntimeError as error:
        raise ZeroDivisionError("singular conductance matrix") from error

    def solve(right: Floats, transposed: bool) -> Floats:
        return np.asarray(factors.solve(right, "T" if transposed else "N"))

    return Factor(solve=solve, size=VALUE_AND_PLACE * factors.nnz)


def solver(matrix: Floats | csc_array) -> Callable[[Floats], Floats]:
    """Like `factorized`, for very many right-hand sides: a small matrix is inverted once.

    A product with the inverse costs a fifth of two triangular solves at 30 unknowns.
    """
    if not isinstance(matrix, np.ndarray):
        return factorized(matrix)
    if not np.isfinite(matrix).all():
        raise ZeroDivisionError("conductance matrix is not finite")
    try:
        inverse = np.linalg.inv(matrix)
    except np.linalg.LinAlgError as error:
        raise ZeroDivisionError("singular conductance matrix") from error
    return lambda right: np.asarray(inverse @ right)
