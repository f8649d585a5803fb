"""Nodes: regions taken as isothermal."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import NodePart, Part
from thermnet.text.fields import Entry, Text, fault, quantity, temperature


class Node(Entry):
    """A node has a heat capacity, or is massless and in balance at each instant."""

    capacity: Annotated[float, quantity("J/K", above=0)] | None = Field(
        None, description="heat capacity; left out only for a massless node"
    )
    massless: bool = Field(False, description="true for a node without heat capacity")
    initial: Annotated[float, temperature()] | None = Field(
        None, description="temperature at the start of a transient whose case says `initial: given`"
    )
    group: Text = Field("", description="subsystem, for diagrams and tables")
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _one_or_the_other(self) -> Node:
        if self.capacity is None and not self.massless:
            raise fault("capacity", "missing key 'capacity' [J/K], or say `massless: true`")
        if self.capacity is not None and self.massless:
            raise fault("massless", "a massless node has no capacity; drop one of the two")
        return self


def expand(name: str, entry: Node, path: str, around: Surroundings) -> tuple[Part, ...]:
    return (NodePart(name=name, capacity=entry.capacity or 0.0, origin=path),)


KIND = Kind(section="nodes", entry=Node, expand=expand)
