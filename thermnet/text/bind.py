"""A located tree to typed entries, entry by entry, with every problem at its place.

One broken entry hides neither the problems of the others nor its own name from those that refer
to it; what merely follows from a reported problem is held back.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from numbers import Integral, Real
from pathlib import Path
from typing import Any, Generic, TypeVar

from pydantic import ValidationError

from thermnet.errors import InputError, Place, Problem, nearest
from thermnet.text import shapes, tables, tree
from thermnet.text.explain import Complaint, explain, fault_of_name, misnamed, unknown_names
from thermnet.text.fields import Absent, Entry, Given, singular
from thermnet.text.tree import Broken, Node, Scalar, Sequence
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
    folder: Path | None = None,
    sources: Mapping[str, str] | None = None,
) -> Bound[Settings]:
    """Bind a file's tree to the entry classes of its sections and of the keys beside them.

    `folder` is where the side files of tables are looked for. `sources` are texts by file name,
    for the excerpts of problems; a side file found among them is not read again. Raises nothing:
    problems are in the result.
    """
    files = tables.Files(folder=folder, model=root.place.file, texts=dict(sources or {}))
    binder = _Binder(scale=_scale(root), files=files)
    top = {key: found for key, found in root.entries.items() if key in shapes.keys_of(settings)}
    start = Place(root.place.file, 1, 1)
    with tree.collector_paused():
        bodies = binder.open_sections(root, sections)
        binder.check_top(root, settings, sections)
        binder.check_shared_names(bodies, sections)
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


def rebind(
    entry: AnyEntry,
    changes: Mapping[str, object],
    *,
    temperatures: Scale | None = "K",
    path: str = "",
    names: Mapping[str, Collection[str]] | None = None,
) -> AnyEntry:
    """The same entry with other values: validated again, by the same rules as in the file.

    `changes` maps paths below the entry (`conductance`, `band.0`) to values: numbers in SI units,
    bare temperatures on the scale given, or text with a unit. `path` is the entry's own, for the
    messages; with `names` (by section) references are checked. Raises InputError.
    """
    data = entry.model_dump(by_alias=True, exclude_unset=True)
    for below, value in changes.items():
        if not below or shapes.at(type(entry), below) is None:
            raise InputError([_unknown_path(type(entry), path, below)])
        *above, last = shapes.keys_in(type(entry), below)
        # A change within something left out starts from its default.
        whole = data if _holds(data, above) else entry.model_dump(by_alias=True, exclude_none=True)
        data = _with_value(data, whole, (*above, last), _given(value, temperatures))
    shape = shapes.Record(type(entry))
    # What the entry holds is in kelvin already.
    context: dict[str, Any] = {"temperatures": "K"}
    try:
        changed = type(entry).model_validate(data, context=context)
        complaints = [] if names is None else unknown_names(shape, data, names)
    except ValidationError as error:
        complaints = explain(error, shape, data, context)
    if complaints:
        raise InputError(
            Problem(message=each.message, path=_joined(path, *each.keys)) for each in complaints
        )
    return changed


def value_of(entry: Entry, path: str) -> Any:
    """The value at a path below an entry, in SI and kelvin. Raises InputError for no such path."""
    value: Any = entry
    for key in shapes.keys_in(type(entry), path):
        if isinstance(value, Entry) and key in shapes.keys_of(type(value)):
            value = getattr(value, shapes.keys_of(type(value))[key].attribute)
        elif isinstance(value, dict) and key in value:
            value = value[key]
        elif isinstance(value, tuple) and key.isdecimal() and int(key) < len(value):
            value = value[int(key)]
        else:
            raise InputError([_unknown_path(type(entry), "", path)])
    return value


def unit_of(entry: type[Entry], path: str) -> str:
    """The SI unit of the value at a path below an entry class, "" for none.

    Raises InputError for a path that the class does not have.
    """
    shape = shapes.at(entry, path)
    if shape is None:
        raise InputError([_unknown_path(entry, "", path)])
    return shapes.unit_of_shape(shape)


@dataclass(slots=True, kw_only=True)
class _Binder:
    """Collects places and problems while a file is bound.

    `names` are the entries by section; of the `unsure` keys at the top not all that they hold is
    known, so nothing is said to be missing there. `alike` counts the problems of one sort by the
    head of their table, their column and what they are about.
    """

    scale: Scale | None
    files: tables.Files
    names: dict[str, Collection[str]] = field(default_factory=dict)
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
            body, problems = tables.expand(section, node, self.files)
            for problem in problems:
                self.report(problem)
            if not body.whole:
                self.unsure.add(section)
            bodies[section] = body
            self.names[section] = body.entries
        return bodies

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

    def check_shared_names(
        self, bodies: dict[str, tree.Mapping], sections: Mapping[str, type[Entry]]
    ) -> None:
        """Report names in two sections where a reference could mean either."""
        for together in shapes.sections_named_together(tuple(sections.values())):
            owner: dict[str, tuple[str, Place]] = {}
            for section in (each for each in together if each in bodies):
                for name, (place, _) in bodies[section].entries.items():
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
            entry = self.entry(kind, node, path, place)
            if entry is not None:
                entries[name] = entry
        return entries

    def entry(self, kind: type[AnyEntry], node: Node, path: str, place: Place) -> AnyEntry | None:
        """One entry, or None when it is broken, which is reported."""
        if not isinstance(node, tree.Mapping):
            self.report_form(shapes.expected(shapes.Record(kind)), node, path, place)
            return None
        shape = shapes.Record(kind)
        data = self.unfold(node, path)
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
        if shapes.has_names(shape):
            for complaint in unknown_names(shape, data, self.names, self.unsure, entry):
                self.complain(complaint, node, path, place)
        return entry

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
        data = {}
        for key, (place, child) in node.entries.items():
            below = f"{path}.{key}" if path else key
            self.places[below] = _pointed_at(place, child)
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
        if complaint.about == "missing":
            if isinstance(node, tree.Mapping) and not node.whole:
                return
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
        return self.alike[sort] <= tables.FEW

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
            if number > tables.FEW:
                message = f"{number - tables.FEW} more such problems in the column '{column}'"
                self.report(Problem(message=message, place=place))
        lines = {file: tree.lines_of(text) for file, text in self.files.texts.items()}
        return InputError(tree.finished(each, lines) for each in self.problems.values()).problems


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


def _given(value: object, temperatures: Scale | None) -> object:
    """A value from outside the file: bare numbers carry their scale, lists become tuples."""
    if isinstance(value, Mapping):
        return {key: _given(each, temperatures) for key, each in value.items()}
    if isinstance(value, (list, tuple)):
        return tuple(_given(each, temperatures) for each in value)
    if isinstance(value, Real) and not isinstance(value, bool):
        # numpy's numbers too
        return Given(int(value) if isinstance(value, Integral) else float(value), temperatures)
    return Absent.NOTHING if value is None else value


def _holds(data: Any, keys: Iterable[str]) -> bool:
    """Whether data leads somewhere by these keys."""
    for key in keys:
        if isinstance(data, Mapping) and key in data:
            data = data[key]
        elif isinstance(data, tuple) and key.isdecimal() and int(key) < len(data):
            data = data[int(key)]
        else:
            return False
    return True


def _with_value(data: Any, whole: Any, keys: tuple[str, ...], value: object) -> Any:
    """Data with one value replaced. What was left out is taken from `whole`, its defaults."""
    if not keys:
        return value
    key, *rest = keys
    if isinstance(data, tuple) and key.isdecimal() and int(key) < len(data):
        at = int(key)
        changed = _with_value(data[at], data[at], tuple(rest), value)
        return (*data[:at], changed, *data[at + 1 :])
    of_key = whole.get(key, {}) if isinstance(whole, Mapping) else {}
    held = data if isinstance(data, Mapping) else {}
    return {**held, key: _with_value(held.get(key, of_key), of_key, tuple(rest), value)}


def _unknown_path(entry: type[Entry], path: str, below: str) -> Problem:
    """The problem that an entry class has nothing at a path."""
    keys = shapes.keys_of(entry)
    hint = "" if below.partition(".")[0] in keys else nearest(below, keys)
    return Problem(message=f"no such key: '{below}'{hint}", path=path)
