"""Orbits: where the spacecraft flies, and where the Sun stands."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Literal

from pydantic import Field, model_validator

from thermnet.model.kinds.body import BODIES
from thermnet.model.kinds.kind import Kind
from thermnet.text.fields import Entry, Text, fault, name_of, number, quantity

SHAPES = (
    ("altitude",),
    ("lowest_altitude", "highest_altitude"),
    ("semi_major_axis", "eccentricity"),
)
"""The ways to state the size and shape of an orbit: circular, by both ends, or by its elements."""


FIRST_YEAR, LAST_YEAR = 1950, 2050
"""Years in which the formula of the Sun's position holds (thermnet.physics.sun)."""


class Orbit(Entry):
    """A Kepler orbit about a body, and the Sun: by `beta`, or by the orbit's node and a date.

    Without a body it is a flight at a distance from the Sun, where nothing else counts.
    """

    body: Annotated[str, name_of("bodies", also=("none", *BODIES))] = Field(
        "Earth", description="body that it goes around; `none` between the planets"
    )
    altitude: Annotated[float, quantity("m", above=0)] | None = Field(
        None, description="height of a circular orbit above the body's radius"
    )
    lowest_altitude: Annotated[float, quantity("m", above=0)] | None = Field(
        None, description="height of the lowest point of an ellipse"
    )
    highest_altitude: Annotated[float, quantity("m", above=0)] | None = Field(
        None, description="height of the highest point of an ellipse"
    )
    semi_major_axis: Annotated[float, quantity("m", above=0)] | None = Field(
        None, description="half the long axis of an ellipse, from the body's centre"
    )
    eccentricity: Annotated[float, number(at_least=0)] | None = Field(
        None, description="eccentricity, with `semi_major_axis`"
    )
    inclination: (
        Annotated[float, quantity("deg", at_least=0, at_most=180)]
        | Literal["sun-synchronous"]
        | None
    ) = Field(None, description="angle to the body's equator; not needed with `beta`")
    node: Annotated[float, quantity("deg")] | None = Field(
        None, description="right ascension of the ascending node"
    )
    local_time_of_node: Annotated[float, quantity("s", at_least=0, below=86400)] | None = Field(
        None, description="mean local time of the ascending node (`10.5 h`), instead of `node`"
    )
    periapsis: Annotated[float, quantity("deg")] = Field(
        0.0,
        description="angle from the ascending node to the lowest point, along the motion; "
        "with `beta`, from orbit noon",
    )
    date: Text = Field("", description="when the case is, `2026-07-04` or with `12:30` (UTC)")
    node_date: Text = Field(
        "",
        description="when the node and periapsis stand as stated; by default `date`, from where "
        "they drift by the body's flattening (J2)",
    )
    beta: Annotated[float, quantity("deg", at_least=-90, at_most=90)] | None = Field(
        None,
        description="angle of the Sun above the orbit's plane; stands above node and date, so "
        "that a scan can set it",
    )
    sun_distance: Annotated[float, quantity("au", above=0)] | None = Field(
        None,
        description="distance from the Sun; stands above that of the season, the date and the "
        "body, but not above what the environment states",
    )
    start: Literal["noon", "midnight", "periapsis", "ascending node"] = Field(
        "noon", description="where the time of the case begins; `noon` is nearest to the Sun"
    )
    shadow: Literal["cone", "cylinder"] = Field(
        "cone", description="with penumbra and umbra, or as if the Sun were a point far away"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _complete(self) -> Orbit:
        if self.body == "none":
            return self._between_planets()
        if self.body == "Sun":
            raise fault("body", "about the Sun say `body: none`, with the 'sun_distance'")
        self._shape()
        if self.eccentricity is not None and self.eccentricity >= 1.0:
            raise fault(
                "eccentricity",
                "must be below 1, or the path does not close; describe a flyby as a transient "
                "case whose heat is given in `absorbed` with schedules",
            )
        low, high = self.lowest_altitude, self.highest_altitude
        if low is not None and high is not None and low > high:
            raise fault("lowest_altitude", f"is above the highest of {high / 1000:g} km; swap them")
        for key in ("date", "node_date"):
            text = getattr(self, key)
            try:
                year = instant_of(text or "2000-01-01").year
            except (ValueError, OverflowError):
                message = f"expected a date such as '2026-07-04', got '{text}'"
                raise fault(key, message) from None
            if not FIRST_YEAR <= year <= LAST_YEAR:
                message = (
                    f"the Sun's place is known from {FIRST_YEAR} to {LAST_YEAR}, not in {year}"
                )
                raise fault(key, message)
        self._sun()
        return self

    def _shape(self) -> None:
        given = [key for way in SHAPES for key in way if getattr(self, key) is not None]
        if tuple(given) in SHAPES:
            return
        for way in SHAPES:
            if given and set(given) < set(way):
                missing = next(key for key in way if key not in given)
                raise fault(missing, f"missing key '{missing}': it goes with '{given[0]}'")
        ways = ", or ".join(" and ".join(f"'{key}'" for key in way) for way in SHAPES)
        if not given:
            raise fault("altitude", f"missing the size of the orbit: give {ways}")
        raise fault(given[-1], f"one way to state the size, not several: give {ways}")

    def _sun(self) -> None:
        nodes = [k for k in ("node", "local_time_of_node") if getattr(self, k) is not None]
        if len(nodes) > 1:
            raise fault("local_time_of_node", "give either this or 'node', not both")
        if self.beta is not None:
            return
        wanted = {
            "inclination": self.inclination is not None,
            "node": bool(nodes),
            "date": bool(self.date),
        }
        if missing := [key for key, there in wanted.items() if not there]:
            raise fault(
                missing[0],
                "where the Sun stands is open: give 'beta', or 'inclination', 'node' (or "
                "'local_time_of_node') and 'date'",
            )

    def _between_planets(self) -> Orbit:
        if self.sun_distance is None:
            raise fault("sun_distance", "missing key 'sun_distance': there is no body here")
        fitting = {"body", "sun_distance", "note"}
        for key in self.model_fields_set - fitting:
            if getattr(self, key) not in (None, ""):
                raise fault(key, "needs a body to go around; `body: none` has a Sun only")
        return self


def instant_of(text: str) -> datetime:
    """A date, perhaps with a time of day, in UTC. Raises ValueError for text that is none."""
    found = datetime.fromisoformat(text)
    if found.tzinfo is None:
        return found.replace(tzinfo=UTC)
    return found.astimezone(UTC)


KIND = Kind(section="orbits", entry=Orbit)
