"""Tables of the library: CSV files whose every row says where its numbers come from."""

from __future__ import annotations

import csv
import functools
import io
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib import resources

HOW_KNOWN = ("read", "second-hand", "from memory", "derived", "common practice")
"""How a number of the library is known: read in the source itself; read in a text that cites or
transcribes the source; from memory of it, not verified; worked out from other numbers; or in
common use without a source. The `source` of a row says at least one of these."""

CHANGED = "the model states"
"""How the source of a row begins that the model has changed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column of numbers: its unit ("" for a pure number) and what its cells may hold."""

    unit: str = ""
    needed: bool = False
    least: float = -math.inf
    greatest: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row: its name, its words by column, and those of its numbers that are not left empty.

    `line` is where it stands in its file, the head being line 1.
    """

    name: str
    source: str
    words: Mapping[str, str]
    numbers: Mapping[str, float]
    line: int

    def number(self, column: str) -> float | None:
        """The number of a column, None where its cell is empty."""
        return self.numbers.get(column)


def read_rows(
    text: str, file: str, columns: Mapping[str, Column], words: tuple[str, ...] = ()
) -> tuple[Row, ...]:
    """The rows of a CSV text with the columns `name` and `source`, and those given, in any order.

    A column's head carries its unit as it stands in `columns`: `radius [m]`. The columns of
    `words` hold text, which may be empty; a cell of a column that is not needed may be empty too.

    Raises ValueError, which names file, line, row and column, for a column that is unknown, missing
    or there twice, a row of another length, a missing name or source, a source that does not say
    how its numbers are known, and a cell that is no number within the bounds of its column.
    """
    lines = csv.reader(io.StringIO(text), strict=True)
    try:
        head = next(lines, [])
        keys = _keys(head, file, columns, ("name", "source", *words))
        return tuple(_row(cells, keys, file, lines.line_num, columns) for cells in lines)
    except csv.Error as error:
        raise ValueError(f"{file}, line {lines.line_num}: {error}") from None


@functools.cache
def packaged(file: str) -> str:
    """The text of a file of the library, which is part of the package."""
    return resources.files("thermnet.model.library").joinpath(file).read_text(encoding="utf-8")


def by_name(rows: tuple[Row, ...], file: str) -> dict[str, Row]:
    """Rows by their name. Raises ValueError where a name comes twice."""
    found: dict[str, Row] = {}
    for row in rows:
        if row.name in found:
            raise ValueError(f"{file}, line {row.line}: '{row.name}' is there already")
        found[row.name] = row
    return found


def named(name: str) -> str:
    """The name in the library of an entry, which a part may have brought in as `part/name`."""
    return name.rpartition("/")[2]


def sources(own: Iterable[str], note: str, known: str) -> str:
    """Where the numbers of a model's own row come from: the keys that it states, the note beside
    them, and the source of the library's row below, each as far as there is one.
    """
    stated = ", ".join(own)
    parts = (f"{CHANGED} {stated}" if stated else "", note, known)
    return "; ".join(part for part in parts if part)


def _keys(
    head: list[str], file: str, columns: Mapping[str, Column], words: tuple[str, ...]
) -> list[str]:
    """The key of each column in the order of the file."""
    known = {_headed(key, column.unit): key for key, column in columns.items()}
    known |= {word: word for word in words}
    for cell in head:
        if cell not in known:
            raise ValueError(
                f"{file}, line 1: unknown column '{cell}'; the columns are {', '.join(known)}"
            )
        if head.count(cell) > 1:
            raise ValueError(f"{file}, line 1: column '{cell}' is there twice")
    missing = [cell for cell in known if cell not in head]
    if missing:
        raise ValueError(f"{file}, line 1: missing column '{missing[0]}'")
    return [known[cell] for cell in head]


def _headed(key: str, unit: str) -> str:
    return f"{key} [{unit}]" if unit else key


def _row(
    cells: list[str], keys: list[str], file: str, line: int, columns: Mapping[str, Column]
) -> Row:
    if len(cells) != len(keys):
        raise ValueError(f"{file}, line {line}: {len(cells)} cells under {len(keys)} columns")
    cell = {key: value.strip() for key, value in zip(keys, cells, strict=True)}
    name, source = cell.pop("name"), cell.pop("source")
    place = f"{file}, line {line}, row '{name}'"
    if not name:
        raise ValueError(f"{place}, column 'name': every row needs a name")
    if not source:
        raise ValueError(f"{place}, column 'source': every row says where its numbers come from")
    if not any(tag in source for tag in HOW_KNOWN):
        raise ValueError(
            f"{place}, column 'source': says not how its numbers are known ({', '.join(HOW_KNOWN)})"
        )
    numbers = {}
    for key, column in columns.items():
        value = _number(cell.pop(key), column, f"{place}, column '{key}'")
        if value is not None:
            numbers[key] = value
    return Row(name=name, source=source, words=cell, numbers=numbers, line=line)


def _number(cell: str, column: Column, place: str) -> float | None:
    if not cell:
        if column.needed:
            raise ValueError(f"{place}: a number is needed here")
        return None
    try:
        value = float(cell)
    except ValueError:
        raise ValueError(f"{place}: expected a number, got '{cell}'") from None
    if not math.isfinite(value) or not column.least <= value <= column.greatest:
        bounds = f"from {column.least:g} to {column.greatest:g}"
        raise ValueError(f"{place}: expected a number {bounds}, got '{cell}'")
    return value
