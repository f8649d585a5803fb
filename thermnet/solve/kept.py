"""Which entries of a large Jacobian are factored: all that matter, none that would fill it up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from thermnet.network.primitives import Floats, Indices
from thermnet.solve.balance import Balance

Places = np.ndarray[tuple[int, ...], np.dtype[np.int64]]
Triplets = tuple[Places, Places, Floats]

STRONG = 0.1
"""Share of a node's conductance that a radiative link must carry at one end to be factored."""

REFERENCE = 280.0
"""K at which links are compared."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A pattern by columns over the free nodes, in their own numbering, and what goes into it.

    `column` is the node of each entry, `diagonal` the places of the diagonal. `strengths` are
    those of the balance's matrices, f8[nonzeros] each. `heaters` are places, and numbers of the
    thermostats whose node and sensor are free; `rest` are places here, and in the pattern of the
    balance's rest. `complete` says that nothing was left out.
    """

    indices: Indices
    indptr: Indices
    column: Indices
    diagonal: Indices
    strengths: tuple[Floats, ...]
    heaters: tuple[Indices, Indices]
    rest: tuple[Indices, Indices]
    complete: bool


def kept_entries(balance: Balance) -> Kept:
    """Find the entries of a sparse balance that are to be factored."""
    network = balance.network
    free, size = network.free, len(network.free)
    place = np.full(len(network.names), -1, dtype=np.int64)
    place[free] = np.arange(size)
    strong, complete = _strong(balance, place)
    stats = network.thermostats
    heated = np.flatnonzero((place[stats.node] >= 0) & (place[stats.sensor] >= 0))
    keys_of_heaters = place[stats.node[heated]] + size * place[stats.sensor[heated]]
    keys_of_rest, of_rest = _rest_keys(balance, place)
    own = np.arange(size) * (size + 1)
    keys_of_links = [rows + size * columns for rows, columns, _ in strong]
    every = np.sort(np.concatenate([*keys_of_links, own, keys_of_heaters, keys_of_rest]))
    every = every[np.append(True, np.diff(every) > 0)]
    column = every // size

    def places(keys: Places) -> Indices:
        return np.asarray(np.searchsorted(every, keys), dtype=np.int32)

    strengths = []
    for keys, (_, _, values) in zip(keys_of_links, strong, strict=True):
        strength = np.zeros(len(every))
        strength[places(keys)] = values
        strengths.append(strength)
    return Kept(
        indices=(every % size).astype(np.int32),
        indptr=np.searchsorted(column, np.arange(size + 1)).astype(np.int32),
        column=free[column],
        diagonal=places(own),
        strengths=tuple(strengths),
        heaters=(places(keys_of_heaters), heated.astype(np.int32)),
        rest=(places(keys_of_rest), of_rest),
        complete=complete,
    )


def _rest_keys(balance: Balance, place: Places) -> tuple[Places, Indices]:
    """Keys of the rest's entries between free nodes, and their places in its own pattern."""
    if balance.rest is None:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int32)
    pattern = balance.rest.pattern
    rows = place[pattern.indices]
    columns = place[np.repeat(np.arange(pattern.size), np.diff(pattern.indptr))]
    inside = np.flatnonzero((rows >= 0) & (columns >= 0))
    size = len(balance.network.free)
    return rows[inside] + size * columns[inside], inside.astype(np.int32)


def _strong(balance: Balance, place: Places) -> tuple[list[Triplets], bool]:
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


def _between_free(matrix: Any, place: Places) -> int:
    """Number of entries of a matrix in rows and columns of two different free nodes."""
    free = place[matrix.indices] >= 0
    outside = np.flatnonzero(place < 0)
    imposed = sum(free[matrix.indptr[k] : matrix.indptr[k + 1]].sum() for k in outside)
    own = np.count_nonzero(matrix.diagonal()[place >= 0])
    return int(free.sum() - imposed - own)
