"""Environments: sunlight, albedo and planet infrared, and the thin air of low orbits.

`hot` and `cold` are published pairs of albedo and infrared for orbits about the Earth; about other
bodies they are the body's own values at its least and greatest distance from the Sun. `mean` is
the body as it is at a date, or else at its mean distance. A model may change these or add its own.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated, Literal

from pydantic import Field, model_validator

from thermnet.errors import nearest
from thermnet.model.kinds.body import BodyFacts, one_law
from thermnet.model.kinds.kind import Kind
from thermnet.model.library.rows import CHANGED, Column, Row, packaged, read_rows
from thermnet.physics.constants import SOLAR_IRRADIANCE
from thermnet.text.fields import Entry, Text, fault, number, quantity

FILE = "environments.csv"
COLUMNS = {
    "averaging_time": Column(unit="s", needed=True, least=0.0),
    "albedo": Column(least=0.0, greatest=1.0),
    "infrared": Column(unit="W/m^2", needed=True, least=0.0),
}
WORDS = ("inclination", "refused")

NAMES = ("hot", "cold", "mean")
"""The environments that a case may name without a model's entry."""

CORRECTION = (0.04, 0.04, 0.05, 0.06, 0.07, 0.09, 0.12, 0.16, 0.22, 0.31)
"""Added to the albedo for the Sun's zenith angle, mean over an orbit, at beta angles of 0, 10, ...
90 degrees: NASA/TM-2001-211221, Table 4.2.1-1. 0.04 at 0 and 0.12 at 60 degrees are known
second-hand, the rest from memory."""

Season = Literal["hot", "cold", "mean"]
Flux = Annotated[float, quantity("W/m^2", at_least=0)]

_AIR = ("density_altitude", "scale_height", "accommodation")


class Environment(Entry):
    """An environment of the model's own. What it leaves out is the body's."""

    albedo: Annotated[float, number(at_least=0, at_most=1)] | None = Field(
        None, description="fraction of the sunlight that the body reflects"
    )
    albedo_correction: bool | None = Field(
        None,
        description="whether the albedo rises with the beta angle, as that of `hot` and `cold` "
        "about the Earth does; by default not where `albedo` is given",
    )
    infrared: Flux | None = Field(
        None, description="infrared that the body emits, the same everywhere"
    )
    day_infrared: Flux | None = Field(
        None, description="infrared where the Sun stands overhead, in this environment"
    )
    night_infrared: Flux | None = Field(None, description="infrared of the night side")
    sunlight: Annotated[float, quantity("W/m^2", above=0)] | None = Field(
        None, description="direct sunlight at the spacecraft"
    )
    sun_distance: Annotated[float, quantity("au", above=0)] | None = Field(
        None, description="distance from the Sun, instead of `sunlight`; 1361 W/m^2 at 1 au"
    )
    season: Season | None = Field(
        None,
        description="distance from the Sun where none is given: the body's least (hot), greatest "
        "(cold) or mean one; by default that of an entry's name `hot` or `cold`, or else that of "
        "the orbit's date",
    )
    infrared_height: Annotated[float, quantity("m", at_least=0)] | None = Field(
        None, description="height above the body's radius at which albedo and infrared are stated"
    )
    density: Annotated[float, quantity("kg/m^3", at_least=0)] | None = Field(
        None, description="density of the thin air, for free-molecular heating"
    )
    density_altitude: Annotated[float, quantity("m", at_least=0)] | None = Field(
        None, description="altitude of that density; without it the density is the same everywhere"
    )
    scale_height: Annotated[float, quantity("m", above=0)] | None = Field(
        None, description="height over which the density falls to 1/e"
    )
    accommodation: Annotated[float, number(at_least=0, at_most=1)] | None = Field(
        None, description="fraction of the flow's energy that a surface takes up; by default 1"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _agree(self) -> Environment:
        one_law(self)
        if self.sunlight is not None and self.sun_distance is not None:
            raise fault("sun_distance", "give either `sunlight` or `sun_distance`, not both")
        if self.season is not None and (self.sunlight or self.sun_distance) is not None:
            raise fault("season", "the sunlight is given; leave out the season")
        for key in _AIR:
            if self.density is None and getattr(self, key) is not None:
                raise fault(key, "needs `density`")
        if (self.density_altitude is None) != (self.scale_height is None):
            key = "scale_height" if self.density_altitude is None else "density_altitude"
            raise fault(key, "`density_altitude` and `scale_height` go together")
        return self


@dataclass(frozen=True, slots=True, kw_only=True)
class EnvironmentFacts:
    """An environment, complete. SI; Sun distance in au; None where a thing is not there.

    `sunlight` [W/m2] at `sun_distance` [au]; `albedo` as it stands in its table, and `corrected`,
    whether it rises with the beta angle (see `albedo_at`); where the Sun's zenith angle is z, the
    body emits `infrared` + `day_infrared` x max(0, cos z) [W/m2], so that `day_infrared` is what
    the subsolar point emits *more* than the night side, 0 for a body that emits alike everywhere;
    `infrared_height` [m] above the body's radius at which these are stated; `averaging_time` [s] of
    a published pair; `density` [kg/m3] of the air, at `density_altitude` [m] and falling by 1/e
    over `scale_height` [m] where these are given; `accommodation`; `source` in words, for the
    report.
    """

    name: str
    sunlight: float
    sun_distance: float
    albedo: float
    corrected: bool
    infrared: float
    day_infrared: float
    infrared_height: float
    averaging_time: float | None = None
    density: float | None = None
    density_altitude: float | None = None
    scale_height: float | None = None
    accommodation: float = 1.0
    source: str = ""

    @property
    def air(self) -> tuple[float, float, float] | None:
        """Density [kg/m3], its altitude [m] and scale height [m], infinite for a constant one."""
        if not self.density:
            return None
        if self.density_altitude is None or self.scale_height is None:
            return self.density, 0.0, math.inf
        return self.density, self.density_altitude, self.scale_height

    def albedo_at(self, beta: float) -> float:
        """Albedo at a beta angle [degrees], corrected for the Sun's zenith angle if it must be."""
        return min(1.0, self.albedo + (albedo_correction(beta) if self.corrected else 0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Albedo and infrared [W/m2] that belong together, as means over `averaging_time` [s]."""

    albedo: float
    infrared: float
    averaging_time: float
    source: str


def albedo_correction(beta: float) -> float:
    """What is added to a published albedo at a beta angle [degrees, -90 to 90]; see `CORRECTION`.

    Straight lines join the ten values, which is ours. Raises ValueError for another angle.
    """
    if not abs(beta) <= 90.0:
        raise ValueError(f"a beta angle lies between -90 and 90 degrees, got {beta:g}")
    below = min(int(abs(beta) // 10), len(CORRECTION) - 2)
    share = abs(beta) / 10.0 - below
    return CORRECTION[below] + share * (CORRECTION[below + 1] - CORRECTION[below])


def inclination_class(inclination: float) -> str:
    """The class of an inclination [degrees, 0 to 180]: low to 30, medium to 60, high above.

    A retrograde inclination i counts as 180 - i. Raises ValueError for another angle.
    """
    if not 0.0 <= inclination <= 180.0:
        raise ValueError(f"an inclination lies between 0 and 180 degrees, got {inclination:g}")
    tilt = min(inclination, 180.0 - inclination)
    return "low" if tilt <= 30.0 else "medium" if tilt <= 60.0 else "high"


@functools.cache
def library() -> Mapping[tuple[str, str], Row]:
    """The rows of published pairs about the Earth, by name and class of inclination.

    Raises ValueError where a pair comes twice, or has neither an albedo nor a reason.
    """
    found: dict[tuple[str, str], Row] = {}
    for row in read_rows(packaged(FILE), FILE, COLUMNS, WORDS):
        key = row.name, row.words["inclination"]
        place = f"{FILE}, line {row.line}, row '{row.name}'"
        if key in found:
            raise ValueError(f"{place}: '{key[1]}' is there already")
        if (row.number("albedo") is None) != bool(row.words["refused"]):
            raise ValueError(f"{place}: needs either an albedo or the reason why it is refused")
        found[key] = row
    return found


def library_environment(name: str, inclination: float) -> Pair:
    """The published pair `hot` or `cold` for an orbit about the Earth, inclination in degrees.

    Raises ValueError for another name, and with the reason and what to do instead for a pair that
    no source confirms.
    """
    row = library().get((name, inclination_class(inclination)))
    if row is None:
        raise ValueError(f"unknown environment '{name}'{nearest(name, ('hot', 'cold'))}")
    albedo = row.number("albedo")
    if albedo is None:
        raise ValueError(
            f"no published environment '{name}' at an inclination of {inclination:g} degrees: "
            f"{row.words['refused']}; give `albedo` and `infrared` of your own under "
            f"`environments.{name}`"
        )
    return Pair(
        albedo=albedo,
        infrared=row.numbers["infrared"],
        averaging_time=row.numbers["averaging_time"],
        source=f"{row.source}, inclination {row.words['inclination']}",
    )


def environment(
    name: str,
    entries: Mapping[str, Environment],
    body: BodyFacts | None,
    inclination: float | None = None,
    *,
    of_orbit: float | None = None,
    of_date: float | None = None,
) -> EnvironmentFacts:
    """The environment that a case names: the model's entry completed by library and body.

    `body` is None away from all bodies, where there is neither albedo nor infrared;
    `inclination` [degrees] is that of the orbit, needed for `hot` and `cold` about the Earth.

    The distance from the Sun is the first of: what the entry states (`sunlight` counts as such),
    `of_orbit` [au] as the orbit states it, the season's, `of_date` [au] as the almanac gives it,
    and the body's mean.

    Raises ValueError with a sentence for a name that is neither in the model nor one of `NAMES`,
    for a published pair that is refused, for an entry that states half of such a pair, and for
    what neither the entry nor the body states.
    """
    entry = entries.get(name)
    if entry is None and name not in NAMES:
        raise ValueError(f"unknown environment '{name}'{nearest(name, [*entries, *NAMES])}")
    entry = entry if entry is not None else Environment()
    sunlight, distance = _sunlight(name, entry, body, of_orbit, of_date)
    facts = EnvironmentFacts(
        name=name,
        sunlight=sunlight,
        sun_distance=distance,
        albedo=0.0,
        corrected=False,
        infrared=0.0,
        day_infrared=0.0,
        infrared_height=0.0,
        density=entry.density,
        density_altitude=entry.density_altitude,
        scale_height=entry.scale_height,
        accommodation=1.0 if entry.accommodation is None else entry.accommodation,
        source=entry.note,
    )
    return facts if body is None else _beside(body, facts, entry, inclination)


def _sunlight(
    name: str,
    entry: Environment,
    body: BodyFacts | None,
    of_orbit: float | None,
    of_date: float | None,
) -> tuple[float, float]:
    """Sunlight [W/m2] and distance from the Sun [au]."""
    if entry.sunlight is not None:
        return entry.sunlight, math.sqrt(SOLAR_IRRADIANCE / entry.sunlight)
    distance = entry.sun_distance or of_orbit or _of_season(name, entry, body) or of_date
    if distance is None:
        if body is None:
            raise ValueError(
                f"the environment '{name}' needs `sunlight` or `sun_distance`: no body states it"
            )
        distance = body.stated("sun_distance")
    return SOLAR_IRRADIANCE / distance**2, distance


def _of_season(name: str, entry: Environment, body: BodyFacts | None) -> float | None:
    """Distance from the Sun [au] in the season stated, or that of the name; None for no season."""
    season = entry.season or (name if name in {"hot", "cold"} else None)
    if season is None or body is None:
        return None
    key = {"hot": "least_sun_distance", "cold": "greatest_sun_distance"}.get(season, "sun_distance")
    return body.stated(key)


def _beside(
    body: BodyFacts, facts: EnvironmentFacts, entry: Environment, inclination: float | None
) -> EnvironmentFacts:
    """The environment with the albedo and the infrared of a body, as far as they are not given."""
    pair = _published(body, facts.name, entry, inclination)
    if pair is not None:
        albedo, day, night = pair.albedo, pair.infrared, pair.infrared
    else:
        albedo = body.stated("albedo") if entry.albedo is None else entry.albedo
        day, night = _infrared(body, entry, facts.sun_distance)
    if night > day:
        raise ValueError(
            f"the night side must not emit more than the day side in the environment "
            f"'{facts.name}': give both `day_infrared` and `night_infrared`"
        )
    height = body.infrared_height if entry.infrared_height is None else entry.infrared_height
    corrected = pair is not None if entry.albedo_correction is None else entry.albedo_correction
    taken = _borrowed(body, entry)
    if pair is not None:
        changed = body.source.startswith(CHANGED)
        taken = f"{pair.source}; not the body's own albedo and infrared" if changed else pair.source
    parts = (facts.source, taken)
    return replace(
        facts,
        albedo=albedo,
        corrected=corrected,
        infrared=night,
        day_infrared=day - night,
        infrared_height=height,
        averaging_time=pair.averaging_time if pair else None,
        source="; ".join(part for part in parts if part),
    )


def _published(
    body: BodyFacts, name: str, entry: Environment, inclination: float | None
) -> Pair | None:
    """The published pair, where one is asked for and the entry does not state its own."""
    if body.name != "Earth" or name not in {"hot", "cold"}:
        return None
    glow = (entry.infrared, entry.day_infrared, entry.night_infrared)
    stated = (entry.albedo is not None, any(each is not None for each in glow))
    if all(stated):
        return None
    if any(stated):
        raise ValueError(
            f"the environment '{name}' needs both albedo and infrared, or neither: "
            "the published ones belong together"
        )
    if inclination is None:
        raise ValueError(
            f"the published environment '{name}' depends on an inclination, and none is stated; "
            f"give `albedo` and `infrared` of your own under `environments.{name}`"
        )
    return library_environment(name, inclination)


def _infrared(body: BodyFacts, entry: Environment, distance: float) -> tuple[float, float]:
    """Infrared [W/m2] at the subsolar point and of the night side: the entry's or the body's."""
    if entry.infrared is not None:
        return entry.infrared, entry.infrared
    day, night = entry.day_infrared, entry.night_infrared
    if day is not None and night is not None:
        return day, night
    if body.day_infrared is None and (day, night) != (None, None):
        raise ValueError(
            f"the body '{body.name}' states no day and night side; give both `day_infrared` and "
            "`night_infrared` in the environment"
        )
    of_body = body.infrared_at(distance)
    return of_body[0] if day is None else day, of_body[1] if night is None else night


def _borrowed(body: BodyFacts, entry: Environment) -> str:
    """In words, what the body gives."""
    stated_infrared = entry.infrared is not None or (
        entry.day_infrared is not None and entry.night_infrared is not None
    )
    taken = [] if entry.albedo is not None else ["albedo"]
    taken += [] if stated_infrared else ["infrared"]
    return f"{' and '.join(taken)} of the body {body.name}: {body.source}" if taken else ""


KIND = Kind(section="environments", entry=Environment)
