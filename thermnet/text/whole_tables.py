"""A whole table to `Rows`: its columns checked, its names numbered, its references looked up."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from thermnet.errors import Place, Problem, nearest
from thermnet.text.explain import fault_of_name
from thermnet.text.fields import Words
from thermnet.text.instants import faults_of_instants, faults_of_order, runs_of
from thermnet.text.rows import Column, Columns, Ends, Floats, Rows
from thermnet.text.side_files import Files
from thermnet.text.table_files import ArrayFile, Fault, Kind, TextTable, Values, open_table
from thermnet.text.tables import FEW, TableError
from thermnet.text.tree import Node
from thermnet.units import Scale


@dataclass(slots=True, kw_only=True)
class WholeTable:
    """The table of the entry `name` of a section, with the problems of its rows.

    `rows` are as far as they can be read: of use only without problems. None where it is not even
    known which rows there are.
    """

    section: str
    name: str
    columns: Columns
    key: Place
    rows: Rows | None = None
    source: TextTable | ArrayFile | None = None
    problems: list[Problem] = field(default_factory=list)

    def report(self, message: str, place: Place) -> None:
        path = f"{self.section}.{self.name}"
        self.problems.append(Problem(message=message, path=path, place=place))

    def report_rows(self, head: str, faults: Sequence[Fault]) -> None:
        """Report the first few rows in which something is wrong with a column."""
        if self.source is None:
            return
        for fault in faults[:FEW]:
            place, before = self.source.where(fault.row, head)
            self.report(f"{before}{fault.message}", place)
        if len(faults) > FEW:
            message = f"{len(faults) - FEW} more such problems in the column '{head}'"
            self.report(message, self.source.place)

    def look_up(self, names: Mapping[str, Collection[str]], unsure: Collection[str]) -> None:
        """Report ends that lead to no entry of their sections."""
        rows = self.rows
        for head, column in self.columns.columns:
            kind = column.kind
            if rows is None or head not in rows.ends or not isinstance(kind, Words):
                continue
            if rows.ends[head].counted or any(section in unsure for section in kind.sections):
                continue
            known = [names[section] for section in kind.sections if section in names]
            lost = set(rows.labels).difference(*known)
            if not lost:
                continue
            # Each name once, in the row that it is met in first.
            labels, first = np.unique(rows.ends[head].at, return_index=True)
            met = sorted((int(row), rows.labels[k]) for k, row in zip(labels, first, strict=True))
            bad = [(row, name) for row, name in met if name in lost]
            valid = [name for section in known for name in section]
            self.report_rows(head, [
                Fault(row=row, message=_unknown(kind, name, valid, k < FEW))
                for k, (row, name) in enumerate(bad)
            ])  # fmt: skip

    def count_in(self, table: str | None, size: int) -> None:
        """Report ends that count beyond the rows of the table that the entry names, if any."""
        for head, end in () if self.rows is None else self.rows.ends.items():
            if not end.counted:
                continue
            if table is None:
                key = self.columns.counted
                message = f"missing key '{key}': whole numbers in '{head}' count rows; of which?"
                self.report(message, self.key)
                break
            bad = np.flatnonzero((end.at < 0) | (end.at >= size))
            last = f"'{table}' ends with row {size - 1}" if size else f"'{table}' has no rows"
            self.report_rows(head, [
                Fault(row=int(row), message=f"no row {end.at[row]}: {last}") for row in bad
            ])  # fmt: skip


def read_table(
    section: str,
    name: str,
    columns: Columns,
    key: Place,
    node: Node,
    files: Files,
    scale: Scale | None,
) -> WholeTable:
    """Read the table under the key of an entry, without looking up what it refers to."""
    table = WholeTable(section=section, name=name, columns=columns, key=key)
    heads = [head for head, _ in columns.columns]
    try:
        table.source = open_table(key, node, files, heads)
        table.rows = _rows(table, table.source, scale)
    except TableError as error:
        table.report(str(error), error.place)
    return table


def _rows(table: WholeTable, source: TextTable | ArrayFile, scale: Scale | None) -> Rows | None:
    """The rows as far as they can be read, None without their names. Raises TableError."""
    numbers: dict[str, Floats] = {}
    ends: dict[str, Ends] = {}
    names: list[str] = []
    position: dict[str, int] = {}
    present = set(_present(table, source))
    for head, column in table.columns.columns:
        if head not in present:
            continue
        kind = _kind(column, by_time=table.columns.instants in present)
        values = _values(table, source, head, kind, scale)
        if values is None and isinstance(column.kind, Words) and not column.kind.sections:
            return None
        if values is None:
            continue
        if not isinstance(column.kind, Words):
            numbers[head] = np.asarray(values, dtype=np.float64)
        elif not column.kind.sections:
            names = list(map(str, values))
        elif isinstance(values, list):
            together = dict.fromkeys([*position, *values])
            position = dict(zip(together, range(len(together)), strict=True))
            places = list(map(position.__getitem__, values))
            ends[head] = Ends(at=np.array(places, dtype=np.int32), counted=False)
        else:
            ends[head] = Ends(at=values.astype(np.int32), counted=True)
    if table.columns.named and not names:
        names = [f"{table.name} {k}" for k in range(source.count)]
    rows = Rows(
        count=source.count,
        numbers=numbers,
        ends=ends,
        labels=tuple(position),
        names=tuple(names),
    )
    if table.columns.apart is not None and all(head in ends for head in table.columns.apart):
        _check_apart(table, rows, *table.columns.apart)
    return _with_runs(table, rows)


def _kind(column: Column, *, by_time: bool) -> Kind:
    """The annotation of a column, in a table with or without instants."""
    return column.by_time if by_time and column.by_time is not None else column.kind


def _values(
    table: WholeTable, source: TextTable | ArrayFile, head: str, kind: Kind, scale: Scale | None
) -> Values | None:
    """The values of a column, None when something is wrong with it, which is reported."""
    try:
        read = _instants if head == table.columns.instants else _column
        values, faults = read(source, head, kind, scale)
    except TableError as error:
        table.report(str(error), error.place)
        return None
    if isinstance(values, list) and isinstance(kind, Words) and not kind.sections:
        faults = faults or list(_faults_of_names(values))
    table.report_rows(head, faults)
    return None if faults else values


def _column(
    source: TextTable | ArrayFile, head: str, kind: Kind, scale: Scale | None
) -> tuple[Values, list[Fault]]:
    return source.column(head, kind, scale)


def _instants(
    source: TextTable | ArrayFile, head: str, kind: Kind, scale: Scale | None
) -> tuple[Floats, list[Fault]]:
    """The instants of rows and what is wrong with them; NaN where a cell is empty, or NaN."""
    blank: list[int] = []
    if isinstance(source, TextTable):
        at, _ = source.columns[head]
        blank = [row for row, cell in enumerate(source.cells[at]) if not cell.strip()]
        if blank:  # zeros for a while: only what are all numbers is read by the column
            cells = list(source.cells)
            cells[at] = [cell if cell.strip() else "0" for cell in source.cells[at]]
            source = replace(source, cells=cells)
    found, faults = source.column(head, kind, scale)
    values = np.array(found, dtype=np.float64)
    values[blank] = np.nan
    return values, [fault for fault in faults if not np.isnan(values[fault.row])]


def _with_runs(table: WholeTable, rows: Rows) -> Rows:
    """The rows with the histories that they make up, whose instants are checked, if any."""
    time = rows.numbers.get(table.columns.instants)
    heads = [head for head, column in table.columns.columns
             if isinstance(column.kind, Words) and column.kind.sections]  # fmt: skip
    if time is None or not all(head in rows.ends for head in heads):
        return rows
    ends = [rows.ends[head] for head in heads]
    table.report_rows(table.columns.instants, list(faults_of_instants(rows, ends, time)))
    if len(heads) == 2:
        table.report_rows(heads[1], list(faults_of_order(rows, ends[0], ends[1], time)))
    return replace(rows, runs=runs_of(ends, time))


def _present(table: WholeTable, source: TextTable | ArrayFile) -> Iterator[str]:
    """The columns that are there; reports those that are missing, or unknown."""
    known = dict(table.columns.columns)
    found = source.columns if isinstance(source, TextTable) else source.arrays
    meant = ""
    for head in found:
        if head not in known and isinstance(source, TextTable):
            hint = nearest(head, [each for each in known if each not in found])
            meant += hint
            table.report(f"unknown column '{head}'{hint}", source.columns[head][1].place)
    for head, column in known.items():
        if head in found:
            yield head
        elif column.needed and f"mean '{head}'" not in meant:
            unit = f" [{column.kind.unit}]" if column.kind.unit else ""
            place = source.place if isinstance(source, ArrayFile) else table.key
            table.report(source.missing(head, unit), place)


def _check_apart(table: WholeTable, rows: Rows, one: str, other: str) -> None:
    """Report rows whose two ends are the same."""
    a, b = rows.ends[one], rows.ends[other]
    if a.counted != b.counted:
        return  # whose names are compared when the network is built
    same = np.flatnonzero(a.at == b.at)
    faults = [
        Fault(
            row=int(row),
            message=f"joins {f'row {a.at[row]}' if a.counted else repr(rows.labels[a.at[row]])} "
            "to itself",
        )
        for row in same
    ]
    table.report_rows(other, faults)


def _faults_of_names(names: Sequence[str]) -> Iterator[Fault]:
    """What is wrong with the names of rows: those that no path could hold, and twins."""
    together = "".join(names)
    sound = together.isprintable() and "." not in together and "*" not in together
    bare = all(names) and list(map(str.strip, names)) == names
    if sound and bare and len(set(names)) == len(names):
        return
    first: dict[str, int] = {}
    for row, name in enumerate(names):
        wrong = fault_of_name(name)
        if wrong:
            yield Fault(row=row, message=wrong)
        elif first.setdefault(name, row) != row:
            yield Fault(row=row, message=f"'{name}' is given twice")


def _unknown(kind: Words, name: str, valid: Sequence[str], shown: bool) -> str:
    """That there is no such entry; the nearest name is only looked for where it is shown."""
    hint = nearest(name, valid) if shown else ""
    return f"unknown {kind.noun} '{name}'{hint}"
