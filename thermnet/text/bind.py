"""A located tree to typed entries, entry by entry, with every problem at its place.

One broken entry hides neither the problems of the others nor its own name from those that refer
to it; what merely follows from a reported problem is held back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Generic, TypeVar

from pydantic import ValidationError

from thermnet.errors import Place, Problem
from thermnet.text import parts as brought_in
from thermnet.text import shapes, tree
from thermnet.text.collector import collector_paused
from thermnet.text.explain import (
    Complaint,
    explain,
    fault_of_name,
    misnamed,
    surely_known,
    unknown_names,
)
from thermnet.text.fields import Absent, Entry
from thermnet.text.opening import Opened, scale_of
from thermnet.text.reports import Reports, pointed_at
from thermnet.text.rows import Rows
from thermnet.text.side_files import Files
from thermnet.text.tables import KEY
from thermnet.text.tree import Broken, Node, Scalar, Sequence
from thermnet.text.whole_tables import WholeTable
from thermnet.units import Scale

Settings = TypeVar("Settings", bound=Entry)
AnyEntry = TypeVar("AnyEntry", bound=Entry)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound(Generic[Settings]):
    """What a file says, as far as it could be read.

    `settings` are the keys that are no section, None when they are broken; `sections` hold the
    sound entries by section and name, in the file's order. `places` gives the place of every path
    (`section.name.key`, list items `key.0`): of the value, or of the key where it leads to more
    keys. `sources` are the texts of all files read. `problems` are sorted by place. `brought` are
    the paths of entries that parts brought in, each with the name of its part, and `scales` the
    scales of the bare temperatures in them.
    """

    settings: Settings | None
    sections: dict[str, dict[str, Entry]]
    places: dict[str, Place]
    sources: dict[str, str]
    problems: tuple[Problem, ...]
    brought: dict[str, str]
    scales: dict[str, Scale | None]


def bind(
    root: tree.Mapping,
    *,
    settings: type[Settings],
    sections: Mapping[str, type[Entry]],
    tables: Mapping[str, type[Entry]] | None = None,
    parts: brought_in.Rules | None = None,
    counts: Mapping[str, str] | None = None,
    folder: Path | None = None,
    sources: Mapping[str, str] | None = None,
) -> Bound[Settings]:
    """Bind a file's tree to the entry classes of its sections and of the keys beside them.

    `tables` are the classes, by section, of entries that hold a whole table as one value; `parts`
    says what parts are, where a file may have such; entries of a section in `counts` may be
    referred to as those of another section. `folder` is where the side files of tables are looked
    for. `sources` are texts by file name, for the excerpts of problems; a side file found among
    them is not read again. Raises nothing: problems are in the result.
    """
    files = Files(folder=folder, model=root.place.file, texts=dict(sources or {}))
    opened = Opened(
        files=files,
        scale=scale_of(root),
        reports=Reports(),
        tables=tables or {},
        counts=counts or {},
    )
    with collector_paused():
        opened.check_top(root, settings, sections)
        opened.open_sections(root, sections)
        if parts is not None and parts.section in opened.bodies:
            brought_in.bring_in(opened, parts, settings, sections)
        opened.check_shared_names(sections)
        opened.count_in()
        for top in opened.tops:
            _Binder(opened=replace(opened, scale=scale_of(top))).top(settings, top)
        binder = _Binder(opened=opened, places=opened.places)
        bound_settings = binder.top(settings, root)
        entries = {section: binder.section(section, kind) for section, kind in sections.items()}
    return Bound(
        settings=bound_settings,
        sections=entries,
        places=binder.places,
        sources=files.texts,
        problems=opened.reports.sorted(files.texts),
        brought={path: each.part for path, each in opened.brought.items()},
        scales={path: each.scale for path, each in opened.brought.items()},
    )


@dataclass(slots=True, kw_only=True)
class _Binder:
    """Reads the entries of an opened file; collects the places of all paths."""

    opened: Opened
    places: dict[str, Place] = field(default_factory=dict)

    def top(self, settings: type[AnyEntry], root: tree.Mapping) -> AnyEntry | None:
        """The keys at the top that are no section, or None when they are broken."""
        keys = shapes.keys_of(settings)
        top = {key: found for key, found in root.entries.items() if key in keys}
        return self.entry(settings, replace(root, entries=top), "", Place(root.place.file, 1, 1))

    def section(self, section: str, kind: type[Entry]) -> dict[str, Entry]:
        """The sound entries of a section."""
        entries: dict[str, Entry] = {}
        body = self.opened.bodies.get(section)
        if body is None:
            return entries
        for name, (place, node) in body.entries.items():
            path = f"{section}.{name}"
            self.places[path] = place
            wrong = fault_of_name(name)
            if wrong:
                self.opened.reports.add(Problem(message=wrong, path=path, place=place))
            table = self.opened.read.get((section, name))
            of_table = kind if table is None else self.opened.tables[section]
            entry = self.entry(of_table, node, path, place, table)
            if entry is not None:
                entries[name] = entry
        return entries

    def entry(
        self,
        kind: type[AnyEntry],
        node: Node,
        path: str,
        place: Place,
        table: WholeTable | None = None,
    ) -> AnyEntry | None:
        """One entry, or None when it is broken, which is reported."""
        if not isinstance(node, tree.Mapping):
            self.opened.reports.add_form(shapes.expected(shapes.Record(kind)), node, path, place)
            return None
        shape = shapes.Record(kind)
        data = self.unfold(node, path)
        if table is not None:
            data[KEY] = self.rows_in(table, data)
        brought = self.opened.brought.get(path)
        context = {"temperatures": self.opened.scale if brought is None else brought.scale}
        entry = None
        try:
            entry = kind.model_validate(data, context=context)
        except ValidationError as error:
            for complaint in explain(error, shape, data, context):
                self.complain(complaint, node, path, place)
        if shapes.has_groups(shape):
            for complaint in misnamed(shape, data):
                self.complain(complaint, node, path, place)
        if shapes.has_names(shape) and not surely_known(kind, data, self.opened.names):
            for complaint in unknown_names(
                shape, data, self.opened.names, self.opened.unsure, entry
            ):
                self.complain(complaint, node, path, place)
        return entry

    def rows_in(self, table: WholeTable, data: Mapping[str, Any]) -> Rows | Absent:
        """The rows of a table with all that they refer to, unless that is not there."""
        table.look_up(self.opened.names, self.opened.unsure)
        counted = data.get(table.columns.counted)
        of = next((each for (section, name), each in self.opened.read.items() if name == counted
                   and each.columns.named and section in table.columns.leads_to), None)  # fmt: skip
        if of is not None and of.rows is not None and not of.problems:
            table.count_in(str(counted), of.rows.count)
        elif counted is None:
            table.count_in(None, 0)
        for problem in table.problems:
            self.opened.reports.add(problem)
        return Absent.BROKEN if table.rows is None or table.problems else table.rows

    def unfold(self, node: Node, path: str) -> Any:
        """The bare values of a node, whose places are noted on the way."""
        if isinstance(node, Scalar):
            if node.value is None:
                return Absent.NOTHING
            return Absent.BROKEN if isinstance(node.value, Broken) else node.value
        if isinstance(node, Sequence):
            values = []
            for position, item in enumerate(node.items):
                below = f"{path}.{position}"
                self.places[below] = item.place
                values.append(self.unfold(item, below))
            return tuple(values)
        data, places, prefix = {}, self.places, f"{path}." if path else ""
        for key, (place, child) in node.entries.items():
            below = prefix + key
            if child.__class__ is Scalar and child.text and child.value.__class__ in _PLAIN:
                # Nearly everything in a file.
                places[below], data[key] = child.place, child.value
                continue
            places[below] = pointed_at(place, child)
            data[key] = self.unfold(child, below)
        return data

    def complain(self, complaint: Complaint, node: Node, path: str, place: Place) -> None:
        """Report what is wrong with an entry, at the place it is about."""
        head = node.head if isinstance(node, tree.Mapping) else None
        keys, row = complaint.keys, place
        for key in complaint.keys:
            if isinstance(node, tree.Mapping) and key in node.entries:
                place, node = node.entries[key]
            elif isinstance(node, Sequence) and key.isdecimal() and int(key) < len(node.items):
                node = node.items[int(key)]
                place = node.place
            else:
                break  # a key left out, whose default is at odds with the rest
        message = complaint.message
        lacking = complaint.message.startswith("missing key")
        if lacking and isinstance(node, tree.Mapping) and not node.whole:
            return
        if complaint.about == "missing":
            if not path and complaint.key in self.opened.unsure:
                return
            if head is not None and not keys and complaint.key not in head.columns:
                place = head.place
                message = f"{message}: the table has no such column"
            elif head is not None:
                place = row  # the keys of a row stand in the head
        elif complaint.about == "unknown":
            keys = keys[:-1]
        else:
            place = pointed_at(place, node)
        # What is wrong with a head of a table comes back with every row.
        reports = self.opened.reports
        known = reports.known(message, place)
        if not known and (head is None or reports.is_new(head, complaint)):
            self.opened.reports.add(
                Problem(message=message, path=_joined(path, *keys), place=place)
            )


_PLAIN = frozenset({bool, int, float, str})
"""Types of values that need no second look."""


def _joined(*parts: str) -> str:
    return ".".join(part for part in parts if part)
