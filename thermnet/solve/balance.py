"""The heat balance of one network, prepared for very many evaluations.

Links of constant strength that share a power of temperature are summed once into a matrix: heat
into the nodes is then G1 T + G4 T^4 + sources(t), and the Jacobian G1 + 4 G4 T^3. What depends on
a history or a curve beyond that stays a network of its own, evaluated by `network.heat`. There
also stands the physics: this module must only give the same numbers sooner.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import coo_array, csr_array

from thermnet.network.network import Network, boundary_temperatures, duties, heat, jacobian_data
from thermnet.network.primitives import (
    CONSTANT,
    Flags,
    Floats,
    Indices,
    Potential,
)
from thermnet.network.subset import subset
from thermnet.solve.linear import DENSE_UP_TO, Block, block

Matrix = Floats | csr_array


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """Heat into the free nodes of `network`, zero for boundary nodes.

    `state` f8[h] are the thermostat states, None for the proportional law. `links` are matrices
    n x n, each for one potential (rows of boundary nodes count for nothing). The heat that no
    temperature changes is `constant` f8[n] plus `timed` (n x histories) times the histories.
    `heaters` (n x h) puts powers on nodes. `rest` holds what has no such form, `remaining` the
    places of its slopes. All matrices are dense if `dense`, sparse otherwise. `waits` says that
    the heat depends on the time by `timed` alone.
    """

    network: Network
    state: Floats | None
    links: tuple[tuple[Potential, Matrix], ...]
    constant: Floats
    timed: Matrix
    sources: tuple[Floats, Matrix]
    heaters: Matrix
    rest: Network | None
    dense: bool
    remaining: Block | None
    moving: bool
    waits: bool

    def switched(self, state: Floats | None) -> Balance:
        """The same balance with other thermostat states."""
        constant, timed = self.sources
        if state is None or len(state) == 0:
            proportional = state is None and len(self.network.thermostats.node) > 0
            enabled = self.network.thermostats.enabled
            waits = not (self.moving or self.rest or (proportional and (enabled >= 0).any()))
            return replace(self, state=state, constant=constant, timed=timed, waits=waits)
        stats, n = self.network.thermostats, len(self.network.names)
        power = stats.power * state
        always = stats.enabled == CONSTANT
        free = _free_rows(self.network, stats.node)
        constant = constant + np.bincount(stats.node, np.where(always, power, 0.0) * free, n)
        changing = ~always & free
        if changing.any():
            where = stats.node[changing], stats.enabled[changing]
            timed = timed + _matrix(power[changing], *where, timed.shape, timed)
        return replace(
            self,
            state=state,
            constant=constant,
            timed=timed,
            waits=not (self.moving or self.rest),
        )

    def given(self, time: float | Floats) -> Floats:
        """Heat into every node that depends on no temperature [W], f8[n] or f8[q, n]."""
        values = self.network.histories.at(time)
        return np.asarray((self.timed @ values.T).T + self.constant)

    def imposed(self, time: float | Floats) -> Floats:
        """Boundary temperatures [K], f8[boundaries], or f8[q, boundaries] where they move."""
        if not self.moving:
            return self.network.boundary_mean
        return boundary_temperatures(self.network, time)

    def heat(
        self, temperature: Floats, time: float | Floats, given: Floats | None = None
    ) -> Floats:
        """Net heat into every free node [W], f8[n] or f8[q, n]; `given` as `given(time)`."""
        total = self.given(time) if given is None else given
        for potential, matrix in self.links:
            total = total + (matrix @ potential.value(temperature).T).T
        if self.ruled:
            powers = self._powers(time) * duties(self.network, temperature)
            total = total + (self.heaters @ powers.T).T
        if self.rest is not None:
            total = total + heat(self.rest, temperature, time)
        if self.rest is not None or (self.links and not self.dense):
            total[..., self.network.boundary] = 0.0
        return np.asarray(total)

    def shifted(self, weight: Floats, temperature: Floats, time: float) -> Floats:
        """diag(weight) - d heat / d temperature [W/K], dense n x n; `weight` f8[n]."""
        network = self.network
        n = len(network.names)
        result = np.zeros((n, n))
        for potential, summed in self.links:
            result -= np.asarray(summed) * potential.slope(temperature)
        if self.ruled:
            slopes = np.asarray(self.heaters) * self.duty_slopes(temperature, time)
            np.add.at(result.T, network.thermostats.sensor, slopes.T)
        if self.rest is not None and self.remaining is not None:
            more = self.remaining.dense(jacobian_data(self.rest, temperature, time))
            more[network.boundary] = 0.0
            result -= more
        result.flat[:: n + 1] += weight
        return result

    @property
    def bare(self) -> bool:
        """Whether all of the Jacobian comes from dense matrices and thermostats."""
        return self.dense and self.rest is None

    def inner(self, temperature: Floats, time: Floats, nodes: Indices) -> Floats:
        """Minus the Jacobian at rows and columns `nodes` [W/K], f8[q, nodes, nodes]; if `bare`.

        `temperature` f8[q, n] at q times.
        """
        result = np.zeros((len(temperature), len(nodes), len(nodes)))
        at, place = temperature[:, nodes], np.ix_(nodes, nodes)
        for potential, summed in self.links:
            result -= np.asarray(summed)[place] * potential.slope(at)[:, None, :]
        if self.ruled and np.isin(self.network.thermostats.sensor, nodes).any():
            slopes = self.duty_slopes(temperature, time)
            for k, sensor in enumerate(self.network.thermostats.sensor):
                here = nodes == sensor
                result[:, :, here] += (np.asarray(self.heaters)[nodes, k] * slopes[:, k, None])[
                    :, :, None
                ]
        return result

    @property
    def ruled(self) -> bool:
        """Whether there are thermostats that follow the proportional law."""
        return self.state is None and len(self.network.thermostats.node) > 0

    def duty_slopes(self, temperature: Floats, time: float | Floats) -> Floats:
        """Minus the derivative of heater powers by their sensors' temperatures [W/K]."""
        stats, duty = self.network.thermostats, duties(self.network, temperature)
        inside = (duty > 0.0) & (duty < 1.0)
        return np.where(inside, self._powers(time) / (stats.off - stats.on), 0.0)

    def _powers(self, time: float | Floats) -> Floats:
        stats = self.network.thermostats
        always = stats.enabled == CONSTANT
        if always.all():
            return stats.power
        values = self.network.histories.at(time)[..., np.where(always, 0, stats.enabled)]
        return stats.power * np.where(always, 1.0, values)


def prepare(network: Network, state: Floats | None) -> Balance:
    """Sum what is constant; `state` f8[h] or None as in `Balance`."""
    n, heats = len(network.names), network.heats
    like: Matrix = np.zeros((0, 0)) if n <= DENSE_UP_TO else csr_array((0, 0))
    free = np.ones(n, dtype=bool)
    free[network.boundary] = False
    dense = n <= DENSE_UP_TO
    summed = tuple(
        (potential, _dense_rows(matrix, free) if dense else matrix)
        for potential, matrix in network.pattern.sums
    )
    known = (heats.curve == CONSTANT) & free[heats.node]
    fixed = known & (heats.history == CONSTANT)
    varied = known & (heats.history != CONSTANT)
    shape = (n, len(network.histories.start[0]))
    constant: Floats = np.bincount(heats.node[fixed], heats.amplitude[fixed], n).astype(float)
    timed = _matrix(heats.amplitude[varied], heats.node[varied], heats.history[varied], shape, like)
    stats = network.thermostats
    ours = np.flatnonzero(_free_rows(network, stats.node)).astype(np.int32)
    heaters = _matrix(np.ones(len(ours)), stats.node[ours], ours, (n, len(stats.node)), like)
    pattern = network.pattern
    rest = _rest(
        network,
        ~pattern.constant_links,
        ~pattern.constant_flow_links,
        heats.curve != CONSTANT,
    )
    everywhere = np.arange(n, dtype=np.int32)
    return Balance(
        network=network,
        state=None,
        links=summed,
        constant=constant,
        timed=timed,
        sources=(constant, timed),
        heaters=heaters,
        rest=rest,
        dense=dense,
        remaining=block(rest.pattern, everywhere, everywhere) if rest is not None else None,
        moving=bool((network.boundary_swing != 0.0).any()),
        waits=False,
    ).switched(state)


def _free_rows(network: Network, nodes: Indices) -> Flags:
    return ~np.isin(nodes, network.boundary)


def _dense_rows(matrix: csr_array, free: Flags) -> Floats:
    """A matrix as a dense one, with the rows of boundary nodes emptied."""
    result = matrix.toarray()
    result[~free] = 0.0
    return result


def _matrix(
    values: Floats, rows: Indices, columns: Indices, shape: tuple[int, ...], like: Matrix
) -> Matrix:
    """Entries added up in a matrix of the same kind as `like`, dense or sparse."""
    result = csr_array(coo_array((values, (rows, columns)), shape=(shape[0], shape[1])))
    return result.toarray() if isinstance(like, np.ndarray) else result


def _rest(network: Network, links: Flags, carried: Flags, heats: Flags) -> Network | None:
    """The network of the marked links, flow links and heats alone, without thermostats."""
    if not (links.any() or carried.any() or heats.any()):
        return None
    return subset(network, links=links, flow_links=carried, heats=heats)
