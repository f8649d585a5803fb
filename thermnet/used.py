"""Which rows of the library a model uses, and where it names them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from importlib import resources
from typing import Any

from thermnet.model.model import Model
from thermnet.model.paths import apply_case
from thermnet.text.fields import Entry, Words
from thermnet.text.shapes import ByName, Either, Fixed, Leaf, Many, Record, Shape, keys_of


def tables() -> tuple[str, ...]:
    """Names of the tables of the library, which are sections of a model file."""
    names = (each.name for each in resources.files("thermnet.model.library").iterdir())
    return tuple(sorted(name.removesuffix(".csv") for name in names if name.endswith(".csv")))


def rows_used(model: Model) -> dict[str, dict[str, tuple[str, ...]]]:
    """The paths that name each row, by table and name, in all cases of a model together.

    A row counts that an entry names, itself or by a default, be it the library's, the model's own,
    or the library's as the model changes it.
    """
    found: dict[str, dict[str, dict[str, None]]] = {}
    models = [apply_case(model, case) for case in model.cases] or [model]
    known = tables()
    for applied in models:
        for section, entries in applied.sections.items():
            for name, entry in entries.items():
                for table, row, path in _named(entry, f"{section}.{name}", known):
                    found.setdefault(table, {}).setdefault(row, {})[path] = None
    return {
        table: {row: tuple(paths) for row, paths in rows.items()} for table, rows in found.items()
    }


def rows_of_entries(
    used: Mapping[str, Mapping[str, tuple[str, ...]]],
) -> dict[str, tuple[str, ...]]:
    """The names of the rows that each entry `section.name` uses."""
    found: dict[str, dict[str, None]] = {}
    for rows in used.values():
        for row, paths in rows.items():
            for path in paths:
                found.setdefault(".".join(path.split(".")[:2]), {})[row] = None
    return {entry: tuple(rows) for entry, rows in found.items()}


def _named(entry: Entry, path: str, known: tuple[str, ...]) -> Iterator[tuple[str, str, str]]:
    """Table, row and path of each row of the library that an entry names."""
    for key, each in keys_of(type(entry)).items():
        yield from _in_shape(getattr(entry, each.attribute), each.shape, f"{path}.{key}", known)


def _in_shape(
    value: Any, shape: Shape, path: str, known: tuple[str, ...]
) -> Iterator[tuple[str, str, str]]:
    if value is None:
        return
    if isinstance(value, Entry):
        yield from _named(value, path, known)
    elif isinstance(shape, Either):
        for member in shape.members:
            yield from _in_shape(value, member, path, known)
    elif isinstance(shape, Leaf):
        kind = shape.kind
        if isinstance(kind, Words) and kind.also and isinstance(value, str):
            yield from ((each, value, path) for each in kind.sections if each in known)
    elif isinstance(shape, Many | Fixed) and isinstance(value, tuple):
        for k, each in enumerate(value):
            item = shape.item if isinstance(shape, Many) else shape.items[k]
            yield from _in_shape(each, item, f"{path}.{k}", known)
    elif isinstance(shape, ByName) and isinstance(value, Mapping):
        for name, each in value.items():
            if shape.key is not None:
                yield from _in_shape(name, Leaf(shape.key), f"{path}.{name}", known)
            yield from _in_shape(each, shape.item, f"{path}.{name}", known)
    elif isinstance(shape, Record) and isinstance(value, Entry):
        yield from _named(value, path, known)
