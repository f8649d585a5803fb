"""From parts with names to a network in arrays: normalised once, read-only afterwards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import TypeVar

import numpy as np

from thermnet.errors import nearest
from thermnet.network.grid import common_grid
from thermnet.network.network import Network
from thermnet.network.parts import (
    BoundaryPart,
    FlowLinkPart,
    HeatPart,
    HeatsPart,
    History,
    LinkPart,
    LinksPart,
    NodePart,
    NodesPart,
    Part,
    ThermostatPart,
)
from thermnet.network.pattern import Pattern
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
from thermnet.physics.curves import Curve

Kind = TypeVar("Kind")


def build(
    parts: Sequence[Part],
    *,
    period: float = float("inf"),
    instants: Sequence[float] = (),
    end: float | None = None,
) -> Network:
    """Assemble parts into a network.

    `period` [s] repeats every history, which must then lie within 0..period; `instants` [s] are
    further times at which solvers stop and extremes are split; means are over 0..`end` [s], or as
    far as the histories go. Raises ValueError for names that
    do not resolve or come twice, and for numbers that no network can have.
    """
    boundaries = [part for part in parts if isinstance(part, BoundaryPart)]
    nodes = _nodes([part for part in parts if isinstance(part, NodePart | NodesPart)])
    names = (*nodes.names, *(part.name for part in boundaries))
    index = _Index(position=_positions(names))
    links = _links([part for part in parts if isinstance(part, LinkPart | LinksPart)], index)
    flow_links = _flow_links([part for part in parts if isinstance(part, FlowLinkPart)], index)
    heats = _heats([part for part in parts if isinstance(part, HeatPart | HeatsPart)], index)
    thermostats = _thermostats([part for part in parts if isinstance(part, ThermostatPart)], index)
    boundary_history = _integers([index.history(part.history) for part in boundaries])
    return Network(
        names=names,
        capacity=_floats([*nodes.capacity, np.zeros(len(boundaries))]),
        content=nodes.content,
        boundary=_integers(range(len(nodes.names), len(names))),
        boundary_mean=_floats([part.temperature for part in boundaries]),
        boundary_swing=_floats([part.swing for part in boundaries]),
        boundary_history=boundary_history,
        links=links,
        flow_links=flow_links,
        heats=heats,
        thermostats=thermostats,
        histories=common_grid(index.histories.items, period, end),
        curves=tuple(index.curves.of_type(Curve)),
        instants=_floats(sorted(set(instants))),
        origins=tuple(index.origins.of_type(str)),
        node_origins=(*nodes.origins, *(part.origin for part in boundaries)),
        pattern=Pattern(
            links=links,
            flow_links=flow_links,
            heats=heats,
            thermostats=thermostats,
            size=len(names),
        ),
    )


@dataclass(slots=True)
class _Numbering:
    """Numbers things in the order in which they are first met."""

    items: list[object] = field(default_factory=list)
    numbers: dict[object, int] = field(default_factory=dict)

    def of(self, item: object) -> int:
        if item is None:
            return CONSTANT
        key = item if isinstance(item, str | Potential) else id(item)
        if key not in self.numbers:
            self.numbers[key] = len(self.items)
            self.items.append(item)
        return self.numbers[key]

    def of_type(self, kind: type[Kind]) -> list[Kind]:
        return [item for item in self.items if isinstance(item, kind)]


@dataclass(slots=True)
class _Counting:
    """Counts functions of time: a history of many takes as many numbers, from its first on."""

    items: list[History] = field(default_factory=list)
    first: dict[int, int] = field(default_factory=dict)
    count: int = 0

    def of(self, history: History) -> int:
        if id(history) not in self.first:
            self.first[id(history)] = self.count
            self.items.append(history)
            self.count += 1 if history.value.ndim == 1 else history.value.shape[1]
        return self.first[id(history)]


@dataclass(slots=True, kw_only=True)
class _Index:
    """Where each name stands, and the numbers of histories, curves and origins so far."""

    position: dict[str, int]
    histories: _Counting = field(default_factory=_Counting)
    curves: _Numbering = field(default_factory=_Numbering)
    origins: _Numbering = field(default_factory=_Numbering)

    def node(self, name: str) -> int:
        if name not in self.position:
            raise ValueError(f"unknown node '{name}'{nearest(name, self.position)}")
        return self.position[name]

    def sensor(self, part: LinkPart | HeatPart) -> int:
        if (part.curve is None) != (not part.sensor):
            raise ValueError(f"'{part.origin}': a curve and its sensor node go together")
        return self.node(part.sensor) if part.sensor else CONSTANT

    def history(self, history: History | None) -> int:
        if history is None:
            return CONSTANT
        if history.value.ndim > 1:
            raise ValueError("a part of one cannot follow many histories")
        return self.histories.of(history)

    def history_of_each(self, part: LinksPart | HeatsPart, size: int) -> int | Indices:
        """The number of the history that all of a part follow, or one for each of them."""
        if part.history is None or part.history.value.ndim == 1:
            return self.history(part.history)
        if part.history.value.shape[1] != size:
            many = part.history.value.shape[1]
            raise ValueError(f"'{part.origin}': {many} histories for a part of {size}")
        first = self.histories.of(part.history)
        return np.arange(first, first + size, dtype=np.int32)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Nodes:
    names: list[str]
    capacity: list[Floats]
    content: tuple[tuple[int, Curve], ...]
    origins: list[str]


def _nodes(parts: Sequence[NodePart | NodesPart]) -> _Nodes:
    names: list[str] = []
    capacity: list[Floats] = []
    content: list[tuple[int, Curve]] = []
    origins: list[str] = []
    for part in parts:
        if isinstance(part, NodesPart):
            _refuse_negative(part.capacity, f"nodes '{part.origin}': negative heat capacity")
            if len(part.capacity) != len(part.names):
                raise ValueError(f"nodes '{part.origin}': as many capacities as names are needed")
            names.extend(part.names)
            capacity.append(part.capacity)
            origins.extend([part.origin] * len(part.names))
            continue
        _refuse_negative(part.capacity, f"node '{part.name}': negative heat capacity")
        if part.content is not None:
            if (np.diff(part.content.y) <= 0.0).any():
                raise ValueError(f"node '{part.name}': heat content must rise with temperature")
            if not part.content.extend:
                raise ValueError(
                    f"node '{part.name}': a heat content must continue beyond its ends"
                )
            content.append((len(names), part.content))
        names.append(part.name)
        capacity.append(np.array([part.capacity]))
        origins.append(part.origin)
    return _Nodes(names=names, capacity=capacity, content=tuple(content), origins=origins)


def _links(parts: Sequence[LinkPart | LinksPart], index: _Index) -> Links:
    """Links sorted by potential, in order within one."""
    potentials = _Numbering()
    rows: list[tuple[Indices | Floats | int | float, ...]] = []
    for part in parts:
        _refuse_negative(part.strength, f"link '{part.origin}': negative strength")
        kind, origin = potentials.of(part.potential), index.origins.of(part.origin)
        if isinstance(part, LinksPart):
            _refuse_misfit(f"links '{part.origin}'", part.nodes, part.strength, part.a, part.b)
            where = np.array([index.node(name) for name in part.nodes], dtype=np.int32)
            if (part.a == part.b).any():
                twice = part.nodes[int(part.a[part.a == part.b][0])]
                raise ValueError(f"link '{part.origin}' joins '{twice}' to itself")
            ends = where[part.a], where[part.b]
            history = index.history_of_each(part, len(part.strength))
            rows.append((kind, *ends, part.strength, history, CONSTANT, CONSTANT, origin))
            continue
        if part.a == part.b:
            raise ValueError(f"link '{part.origin}' joins '{part.a}' to itself")
        ends_of = index.node(part.a), index.node(part.b), part.strength
        driven = index.history(part.history), index.curves.of(part.curve), index.sensor(part)
        rows.append((kind, *ends_of, *driven, origin))
    kinds, a, b, strength, history_of, curve, sensor, origins = _columns(rows, 8, long=3)
    order = np.argsort(kinds, kind="stable")
    groups = np.searchsorted(kinds[order], np.arange(len(potentials.items) + 1))
    return Links(
        a=_integers(a[order]),
        b=_integers(b[order]),
        strength=_floats(strength[order]),
        history=_integers(history_of[order]),
        curve=_integers(curve[order]),
        sensor=_integers(sensor[order]),
        potentials=tuple(potentials.of_type(Potential)),
        groups=tuple(int(k) for k in groups),
        origin=_integers(origins[order]),
    )


def _flow_links(parts: Sequence[FlowLinkPart], index: _Index) -> FlowLinks:
    for part in parts:
        _refuse_negative(part.rate, f"flow link '{part.origin}': negative rate")
    return FlowLinks(
        a=_integers([index.node(part.a) for part in parts]),
        b=_integers([index.node(part.b) for part in parts]),
        rate=_floats([part.rate for part in parts]),
        history=_integers([index.history(part.history) for part in parts]),
        origin=_integers([index.origins.of(part.origin) for part in parts]),
    )


def _heats(parts: Sequence[HeatPart | HeatsPart], index: _Index) -> Heats:
    rows: list[tuple[Indices | Floats | int | float, ...]] = []
    for part in parts:
        origin = index.origins.of(part.origin)
        if isinstance(part, HeatsPart):
            _refuse_misfit(f"heats '{part.origin}'", part.nodes, part.amplitude, part.node)
            where = np.array([index.node(name) for name in part.nodes], dtype=np.int32)
            history = index.history_of_each(part, len(part.amplitude))
            rows.append((where[part.node], part.amplitude, history, CONSTANT, CONSTANT, origin))
            continue
        driven = index.history(part.history), index.curves.of(part.curve), index.sensor(part)
        rows.append((index.node(part.node), part.amplitude, *driven, origin))
    node, amplitude, history_of, curve, sensor, origins = _columns(rows, 6, long=1)
    return Heats(
        node=_integers(node),
        amplitude=_floats(amplitude),
        history=_integers(history_of),
        curve=_integers(curve),
        sensor=_integers(sensor),
        origin=_integers(origins),
    )


def _thermostats(parts: Sequence[ThermostatPart], index: _Index) -> Thermostats:
    for part in parts:
        if not part.on < part.off:
            raise ValueError(f"thermostat '{part.origin}': must switch on below where it goes off")
        _refuse_negative(part.power, f"thermostat '{part.origin}': negative power")
    return Thermostats(
        node=_integers([index.node(part.node) for part in parts]),
        sensor=_integers([index.node(part.sensor) for part in parts]),
        power=_floats([part.power for part in parts]),
        on=_floats([part.on for part in parts]),
        off=_floats([part.off for part in parts]),
        enabled=_integers([index.history(part.enabled) for part in parts]),
        origin=_integers([index.origins.of(part.origin) for part in parts]),
    )


def _columns(
    rows: Sequence[tuple[Indices | Floats | int | float, ...]], count: int, *, long: int
) -> list[Floats]:
    """Columns of rows that hold numbers or, from place `long` on where given, whole arrays."""
    pieces: list[list[Floats]] = [[np.zeros(0)] * count]
    for whole, group in groupby(rows, key=lambda row: isinstance(row[long], np.ndarray)):
        if whole:
            pieces += [
                [np.broadcast_to(np.asarray(value), np.size(row[long])) for value in row]
                for row in group
            ]
        else:  # single rows together: numpy takes as long for one number as for a thousand
            pieces.append([np.array(column) for column in zip(*group, strict=True)])
    return [np.concatenate(column) for column in zip(*pieces, strict=True)]


def _positions(names: tuple[str, ...]) -> dict[str, int]:
    position = {name: k for k, name in enumerate(names)}
    if len(position) < len(names):
        twice = sorted({name for name in names if names.count(name) > 1})
        raise ValueError(f"node names come twice: {', '.join(twice)}")
    return position


def _refuse_negative(values: float | Floats, what: str) -> None:
    if isinstance(values, float) and values >= 0.0:
        return  # at once for a part of one
    refused = np.atleast_1d(~(np.asarray(values) >= 0.0))
    if refused.any():
        raise ValueError(f"{what} {np.atleast_1d(values)[refused][0]}")


def _refuse_misfit(what: str, nodes: Sequence[str], values: Floats, *places: Indices) -> None:
    """Arrays of one part have one length, and places are places in its nodes."""
    for place in places:
        if place.shape != values.shape:
            raise ValueError(f"{what}: {len(values)} values for {len(place)} places")
        if len(place) and not (place.min() >= 0 and place.max() < len(nodes)):
            raise ValueError(f"{what}: a place is none of its {len(nodes)} nodes")


def _integers(values: Sequence[int] | range | Indices | Floats) -> Indices:
    return read_only(np.array(values, dtype=np.int32))


def _floats(values: Sequence[float] | Sequence[Floats] | Floats) -> Floats:
    pieces = isinstance(values, list) and any(isinstance(piece, np.ndarray) for piece in values)
    array = np.concatenate(values) if pieces else np.array(values, dtype=np.float64)
    if not np.isfinite(array).all():
        raise ValueError("the numbers of a network must be finite")
    return read_only(array.astype(np.float64))
