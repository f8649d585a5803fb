"""Where a slow drift leads in the end, from the heat balance of the mean."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from thermnet.network.network import Network, capacities
from thermnet.network.primitives import CONSTANT, Flags, Floats
from thermnet.solve.balance import prepare
from thermnet.solve.front import Front
from thermnet.solve.linear import Factor
from thermnet.solve.steady import averaged

FIRST_POLE, SECOND_POLE = 1.2, 2.4
"""Weight and place (in periods) of the term that corrects modes neither slow nor fast."""

EXACT = 1e-6
"""Residual of the linear solves, as a share."""

PINNED = 1e8
"""Factor on the diagonal of a node that is to stay where it is."""


@dataclass(slots=True, kw_only=True)
class Gain:
    """What a drift leads to: (-J)^-1 C rate, J the mean Jacobian; its factors are kept.

    `temperature` f8[n] are mean temperatures [K], `capacity` f8[n] [J/K].
    """

    front: Front
    temperature: Floats
    capacity: Floats
    factors: dict[float, Factor] = field(default_factory=dict)

    def time_constants(self) -> Floats:
        """Own time constant of every node [s], zero where there is no capacity."""
        nothing = np.zeros(len(self.temperature))
        own = self.front.diagonal_values(nothing, self.temperature, 0.0)
        return np.asarray(self.capacity / np.maximum(own, 1e-30))

    def remaining(self, rate: Floats, held: Flags | None = None) -> Floats:
        """Temperature changes f8[n] [K] still to come when nodes drift at `rate` f8[n] [K/s].

        Nodes marked in `held` (sensors of heaters that cycle) stay where they are.
        """
        weight = np.zeros(len(rate))
        if held is None or not held.any():
            return self._solved(weight, self.capacity * rate)
        own = self.front.diagonal_values(weight, self.temperature, 0.0)
        weight = np.where(held, PINNED * own, 0.0)
        factor = self.front.factor(weight, self.temperature, 0.0)
        right = np.where(held, 0.0, self.capacity * rate)
        return self._exact(factor, weight, right)

    def corrected(self, change: Floats, period: float) -> Floats:
        """Where the fixed point lies, seen from a pass over one period that changed f8[n] [K].

        (I - M)^-1 ~ I - X^-1 with M = exp(X), X = P C^-1 J, less a term for the modes between.
        """
        rate = change / period
        between = SECOND_POLE * self.capacity / period
        middle = self._solved(between, self.capacity * rate)
        return np.asarray(change + self.remaining(rate) - FIRST_POLE * middle)

    def corrected_transposed(self, change: Floats, period: float) -> Floats:
        """The same for capacity times costate f8[n], whose pass is the transposed one."""
        rate = change / period
        between = SECOND_POLE * self.capacity / period
        slow = self._solved(np.zeros(len(rate)), rate, transposed=True)
        middle = self._solved(between, rate, transposed=True)
        return np.asarray(change + self.capacity * (slow - FIRST_POLE * middle))

    def _solved(self, weight: Floats, right: Floats, *, transposed: bool = False) -> Floats:
        key = float(weight.max(initial=0.0))
        if key not in self.factors:
            self.factors[key] = self.front.factor(weight, self.temperature, 0.0)
        return self._exact(self.factors[key], weight, right, transposed=transposed)

    def _exact(
        self, factor: Factor, weight: Floats, right: Floats, *, transposed: bool = False
    ) -> Floats:
        right = right.copy()
        right[self.front.balance.network.boundary] = 0.0
        solved, _ = self.front.solve(
            factor,
            weight,
            self.temperature,
            0.0,
            right,
            exact=EXACT,
            transposed=transposed,
            own=True,
        )
        return solved


def gain_of(network: Network, temperature: Floats, front: Front) -> Gain:
    """The gain at mean temperatures f8[n] [K]; `front` is one of the network, for its pattern.

    Where no link or heater has a history, the Jacobian of the mean heat is that of any instant.
    """
    steady = front.balance.rest is None and (network.thermostats.enabled == CONSTANT).all()
    balance = front.balance if steady else prepare(averaged(network), None)
    return Gain(
        front=replace(front, balance=balance.switched(None)),
        temperature=temperature,
        capacity=capacities(network, temperature),
    )
