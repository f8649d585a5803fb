"""Conduction between two nodes."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.by_temperature import ByTemperature, followed
from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import LinkPart, LinksPart, Part
from thermnet.text.fields import Entry, Text, fault, name_of, number, quantity
from thermnet.text.rows import Column, Rows, columns


class Link(Entry):
    """A conductive link; heat flow counts as positive from `from` to `to`."""

    from_: Annotated[str, name_of("nodes", "boundaries")] = Field(description="one end")
    to: Annotated[str, name_of("nodes", "boundaries")] = Field(description="the other end")
    conductance: Annotated[float, quantity("W/K", above=0)] = Field(
        description="heat flow per temperature difference"
    )
    by_temperature: ByTemperature | None = Field(
        None, description="factor on the conductance, over the temperature of a node"
    )
    lost: bool = Field(False, description="true for one that has failed: it conducts nothing")
    note: Text = Field("", description="where the number comes from")

    @model_validator(mode="after")
    def _two_ends(self) -> Link:
        if self.from_ == self.to:
            raise fault("to", f"joins '{self.to}' to itself")
        if self.by_temperature is not None and self.by_temperature.node is None:
            raise fault("by_temperature.node", "missing key 'node': whose temperature counts?")
        return self


def expand(name: str, entry: Link, path: str, around: Surroundings) -> tuple[Part, ...]:
    # A lost link keeps its place in the network, so that the account says that it carries nothing.
    strength = 0.0 if entry.lost else entry.conductance
    curve, sensor = followed(entry.by_temperature, "")
    return (
        LinkPart(
            a=entry.from_, b=entry.to, strength=strength, curve=curve, sensor=sensor, origin=path
        ),
    )


class Links(Entry):
    """Many conductive links from one table.

    The table is one entry with one path, whatever its length: its `scale` is what cases change.
    """

    table: Annotated[
        Rows,
        columns(
            {
                "from": Column(kind=name_of("nodes", "boundaries"), description="one end"),
                "to": Column(kind=name_of("nodes", "boundaries"), description="the other end"),
                "conductance": Column(
                    kind=quantity("W/K", above=0),
                    description="heat flow per temperature difference",
                ),
            },
            counted="nodes",
            apart=("from", "to"),
        ),
    ] = Field(description="a row for each; ends are names, or whole numbers from 0 that count rows")
    nodes: Annotated[str, name_of("node tables")] | None = Field(
        None, description="table of nodes whose rows the whole numbers count"
    )
    scale: Annotated[float, number(above=0)] = Field(1.0, description="multiplies the conductances")
    lost: bool = Field(False, description="true where all have failed: they conduct nothing")
    note: Text = Field("", description="where the numbers come from")


def expand_table(name: str, entry: Links, path: str, around: Surroundings) -> tuple[Part, ...]:
    nodes, at = around.ends(entry.table, entry.nodes)
    strength = entry.table.numbers["conductance"] * (0.0 if entry.lost else entry.scale)
    part = LinksPart(nodes=nodes, a=at["from"], b=at["to"], strength=strength, origin=path)
    return (part,)


KIND = Kind(section="links", entry=Link, expand=expand, table=Links, expand_table=expand_table)
