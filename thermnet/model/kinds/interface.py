"""Interfaces: where a model is joined to what carries it."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import BoundaryPart, NodePart, Part
from thermnet.text.fields import Entry, Text, temperature

Kelvin = Annotated[float, temperature()]

COUNTS = {"interfaces": "nodes"}
"""Interfaces may be named wherever nodes may."""


class Interface(Entry):
    """A place at which a model is held: at a given temperature while it is solved alone.

    Where the model is brought into another as a part it has no temperature of its own: it is a
    massless node, and links of the other model say what it is joined to.
    """

    temperature: Kelvin | None = Field(
        None, description="temperature while the model is solved alone, where it is needed"
    )
    note: Text = Field("", description="where the number comes from")


def joined(entry: Interface) -> Interface:
    """The interface of a part within its host: its temperature is what the host makes of it."""
    return Interface.model_construct(note=entry.note)


def expand(name: str, entry: Interface, path: str, around: Surroundings) -> tuple[Part, ...]:
    if entry.temperature is None:
        return (NodePart(name=name, capacity=0.0, origin=path),)
    return (BoundaryPart(name=name, temperature=entry.temperature, origin=path),)


KIND = Kind(section="interfaces", entry=Interface, expand=expand)
