"""What changes from case to case of one network."""

from __future__ import annotations

from dataclasses import dataclass, replace

from thermnet.network.network import Network
from thermnet.network.pattern import Pattern
from thermnet.network.primitives import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Variants:
    """What changes from case to case, one row for each of k cases; what is None does not.

    `strength` f8[k, m] of the links, `amplitude` f8[k, q] of the heats, `capacity` f8[k, n] of the
    nodes (without effect on content curves), `boundary` f8[k, b] mean boundary temperatures [K],
    `power` f8[k, h] of the thermostats: in the order of the network's arrays, in their units.
    """

    strength: Floats | None = None
    amplitude: Floats | None = None
    capacity: Floats | None = None
    boundary: Floats | None = None
    power: Floats | None = None


def variant(network: Network, variants: Variants, case: int) -> Network:
    """The network of one case."""
    links, heats, stats = network.links, network.heats, network.thermostats
    if variants.strength is not None:
        links = replace(links, strength=variants.strength[case])
    if variants.amplitude is not None:
        heats = replace(heats, amplitude=variants.amplitude[case])
    if variants.power is not None:
        stats = replace(stats, power=variants.power[case])
    changed = replace(
        network,
        links=links,
        heats=heats,
        thermostats=stats,
        pattern=Pattern(
            links=links,
            flow_links=network.flow_links,
            heats=heats,
            thermostats=stats,
            size=len(network.names),
        ),
    )
    if variants.capacity is not None:
        changed = replace(changed, capacity=variants.capacity[case])
    if variants.boundary is not None:
        changed = replace(changed, boundary_mean=variants.boundary[case])
    return changed


def columns_of(network: Network) -> dict[str, int]:
    """Columns of each kind of change."""
    return {
        "strength": len(network.links.a),
        "amplitude": len(network.heats.node),
        "capacity": len(network.names),
        "boundary": len(network.boundary),
        "power": len(network.thermostats.node),
    }


def count_of(network: Network, variants: Variants) -> int:
    """How many cases there are."""
    counts = set()
    for name, columns in columns_of(network).items():
        values = getattr(variants, name)
        if values is not None:
            if values.ndim != 2 or values.shape[1] != columns:
                raise ValueError(f"variants: {name} needs {columns} columns")
            counts.add(len(values))
    if len(counts) != 1:
        raise ValueError("variants: as many rows of each kind are needed")
    return int(counts.pop())


def rows_of(variants: Variants, some: slice) -> Variants:
    values = {name: getattr(variants, name) for name in variants.__dataclass_fields__}
    return Variants(**{name: None if v is None else v[some] for name, v in values.items()})
