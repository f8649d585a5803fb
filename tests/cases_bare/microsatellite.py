"""The microsatellite as bare arrays: an independent answer.

No import of thermnet and no reading of model.yaml or of its side files: the numbers stand in
`microsatellite_numbers.py`, the heat of the orbit is computed by `heat_of_orbit.py`, what is drawn
from the solar cells by `battery.py`. Kelvin, watts, seconds from orbit noon.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.optimize import brentq

from tests.cases_bare import bare, battery
from tests.cases_bare import heat_of_orbit as orbit_heat
from tests.cases_bare import microsatellite_numbers as numbers
from tests.cases_bare.bare import Array, Arrays, History, Method, Run
from tests.cases_bare.heat_of_orbit import SUNLIGHT, Absorbed, Light, Orbit, Received, Surface

BETA = np.radians(-20.5)
HEIGHT, EARTH, GLOW = 500e3, 6378137.0, 6408137.0  # m; light comes from 30 km above ground
GRAVITY = 3.986004418e14
PERIOD = float(2.0 * np.pi * np.sqrt((EARTH + HEIGHT) ** 3 / GRAVITY))
DEGREES = 1.0  # of the orbit between the points of a history
APART = 1e-6  # s between instants that are not one
NAMES = tuple(name for name, _ in numbers.NODES)
INDEX = {name: position for position, name in enumerate(NAMES)}
BATTERY = battery.Battery(
    capacity=numbers.CAPACITY, charged=numbers.CHARGED, discharged=numbers.DISCHARGED
)


def orbit(case: str) -> Orbit:
    return Orbit(
        gravity=GRAVITY, radius=EARTH, glow=GLOW, lowest=HEIGHT, highest=HEIGHT, beta=float(BETA),
        sun_distance=numbers.CASES[case].sun_distance,
    )  # fmt: skip


def by_axes(x: Array, y: Array, z: Array, sun: Array) -> dict[str, Array]:
    """Normals f8[k, 3] of the faces by the body's axes; the wings turn about y."""
    wing = sun - (y @ sun)[:, None] * y
    wing /= np.linalg.norm(wing, axis=1)[:, None]
    body = {"+x": x, "-x": -x, "+y": y, "-y": -y, "+z": z, "-z": -z}
    return body | {"wing front": wing, "wing back": -wing}


def to_the_earth(position: Array, velocity: Array, sun: Array) -> dict[str, Array]:
    """+z to the Earth, +x along the circle."""
    z = -position / np.linalg.norm(position, axis=1)[:, None]
    x = velocity / np.linalg.norm(velocity, axis=1)[:, None]
    return by_axes(x, np.cross(z, x), z, sun)


def to_the_sun(position: Array, velocity: Array, sun: Array) -> dict[str, Array]:
    """-z to the Sun, +y as near as it can be against the normal of the orbit."""
    z = np.tile(-sun, (len(position), 1))
    y = np.cross(velocity, position)
    y -= (y @ sun)[:, None] * sun
    y /= np.linalg.norm(y, axis=1)[:, None]
    return by_axes(np.cross(y, z), y, z, sun)


@cache
def received(case: str, attitude: str = "nadir") -> Received:
    """What the faces receive over an orbit, at the points of the histories."""
    flown = orbit(case)
    faces = {"nadir": to_the_earth, "sun": to_the_sun}[attitude]
    return orbit_heat.received(flown, faces, orbit_heat.instants(flown, DEGREES))


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A step of a timeline: when it begins [s], its mode and its attitude."""

    begin: float
    mode: str
    attitude: str


@cache
def stretches(case: str) -> tuple[Stretch, ...]:
    """What the satellite does in a case."""
    found = []
    for mode, attitude, start in numbers.TIMELINES[numbers.CASES[case].timeline]:
        if isinstance(start, str):
            begin = shadow_entry(case)
        else:
            degrees, seconds = start
            begin = degrees / 360.0 * PERIOD + seconds
        found.append(Stretch(begin=begin, mode=mode, attitude=attitude))
    return tuple(found)


def shadow_entry(case: str) -> float:
    """When half of the Sun's disc is behind the Earth for the first time [s]."""
    flown = orbit(case)
    begin, end = orbit_heat.edges(flown)[:2]
    half = brentq(
        lambda t: float(orbit_heat.share_of_sun(flown, np.array([t]))[0]) - 0.5, begin, end
    )
    return float(half)


def span(case: str) -> float:
    return numbers.CASES[case].span or PERIOD


Drawn = battery.Charge | None
"""What is drawn from the cells: all that they can give, without a battery."""


def instants(case: str, drawn: Drawn = None) -> Array:
    """Between them every history is a straight line."""
    end = span(case)
    count = int(np.ceil(end / PERIOD))
    turns = [received(case).time + k * PERIOD for k in range(count)]
    own = [stretch.begin for stretch in stretches(case)]
    own += [] if drawn is None else battery.turns(drawn)
    sharp = np.unique([0.0, *own, end])
    even = np.concatenate(turns)
    near = np.abs(even[:, None] - sharp[None, :]).min(axis=1) < APART
    found = np.unique(np.concatenate([sharp, even[~near]]))
    found = found[found <= end]
    return np.asarray(found[np.append(True, np.diff(found) > APART)])


class Course:
    """Between two instants of a case: places in its orbit, and which of its stretches it is."""

    def __init__(self, case: str, time: Array) -> None:
        middle = (time[:-1] + time[1:]) / 2.0
        turn = np.floor(middle / PERIOD) * PERIOD
        self.case, self.begin, self.end = case, time[:-1] - turn, time[1:] - turn
        starts = [stretch.begin for stretch in stretches(case)]
        self.stretch = np.searchsorted(starts, middle, side="right") - 1
        self.points = np.repeat(time, 2)[1:-1]

    def history(self, begin: Array, end: Array) -> History:
        """By the values at the beginning and at the end of each interval."""
        return self.points, np.stack([begin, end], axis=1).ravel()

    def steps(self, value: Array) -> History:
        return self.history(value, value)

    def by_mode(self, values: dict[str, float]) -> Array:
        own = np.array([values.get(stretch.mode, 0.0) for stretch in stretches(self.case)])
        return np.asarray(own[self.stretch])

    def in_orbit(self, name: str) -> tuple[Array, Array]:
        """Values of a history of the orbit, by the attitude at the time."""
        begin, end = np.zeros(len(self.begin)), np.zeros(len(self.begin))
        attitudes = np.array([stretch.attitude for stretch in stretches(self.case)])[self.stretch]
        for attitude in sorted(set(attitudes)):
            once = orbit_heat.histories(received(self.case, attitude))[name]
            own = attitudes == attitude
            begin[own] = battery.sampled(once, self.begin[own], after=True)
            end[own] = battery.sampled(once, self.end[own], after=False)
        return begin, end


def units_power(case: str, course: Course) -> dict[str, History]:
    """Heat [W] of every unit."""
    found = {}
    for unit, _, heat in numbers.UNITS:
        scaled = [watts * numbers.CASES[case].units for watts in heat]
        value = course.by_mode(dict(zip(numbers.MODES, scaled, strict=True)))
        begin, end = course.in_orbit("sunlit") if unit == numbers.LIT else (1.0, 1.0)
        found[f"unit {unit}"] = course.history(value * begin, value * end)
    return found


def histories(case: str, drawn: Drawn = None) -> dict[str, History]:
    """Time [s] and value of every history of a case; a repeated instant is a jump."""
    time = instants(case, drawn)
    course = Course(case, time)
    found = units_power(case, course)
    for name in orbit_heat.histories(received(case)):
        found[name] = course.history(*course.in_orbit(name))
    for heater, *_, modes in numbers.HEATERS:
        if modes:
            found[f"heater {heater}"] = course.steps(course.by_mode(dict.fromkeys(modes, 1.0)))
    begin, end = course.in_orbit("direct wing front")
    if drawn is None:
        found["cells"] = course.history(begin, end)
        return found
    full = np.round(battery.means(drawn, drawn.full, time))
    fed = np.where(full > 0.0, battery.means(drawn, drawn.taken, time), 0.0)
    found["cells"] = course.history(begin * (1.0 - full), end * (1.0 - full))
    found["fed"] = course.steps(fed / len(numbers.CELLS))
    found["losses"] = course.steps(battery.means(drawn, drawn.losses, time))
    return found


def sunlight_on(cells: str, case: str) -> float:
    """Sunlight on the cells of a surface that faces the Sun [W]."""
    area = {surface: area for surface, _, area, *_ in numbers.SURFACES}[cells]
    return area * numbers.PACKING * SUNLIGHT / numbers.CASES[case].sun_distance ** 2


def efficiency(case: str) -> float:
    return numbers.EFFICIENCY[numbers.CASES[case].old]


def absorbed(name: str) -> list[Absorbed]:
    """What every surface absorbs in a case, with no power drawn."""
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


def heats_of(
    case: str, values: dict[str, History]
) -> tuple[list[tuple[int, float, str]], list[tuple[int, float, str]]]:
    """Node, heat [W] and history of what is absorbed, dissipated and drawn.

    The second list is what goes with the temperature of the node [W/K]: cells give less when warm.
    """
    heats = [
        (INDEX[heat.node], heat.watts, heat.history)
        for heat in absorbed(case)
        if heat.watts * values[heat.history][1].max() > 0.0
    ]
    heats += [
        (INDEX[node], 1.0, f"unit {unit}")
        for unit, node, _ in numbers.UNITS
        if values[f"unit {unit}"][1].any()
    ]
    cold = efficiency(case) - numbers.SLOPE * numbers.CELLS_AT  # the straight line at 0 K
    linear = []
    for cells in numbers.CELLS:
        watts = sunlight_on(cells, case)
        heats.append((INDEX[cells], -watts * cold, "cells"))
        linear.append((INDEX[cells], -watts * numbers.SLOPE, "cells"))
        if "fed" in values:
            heats.append((INDEX[cells], -1.0, "fed"))
    if "losses" in values:
        heats.append((INDEX["battery"], 1.0, "losses"))
    return heats, linear


def arrays(name: str, drawn: Drawn = None) -> Arrays:
    """The arrays of a case."""
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
    values = histories(name, drawn)
    heats, linear = heats_of(name, values)
    limits = np.array([(on, off) for _, _, _, on, off, _ in numbers.HEATERS], dtype=float)
    power = np.array([watts for _, _, watts, *_ in numbers.HEATERS], dtype=float)
    return Arrays(
        names=NAMES,
        capacity=np.array([value for _, value in numbers.NODES], dtype=float),
        conduction=conduction,
        radiation=radiation,
        space=space,
        heats=heats,
        linear=linear,
        histories=values,
        heated=[INDEX[of] for _, of, *_ in numbers.HEATERS],
        enabled=[f"heater {name}" if modes else "" for name, *_, modes in numbers.HEATERS],
        power=power * (case.voltage / 28.0) ** 2,
        on=limits[:, 0] + bare.ZERO_CELSIUS,
        off=limits[:, 1] + bare.ZERO_CELSIUS,
        traced=numbers.CELLS,
    )


def run(
    case: str,
    *,
    temperature: Array,
    orbits: int = 1,
    window: int = 1,
    states: Array | None = None,
    drawn: Drawn = None,
    rtol: float = 1e-9,
    method: Method = "LSODA",
) -> Run:
    """Integrate from orbit noon; results over the last `window` orbits, or the whole history."""
    return bare.run(
        arrays(case, drawn), temperature=temperature, instants=list(instants(case, drawn)),
        passes=orbits, window=window, states=states, rtol=rtol, method=method,
    )  # fmt: skip


def periodic(case: str, *, guess: Array, drawn: Drawn = None, rtol: float = 1e-9) -> Array:
    """Temperatures [K] at orbit noon that return after one orbit without any switching."""
    points = list(instants(case, drawn))
    return bare.periodic(arrays(case, drawn), guess=guess, instants=points, rtol=rtol)


def drawn_in(case: str, found: Run) -> battery.Charge:
    """What is drawn from the cells by a run; in an orbit that repeats, from its last orbit.

    Heaters count with their mean over an orbit that repeats, as they are in any other history.
    """
    time, trace, heating = found.time, found.trace, found.heating
    repeats = numbers.CASES[case].span == 0.0
    course = np.append(np.diff(time), 0.0)
    mean = float(course @ heating / (time[-1] - time[0]))
    if repeats:
        last = time >= time[-1] - PERIOD - APART
        time, trace = time[last] - (time[-1] - PERIOD), trace[:, last]
        heating = np.full(len(time), mean)
    values = histories(case)
    middle = (time[:-1] + time[1:]) / 2.0
    demand = (heating[:-1] + heating[1:]) / 2.0
    demand += sum(
        battery.sampled(values[f"unit {unit}"], middle, after=True) for unit, *_ in numbers.UNITS
    )
    starts = [stretch.begin for stretch in stretches(case)]
    modes = [stretch.mode for stretch in stretches(case)]
    sent = np.array([numbers.SENT.get(mode, 0.0) for mode in modes])
    demand += sent[np.searchsorted(starts, middle, side="right") - 1]
    lit = battery.sampled(values["cells"], time, after=True)
    given = sum(
        lit * sunlight_on(cells, case) * (
            efficiency(case) + numbers.SLOPE * (trace[k] - numbers.CELLS_AT)
        )
        for k, cells in enumerate(numbers.CELLS)
    )  # fmt: skip
    begins = BATTERY.capacity
    if repeats:
        begins = float(battery.charge(BATTERY, time, np.asarray(given), demand, begins).energy[-1])
    return battery.charge(BATTERY, time, np.asarray(given), demand, begins)


def settled(case: str, *, guess: Array) -> tuple[Array, battery.Charge]:
    """Of an orbit that repeats without switching: temperatures [K] at noon, and what is drawn.

    What is drawn hangs on the temperature of the wings, which three orbits settle.
    """
    drawn = drawn_in(case, run(case, temperature=guess, orbits=3, rtol=1e-6))
    return periodic(case, guess=guess, drawn=drawn), drawn
