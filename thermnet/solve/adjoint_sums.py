"""Gradients as sums along a history: costates times the derivatives of the heat."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from scipy.sparse import csc_array

from thermnet.network.network import (
    Network,
    duties,
    flows,
    heater_powers,
    jacobian_data,
    sources,
)
from thermnet.network.primitives import Floats, Potential
from thermnet.solve.balance import Balance


@dataclass(frozen=True, slots=True, kw_only=True)
class Gradient:
    """Derivatives of an output [K], position by position as in the network.

    `strength` f8[m] by the strength of each link, `rate` by that of each flow link [K per W/K],
    `amplitude` f8[q] by each heat and `power` f8[h] by each heater's full power [K/W], `capacity`
    f8[n] by each constant heat capacity [K per J/K], `boundary` f8[b] by each imposed mean
    temperature and `initial` f8[n] by the first temperatures of a history that starts from given
    ones [K/K].
    """

    strength: Floats
    rate: Floats
    amplitude: Floats
    power: Floats
    capacity: Floats
    boundary: Floats
    initial: Floats


def by_origin(network: Network, gradient: Gradient) -> dict[str, float]:
    """Change of the output [K] per relative change of everything that came from one path.

    Links, flow links, heats and heaters count; of many from one path, such as a file of couplings,
    the sum is what scaling all of them does.
    """
    totals: dict[str, float] = {}
    heats, stats = network.heats, network.thermostats
    for origin, changes in (
        (network.links.origin, gradient.strength * network.links.strength),
        (network.flow_links.origin, gradient.rate * network.flow_links.rate),
        (heats.origin, gradient.amplitude * heats.amplitude),
        (stats.origin, gradient.power * stats.power),
    ):
        sums = np.bincount(origin, changes, len(network.origins))
        for k in np.unique(origin).tolist():
            path = network.origins[k]
            totals[path] = totals.get(path, 0.0) + float(sums[k])
    return totals


@dataclass(frozen=True, slots=True, kw_only=True)
class Shares:
    """What the sums of all outputs share: the same network with every strength one, and so on.

    Flows are proportional to strengths: with ones, they are their own derivatives. `outer` are
    the columns of the summed links at boundary nodes, transposed, one matrix for each potential.
    """

    network: Network
    unit: Network
    balance: Balance
    outer: tuple[tuple[Potential, Any], ...]

    def slopes(self, temperature: Floats, time: float, duty: Floats | None) -> Slopes:
        """By how much the heat through or from everything changes with its own number."""
        given = duties(self.network, temperature) if duty is None else duty
        return Slopes(
            flows=flows(self.unit, temperature, time),
            sources=sources(self.unit, temperature, time),
            powers=heater_powers(self.unit, given, time),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Slopes:
    """Flows of links and flow links for a strength of one, and so on with heats and heaters."""

    flows: Floats
    sources: Floats
    powers: Floats


def shares(balance: Balance) -> Shares:
    """Prepare sums for the network of a balance."""
    network = balance.network
    links, carried = network.links, network.flow_links
    heats, stats = network.heats, network.thermostats
    return Shares(
        network=network,
        unit=replace(
            network,
            links=replace(links, strength=np.ones(len(links.a))),
            flow_links=replace(carried, rate=np.ones(len(carried.a))),
            heats=replace(heats, amplitude=np.ones(len(heats.node))),
            thermostats=replace(stats, power=np.ones(len(stats.node))),
        ),
        balance=balance,
        outer=tuple(
            (potential, csc_array(matrix)[:, network.boundary].T)
            for potential, matrix in network.pattern.sums
        ),
    )


@dataclass(slots=True, kw_only=True)
class Sums:
    """What was added up so far; see `Gradient`."""

    shares: Shares
    strength: Floats = field(init=False)
    rate: Floats = field(init=False)
    amplitude: Floats = field(init=False)
    power: Floats = field(init=False)
    capacity: Floats = field(init=False)
    boundary: Floats = field(init=False)

    def __post_init__(self) -> None:
        network = self.network
        self.strength = np.zeros(len(network.links.a))
        self.rate = np.zeros(len(network.flow_links.a))
        self.amplitude = np.zeros(len(network.heats.node))
        self.power = np.zeros(len(network.thermostats.node))
        self.capacity = np.zeros(len(network.names))
        self.boundary = np.zeros(len(network.boundary))

    @property
    def network(self) -> Network:
        return self.shares.network

    def add(
        self,
        width: float,
        costate: Floats,
        temperature: Floats,
        time: float,
        *,
        duty: Floats | None = None,
        rate: Floats | None = None,
        slopes: Slopes | None = None,
    ) -> None:
        """Add `width` times costates f8[n], at temperatures f8[n], local time and duties f8[h].

        `rate` f8[n] is dT/dt [K/s], which a heat capacity resists; none in a steady state.
        `slopes` are those at these arguments, if already known.
        """
        network = self.network
        links, carried = network.links, network.flow_links
        pull, m = width * costate, len(links.a)
        now = self.shares.slopes(temperature, time, duty) if slopes is None else slopes
        self.strength += (pull[links.b] - pull[links.a]) * now.flows[:m]
        self.rate += (pull[carried.b] - pull[carried.a]) * now.flows[m:]
        self.amplitude += pull[network.heats.node] * now.sources
        self.power += pull[network.thermostats.node] * now.powers
        if rate is not None:
            self.capacity -= pull * rate
        if len(self.boundary):
            self.boundary += self._imposed(pull, temperature, time, duty)

    def add_weight(self, weight: Floats) -> None:
        """Add weights f8[n] that an output has on imposed temperatures themselves."""
        self.boundary += weight[self.network.boundary]

    def _imposed(
        self, pull: Floats, temperature: Floats, time: float, duty: Floats | None
    ) -> Floats:
        """By how much heat into the free nodes changes with the imposed temperatures, pulled."""
        boundary, balance = self.network.boundary, self.shares.balance
        result = np.zeros(len(boundary))
        for potential, columns in self.shares.outer:
            result += (columns @ pull) * potential.slope(temperature[boundary])
        more = np.zeros(len(temperature))
        if balance.rest is not None:
            pattern = balance.rest.pattern
            slopes = jacobian_data(balance.rest, temperature, time)
            column = np.repeat(np.arange(len(more)), np.diff(pattern.indptr))
            more += np.bincount(column, slopes * pull[pattern.indices], len(more))
        if balance.ruled and duty is None:
            stats = self.network.thermostats
            np.subtract.at(
                more, stats.sensor, balance.duty_slopes(temperature, time) * pull[stats.node]
            )
        return np.asarray(result + more[boundary])

    def gradient(self, *, initial: Floats | None = None, also: Sums | None = None) -> Gradient:
        """The sums as a gradient, with those of a steady start added where there is one."""
        names = ("strength", "rate", "amplitude", "power", "capacity", "boundary")
        total = {
            name: getattr(self, name) + (0.0 if also is None else getattr(also, name))
            for name in names
        }
        nothing = np.zeros(len(self.capacity))
        return Gradient(**total, initial=nothing if initial is None else initial)
