"""Exchange of radiation between gray and diffuse faces that see each other.

Each of n faces has an area A [m2], an emittance e, one temperature, and leaves and receives the
same radiosity all over. F[i, j] is the view factor from i to j. What matters of both is the direct
exchange area S[i, j] = A[i] F[i, j] [m2], which is symmetric (reciprocity) and whose rows sum to
the areas where the faces close (closure).

With E = sigma T^4, reflectance r = 1 - e and G the power that comes to a face, the radiosities are
J = e E + r G / A, and G = S J. Solved for the power e G that is absorbed (derived; the method is
that of radiosities, for example Siegel and Howell, Thermal Radiation Heat Transfer),

    e G = K E,    K = e S e + e S d (A - d S d)^-1 d S e,    d = sqrt(r),

with e, d and A as diagonal matrices. K[i, j] [m2] is the exchange area: what i emits and j absorbs,
by whatever way, is K[i, j] sigma Ti^4. It is symmetric, has no negative entry, and in a closed
enclosure its rows sum to e A, so that nothing flows where all are equally warm. (Gebhart's factor
is K[i, j] / (e[i] A[i]).) A re-radiating face gives back all that it receives, as e = 0 does: it
takes no part in K, which holds what goes by way of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from scipy.linalg import LinAlgError, cholesky, solve_triangular
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components

from thermnet.physics.curves import Floats

Indices = np.ndarray[tuple[int, ...], np.dtype[np.int32]]

MOST_FACES = 12_000
"""Faces that see each other, by whatever way, which are solved together: one matrix of them takes
1.2 GB, and half a dozen are held at a time."""

EVEN = 1e-13
"""Relative difference between a row sum and its area at which a repair has been done."""

ROUNDS = 20_000
"""Rounds after which a repair is given up."""

SLOW = 50
"""Rounds in which the rest must fall at least somewhat, or the repair is given up."""


def direct_areas(area: Floats, factor: csr_array) -> csr_array:
    """Direct exchange areas [m2], n x n: the same both ways, whatever was stated.

    `area` f8[n] [m2], `factor` n x n. A view that is stated one way alone, the other being no entry
    of `factor`, counts for both; of two that miss reciprocity the mean does.
    """
    there = csr_array(factor.multiply(area[:, None]))
    once = _stated(factor)
    twice = once + once.T
    both = csr_array(there + there.T)
    return csr_array(both.multiply(_inverse(twice)))


def reciprocity(area: Floats, factor: csr_array) -> csr_array:
    """How far view factors miss reciprocity, n x n: |A[i] F[i, j] - A[j] F[j, i]| over the smaller
    of both areas, which is an error of that face's view factor. Only for those stated both ways.
    """
    there = csr_array(factor.multiply(area[:, None]))
    once = _stated(factor)
    missed = abs(there - there.T).multiply(once.multiply(once.T)).tocoo()
    least = np.minimum(area[missed.row], area[missed.col])
    return csr_array(coo_array((missed.data / least, (missed.row, missed.col)), missed.shape))


def _stated(factor: csr_array) -> csr_array:
    """1 for each entry of a matrix, also where it holds a zero."""
    return csr_array((np.ones(len(factor.data)), factor.indices, factor.indptr), factor.shape)


def _inverse(counts: csr_array) -> csr_array:
    return csr_array((1.0 / counts.data, counts.indices, counts.indptr), counts.shape)


def closure(area: Floats, direct: csr_array) -> Floats:
    """Sum of the view factors of each face f8[n]: 1 where it sees faces wherever it looks."""
    return np.asarray(direct.sum(axis=1)).ravel() / area


def repaired(area: Floats, direct: csr_array) -> csr_array:
    """Direct exchange areas of which every row sums to its area: each entry times the factors of
    its two faces, which keeps them symmetric and lets nothing become negative.

    The factors come by a damped fixed point (symmetric scaling of a matrix; Sinkhorn, 1964: from
    memory). Raises ValueError for faces whose rows can never sum to their areas, as two that only
    see each other and are not of one size.
    """
    scale = np.ones(len(area))
    rows = np.asarray(direct.sum(axis=1)).ravel()
    if (rows <= 0.0).any():
        raise ValueError(f"face {int(np.argmin(rows))} sees nothing: no repair closes it")
    best, since = np.inf, 0
    for _ in range(ROUNDS):
        sums = scale * (direct @ scale) / area
        rest = float(np.abs(sums - 1.0).max())
        if rest < EVEN:
            scaled = direct.multiply(scale[:, None]).multiply(scale[None, :])
            return csr_array((scaled + scaled.T) * 0.5)
        best, since = (rest, 0) if rest < 0.999 * best else (best, since + 1)
        if since > SLOW:
            break
        scale = scale / np.sqrt(sums)
    raise ValueError(
        f"no factors make every row sum to its area (a row is still off by {best:.1e}): view "
        "factors or areas are missing or wrong"
    )


def exchange_areas(area: Floats, direct: Floats, emittance: Floats) -> Floats:
    """Exchange areas K f8[n, n] [m2] of faces that may all see each other.

    `area` f8[n] [m2], `direct` f8[n, n] [m2] symmetric, `emittance` f8[n], 0 for a re-radiating
    face. Raises ValueError where a group of faces emits nothing at all, or sees more than it is.
    """
    given = emittance[:, None] * direct * emittance
    gray = np.flatnonzero(emittance < 1.0)  # black faces reflect nothing
    if not len(gray):
        return np.asarray(given)
    dark = np.sqrt(1.0 - emittance[gray])
    once = dark[:, None] * direct[gray] * emittance
    among = dark[:, None] * direct[np.ix_(gray, gray)] * dark
    try:
        lower = cholesky(np.diag(area[gray]) - among, lower=True)
    except LinAlgError:
        raise ValueError(_CAUGHT) from None
    if not (np.diag(lower) ** 2 > 1e-12 * area[gray]).all():
        raise ValueError(_CAUGHT)
    again = solve_triangular(lower, once, lower=True)
    return np.asarray(given + again.T @ again)


_CAUGHT = (
    "radiation is caught: some of these faces emit nothing and see only each other, or view "
    "factors sum to more than 1"
)


def exchanging(
    area: Floats, direct: csr_array, emittance: Floats
) -> tuple[Indices, Indices, Floats]:
    """Pairs of faces that exchange, i < j, and their exchange areas [m2], one of each pair.

    Groups of faces that do not see each other, by whatever way, are solved apart. Raises ValueError
    as `exchange_areas` does, and for a group of more than `MOST_FACES`.
    """
    parts = list(_groups(area, direct, emittance))
    if not parts:
        nothing: Indices = np.empty(0, dtype=np.int32)
        return nothing, nothing, np.empty(0)
    first, second, found = (np.concatenate([part[k] for part in parts]) for k in range(3))
    return first, second, found


def _groups(
    area: Floats, direct: csr_array, emittance: Floats
) -> Iterator[tuple[Indices, Indices, Floats]]:
    if (emittance == 1.0).all():
        pairs = direct.tocoo()
        upper = (pairs.row < pairs.col) & (pairs.data > 0.0)
        yield _whole(pairs.row[upper]), _whole(pairs.col[upper]), np.asarray(pairs.data[upper])
        return
    count, label = connected_components(direct, directed=False)
    order = np.argsort(label, kind="stable")
    bounds = np.searchsorted(label[order], np.arange(count + 1))
    for k in range(count):
        group = order[bounds[k] : bounds[k + 1]]
        if len(group) > MOST_FACES:
            raise ValueError(
                f"{len(group)} faces see each other, by whatever way: more than the {MOST_FACES} "
                "that are solved together"
            )
        block = exchange_areas(area[group], direct[group][:, group].toarray(), emittance[group])
        first, second = np.nonzero(np.triu(block, 1) > 0.0)
        yield _whole(group[first]), _whole(group[second]), block[first, second]


def _whole(values: Any) -> Indices:
    return np.asarray(values, dtype=np.int32)
