"""What goes through the interfaces of a solved case: their temperatures, and heat into the part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from thermnet.network.network import Network, flows, heater_powers, sources
from thermnet.network.primitives import Flags, Floats, FlowLinks, Heats, Indices, Thermostats
from thermnet.network.subset import blocks, subset
from thermnet.results import Result
from thermnet.solve.steady import recorded

Primitives = TypeVar("Primitives", FlowLinks, Heats, Thermostats)

NOTHING = float("nan")
"""Stands for every number of a case that could not be solved."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InterfaceRow:
    """One interface in one case.

    `part` is the part that it belongs to, "" for one of the model's own. Temperatures are in K,
    instants in s; `least`, `mean_heat` and `most` [W] are the heat flow into the part.
    """

    case: str
    interface: str
    part: str
    lowest: float
    lowest_at: float
    mean: float
    highest: float
    highest_at: float
    least: float
    least_at: float
    mean_heat: float
    most: float
    most_at: float


def interface_table(result: Result) -> tuple[InterfaceRow, ...]:
    """One row for each interface of a solved case, in the order of the file.

    Extremes of heat flow are over the samples of the record, a few to each step of the solver.
    """
    names = tuple(result.model.sections["interfaces"])
    parts = [result.model.brought.get(f"interfaces.{name}", "") for name in names]
    if result.solution.failure:
        return tuple(
            _unsolved(result.case, name, part) for name, part in zip(names, parts, strict=True)
        )
    heat = interface_heat(result, names)
    return tuple(
        _row(result, name, part, heat[:, k])
        for k, (name, part) in enumerate(zip(names, parts, strict=True))
    )


def interface_heat(result: Result, names: Sequence[str]) -> Floats:
    """Heat flow into the part of each interface, f8[q, k] [W], at the q samples of the record.

    That is what everything but the part gives to the node of the interface: links, loads and
    heaters of the host. Where the temperature of the interface is imposed, as while the part is
    solved alone, it is what keeps it so: all that the part itself draws from the node. A fluid
    brings heat by its temperature above that of the node. Raises KeyError for an unknown name.
    """
    record, network = result.solution.record, recorded(result.network, result.solution)
    nodes = [network.index(name) for name in names]
    imposed = np.isin(nodes, network.boundary)
    counting = [
        _of_part(result, name) == bool(held) for name, held in zip(names, imposed, strict=True)
    ]
    few, heaters = _near(network, nodes)
    found = np.zeros((len(record.time), len(names)))
    for some in blocks(len(record.time), few.histories.start.shape[-1] + len(network.names)):
        temperature, duty = record.temperature[some], record.duty[some][:, heaters]
        coming = _coming(few, temperature, record.local_time[some], duty)
        for k, node in enumerate(nodes):
            for each in coming:
                heat = each.heat[:, (each.node == node) & counting[k][each.origin]]
                found[some, k] += heat.sum(axis=1)
    return np.where(imposed, -found, found)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Coming:
    """Heat f8[q, m] [W] that comes to `node` i4[m] from `origin` i4[m], at q samples."""

    node: Indices
    origin: Indices
    heat: Floats


def _coming(
    network: Network, temperature: Floats, time: Floats, duty: Floats
) -> tuple[_Coming, ...]:
    """All heat that comes to nodes, through links at both of their ends."""
    links, carried = network.links, network.flow_links
    through = flows(network, temperature, time)
    flow, fluid = through[:, : len(links.a)], through[:, len(links.a) :]
    risen = fluid * (1.0 - temperature[:, carried.b] / temperature[:, carried.a])
    heats, stats = network.heats, network.thermostats
    powers = heater_powers(network, duty, time)
    return (
        _Coming(node=links.a, origin=links.origin, heat=-flow),
        _Coming(node=links.b, origin=links.origin, heat=flow),
        _Coming(node=carried.b, origin=carried.origin, heat=risen),
        _Coming(node=heats.node, origin=heats.origin, heat=sources(network, temperature, time)),
        _Coming(node=stats.node, origin=stats.origin, heat=powers),
    )


def _near(network: Network, nodes: Sequence[int]) -> tuple[Network, Flags]:
    """The network with only what touches some nodes, and which of the heaters do."""
    links, carried = network.links, network.flow_links
    heats, stats = network.heats, network.thermostats
    touching = np.isin(links.a, nodes) | np.isin(links.b, nodes)
    heaters = np.isin(stats.node, nodes)
    few = subset(
        network,
        links=touching,
        flow_links=np.isin(carried.b, nodes),
        heats=np.isin(heats.node, nodes),
        thermostats=heaters,
    )
    return few, heaters


def _of_part(result: Result, interface: str) -> Flags:
    """Which origins of the network belong to the part of an interface.

    All do where the interface is the model's own: what it is joined to is not in the model.
    """
    brought, origins = result.model.brought, result.network.origins
    part = brought.get(f"interfaces.{interface}")
    if part is None:
        return np.ones(len(origins), dtype=bool)
    entries = (".".join(origin.split(".")[:2]) for origin in origins)
    owners = (brought.get(entry, "") for entry in entries)
    return np.array([owner == part or owner.startswith(f"{part}/") for owner in owners], dtype=bool)


def _unsolved(case: str, name: str, part: str) -> InterfaceRow:
    return InterfaceRow(
        case=case,
        interface=name,
        part=part,
        lowest=NOTHING,
        lowest_at=NOTHING,
        mean=NOTHING,
        highest=NOTHING,
        highest_at=NOTHING,
        least=NOTHING,
        least_at=NOTHING,
        mean_heat=NOTHING,
        most=NOTHING,
        most_at=NOTHING,
    )


def _row(result: Result, name: str, part: str, heat: Floats) -> InterfaceRow:
    solution, node = result.solution, result.network.index(name)
    record, extremes = solution.record, solution.extremes
    coldest = int(extremes.lowest[:, node].argmin())
    warmest = int(extremes.highest[:, node].argmax())
    least, most = int(heat.argmin()), int(heat.argmax())
    return InterfaceRow(
        case=result.case,
        interface=name,
        part=part,
        lowest=float(extremes.lowest[coldest, node]),
        lowest_at=float(extremes.lowest_at[coldest, node]),
        mean=float(solution.mean[node]),
        highest=float(extremes.highest[warmest, node]),
        highest_at=float(extremes.highest_at[warmest, node]),
        least=float(heat[least]),
        least_at=float(record.time[least]),
        mean_heat=float(record.weight @ heat / record.weight.sum()),
        most=float(heat[most]),
        most_at=float(record.time[most]),
    )
