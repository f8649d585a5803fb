"""The model: what the file says, bound, frozen, and still knowing where each value stands."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from itertools import chain
from pathlib import Path
from typing import Any, Literal, TypeVar

from thermnet.errors import InputError, Problem
from thermnet.model.kinds.settings import Settings
from thermnet.text.fields import Entry
from thermnet.text.rows import names_of_tables, rows_of
from thermnet.text.tree import lines_of
from thermnet.units import Scale

AnyEntry = TypeVar("AnyEntry", bound=Entry)


NOT_ROWS = frozenset({"enclosures"})
"""The sections whose whole tables count as one entry: their rows are none."""

NAMED_ROWS = ("nodes", "faces")
"""The sections whose whole tables have rows with names, which others refer to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One value that a case or a caller changed. `pattern` is the path as it was written."""

    path: str
    before: Any
    after: Any
    pattern: str
    by: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Model:
    """A model as its file says, with the changes made to it since.

    `sections` hold the entries by section and name; `places` the place in the file of every path;
    `sources` the text of every file read, by its name, that of arrays in base64; `case` the name
    of the case that has been applied, "" for none; `changes` what it changed. `overrides` are the
    changes of each call of `vary`; `written` the sections before any change, None for none.
    `brought` are the paths of entries that parts brought in, each with the name of its part, and
    `scales` the scales of the bare temperatures in them. `paired` are the cases that are solved at
    both bounds of their blankets, each with the two cases in its place, by their bound.
    """

    settings: Settings
    sections: Mapping[str, Mapping[str, Entry]]
    places: Mapping[str, Any]
    sources: Mapping[str, str]
    file: str
    overrides: tuple[tuple[tuple[str, Any], ...], ...] = ()
    written: Mapping[str, Mapping[str, Entry]] | None = None
    case: str = ""
    changes: tuple[Change, ...] = field(default=())
    brought: Mapping[str, str] = field(default_factory=dict)
    scales: Mapping[str, Scale | None] = field(default_factory=dict)
    paired: Mapping[str, Mapping[Literal["low", "high"], str]] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """The model's name, by default that of its file."""
        return self.settings.name or Path(self.file).stem

    @property
    def cases(self) -> tuple[str, ...]:
        """Names of the cases to solve, in the order of the file."""
        return tuple(name for name in self.sections["cases"] if name not in self.paired)

    def solved_as(self, cases: Iterable[str]) -> tuple[str, ...]:
        """The cases to solve for these: two for each that is solved at both bounds."""
        return tuple(
            chain.from_iterable(
                self.paired[case].values() if case in self.paired else (case,) for case in cases
            )
        )

    def entries(self, kind: type[AnyEntry], section: str) -> dict[str, AnyEntry]:
        """The entries of a section by name, which are of the given class."""
        entries = self.sections[section]
        return {name: entry for name, entry in entries.items() if isinstance(entry, kind)}

    def names(self) -> dict[str, Collection[str]]:
        """Names that references may bear, by section; of tables of nodes, those of their rows.

        Interfaces may be referred to as nodes.
        """
        found: dict[str, Collection[str]] = dict(self.sections)
        for section in NAMED_ROWS:
            tables = self.tables(section)
            single = [name for name in self.sections[section] if name not in tables]
            also = self.sections["interfaces"] if section == "nodes" else ()
            found[section] = dict.fromkeys(chain(single, *tables.values(), also))
            found[names_of_tables(section)] = tables
        return found

    def tables(self, section: str) -> dict[str, tuple[str, ...]]:
        """Names of the rows of each whole table of a section whose rows have names."""
        entries = self.sections[section].items()
        return {name: rows.names for name, entry in entries if (rows := rows_of(entry)) is not None}

    def node_groups(self) -> dict[str, str]:
        """The group of each node that is in one."""
        found: dict[str, str] = {}
        for name, entry in self.sections["nodes"].items():
            group, rows = getattr(entry, "group", ""), rows_of(entry)
            if group:
                found |= dict.fromkeys((name,) if rows is None else rows.names, group)
        return found

    def counts(self) -> dict[str, int]:
        """How many entries each section has that has any; of tables, their rows.

        Two cases that stand in the place of one count as that one.
        """
        counts = {
            section: sum(_count(section, entry) for entry in entries.values())
            for section, entries in self.sections.items()
        }
        counts["cases"] -= 2 * len(self.paired)
        return {section: count for section, count in counts.items() if count}

    def hash(self) -> str:
        """Twelve hexadecimal digits of SHA-256 over the source texts and the caller's overrides."""
        digest = hashlib.sha256()
        for file, text in sorted((Path(file).name, text) for file, text in self.sources.items()):
            digest.update(f"{file}\0{text}\0".encode())
        digest.update(json.dumps(self.overrides, default=str).encode())
        return digest.hexdigest()[:12]

    def located(self, problems: Iterable[Problem]) -> tuple[Problem, ...]:
        """Problems with the place and line of their path, or of the nearest path above it."""
        lines: dict[str, list[str]] = {}
        result = []
        for problem in problems:
            path = problem.path
            while path and path not in self.places and "." in path:
                path = path.rpartition(".")[0]
            place = problem.place or self.places.get(path)
            excerpt = problem.excerpt
            if place is not None and not excerpt:
                if place.file not in lines:
                    lines[place.file] = lines_of(self.sources.get(place.file, ""))
                if place.line <= len(lines[place.file]):
                    excerpt = lines[place.file][place.line - 1][:300]
            result.append(replace(problem, place=place, excerpt=excerpt))
        return InputError(result).problems


def _count(section: str, entry: Entry) -> int:
    rows = rows_of(entry)
    return 1 if rows is None or section in NOT_ROWS else rows.count
