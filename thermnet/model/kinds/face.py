"""Faces of big enclosures, in tables."""

from __future__ import annotations

from typing import Annotated

import numpy as np
from pydantic import Field

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.model.surrounded import Surrounded
from thermnet.text.fields import Entry, Text, Words, name_of, number, quantity
from thermnet.text.rows import Column, Rows, columns


class Faces(Entry):
    """The faces of an enclosure, called by the column `name` or else `cavity 0`, `cavity 1`, ...

    The table is one entry with one path, whatever its length. An entry under `enclosures` says how
    they see each other.
    """

    table: Annotated[
        Rows,
        columns(
            {
                "name": Column(kind=Words(), description="name of each face", needed=False),
                "node": Column(
                    kind=name_of("nodes", "boundaries"),
                    description="node that has the temperature of the face",
                ),
                "area": Column(kind=quantity("m^2", above=0), description="area of the face"),
                "emittance": Column(
                    kind=number(at_least=0, at_most=1),
                    description="hemispherical infrared emittance; 1 for an opening",
                ),
            },
            named=True,
            counted="nodes",
        ),
    ] = Field(description="a row for each face; nodes are names, or whole numbers that count rows")
    nodes: Annotated[str, name_of("node tables")] | None = Field(
        None, description="table of nodes whose rows the whole numbers count, from 0"
    )
    note: Text = Field("", description="where the numbers come from")


def surrounded(entry: Faces, around: Surroundings) -> Surrounded:
    """The faces of a table as arrays. Raises ValueError for one that emits nothing."""
    nodes, at = around.ends(entry.table, entry.nodes)
    emittance = entry.table.numbers["emittance"]
    if not (emittance > 0.0).all():
        name = entry.table.names[int(np.argmin(emittance))]
        raise ValueError(f"the emittance of face '{name}' must be above 0")
    return Surrounded(
        names=entry.table.names,
        nodes=tuple(nodes[k] for k in at["node"]),
        area=entry.table.numbers["area"],
        emittance=emittance,
    )


KIND = Kind(section="faces", entry=Faces, table=Faces)
