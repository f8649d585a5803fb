"""Which rows of the library a model uses, and where it names them."""

from __future__ import annotations

import csv
import functools
import io
import math
from collections.abc import Collection, Iterable, Iterator, Mapping
from importlib import resources
from typing import Any

from thermnet.model.kinds.body import Body, body
from thermnet.model.kinds.environment import Environment, environment, inclination_class
from thermnet.model.kinds.orbit import Orbit
from thermnet.model.library.rows import packaged
from thermnet.model.model import Model
from thermnet.model.paths import apply_case, case_of, lineage
from thermnet.model.plan import settings_in
from thermnet.model.sky import inclination
from thermnet.text.fields import Entry, Words
from thermnet.text.shapes import ByName, Either, Fixed, Leaf, Many, Record, Shape, keys_of


def tables() -> tuple[str, ...]:
    """Names of the tables of the library, which are sections of a model file."""
    names = (each.name for each in resources.files("thermnet.model.library").iterdir())
    return tuple(sorted(name.removesuffix(".csv") for name in names if name.endswith(".csv")))


@functools.cache
def names(table: str) -> frozenset[str]:
    """Names of the rows of a table of the library."""
    rows = csv.DictReader(io.StringIO(packaged(f"{table}.csv")))
    return frozenset(row["name"] for row in rows)


def rows_used(
    model: Model, cases: Iterable[str] | None = None
) -> dict[str, dict[str, tuple[str, ...]]]:
    """The paths that name each row, by table and name, in these cases together, all by default.

    A row counts that an entry names, itself or by a default, be it the library's, the model's own,
    or the library's as the model changes it. An environment of the library counts in the cases that
    take its numbers, see `inclinations_used`.
    """
    found: dict[str, dict[str, dict[str, None]]] = {}
    chosen = model.cases if cases is None else cases
    models = [apply_case(model, case) for case in chosen] or [model]
    known, published = {table: names(table) for table in tables()}, inclinations_used(model)
    for applied in models:
        for section, entries in applied.sections.items():
            for name, entry in entries.items():
                for table, row, path in _named(entry, f"{section}.{name}", known):
                    own = row in applied.sections[table]
                    if table == "environments":
                        of_library = name in published.get(row, {})
                    else:
                        of_library = row in known[table]
                    if not own and not of_library:  # such as `none`
                        continue
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


def inclinations_used(model: Model) -> dict[str, dict[str, tuple[str, ...]]]:
    """Classes of inclination at which cases fly, by the environment and the case that states it.

    A case may have its orbit, its environment or both from those that it extends.

    Those of the library are pairs of albedo and infrared about the Earth. Other bodies have their
    own numbers under the same names, and an entry of the model may state both.
    """
    found: dict[str, dict[str, tuple[str, ...]]] = {}
    for case in model.cases:
        applied = apply_case(model, case)
        settings = settings_in(applied, case)
        flown = applied.entries(Orbit, "orbits").get(settings.orbit or "")
        if flown is None or settings.environment is None or flown.body == "none":
            continue
        entries = applied.entries(Environment, "environments")
        try:
            facts = body(flown.body, applied.entries(Body, "bodies"))
            tilt = None if flown.inclination is None else math.degrees(inclination(flown, facts))
            around = environment(settings.environment, entries, facts, tilt)
        except ValueError:  # which is told where the case is solved
            continue
        if around.averaging_time is not None and tilt is not None:
            stating = [
                each for each in lineage(applied, case) if case_of(applied, each).environment
            ]
            by_case = found.setdefault(settings.environment, {})
            by_case[stating[-1]] = (*by_case.get(stating[-1], ()), inclination_class(tilt))
    return found


def _named(entry: Entry, path: str, known: Collection[str]) -> Iterator[tuple[str, str, str]]:
    """Table, row and path of each row of the library that an entry names."""
    for key, each in keys_of(type(entry)).items():
        yield from _in_shape(getattr(entry, each.attribute), each.shape, f"{path}.{key}", known)


def _in_shape(
    value: Any, shape: Shape, path: str, known: Collection[str]
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
