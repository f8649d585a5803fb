"""The microsatellite as bare arrays: an independent answer.

No import of thermnet and no reading of model.yaml or of its side files: the numbers stand in
`microsatellite_numbers.py`, the histories of sunlight, albedo and planet infrared are computed here
from the orbit. Kelvin, watts, seconds from orbit noon.
"""

from __future__ import annotations

import numpy as np

from tests.cases_bare import bare
from tests.cases_bare import microsatellite_numbers as numbers
from tests.cases_bare.bare import Array, Arrays, History, Method, Run

PERIOD = 5677.0
SHADOW = (1790.7, 3886.3)
BETA = np.radians(20.5)
PLANET_RATIO = 6878.137 / 6408.137  # orbit radius over the radius that emits (30 km above ground)
NAMES = tuple(name for name, _ in numbers.NODES)
INDEX = {name: position for position, name in enumerate(NAMES)}


def plate_to_planet(angle: float) -> float:
    """View factor from a plate to the planet, `angle` [rad] from its normal to nadir (exact)."""
    ratio = PLANET_RATIO
    horizon = np.sqrt(ratio**2 - 1.0)
    if angle <= np.arccos(1.0 / ratio):
        return float(np.cos(angle) / ratio**2)
    if angle >= np.pi - np.arccos(1.0 / ratio):
        return 0.0
    sine, cosine = np.sin(angle), np.cos(angle)
    inner = cosine * np.arccos(-horizon * cosine / sine)
    inner -= horizon * np.sqrt(1.0 - ratio**2 * cosine**2)
    return float(0.5 - np.arcsin(horizon / (ratio * sine)) / np.pi + inner / (np.pi * ratio**2))


def factors(angle: float) -> dict[str, float]:
    """Histories at an orbit angle [rad] from noon, as if the planet cast no shadow."""
    cosine, sine = np.cos(BETA) * np.cos(angle), np.cos(BETA) * np.sin(angle)
    from_zenith = abs((angle + np.pi) % (2.0 * np.pi) - np.pi)  # the wing's front faces the Sun
    front, back = plate_to_planet(np.pi - from_zenith), plate_to_planet(from_zenith)
    lit_ground = max(cosine, 0.0)
    return {
        "sun on +x face": max(-sine, 0.0),
        "sun on -x face": max(sine, 0.0),
        "sun on +z face": max(-cosine, 0.0),
        "sun on -z face": lit_ground,
        "albedo": lit_ground,
        "albedo on wing front": lit_ground * front,
        "albedo on wing back": lit_ground * back,
        "planet on wing front": front,
        "planet on wing back": back,
    }


def histories() -> dict[str, History]:
    """Time [s] and value of every history over one orbit; a repeated instant is a jump.

    Straight lines between every tenth degree, values to four decimals, as the model states them.
    """
    enter, leave = SHADOW
    grid = [round(PERIOD * k / 36.0, 2) for k in range(37)]
    result = {
        "sunlit": bare.steps((0.0, 1.0), (enter, 0.0), (leave, 1.0), end=PERIOD),
        "in shadow": bare.steps((0.0, 0.0), (enter, 1.0), (leave, 0.0), end=PERIOD),
        "imaging": bare.steps((0.0, 0.0), (300.0, 1.0), (900.0, 0.0), end=PERIOD),
        "ground contact": bare.steps((0.0, 0.0), (1100.0, 1.0), (1640.0, 0.0), end=PERIOD),
    }
    for name in factors(0.0):
        points = [(t, round(factors(2.0 * np.pi * t / PERIOD)[name], 4)) for t in grid]
        if name.startswith("sun"):
            edge = [round(factors(2.0 * np.pi * t / PERIOD)[name], 4) for t in SHADOW]
            before = [p for p in points if p[0] < enter] + [(enter, edge[0]), (enter, 0.0)]
            after = [(leave, 0.0), (leave, edge[1])] + [p for p in points if p[0] > leave]
            points = before + after
        result[name] = (np.array([t for t, _ in points]), np.array([v for _, v in points]))
    return result


HISTORIES = histories()
INSTANTS = sorted({float(t) for time, _ in HISTORIES.values() for t in time})


def heats_of(case: numbers.Case) -> list[tuple[int, float, str]]:
    """Node, heat [W] and history of everything that is absorbed or dissipated."""
    node = {name: INDEX[of] for name, of, *_ in numbers.SURFACES}
    solar = [(node[s], q * case.solar_of.get(s, case.solar), h) for s, q, h in numbers.SOLAR]
    albedo = [(node[s], q * case.albedo_of.get(s, case.albedo), h) for s, q, h in numbers.ALBEDO]
    infrared = [(node[s], q * case.infrared, h) for s, q, h in numbers.PLANET_INFRARED]
    loads = [
        (INDEX[of], case.heat_of.get(load, q * case.loads), h) for load, of, q, h in numbers.LOADS
    ]
    return solar + albedo + infrared + loads


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
    for _, a, area, emittance, view in numbers.SURFACES:
        radiation[INDEX[a], INDEX[a]] -= bare.SIGMA * area * emittance * view
        space[INDEX[a]] += bare.SIGMA * area * emittance * view * numbers.SPACE**4
    limits = [case.thresholds.get(heater, (on, off)) for heater, _, _, on, off in numbers.HEATERS]
    return Arrays(
        names=NAMES,
        capacity=np.array([value for _, value in numbers.NODES], dtype=float),
        conduction=conduction,
        radiation=radiation,
        space=space,
        heats=heats_of(case),
        histories=HISTORIES,
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
        arrays(case), temperature=temperature, instants=INSTANTS, passes=orbits, window=window,
        states=states, rtol=rtol, method=method,
    )  # fmt: skip


def periodic(case: str, *, guess: Array, rtol: float = 1e-9) -> Array:
    """Temperatures [K] at orbit noon that return after one orbit without any switching."""
    return bare.periodic(arrays(case), guess=guess, instants=INSTANTS, rtol=rtol)
