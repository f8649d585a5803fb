"""Internal dissipation and any other heat given to a node."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.by_temperature import ByTemperature, followed
from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.model.tables_by_time import PeriodByTime, ShapeByTime, check_instants, pieces
from thermnet.network.parts import HeatPart, HeatsPart, Part
from thermnet.text.fields import Entry, Text, fault, name_of, number, quantity
from thermnet.text.rows import Column, Rows, columns


class Load(Entry):
    """Heat on a node: `heat x schedule`, times a factor that follows a temperature."""

    node: Annotated[str, name_of("nodes")] = Field(description="node that takes the heat")
    heat: Annotated[float, quantity("W")] = Field(description="heat; negative when taken out")
    schedule: Annotated[str, name_of("schedules")] | None = Field(
        None,
        description="schedule by which it varies; a steady case takes its mean over its period, of "
        "one without a period the first value",
    )
    by_temperature: ByTemperature | None = Field(
        None, description="factor on the heat, over the temperature of a node"
    )
    note: Text = Field("", description="where the number comes from")


def expand(name: str, entry: Load, path: str, around: Surroundings) -> tuple[Part, ...]:
    factor, history = around.factor(entry.schedule)
    amplitude = entry.heat * factor
    curve, sensor = followed(entry.by_temperature, entry.node)
    return (
        HeatPart(
            node=entry.node,
            amplitude=amplitude,
            history=history,
            curve=curve,
            sensor=sensor,
            origin=path,
        ),
    )


class Loads(Entry):
    """Heat on many nodes from one table: `heat x scale x schedule`, or by time `heat x scale`.

    The table is one entry with one path, whatever its length: its `scale` is what cases change.
    With a column `time`, rows with the same node are its history.
    """

    table: Annotated[
        Rows,
        columns(
            {
                "node": Column(kind=name_of("nodes"), description="node that takes the heat"),
                "time": Column(
                    kind=quantity("s", at_least=0),
                    description="instant; rows with the same node are its history, a repeated "
                    "instant is a jump, and no instant is a constant",
                    needed=False,
                ),
                "heat": Column(kind=quantity("W"), description="heat; negative when taken out"),
            },
            counted="nodes",
            instants="time",
        ),
    ] = Field(description="a row for each; nodes are names, or whole numbers that count rows")
    nodes: Annotated[str, name_of("node tables")] | None = Field(
        None, description="table of nodes whose rows the whole numbers count, from 0"
    )
    schedule: Annotated[str, name_of("schedules")] | None = Field(
        None, description="schedule by which all of it varies; not for a table by time"
    )
    shape: ShapeByTime = "linear"
    period: PeriodByTime = None
    scale: Annotated[float, number()] = Field(1.0, description="multiplies the heat")
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _instants(self) -> Loads:
        check_instants(self.table, self.shape, self.period)
        if self.schedule is not None and self.table.runs is not None:
            raise fault("schedule", "a table by time follows no schedule as well")
        return self


def expand_table(name: str, entry: Loads, path: str, around: Surroundings) -> tuple[Part, ...]:
    factor, history = around.factor(entry.schedule)
    nodes, at = around.ends(entry.table, entry.nodes)
    found = pieces(
        entry.table, "heat", shape=entry.shape, period=entry.period, timing=around.timing
    )
    return tuple(
        HeatsPart(
            nodes=nodes,
            node=at["node"][piece.rows],
            amplitude=piece.size * (entry.scale * factor),
            history=history if piece.history is None else piece.history,
            origin=path,
        )
        for piece in found
    )


KIND = Kind(section="loads", entry=Load, expand=expand, table=Loads, expand_table=expand_table)
