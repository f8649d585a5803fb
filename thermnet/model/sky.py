"""Where a case flies or stands: its Sun, its planet, its attitude, as the file states them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from thermnet.errors import InputError, Problem
from thermnet.model.attitudes import DEGREE, attitudes, blamed, problem_at
from thermnet.model.kinds.body import Body, BodyFacts, body
from thermnet.model.kinds.case import Case
from thermnet.model.kinds.environment import (
    Environment,
    EnvironmentFacts,
    environment,
)
from thermnet.model.kinds.orbit import Orbit, instant_of
from thermnet.model.kinds.site import Site
from thermnet.model.model import Model
from thermnet.model.surfaces import path_of, surfaces_of
from thermnet.physics import orbit as kepler
from thermnet.physics import sun as almanac
from thermnet.physics.constants import ASTRONOMICAL_UNIT, SOLAR_IRRADIANCE
from thermnet.physics.setting import Cruise, Flight, Setting, Stand

NEAR = 0.1
"""Share of the Sun's distance within which an orbit must stay: its direction is held there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sky:
    """What shines on a spacecraft in a case.

    `setting` holds the geometry. `sunlight` [W/m2] is that at the spacecraft, `albedo` the share
    that the planet reflects; its infrared [W/m2] is `infrared` everywhere and `day_infrared` more
    below the Sun, falling with the cosine of its zenith angle. `beta` [deg] is None without an
    orbit; `sun_distance` is in au; `pointing` is the path to blame for an attitude.
    """

    setting: Setting
    body: BodyFacts | None
    environment: EnvironmentFacts | None
    sun_distance: float
    sunlight: float
    albedo: float
    infrared: float
    day_infrared: float
    accommodation: float
    pointing: str = ""
    beta: float | None = None
    site: Site | None = None

    @property
    def period(self) -> float | None:
        """s after which everything repeats, None where nothing changes."""
        return None if isinstance(self.setting, Cruise) else self.setting.period


def sky(model: Model, settings: Case, case: str) -> Sky | None:
    """The sky of a case with these settings; None where it names neither orbit nor site.

    Raises InputError, located, for an orbit that cannot be flown and what follows from it.
    """
    found = _found(model, settings, case)
    surfaces = surfaces_of(model)
    facing = {name: surface for name, surface in surfaces.items() if surface.faces_out}
    if found is None:
        if facing and settings.orbit is None:
            message = (
                f"surface '{next(iter(facing))}' has a direction: name the 'orbit' or 'site', or "
                "say `orbit: none` where there is no Sun"
            )
            raise problem_at(model, f"cases.{case}", message)
        return None
    silent = [path_of(model, name) for name, surface in surfaces.items() if surface.silent]
    if silent:
        message = (
            "nothing says what it absorbs in an orbit: give its direction ('normal'), what is "
            "'absorbed', or say `shaded: true`"
        )
        problems = [Problem(message=message, path=path) for path in silent]
        raise InputError(model.located(problems))
    if settings.pointing is not None:
        return replace(found, pointing=f"pointings.{settings.pointing}")
    fixed = [name for name, each in facing.items() if each.normal or each.along or each.about]
    if fixed and found.site is None:
        message = f"missing key 'pointing': surface '{fixed[0]}' is fixed to the body"
        raise problem_at(model, f"cases.{case}", message)
    return replace(found, pointing=f"cases.{case}")


def _found(model: Model, settings: Case, case: str) -> Sky | None:
    if settings.site is not None:
        return _on_site(model, settings, case)
    if settings.orbit is None or settings.orbit == "none":
        for key in ("pointing", "environment"):
            if getattr(settings, key) is not None and settings.orbit is None:
                message = f"missing key 'orbit' (or 'site'), which '{key}' needs"
                raise problem_at(model, f"cases.{case}", message)
        return None
    entry = model.entries(Orbit, "orbits")[settings.orbit]
    if entry.body == "none":
        return _between_planets(model, settings, case, entry)
    return _in_orbit(model, settings, case, entry)


def _in_orbit(model: Model, settings: Case, case: str, entry: Orbit) -> Sky:
    path = f"orbits.{settings.orbit}"
    with blamed(model, f"{path}.body"):
        facts = body(entry.body, model.entries(Body, "bodies"))
    flown, sun, dated = _flown(model, path, entry, facts)
    with blamed(model, f"{path}.inclination"):
        tilt = None if entry.inclination is None else inclination(entry, facts) / DEGREE
    around = _environment(model, settings, case, facts, tilt, entry.sun_distance, dated)
    glow = facts.radius + around.infrared_height
    lowest = flown.semi_major_axis * (1.0 - flown.eccentricity)
    if lowest <= glow:
        raise InputError(model.located([_too_low(path, entry, facts, lowest, glow)]))
    highest = flown.semi_major_axis * (1.0 + flown.eccentricity)
    if highest > NEAR * around.sun_distance * ASTRONOMICAL_UNIT:
        message = f"the orbit reaches too far from {facts.name} for the Sun to shine alike on it"
        raise problem_at(model, path, message)
    with blamed(model, f"environments.{settings.environment}"):
        _check_air(around, lowest - facts.radius)
    begin = _start(model, path, entry, flown, sun)
    setting = Flight(
        orbit=replace(flown, start=begin),
        sun=(float(sun[0]), float(sun[1]), float(sun[2])),
        sun_distance=(
            None if entry.shadow == "cylinder" else around.sun_distance * ASTRONOMICAL_UNIT
        ),
        radius=facts.radius,
        glow_radius=glow,
        attitudes=attitudes(model, settings.pointing, "stars" if entry.beta is None else "orbit"),
        air=around.air,
    )
    beta = float(almanac.beta(sun, kepler.normal(flown))) / DEGREE
    shining = _shining(facts, around, setting)
    return replace(shining, beta=beta, albedo=around.albedo_at(beta))


def _environment(
    model: Model,
    settings: Case,
    case: str,
    facts: BodyFacts,
    tilt: float | None = None,
    of_orbit: float | None = None,
    of_date: float | None = None,
) -> EnvironmentFacts:
    entries, name = model.entries(Environment, "environments"), settings.environment
    if name is None:
        message = (
            f"missing key 'environment': 'hot', 'cold', 'mean', or one of the model's own: it says "
            f"how bright {facts.name} and the Sun are"
        )
        raise problem_at(model, f"cases.{case}", message)
    with blamed(model, f"environments.{name}" if name in entries else f"cases.{case}.environment"):
        return environment(name, entries, facts, tilt, of_orbit=of_orbit, of_date=of_date)


def _check_air(around: EnvironmentFacts, lowest: float) -> None:
    """Raise ValueError where the air at the lowest point [m] is thicker than any."""
    if around.air is not None:
        density, height, scale = around.air
        if (height - lowest) / scale > 50.0 or density * math.exp((height - lowest) / scale) > 1.3:
            raise ValueError(
                f"at the lowest point, {lowest / 1000.0:g} km, the air would be denser than at sea "
                "level: look at 'density_altitude' and 'scale_height'"
            )


def _flown(
    model: Model, path: str, entry: Orbit, facts: BodyFacts
) -> tuple[kepler.Orbit, np.ndarray, float | None]:
    """The orbit, the direction to the Sun, and its distance [au] where a date gives one."""
    axis, eccentricity = _size(entry, facts)
    shape = kepler.Orbit(gravity=facts.gravity, semi_major_axis=axis, eccentricity=eccentricity)
    if entry.beta is not None:
        beta = entry.beta * DEGREE
        sun = np.array([math.cos(beta), 0.0, math.sin(beta)])
        return replace(shape, periapsis=entry.periapsis * DEGREE), sun, _dated_distance(entry)
    if entry.body != "Earth":
        message = f"dates give the Sun of the Earth only; for {entry.body} state 'beta'"
        raise problem_at(model, f"{path}.date", message)
    now, then = instant_of(entry.date), instant_of(entry.node_date or entry.date)
    with blamed(model, f"{path}.inclination"):
        tilt = inclination(entry, facts)
    start = almanac.days_since_2000(then)
    node = (entry.node or 0.0) * DEGREE
    if entry.local_time_of_node is not None:
        hours = np.asarray(entry.local_time_of_node / 3600.0)
        node = float(almanac.node_of_local_time(np.asarray(start), hours))
    stated = replace(shape, inclination=tilt, node=node, periapsis=entry.periapsis * DEGREE)
    flown = kepler.drifted(stated, facts.j2, facts.radius, (now - then).total_seconds())
    sun = almanac.sun_direction(np.asarray(almanac.days_since_2000(now)))
    return flown, sun, _dated_distance(entry)


def _dated_distance(entry: Orbit) -> float | None:
    """Distance from the Sun [au] at the orbit's date, about the Earth; None without one."""
    if not entry.date or entry.body != "Earth":
        return None
    days = np.asarray(almanac.days_since_2000(instant_of(entry.date)))
    return float(almanac.sun_position(days).distance)


def _size(entry: Orbit, facts: BodyFacts) -> tuple[float, float]:
    """Semi-major axis [m] and eccentricity."""
    if entry.altitude is not None:
        return facts.radius + entry.altitude, 0.0
    if entry.lowest_altitude is not None and entry.highest_altitude is not None:
        low, high = facts.radius + entry.lowest_altitude, facts.radius + entry.highest_altitude
        return (low + high) / 2.0, (high - low) / (high + low)
    return entry.semi_major_axis or math.nan, entry.eccentricity or 0.0


def inclination(entry: Orbit, facts: BodyFacts) -> float:
    """Inclination [rad]; zero where none is stated. Raises ValueError where none is fitting."""
    if entry.inclination == "sun-synchronous":
        axis, eccentricity = _size(entry, facts)
        return kepler.sun_synchronous_inclination(
            facts.gravity, facts.radius, facts.j2, axis, eccentricity, facts.stated("year")
        )
    return (entry.inclination or 0.0) * DEGREE


def _too_low(path: str, entry: Orbit, facts: BodyFacts, lowest: float, glow: float) -> Problem:
    key = "altitude" if entry.altitude is not None else "lowest_altitude"
    if entry.semi_major_axis is not None:
        key = "eccentricity"
    height = (lowest - facts.radius) / 1000.0
    where = f"{height:g} km above" if height > 0.0 else f"{-height:.6g} km under"
    message = (
        f"the lowest point lies {where} the ground of {facts.name} (radius "
        f"{facts.radius / 1000.0:g} km); it must be above {(glow - facts.radius) / 1000.0:g} km: "
        "raise it"
    )
    return Problem(message=message, path=f"{path}.{key}")


def _start(model: Model, path: str, entry: Orbit, flown: kepler.Orbit, sun: np.ndarray) -> float:
    """True anomaly at which the time of the case begins."""
    if entry.start == "periapsis":
        return 0.0
    if entry.start == "ascending node":
        if entry.beta is not None:
            message = "with 'beta' there is no node; begin at 'noon', 'midnight' or 'periapsis'"
            raise problem_at(model, f"{path}.start", message)
        return -flown.periapsis
    return kepler.true_anomaly_towards(flown, sun if entry.start == "noon" else -sun)


def _between_planets(model: Model, settings: Case, case: str, entry: Orbit) -> Sky:
    if settings.environment is not None:
        message = "there is no planet between the planets: the orbit's 'sun_distance' says it all"
        raise problem_at(model, f"cases.{case}.environment", message)
    distance = entry.sun_distance or math.nan
    # The Sun stands along x; only where the body's axes stand to it counts.
    ((_, attitude),) = attitudes(model, settings.pointing, "between planets")
    return Sky(
        setting=Cruise(sun=(1.0, 0.0, 0.0), attitude=attitude),
        body=None,
        environment=None,
        sun_distance=distance,
        sunlight=SOLAR_IRRADIANCE / distance**2,
        albedo=0.0,
        infrared=0.0,
        day_infrared=0.0,
        accommodation=0.0,
    )


def _on_site(model: Model, settings: Case, case: str) -> Sky:
    path = f"sites.{settings.site}"
    entry = model.entries(Site, "sites")[settings.site or ""]
    with blamed(model, f"{path}.body"):
        facts = body(entry.body, model.entries(Body, "bodies"))
        day = facts.stated("solar_day")
    around = _environment(model, settings, case, facts)
    ((_, attitude),) = attitudes(model, settings.pointing, "site")
    setting = Stand(
        latitude=entry.latitude * DEGREE,
        declination=entry.declination * DEGREE,
        day=day,
        attitude=attitude,
    )
    shining = _shining(facts, around, setting)
    reflected = around.albedo if entry.reflectance is None else entry.reflectance
    return replace(
        shining,
        sunlight=shining.sunlight * entry.transmittance,
        albedo=reflected,
        infrared=0.0,
        day_infrared=0.0,
        site=entry,
    )


def _shining(facts: BodyFacts, around: EnvironmentFacts, setting: Setting) -> Sky:
    """How bright Sun and planet are."""
    return Sky(
        setting=setting,
        body=facts,
        environment=around,
        sun_distance=around.sun_distance,
        sunlight=around.sunlight,
        albedo=around.albedo,
        infrared=around.infrared,
        day_infrared=around.day_infrared,
        accommodation=around.accommodation,
    )
