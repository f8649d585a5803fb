"""Random networks for the laws, of every part there is. All strategies stand in this file.

Every node is joined to a boundary by a tree of links, so that a steady state exists; strengths,
capacities and powers have the sizes that spacecraft have.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
from hypothesis import strategies as st

from thermnet.network.parts import (
    CONDUCTION,
    RADIATION,
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
from thermnet.network.primitives import Indices, Potential
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.physics.curves import Curve

SPAN = 2000.0
"""s within which histories change."""

LAWS = ("conduction", "radiation", "exponents", "conductivity")
EXTRAS = (
    "massless",
    "content",
    "heat",
    "pulses",
    "thermostats",
    "curves",
    "flow links",
    "modulation",
    "moving boundaries",
)
EVERYTHING = LAWS + EXTRAS


def decades(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers from 10**low to 10**high, evenly by ratio."""
    return st.integers(round(20 * low), round(20 * high)).map(lambda k: float(10.0 ** (k / 20)))


def chance(draw: st.DrawFn, allowed: Collection[str], feature: str) -> bool:
    return feature in allowed and draw(st.booleans())


@st.composite
def histories(draw: st.DrawFn, low: float = 0.0, high: float = 1.0) -> History:
    """Steps or ramps between two to four instants, whole seconds apart, jumps included."""
    inner = sorted(draw(st.sets(st.integers(1, int(SPAN) - 1), min_size=1, max_size=3)))
    values = [low + (high - low) * draw(st.integers(0, 8)) / 8 for _ in range(2 * len(inner) + 2)]
    if draw(st.booleans()):  # steps: one value between neighbouring instants
        values = [values[2 * (k // 2)] for k in range(len(values))]
    time = [0.0, *(float(t) for t in inner for _ in range(2)), SPAN]
    return History(time=np.array(time), value=np.array(values))


@st.composite
def factors(draw: st.DrawFn, *, rising: bool = False) -> Curve:
    """A factor between 0.75 and 1 over temperature.

    Gentle, so that more heat still flows when the difference grows: a steep fall makes a negative
    conductance, with which a massless node has several balances and rounding decides among them.
    Steep curves on nodes with capacity have tests of their own.
    """
    x = 100.0 + np.cumsum([draw(st.integers(100, 160)) for _ in range(3)])
    y = np.array([draw(st.integers(6, 8)) / 8.0 for _ in range(3)])
    return Curve(x=x.astype(float), y=np.sort(y) if rising else y)


@st.composite
def contents(draw: st.DrawFn) -> Curve:
    """Heat content of something that melts over some kelvin."""
    melting, width = draw(st.integers(240, 320)), draw(st.integers(1, 5))
    solid, liquid, latent = (draw(decades(low, low + 1)) for low in (2.0, 2.0, 3.5))
    x = np.array([melting - 100.0, melting, melting + width, melting + width + 100.0])
    y = np.cumsum([0.0, 100.0 * solid, latent + width * solid, 100.0 * liquid])
    return Curve(x=x, y=y, extend=True)


@st.composite
def potentials(draw: st.DrawFn, laws: Sequence[str]) -> tuple[Potential, float]:
    """A potential, and what a strength of 1 W/K at 300 K has to be multiplied by."""
    law = draw(st.sampled_from(laws))
    if law == "conduction":
        return CONDUCTION, 1.0
    if law == "radiation":
        return RADIATION, STEFAN_BOLTZMANN / 6.0
    if law == "exponents":
        power = draw(st.sampled_from([2.0, 4.67]))
        return Potential(exponent=power), 1.0 / (power * 300.0 ** (power - 1.0))
    conductivity = Curve(
        x=np.array([100.0, 200.0, 300.0]),
        y=np.array([draw(st.integers(1, 16)) / 8.0 for _ in range(3)]),
    )
    return Potential(curve=conductivity), 1.0


@st.composite
def links(draw: st.DrawFn, a: str, b: str, names: Sequence[str], allowed: Collection[str]) -> Part:
    laws = [law for law in LAWS if law in allowed]
    law, unit = draw(potentials(laws))
    bent = chance(draw, allowed, "curves")
    return LinkPart(
        a=a,
        b=b,
        strength=draw(decades(-1, 1)) * unit,
        potential=law,
        history=draw(histories(0.25)) if chance(draw, allowed, "modulation") else None,
        curve=draw(factors()) if bent else None,
        sensor=draw(st.sampled_from(names)) if bent else "",
    )


@st.composite
def nodes(draw: st.DrawFn, name: str, allowed: Collection[str]) -> NodePart:
    if chance(draw, allowed, "massless"):
        return NodePart(name=name)
    if chance(draw, allowed, "content"):
        return NodePart(name=name, content=draw(contents()))
    return NodePart(name=name, capacity=draw(decades(2.5, 4)))


@st.composite
def boundaries(draw: st.DrawFn, name: str, allowed: Collection[str]) -> BoundaryPart:
    moving = chance(draw, allowed, "moving boundaries")
    return BoundaryPart(
        name=name,
        temperature=float(draw(st.sampled_from([3, 200, 250, 300]))),
        swing=float(draw(st.integers(5, 50))) if moving else 0.0,
        history=draw(histories()) if moving else None,
    )


@st.composite
def heats(draw: st.DrawFn, names: Sequence[str], allowed: Collection[str]) -> Part:
    bent = chance(draw, allowed, "curves")
    return HeatPart(
        node=draw(st.sampled_from(names)),
        amplitude=draw(decades(-1, 1)),
        history=draw(histories()) if chance(draw, allowed, "pulses") else None,
        curve=draw(factors()) if bent else None,
        sensor=draw(st.sampled_from(names)) if bent else "",
    )


@st.composite
def thermostats(
    draw: st.DrawFn, names: Sequence[str], sensors: Sequence[str], allowed: Collection[str]
) -> Part:
    on = float(draw(st.integers(240, 300)))
    return ThermostatPart(
        node=draw(st.sampled_from(names)),
        sensor=draw(st.sampled_from(sensors)),
        power=draw(decades(-0.5, 1)),
        on=on,
        off=on + draw(st.integers(4, 12)),
        enabled=draw(histories()) if chance(draw, allowed, "modulation") else None,
    )


@st.composite
def flow_loops(draw: st.DrawFn, names: Sequence[str], allowed: Collection[str]) -> list[Part]:
    """A closed loop through two or three nodes, so that the flow balances at each."""
    stops = draw(st.lists(st.sampled_from(names), min_size=2, max_size=3, unique=True))
    rate = draw(decades(-1, 1))
    history = draw(histories(0.25)) if chance(draw, allowed, "modulation") else None
    return [
        FlowLinkPart(a=a, b=b, rate=rate, history=history)
        for a, b in zip(stops, stops[1:] + stops[:1], strict=True)
    ]


@st.composite
def networks(
    draw: st.DrawFn,
    allowed: Collection[str] = EVERYTHING,
    *,
    most_nodes: int = 6,
    sinks: Sequence[float] = (),
) -> tuple[Part, ...]:
    """Parts of a network; `allowed` names what may come, `sinks` imposes the boundaries [K]."""
    inner = [draw(nodes(f"n{k}", allowed)) for k in range(draw(st.integers(1, most_nodes)))]
    edge: list[BoundaryPart]
    if sinks:
        edge = [BoundaryPart(name=f"b{k}", temperature=value) for k, value in enumerate(sinks)]
    else:
        edge = [draw(boundaries(f"b{k}", allowed)) for k in range(draw(st.integers(1, 2)))]
    free, reached = [part.name for part in inner], [part.name for part in edge]
    names = free + reached
    parts: list[Part] = [*inner, *edge]
    for name in free:
        parts.append(draw(links(name, draw(st.sampled_from(reached)), names, allowed)))
        reached.append(name)
    for _ in range(draw(st.integers(0, 4))):
        a, b = draw(st.permutations(names))[:2]
        parts.append(draw(links(a, b, names, allowed)))
    if "heat" in allowed:
        parts += [draw(heats(free, allowed)) for _ in range(draw(st.integers(0, 3)))]
    massive = [node.name for node in inner if node.capacity or node.content]
    if massive and chance(draw, allowed, "thermostats"):
        parts.append(draw(thermostats(free, massive, allowed)))
    if chance(draw, allowed, "flow links"):
        parts += draw(flow_loops(names, allowed))
    return tuple(parts)


def gathered(parts: Sequence[Part]) -> tuple[Part, ...]:
    """The same network with alike parts put together as arrays."""
    names = [part.name for part in parts if isinstance(part, NodePart | BoundaryPart)]
    place = {name: k for k, name in enumerate(names)}
    nodes = [part for part in parts if isinstance(part, NodePart) and part.content is None]
    links: dict[tuple[Potential, int], list[LinkPart]] = {}
    heats: dict[int, list[HeatPart]] = {}
    for part in parts:
        if isinstance(part, LinkPart) and part.curve is None:
            links.setdefault((part.potential, id(part.history)), []).append(part)
        elif isinstance(part, HeatPart) and part.curve is None:
            heats.setdefault(id(part.history), []).append(part)
    alike = {id(part) for part in nodes}
    alike |= {id(part) for group in links.values() for part in group}
    alike |= {id(part) for group in heats.values() for part in group}

    def places(found: Sequence[str]) -> Indices:
        return np.array([place[name] for name in found], dtype=np.int32)

    return (
        NodesPart(
            names=[part.name for part in nodes],
            capacity=np.array([part.capacity for part in nodes]),
        ),
        *(part for part in parts if id(part) not in alike),
        *(
            LinksPart(
                nodes=names,
                a=places([part.a for part in group]),
                b=places([part.b for part in group]),
                strength=np.array([part.strength for part in group]),
                potential=potential,
                history=group[0].history,
            )
            for (potential, _), group in links.items()
        ),
        *(
            HeatsPart(
                nodes=names,
                node=places([part.node for part in group]),
                amplitude=np.array([part.amplitude for part in group]),
                history=group[0].history,
            )
            for group in heats.values()
        ),
    )
