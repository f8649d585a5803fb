"""Which beta angles an orbit meets: at all, and day by day."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from thermnet.errors import InputError, Problem
from thermnet.model.kinds.body import BodyFacts
from thermnet.model.kinds.orbit import Orbit, instant_of
from thermnet.model.model import Model
from thermnet.model.paths import apply_case, case_of, lineage
from thermnet.model.plan import plan
from thermnet.model.sky import Sky, inclination
from thermnet.physics import orbit as kepler
from thermnet.physics import sun as almanac
from thermnet.physics.curves import Floats
from thermnet.physics.setting import Flight
from thermnet.physics.shadow import circular_shadow_fraction, shadow_instants

OBLIQUITY = 23.44
"""Degrees between the Earth's equator and the Sun's path: the Astronomical Almanac's 23.439 in the
year 2000, falling by 0.013 in a century (from memory)."""

YEAR = 365
"""Days over which a dated orbit is followed."""

DAY = 86400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """A case's orbit about a body, as its file and overrides state it.

    `name` is the orbit's, `entry` what is stated, `body` what is known of the body, `sky` what
    shines in the case as it stands, `flight` its geometry.
    """

    name: str
    entry: Orbit
    body: BodyFacts
    sky: Sky
    flight: Flight

    @property
    def dated(self) -> bool:
        """Whether node and date say where the Sun stands, now and later."""
        entry = self.entry
        has_node = entry.node is not None or entry.local_time_of_node is not None
        return bool(entry.date) and has_node and entry.inclination is not None

    @property
    def circular(self) -> bool:
        """Whether every point of the orbit is equally far from the body."""
        return self.flight.orbit.eccentricity == 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """Beta angles [deg] that an orbit meets, from `low` to `high`, and in words `why`."""

    low: float
    high: float
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BetaHistory:
    """Beta of an orbit day by day, at the time of day of its date.

    `days` f8[k] from the date `first`; `beta` f8[k] [deg]; `shadow` f8[k] share of the orbit in a
    cylindrical shadow. `critical` [deg] is the angle at and beyond which a circular orbit has no
    shadow, None for an ellipse.
    """

    days: Floats
    first: date
    beta: Floats
    shadow: Floats
    critical: float | None


def orbit_of(model: Model, case: str) -> str | None:
    """Name of the orbit about a body that a case flies, None where it flies none."""
    found = None
    for name in lineage(model, case):
        settings = case_of(model, name)
        if settings.site is not None:
            found = None
        if settings.orbit is not None:
            found = settings.orbit
    if found in (None, "none"):
        return None
    entry = apply_case(model, case).entries(Orbit, "orbits")[str(found)]
    return None if entry.body == "none" else found


def course(model: Model, case: str, *, by_date: bool = False) -> Course:
    """The orbit of a case; `by_date` leaves aside a `beta` that stands above node and date.

    Raises InputError where it has none about a body, or one in error.
    """
    applied, name = apply_case(model, case), orbit_of(model, case)
    if by_date and name is not None:
        orbits = applied.sections["orbits"]
        of_date = orbits[name].model_copy(update={"beta": None})
        sections = {**applied.sections, "orbits": {**orbits, name: of_date}}
        applied = replace(applied, sections=sections)
    above = plan(applied, case).sky
    if name is None or above is None or above.body is None or not isinstance(above.setting, Flight):
        message = f"case '{case}' has no orbit around a body, so it has no beta angle"
        raise InputError(model.located([Problem(message=message, path=f"cases.{case}")]))
    entry = applied.entries(Orbit, "orbits")[name]
    return Course(name=name, entry=entry, body=above.body, sky=above, flight=above.setting)


def reach(model: Model, case: str) -> Reach:
    """The beta angles that a case's orbit can meet, in whole degrees, rounded outwards.

    A dated orbit about the Earth is followed day by day for a year, its node drifting by J2. Where
    only the inclination i is known, the Sun stands at most i (180 deg - i, if retrograde) plus the
    tilt of the Earth's equator above the orbit's plane. Otherwise every angle counts.
    Raises InputError where the case has no orbit about a body.
    """
    flown = course(model, case)
    if flown.body.name != "Earth":
        why = f"every angle: the Sun's path over {flown.body.name} is not known here"
        return Reach(low=-90.0, high=90.0, why=why)
    if flown.dated:
        beta = beta_history(model, case).beta
        low, high = float(np.floor(beta.min())), float(np.ceil(beta.max()))
        why = f"met in the year from {flown.entry.date}, the node drifting"
        return Reach(low=max(low, -90.0), high=min(high, 90.0), why=why)
    if flown.entry.inclination is None:
        return Reach(low=-90.0, high=90.0, why="every angle: no inclination is stated")
    tilt = math.degrees(inclination(flown.entry, flown.body))
    most = min(90.0, min(tilt, 180.0 - tilt) + OBLIQUITY)
    bound = float(math.ceil(most - 1e-9))
    why = (
        f"at most {min(tilt, 180.0 - tilt):.4g}° to the equator and the Sun's {OBLIQUITY}° from it"
    )
    return Reach(low=-bound, high=bound, why=why)


def beta_history(model: Model, case: str, days: int = YEAR) -> BetaHistory:
    """Beta and share of shadow of a case's orbit, daily from its date on, node drifting by J2.

    Also for an orbit that states `beta` besides, which is then left aside. The shadow is that of
    a cylinder: in closed form for a circular orbit, otherwise from its instants. Raises InputError
    for an orbit without inclination, node or date, or not about the Earth, and for no days.
    """
    if days < 0:
        raise InputError([Problem(message=f"expected days from 0 on, got {days}")])
    flown = course(model, case)
    if not flown.dated:
        message = "its history over days needs 'inclination', 'node' (or its local time) and 'date'"
        problem = Problem(message=message, path=f"orbits.{flown.name}")
        raise InputError(model.located([problem]))
    if flown.entry.beta is not None:
        flown = course(model, case, by_date=True)
    begin = instant_of(flown.entry.date)
    since = np.arange(days + 1, dtype=float)
    sun = almanac.sun_direction(almanac.days_since_2000(begin) + since)
    orbits = [
        kepler.drifted(flown.flight.orbit, flown.body.j2, flown.body.radius, day * DAY)
        for day in since
    ]
    beta = almanac.beta(sun, np.array([kepler.normal(each) for each in orbits]))
    radius, critical = flown.flight.radius, None
    if flown.circular:
        ratio = flown.flight.orbit.semi_major_axis / radius
        shadow = circular_shadow_fraction(np.full(len(beta), ratio), beta)
        critical = math.degrees(math.asin(1.0 / ratio))
    else:
        each = zip(orbits, sun, strict=True)
        shadow = np.array([_shadow_share(orbit, towards, radius) for orbit, towards in each])
    return BetaHistory(
        days=since, first=begin.date(), beta=np.degrees(beta), shadow=shadow, critical=critical
    )


def _shadow_share(orbit: kepler.Orbit, sun: Floats, radius: float) -> float:
    """Share of the time of an orbit in a cylindrical shadow."""
    # Time from the point nearest to the Sun, which no shadow meets: so none wraps round.
    noon = replace(orbit, start=kepler.true_anomaly_towards(orbit, sun))
    edges = shadow_instants(noon, sun, radius, None)
    dark = float(np.sum(edges[1::2] - edges[::2]))
    return dark / kepler.period(orbit)
