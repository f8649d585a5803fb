"""The Mars lander in its cases: what it absorbs and gives off over time, and what comes of it.

No import of thermnet and no reading of its files. Kelvin, watts, seconds.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
from scipy.integrate import solve_ivp, trapezoid

from tests.cases_bare import heat_of_orbit as outside
from tests.cases_bare.bare import ZERO_CELSIUS, Array
from tests.cases_bare.mars_lander import AT, NODES, Case, between, fin_share, fit, gained, steady

RADIUS, GRAVITY = 3396190.0, 4.2828375662e13  # m, m3/s2
ALTITUDE, BETA = 400e3, float(np.radians(25.0))
MEAN, NEAR, FAR = 1.52366231, 1.381333463, 1.665991157  # au

ORBIT = outside.Orbit(
    gravity=GRAVITY, radius=RADIUS, lowest=ALTITUDE, highest=ALTITUDE, beta=BETA, sun_distance=FAR
)

# surface, node, area, absorptance new, emittance, view, face
SURFACES = (
    ("belly", "belly", 0.55, 0.42, 0.72, 1.0, "-z"),
    ("lid", "lid", 0.55, 0.20, 0.88, 0.7, "+z"),
    ("tank blanket", "blanket", 0.45, 0.42, 0.72, 1.0, "+x"),
    ("shade", "shade", 0.30, 0.20, 0.88, 1.0, "+z"),
    ("baffle rim", "ring 3", 0.006, 0.95, 0.90, 1.0, "-y"),
    ("array", "array", 1.6, 0.91, 0.81, 1.0, "+z"),
    ("array back", "array", 1.6, 0.20, 0.88, 1.0, "-z"),
    ("radiator", "radiator", 0.24, 0.20, 0.88, 1.0, "-y"),
)


def faces(position: Array, velocity: Array, sun: Array) -> dict[str, Array]:
    """Normals f8[k, 3]: +z to the Sun, -y as near to the orbit's normal as it can be."""
    normal = np.cross(position[0], velocity[0])
    y = -(normal - (normal @ sun) * sun)
    y /= np.linalg.norm(y)
    x = np.cross(y, sun)
    fixed = {"+x": x, "-y": -y, "+z": sun, "-z": -sun}
    return {name: np.broadcast_to(axis, position.shape) for name, axis in fixed.items()}


@cache
def absorbed(fin_at: float, distance: float) -> tuple[Array, dict[str, Array]]:
    """Instants [s] of an orbit, and the heat [W] that each node absorbs there.

    `distance` [au] is that from the Sun.
    """
    light = outside.Light(
        sunlight=outside.SUNLIGHT / distance**2, albedo=0.27, infrared=30.0,
        day=388.1 * (MEAN / distance) ** 2 - 30.0,
    )  # fmt: skip
    surfaces = [
        outside.Surface(
            name=name, node=node, area=area * (fin_share(fin_at) if name == "radiator" else 1.0),
            absorptance=absorptance, emittance=emittance, face=face, view=view,
        )
        for name, node, area, absorptance, emittance, view, face in SURFACES
    ]  # fmt: skip
    orbit = replace(ORBIT, sun_distance=distance)
    points = outside.instants(orbit, 4.0)
    histories = outside.histories(outside.received(orbit, faces, points, 40))
    found: dict[str, Array] = {}
    for each in outside.absorbed(surfaces, light):
        watts = each.watts * histories[each.history][1]
        found[each.node] = found.get(each.node, np.zeros(len(points))) + watts
    return points, found


def by_time(
    fin_at: float, distance: float, units: dict[str, float], plume: bool = False
) -> Callable[[float | None], dict[str, float]]:
    """Heat by node at an instant, or its mean: units and loads, and what is absorbed in orbit."""
    points, found = absorbed(fin_at, distance)
    period = points[-1]
    mean = {node: float(trapezoid(watts, points) / period) for node, watts in found.items()}

    def heat(time: float | None) -> dict[str, float]:
        out = dict(mean)
        if time is not None:
            since = time % period
            k = min(int(np.searchsorted(points, since, "right")), len(points) - 1)
            share = (since - points[k - 1]) / (points[k] - points[k - 1])
            out = {
                node: float(watts[k - 1] + share * (watts[k] - watts[k - 1]))
                for node, watts in found.items()
            }
        if plume and time is not None and 600.0 <= time < 660.0:
            out["belly"] += 900.0 * 0.55
            out["radiator"] += 150.0 * 0.24 * fin_share(fin_at)
        for node, watts in units.items():
            out[node] = out.get(node, 0.0) + watts
        return out

    return heat


def shadow() -> float:
    """Share of the orbit in shadow, of a cylinder (closed form)."""
    away = np.sqrt(ALTITUDE**2 + 2 * RADIUS * ALTITUDE) / ((RADIUS + ALTITUDE) * np.cos(BETA))
    return float(np.arccos(away) / np.pi)


def storage() -> Case:
    """Stored in orbit, in the mode sleep."""
    fin_at = ZERO_CELSIUS - 85.0
    units = {"electronics": 9.0, "radio": 1.0, "board": 0.1, "detector": 0.15}
    return Case(
        volts=26.0,
        joints=(10 * 0.8, 0.006 * 1600 + 6 * 0.8, 4 * 1.1, 0.09),
        bound=1.5,
        fin_at=fin_at,
        pump=0.0,
        heat=by_time(fin_at, FAR, units),
        battery_loss=lambda powers: lost(10.1 + powers, shadow()),
    )


def lost(power: float, share: float) -> float:
    """Mean losses [W] of a battery that gives a power for a share of the time.

    3 % on its way out, and as much of what is put in.
    """
    drawn = power * share / 0.97
    return drawn * 0.03 + drawn / 0.97 * 0.03


def orbit(plume: bool = False) -> Case:
    """In orbit nearest to the Sun, the radio on; with the heat of a firing, or without."""
    fin_at = ZERO_CELSIUS - 25.0
    units = {"electronics": 26.0, "radio": 55.0, "detector": 0.15}
    return Case(
        volts=32.0,
        joints=(10 * 0.264, 0.006 * 600 + 6 * 0.264, 4 * 0.4, 0.04),
        bound=0.7,
        fin_at=fin_at,
        pump=3e-3 * float(np.interp(248.15, (240.0, 250.0), (4431.0, 4483.0))),
        heat=by_time(fin_at, NEAR, units, plume),
        battery_loss=lambda powers: lost(81.0 + powers, shadow()),
    )


DAY = 88775.24415  # s
LATITUDE, SEASON = np.radians(12.0), np.radians(5.0)


def sun(time: float) -> Array:
    """Where the Sun is at the site, counted from noon: east, north, up."""
    hour = 2.0 * np.pi * time / DAY
    noon = np.cos(SEASON) * np.cos(hour)
    return np.array([
        -np.cos(SEASON) * np.sin(hour),
        np.cos(LATITUDE) * np.sin(SEASON) - np.sin(LATITUDE) * noon,
        np.sin(LATITUDE) * np.sin(SEASON) + np.cos(LATITUDE) * noon,
    ])  # fmt: skip


OLD = {"belly": 0.55, "lid": 0.45, "tank blanket": 0.55, "shade": 0.45, "radiator": 0.45,
       "array back": 0.35}  # fmt: skip
AXES = {"-z": (0, 0, -1), "+z": (0, 0, 1), "+x": (1, 0, 0), "-y": (0, -1, 0)}


def on_the_ground(time: float) -> dict[str, float]:
    """Heat by node at a time of day: sunlight through dust, the ground's reflection, units."""
    light, to_sun = outside.SUNLIGHT / MEAN**2 * 0.65, sun(time)
    out: dict[str, float] = {}
    for name, node, area, absorptance, _, view, face in SURFACES:
        normal = np.array(AXES[face], dtype=float)
        if node == "array":
            normal = to_sun if name == "array" else -to_sun
        direct = max(float(normal @ to_sun), 0.0) * (to_sun[2] > 0.0)
        reflected = 0.25 * max(float(to_sun[2]), 0.0) * (1.0 - normal[2]) / 2.0 * view
        share = fin_share(ZERO_CELSIUS - 70.0) if name == "radiator" else 1.0
        watts = light * area * share * OLD.get(name, absorptance) * (direct + reflected)
        out[node] = out.get(node, 0.0) + watts
    since = time % DAY
    mode = 0 if since < 4 * 3600 else 1 if since < 4 * 3600 + 2400 else 2
    for node, watts in (
        ("electronics", (22.0, 26.0, 9.0)[mode]), ("radio", (4.0, 55.0, 1.0)[mode]),
        ("camera", (4.0, 0.0, 0.0)[mode]), ("board", (1.2, 0.0, 0.1)[mode]), ("detector", 0.15),
    ):  # fmt: skip
        out[node] = out.get(node, 0.0) + watts
    return out


def landed() -> Case:
    """A day on the ground, in thin carbon dioxide; the pump stands still."""
    each = [on_the_ground(DAY * (k + 0.5) / 720) for k in range(720)]
    mean = {node: float(np.mean([heat[node] for heat in each])) for node in each[0]}
    return Case(
        volts=26.0,
        joints=(10 * 0.8, 0.006 * 1600 + 6 * 0.8, 4 * 1.1, 0.09),
        bound=1.5,
        fin_at=ZERO_CELSIUS - 70.0,
        pump=0.0,
        heat=lambda time: mean if time is None else on_the_ground(time),
        battery_loss=lambda powers: lost(10.1 + powers, 0.5),
        landed=True,
        up=lambda time: float(sun(time)[2]),
    )


PLATE_HEAT = between((473.0, 787.0, 875.0, 925.0, 1042.0))
COPPER_HEAT = between((252.0, 356.0, 385.0, 397.0, 417.0))


def capacity(T: Array, landed: bool) -> Array:
    """Heat capacity [J/K] of every node at its temperature; 1 J/K of those that have none."""
    made = fit((46.6467, -314.292, 866.662, -1298.3, 1162.27, -637.795, 210.351, -38.3094, 2.96344))

    own = {
        "electronics": 5.5 * 953.9 + 2400.0, "radio": 2600.0, "battery": 8200.0,
        "base": 6.0 * 875.0, "belly": 3.0 * PLATE_HEAT(T[AT["belly"]]),
        "lid": 2770.0 * 1100e-6 * PLATE_HEAT(T[AT["lid"]]),
        "radiator": 2.2 * made(T[AT["radiator"]]),
        "plate": 1.4 * made(T[AT["plate"]]), "tank": 2200.0 if landed else 61000.0,
        "liquid 0": 130.0, "liquid 1": 130.0,
        "detector": 0.15 * COPPER_HEAT(T[AT["detector"]]), "camera": 1500.0, "shade": 120.0,
        "array": 4200.0, "ring 0": 22.0, "ring 1": 18.0, "ring 2": 18.0, "ring 3": 15.0,
        "sphere": 1.1 * 550.0, "board": 260.0,
    }  # fmt: skip
    store, melts = T[AT["store"]], ZERO_CELSIUS + 5.9
    liquid = store > melts
    own["store"] = 500.0 + 0.9 * (2200.0 if liquid else 2070.0)
    if abs(store - melts) < 0.2:
        own["store"] = 500.0 + 0.9 * (228e3 / 0.4 + (2070.0 + 2200.0) / 2.0)
    return np.array([own.get(name, 1.0) for name in NODES])


def history(
    case: Case, span: float, periods: int = 0, start: Array | None = None
) -> tuple[Array, Array]:
    """Instants [s] and temperatures [K] f8[n, k] over a span, after some periods to settle.

    It begins with the steady state of the mean heat unless at given temperatures.
    """
    T = steady(case) if start is None else start
    stops = [0.0, 600.0, 660.0, 14400.0, 16800.0, span]
    stops = [each for each in stops if each <= span]
    times, found = [], []
    for number in range(periods + 1):
        for begin, end in itertools.pairwise(stops):
            piece = solve_ivp(
                lambda t, T: gained(T, case, t) / capacity(T, case.landed), (begin, end - 1e-6), T,
                method="LSODA", rtol=1e-5, atol=1e-3, max_step=600.0,
            )  # fmt: skip
            T = piece.y[:, -1]
            if number == periods:
                times.append(piece.t)
                found.append(piece.y)
    return np.concatenate(times), np.concatenate(found, axis=1)


@cache
def settled_orbit() -> tuple[Array, Array]:
    """The last of 7 orbits, of which the first begins at the steady state of the mean heat."""
    return history(orbit(), ORBIT.period, periods=6)


@cache
def answer(name: str) -> dict[str, tuple[float, float, float]]:
    """Lowest, mean and highest temperature [degC] of each node in a case of the lander."""
    if name == "storage":
        T = steady(storage()) - ZERO_CELSIUS
        return {node: (T[k], T[k], T[k]) for k, node in enumerate(NODES)}
    if name == "landed":
        time, found = history(landed(), DAY, periods=4)
    else:
        time, found = settled_orbit()
    if name == "firing":
        time, found = history(orbit(plume=True), 3 * 3600.0, start=found[:, -1])
    mean = trapezoid(found, time, axis=1) / (time[-1] - time[0])
    rows = zip(NODES, found.min(1), mean, found.max(1), strict=True)
    return {
        node: (low - ZERO_CELSIUS, middle - ZERO_CELSIUS, high - ZERO_CELSIUS)
        for node, low, middle, high in rows
    }
