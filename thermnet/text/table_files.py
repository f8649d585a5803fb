"""The columns of a whole table, from text or from arrays: values, and what is wrong in which row.

Text is a block of the file or a CSV file: cells are taken apart and converted by the column, which
costs a hundred times less than by the cell; only a column in which something is amiss is read cell
by cell. Arrays are an NPZ file, read without pickling, in SI units and kelvin.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import repeat
from typing import Any

import numpy as np
from pydantic_core import PydanticCustomError

from thermnet.errors import Place, nearest
from thermnet.text.fields import Given, Number, Temperature, Words
from thermnet.text.rows import Floats, Indices
from thermnet.text.side_files import Files
from thermnet.text.tables import (
    Line,
    TableColumn,
    TableError,
    cells_of,
    check_columns,
    column_under,
    counted,
    holds_cells,
    text_of,
)
from thermnet.text.tree import Node, Scalar, are_text, lines_of, resolve
from thermnet.units import Scale, factor

Kind = Number | Temperature | Words
Array = np.ndarray[Any, Any]
Values = Floats | Indices | list[str]
"""Numbers, whole numbers where names might stand too, or names."""

_UNREADABLE = (
    *(ValueError, OSError, EOFError, KeyError, AttributeError, NotImplementedError, RuntimeError),
    *(zipfile.BadZipFile, zlib.error),
)
"""What numpy and zipfile raise over files that are something else, or broken."""

_ZERO = {"K": 0.0, "degC": 273.15, "°C": 273.15}  # K, by definition of the degree Celsius


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """What is wrong in one row of a column."""

    row: int
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TextTable:
    """A table of text: `columns` by head, and the cells of each as they are written.

    `quotes`: some cell is in quotes, so that what a cell says is not all that counts.
    """

    file: str
    offset: int
    lines: Sequence[str]
    numbers: Sequence[int]
    columns: dict[str, tuple[int, TableColumn]]
    cells: Sequence[Sequence[str]]
    quotes: bool

    @property
    def count(self) -> int:
        return len(self.lines)

    @property
    def place(self) -> Place:
        """Where its head stands."""
        return next(iter(self.columns.values()))[1].place

    def line(self, row: int) -> Line:
        """A row taken apart, with the place of each cell."""
        place = Place(self.file, self.numbers[row], self.offset + 1)
        cells = cells_of(self.lines[row], self.offset, place)
        return Line(self.file, self.numbers[row], cells)

    def where(self, row: int, head: str) -> tuple[Place, str]:
        """The place of a cell, and what a message about it begins with."""
        return self.line(row).place(self.columns[head][0]), ""

    def missing(self, head: str, unit: str) -> str:
        """The message that a column is missing."""
        return f"missing key '{head}'{unit}: the table has no such column"

    def column(self, head: str, kind: Kind, scale: Scale | None) -> tuple[Values, list[Fault]]:
        """The values of a column, and what is wrong with them."""
        at, column = self.columns[head]
        cells = self.cells[at]
        if isinstance(kind, Words):
            if kind.sections and not self.quotes and (whole := _whole_numbers(cells)) is not None:
                return whole, []
            names = list(map(str.strip, cells))
            odd: Sequence[int] = range(self.count) if self.quotes else ()
            if not self.quotes and not are_text(names):
                odd = [k for k, name in enumerate(names) if not isinstance(resolve(name), str)]
            return names, self.faults(at, "", kind, scale, odd)
        values = None if self.quotes else _numbers(cells, column.unit, kind, scale)
        if values is not None:
            return values, self.faults(
                at, column.unit, kind, scale, _outside(kind, values).tolist()
            )
        read = [_read(kind, value, scale) for value in self.values(at, column.unit)]
        wrong = [
            Fault(row=k, message=each) for k, each in enumerate(read) if isinstance(each, Refused)
        ]
        return np.array([0.0 if isinstance(each, str) else each for each in read]), wrong

    def values(self, at: int, unit: str) -> list[object]:
        """The cells of a column one by one, each as a value of the file."""
        return [self.line(row).node(at, unit).value for row in range(self.count)]

    def faults(
        self, at: int, unit: str, kind: Kind, scale: Scale | None, rows: Sequence[int]
    ) -> list[Fault]:
        """What is wrong with the cells of some rows."""
        found = [(row, _read(kind, self.line(row).node(at, unit).value, scale)) for row in rows]
        return [Fault(row=row, message=each) for row, each in found if isinstance(each, Refused)]


@dataclass(frozen=True, slots=True, kw_only=True)
class ArrayFile:
    """An NPZ file; `place` is where the model names it."""

    file: str
    place: Place
    arrays: dict[str, Array]
    count: int

    def where(self, row: int, head: str) -> tuple[Place, str]:
        """The place of the file's name in the model, and where in the file."""
        return self.place, f"{self.file}, row {row}, {head}: "

    def missing(self, head: str, unit: str) -> str:
        """The message that an array is missing."""
        return f"{self.file}: no array '{head}'{unit}{nearest(head, self.arrays)}"

    def column(self, head: str, kind: Kind, _: Scale | None) -> tuple[Values, list[Fault]]:
        """The values of an array, and what is wrong with them. Raises TableError."""
        array = self.arrays[head]
        if array.ndim > 1 or (array.ndim == 1 and len(array) != self.count):
            wanted = f"{counted(self.count, 'value')} in a row, as the others"
            raise self.refused(head, f"expected {wanted}, got the shape {array.shape}")
        array = np.broadcast_to(array, self.count)
        if isinstance(kind, Words):
            if array.dtype.kind == "U":
                names: list[str] = array.tolist()
                return names, []
            if kind.sections and array.dtype.kind in "iu":
                return _positions(array), []
            numbers = ", or whole numbers that count rows" if kind.sections else ""
            raise self.refused(head, f"expected text{numbers}, got {array.dtype}")
        if array.dtype.kind not in "iuf":
            raise self.refused(head, f"expected numbers, got {array.dtype}")
        values = array.astype(np.float64)
        bad = [(row, _read(kind, Given(float(values[row]), "K"), "K"))
               for row in _outside(kind, values).tolist()]  # fmt: skip
        return values, [Fault(row=row, message=str(message)) for row, message in bad]

    def refused(self, head: str, message: str) -> TableError:
        return TableError(f"{self.file}: array '{head}': {message}", self.place)


class Refused(str):
    """Why a value is refused, where text may also be a sound value."""

    __slots__ = ()


def open_table(key: Place, node: Node, files: Files, heads: Sequence[str]) -> TextTable | ArrayFile:
    """The table that a node holds or names; `heads` are those it may have. Raises TableError."""
    named = isinstance(node, Scalar) and node.block is None
    if named and isinstance(node, Scalar) and str(node.value).lower().endswith(".npz"):
        return _array_file(node, files, heads)
    file, text, first, offset = text_of(key, node, files)
    lines = lines_of(text.rstrip())
    numbers: Sequence[int] = range(first, first + len(lines))
    if "#" in text or not all(map(str.strip, lines)):
        kept = [k for k, line in enumerate(lines) if holds_cells(line)]
        lines, numbers = [lines[k] for k in kept], [numbers[k] for k in kept]
    if not lines:
        raise TableError("an empty table; it needs a head row", key)
    start = Place(file, numbers[0], offset + 1)
    head = Line(file, numbers[0], cells_of(lines[0], offset, start))
    columns = [column_under(head, position) for position in range(len(head.cells))]
    check_columns(columns)
    if len(lines) == 1:
        raise TableError("a table with a head row and no rows below it", key)
    table = TextTable(
        file=file,
        offset=offset,
        lines=lines[1:],
        numbers=numbers[1:],
        columns={".".join(column.keys): (at, column) for at, column in enumerate(columns)},
        cells=(),
        quotes='"' in text,
    )
    return _with_cells(table, len(columns))


def _with_cells(table: TextTable, width: int) -> TextTable:
    """The table with its cells by column. Raises TableError at a row that does not fit."""
    if table.quotes:
        rows = [[cell for cell, _, _ in table.line(row).cells] for row in range(table.count)]
        sizes = [len(row) for row in rows]
        flat = [cell for row in rows for cell in row]
    else:
        sizes = [commas + 1 for commas in map(str.count, table.lines, repeat(","))]
        flat = ",".join(table.lines).split(",")
    misfit = next((row for row, size in enumerate(sizes) if size != width), None)
    if misfit is not None:
        found = f"{counted(sizes[misfit], 'cell')} under {counted(width, 'head')}"
        line = table.line(misfit)
        raise TableError(found, line.place(min(width, sizes[misfit] - 1)))
    return replace(table, cells=[flat[at::width] for at in range(width)])


def _array_file(node: Scalar, files: Files, heads: Sequence[str]) -> ArrayFile:
    """The arrays of an NPZ file that are asked for. Raises TableError."""
    file = str(node.value)
    try:
        content = files.read_bytes(file)
    except ValueError as error:
        raise TableError(str(error), node.place) from None
    try:
        with np.load(io.BytesIO(content), allow_pickle=False) as arrays:
            found = {head: arrays[head] for head in arrays.files if head in heads}
            others = [head for head in arrays.files if head not in heads]
    except _UNREADABLE as error:
        message = f"{file}: not an NPZ file of plain arrays ({error})"
        raise TableError(message, node.place) from None
    for head in others:
        # A file may hold more than this entry needs, but not what is nearly a name it takes.
        hint = nearest(head, [each for each in heads if each not in found])
        if "did you mean" in hint:
            raise TableError(f"{file}: unknown array '{head}'{hint}", node.place)
    sizes = [len(array) for array in found.values() if array.ndim > 0]
    return ArrayFile(file=file, place=node.place, arrays=found, count=max(sizes, default=1))


def _whole_numbers(cells: Sequence[str]) -> Indices | None:
    """Cells as whole numbers, None where they are something else."""
    if re.fullmatch(r"[0-9\s+-]+", "".join(cells)) is None:
        return None
    try:
        return _positions(np.array(list(map(int, cells)), dtype=np.int64))
    except (ValueError, OverflowError):
        return None


def _positions(values: Array) -> Indices:
    """Whole numbers as positions; those that no row has stay out of range."""
    return np.clip(values.astype(np.int64), -1, 2**31 - 1).astype(np.int32)


def _numbers(
    cells: Sequence[str], unit: str, kind: Number | Temperature, scale: Scale | None
) -> Floats | None:
    """Cells as numbers in SI, None where some are no plain decimal numbers."""
    joined = "".join(cells)
    if "_" in joined or not joined.isascii():  # which Python's float would let pass
        return None
    try:
        values = np.array(list(map(float, cells)))
        if isinstance(kind, Number):
            return values * factor(unit, kind.unit) if unit and unit != kind.unit else values
        return values + _ZERO[unit or scale or ""]
    except (ValueError, KeyError):
        return None


def _outside(kind: Number | Temperature, values: Floats) -> Indices:
    """The rows whose values are not finite or outside the bounds."""
    sound = np.isfinite(values)
    if isinstance(kind, Temperature):
        return np.flatnonzero(~(sound & (values >= 0.0))).astype(np.int32)
    if kind.above is not None:
        sound &= values > kind.above
    if kind.at_least is not None:
        sound &= values >= kind.at_least
    if kind.below is not None:
        sound &= values < kind.below
    if kind.at_most is not None:
        sound &= values <= kind.at_most
    return np.flatnonzero(~sound).astype(np.int32)


def _read(kind: Kind, value: Any, scale: Scale | None) -> float | str:
    """A single value by its annotation; a message where it is refused."""
    try:
        return kind.convert(value, scale) if isinstance(kind, Temperature) else kind.read(value)
    except PydanticCustomError as error:
        return Refused((error.context or {}).get("message", str(error)))
