"""Structural checks before every solve: what makes a network unsolvable or suspicious."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from thermnet.errors import Problem
from thermnet.network.network import Network, storing
from thermnet.network.primitives import CONSTANT, Flags, Floats

STRONGEST_RATIO = 1e8
"""Ratio of a node's strongest to its weakest link, in W/K near 280 K, above which to warn."""

CAPACITY_RATIO = 1e6
"""Ratio of the capacities of two linked nodes above which to warn."""

REFERENCE = 280.0
"""K at which links of different laws are compared."""


def check(network: Network) -> tuple[Problem, ...]:
    """All problems of a network's structure, by path: errors first, then warnings."""
    errors = [
        *_floating(network),
        *_massless_without_link(network),
        *_unbalanced_flow(network),
        *_massless_sensors(network),
    ]
    warnings = [*_lonely(network), *_far_apart(network), *_capacity_ratios(network)]
    return (*errors, *warnings, *_followed_without_capacity(network))


def islands(network: Network) -> list[tuple[int, ...]]:
    """Groups of nodes that no link joins to one another, as positions."""
    a, b = _ends(network)
    n = len(network.names)
    joined = coo_array((np.ones(len(a)), (a, b)), shape=(n, n))
    _, label = connected_components(joined, directed=False)
    order = np.argsort(label, kind="stable")
    cuts = np.flatnonzero(np.diff(label[order])) + 1
    return [tuple(int(k) for k in group) for group in np.split(order, cuts)]


def _ends(network: Network) -> tuple[np.ndarray, np.ndarray]:
    """Ends of all links that can carry heat."""
    links, carried = network.links, network.flow_links
    alive, moving = links.strength > 0.0, carried.rate > 0.0
    a = np.concatenate([links.a[alive], carried.a[moving]])
    b = np.concatenate([links.b[alive], carried.b[moving]])
    return a, b


def _floating(network: Network) -> list[Problem]:
    imposed = set(network.boundary.tolist())
    heated = set(network.heats.node[network.heats.amplitude != 0.0].tolist())
    heated |= set(network.thermostats.node[network.thermostats.power != 0.0].tolist())
    problems = []
    for group in islands(network):
        if imposed & set(group):
            continue
        names = _listed(network, group)
        if heated & set(group):
            message = f"no route to a boundary node for the heat on {names}: add the missing link"
        else:
            message = f"no route to a boundary node from {names}: their temperature is undefined"
        problems.append(Problem(message=message, path=network.node_origins[group[0]]))
    return problems


def _massless_without_link(network: Network) -> list[Problem]:
    a, b = _ends(network)
    linked = np.zeros(len(network.names), dtype=bool)
    linked[a] = True
    linked[b] = True
    content = {node for node, _ in network.content}
    imposed = set(network.boundary.tolist())
    groups: dict[str, list[int]] = {}
    for k in np.flatnonzero(~linked & (network.capacity == 0.0)).tolist():
        if k not in imposed and k not in content:
            groups.setdefault(network.node_origins[k], []).append(k)
    problems = []
    for path, group in groups.items():
        nodes, have = ("nodes", "have") if len(group) > 1 else ("node", "has")
        names, them = _listed(network, tuple(group)), "them" if len(group) > 1 else "it"
        message = f"the massless {nodes} {names} {have} no link, so nothing balances {them}"
        problems.append(Problem(message=message, path=path))
    return problems


def _unbalanced_flow(network: Network) -> list[Problem]:
    """Fluid must leave each free node as fast as it enters, at all times."""
    carried = network.flow_links
    if len(carried.a) == 0:
        return []
    n = len(network.names)
    instants = network.histories.instants
    width = np.diff(instants)
    problems = {}
    # A straight line that is zero at two instants of a piece is zero all along it.
    for time in np.concatenate([instants[:-1] + 0.25 * width, instants[:-1] + 0.75 * width]):
        values = np.append(network.histories.at(float(time)), 1.0)
        rate = carried.rate * values[carried.history]
        net = np.bincount(carried.b, rate, n) - np.bincount(carried.a, rate, n)
        through = np.bincount(carried.b, rate, n) + np.bincount(carried.a, rate, n)
        for k in network.free[np.abs(net[network.free]) > 1e-9 * through[network.free]]:
            sense = "more enters than leaves" if net[k] > 0.0 else "more leaves than enters"
            message = (
                f"the fluid through '{network.names[k]}' does not balance: {abs(net[k]):.4g} W/K "
                f"{sense}; a flow returns, or begins and ends at boundaries"
            )
            touching = carried.origin[(carried.a == k) | (carried.b == k)]
            path = network.origins[touching[0]] or network.node_origins[k]
            problems[int(k)] = Problem(message=message, path=path)
    return list(problems.values())


def _massless_sensors(network: Network) -> list[Problem]:
    stats, lasting = network.thermostats, _lasting(network)
    return [
        Problem(
            message=(
                f"the sensor node '{network.names[sensor]}' is massless and would switch without "
                "end; give it a heat capacity or move the sensor"
            ),
            path=network.origins[origin],
        )
        for sensor, origin in zip(stats.sensor.tolist(), stats.origin.tolist(), strict=True)
        if not lasting[sensor]
    ]


def _lasting(network: Network) -> Flags:
    """Which nodes cannot jump: those that hold heat, and imposed ones."""
    found = storing(network)
    found[network.boundary] = True
    return found


def _followed_without_capacity(network: Network) -> list[Problem]:
    links, lasting = network.links, _lasting(network)
    follows = (links.sensor != CONSTANT) & (links.curve != CONSTANT)
    doubtful = np.flatnonzero(follows & ~lasting[links.sensor])
    problems = {}
    for origin, sensor in zip(
        links.origin[doubtful].tolist(), links.sensor[doubtful].tolist(), strict=True
    ):
        problems[origin] = Problem(
            message=(
                f"follows '{network.names[sensor]}', which has no heat capacity: where it conducts "
                "less as that warms there may be several balances, of which one is found; name a "
                "sensor with a heat capacity"
            ),
            path=network.origins[origin],
            severity="warning",
        )
    return list(problems.values())


def _lonely(network: Network) -> list[Problem]:
    links, carried = network.links, network.flow_links
    used = np.zeros(len(network.names), dtype=bool)
    for group in (links.a, links.b, carried.a, carried.b, network.heats.node):
        used[group] = True
    for watched in (links.sensor, network.heats.sensor, network.thermostats.sensor):
        used[watched[watched != CONSTANT]] = True
    return [
        Problem(
            message=f"nothing is attached to '{network.names[k]}'",
            path=network.node_origins[k],
            severity="warning",
        )
        for k in network.boundary
        if not used[k]
    ]


def conductances(network: Network) -> Floats:
    """Every link as a conductance [W/K] at 280 K, histories and curves left out."""
    links = network.links
    result = np.empty(len(links.a))
    for potential, begin, end in zip(
        links.potentials, links.groups[:-1], links.groups[1:], strict=True
    ):
        slope = potential.slope(np.array([REFERENCE]))[0]
        result[begin:end] = links.strength[begin:end] * slope
    return result


def _far_apart(network: Network) -> list[Problem]:
    links = network.links
    strength = conductances(network)
    alive = np.flatnonzero(strength > 0.0)
    strongest = np.zeros(len(network.names))
    np.maximum.at(strongest, links.a[alive], strength[alive])
    np.maximum.at(strongest, links.b[alive], strength[alive])
    # A link is only suspicious where both its ends have far stronger ones.
    least = np.minimum(strongest[links.a], strongest[links.b])
    suspicious = alive[least[alive] > STRONGEST_RATIO * strength[alive]]
    problems = []
    for origin in np.unique(links.origin[suspicious]):
        alike = suspicious[links.origin[suspicious] == origin]
        k = alike[np.argmin(strength[alike])]
        more = f", and {len(alike) - 1} more like it" if len(alike) > 1 else ""
        message = (
            f"{strength[k]:.3g} W/K near {REFERENCE:.0f} K beside links of {least[k]:.3g} W/K "
            f"at both its ends{more}; is its unit right?"
        )
        path = network.origins[origin]
        problems.append(Problem(message=message, path=path, severity="warning"))
    return problems


def _capacity_ratios(network: Network) -> list[Problem]:
    links, capacity = network.links, network.capacity
    first = capacity[links.a] <= capacity[links.b]
    smaller, larger = np.where(first, links.a, links.b), np.where(first, links.b, links.a)
    apart = (capacity[smaller] > 0.0) & (capacity[larger] > CAPACITY_RATIO * capacity[smaller])
    problems = {}
    for small, large in zip(smaller[apart].tolist(), larger[apart].tolist(), strict=True):
        problems[small] = Problem(
            message=(
                f"a capacity of {capacity[small]:.3g} J/K beside {capacity[large]:.3g} J/K of "
                f"'{network.names[large]}'; is its unit right, or is it massless?"
            ),
            path=network.node_origins[small],
            severity="warning",
        )
    return list(problems.values())


def _listed(network: Network, group: tuple[int, ...]) -> str:
    names = ", ".join(f"'{network.names[k]}'" for k in group[:4])
    return names if len(group) <= 4 else f"{names} and {len(group) - 4} more"
