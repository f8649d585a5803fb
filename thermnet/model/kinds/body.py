"""Bodies: what a spacecraft flies around. The library holds some; a model may change or add."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from pydantic import Field, model_validator

from thermnet.errors import nearest
from thermnet.model.kinds.kind import Kind
from thermnet.model.library.rows import Column, by_name, packaged, read_rows, sources
from thermnet.text.fields import Entry, Text, fault, number, quantity

FILE = "bodies.csv"
POSITIVE = 1e-12
"""Least value of a library cell that must lie above zero."""

COLUMNS = {
    "radius": Column(unit="m", needed=True, least=POSITIVE),
    "gravity": Column(unit="m^3/s^2", needed=True, least=POSITIVE),
    "j2": Column(least=0.0, greatest=1.0),
    "albedo": Column(least=0.0, greatest=1.0),
    "infrared": Column(unit="W/m^2", least=0.0),
    "day_infrared": Column(unit="W/m^2", least=0.0),
    "night_infrared": Column(unit="W/m^2", least=0.0),
    "sun_distance": Column(unit="au", least=POSITIVE),
    "least_sun_distance": Column(unit="au", least=POSITIVE),
    "greatest_sun_distance": Column(unit="au", least=POSITIVE),
    "year": Column(unit="s", least=POSITIVE),
    "solar_day": Column(unit="s", least=POSITIVE),
    "infrared_height": Column(unit="m", least=0.0),
}
"""The columns of the library table, which are the keys of an entry and the fields of the facts."""

INFRARED = ("infrared", "day_infrared", "night_infrared")
DISTANCES = ("sun_distance", "least_sun_distance", "greatest_sun_distance")

Distance = Annotated[float, quantity("au", above=0)]
Flux = Annotated[float, quantity("W/m^2", at_least=0)]


class Body(Entry):
    """A body that differs from the library's of the same name in the keys given, or a new one."""

    radius: Annotated[float, quantity("m", above=0)] | None = Field(
        None, description="radius at the equator; the heat is that of a sphere of this radius"
    )
    gravity: Annotated[float, quantity("m^3/s^2", above=0)] | None = Field(
        None, description="gravitational constant times mass"
    )
    j2: Annotated[float, number(at_least=0, at_most=1)] | None = Field(
        None, description="second zonal harmonic of its gravity, for this radius"
    )
    albedo: Annotated[float, number(at_least=0, at_most=1)] | None = Field(
        None, description="fraction of the sunlight that it reflects, diffusely"
    )
    infrared: Flux | None = Field(None, description="infrared that it emits, the same everywhere")
    day_infrared: Flux | None = Field(
        None,
        description="infrared where the Sun stands overhead, at the mean distance from the Sun; "
        "between there and the night side it goes with the cosine of the Sun's zenith angle",
    )
    night_infrared: Flux | None = Field(None, description="infrared of the night side")
    sun_distance: Distance | None = Field(None, description="mean distance from the Sun")
    least_sun_distance: Distance | None = Field(
        None, description="least distance from the Sun, for the hot season"
    )
    greatest_sun_distance: Distance | None = Field(
        None, description="greatest distance from the Sun, for the cold season"
    )
    year: Annotated[float, quantity("s", above=0)] | None = Field(
        None, description="time of one orbit about the Sun"
    )
    solar_day: Annotated[float, quantity("s", above=0)] | None = Field(
        None, description="mean time from noon to noon"
    )
    infrared_height: Annotated[float, quantity("m", at_least=0)] | None = Field(
        None, description="height above the radius at which albedo and infrared are stated"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _agree(self) -> Body:
        one_law(self)
        distances_in_order(self)
        return self


@dataclass(frozen=True, slots=True, kw_only=True)
class BodyFacts:
    """What is known of a body. SI, but for distances from the Sun [au]; None: nobody states it.

    `radius` [m] at the equator; `gravity` G M [m3/s2]; `j2` for this radius, 0 where unknown;
    `albedo`; `infrared` [W/m2] of a body that emits alike everywhere, or else `day_infrared` at
    the subsolar point at the mean distance from the Sun and `night_infrared`; `sun_distance` mean,
    least and greatest [au]; `year` and `solar_day` [s]; `infrared_height` [m] above the radius at
    which the fluxes are stated; `source` in words.
    """

    name: str
    radius: float
    gravity: float
    j2: float = 0.0
    albedo: float | None = None
    infrared: float | None = None
    day_infrared: float | None = None
    night_infrared: float | None = None
    sun_distance: float | None = None
    least_sun_distance: float | None = None
    greatest_sun_distance: float | None = None
    year: float | None = None
    solar_day: float | None = None
    infrared_height: float = 0.0
    source: str = ""

    def stated(self, field: str) -> float:
        """A number of the body. Raises ValueError with a sentence where nobody states it."""
        value: float | None = getattr(self, field)
        if value is None:
            raise ValueError(
                f"nothing states `{field}` of the body '{self.name}'; give it under `bodies`"
            )
        return value

    def infrared_at(self, distance: float) -> tuple[float, float]:
        """Infrared [W/m2] of the subsolar point and of the night side, `distance` [au] from the
        Sun; the same number twice for a body that emits alike everywhere.

        Where the Sun's zenith angle is z, the body emits night + (day - night) max(0, cos z):
        the balance of a surface that keeps no heat, over the floor of the night side. The day
        side goes with sunlight, by the inverse square of the distance.

        Raises ValueError where nobody states the infrared.
        """
        if self.day_infrared is None:
            infrared = self.stated("infrared")
            return infrared, infrared
        night = self.stated("night_infrared")
        scale = (self.stated("sun_distance") / distance) ** 2
        return max(night, self.day_infrared * scale), night


@functools.cache
def library() -> Mapping[str, BodyFacts]:
    """The bodies of the library by name."""
    rows = by_name(read_rows(packaged(FILE), FILE, COLUMNS), FILE)
    return {
        name: BodyFacts(name=name, source=row.source, **row.numbers) for name, row in rows.items()
    }


BODIES = tuple(library())
"""Names of the bodies of the library."""


def body(name: str, entries: Mapping[str, Body]) -> BodyFacts:
    """The facts of a body: the library's, changed by the keys of the model's entry of that name.

    A law of infrared replaces the other one: an entry with `infrared` drops the library's day and
    night, and one with `day_infrared` drops its uniform value.

    Raises ValueError with a sentence for a name that neither knows, a new body without radius or
    gravity, and values that do not go together.
    """
    known, entry = library().get(name), entries.get(name)
    if known is None and entry is None:
        raise ValueError(f"unknown body '{name}'{nearest(name, [*entries, *library()])}")
    values: dict[str, float] = {}
    if known is not None:
        values = {key: value for key in COLUMNS if (value := getattr(known, key)) is not None}
    source = known.source if known is not None else ""
    if entry is not None:
        own = {key: value for key in COLUMNS if (value := getattr(entry, key)) is not None}
        values = _without_the_other_law(values, own) | own
        source = sources(own, entry.note, source)
    for key in ("radius", "gravity"):
        if key not in values:
            raise ValueError(f"the body '{name}' is not in the library and needs `{key}`")
    facts = BodyFacts(name=name, source=source, **_with_all_distances(values))
    _check(facts)
    return facts


def _without_the_other_law(values: dict[str, float], own: dict[str, float]) -> dict[str, float]:
    dropped: tuple[str, ...] = ()
    if "infrared" in own:
        dropped = ("day_infrared", "night_infrared")
    elif "day_infrared" in own:
        dropped = ("infrared",)
    return {key: value for key, value in values.items() if key not in dropped}


def _with_all_distances(values: dict[str, float]) -> dict[str, float]:
    """A new body's least and greatest distance are its mean one unless stated."""
    if "sun_distance" not in values:
        return values
    mean = values["sun_distance"]
    return {"least_sun_distance": mean, "greatest_sun_distance": mean} | values


def _check(facts: BodyFacts) -> None:
    """Raise ValueError where the model's keys do not go with those of the library."""
    name = facts.name
    if facts.infrared is not None and facts.night_infrared is not None:
        raise ValueError(
            f"the body '{name}' emits alike everywhere; give `day_infrared` with `night_infrared`"
        )
    if (facts.day_infrared is None) != (facts.night_infrared is None):
        raise ValueError(f"the body '{name}' needs both `day_infrared` and `night_infrared`")
    if facts.day_infrared is not None and facts.sun_distance is None:
        raise ValueError(
            f"the body '{name}' needs `sun_distance`: `day_infrared` is stated for that distance"
        )
    stated = [value for key in DISTANCES if (value := getattr(facts, key)) is not None]
    if stated and not _in_order(facts):
        raise ValueError(
            f"the distances of '{name}' from the Sun do not go together; give `sun_distance`, "
            "`least_sun_distance` and `greatest_sun_distance`"
        )


def _in_order(facts: BodyFacts) -> bool:
    mean, least, greatest = (getattr(facts, key) for key in DISTANCES)
    return None not in (mean, least, greatest) and least <= mean <= greatest


def one_law(entry: Entry) -> None:
    """Blame `infrared` of an entry that also states day or night; shared with environments."""
    infrared, day, night = (getattr(entry, key) for key in INFRARED)
    if infrared is not None and (day is not None or night is not None):
        raise fault(
            "infrared", "give either `infrared`, or `day_infrared` with `night_infrared`, not both"
        )
    if day is not None and night is not None and night > day:
        raise fault("night_infrared", "the night side must not emit more than the day side")


def distances_in_order(entry: Body) -> None:
    """Blame a distance from the Sun that lies on the wrong side of another."""
    mean, least, greatest = (getattr(entry, key) for key in DISTANCES)
    if least is not None and mean is not None and least > mean:
        raise fault("least_sun_distance", "must not exceed the mean distance `sun_distance`")
    if greatest is not None and mean is not None and greatest < mean:
        raise fault("greatest_sun_distance", "must not be less than the mean `sun_distance`")
    if least is not None and greatest is not None and greatest < least:
        raise fault("greatest_sun_distance", "must not be less than `least_sun_distance`")


KIND = Kind(section="bodies", entry=Body)
