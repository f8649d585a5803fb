"""Radiative couplings between two nodes."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.model.tables_by_time import PeriodByTime, ShapeByTime, check_instants, pieces
from thermnet.network.parts import RADIATION, LinkPart, LinksPart, Part
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.text.fields import Entry, Text, fault, name_of, number, quantity
from thermnet.text.rows import Column, Rows, columns


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


class Couplings(Entry):
    """Many radiative couplings from one table.

    The table is one entry with one path, whatever its length: its `scale` is what cases change.
    With a column `time`, rows with the same ends are the history of their coupling.
    """

    table: Annotated[
        Rows,
        columns(
            {
                "from": Column(kind=name_of("nodes", "boundaries"), description="one end"),
                "to": Column(kind=name_of("nodes", "boundaries"), description="the other end"),
                "time": Column(
                    kind=quantity("s", at_least=0),
                    description="instant; rows with the same ends are one history, a repeated "
                    "instant is a jump, and no instant is a constant",
                    needed=False,
                ),
                "area": Column(
                    kind=quantity("m^2", above=0),
                    description="area times exchange factor; by time it may be 0",
                    by_time=quantity("m^2", at_least=0),
                ),
            },
            counted="nodes",
            apart=("from", "to"),
            instants="time",
        ),
    ] = Field(description="a row for each; ends are names, or whole numbers from 0 that count rows")
    nodes: Annotated[str, name_of("node tables")] | None = Field(
        None, description="table of nodes whose rows the whole numbers count"
    )
    shape: ShapeByTime = "linear"
    period: PeriodByTime = None
    scale: Annotated[float, number(above=0)] = Field(1.0, description="multiplies the areas")
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _instants(self) -> Couplings:
        check_instants(self.table, self.shape, self.period)
        return self


def expand_table(name: str, entry: Couplings, path: str, around: Surroundings) -> tuple[Part, ...]:
    nodes, at = around.ends(entry.table, entry.nodes)
    found = pieces(
        entry.table, "area", shape=entry.shape, period=entry.period, timing=around.timing
    )
    return tuple(
        LinksPart(
            nodes=nodes,
            a=at["from"][piece.rows],
            b=at["to"][piece.rows],
            strength=piece.size * (STEFAN_BOLTZMANN * entry.scale),
            potential=RADIATION,
            history=piece.history,
            origin=path,
        )
        for piece in found
    )


KIND = Kind(
    section="radiation", entry=Radiation, expand=expand, table=Couplings, expand_table=expand_table
)
