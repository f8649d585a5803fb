"""Exterior surfaces: they radiate to a sink and absorb sunlight, albedo and planet infrared."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import RADIATION, HeatPart, LinkPart, Part
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.text.fields import Entry, Text, fault, name_of, number, quantity


class AbsorbedHeat(Entry):
    """Heat absorbed by a surface: `heat x schedule`."""

    heat: Annotated[float, quantity("W", at_least=0)] = Field(description="absorbed heat")
    schedule: Annotated[str, name_of("schedules")] | None = Field(
        None, description="schedule by which it varies"
    )


class Absorbed(Entry):
    """Absorbed heat by cause, each with the surface's absorptance and area applied already."""

    solar: AbsorbedHeat | None = Field(None, description="direct sunlight")
    albedo: AbsorbedHeat | None = Field(None, description="sunlight reflected by the planet")
    planet_infrared: AbsorbedHeat | None = Field(None, description="infrared of the planet")


class Surface(Entry):
    """A surface that radiates area x emittance x view to a sink, and absorbs given heat."""

    node: Annotated[str, name_of("nodes")] = Field(description="node of the surface")
    area: Annotated[float, quantity("m^2", above=0)] = Field(description="area")
    emittance: Annotated[float, number(above=0, at_most=1)] = Field(
        description="hemispherical infrared emittance"
    )
    to: Annotated[str, name_of("nodes", "boundaries")] = Field(
        "space", description="sink that it radiates to"
    )
    view: Annotated[float, number(above=0, at_most=1)] = Field(
        1.0, description="fraction of its view that the sink fills"
    )
    absorbed: Absorbed = Field(Absorbed(), description="absorbed heat by cause")
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _two_ends(self) -> Surface:
        if self.node == self.to:
            raise fault("to", f"joins '{self.to}' to itself")
        return self


def expand(name: str, entry: Surface, path: str, around: Surroundings) -> tuple[Part, ...]:
    strength = STEFAN_BOLTZMANN * entry.area * entry.emittance * entry.view
    parts: list[Part] = [
        LinkPart(a=entry.node, b=entry.to, strength=strength, potential=RADIATION, origin=path)
    ]
    for cause in Absorbed.model_fields:
        absorbed: AbsorbedHeat | None = getattr(entry.absorbed, cause)
        if absorbed is not None:
            factor, history = around.factor(absorbed.schedule)
            parts.append(
                HeatPart(
                    node=entry.node,
                    amplitude=absorbed.heat * factor,
                    history=history,
                    origin=f"{path}.absorbed.{cause}",
                )
            )
    return tuple(parts)


KIND = Kind(section="surfaces", entry=Surface, expand=expand)
