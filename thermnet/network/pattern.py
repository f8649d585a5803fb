"""Where contributions go, and what can be summed in advance; each found when first asked for."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import coo_array, csr_array

from thermnet.network.primitives import (
    CONSTANT,
    Floats,
    FlowLinks,
    Heats,
    Indices,
    Links,
    Potential,
    Thermostats,
    read_only,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """The Jacobian's pattern, n x n by columns; entry e of `entries` adds to its value slot[e]."""

    indices: Indices
    indptr: Indices
    slot: Indices


@dataclass(frozen=True, kw_only=True, eq=False)
class Pattern:
    """What the places of a network's `size` nodes, links, heats and thermostats lead to.

    Not slotted, since its properties are computed once and kept: a network of a million links
    that is only solved never needs `receive`.
    """

    links: Links
    flow_links: FlowLinks
    heats: Heats
    thermostats: Thermostats
    size: int

    @property
    def indices(self) -> Indices:
        return self.places.indices

    @property
    def indptr(self) -> Indices:
        return self.places.indptr

    @property
    def slot(self) -> Indices:
        return self.places.slot

    @cached_property
    def places(self) -> Places:
        """Where the Jacobian has values."""
        size = self.size
        rows, columns = entries(self.links, self.flow_links, self.heats, self.thermostats, size)
        keys, slot = np.unique(columns.astype(np.int64) * size + rows, return_inverse=True)
        where = keys % size, keys // size
        whole = coo_array((np.ones(len(keys)), where), shape=(size, size)).tocsc()
        return Places(
            indices=read_only(whole.indices.astype(np.int32)),
            indptr=read_only(whole.indptr.astype(np.int32)),
            slot=read_only(slot.astype(np.int32)),
        )

    @cached_property
    def receive(self) -> csr_array:
        """Sums flows and heats into the nodes, n x contributions: -1 at `a`, +1 at `b`.

        Contributions are flows through links, heats, heater powers, flows through flow links.
        """
        links, carried, size = self.links, self.flow_links, self.size
        m, h = len(links.a), len(self.heats.node) + len(self.thermostats.node)
        columns = np.arange(m + h + len(carried.a))
        into = np.concatenate([links.b, self.heats.node, self.thermostats.node, carried.b])
        out_of = np.concatenate([links.a, carried.a])
        leaving = np.concatenate([columns[:m], columns[m + h :]])
        values = np.concatenate([np.ones(len(into)), -np.ones(len(out_of))])
        where = (np.concatenate([into, out_of]), np.concatenate([columns, leaving]))
        return csr_array(coo_array((values, where), shape=(size, len(columns))))

    @cached_property
    def sums(self) -> tuple[tuple[Potential, csr_array], ...]:
        """Links of constant strength summed, one n x n matrix for each power of temperature.

        Heat into the nodes through them is the sum of matrix @ T**exponent: each link takes from
        one end what it gives to the other, so that every column sums to zero.
        """
        links, carried, shape = self.links, self.flow_links, (self.size, self.size)
        plain, simple = self.constant_links, self.constant_flow_links
        groups: dict[float, list[tuple[Indices, Indices, Floats]]] = {}
        for potential, begin, end in zip(
            links.potentials, links.groups[:-1], links.groups[1:], strict=True
        ):
            part = begin + np.flatnonzero(plain[begin:end])
            if potential.curve is None and len(part):
                a, b, strength = links.a[part], links.b[part], links.strength[part]
                both = [(a, b, strength), (b, a, strength)]
                groups.setdefault(potential.exponent, []).extend(both)
        if simple.any():
            into = carried.b[simple], carried.a[simple], carried.rate[simple]
            groups.setdefault(1.0, []).append(into)
        result = []
        for exponent, triplets in sorted(groups.items()):
            rows, columns, values = (np.concatenate(part) for part in zip(*triplets, strict=True))
            loss = -np.bincount(columns, values, self.size)
            own = np.arange(self.size, dtype=np.int32)
            where = np.concatenate([rows, own]), np.concatenate([columns, own])
            summed = coo_array((np.concatenate([values, loss]), where), shape=shape).tocsr()
            result.append((Potential(exponent=exponent), csr_array(summed)))
        return tuple(result)

    @cached_property
    def constant_links(self) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        """Which links are in `sums`: no history, no curve, a power of temperature."""
        links = self.links
        plain = (links.history == CONSTANT) & (links.curve == CONSTANT)
        for potential, begin, end in zip(
            links.potentials, links.groups[:-1], links.groups[1:], strict=True
        ):
            plain[begin:end] &= potential.curve is None
        return np.asarray(plain)

    @cached_property
    def constant_flow_links(self) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        """Which flow links are in `sums`."""
        return np.asarray(self.flow_links.history == CONSTANT)


def entries(
    links: Links, carried: FlowLinks, heats: Heats, thermostats: Thermostats, size: int
) -> tuple[Indices, Indices]:
    """Rows and columns of every entry that `jacobian` computes, in its order, diagonal included."""
    a, b = links.a, links.b
    own = np.arange(size, dtype=np.int32)
    sensor = np.where(links.sensor == CONSTANT, a, links.sensor)
    heat_sensor = np.where(heats.sensor == CONSTANT, heats.node, heats.sensor)
    rows = [a, a, b, b, a, b, carried.a, carried.b, heats.node, thermostats.node, own]
    columns = [a, b, a, b, sensor, sensor, carried.a, carried.a]
    columns += [heat_sensor, thermostats.sensor, own]
    return np.concatenate(rows).astype(np.int32), np.concatenate(columns).astype(np.int32)
