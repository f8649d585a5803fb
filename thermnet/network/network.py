"""The heat balance: arrays in, watts out. The only file that holds the physics of the network.

Every index array refers to positions in `Network.names`. Heat flows are positive from `a` to `b`.
Time is local to the histories' period; at a jump a history has its later value, so that a solver
that never steps across an instant sees each side of it cleanly.

Temperatures f8[n] with one time, or f8[q, n] with q times: all but the Jacobian take both.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_array

from thermnet.network.pattern import Pattern
from thermnet.network.primitives import (
    CONSTANT,
    Flags,
    Floats,
    FlowLinks,
    Heats,
    Histories,
    Indices,
    Links,
    Thermostats,
)
from thermnet.physics.curves import Curve, within
from thermnet.physics.potentials import duty_share, duty_slope


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """A thermal network in arrays. Position i of every node array belongs to names[i].

    `capacity` [J/K] is zero for massless and boundary nodes. `content` maps nodes to their heat
    content over temperature [J over K], whose slope replaces the capacity. Boundary temperatures
    are `boundary_mean + boundary_swing * history` [K]. `origins[k]` is the path in the model that
    link, heat or thermostat with origin k came from; `node_origins[i]` the one of node i.
    `instants` are further times at which something begins or ends that carries no heat.
    """

    names: tuple[str, ...]
    capacity: Floats
    content: tuple[tuple[int, Curve], ...]
    boundary: Indices
    boundary_mean: Floats
    boundary_swing: Floats
    boundary_history: Indices
    links: Links
    flow_links: FlowLinks
    heats: Heats
    thermostats: Thermostats
    histories: Histories
    curves: tuple[Curve, ...]
    instants: Floats
    origins: tuple[str, ...]
    node_origins: tuple[str, ...]
    pattern: Pattern

    def index(self, name: str) -> int:
        """Position of a node. Raises KeyError for an unknown name."""
        try:
            return self.names.index(name)
        except ValueError:
            raise KeyError(name) from None

    @property
    def free(self) -> Indices:
        """Nodes whose temperature is solved for."""
        keep = np.ones(len(self.names), dtype=bool)
        keep[self.boundary] = False
        return np.flatnonzero(keep).astype(np.int32)


def boundary_temperatures(network: Network, time: float | Floats) -> Floats:
    """Imposed temperatures [K], one for each of `network.boundary`."""
    factor = _drive(network, time)[..., network.boundary_history]
    return network.boundary_mean + network.boundary_swing * factor


def flows(network: Network, temperature: Floats, time: float | Floats) -> Floats:
    """Heat flow through each link, then through each flow link, W from a to b."""
    drive = _drive(network, time)
    through, carried = _flows(network, temperature, drive)
    return np.concatenate([through, carried], axis=-1)


def sources(network: Network, temperature: Floats, time: float | Floats) -> Floats:
    """Heat given to `heats.node` by each heat [W], whatever a thermostat does."""
    return _sources(network, temperature, _drive(network, time))


def duties(network: Network, temperature: Floats) -> Floats:
    """Duty 0..1 of each thermostat by the proportional law over its own band."""
    stats = network.thermostats
    if not len(stats.node):
        return np.zeros((*temperature.shape[:-1], 0))
    share = duty_share(temperature[..., stats.sensor], stats.on, stats.off)
    return np.asarray(within(share, 0.0, 1.0))


def heater_powers(network: Network, duty: Floats, time: float | Floats) -> Floats:
    """Heat given by each thermostat [W] at the given duties (0..1, or the states 0 and 1)."""
    return _heater_powers(network, duty, _drive(network, time))


def heat(
    network: Network, temperature: Floats, time: float | Floats, duty: Floats | None = None
) -> Floats:
    """Net heat into every node [W], f8[n]; duties by the proportional law unless given.

    What leaves one end of a link enters the other: the sum over all nodes is that of the sources.
    """
    drive = _drive(network, time)
    duty = duties(network, temperature) if duty is None else duty
    through, carried = _flows(network, temperature, drive)
    given = _sources(network, temperature, drive)
    powers = _heater_powers(network, duty, drive)
    everything = np.concatenate([through, given, powers, carried], axis=-1)
    return np.asarray((network.pattern.receive @ everything.T).T)


def jacobian(
    network: Network, temperature: Floats, time: float, duty: Floats | None = None
) -> csc_array:
    """Exact derivative of `heat` by temperature [W/K], n x n; zero duty slope if duty is given."""
    pattern, n = network.pattern, len(network.names)
    data = jacobian_data(network, temperature, time, duty)
    return csc_array((data, pattern.indices, pattern.indptr), shape=(n, n))


def jacobian_data(
    network: Network, temperature: Floats, time: float, duty: Floats | None = None
) -> Floats:
    """The values of `jacobian` on `network.pattern`, by columns."""
    links, carried, heats = network.links, network.flow_links, network.heats
    drive = _drive(network, time)
    strength = links.strength * drive[links.history]
    bent = _curve_values(network, links.curve, links.sensor, temperature)
    slope_a, slope_b, difference = np.empty((3, len(links.a)))
    for potential, begin, end in zip(
        links.potentials, links.groups[:-1], links.groups[1:], strict=True
    ):
        part = slice(begin, end)
        at_a, at_b = temperature[links.a[part]], temperature[links.b[part]]
        slope_a[part], slope_b[part] = potential.slope(at_a), potential.slope(at_b)
        difference[part] = potential.value(at_a) - potential.value(at_b)
    by_a, by_b = strength * bent * slope_a, -strength * bent * slope_b
    by_sensor = (
        strength * difference * _curve_slopes(network, links.curve, links.sensor, temperature)
    )
    rate = carried.rate * drive[carried.history]
    by_heat_sensor = (
        heats.amplitude
        * drive[heats.history]
        * _curve_slopes(network, heats.curve, heats.sensor, temperature)
    )
    by_thermostat = _duty_slopes(network, temperature, drive, duty)
    # The order of this list is that of `entries`.
    values = np.concatenate(
        [-by_a, -by_b, by_a, by_b, -by_sensor, by_sensor, -rate, rate]
        + [by_heat_sensor, by_thermostat, np.zeros(len(network.names))]
    )
    data = np.bincount(network.pattern.slot, values, len(network.pattern.indices))
    return data.astype(np.float64, copy=False)


def capacities(network: Network, temperature: Floats) -> Floats:
    """Heat capacity of every node [J/K], the slope of its heat content where it has one."""
    values = network.capacity.copy()
    for node, curve in network.content:
        values[node] = curve.slope(temperature[[node]])[0]
    return values


def storing(network: Network) -> Flags:
    """Which nodes hold heat, by a capacity or by a content, f[n]."""
    has: Flags = network.capacity > 0.0
    has[[node for node, _ in network.content]] = True
    return has


def stored_heat(network: Network, temperature: Floats) -> Floats:
    """Heat content of every node [J] above 0 K (by capacity) or above its curve's own zero."""
    values = network.capacity * temperature
    for node, curve in network.content:
        values[node] = curve.value(temperature[[node]])[0]
    return values


def _drive(network: Network, time: float | Floats) -> Floats:
    """Values of every history at a time; the last position, CONSTANT, is the factor 1."""
    values = network.histories.at(time)
    drive = np.ones((*values.shape[:-1], values.shape[-1] + 1))
    drive[..., :-1] = values
    return drive


def _flows(network: Network, temperature: Floats, drive: Floats) -> tuple[Floats, Floats]:
    links, carried = network.links, network.flow_links
    difference = np.empty((*temperature.shape[:-1], len(links.a)))
    for potential, begin, end in zip(
        links.potentials, links.groups[:-1], links.groups[1:], strict=True
    ):
        if begin == end:
            continue
        part = slice(begin, end)
        difference[..., part] = potential.value(temperature[..., links.a[part]])
        difference[..., part] -= potential.value(temperature[..., links.b[part]])
    through = links.strength * drive[..., links.history] * difference
    if network.curves and len(links.a):
        through *= _curve_values(network, links.curve, links.sensor, temperature)
    rate = carried.rate * drive[..., carried.history]
    return through, rate * temperature[..., carried.a]


def _sources(network: Network, temperature: Floats, drive: Floats) -> Floats:
    heats = network.heats
    given = heats.amplitude * drive[..., heats.history]
    if network.curves:
        given = given * _curve_values(network, heats.curve, heats.sensor, temperature)
    shape = (*temperature.shape[:-1], given.shape[-1])
    return np.asarray(given) if given.shape == shape else np.broadcast_to(given, shape)


def _heater_powers(network: Network, duty: Floats, drive: Floats) -> Floats:
    stats = network.thermostats
    powers = stats.power * drive[..., stats.enabled] * duty
    return np.asarray(powers)


def _duty_slopes(
    network: Network, temperature: Floats, drive: Floats, duty: Floats | None
) -> Floats:
    """Derivative of heater power by sensor temperature [W/K]; zero where the duty is given."""
    stats = network.thermostats
    if duty is not None or len(stats.node) == 0:
        return np.zeros(len(stats.node))
    share = duty_share(temperature[stats.sensor], stats.on, stats.off)
    slope = stats.power * drive[stats.enabled] * duty_slope(stats.on, stats.off)
    return np.where((share > 0.0) & (share < 1.0), slope, 0.0)


def _curve_values(network: Network, curve: Indices, sensor: Indices, temperature: Floats) -> Floats:
    values = np.ones((*temperature.shape[:-1], len(curve)))
    if network.curves:
        for k in np.flatnonzero(curve != CONSTANT):
            values[..., k] = network.curves[curve[k]].value(temperature[..., sensor[k]])
    return values


def _curve_slopes(network: Network, curve: Indices, sensor: Indices, temperature: Floats) -> Floats:
    slopes = np.zeros(len(curve))
    if network.curves:
        for k in np.flatnonzero(curve != CONSTANT):
            slopes[k] = network.curves[curve[k]].slope(temperature[[sensor[k]]])[0]
    return slopes
