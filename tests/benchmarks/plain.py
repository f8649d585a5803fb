"""A model as plain arrays, the way one sets it up by hand for a general library.

Made from the parts alone: nothing here uses the networks or solvers of this project. Cold space
and other imposed temperatures are eliminated first. Between two instants heat is linear in time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array, csc_array, csr_array, diags_array

from thermnet.network.parts import (
    BoundaryPart,
    HeatsPart,
    History,
    LinksPart,
    NodesPart,
    Part,
    ThermostatPart,
)
from thermnet.network.primitives import Floats, Indices

SMALL = 200
"""Nodes up to which dense arrays are quicker."""

STRONG = 0.1
"""Share of a node's conductance that a radiative link carries to be in the preconditioner."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heaters:
    """Thermostats: places of nodes and sensors i4[h], W, and K at which they go on and off."""

    node: Indices
    sensor: Indices
    power: Floats
    on: Floats
    off: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """From `begin` to `end` [s] heat f8[n] [W] is `first + slope * (t - begin)`."""

    begin: float
    end: float
    first: Floats
    slope: Floats

    def heat(self, time: float) -> Floats:
        return self.first + self.slope * (time - self.begin)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plain:
    """C dT/dt = q(t) + G T + R T^4 for n free nodes.

    G and R are minus the Laplacians of conduction and radiation, csr; of small models `dense` holds
    them as arrays, which are quicker there. The pattern of G + R by columns is found once,
    `indices` and `indptr`, with the values of both on it.
    """

    names: tuple[str, ...]
    capacity: Floats
    conduction: csr_array
    radiation: csr_array
    dense: tuple[Floats, Floats] | None
    constant: Floats
    timed: tuple[tuple[Floats, History], ...]
    heaters: Heaters
    indices: Indices
    indptr: Indices
    column: Indices
    conducting: Floats
    radiating: Floats

    def net(self, temperature: Floats, heat: Floats) -> Floats:
        """Net heat f8[n] [W] with `heat` given."""
        squared = temperature * temperature
        conduction, radiation = self.dense or (self.conduction, self.radiation)
        return np.asarray(heat + conduction @ temperature + radiation @ (squared * squared))

    def values(self, temperature: Floats) -> Floats:
        """Those of the Jacobian [W/K] on the pattern."""
        return self.conducting + self.radiating * (4.0 * temperature**3)[self.column]

    def jacobian(self, temperature: Floats) -> csc_array:
        return self._matrix(self.values(temperature))

    def rates(self, temperature: Floats) -> Floats | csc_array:
        """The Jacobian of dT/dt [1/s], dense of a small model."""
        if self.dense is not None:
            conduction, radiation = self.dense
            return (conduction + radiation * (4.0 * temperature**3)) / self.capacity[:, None]
        return self._matrix(self.values(temperature) / self.capacity[self.indices])

    def _matrix(self, values: Floats) -> csc_array:
        n = len(self.capacity)
        return csc_array((values, self.indices, self.indptr), shape=(n, n))

    def mean(self) -> Floats:
        """Time mean of the heat [W]."""
        total = self.constant.copy()
        for amplitude, history in self.timed:
            width = np.diff(history.time)
            middle = (history.value[1:] + history.value[:-1]) / 2.0
            total += amplitude * float(width @ middle) / float(width.sum())
        return total

    def stretches(self, begin: float, end: float, period: float) -> Iterator[Stretch]:
        """From instant to instant of the histories, which repeat with the period."""
        instants = np.unique(np.concatenate([history.time for _, history in self.timed]))
        orbits = range(int(begin // period), int(end // period) + 1)
        edges = np.unique(np.concatenate([instants + k * period for k in orbits]))
        inside = edges[(edges > begin + 1e-6) & (edges < end - 1e-6)]
        cuts = [begin, *inside.tolist(), end]
        for a, b in zip(cuts[:-1], cuts[1:], strict=True):
            quarter = (b - a) / 4.0
            early, late = self._heat(a + quarter, period), self._heat(b - quarter, period)
            slope = (late - early) / (2.0 * quarter)
            yield Stretch(begin=a, end=b, first=early - quarter * slope, slope=slope)

    def _heat(self, time: float, period: float) -> Floats:
        """At an instant inside a stretch, where no history jumps."""
        total = self.constant.copy()
        for amplitude, history in self.timed:
            total += amplitude * np.interp(time % period, history.time, history.value)
        return total

    def strong(self) -> Preconditioner:
        """What is worth factoring: conduction, the diagonal, and strong radiative links."""
        n = len(self.capacity)
        conductance = self.radiating * 4.0 * 280.0**3
        own = self.indices == self.column
        diagonal = -(self.conducting + conductance)[own]
        least = STRONG * np.minimum(diagonal[self.indices], diagonal[self.column])
        kept = np.flatnonzero((self.conducting != 0.0) | own | (conductance > least))
        return Preconditioner(
            indices=self.indices[kept],
            indptr=np.searchsorted(self.column[kept], np.arange(n + 1)).astype(np.int32),
            column=self.column[kept],
            own=np.flatnonzero(own[kept]),
            conducting=self.conducting[kept],
            radiating=self.radiating[kept],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Preconditioner:
    """The part of a Jacobian that is worth factoring, on its own pattern by columns."""

    indices: Indices
    indptr: Indices
    column: Indices
    own: Indices
    conducting: Floats
    radiating: Floats

    def shifted(self, temperature: Floats, weight: Floats) -> csc_array:
        """diag(weight) - J, as far as kept."""
        values = -(self.conducting + self.radiating * (4.0 * temperature**3)[self.column])
        values[self.own] += weight
        n = len(weight)
        return csc_array((values, self.indices, self.indptr), shape=(n, n))


def plain(parts: Sequence[Part]) -> Plain:
    """Set up the arrays of one of the benchmarks' models."""
    nodes = [part for part in parts if isinstance(part, NodesPart)]
    names = [name for part in nodes for name in part.names]
    imposed = [part for part in parts if isinstance(part, BoundaryPart)]
    place = {name: k for k, name in enumerate([*names, *(part.name for part in imposed)])}
    n, cold = len(names), np.array([part.temperature for part in imposed])
    sums: dict[float, csr_array] = {}
    constant = np.zeros(n)
    for part in parts:
        if isinstance(part, LinksPart):
            where = np.array([place[name] for name in part.nodes], dtype=np.int32)
            whole = _laplacian(where[part.a], where[part.b], part.strength, len(place))
            power = part.potential.exponent
            sums[power] = sums.get(power, csr_array((n, n))) + whole[:n, :n]
            constant += whole[:n, n:] @ cold**power
    timed: dict[int, tuple[Floats, History]] = {}
    for part in parts:
        if isinstance(part, HeatsPart):
            where = np.array([place[name] for name in part.nodes], dtype=np.int32)
            heat = np.bincount(where[part.node], part.amplitude, n).astype(np.float64)
            if part.history is None:
                constant += heat
            else:
                timed[id(part.history)] = heat, part.history
    conduction, radiation = csr_array(sums[1.0]), csr_array(sums[4.0])
    pattern = csc_array(abs(conduction) + abs(radiation) + diags_array(np.ones(n)))
    pattern.sort_indices()
    column = np.repeat(np.arange(n, dtype=np.int32), np.diff(pattern.indptr))
    keys = pattern.indices.astype(np.int64) + n * column.astype(np.int64)
    return Plain(
        names=tuple(names),
        capacity=np.concatenate([part.capacity for part in nodes]),
        conduction=conduction,
        radiation=radiation,
        dense=(conduction.toarray(), radiation.toarray()) if n <= SMALL else None,
        constant=constant,
        timed=tuple(timed.values()),
        heaters=_heaters([part for part in parts if isinstance(part, ThermostatPart)], place),
        indices=pattern.indices.astype(np.int32),
        indptr=pattern.indptr.astype(np.int32),
        column=column,
        conducting=_on_pattern(keys, conduction),
        radiating=_on_pattern(keys, radiation),
    )


def _laplacian(a: Indices, b: Indices, strength: Floats, size: int) -> csr_array:
    """Heat into each node by the potentials of all."""
    own = np.bincount(a, strength, size) + np.bincount(b, strength, size)
    everyone = np.arange(size)
    rows, columns = np.concatenate([a, b, everyone]), np.concatenate([b, a, everyone])
    values = np.concatenate([strength, strength, -own])
    return csr_array(coo_array((values, (rows, columns)), shape=(size, size)))


def _on_pattern(keys: np.ndarray[tuple[int, ...], np.dtype[np.int64]], matrix: csr_array) -> Floats:
    """The values of a matrix on a pattern by columns, whose keys are row + n * column."""
    by_columns = csc_array(matrix)
    by_columns.sort_indices()
    n = matrix.shape[0]
    column = np.repeat(np.arange(n, dtype=np.int64), np.diff(by_columns.indptr))
    result = np.zeros(len(keys))
    result[np.searchsorted(keys, by_columns.indices + n * column)] = by_columns.data
    return result


def _heaters(parts: Sequence[ThermostatPart], place: dict[str, int]) -> Heaters:
    return Heaters(
        node=np.array([place[part.node] for part in parts], dtype=np.int32),
        sensor=np.array([place[part.sensor] for part in parts], dtype=np.int32),
        power=np.array([part.power for part in parts]),
        on=np.array([part.on for part in parts]),
        off=np.array([part.off for part in parts]),
    )
