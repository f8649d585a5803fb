"""Nodes: regions taken as isothermal."""

from __future__ import annotations

from typing import Annotated

import numpy as np
from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import NodePart, NodesPart, Part
from thermnet.text.fields import Entry, Text, Words, fault, number, quantity, temperature
from thermnet.text.rows import Column, Floats, Rows, columns


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


class Nodes(Entry):
    """Many nodes from one table, called by its column `name` or else `deck 0`, `deck 1`, ...

    The table is one entry with one path, whatever its length: its `scale` is what cases change.
    """

    table: Annotated[
        Rows,
        columns(
            {
                "name": Column(kind=Words(), description="name of each node", needed=False),
                "capacity": Column(
                    kind=quantity("J/K", at_least=0),
                    description="heat capacity; 0 for a massless node",
                ),
                "initial": Column(
                    kind=temperature(), description="temperature at the start", needed=False
                ),
            },
            named=True,
        ),
    ] = Field(description="a row for each node")
    scale: Annotated[float, number(above=0)] = Field(1.0, description="multiplies the capacities")
    initial: Annotated[float, temperature()] | None = Field(
        None, description="temperature at the start of all, where the table has no such column"
    )
    group: Text = Field("", description="subsystem, for diagrams and tables")
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _one_start(self) -> Nodes:
        if self.initial is not None and "initial" in self.table.numbers:
            raise fault("initial", "the table has a column 'initial'; drop one of the two")
        return self


def initial_of(entry: Nodes) -> Floats | None:
    """First temperatures f8[k] [K] of the nodes of a table, None where none are stated."""
    if entry.initial is not None:
        return np.full(entry.table.count, entry.initial)
    return entry.table.numbers.get("initial")


def expand_table(name: str, entry: Nodes, path: str, around: Surroundings) -> tuple[Part, ...]:
    capacity = entry.table.numbers["capacity"] * entry.scale
    return (NodesPart(names=entry.table.names, capacity=capacity, origin=path),)


KIND = Kind(section="nodes", entry=Node, expand=expand, table=Nodes, expand_table=expand_table)
