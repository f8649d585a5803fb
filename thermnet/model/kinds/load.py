"""Internal dissipation and any other heat given to a node."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import HeatPart, Part
from thermnet.text.fields import Entry, Text, name_of, quantity


class Load(Entry):
    """Heat on a node: `heat x schedule`."""

    node: Annotated[str, name_of("nodes")] = Field(description="node that takes the heat")
    heat: Annotated[float, quantity("W")] = Field(description="heat; negative when taken out")
    schedule: Annotated[str, name_of("schedules")] | None = Field(
        None, description="schedule by which it varies"
    )
    note: Text = Field("", description="where the number comes from")


def expand(name: str, entry: Load, path: str, around: Surroundings) -> tuple[Part, ...]:
    factor, history = around.factor(entry.schedule)
    amplitude = entry.heat * factor
    return (HeatPart(node=entry.node, amplitude=amplitude, history=history, origin=path),)


KIND = Kind(section="loads", entry=Load, expand=expand)
