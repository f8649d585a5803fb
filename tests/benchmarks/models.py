"""Test models of every size, as parts: a small satellite, boxes of panels, dense enclosures.

All are invented. An orbit takes 5,600 s; sunlight on four sides and heat of the planet follow
straight lines with two jumps (into shadow and out of it) and four kinks an orbit, so that every
integrator sees exactly the same heat and can begin again at exactly the same six instants.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from thermnet.network.build import build
from thermnet.network.network import Network
from thermnet.network.parts import (
    RADIATION,
    BoundaryPart,
    HeatsPart,
    History,
    LinksPart,
    NodesPart,
    Part,
    ThermostatPart,
)
from thermnet.network.primitives import Floats, Indices
from thermnet.physics.constants import STEFAN_BOLTZMANN

PERIOD = 5600.0
SHARES = np.array([0.0, 0.25, 0.4, 0.4, 0.5, 0.75, 0.78, 0.78, 1.0])
LIT = np.array([1.0, 1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.0])
"""Instants of the histories as shares of the orbit, and whether there is sunlight."""

NOONS = 0.0, 0.5, 0.25, 0.75
"""Share of the orbit at which each of four sides has its noon: opposite sides in pairs."""

SOLAR = 1367.0
"""W/m2, of the order of the Sun's."""

SPACE = "space"
SLOW = "slow"
DAY = 86400.0


def sunlight(side: int) -> History:
    """Share of the Sun's heat on one of four sides: a triangle about its noon, cut by shadow."""
    from_noon = np.abs((SHARES - NOONS[side] + 0.5) % 1.0 - 0.5)
    return History(time=PERIOD * SHARES, value=LIT * np.maximum(1.0 - 4.0 * from_noon, 0.0))


def planet_light() -> History:
    """Share of the heat of the planet's sunlit half, strongest at the begin of the orbit."""
    return History(
        time=PERIOD * np.array([0.0, 0.25, 0.5, 0.75, 1.0]),
        value=np.array([1.0, 0.5, 0.0, 0.5, 1.0]),
    )


@dataclass(slots=True)
class Sketch:
    """A model in arrays, before it becomes parts; `space` stands for the place of cold space.

    `conduction` and `radiation` are ends and strengths (W/K, and areas in m2), `heat` constant
    heats [W], `lit` the amplitudes [W] of sunlight on the four sides and of the planet's light.
    """

    names: list[str]
    capacity: Floats
    conduction: tuple[Indices, Indices, Floats]
    radiation: tuple[Indices, Indices, Floats]
    heat: Floats
    lit: Floats
    thermostats: tuple[ThermostatPart, ...] = ()

    def parts(self) -> list[Part]:
        nodes = [*self.names, SPACE]
        everyone = np.arange(len(self.names), dtype=np.int32)
        a, b, strength = self.conduction
        c, d, area = self.radiation
        histories = [*(sunlight(side) for side in range(len(NOONS))), planet_light()]
        lit = [
            HeatsPart(
                nodes=nodes,
                node=everyone[amplitude != 0.0],
                amplitude=amplitude[amplitude != 0.0],
                history=history,
                origin="sunlight",
            )
            for history, amplitude in zip(histories, self.lit, strict=True)
        ]
        dissipating = self.heat != 0.0
        return [
            NodesPart(names=self.names, capacity=self.capacity, origin="nodes"),
            BoundaryPart(name=SPACE, temperature=3.0),
            LinksPart(nodes=nodes, a=a, b=b, strength=strength, origin="conduction"),
            LinksPart(
                nodes=nodes,
                a=c,
                b=d,
                strength=STEFAN_BOLTZMANN * area,
                potential=RADIATION,
                origin="radiation",
            ),
            HeatsPart(
                nodes=nodes,
                node=everyone[dissipating],
                amplitude=self.heat[dissipating],
                origin="units",
            ),
            *(part for part in lit if len(part.node)),
            *self.thermostats,
        ]


def network(parts: Sequence[Part]) -> Network:
    return build(parts, period=PERIOD)


def _columns(rows: Sequence[tuple[int, int, float]]) -> tuple[Indices, Indices, Floats]:
    a, b, strength = zip(*rows, strict=True)
    return np.array(a, dtype=np.int32), np.array(b, dtype=np.int32), np.array(strength)


def satellite(*, thermostats: bool = True, interface_capacity: float = 5.0) -> Sketch:
    """30 nodes: blankets, panels, boxes, radiators, battery, tank, thrusters and arrays.

    The two interfaces of the arrays are massless with a capacity of zero; the tank follows its
    panel with a time constant of ten days. Five thermostats.
    """
    names: list[str] = []
    capacity: list[float] = []

    def add(kind: str, *capacities: float) -> list[int]:
        begin = len(names)
        names.extend(f"{kind} {k}" for k in range(len(capacities)))
        capacity.extend(capacities)
        return list(range(begin, len(names)))

    blanket = add("blanket", *[20.0] * 6)
    panel = add("panel", *(5000.0 + 500.0 * k for k in range(6)))
    box = add("box", *(9000.0 + 1500.0 * k for k in range(6)))
    radiator = add("radiator", 2500.0, 2500.0)
    (battery,), (tank,) = add("battery", 15000.0), add("tank", 60000.0)
    thruster = add("thruster", 800.0, 800.0)
    front = add("array front", 4000.0, 4000.0)
    back = add("array back", 3000.0, 3000.0)
    interface = add("interface", interface_capacity, interface_capacity)
    space = len(names)

    conduction = [(battery, panel[3], 0.6), (tank, panel[2], 0.04)]
    radiation = [(battery, radiator[1], 0.03), (tank, panel[1], 0.005)]
    for k in range(6):
        conduction += [(blanket[k], panel[k], 0.01), (box[k], panel[k], 3.0 + k)]
        # Panels that face each other do not touch.
        conduction += [(panel[k], panel[j], 1.5) for j in range(k) if k ^ j != 1]
        radiation += [(blanket[k], space, 0.8), (blanket[k], panel[k], 0.015)]
        radiation += [(panel[k], panel[j], 0.15) for j in range(k)]
        radiation += [(box[k], panel[j], 0.02) for j in range(6)]
    for k in range(2):
        conduction += [(radiator[k], panel[2 * k], 12.0), (thruster[k], panel[k], 0.05)]
        conduction += [(front[k], back[k], 40.0), (back[k], interface[k], 0.3)]
        conduction += [(interface[k], panel[4 + k], 0.3)]
        radiation += [(radiator[k], space, 0.35), (thruster[k], space, 0.004)]
        radiation += [(front[k], space, 1.6), (back[k], space, 1.6)]

    heat = np.zeros(space)
    heat[box] = 15.0, 8.0, 25.0, 12.0, 6.0, 30.0
    heat[battery] = 3.0
    lit = np.zeros((5, space))
    for side in range(4):
        lit[side, blanket[side]] = 0.45 * 0.9 * SOLAR
        lit[side, front] = 0.62 * 2.0 * SOLAR
    lit[4, blanket] = 30.0
    lit[0, radiator[0]], lit[4, radiator] = 0.12 * 0.4 * SOLAR, 25.0
    lit[4, back] = 250.0

    heated = (
        (battery, 20.0, 283.15, 288.15),
        (tank, 6.0, 288.15, 291.15),
        (thruster[0], 4.0, 278.15, 283.15),
        (thruster[1], 5.0, 278.15, 283.15),
        (box[4], 60.0, 278.15, 281.15),
    )
    heaters = [_thermostat(names[node], power, on, off) for node, power, on, off in heated]
    return Sketch(
        names=names,
        capacity=np.array(capacity),
        conduction=_columns(conduction),
        radiation=_columns(radiation),
        heat=heat,
        lit=lit,
        thermostats=tuple(heaters) if thermostats else (),
    )


def _thermostat(node: str, power: float, on: float, off: float) -> ThermostatPart:
    return ThermostatPart(
        node=node, sensor=node, power=power, on=on, off=off, origin=f"{node} heater"
    )


def with_slow_node(sketch: Sketch, *, to: tuple[int, int] = (1, -1), heat: float = 0.0) -> Sketch:
    """The same with one more node of 5 days, tied by conduction and radiation to two others.

    Half of its conductance (at 280 K) is each; `to` are the places of its neighbours, by default
    the second node and one in the middle.
    """
    n, capacity = len(sketch.names), 3000.0 if heat == 0.0 else 20000.0
    a, b, strength = sketch.conduction
    c, d, area = sketch.radiation
    conductance = capacity / (5.0 * DAY)
    radiating = 0.5 * conductance / (4.0 * STEFAN_BOLTZMANN * 280.0**3)
    middle = n // 2 if to[1] < 0 else to[1]

    def moved(places: Indices, last: int) -> Indices:
        """Space moves up by one place; the new link comes last."""
        return np.append(np.where(places == n, n + 1, places), last).astype(np.int32)

    return Sketch(
        names=[*sketch.names, SLOW],
        capacity=np.append(sketch.capacity, capacity),
        conduction=(moved(a, n), moved(b, to[0]), np.append(strength, 0.5 * conductance)),
        radiation=(moved(c, n), moved(d, middle), np.append(area, radiating)),
        heat=np.append(sketch.heat, heat),
        lit=np.hstack([sketch.lit, np.zeros((len(sketch.lit), 1))]),
        thermostats=sketch.thermostats,
    )


def _box(m: int) -> tuple[Indices, tuple[Indices, Indices], tuple[Indices, Indices]]:
    """Places i4[6, m, m] in six faces of square mesh, ends of links in them and across edges.

    Faces 0 to 3 go round, 4 closes them above and 5 below.
    """
    place = np.arange(6 * m * m, dtype=np.int32).reshape(6, m, m)
    inside = (
        np.concatenate([place[:, :-1].ravel(), place[:, :, :-1].ravel()]),
        np.concatenate([place[:, 1:].ravel(), place[:, :, 1:].ravel()]),
    )
    a, b = [], []
    for k in range(4):
        a += [place[k, :, -1], place[k, 0], place[k, -1]]
        b += [place[(k + 1) % 4, :, 0]]
        b += [(lid[0], lid[:, -1], lid[-1, ::-1], lid[::-1, 0])[k] for lid in place[4:]]
    return place, inside, (np.concatenate(a), np.concatenate(b))


def panels(m: int, *, random_links: int = 0, seed: int = 0) -> Sketch:
    """Six panels of m x m nodes joined into a box, each node radiating to space; twelve units.

    With `random_links` each node also radiates to so many others anywhere in the box.
    """
    random = np.random.default_rng(seed)
    place, inside, across = _box(m)
    n, area = place.size, 1.0 / m**2
    face = np.arange(n) // (m * m)
    conductance = 0.25 * np.array([1.0, 0.6, 1.5, 0.8, 1.0, 0.4])[face[inside[0]]]
    emittance = np.array([0.8, 0.1, 0.8, 0.05, 0.3, 0.85])
    c, d = np.arange(n, dtype=np.int32), np.full(n, n, dtype=np.int32)
    seen = area * emittance[face]
    if random_links:
        one = np.repeat(c, random_links)
        other = random.integers(0, n, len(one), dtype=np.int32)
        exchange = random.uniform(0.1, 1.0, len(one)) * 0.8 * area / random_links
        apart = one != other
        c, d = np.concatenate([c, one[apart]]), np.concatenate([d, other[apart]])
        seen = np.concatenate([seen, exchange[apart]])
    capacity = 4000.0 * area * np.array([1.0, 1.0, 1.3, 0.8, 1.0, 0.9])[face]
    heat = np.zeros(n)
    width = max(1, m // 6)
    for unit in range(12):
        row, column = (random.uniform(0.1, 0.75, 2) * m).astype(int)
        footprint = place[unit % 6, row : row + width, column : column + width].ravel()
        heat[footprint] += random.uniform(10.0, 60.0) / len(footprint)
        capacity[footprint] *= 8.0
    lit = np.zeros((5, n))
    for side in range(4):
        absorptance = (0.2, 0.15, 0.2, 0.12)[side]
        lit[side, face == side] = SOLAR * area * absorptance
    lit[4, face == 4], lit[4, face == 5] = 150.0 * area, 100.0 * area
    return Sketch(
        names=[f"node {k}" for k in range(n)],
        capacity=capacity,
        conduction=(
            np.concatenate([inside[0], across[0]]),
            np.concatenate([inside[1], across[1]]),
            np.concatenate([conductance, np.full(len(across[0]), 0.08)]),
        ),
        radiation=(c, d, seen),
        heat=heat,
        lit=lit,
    )


def enclosure(m: int, *, share: float = 0.1, seed: int = 0) -> Sketch:
    """A box of six faces of m x m nodes that radiate into it: a `share` of all pairs exchange."""
    random = np.random.default_rng(seed)
    place, inside, across = _box(m)
    n, area = place.size, 1.0 / m**2
    face = np.arange(n) // (m * m)
    one, other = random.integers(0, n, (2, int(share * n * n / 2)))
    apart = face[one] != face[other]
    low, high = np.minimum(one, other)[apart], np.maximum(one, other)[apart]
    pairs = np.unique(low * n + high)
    low, high = (pairs // n).astype(np.int32), (pairs % n).astype(np.int32)
    exchange = random.gamma(1.0, 1.0, len(pairs))
    exchange *= 0.75 * area * n / (2.0 * exchange.sum())
    outside = area * np.array([0.8, 0.03, 0.5, 0.03, 0.03, 0.03])[face]
    heat = np.zeros(n)
    units = random.integers(0, n, max(6, n // 20))
    np.add.at(heat, units, 400.0 / len(units))
    lit = np.zeros((5, n))
    for side in range(4):
        lit[side, face == side] = 0.15 * SOLAR * area
    lit[4] = 40.0 * area
    everyone = np.arange(n, dtype=np.int32)
    return Sketch(
        names=[f"node {k}" for k in range(n)],
        capacity=np.full(n, 4000.0 * area),
        conduction=(
            np.concatenate([inside[0], across[0]]),
            np.concatenate([inside[1], across[1]]),
            np.concatenate([np.full(len(inside[0]), 0.15), np.full(len(across[0]), 0.05)]),
        ),
        radiation=(
            np.concatenate([everyone, low]),
            np.concatenate([np.full(n, n, dtype=np.int32), high]),
            np.concatenate([outside, exchange]),
        ),
        heat=heat,
        lit=lit,
    )


def with_thermostats(
    sketch: Sketch, at: Floats, *, unit: float = 0.0, count: int = 50, seed: int = 50
) -> Sketch:
    """The same with thermostats on random nodes, set about their temperatures f8[n] [K] without.

    Some will be off for good, some on, some between. Each heats a `unit` [J/K] on its node, where
    the sensor is too; without units three in ten sensors sit two nodes away.
    """
    random = np.random.default_rng(seed)
    n = len(sketch.names)
    nodes = random.choice(n, count, replace=False)
    away = (random.random(count) < 0.3) & (unit == 0.0)
    sensors = np.where(away, np.minimum(nodes + 2, n - 1), nodes)
    capacity = sketch.capacity.copy()
    capacity[nodes] += unit
    middle = at[sensors] + random.uniform(-6.0, 12.0, count)
    power = random.uniform(0.2, 6.0, count) * 30.0 / count
    heaters = [
        ThermostatPart(
            node=sketch.names[node],
            sensor=sketch.names[sensor],
            power=float(watts),
            on=float(centre) - 1.5,
            off=float(centre) + 1.5,
            origin=f"heater {k}",
        )
        for k, (node, sensor, watts, centre) in enumerate(
            zip(nodes, sensors, power, middle, strict=True)
        )
    ]
    return replace(sketch, capacity=capacity, thermostats=tuple(heaters))


SKETCHES: dict[str, Callable[[], Sketch]] = {
    "sat30": satellite,
    "sat30 without thermostats": lambda: satellite(thermostats=False),
    "sat31": lambda: with_slow_node(satellite(), to=(12, 8), heat=0.4),
    "p96": lambda: panels(4),
    "p1k": lambda: panels(13),
    "p10k": lambda: panels(41),
    "p50k": lambda: panels(91),
    "r1k": lambda: panels(13, random_links=3),
    "r10k": lambda: panels(41, random_links=3),
    "r50k": lambda: panels(91, random_links=3),
    "e500": lambda: enclosure(9),
    "e2k": lambda: enclosure(18),
    "e5k": lambda: enclosure(29),
    "p96 + slow": lambda: with_slow_node(panels(4)),
    "p1k + slow": lambda: with_slow_node(panels(13)),
    "p10k + slow": lambda: with_slow_node(panels(41)),
}
"""The models by name; the number is about that of their nodes."""


def parts_of(name: str) -> list[Part]:
    return SKETCHES[name]().parts()


def network_of(name: str) -> Network:
    return network(parts_of(name))
