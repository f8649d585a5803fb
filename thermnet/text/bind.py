"""A located tree to typed entries, entry by entry, with every problem at its place.

One broken entry hides neither the problems of the others nor its own name from those that refer
to it; what merely follows from a reported problem is held back.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Generic, TypeVar

from pydantic import ValidationError

from thermnet.errors import InputError, Place, Problem, nearest
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
from thermnet.text.fields import Absent, Entry, singular
from thermnet.text.rows import Columns, Rows, columns_of, names_of_tables
from thermnet.text.side_files import Files
from thermnet.text.tables import FEW, KEY, expand
from thermnet.text.tree import Broken, Node, Scalar, Sequence
from thermnet.text.whole_tables import WholeTable, read_table
from thermnet.units import Scale

Settings = TypeVar("Settings", bound=Entry)
AnyEntry = TypeVar("AnyEntry", bound=Entry)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound(Generic[Settings]):
    """What a file says, as far as it could be read.

    `settings` are the keys that are no section, None when they are broken; `sections` hold the
    sound entries by section and name, in the file's order. `places` gives the place of every path
    (`section.name.key`, list items `key.0`): of the value, or of the key where it leads to more
    keys. `sources` are the texts of all files read. `problems` are sorted by place.
    """

    settings: Settings | None
    sections: dict[str, dict[str, Entry]]
    places: dict[str, Place]
    sources: dict[str, str]
    problems: tuple[Problem, ...]


def bind(
    root: tree.Mapping,
    *,
    settings: type[Settings],
    sections: Mapping[str, type[Entry]],
    tables: Mapping[str, type[Entry]] | None = None,
    folder: Path | None = None,
    sources: Mapping[str, str] | None = None,
) -> Bound[Settings]:
    """Bind a file's tree to the entry classes of its sections and of the keys beside them.

    `tables` are the classes, by section, of entries that hold a whole table as one value.
    `folder` is where the side files of tables are looked for. `sources` are texts by file name,
    for the excerpts of problems; a side file found among them is not read again. Raises nothing:
    problems are in the result.
    """
    files = Files(folder=folder, model=root.place.file, texts=dict(sources or {}))
    binder = _Binder(scale=_scale(root), files=files, tables=tables or {})
    top = {key: found for key, found in root.entries.items() if key in shapes.keys_of(settings)}
    start = Place(root.place.file, 1, 1)
    with collector_paused():
        binder.check_top(root, settings, sections)
        bodies = binder.open_sections(root, sections)
        binder.check_shared_names(sections)
        bound_settings = binder.entry(settings, replace(root, entries=top), "", start)
        entries = {
            section: binder.section(section, bodies.get(section), kind)
            for section, kind in sections.items()
        }
    return Bound(
        settings=bound_settings,
        sections=entries,
        places=binder.places,
        sources=files.texts,
        problems=binder.sorted_problems(),
    )


@dataclass(slots=True, kw_only=True)
class _Binder:
    """Collects places and problems while a file is bound.

    `names` are the entries by section, each with the place of its name; of the `unsure` keys at
    the top not all that they hold is known, so nothing is said to be missing there. `read` are
    the whole tables by section and name. `alike` counts the problems of one sort by the head of
    their table, their column and what they are about.
    """

    scale: Scale | None
    files: Files
    tables: Mapping[str, type[Entry]]
    names: dict[str, dict[str, Place]] = field(default_factory=dict)
    read: dict[tuple[str, str], WholeTable] = field(default_factory=dict)
    unsure: set[str] = field(default_factory=set)
    places: dict[str, Place] = field(default_factory=dict)
    problems: dict[tuple[str, Place | None], Problem] = field(default_factory=dict)
    alike: Counter[tuple[Place, str, str]] = field(default_factory=Counter)

    def open_sections(
        self, root: tree.Mapping, sections: Mapping[str, type[Entry]]
    ) -> dict[str, tree.Mapping]:
        """The entries of each section with its tables written out; learns all names."""
        bodies = {}
        for section in sections:
            if section not in root.entries:
                continue
            place, node = root.entries[section]
            self.places[section] = place
            if not isinstance(node, tree.Mapping):
                self.unsure.add(section)
                self.report_form("names with keys and values below", node, section, place)
                continue
            body, problems = expand(section, node, self.files, whole=section in self.tables)
            for problem in problems:
                self.report(problem)
            if not body.whole:
                self.unsure.add(section)
            bodies[section] = body
            self.names[section] = {name: place for name, (place, _) in body.entries.items()}
            if section in self.tables:
                self.read_tables(section, body, columns_of(self.tables[section]))
        return bodies

    def read_tables(self, section: str, body: tree.Mapping, columns: Columns) -> None:
        """Read the whole tables of a section; the names of their rows, if any, are entries too."""
        for name, (place, node) in body.entries.items():
            if not isinstance(node, tree.Mapping) or KEY not in node.entries:
                continue
            table = read_table(section, name, columns, *node.entries[KEY], self.files, self.scale)
            self.read[section, name] = table
            if not columns.named:
                continue
            rows = table.rows
            names, group = self.names[section], names_of_tables(section)
            del names[name]
            self.names.setdefault(group, {})[name] = place
            if table.problems:
                self.unsure |= {section, group}
            if rows is None:
                continue
            fresh = dict.fromkeys(rows.names, place)
            for twin in list(fresh.keys() & names.keys())[:FEW]:
                message = f"'{twin}' is given twice; first at {names[twin]}"
                self.report(Problem(message=message, path=f"{section}.{name}", place=place))
            names.update(fresh)

    def check_top(
        self, root: tree.Mapping, settings: type[Entry], sections: Mapping[str, type[Entry]]
    ) -> None:
        """Report keys at the top that are neither a setting nor a section."""
        known = [*shapes.keys_of(settings), *sections]
        for key, (place, _) in root.entries.items():
            if key in known:
                continue
            hint = nearest(key, known)
            # What stands under a misspelt key is neither missing nor unknown as well.
            meant = {each for each in known if f"mean '{each}'" in hint} - root.entries.keys()
            self.unsure |= meant
            if "temperatures" in meant:
                self.scale = "degC"
            self.report(Problem(message=f"unknown key '{key}'{hint}", place=place))

    def check_shared_names(self, sections: Mapping[str, type[Entry]]) -> None:
        """Report names in two sections where a reference could mean either."""
        for together in shapes.sections_named_together(tuple(sections.values())):
            owner: dict[str, tuple[str, Place]] = {}
            for section in (each for each in together if each in self.names):
                for name, place in self.names[section].items():
                    other, first = owner.setdefault(name, (section, place))
                    if other != section:
                        message = (
                            f"'{name}' is a {singular(other)} already, at {first}; "
                            f"a reference could mean either"
                        )
                        self.report(Problem(message=message, path=f"{section}.{name}", place=place))

    def section(
        self, section: str, body: tree.Mapping | None, kind: type[Entry]
    ) -> dict[str, Entry]:
        """The sound entries of a section."""
        entries: dict[str, Entry] = {}
        if body is None:
            return entries
        for name, (place, node) in body.entries.items():
            path = f"{section}.{name}"
            self.places[path] = place
            wrong = fault_of_name(name)
            if wrong:
                self.report(Problem(message=wrong, path=path, place=place))
            table = self.read.get((section, name))
            of_table = kind if table is None else self.tables[section]
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
            self.report_form(shapes.expected(shapes.Record(kind)), node, path, place)
            return None
        shape = shapes.Record(kind)
        data = self.unfold(node, path)
        if table is not None:
            data[KEY] = self.rows_in(table, data)
        context = {"temperatures": self.scale}
        entry = None
        try:
            entry = kind.model_validate(data, context=context)
        except ValidationError as error:
            for complaint in explain(error, shape, data, context):
                self.complain(complaint, node, path, place)
        if shapes.has_groups(shape):
            for complaint in misnamed(shape, data):
                self.complain(complaint, node, path, place)
        if shapes.has_names(shape) and not surely_known(kind, data, self.names):
            for complaint in unknown_names(shape, data, self.names, self.unsure, entry):
                self.complain(complaint, node, path, place)
        return entry

    def rows_in(self, table: WholeTable, data: Mapping[str, Any]) -> Rows | Absent:
        """The rows of a table with all that they refer to, unless that is not there."""
        table.look_up(self.names, self.unsure)
        counted = data.get(table.columns.counted)
        of = next((each for (_, name), each in self.read.items() if name == counted
                   and each.columns.named), None)  # fmt: skip
        if of is not None and of.rows is not None and not of.problems:
            table.count_in(str(counted), of.rows.count)
        elif counted is None:
            table.count_in(None, 0)
        for problem in table.problems:
            self.report(problem)
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
            places[below] = _pointed_at(place, child)
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
            if not path and complaint.key in self.unsure:
                return
            if head is not None and not keys and complaint.key not in head.columns:
                place = head.place
                message = f"{message}: the table has no such column"
            elif head is not None:
                place = row  # the keys of a row stand in the head
        elif complaint.about == "unknown":
            keys = keys[:-1]
        else:
            place = _pointed_at(place, node)
        # What is wrong with a head of a table comes back with every row.
        known = (message, place) in self.problems
        if not known and (head is None or self.is_new(head, complaint)):
            self.report(Problem(message=message, path=_joined(path, *keys), place=place))

    def is_new(self, head: tree.Head, complaint: Complaint) -> bool:
        """Whether a table has shown fewer than a few problems of this sort in this column."""
        column = complaint.keys[0] if complaint.keys else complaint.key
        sort = (head.place, column, complaint.about)
        self.alike[sort] += 1
        return self.alike[sort] <= FEW

    def report_form(self, wanted: str, node: Node, path: str, place: Place) -> None:
        """Report a node that is not of the form expected, unless that is reported already."""
        if not (isinstance(node, Scalar) and isinstance(node.value, Broken)):
            message = f"expected {wanted}, got {tree.described(node)}"
            self.report(Problem(message=message, path=path, place=_pointed_at(place, node)))

    def report(self, problem: Problem) -> None:
        """Note a problem, once for each place."""
        self.problems.setdefault((problem.message, problem.place), problem)

    def sorted_problems(self) -> tuple[Problem, ...]:
        """All problems by place, with the lines they are in."""
        for (place, column, _), number in self.alike.items():
            if number > FEW:
                message = f"{number - FEW} more such problems in the column '{column}'"
                self.report(Problem(message=message, place=place))
        blamed = {problem.place.file for problem in self.problems.values() if problem.place}
        texts = self.files.texts
        lines = {file: tree.lines_of(texts[file]) for file in blamed & texts.keys()}
        return InputError(tree.finished(each, lines) for each in self.problems.values()).problems


_PLAIN = frozenset({bool, int, float, str})
"""Types of values that need no second look."""


def _scale(root: tree.Mapping) -> Scale | None:
    """The scale of bare temperatures. Where it is misspelt, no bare temperature is blamed."""
    node = root.get("temperatures")
    if node is None:
        return None
    return "K" if isinstance(node, Scalar) and node.value == "K" else "degC"


def _pointed_at(key: Place, node: Node) -> Place:
    """The place of a value; of its key when there is none or when more keys follow."""
    if isinstance(node, tree.Mapping) or (isinstance(node, Scalar) and not node.text):
        return key
    return node.place


def _joined(*parts: str) -> str:
    return ".".join(part for part in parts if part)
