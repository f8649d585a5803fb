"""Conduction between two nodes."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import LinkPart, Part
from thermnet.text.fields import Entry, Text, fault, name_of, quantity


class Link(Entry):
    """A conductive link; heat flow counts as positive from `from` to `to`."""

    from_: Annotated[str, name_of("nodes", "boundaries")] = Field(description="one end")
    to: Annotated[str, name_of("nodes", "boundaries")] = Field(description="the other end")
    conductance: Annotated[float, quantity("W/K", above=0)] = Field(
        description="heat flow per temperature difference"
    )
    note: Text = Field("", description="where the number comes from")

    @model_validator(mode="after")
    def _two_ends(self) -> Link:
        if self.from_ == self.to:
            raise fault("to", f"joins '{self.to}' to itself")
        return self


def expand(name: str, entry: Link, path: str, around: Surroundings) -> tuple[Part, ...]:
    return (LinkPart(a=entry.from_, b=entry.to, strength=entry.conductance, origin=path),)


KIND = Kind(section="links", entry=Link, expand=expand)
