"""Massless nodes: their temperatures follow from a balance of heat at every instant."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.sparse import csc_array

from thermnet.network.network import Network, jacobian_data, storing
from thermnet.network.primitives import CONSTANT, Floats, Histories, Indices
from thermnet.solve.balance import Balance
from thermnet.solve.control import moved
from thermnet.solve.linear import Block, block, factorized, solver
from thermnet.solve.solution import Options
from thermnet.solve.steady import steady
from thermnet.solve.steps import MarchError

CLOSED = 1e-4
"""K; a smaller Newton step is the last one of the massless nodes. Its own error is of second
order, or smaller by the contraction of a kept inverse: below 1e-5 K either way."""

NEWTON_STEPS = 40
"""Plain steps after which the massless nodes are closed more carefully."""

Tangent = tuple[Callable[[Floats], Floats], Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Blocks:
    """Parts of the Jacobian by massive and massless rows and columns."""

    inner: Block
    columns: Block
    massive: Block
    outward: Block
    inward: Block


@dataclass(slots=True)
class Closure:
    """A network with its massless nodes closed; remembers only what speeds up the next call.

    Between calls it keeps the last massless temperatures as a guess and the last tangent of their
    balance, refreshed as soon as it converges slowly; neither changes the answer. `last` is the
    last local time before the end of the segment, where histories may jump.
    """

    network: Network
    massive: Indices
    massless: Indices
    guess: Floats
    balance: Balance
    blocks: Blocks | None = None
    last: float = float("inf")
    evaluations: int = 0
    tangent: Tangent | None = None

    def switch(self, state: Floats | None) -> None:
        """From here on with these thermostat states, None for the proportional law."""
        before = self.balance.state
        if (state is None) != (before is None) or not np.array_equal(state, before):  # type: ignore[arg-type]
            self.balance = self.balance.switched(state)
        self.tangent = None  # the last factor belongs to another state

    def temperatures(
        self, time: float | Floats, massive: Floats, guess: Floats | None = None
    ) -> Floats:
        """Every node's temperature [K], f8[..., n]; arguments as for `full`."""
        if len(self.massless) == 0:
            return self.filled(np.minimum(time, self.last), massive)
        if not self.balance.bare:
            return self.full(time, massive, guess)[0]
        times = np.minimum(np.atleast_1d(time), self.last)
        result = self._together(times, massive, guess)
        return result if np.ndim(time) else result[0]

    def settled(self, time: float, temperature: Floats) -> Floats:
        """Temperatures f8[n] with the massless nodes, nearly in balance, brought into balance."""
        return self.temperatures(time, temperature[self.massive], temperature[self.massless])

    def _together(self, time: Floats, massive: Floats, guess: Floats | None) -> Floats:
        """Newton's method for many instants at once, each with its own Jacobian."""
        massless = self.massless
        temperature = self.filled(time, massive)
        if guess is not None:
            temperature[:, massless] = guess
        given = self.balance.given(time)
        for _ in range(NEWTON_STEPS):
            net = self.balance.heat(temperature, time, given)[:, massless]
            self.evaluations += 1
            matrices = self.balance.inner(temperature, time, massless)
            try:
                step = np.linalg.solve(matrices, net[:, :, None])[:, :, 0]
            except np.linalg.LinAlgError:
                raise self._open() from None
            small = float(np.abs(step).max()) < CLOSED
            before = temperature[:, massless]
            temperature[:, massless] = before + step if small else moved(before, np.asarray(step))
            if small:
                self.guess = temperature[-1, massless]
                return temperature
        self._close_carefully(temperature, time)
        return temperature

    def full(
        self, time: float | Floats, massive: Floats, guess: Floats | None = None
    ) -> tuple[Floats, Floats]:
        """Temperatures and heat into every free node at local times f8[...]: massive nodes given
        as f8[..., massive], boundaries imposed, massless nodes in balance.

        `guess` f8[..., massless] is where Newton's method on the massless rows begins. Raises
        MarchError without a balance.
        """
        massless, balance = self.massless, self.balance
        time = np.minimum(time, self.last)
        temperature = self.filled(time, massive)
        if guess is not None:
            temperature[..., massless] = guess
        given = balance.given(time)
        before = np.inf
        for _ in range(NEWTON_STEPS):
            net = balance.heat(temperature, time, given)
            self.evaluations += 1
            if len(massless) == 0:
                return temperature, net
            if self.tangent is None:
                self.tangent = self._tangent(temperature, time)
            inverse, columns = self.tangent
            step = inverse(net[..., massless].T).T
            size = float(np.abs(step).max())
            if size < CLOSED:
                # So small a last step changes the heat by the tangent.
                temperature[..., massless] += step
                self.guess = temperature.reshape(-1, temperature.shape[-1])[-1, massless]
                return temperature, net + (columns @ step.T).T
            temperature[..., massless] = moved(temperature[..., massless], step)
            if not size < 0.1 * before:
                self.tangent = None
            before = size
        self._close_carefully(temperature, np.broadcast_to(time, temperature.shape[:-1]))
        return temperature, balance.heat(temperature, time, given)

    def filled(self, time: float | Floats, massive: Floats) -> Floats:
        """Like `temperatures`, with the massless nodes only guessed."""
        temperature = np.empty((*np.shape(time), len(self.network.names)))
        temperature[..., self.massive] = massive
        temperature[..., self.massless] = self.guess
        temperature[..., self.network.boundary] = self.balance.imposed(time)
        return temperature

    def _close_carefully(self, temperature: Floats, time: Floats) -> None:
        """Where plain steps go round in circles: the damped ones of a steady state, in place.

        To the massless nodes at one instant all others are boundaries.
        """
        network, state, massless = self.network, self.balance.state, self.massless
        others = np.setdiff1d(np.arange(len(network.names)), massless).astype(np.int32)
        none = np.full(len(others), CONSTANT, dtype=np.int32)
        stats = network.thermostats
        if state is not None:  # a band far above gives the power of its state, whatever is sensed
            far = np.full(len(state), 1e9)
            stats = replace(stats, power=stats.power * state, on=far, off=2.0 * far)
        for row in np.ndindex(temperature.shape[:-1]):
            now = np.asarray(network.histories.at(float(time[row])))[None, :]
            instant = replace(
                network,
                boundary=others,
                boundary_mean=temperature[row][others],
                boundary_swing=np.zeros(len(others)),
                boundary_history=none,
                thermostats=stats,
                histories=Histories(instants=np.zeros(2), start=now, stop=now),
            )
            found = steady(instant, Options(linearised_start=False), start=temperature[row])
            if found.failure:
                raise self._open()
            temperature[row][massless] = found.temperature[0, massless]
            self.guess = found.temperature[0, massless]

    def _tangent(self, temperature: Floats, time: Floats) -> Tangent:
        """Inverse of the massless rows of the Jacobian, and its massless columns."""
        one = temperature.reshape(-1, temperature.shape[-1])[-1]
        data = jacobian_data(self.network, one, float(np.reshape(time, -1)[-1]), self.balance.state)
        try:
            blocks = self._blocks()
            return solver(blocks.inner.matrix(-data)), blocks.columns.matrix(data)
        except ZeroDivisionError:
            raise self._open() from None

    def _open(self) -> MarchError:
        names = ", ".join(f"'{self.network.names[k]}'" for k in self.massless[:3])
        return MarchError(f"the massless nodes {names} find no balance; look at their links")

    def reduced_jacobian(self, time: float, massive: Floats) -> Any:
        """Derivative of the heat into massive nodes by their temperatures, the rest closed.

        The Schur complement J_mm - J_ma J_aa^-1 J_am [W/K], dense where small, else sparse.
        """
        temperature = self.temperatures(time, massive)
        data = jacobian_data(self.network, temperature, min(time, self.last), self.balance.state)
        blocks = self._blocks()
        matrix = blocks.massive.matrix(data)
        if len(self.massless) == 0:
            return matrix
        response = factorized(blocks.inner.matrix(data))(blocks.inward.dense(data))
        if isinstance(matrix, np.ndarray):
            return matrix - blocks.outward.dense(data) @ response
        return csc_array(matrix - csc_array(blocks.outward.sparse(data) @ csc_array(response)))

    def _blocks(self) -> Blocks:
        """Found when first needed: a big network without massless nodes never does."""
        if self.blocks is None:
            pattern, massive, massless = self.network.pattern, self.massive, self.massless
            everywhere = np.arange(len(self.network.names), dtype=np.int32)
            self.blocks = Blocks(
                inner=block(pattern, massless, massless),
                columns=block(pattern, everywhere, massless),
                massive=block(pattern, massive, massive),
                outward=block(pattern, massive, massless),
                inward=block(pattern, massless, massive),
            )
        return self.blocks


def close(balance: Balance, start: Floats) -> Closure:
    """Prepare a balance for stepping; `start` f8[n] are first temperatures [K]."""
    massive, massless = partition(balance.network)
    return Closure(
        network=balance.network,
        massive=massive,
        massless=massless,
        guess=start[massless],
        balance=balance,
    )


def partition(network: Network) -> tuple[Indices, Indices]:
    """Free nodes with heat capacity or content, and free nodes without."""
    has = storing(network)
    free = network.free
    return free[has[free]], free[~has[free]]
