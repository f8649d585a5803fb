"""A whole table as one value of an entry: its columns in arrays, under one path.

    class Links(Entry):
        table: Annotated[Rows, columns(
            {"from": Column(name_of("nodes")), "conductance": Column(quantity("W/K", above=0))}
        )]

One entry per row costs an object per row and gives each row a path; a whole table costs a few
arrays, whatever its length, and has one path. Both hold every row to the same annotations.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import PydanticCustomError, core_schema

from thermnet.text.fields import Entry, Number, Temperature, Words, shown, singular

Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
Indices = np.ndarray[tuple[int, ...], np.dtype[np.int32]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ends:
    """Where the rows of a column lead: positions `at` i4[k].

    Where `counted` they count the rows of another table, otherwise they are places in the
    `labels` of the rows.
    """

    at: Indices
    counted: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Runs:
    """Which rows of a table are the points of one history: those with an instant and the same ends.

    `points` i4[p] are the rows with an instant, one history after the other and each in the order
    of the file; history j is `points[begin[j]:begin[j + 1]]`. `constant` are the other rows.
    """

    points: Indices
    begin: Indices
    constant: Indices


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Rows:
    """The rows of a table by column, in SI units and kelvin.

    `numbers` f8[count] and `ends` by column; `labels` are the names that ends lead to, each once;
    `names` those of the rows themselves, where a table has such. `runs` are the histories that
    rows make up, where a table has instants; a row without one has NaN for it.
    """

    count: int
    numbers: Mapping[str, Floats]
    ends: Mapping[str, Ends]
    labels: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    runs: Runs | None = None

    def __repr__(self) -> str:
        heads = ", ".join([*(["name"] if self.names else []), *self.ends, *self.numbers])
        return f"{self.count} rows of {heads}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column of a table: its annotation, what it is, and whether it may be left out.

    `by_time` is the annotation in a table with instants, where it is another.
    """

    kind: Number | Temperature | Words
    description: str
    needed: bool = True
    by_time: Number | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """The columns of a whole table; the annotation of `Rows`.

    `named`: its rows are entries that others refer to, by the column `name` or else as
    `entry 0`, `entry 1`, ... `counted`: the key beside the table that says whose rows integers
    in its ends count. `apart`: two columns whose ends must differ. `instants`: the column by which
    rows with the same ends are points of one history; in it a cell may be empty.
    """

    columns: tuple[tuple[str, Column], ...]
    named: bool = False
    counted: str = ""
    apart: tuple[str, str] | None = None
    instants: str = ""
    unit: str = ""
    expected: str = "a block of rows after `table: |`, or a .csv or .npz file beside the model"

    @property
    def leads_to(self) -> frozenset[str]:
        """The sections that ends of the rows lead to."""
        kinds = (column.kind for _, column in self.columns)
        return frozenset(
            section for kind in kinds if isinstance(kind, Words) for section in kind.sections
        )

    def read(self, value: Any) -> Rows:
        """Let rows pass: they are read and checked before the rest of their entry."""
        if isinstance(value, Rows):
            return value
        message = f"expected {self.expected}, got {shown(value)}"
        raise PydanticCustomError("refused", "{message}", {"message": message})

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {"type": "string"}


def columns(
    by_head: Mapping[str, Column],
    *,
    named: bool = False,
    counted: str = "",
    apart: tuple[str, str] | None = None,
    instants: str = "",
) -> Columns:
    """The annotation of a table with these columns."""
    return Columns(
        columns=tuple(by_head.items()),
        named=named,
        counted=counted,
        apart=apart,
        instants=instants,
    )


def columns_of(entry: type[Entry]) -> Columns:
    """The columns of the table of an entry class. Raises TypeError for a class without one."""
    found = (each for each in entry.model_fields["table"].metadata if isinstance(each, Columns))
    columns = next(found, None)
    if columns is None:
        raise TypeError(f"{entry.__name__} has no columns of a table")
    return columns


def names_of_tables(section: str) -> str:
    """What the whole tables of a section are called together: "node tables" for "nodes"."""
    return f"{singular(section)} tables"


def rows_of(entry: Entry) -> Rows | None:
    """The rows of an entry that stands for a whole table, None for any other."""
    table = entry.__dict__.get("table")
    return table if isinstance(table, Rows) else None
