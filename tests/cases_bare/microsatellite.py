"""The microsatellite as bare arrays: an independent answer.

No import of thermnet and no reading of model.yaml or of its side files: the numbers stand in
`microsatellite_numbers.py`, the heat of the orbit is computed by `heat_of_orbit.py`. Kelvin, watts,
seconds from orbit noon.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from tests.cases_bare import bare
from tests.cases_bare import heat_of_orbit as orbit_heat
from tests.cases_bare import microsatellite_numbers as numbers
from tests.cases_bare.bare import Array, Arrays, History, Method, Run
from tests.cases_bare.heat_of_orbit import SUNLIGHT, Absorbed, Light, Orbit, Received, Surface

BETA = np.radians(-20.5)
HEIGHT, EARTH, GLOW = 500e3, 6378137.0, 6408137.0  # m; light comes from 30 km above ground
GRAVITY = 3.986004418e14
PERIOD = float(2.0 * np.pi * np.sqrt((EARTH + HEIGHT) ** 3 / GRAVITY))
DEGREES = 1.0  # of the orbit between the points of a history
NAMES = tuple(name for name, _ in numbers.NODES)
INDEX = {name: position for position, name in enumerate(NAMES)}


def orbit(case: str) -> Orbit:
    return Orbit(
        gravity=GRAVITY, radius=EARTH, glow=GLOW, lowest=HEIGHT, highest=HEIGHT, beta=float(BETA),
        sun_distance=numbers.CASES[case].sun_distance,
    )  # fmt: skip


def faces(position: Array, velocity: Array, sun: Array) -> dict[str, Array]:
    """Normals f8[k, 3]: +z to the Earth, +x along the circle, wings turning about y."""
    z = -position / np.linalg.norm(position, axis=1)[:, None]
    x = velocity / np.linalg.norm(velocity, axis=1)[:, None]
    y = np.cross(z, x)
    wing = sun - (y @ sun)[:, None] * y
    wing /= np.linalg.norm(wing, axis=1)[:, None]
    body = {"+x": x, "-x": -x, "+y": y, "-y": -y, "+z": z, "-z": -z}
    return body | {"wing front": wing, "wing back": -wing}


@cache
def received(case: str) -> Received:
    """What the faces receive over an orbit, at the points of the histories."""
    flown = orbit(case)
    return orbit_heat.received(flown, faces, orbit_heat.instants(flown, DEGREES))


def histories(case: str) -> dict[str, History]:
    """Time [s] and value of every history over one orbit; a repeated instant is a jump."""
    return orbit_heat.histories(received(case)) | {
        "imaging": bare.steps((0.0, 0.0), (300.0, 1.0), (900.0, 0.0), end=PERIOD),
        "ground contact": bare.steps((0.0, 0.0), (1100.0, 1.0), (1640.0, 0.0), end=PERIOD),
    }


def absorbed(name: str) -> list[Absorbed]:
    """What every surface absorbs in a case."""
    case = numbers.CASES[name]
    light = Light(
        sunlight=SUNLIGHT / case.sun_distance**2, albedo=case.albedo, infrared=case.infrared
    )
    surfaces = [
        Surface(
            name=surface, node=node, area=area, absorptance=old if case.old else new,
            emittance=emittance, view=view, face=face,
        )
        for surface, node, area, new, old, emittance, view, face in numbers.SURFACES
    ]  # fmt: skip
    return orbit_heat.absorbed(surfaces, light)


@cache
def instants_of(case: str) -> list[float]:
    return sorted({float(t) for time, _ in histories(case).values() for t in time})


def heats_of(name: str) -> list[tuple[int, float, str]]:
    """Node, heat [W] and history of everything that is absorbed or dissipated."""
    case, values = numbers.CASES[name], histories(name)
    heats = [
        (INDEX[heat.node], heat.watts, heat.history)
        for heat in absorbed(name)
        if heat.watts * values[heat.history][1].max() > 0.0
    ]
    loads = [
        (INDEX[of], case.heat_of.get(load, q * case.loads), h) for load, of, q, h in numbers.LOADS
    ]
    return heats + loads


def arrays(name: str) -> Arrays:
    """The arrays of a case: hot, cold or safe."""
    case = numbers.CASES[name]
    n = len(NAMES)
    conduction, radiation, space = np.zeros((n, n)), np.zeros((n, n)), np.zeros(n)
    for a, b, conductance in numbers.LINKS:
        bare.connect(conduction, INDEX[a], INDEX[b], conductance)
    for a, b, area in numbers.RADIATION:
        bare.connect(radiation, INDEX[a], INDEX[b], bare.SIGMA * area)
    for a, b, area, low, high in numbers.BLANKETS:
        emittance = {"low": low, "high": high}[case.blankets]
        bare.connect(radiation, INDEX[a], INDEX[b], bare.SIGMA * area * emittance)
    for _, a, area, _, _, emittance, view, _ in numbers.SURFACES:
        radiation[INDEX[a], INDEX[a]] -= bare.SIGMA * area * emittance * view
        space[INDEX[a]] += bare.SIGMA * area * emittance * view * numbers.SPACE**4
    limits = [case.thresholds.get(heater, (on, off)) for heater, _, _, on, off in numbers.HEATERS]
    return Arrays(
        names=NAMES,
        capacity=np.array([value for _, value in numbers.NODES], dtype=float),
        conduction=conduction,
        radiation=radiation,
        space=space,
        heats=heats_of(name),
        histories=histories(name),
        heated=[INDEX[of] for _, of, *_ in numbers.HEATERS],
        enabled=["" for _ in numbers.HEATERS],
        power=np.array([p * (case.voltage / 28.0) ** 2 for _, _, p, _, _ in numbers.HEATERS]),
        on=np.array([on for on, _ in limits]) + bare.ZERO_CELSIUS,
        off=np.array([off for _, off in limits]) + bare.ZERO_CELSIUS,
    )


def run(
    case: str,
    *,
    temperature: Array,
    orbits: int,
    window: int = 1,
    states: Array | None = None,
    rtol: float = 1e-9,
    method: Method = "LSODA",
) -> Run:
    """Integrate `orbits` periods from orbit noon; results over the last `window` of them."""
    return bare.run(
        arrays(case), temperature=temperature, instants=instants_of(case), passes=orbits,
        window=window, states=states, rtol=rtol, method=method,
    )  # fmt: skip


def periodic(case: str, *, guess: Array, rtol: float = 1e-9) -> Array:
    """Temperatures [K] at orbit noon that return after one orbit without any switching."""
    return bare.periodic(arrays(case), guess=guess, instants=instants_of(case), rtol=rtol)
