"""Steady states of many cases at once with arrays, where matrices say everything."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.sparse import coo_array, csr_array

from thermnet.network.network import Network, boundary_temperatures
from thermnet.network.primitives import CONSTANT, Flags, Floats, Indices, Potential
from thermnet.solve.control import COLDEST, HOTTEST, moved
from thermnet.solve.steady import START, averaged
from thermnet.solve.variants import Variants, count_of

MOST_STEPS = 60
"""Newton's steps for many cases at once; who is not there then is solved alone."""

PATIENT = 3
"""Steps after which one that makes the balance worse is not taken: a first bad full step may be
the short way."""

STEADY = 1e-6
"""K; Newton's step from where it was so small leaves the balance at rounding."""


def batches(network: Network) -> bool:
    """Whether heat follows powers of the free nodes' temperatures, and matrices say everything."""
    links, heats, stats = network.links, network.heats, network.thermostats
    curved = any(law.curve is not None for law in links.potentials)
    curved |= bool((links.curve != CONSTANT).any() or (heats.curve != CONSTANT).any())
    return not (curved or np.isin([stats.node, stats.sensor], network.boundary).any())


@dataclass(frozen=True, slots=True, kw_only=True)
class _Together:
    """The mean balance of the free nodes in k cases.

    Heat is `given` f8[k, free], that of the boundaries in it, plus matrices f8[k, free, free] times
    powers of temperature, plus `power` f8[k, h] of the thermostats times their duties.
    """

    network: Network
    given: Floats
    matrices: tuple[tuple[Potential, Floats], ...]
    power: Floats

    def of(self, some: Flags) -> _Together:
        """The same for some of the cases."""
        matrices = tuple((law, matrix[some]) for law, matrix in self.matrices)
        return replace(self, given=self.given[some], matrices=matrices, power=self.power[some])

    def heat(self, temperature: Floats) -> Floats:
        """f8[k, free] from the temperatures of the free nodes."""
        total = self.given.copy()
        for law, matrix in self.matrices:
            total += np.matmul(matrix, law.value(temperature)[:, :, None])[:, :, 0]
        for k, node, share, _ in self._thermostats(temperature):
            total[:, node] += self.power[:, k] * np.clip(share, 0.0, 1.0)
        return total

    def slopes(self, temperature: Floats) -> Floats:
        """Derivative of the heat, f8[k, free, free]."""
        total = np.zeros((len(temperature), temperature.shape[1], temperature.shape[1]))
        for law, matrix in self.matrices:
            total += matrix * law.slope(temperature)[:, None, :]
        stats = self.network.thermostats
        for k, node, share, sensor in self._thermostats(temperature):
            slope = np.where((share > 0.0) & (share < 1.0), self.power[:, k], 0.0)
            total[:, node, sensor] -= slope / (stats.off[k] - stats.on[k])
        return total

    def _thermostats(self, temperature: Floats) -> Iterator[tuple[int, int, Floats, int]]:
        """Number, node, duty before it is limited, and sensor, by places in the free nodes."""
        stats, free = self.network.thermostats, self.network.free
        for k in range(len(stats.node)):
            node, sensor = (int(np.searchsorted(free, i)) for i in (stats.node[k], stats.sensor[k]))
            sensed = temperature[:, sensor]
            yield k, node, (stats.off[k] - sensed) / (stats.off[k] - stats.on[k]), sensor


def steady_together(network: Network, variants: Variants) -> tuple[Floats, Flags]:
    """Newton's method for all cases at once, and which got there.

    As in `steady`, a step that makes the balance of a case worse is taken again with a brake on
    the diagonal. Cases that are there are left out.
    """
    count, balance = count_of(network, variants), _together(network, variants)
    free, whole = network.free, _uniform(network, variants)
    found, left = np.zeros(count, dtype=bool), np.arange(count)
    temperature, brake = whole[:, free], np.zeros(count)
    residual = balance.heat(temperature)
    own = np.arange(len(free))
    for number in range(MOST_STEPS):
        matrices = -balance.slopes(temperature)
        matrices[:, own, own] += brake[:, None] * np.abs(matrices[:, own, own])
        try:
            step = np.asarray(np.linalg.solve(matrices, residual[:, :, None])[:, :, 0])
        except np.linalg.LinAlgError:
            break  # each alone says what is wrong
        plain: Floats = np.clip(temperature + step, COLDEST, HOTTEST)
        candidate = moved(temperature, step) if number else plain
        there = (np.abs(step).max(axis=1, initial=0.0) < STEADY) & (brake == 0.0)
        whole[np.ix_(left[there], free)], found[left[there]] = candidate[there], True
        heat = balance.heat(candidate)
        grown = np.abs(heat).sum(axis=1) > np.abs(residual).sum(axis=1)
        again = grown & (number > PATIENT) & (brake < 1e6)
        temperature = np.where(again[:, None], temperature, candidate)
        residual = np.where(again[:, None], residual, heat)
        eased = np.where(brake > 1e-3, brake / 8.0, 0.0)
        brake = np.where(again, np.maximum(4.0 * brake, 0.5), eased)
        if there.any():
            left, balance = left[~there], balance.of(~there)
            temperature, residual, brake = temperature[~there], residual[~there], brake[~there]
        if len(left) == 0:
            break
    return whole, found


def _uniform(network: Network, variants: Variants) -> Floats:
    """Where the search begins: one temperature, and the boundaries imposed."""
    whole = np.full((count_of(network, variants), len(network.names)), START)
    swing = boundary_temperatures(averaged(network), 0.0) - network.boundary_mean
    mean = network.boundary_mean if variants.boundary is None else variants.boundary
    whole[:, network.boundary] = mean + swing
    return whole


def _together(network: Network, variants: Variants) -> _Together:
    still, count, n = averaged(network), count_of(network, variants), len(network.names)
    mean = np.append(still.histories.mean(), 1.0)
    links, heats, carried, stats = still.links, still.heats, still.flow_links, still.thermostats

    def rows(values: Floats | None, usual: Floats, factor: Floats) -> Floats:
        chosen = usual if values is None else values
        return np.broadcast_to(chosen * factor, (count, len(usual)))

    def flowing(values: Floats, a: Indices, b: Indices, both: bool) -> Floats:
        """Matrices f8[k, n, n] of what leaves a and enters b, and what comes back if `both`."""
        places, signs = [a * n + a, b * n + a], [-1.0, 1.0]
        if both:
            places, signs = [*places, a * n + b, b * n + b], [*signs, 1.0, -1.0]
        number = np.tile(np.arange(len(a)), len(places))
        sign = np.repeat(signs, len(a))
        return _summed(values, number, np.concatenate(places), sign, n * n).reshape(-1, n, n)

    strength = rows(variants.strength, links.strength, mean[links.history])
    ends = zip(links.potentials, links.groups[:-1], links.groups[1:], strict=True)
    all_matrices = [
        (law, flowing(strength[:, begin:end], links.a[begin:end], links.b[begin:end], True))
        for law, begin, end in ends
    ]
    if len(carried.a):
        rate = np.broadcast_to(carried.rate * mean[carried.history], (count, len(carried.a)))
        all_matrices.append((Potential(), flowing(rate, carried.a, carried.b, False)))
    amplitude = rows(variants.amplitude, heats.amplitude, mean[heats.history])
    number, sign = np.arange(len(heats.node)), np.ones(len(heats.node))
    given = _summed(amplitude, number, heats.node, sign, n)
    free, edge = network.free, network.boundary
    imposed = _uniform(network, variants)[:, edge]
    matrices = []
    for law, matrix in all_matrices:
        given += np.matmul(matrix[:, :, edge], law.value(imposed)[:, :, None])[:, :, 0]
        matrices.append((law, np.ascontiguousarray(matrix[:, free[:, None], free])))
    return _Together(
        network=still,
        given=given[:, free],
        matrices=tuple(matrices),
        power=rows(variants.power, stats.power, mean[stats.enabled]),
    )


def _summed(values: Floats, number: Any, place: Any, sign: Floats, size: int) -> Floats:
    """Columns `number` of values f8[k, m] added up with their sign at places, f8[k, size]."""
    shape = (values.shape[1], size)
    sums = csr_array(coo_array((sign, (number, place)), shape=shape))
    return np.ascontiguousarray((sums.T @ values.T).T)
