"""From parts with names to a network in arrays: normalised once, read-only afterwards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

import numpy as np
from scipy.sparse import coo_array, csr_array

from thermnet.errors import nearest
from thermnet.network.network import (
    CONSTANT,
    Floats,
    FlowLinks,
    Heats,
    Histories,
    Indices,
    Links,
    Network,
    Pattern,
    Potential,
    Thermostats,
    entries,
)
from thermnet.physics.curves import Curve

Array = TypeVar("Array", bound=np.ndarray[Any, Any])

CONDUCTION = Potential(exponent=1.0)
RADIATION = Potential(exponent=4.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class History:
    """A piecewise linear function of time; a repeated instant is a jump.

    `time` f8[k] [s], not decreasing, no instant more than twice; `value` f8[k].
    """

    time: Floats
    value: Floats

    def __post_init__(self) -> None:
        for name in ("time", "value"):
            values = np.array(getattr(self, name), dtype=np.float64)
            values.flags.writeable = False
            object.__setattr__(self, name, values)
        if self.time.ndim != 1 or self.time.shape != self.value.shape or len(self.time) < 1:
            raise ValueError("a history needs as many values as instants, at least one")
        if not (np.isfinite(self.time).all() and np.isfinite(self.value).all()):
            raise ValueError("a history needs finite numbers")
        if (np.diff(self.time) < 0.0).any() or (self.time[2:] == self.time[:-2]).any():
            raise ValueError("instants of a history must not decrease, nor come three times")


@dataclass(frozen=True, slots=True, kw_only=True)
class NodePart:
    """A node: with heat `capacity` [J/K], or heat `content` [J over K], or neither (massless)."""

    name: str
    capacity: float = 0.0
    content: Curve | None = None
    origin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundaryPart:
    """A node of imposed temperature [K]: `temperature + swing * history`."""

    name: str
    temperature: float
    swing: float = 0.0
    history: History | None = None
    origin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkPart:
    """`strength * history(t) * curve(T of sensor) * [Phi(T_a) - Phi(T_b)]` from a to b [W]."""

    a: str
    b: str
    strength: float
    potential: Potential = CONDUCTION
    history: History | None = None
    curve: Curve | None = None
    sensor: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowLinkPart:
    """A fluid of capacity `rate` [W/K] that carries heat from a into b."""

    a: str
    b: str
    rate: float
    history: History | None = None
    origin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatPart:
    """`amplitude * history(t) * curve(T of sensor)` [W] on a node."""

    node: str
    amplitude: float
    history: History | None = None
    curve: Curve | None = None
    sensor: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ThermostatPart:
    """A heater of `power` [W] on a node, on at or below `on`, off at or above `off` [K]."""

    node: str
    sensor: str
    power: float
    on: float
    off: float
    enabled: History | None = None
    origin: str = ""


Part = NodePart | BoundaryPart | LinkPart | FlowLinkPart | HeatPart | ThermostatPart


@dataclass(slots=True)
class _Index:
    """Numbers things in the order in which they are first met; the only mutable helper here."""

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


def build(
    parts: Sequence[Part],
    *,
    period: float = float("inf"),
    instants: Sequence[float] = (),
) -> Network:
    """Assemble parts into a network.

    `period` [s] repeats every history, which must then lie within 0..period; `instants` [s] are
    further times at which solvers stop and extremes are split. Raises ValueError for names that
    do not resolve or come twice, and for numbers that no network can have.
    """
    nodes: list[NodePart] = [part for part in parts if isinstance(part, NodePart)]
    boundaries: list[BoundaryPart] = [part for part in parts if isinstance(part, BoundaryPart)]
    every: list[NodePart | BoundaryPart] = [*nodes, *boundaries]
    names = tuple(part.name for part in every)
    position = _positions(names)
    histories, curves, origins = _Index(), _Index(), _Index()

    def numbers(values: Sequence[int]) -> Indices:
        return _fixed(np.array(values, dtype=np.int32))

    def where(selected: Sequence[str]) -> Indices:
        for name in selected:
            if name not in position:
                raise ValueError(f"unknown node '{name}'{nearest(name, position)}")
        return numbers([position[name] for name in selected])

    def sensors(selected: Sequence[LinkPart | HeatPart]) -> Indices:
        for part in selected:
            if (part.curve is None) != (not part.sensor):
                raise ValueError(f"'{part.origin}': a curve and its sensor node go together")
        known = where([part.sensor for part in selected if part.sensor])
        result = np.full(len(selected), CONSTANT, dtype=np.int32)
        result[[k for k, part in enumerate(selected) if part.sensor]] = known
        return _fixed(result)

    link_parts, potentials, groups = _by_potential(
        [part for part in parts if isinstance(part, LinkPart)]
    )
    flow_parts = [part for part in parts if isinstance(part, FlowLinkPart)]
    heat_parts = [part for part in parts if isinstance(part, HeatPart)]
    stat_parts = [part for part in parts if isinstance(part, ThermostatPart)]
    _refuse_impossible(nodes, link_parts, flow_parts, stat_parts)

    links = Links(
        a=where([part.a for part in link_parts]),
        b=where([part.b for part in link_parts]),
        strength=_floats([part.strength for part in link_parts]),
        history=numbers([histories.of(part.history) for part in link_parts]),
        curve=numbers([curves.of(part.curve) for part in link_parts]),
        sensor=sensors(link_parts),
        potentials=potentials,
        groups=groups,
        origin=numbers([origins.of(part.origin) for part in link_parts]),
    )
    flow_links = FlowLinks(
        a=where([part.a for part in flow_parts]),
        b=where([part.b for part in flow_parts]),
        rate=_floats([part.rate for part in flow_parts]),
        history=numbers([histories.of(part.history) for part in flow_parts]),
        origin=numbers([origins.of(part.origin) for part in flow_parts]),
    )
    heats = Heats(
        node=where([part.node for part in heat_parts]),
        amplitude=_floats([part.amplitude for part in heat_parts]),
        history=numbers([histories.of(part.history) for part in heat_parts]),
        curve=numbers([curves.of(part.curve) for part in heat_parts]),
        sensor=sensors(heat_parts),
        origin=numbers([origins.of(part.origin) for part in heat_parts]),
    )
    thermostats = Thermostats(
        node=where([part.node for part in stat_parts]),
        sensor=where([part.sensor for part in stat_parts]),
        power=_floats([part.power for part in stat_parts]),
        on=_floats([part.on for part in stat_parts]),
        off=_floats([part.off for part in stat_parts]),
        enabled=numbers([histories.of(part.enabled) for part in stat_parts]),
        origin=numbers([origins.of(part.origin) for part in stat_parts]),
    )
    boundary_history = numbers([histories.of(part.history) for part in boundaries])
    return Network(
        names=names,
        capacity=_floats([part.capacity for part in nodes] + [0.0] * len(boundaries)),
        content=tuple((k, part.content) for k, part in enumerate(nodes) if part.content),
        boundary=numbers(range(len(nodes), len(names))),
        boundary_mean=_floats([part.temperature for part in boundaries]),
        boundary_swing=_floats([part.swing for part in boundaries]),
        boundary_history=boundary_history,
        links=links,
        flow_links=flow_links,
        heats=heats,
        thermostats=thermostats,
        histories=common_grid(
            [item for item in histories.items if isinstance(item, History)], period
        ),
        curves=tuple(item for item in curves.items if isinstance(item, Curve)),
        instants=_floats(sorted(set(instants))),
        origins=tuple(str(item) for item in origins.items),
        node_origins=tuple(part.origin for part in every),
        pattern=pattern_of(links, flow_links, heats, thermostats, len(names)),
    )


def common_grid(histories: Sequence[History], period: float = float("inf")) -> Histories:
    """Put histories onto one grid of instants, keeping both sides of every jump."""
    times = [history.time for history in histories]
    everything = np.unique(np.concatenate([np.zeros(1), *times]))
    if np.isfinite(period):
        if everything[0] < 0.0 or everything[-1] > period:
            raise ValueError(f"a history leaves its period of {period:g} s")
        everything = np.unique(np.append(everything, period))
    if not np.isfinite(period):
        everything = np.append(everything, everything[-1])  # for what comes after the last instant
    later = np.empty((len(everything), len(histories)))
    earlier = np.empty_like(later)
    for k, history in enumerate(histories):
        later[:, k] = _one_side(history, everything)
        earlier[:, k] = _one_side(
            History(time=-history.time[::-1], value=history.value[::-1]), -everything
        )
    if not np.isfinite(period):
        earlier[-1] = later[-1]
    return Histories(
        instants=_fixed(everything),
        start=_fixed(later[:-1].copy()),
        stop=_fixed(earlier[1:].copy()),
        period=period,
    )


def _one_side(history: History, time: Floats) -> Floats:
    """Values with the later side at jumps. (Mirrored in time, the earlier side.)"""
    begin = np.searchsorted(history.time, time, side="right") - 1
    begin = np.clip(begin, 0, len(history.time) - 1)
    end = np.minimum(begin + 1, len(history.time) - 1)
    width = history.time[end] - history.time[begin]
    share = np.where(width > 0.0, (time - history.time[begin]) / np.where(width > 0, width, 1), 0.0)
    share = np.clip(share, 0.0, 1.0)
    return np.asarray(history.value[begin] + share * (history.value[end] - history.value[begin]))


def _by_potential(
    parts: Sequence[LinkPart],
) -> tuple[list[LinkPart], tuple[Potential, ...], tuple[int, ...]]:
    index = _Index()
    keys = np.array([index.of(part.potential) for part in parts], dtype=np.int32)
    order = np.argsort(keys, kind="stable")
    potentials = tuple(item for item in index.items if isinstance(item, Potential))
    groups = np.searchsorted(keys[order], np.arange(len(potentials) + 1))
    return [parts[k] for k in order], potentials, tuple(int(k) for k in groups)


def pattern_of(
    links: Links, flow_links: FlowLinks, heats: Heats, thermostats: Thermostats, size: int
) -> Pattern:
    """Where the flows and heats of a network of `size` nodes go."""
    rows, columns = entries(links, flow_links, heats, thermostats, size)
    keys, slot = np.unique(columns.astype(np.int64) * size + rows, return_inverse=True)
    whole = coo_array((np.ones(len(keys)), (keys % size, keys // size)), shape=(size, size)).tocsc()
    return Pattern(
        indices=_fixed(whole.indices.astype(np.int32)),
        indptr=_fixed(whole.indptr.astype(np.int32)),
        slot=_fixed(slot.astype(np.int32)),
        receive=_receive(links, flow_links, heats, thermostats, size),
    )


def _receive(
    links: Links, flow_links: FlowLinks, heats: Heats, thermostats: Thermostats, size: int
) -> csr_array:
    """-1 where a flow leaves and +1 where it, or a heat, enters; columns as `heat` lists them."""
    m, h = len(links.a), len(heats.node) + len(thermostats.node)
    columns = np.arange(m + h + len(flow_links.a))
    into = np.concatenate([links.b, heats.node, thermostats.node, flow_links.b])
    out_of = np.concatenate([links.a, flow_links.a])
    leaving = np.concatenate([columns[:m], columns[m + h :]])
    values = np.concatenate([np.ones(len(into)), -np.ones(len(out_of))])
    where = (np.concatenate([into, out_of]), np.concatenate([columns, leaving]))
    return csr_array(coo_array((values, where), shape=(size, len(columns))))


def _positions(names: tuple[str, ...]) -> dict[str, int]:
    position = {name: k for k, name in enumerate(names)}
    if len(position) < len(names):
        twice = sorted({name for name in names if names.count(name) > 1})
        raise ValueError(f"node names come twice: {', '.join(twice)}")
    return position


def _refuse_impossible(
    nodes: Sequence[NodePart],
    links: Sequence[LinkPart],
    flow_links: Sequence[FlowLinkPart],
    thermostats: Sequence[ThermostatPart],
) -> None:
    for node in nodes:
        if not node.capacity >= 0.0:
            raise ValueError(f"node '{node.name}': negative heat capacity {node.capacity}")
        if node.content is not None and (np.diff(node.content.y) <= 0.0).any():
            raise ValueError(f"node '{node.name}': heat content must rise with temperature")
        if node.content is not None and not node.content.extend:
            raise ValueError(f"node '{node.name}': a heat content must continue beyond its ends")
    for link in links:
        if not link.strength >= 0.0:
            raise ValueError(f"link '{link.origin}': negative strength {link.strength}")
        if link.a == link.b:
            raise ValueError(f"link '{link.origin}' joins '{link.a}' to itself")
    for flow_link in flow_links:
        if not flow_link.rate >= 0.0:
            raise ValueError(f"flow link '{flow_link.origin}': negative rate {flow_link.rate}")
    for stat in thermostats:
        if not stat.on < stat.off:
            raise ValueError(f"thermostat '{stat.origin}': must switch on below where it goes off")
        if not stat.power >= 0.0:
            raise ValueError(f"thermostat '{stat.origin}': negative power {stat.power}")


def _floats(values: Sequence[float]) -> Floats:
    array = np.array(values, dtype=np.float64)
    if not np.isfinite(array).all():
        raise ValueError("the numbers of a network must be finite")
    return _fixed(array)


def _fixed(array: Array) -> Array:
    array.flags.writeable = False
    return array
