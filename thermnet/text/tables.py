"""Tables of many alike entries, in the file or beside it, to the same nodes as written out.

A table has a head row and comma separated rows. A head names a key of the entry, perhaps dotted
(`absorbed.solar.heat`, `operating.0`) and perhaps with the unit of the column's bare numbers
(`conductance [W/K]`). A cell is read as any value of the file is; an empty cell leaves the key
out; a cell in double quotes is text; a line that begins with # is a remark.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Container, Iterable, Iterator
from dataclasses import dataclass, field, replace

from thermnet.errors import Place, Problem
from thermnet.text.side_files import Files
from thermnet.text.tree import (
    IS_NUMBER,
    Broken,
    Head,
    Mapping,
    Node,
    Scalar,
    Sequence,
    described,
    lines_of,
    resolve,
)

KEY = "table"
"""The key of a section, or of an entry, that holds a table."""

FEW = 3
"""Problems of one sort that are shown for a table; the rest are counted."""

_HEAD = re.compile(r"([^\[\]]*?)\s*(?:\[\s*([^\[\]]+?)\s*\])?")
_PART = re.compile(r'(?:^|,)(\s*"(?:[^"]|"")*"\s*(?=,|$)|[^",]*(?=,|$))')


def expand(
    section: str, body: Mapping, files: Files, *, whole: bool = False
) -> tuple[Mapping, list[Problem]]:
    """Write out the tables of a section: its own into entries, those of entries into lists.

    Where `whole`, the tables of entries are left as they are.
    """
    work = _Expansion(section=section, files=files)
    entries = {
        name: (place, node if whole else work.with_lists(node, name))
        for name, (place, node) in body.entries.items()
        if name != KEY
    }
    complete = body.whole
    if KEY in body.entries:
        complete = work.rows_into(entries, *body.entries[KEY]) and complete
    return Mapping(entries, body.place, complete), work.problems


@dataclass(frozen=True, slots=True)
class Line:
    """A line of a table: its cells, and where each begins."""

    file: str
    number: int
    cells: list[tuple[str, int, bool]]
    """Text without surrounding space, column from 1, whether it was in quotes."""

    def place(self, position: int) -> Place:
        return Place(self.file, self.number, self.cells[position][1])

    def node(self, position: int, unit: str) -> Scalar:
        """A cell as a value; a bare number takes the unit of its column."""
        text, column, quoted = self.cells[position]
        place = Place(self.file, self.number, column)
        if quoted:
            return Scalar(text, place, text)
        # A number is left to its unit as it is written; NaN and infinities have no unit.
        bare = unit and IS_NUMBER.fullmatch(text)
        value = f"{text} {unit}" if bare else resolve(text)
        # An empty cell that must stand for something is as good as a written null.
        return Scalar(value, place, text or "~")


@dataclass(frozen=True, slots=True)
class TableColumn:
    """A column: the keys its head leads to, the unit of its bare numbers, the head's place."""

    keys: tuple[str, ...]
    unit: str
    place: Place


class TableError(Exception):
    """A table that cannot be read any further, for a reason at a place."""

    def __init__(self, message: str, place: Place) -> None:
        super().__init__(message)
        self.place = place


@dataclass(slots=True, kw_only=True)
class _Expansion:
    """Expands the tables of one section; collects their problems."""

    section: str
    files: Files
    problems: list[Problem] = field(default_factory=list)

    def rows_into(self, entries: dict[str, tuple[Place, Node]], key: Place, node: Node) -> bool:
        """Add an entry for each row of the section's table; tell whether no name was lost."""
        try:
            columns, lines, complete = self.read(key, node)
            naming = _naming_columns(columns)
        except TableError as error:
            self.report(str(error), error.place)
            return False
        head = Head(columns[0].place, frozenset(column.keys[0] for column in columns))
        forms = _forms(
            (column.keys, at, column)
            for at, column in enumerate(columns)
            if column.keys != ("name",)
        )
        seen: Counter[str] = Counter()
        for line in lines:
            place = line.place(naming[0])
            if len(naming) == 1:
                name = self.given_name(line.node(naming[0], ""), entries)
            else:
                name = _default_name(line, naming, entries, seen)
            if name:
                nodes = ((form, form.node(line)) for form in forms)
                row = {form.key: (form.place, node) for form, node in nodes if node is not None}
                entries[name] = place, Mapping(row, place, head=head)
        return complete

    def given_name(self, cell: Scalar, entries: dict[str, tuple[Place, Node]]) -> str:
        """The name in a cell, "" when it cannot be used, which is reported."""
        if not isinstance(cell.value, str) or not cell.value:
            quotes = f'; put it in quotes: "{cell.text}"' if cell.value is not None else ""
            self.report(f"a name must be text, got {described(cell)}{quotes}", cell.place)
            return ""
        if cell.value in entries:
            first = entries[cell.value][0]
            self.report(f"'{cell.value}' is given twice; first at {first}", cell.place)
            return ""
        return cell.value

    def with_lists(self, node: Node, name: str) -> Node:
        """An entry whose own table, if it has one, became a list for each column."""
        if not isinstance(node, Mapping) or KEY not in node.entries:
            return node
        entries = {key: found for key, found in node.entries.items() if key != KEY}
        try:
            columns, lines, _ = self.read(*node.entries[KEY], name)
        except TableError as error:
            self.report(str(error), error.place, name)
            return replace(node, entries=entries, whole=False)
        for position, column in enumerate(columns):
            key = ".".join(column.keys)
            if key in entries:
                message = f"'{key}' is given twice; first at {entries[key][0]}"
                self.report(message, column.place, name)
                continue
            cells = tuple(line.node(position, column.unit) for line in lines)
            entries[key] = column.place, Sequence(cells, column.place)
        return replace(node, entries=entries)

    def read(
        self, key: Place, node: Node, name: str = ""
    ) -> tuple[list[TableColumn], list[Line], bool]:
        """The columns of a table, its rows, and whether all rows fit. Raises TableError."""
        lines = list(_lines(key, node, self.files))
        if not lines:
            raise TableError("an empty table; it needs a head row", key)
        head, *rows = lines
        columns = [column_under(head, position) for position in range(len(head.cells))]
        check_columns(columns)
        fitting = [row for row in rows if len(row.cells) == len(columns)]
        misfits = [row for row in rows if len(row.cells) != len(columns)]
        for row in misfits[:FEW]:
            at = min(len(columns), len(row.cells) - 1)
            message = f"{counted(len(row.cells), 'cell')} under {counted(len(columns), 'head')}"
            self.report(message, row.place(at), name)
        if len(misfits) > FEW:
            message = f"{len(misfits) - FEW} more rows do not fit the head"
            self.report(message, columns[0].place, name)
        return columns, fitting, not misfits

    def report(self, message: str, place: Place, name: str = "") -> None:
        path = f"{self.section}.{name}" if name else self.section
        self.problems.append(Problem(message=message, path=path, place=place))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Form:
    """A key of a row: filled by a cell with the unit of its column, or by the forms below it."""

    key: str
    place: Place
    cell: int = 0
    unit: str = ""
    below: tuple[_Form, ...] = ()

    def node(self, line: Line) -> Node | None:
        """What a line puts under the key, None for empty cells."""
        if not self.below:
            text, _, quoted = line.cells[self.cell]
            return line.node(self.cell, self.unit) if text or quoted else None
        nodes = [(form, form.node(line)) for form in self.below]
        if all(node is None for _, node in nodes):
            return None
        if all(form.key == str(position) for position, form in enumerate(self.below)):
            # A list keeps its positions: an empty cell in it is a value that is not there.
            nothing = Scalar(None, line.place(0), "~")
            return Sequence(tuple(node or nothing for _, node in nodes), self.place)
        found = {form.key: (form.place, node) for form, node in nodes if node is not None}
        return Mapping(found, self.place)


def _forms(columns: Iterable[tuple[tuple[str, ...], int, TableColumn]]) -> tuple[_Form, ...]:
    """The keys that columns fill, from what is left of their heads, their cell and themselves."""
    groups: dict[str, list[tuple[tuple[str, ...], int, TableColumn]]] = {}
    for keys, at, column in columns:
        groups.setdefault(keys[0], []).append((keys[1:], at, column))
    forms = []
    for key, group in groups.items():
        rest, at, column = group[0]
        below = _forms(group) if rest else ()
        forms.append(_Form(key=key, place=column.place, cell=at, unit=column.unit, below=below))
    return tuple(forms)


def column_under(head: Line, position: int) -> TableColumn:
    """The column under a head such as `conductance [W/K]`."""
    text, place = head.cells[position][0], head.place(position)
    match = _HEAD.fullmatch(text)
    keys = tuple(match[1].split(".")) if match else ()
    if match is None or not all(keys):
        message = f"cannot read the head '{text}'; write a key, perhaps with a unit: mass [kg]"
        raise TableError(message, place)
    return TableColumn(keys, match[2] or "", place)


def _naming_columns(columns: list[TableColumn]) -> tuple[int, ...]:
    """The column of names, or else the two that a default name is made of."""
    keys = [".".join(column.keys) for column in columns]
    if "name" in keys:
        return (keys.index("name"),)
    if "from" in keys and "to" in keys:
        return keys.index("from"), keys.index("to")
    message = "a table without a column 'name' needs the columns 'from' and 'to'"
    raise TableError(message, columns[0].place)


def check_columns(columns: list[TableColumn]) -> None:
    """Refuse two columns for one key, and a column for a key beside one for a key below it."""
    seen: dict[tuple[str, ...], TableColumn] = {}
    for column in columns:
        for keys, other in seen.items():
            short = min(len(keys), len(column.keys))
            if keys[:short] == column.keys[:short]:
                key = ".".join(column.keys)
                message = f"'{key}' is given twice; first at {other.place}"
                raise TableError(message, column.place)
        seen[column.keys] = column


def _default_name(
    line: Line, ends: Iterable[int], entries: Container[str], seen: Counter[str]
) -> str:
    """`from – to`, with a number from the second of its kind on."""
    base = " – ".join(line.cells[at][0] or "?" for at in ends)
    while True:
        seen[base] += 1
        name = base if seen[base] == 1 else f"{base} ({seen[base]})"
        if name not in entries:
            return name


def _lines(key: Place, node: Node, files: Files) -> Iterator[Line]:
    """The lines of a table that hold cells. Raises TableError."""
    file, text, first, offset = text_of(key, node, files)
    for number, line in enumerate(lines_of(text), first):
        if holds_cells(line):
            yield Line(file, number, cells_of(line, offset, Place(file, number, offset + 1)))


def holds_cells(line: str) -> bool:
    """Whether a line of a table is neither empty nor a remark."""
    return bool(line.strip()) and not line.lstrip().startswith("#")


def text_of(key: Place, node: Node, files: Files) -> tuple[str, str, int, int]:
    """The text of a table: its file, itself, its first line and the columns before its content.

    Raises TableError where the node is neither a block nor the name of a file that can be read.
    """
    if isinstance(node, Scalar) and isinstance(node.value, Broken):
        return key.file, "", key.line, 0
    if isinstance(node, Scalar) and isinstance(node.value, str) and node.block is not None:
        return node.place.file, node.value, node.place.line + 1, node.block
    if isinstance(node, Scalar) and str(node.value).lower().endswith(".csv"):
        try:
            return *files.read(str(node.value)), 1, 0
        except ValueError as error:
            raise TableError(str(error), node.place) from None
    if isinstance(node, Scalar) and str(node.value).lower().endswith(".npz"):
        message = f"the arrays of '{node.text}' need an entry of their own: `name: {{table: ...}}`"
        raise TableError(message, node.place)
    wanted = "a block of rows after `table: |`, or a .csv file beside the model"
    raise TableError(f"expected {wanted}, got {described(node)}", key)


def cells_of(line: str, offset: int, place: Place) -> list[tuple[str, int, bool]]:
    """The cells of a line whose first character stands in the column behind `offset`."""
    cells = []
    at = 0
    for part in _parts(line, place):
        text = part.strip()
        quoted = text.startswith('"')
        column = offset + at + len(part) - len(part.lstrip()) + 1
        cells.append((text[1:-1].replace('""', '"') if quoted else text, column, quoted))
        at += len(part) + 1
    return cells


def _parts(line: str, place: Place) -> list[str]:
    """A line taken apart at its commas, not at those within quotes."""
    if '"' not in line:
        return line.split(",")
    parts = [match[1] for match in _PART.finditer(line)]
    if ",".join(parts) != line:
        message = 'quotes must enclose a whole cell; write "" for a quote within'
        raise TableError(message, place)
    return parts


def counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
