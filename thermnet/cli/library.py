"""The command `library`: what its tables hold, and where every number comes from."""

from __future__ import annotations

import argparse
import csv
import io
import json
import re
import textwrap
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from thermnet.cli.inputs import loaded
from thermnet.cli.status import HOLDS
from thermnet.cli.tables import celsius, grid
from thermnet.errors import InputError, Problem, nearest
from thermnet.model.kinds import SECTIONS
from thermnet.model.kinds.body import body
from thermnet.model.kinds.contact import contact
from thermnet.model.kinds.fastener import fastener
from thermnet.model.kinds.finish import finish
from thermnet.model.kinds.gas import gas
from thermnet.model.kinds.material import material
from thermnet.model.kinds.separator import separators
from thermnet.model.library.rows import HOW_KNOWN, named, packaged
from thermnet.model.model import Model
from thermnet.text.fields import Entry, Temperature
from thermnet.text.shapes import Leaf, at, unit_of_shape
from thermnet.used import inclinations_used, rows_used, tables

FACTS: dict[str, Callable[[str, Mapping[str, Any]], Any]] = {
    "bodies": body,
    "contacts": contact,
    "fasteners": fastener,
    "finishes": finish,
    "gases": gas,
    "materials": material,
    "separators": lambda name, entries: separators(entries)[name],
}
"""How a model changes the rows of a table, or adds some: (name, entries) -> facts with a source.
Of another table the entries of a model are shown beside its rows as they stand."""

WIDTH = 100
"""Characters of a line."""

LONGEST = 24
"""Characters of the longest words that stand in a list; longer ones are shown for one row."""

KNOWN = "how known"
"""What stands before the ways in which numbers are known."""

ALL = 12
"""Digits of a number that is shown as it stands."""

Value = float | str | bool | None
"""A number, words, a truth value, or nothing where it is not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A row of a table: its values by key, in SI, and where they come from.

    `known` are the ways in which its numbers are known. `changes` are the library's values of the
    keys that a model states, None for the keys of a row that the library has not. `place` is where
    the model states them, "" for a row of the library alone.
    """

    table: str
    name: str
    values: Mapping[str, Value]
    source: str
    known: tuple[str, ...]
    changes: Mapping[str, Value]
    place: str = ""


def library(options: argparse.Namespace) -> int:
    """Print the tables of the library, the rows of one, or one row with its source."""
    model = loaded(options.model, []) if options.model else None
    if options.table is not None and options.table not in tables():
        message = f"the library has no table '{options.table}'{nearest(options.table, tables())}"
        raise InputError([Problem(message=message)])
    if options.used:
        return _used(options, model)
    if options.table is None:
        found = {table: rows_of(table, model) for table in tables()}
        print(json.dumps(_counts(found), indent=1) if options.json else _tables(found))
        return HOLDS
    rows = rows_of(options.table, model)
    if options.name is not None:
        names = list(dict.fromkeys(row.name for row in rows))
        rows = tuple(row for row in rows if row.name == options.name)
        if not rows:
            message = f"{options.table} has no '{options.name}'{nearest(options.name, names)}"
            raise InputError([Problem(message=message)])
    if options.json:
        print(json.dumps([_data(row) for row in rows], indent=1))
    elif options.name is None:
        print(_list(rows))
    else:
        print("\n\n".join(_one(row) for row in rows))
    return HOLDS


def _used(options: argparse.Namespace, model: Model | None) -> int:
    """Print the rows that a model uses, in any of its cases, and which entries name them."""
    if model is None:
        message = "name the model whose rows are asked for: `--model MODEL`"
        raise InputError([Problem(message=message)])
    found, flown = rows_used(model), inclinations_used(model)
    chosen = [
        (row, found[table][row.name])
        for table in tables()
        for row in rows_of(table, model)
        if row.name in found.get(table, {})
        and _counts_in(row, flown.get(row.name, {}))
        and options.table in (None, table)
        and options.name in (None, row.name)
    ]
    if not chosen and options.table is not None:
        rows = rows_of(options.table, model)
        there = list(dict.fromkeys(row.name for row in rows))
        if options.name is not None and options.name not in there:
            message = f"{options.table} has no '{options.name}'{nearest(options.name, there)}"
            raise InputError([Problem(message=message)])
    if options.json:
        print(json.dumps([{**_data(row), "used_by": list(at)} for row, at in chosen], indent=1))
        return HOLDS
    for table in dict.fromkeys(row.table for row, _ in chosen):
        print(f"{table}:")
        for row, paths in (each for each in chosen if each[0].table == table):
            known = ", ".join(row.known) or "-"
            print(f"  {row.name} ({known}){_own_note(row)}")
            print(_indented("used by ", ", ".join(paths)))
            print(_indented("source: ", row.source or "none is stated"))
    return HOLDS


def _counts_in(row: Row, flown: Mapping[str, Sequence[str]]) -> bool:
    """Whether a row counts at the inclinations flown; of all but environments each does."""
    published = "inclination" in row.values and not row.place
    return not published or any(row.values["inclination"] in each for each in flown.values())


def _indented(word: str, text: str) -> str:
    return textwrap.fill(text, WIDTH, initial_indent=f"    {word}", subsequent_indent="    ")


def _own_note(row: Row) -> str:
    return f", stated at {row.place}" if row.place else ""


def rows_of(table: str, model: Model | None = None) -> tuple[Row, ...]:
    """The rows of a table of the library, as a model changes them, and those that it adds."""
    read = tuple(_read(table))
    if model is None or not model.sections[table]:
        return read
    known = {row.name: row for row in read}
    own = {name: _own(model, table, name, known) for name in model.sections[table]}
    if table not in FACTS:  # what an entry leaves out may still be the library's
        return (*read, *own.values())
    changed = tuple(own.get(row.name, row) for row in read)
    return (*changed, *(row for name, row in own.items() if name not in known))


def _read(table: str) -> Iterator[Row]:
    """The rows of a file, whose heads carry units as `radius [m]`."""
    for cells in csv.DictReader(io.StringIO(packaged(f"{table}.csv"))):
        name, source = cells.pop("name"), cells.pop("source")
        values = {head.partition(" [")[0]: _value(cell) for head, cell in cells.items()}
        yield Row(
            table=table, name=name, values=values, source=source, known=_known(source), changes={}
        )


def _value(cell: str) -> Value:
    try:
        return float(cell)
    except ValueError:
        return cell.strip() or None


def _known(source: str) -> tuple[str, ...]:
    """The ways in which a source says that numbers are known, by its own words."""
    return tuple(way for way in HOW_KNOWN if re.search(rf"(?<![\w-]){way}\b", source))


def _own(model: Model, table: str, name: str, known: Mapping[str, Row]) -> Row:
    """What a model's entry makes of a row of the library, or its own row."""
    entry = model.sections[table][name]
    row = known.get(named(name)) if table in FACTS else None
    keys = list(row.values if row is not None else next(iter(known.values())).values)
    stated = {
        key: value
        for key in entry.model_fields_set - {"note"}
        if (value := getattr(entry, key)) is not None
    }
    values: dict[str, Value] = {key: stated.get(key) for key in [*keys, *stated]}
    source = getattr(entry, "note", "")
    try:
        facts = FACTS[table](name, model.sections[table]) if table in FACTS else None
    except (KeyError, ValueError):  # a new one that lacks a key, of which `check` tells
        facts = None
    if facts is not None:
        values |= {key: getattr(facts, key) for key in keys}
        source = facts.source
    return Row(
        table=table,
        name=name,
        values=values,
        source=source,
        known=_known(source),
        changes={key: None if row is None else row.values.get(key) for key in sorted(stated)},
        place=str(model.places.get(f"{table}.{name}", model.file)),
    )


def _tables(found: Mapping[str, Sequence[Row]]) -> str:
    rows = [
        [table, str(len(rows)), ", ".join(rows[0].values) if rows else ""]
        for table, rows in found.items()
    ]
    wrapped = []
    for table, count, keys in rows:
        first, *more = textwrap.wrap(keys, WIDTH - 24) or [""]
        wrapped += [[table, count, first], *(["", "", line] for line in more)]
    return grid(["table", "rows", "of each"], wrapped)


def _list(rows: Sequence[Row]) -> str:
    """All rows of a table, in as many blocks as its columns need."""
    columns: list[list[str]] = []
    for key in dict.fromkeys(key for row in rows for key in row.values):
        cells = [_shown(row, key, row.values.get(key)) for row in rows]
        if max(map(len, cells)) <= LONGEST and set(cells) != {"-"}:
            columns.append([_head(rows[0].table, key), *cells])
    columns.append([KNOWN, *(", ".join(row.known) or "-" for row in rows)])
    if any(row.place for row in rows):
        columns.append(["stated in", *(_stated_in(row) for row in rows)])
    names = ["name", *(row.name for row in rows)]
    blocks, width = [[names]], _width(names)
    for column in columns:
        if width + _width(column) > WIDTH and len(blocks[-1]) > 1:
            blocks.append([names])
            width = _width(names)
        blocks[-1].append(column)
        width += _width(column)
    lines = [list(zip(*block, strict=True)) for block in blocks]
    return "\n\n".join(grid(head, cells) for head, *cells in lines)


def _width(column: Sequence[str]) -> int:
    return max(map(len, column)) + 2


def _stated_in(row: Row) -> str:
    if not row.place:
        return "library"
    added = all(value is None for value in row.changes.values())
    return "model" if added else f"library; model: {', '.join(row.changes)}"


def _one(row: Row) -> str:
    """Every value of a row, with what it means, and its source."""
    lines = []
    for key, value in row.values.items():
        if value is None and _field(row.table, key) is None:
            continue  # words that this row has no need of
        words = _with_unit(row, key, value)
        before = row.changes.get(key)
        if before is not None:
            words += f" (library: {_with_unit(row, key, before)})"
        lines.append((key, words, _meaning(row.table, key)))
    left = max(len(key) for key in (KNOWN, *(key for key, _, _ in lines))) + 2
    middle = left + max(len(words) for _, words, meaning in lines if meaning) + 2
    text = [f"{row.table}: {row.name}" + (f", stated at {row.place}" if row.place else "")]
    for key, words, meaning in lines:
        if meaning:
            text.append(_wrapped(f"{key:{left}}{words:{middle - left}}", meaning))
        else:
            text.append(_wrapped(f"{key:{left}}", words))
    text.append(_wrapped(KNOWN.ljust(left), ", ".join(row.known) or "not said"))
    text.append(_wrapped("source".ljust(left), row.source or "not said"))
    return "\n".join(text)


def _wrapped(head: str, words: str) -> str:
    """Words in lines, each below the end of the head."""
    room = max(WIDTH - len(head), WIDTH // 3)
    return head + f"\n{' ' * len(head)}".join(textwrap.wrap(words, room))


def _field(table: str, key: str) -> type[Entry] | None:
    """The class of a model's entries, where they have this key."""
    return SECTIONS[table] if key in SECTIONS[table].model_fields else None


def _meaning(table: str, key: str) -> str:
    entry = _field(table, key)
    return "" if entry is None else entry.model_fields[key].description or ""


def _is_temperature(table: str, key: str) -> bool:
    entry = _field(table, key)
    shape = None if entry is None else at(entry, key)
    return any(
        isinstance(each, Leaf) and isinstance(each.kind, Temperature)
        for each in getattr(shape, "members", (shape,))
    )


def _unit(table: str, key: str) -> str:
    entry = _field(table, key)
    shape = None if entry is None else at(entry, key)
    if shape is None:  # a column of the library that no entry may state
        heads = next(csv.reader(io.StringIO(packaged(f"{table}.csv"))))
        head = next((head for head in heads if head.partition(" [")[0] == key), "")
        return head.partition(" [")[2].rstrip("]")
    return "degC" if _is_temperature(table, key) else unit_of_shape(shape)


def _head(table: str, key: str) -> str:
    return f"{key} {_unit(table, key)}".rstrip()


def _shown(row: Row, key: str, value: Value, digits: int = 6) -> str:
    """A value for people, without its unit; temperatures in degrees Celsius."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return "-" if value is None else str(value)
    return celsius(value) if _is_temperature(row.table, key) else f"{value:.{digits}g}"


def _with_unit(row: Row, key: str, value: Value) -> str:
    if value is None:
        return "not known"
    return f"{_shown(row, key, value, ALL)} {_unit(row.table, key)}".rstrip()


def _counts(found: Mapping[str, Sequence[Row]]) -> list[dict[str, Any]]:
    return [
        {"table": table, "rows": len(rows), "names": [row.name for row in rows]}
        for table, rows in found.items()
    ]


def _data(row: Row) -> dict[str, Any]:
    """A row for programs, in SI."""
    return {
        "table": row.table,
        "name": row.name,
        "values": dict(row.values),
        "source": row.source,
        "known": list(row.known),
        "stated_by_model": list(row.changes),
        "place": row.place,
    }
