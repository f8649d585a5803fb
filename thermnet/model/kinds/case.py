"""Analysis cases: what is changed, how it is solved, and how it is shown."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind
from thermnet.text.fields import (
    Entry,
    Text,
    anything,
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
        None, description="period of a repeating case"
    )
    duration: Annotated[float, quantity("s", above=0)] | None = Field(
        None, description="length of a transient case"
    )
    initial: Literal["steady", "given"] | None = Field(
        None, description="start of a transient: the steady state of the mean heat, or the nodes'"
    )
    kind: Literal["hot", "cold", "survival", "other"] | None = Field(
        None, description="how its range is drawn"
    )
    life: Text = Field("", description="beginning or end of life, for titles")
    bus_voltage: Annotated[float, quantity("V", above=0)] | None = Field(
        None, description="bus voltage; scales the power of heaters with a rated voltage"
    )
    sunlit: Annotated[str, name_of("schedules")] | None = Field(
        None, description="schedule that is zero in shadow, for the shading in figures"
    )
    set: dict[str, Annotated[object, anything()] | Scale | Offset] = Field(
        {}, description="values by path; a path may hold `*`, the most specific path wins"
    )

    @model_validator(mode="after")
    def _complete(self) -> Case:
        if self.extends is None and self.solve == "repeating" and self.period is None:
            raise fault("period", "missing key 'period' [s]: a repeating case needs one")
        if self.extends is None and self.solve == "transient" and self.duration is None:
            raise fault("duration", "missing key 'duration' [s]: a transient case needs one")
        return self


KIND = Kind(section="cases", entry=Case)
