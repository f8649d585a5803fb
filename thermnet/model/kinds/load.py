"""Internal dissipation and any other heat given to a node."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import HeatPart, HeatsPart, Part
from thermnet.text.fields import Entry, Text, name_of, number, quantity
from thermnet.text.rows import Column, Rows, columns


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


class Loads(Entry):
    """Heat on many nodes from one table: `heat x scale x schedule`.

    The table is one entry with one path, whatever its length: its `scale` is what cases change.
    """

    table: Annotated[
        Rows,
        columns(
            {
                "node": Column(kind=name_of("nodes"), description="node that takes the heat"),
                "heat": Column(kind=quantity("W"), description="heat; negative when taken out"),
            },
            counted="nodes",
        ),
    ] = Field(description="a row for each; nodes are names, or whole numbers that count rows")
    nodes: Annotated[str, name_of("node tables")] | None = Field(
        None, description="table of nodes whose rows the whole numbers count, from 0"
    )
    schedule: Annotated[str, name_of("schedules")] | None = Field(
        None, description="schedule by which all of it varies"
    )
    scale: Annotated[float, number()] = Field(1.0, description="multiplies the heat")
    note: Text = Field("", description="where the numbers come from")


def expand_table(name: str, entry: Loads, path: str, around: Surroundings) -> tuple[Part, ...]:
    factor, history = around.factor(entry.schedule)
    nodes, at = around.ends(entry.table, entry.nodes)
    amplitude = entry.table.numbers["heat"] * (entry.scale * factor)
    return (
        HeatsPart(nodes=nodes, node=at["node"], amplitude=amplitude, history=history, origin=path),
    )


KIND = Kind(section="loads", entry=Load, expand=expand, table=Loads, expand_table=expand_table)
