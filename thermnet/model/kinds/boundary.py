"""Boundary nodes: imposed temperatures."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import BoundaryPart, Part
from thermnet.text.fields import Entry, Text, difference, fault, name_of, temperature

Kelvin = Annotated[float, temperature()]


class Boundary(Entry):
    """A node whose temperature is imposed: `temperature + swing x schedule`."""

    temperature: Kelvin = Field(description="imposed temperature")
    swing: Annotated[float, difference()] = Field(
        0.0, description="what the schedule's value 1 adds to the temperature"
    )
    schedule: Annotated[str, name_of("schedules")] | None = Field(
        None, description="schedule of the swing"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _swing_needs_a_schedule(self) -> Boundary:
        if self.swing != 0.0 and self.schedule is None:
            raise fault("swing", "a swing needs a schedule")
        return self


def expand(name: str, entry: Boundary, path: str, around: Surroundings) -> tuple[Part, ...]:
    mean, history = around.factor(entry.schedule)
    if history is None:
        return (
            BoundaryPart(
                name=name, temperature=entry.temperature + mean * entry.swing, origin=path
            ),
        )
    return (
        BoundaryPart(
            name=name,
            temperature=entry.temperature,
            swing=entry.swing,
            history=history,
            origin=path,
        ),
    )


KIND = Kind(section="boundaries", entry=Boundary, expand=expand)
