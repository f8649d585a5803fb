"""Analysis cases: what is changed, how it is solved, and how it is shown."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from thermnet.model.kinds.environment import NAMES as ENVIRONMENTS
from thermnet.model.kinds.kind import Kind
from thermnet.text.fields import (
    Entry,
    Text,
    anything,
    count,
    fault,
    name_of,
    number,
    quantity,
)


class Scale(Entry):
    """Multiplies the value that is there."""

    scale: Annotated[float, number()] = Field(description="factor")


class Offset(Entry):
    """Is added to the value that is there; a temperature's is a difference."""

    offset: Annotated[object, anything()] = Field(description="what is added, in the key's unit")


class Case(Entry):
    """One case, on top of the case that it extends."""

    title: Text = Field("", description="how it is called in figures and tables")
    extends: Annotated[str, name_of("cases")] | None = Field(
        None, description="case whose settings and values come first"
    )
    solve: Literal["steady", "transient", "repeating"] | None = Field(
        None, description="kind of solve; steady unless stated"
    )
    period: Annotated[float, quantity("s", above=0)] | None = Field(
        None, description="period of a repeating case; by default that of its orbit"
    )
    revolutions: Annotated[int, count(at_least=1)] | None = Field(
        None,
        description="orbits, or days at a site, in the period of a repeating case; 1 unless stated",
    )
    duration: Annotated[float, quantity("s", above=0)] | None = Field(
        None, description="length of a transient case"
    )
    initial: Literal["steady", "given"] | None = Field(
        None, description="start of a transient: the steady state of the mean heat, or the nodes'"
    )
    after: Annotated[str, name_of("cases")] | None = Field(
        None, description="start of a transient: the end of this other case, instead of `initial`"
    )
    kind: Literal["hot", "cold", "survival", "other"] | None = Field(
        None, description="how its range is drawn"
    )
    life: Literal["beginning of life", "end of life"] | None = Field(
        None, description="age of the finishes"
    )
    orbit: Annotated[str, name_of("orbits", also=("none",))] | None = Field(
        None, description="orbit that it flies; `none` where there is no Sun, as in a test"
    )
    site: Annotated[str, name_of("sites")] | None = Field(
        None, description="place on a body's surface, instead of an orbit"
    )
    pointing: Annotated[str, name_of("pointings")] | None = Field(
        None, description="how the body's axes stand"
    )
    environment: Annotated[str, name_of("environments", also=ENVIRONMENTS)] | None = Field(
        None, description="how bright Sun and planet are; `hot`, `cold` and `mean` are known"
    )
    blankets: Literal["low", "nominal", "high", "both"] | None = Field(
        None,
        description="which bound of every blanket is used; `both` makes two cases of this one, and "
        "the margins name the one that governs",
    )
    atmosphere: Annotated[str, name_of("atmospheres", also=("none",))] | None = Field(
        None, description="gas between the layers of blankets; `none` in a vacuum, as by default"
    )
    mode: Annotated[str, name_of("modes")] | None = Field(
        None, description="mode that the spacecraft is in all along"
    )
    timeline: Annotated[str, name_of("timelines")] | None = Field(
        None, description="modes and pointings one after another, instead of one mode"
    )
    bus_voltage: (
        Annotated[float, quantity("V", above=0)] | Literal["low", "nominal", "high"] | None
    ) = Field(
        None,
        description="bus voltage, or which of the model's: the power of heaters goes with it",
    )
    sunlit: Annotated[str, name_of("schedules")] | None = Field(
        None,
        description="schedule that is zero in shadow, for the shading in figures of a case "
        "without an orbit",
    )
    set: dict[str, Annotated[object, anything()] | Scale | Offset] = Field(
        {}, description="values by path; a path may hold `*`, the most specific path wins"
    )

    @model_validator(mode="after")
    def _complete(self) -> Case:
        flies = self.orbit not in (None, "none") or self.site is not None
        if self.orbit is not None and self.site is not None:
            raise fault("site", "a case is in an orbit or at a site, not both")
        if self.mode is not None and self.timeline is not None:
            raise fault("mode", "a case is in one mode or follows a timeline, not both")
        if self.blankets is not None and "blankets.*.use" in self.set:
            raise fault("blankets", "is changed by 'set' already: drop one of the two")
        if self.after is not None and self.initial is not None:
            raise fault("after", "the start is stated by 'initial' already: drop one of the two")
        if self.after is not None and self.solve in ("steady", "repeating"):
            raise fault("after", f"belongs to a transient case, not to a {self.solve} one")
        if self.revolutions is not None and self.period is not None:
            raise fault("revolutions", "the period is stated: drop one of the two")
        if self.revolutions is not None and self.solve in ("steady", "transient"):
            raise fault("revolutions", f"belongs to a repeating case, not to a {self.solve} one")
        flies = flies or self.timeline is not None
        without = self.extends is None and self.period is None and not flies
        if self.solve == "repeating" and without:
            raise fault(
                "period", "missing key 'period' [s]: a repeating case needs one, or an orbit"
            )
        lasts = self.duration is not None or self.timeline is not None
        if self.extends is None and self.solve == "transient" and not lasts:
            raise fault("duration", "missing key 'duration' [s]: a transient case needs one")
        return self


KIND = Kind(section="cases", entry=Case)
