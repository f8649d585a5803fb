"""Small linear systems: elimination along a known pattern, and with pivoting where that is unsafe.

Conductance matrices are diagonally dominant by columns, for which no pivoting is needed. Curves
over temperature can spoil that, so the size of every pivot is looked at. The matrix stands row by
row; only its leading rows and columns are used.
"""

from __future__ import annotations

from thermnet.solve.compiled_jit import part
from thermnet.solve.compiled_slots import MATRIX, PATTERN_BEGIN, PATTERN_ROW, PIVOTS, Flat, U

FAILED, PLAIN, PIVOTED = 0, 1, 2
"""How a matrix was factored."""

LEAST_PIVOT = 1e-2
"""Share of the largest entry below a pivot that it must have, so that errors hardly grow."""

LARGEST = 1e300


@part
def eliminated(flat: Flat, count: int) -> bool:
    """Factor the leading `count` rows in place; False where a pivot is too small or not finite."""
    x, p, n = flat.number, flat.place, flat.nodes
    matrix, begin, row = flat.at[MATRIX], flat.at[PATTERN_BEGIN], flat.at[PATTERN_ROW]
    for k in range(count):
        upper = matrix + k * n
        first, last = row + p[U(begin + k)], row + p[U(begin + k + 1)]
        while last > first and p[U(last - 1)] >= count:
            last -= 1
        largest = 0.0
        for e in range(first, last):
            largest = max(largest, abs(x[U(matrix + p[U(e)] * n + k)]))
        pivot = x[U(upper + k)]
        if not abs(pivot) > LEAST_PIVOT * largest or not abs(pivot) < LARGEST:
            return False
        inverse = 1.0 / pivot
        x[U(upper + k)] = inverse
        for e in range(first, last):
            lower = matrix + p[U(e)] * n
            share = x[U(lower + k)] * inverse
            x[U(lower + k)] = share
            for other in range(first, last):
                j = p[U(other)]
                x[U(lower + j)] -= share * x[U(upper + j)]
    return True


@part
def substituted(flat: Flat, count: int, right: int) -> None:
    """Solve with the leading `count` rows that `eliminated` factored, in place."""
    x, p, n = flat.number, flat.place, flat.nodes
    matrix, begin, row = flat.at[MATRIX], flat.at[PATTERN_BEGIN], flat.at[PATTERN_ROW]
    for k in range(count):
        value, column = x[U(right + k)], matrix + k
        for e in range(row + p[U(begin + k)], row + p[U(begin + k + 1)]):
            i = p[U(e)]
            if i >= count:
                break
            x[U(right + i)] -= x[U(column + i * n)] * value
    for k in range(count - 1, -1, -1):
        value, upper = x[U(right + k)], matrix + k * n
        for e in range(row + p[U(begin + k)], row + p[U(begin + k + 1)]):
            j = p[U(e)]
            if j >= count:
                break
            value -= x[U(upper + j)] * x[U(right + j)]
        x[U(right + k)] = value * x[U(upper + k)]


@part
def pivoted(flat: Flat, count: int) -> bool:
    """Factor the leading `count` rows in place with row exchanges; False if singular."""
    x, p, n, matrix = flat.number, flat.place, flat.nodes, flat.at[MATRIX]
    for k in range(count):
        upper, best = matrix + k * n, k
        for i in range(k + 1, count):
            if abs(x[matrix + i * n + k]) > abs(x[matrix + best * n + k]):
                best = i
        p[flat.at[PIVOTS] + k] = best
        other = matrix + best * n
        if not 0.0 < abs(x[other + k]) < LARGEST:
            return False
        if best != k:
            for j in range(count):
                kept = x[upper + j]
                x[upper + j] = x[other + j]
                x[other + j] = kept
        inverse = 1.0 / x[upper + k]
        for i in range(k + 1, count):
            lower = matrix + i * n
            share = x[lower + k] * inverse
            x[lower + k] = share
            if share != 0.0:
                for j in range(k + 1, count):
                    x[lower + j] -= share * x[upper + j]
    return True


@part
def unpivoted(flat: Flat, count: int, right: int) -> None:
    """Solve with what `pivoted` factored, in place."""
    x, n, matrix = flat.number, flat.nodes, flat.at[MATRIX]
    for k in range(count):
        best = right + flat.place[flat.at[PIVOTS] + k]
        value = x[best]
        x[best] = x[right + k]
        x[right + k] = value
    for k in range(count):
        for i in range(k + 1, count):
            x[right + i] -= x[matrix + i * n + k] * x[right + k]
    for k in range(count - 1, -1, -1):
        value = x[right + k]
        for j in range(k + 1, count):
            value -= x[matrix + k * n + j] * x[right + j]
        x[right + k] = value / x[matrix + k * n + k]
