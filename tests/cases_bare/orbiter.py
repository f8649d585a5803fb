"""From the plain tables of an orbiter to bare arrays: what the small orbiters share.

No import of thermnet. Kelvin, watts, seconds from orbit noon; thresholds in degC.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from tests.cases_bare import bare
from tests.cases_bare import heat_of_orbit as orbit_heat
from tests.cases_bare.bare import Array, Arrays, History
from tests.cases_bare.heat_of_orbit import Absorbed, Light, Normals, Orbit, Surface

SPACE = 2.7  # K


@dataclass(frozen=True, slots=True, kw_only=True)
class Craft:
    """The tables: capacities are zero for massless nodes, powers are those at 28 V."""

    nodes: Mapping[str, float]  # J/K
    links: Sequence[tuple[str, str, float]]  # W/K
    radiation: Sequence[tuple[str, str, float]]  # m2
    blankets: Sequence[tuple[str, str, float, float, float]]  # area, low, high
    surfaces: Sequence[tuple[Surface, float]]  # new, and the absorptance when old
    faces: Normals
    loads: Sequence[tuple[str, str, float, str]]  # load, node, W, history
    heaters: Sequence[tuple[str, float, float, float]]  # node, W, on, off


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """The orbit and light of a case, and what it changes."""

    orbit: Orbit
    light: Light
    old: bool
    blankets: str
    voltage: float
    schedules: Mapping[str, History]
    loads: float = 1.0
    heat_of: Mapping[str, float] = field(default_factory=dict)  # W, in place of the load's own
    absorptance_of: Mapping[str, float] = field(default_factory=dict)
    degrees: float = 2.0  # of mean anomaly between the points of a history


def absorbed(craft: Craft, case: Case) -> list[Absorbed]:
    """What every surface absorbs."""
    surfaces = []
    for new, old in craft.surfaces:
        absorptance = case.absorptance_of.get(new.name, old if case.old else new.absorptance)
        surfaces.append(
            Surface(name=new.name, node=new.node, area=new.area, absorptance=absorptance,
                    emittance=new.emittance, face=new.face, view=new.view)
        )  # fmt: skip
    return orbit_heat.absorbed(surfaces, case.light)


def histories(craft: Craft, case: Case) -> dict[str, History]:
    """Everything that varies over an orbit; a constant one has no part in them."""
    points = orbit_heat.instants(case.orbit, case.degrees)
    heat = orbit_heat.received(case.orbit, craft.faces, points)
    return orbit_heat.histories(heat) | dict(case.schedules)


def heats(craft: Craft, case: Case, varying: Mapping[str, History]) -> list[tuple[str, float, str]]:
    """Node, watts and history of everything absorbed or dissipated; nothing that is zero."""
    found = [(heat.node, heat.watts, heat.history) for heat in absorbed(craft, case)]
    for load, node, watts, history in craft.loads:
        found.append((node, case.heat_of.get(load, watts * case.loads), history))
    return [
        (node, watts, history) for node, watts, history in found
        if watts > 0.0 and (history == "" or varying[history][1].max() > 0.0)
    ]  # fmt: skip


def arrays(craft: Craft, case: Case, *, steady: bool = False) -> Arrays:
    """The arrays of a case; `steady` has the mean of every history in its place."""
    names = tuple(craft.nodes)
    index = {name: k for k, name in enumerate(names)}
    n = len(names)
    conduction, radiation, space = np.zeros((n, n)), np.zeros((n, n)), np.zeros(n)
    for a, b, conductance in craft.links:
        bare.connect(conduction, index[a], index[b], conductance)
    for a, b, area in craft.radiation:
        bare.connect(radiation, index[a], index[b], bare.SIGMA * area)
    for a, b, area, low, high in craft.blankets:
        emittance = {"low": low, "high": high}[case.blankets]
        bare.connect(radiation, index[a], index[b], bare.SIGMA * area * emittance)
    for surface, _ in craft.surfaces:
        at, strength = index[surface.node], surface.area * surface.emittance * surface.view
        radiation[at, at] -= bare.SIGMA * strength
        space[at] += bare.SIGMA * strength * SPACE**4
    varying = histories(craft, case)
    sources = [(index[node], watts, h) for node, watts, h in heats(craft, case, varying)]
    if steady:
        means = {name: orbit_heat.mean(history) for name, history in varying.items()} | {"": 1.0}
        sources = [(node, watts * means[history], "") for node, watts, history in sources]
    factor = (case.voltage / 28.0) ** 2
    return Arrays(
        names=names,
        capacity=np.array(list(craft.nodes.values()), dtype=float),
        conduction=conduction,
        radiation=radiation,
        space=space,
        heats=sources,
        histories=varying,
        heated=[index[node] for node, *_ in craft.heaters],
        enabled=["" for _ in craft.heaters],
        power=np.array([power * factor for _, power, _, _ in craft.heaters]),
        on=np.array([on for *_, on, _ in craft.heaters]) + bare.ZERO_CELSIUS,
        off=np.array([off for *_, off in craft.heaters]) + bare.ZERO_CELSIUS,
    )


def instants(a: Arrays) -> list[float]:
    """The ends of all straight lines."""
    return sorted({float(t) for time, _ in a.histories.values() for t in time})


def mean_absorbed(craft: Craft, case: Case) -> dict[tuple[str, str], float]:
    """Absorbed heat [W] by surface and cause, mean over the orbit."""
    return orbit_heat.means(absorbed(craft, case), histories(craft, case))


def steady(craft: Craft, case: Case) -> tuple[Array, Array]:
    """Temperatures [K] and heater duties at the mean heat."""
    a = arrays(craft, case, steady=True)
    return bare.steady(a, guess=np.full(len(a.names), 285.0))
