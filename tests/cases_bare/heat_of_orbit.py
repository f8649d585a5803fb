"""What the faces of a spacecraft receive in an orbit, by brute force: an independent answer.

No import of thermnet. Kepler's equation by Newton's method, the Sun's disc behind a sphere's limb
as the overlap of two circles, planet infrared and reflected sunlight as sums over the patches of
the sphere that are in sight. The orbit lies in the x-y plane, the Sun at (cos beta, 0, sin beta);
time begins at orbit noon. SI units, radians.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.integrate import trapezoid
from scipy.optimize import brentq

from tests.cases_bare.bare import Array, History

SUNLIGHT = 1361.0  # W/m2 at one astronomical unit, IAU 2015 resolution B3
ASTRONOMICAL_UNIT = 1.495978707e11  # m
SUN_RADIUS = 6.957e8  # m, IAU 2015 resolution B3

Normals = Callable[[Array, Array, Array], dict[str, Array]]
"""From positions f8[k, 3], velocities f8[k, 3] and the Sun f8[3] the normals f8[k, 3] of faces."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Orbit:
    """Heights [m] of its ends above a sphere, the Sun's angle and distance [au], and the sphere.

    `periapsis` [rad] is the angle from orbit noon to the lower end. `glow` [m] is the radius from
    which the planet's light comes.
    """

    gravity: float
    radius: float
    lowest: float
    highest: float
    beta: float
    sun_distance: float
    periapsis: float = 0.0
    glow: float = 0.0

    @property
    def axis(self) -> float:
        return self.radius + (self.lowest + self.highest) / 2.0

    @property
    def eccentricity(self) -> float:
        return (self.highest - self.lowest) / (2.0 * self.axis)

    @property
    def period(self) -> float:
        return float(2.0 * np.pi * np.sqrt(self.axis**3 / self.gravity))

    @property
    def sun(self) -> Array:
        return np.array([np.cos(self.beta), 0.0, np.sin(self.beta)])


def flight(orbit: Orbit, time: Array) -> tuple[Array, Array]:
    """Positions and velocities, each f8[k, 3]."""
    e = orbit.eccentricity
    noon = -orbit.periapsis  # true anomaly
    begin = 2.0 * np.arctan(np.sqrt((1.0 - e) / (1.0 + e)) * np.tan(noon / 2.0))
    mean = begin - e * np.sin(begin) + 2.0 * np.pi * time / orbit.period
    E = mean.copy()
    for _ in range(60):
        E -= (E - e * np.sin(E) - mean) / (1.0 - e * np.cos(E))
    across = np.sqrt(1.0 - e**2)
    rate = 2.0 * np.pi / orbit.period / (1.0 - e * np.cos(E))
    r = orbit.axis * np.stack([np.cos(E) - e, across * np.sin(E), 0.0 * E], axis=1)
    v = orbit.axis * np.stack([-np.sin(E) * rate, across * np.cos(E) * rate, 0.0 * E], axis=1)
    c, s = np.cos(orbit.periapsis), np.sin(orbit.periapsis)
    turn = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    return r @ turn.T, v @ turn.T


def discs(orbit: Orbit, time: Array) -> tuple[Array, Array, float]:
    """Angle between the centres of Sun and planet, and their angular radii, planet first [rad]."""
    r, _ = flight(orbit, time)
    distance = np.linalg.norm(r, axis=1)
    apart = np.arccos(np.clip(-(r @ orbit.sun) / distance, -1.0, 1.0))
    return apart, np.arcsin(orbit.radius / distance), np.arcsin(
        SUN_RADIUS / (orbit.sun_distance * ASTRONOMICAL_UNIT)
    )  # fmt: skip


def share_of_sun(orbit: Orbit, time: Array) -> Array:
    """Share of the Sun's disc that the planet leaves free, f8[k], of flat circles in the sky."""
    apart, planet, sun = discs(orbit, time)
    d = np.clip(apart, planet - sun, planet + sun)
    at_sun = np.arccos(np.clip((d**2 + sun**2 - planet**2) / (2.0 * d * sun), -1.0, 1.0))
    at_planet = np.arccos(np.clip((d**2 + planet**2 - sun**2) / (2.0 * d * planet), -1.0, 1.0))
    kite = d * sun * np.sin(at_sun)
    covered = sun**2 * at_sun + planet**2 * at_planet - kite
    share = 1.0 - covered / (np.pi * sun**2)
    return np.select([apart >= planet + sun, apart <= planet - sun], [1.0, 0.0], share)


def edges(orbit: Orbit) -> list[float]:
    """Instants at which the discs begin or cease to touch, or one to cover the other."""
    found = []
    time = np.linspace(0.0, orbit.period, 2001)
    for sign in (-1.0, 1.0):

        def gap(t: Array, sign: float = sign) -> Array:
            apart, planet, sun = discs(orbit, np.atleast_1d(t))
            return np.asarray(apart - planet - sign * sun)

        gaps = gap(time)
        for k in np.flatnonzero(gaps[1:] * gaps[:-1] < 0.0):
            root = brentq(lambda t, gap=gap: gap(t)[0], time[k], time[k + 1], xtol=1e-9)
            found.append(float(root))
    return sorted(found)


def patches(ratio: float, count: int) -> tuple[Array, Array, Array]:
    """Patches of a unit sphere in sight from `ratio` along z: directions, factors, places.

    Directions f8[p, 3] from the spacecraft; factors f8[p] are cos(emission) x solid angle / pi of
    each patch, so that the sum of factor x cos(incidence) is a view factor; places f8[p, 3] are the
    outward normals of the patches.
    """
    nodes, weights = np.polynomial.legendre.leggauss(count)
    limb = np.arccos(1.0 / ratio)
    # Gauss points in the square of the angle's share, dense at the limb where most solid angle is.
    angle = limb * (nodes + 1.0) / 2.0
    step = limb * weights / 2.0
    around = 2.0 * np.pi * (np.arange(2 * count) + 0.5) / (2 * count)
    a, p = (g.ravel() for g in np.meshgrid(angle, around, indexing="ij"))
    area = np.repeat(step * np.sin(angle), 2 * count) * np.pi / count
    places = np.stack([np.sin(a) * np.cos(p), np.sin(a) * np.sin(p), np.cos(a)], axis=1)
    ray = places - np.array([0.0, 0.0, ratio])
    length = np.linalg.norm(ray, axis=1)
    direction = ray / length[:, None]
    emission = -(direction * places).sum(axis=1)
    return direction, emission * area / (np.pi * length**2), places


def frame(up: Array) -> Array:
    """Rows: two axes across, and up f8[3]."""
    aside = np.cross(up, np.eye(3)[np.argmin(np.abs(up))])
    aside /= np.linalg.norm(aside)
    return np.array([aside, np.cross(up, aside), up])


def from_planet(
    ratio: float, up: Array, sun: Array, normals: Array, count: int = 60
) -> tuple[Array, Array]:
    """View factors of plates f8[n, 3] to the planet, and what they get of its reflected light.

    Each f8[n]; reflected light is that of a white planet (albedo 1), over sunlight.
    """
    direction, factor, places = patches(ratio, count)
    turn = frame(up)
    incidence = np.maximum((normals @ turn.T) @ direction.T, 0.0)
    lit = np.maximum(places @ (turn @ sun), 0.0)
    return incidence @ factor, incidence @ (factor * lit)


@dataclass(frozen=True, slots=True, kw_only=True)
class Received:
    """What faces receive: `time` f8[k]; by face direct sunlight, reflected light, planet, f8[k]."""

    time: Array
    sunlit: Array
    direct: dict[str, Array]
    reflected: dict[str, Array]
    planet: dict[str, Array]


def received(orbit: Orbit, normals: Normals, time: Array, count: int = 60) -> Received:
    """At instants f8[k]; in shadow and out by the share of the Sun that is seen."""
    r, v = flight(orbit, time)
    facing = normals(r, v, orbit.sun)
    lit = share_of_sun(orbit, time)
    direct = {name: np.maximum(n @ orbit.sun, 0.0) * lit for name, n in facing.items()}
    stack = np.stack(list(facing.values()), axis=1)
    reflected, planet = np.empty(stack.shape[:2]), np.empty(stack.shape[:2])
    for k, position in enumerate(r):
        distance = float(np.linalg.norm(position))
        planet[k], reflected[k] = from_planet(
            distance / (orbit.glow or orbit.radius), position / distance, orbit.sun, stack[k], count
        )
    return Received(
        time=time,
        sunlit=lit,
        direct=direct,
        reflected={name: reflected[:, k] for k, name in enumerate(facing)},
        planet={name: planet[:, k] for k, name in enumerate(facing)},
    )


def instants(orbit: Orbit, degrees: float) -> Array:
    """Every so many degrees of mean anomaly, with shadow edges and points in the penumbra."""
    touching = edges(orbit)
    penumbra = [
        t
        for begin, end in zip(touching[:-1:2], touching[1::2], strict=True)
        for t in np.linspace(begin, end, 9)
    ]
    even = np.arange(0.0, 360.0 + degrees / 2.0, degrees) / 360.0 * orbit.period
    return np.unique(np.concatenate([even, penumbra]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """A face of a node: optics, share of the sky it sees, and the name of its face or shape."""

    name: str
    node: str
    area: float
    absorptance: float
    emittance: float
    face: str
    view: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """Sunlight [W/m2] and what the planet makes of it: reflected share, infrared [W/m2].

    `day` is what the planet emits below the Sun above the rest, falling with the cosine of the
    angle from there.
    """

    sunlight: float
    albedo: float
    infrared: float
    day: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Absorbed:
    """Heat that a surface absorbs from a cause: watts times the history of that name."""

    surface: str
    node: str
    cause: str
    watts: float
    history: str


def absorbed(surfaces: Sequence[Surface], light: Light) -> list[Absorbed]:
    found = []
    for s in surfaces:
        visible, infrared = s.absorptance * s.area * light.sunlight, s.emittance * s.area * s.view
        for cause, watts, history in (
            ("solar", visible, "direct"),
            ("albedo", visible * light.albedo * s.view, "reflected"),
            ("planet_infrared", infrared * light.infrared, "planet"),
            ("planet_infrared", infrared * light.day, "reflected"),
        ):
            found.append(
                Absorbed(surface=s.name, node=s.node, cause=cause, watts=watts,
                         history=f"{history} {s.face}")
            )  # fmt: skip
    return found


def histories(heat: Received) -> dict[str, History]:
    """Everything by name: "direct", "reflected" and "planet" with the face's name, "sunlit"."""
    parts = {"direct": heat.direct, "reflected": heat.reflected, "planet": heat.planet}
    return {
        f"{part} {face}": (heat.time, value)
        for part, faces in parts.items()
        for face, value in faces.items()
    } | {"sunlit": (heat.time, heat.sunlit), "in shadow": (heat.time, 1.0 - heat.sunlit)}


def mean(history: History) -> float:
    """Time mean of straight lines between points."""
    time, value = history
    return float(trapezoid(value, time) / (time[-1] - time[0]))


def means(heats: Sequence[Absorbed], histories: dict[str, History]) -> dict[tuple[str, str], float]:
    """Absorbed heat [W] by surface and cause, mean over the orbit; what is zero is left out."""
    found: dict[tuple[str, str], float] = {}
    for heat in heats:
        key = heat.surface, heat.cause
        found[key] = found.get(key, 0.0) + heat.watts * mean(histories[heat.history])
    return {key: watts for key, watts in found.items() if watts > 0.0}
