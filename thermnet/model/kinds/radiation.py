"""Radiative couplings between two nodes."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import RADIATION, LinkPart, Part
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.text.fields import Entry, Text, fault, name_of, quantity


class Radiation(Entry):
    """A radiative coupling: area times exchange factor, emittances and view included."""

    from_: Annotated[str, name_of("nodes", "boundaries")] = Field(description="one end")
    to: Annotated[str, name_of("nodes", "boundaries")] = Field(description="the other end")
    area: Annotated[float, quantity("m^2", above=0)] = Field(
        description="area times exchange factor; multiplies sigma (T_from^4 - T_to^4)"
    )
    note: Text = Field("", description="where the number comes from")

    @model_validator(mode="after")
    def _two_ends(self) -> Radiation:
        if self.from_ == self.to:
            raise fault("to", f"joins '{self.to}' to itself")
        return self


def expand(name: str, entry: Radiation, path: str, around: Surroundings) -> tuple[Part, ...]:
    strength = STEFAN_BOLTZMANN * entry.area
    return (
        LinkPart(a=entry.from_, b=entry.to, strength=strength, potential=RADIATION, origin=path),
    )


KIND = Kind(section="radiation", entry=Radiation, expand=expand)
