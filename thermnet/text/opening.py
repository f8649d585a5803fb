"""A file opened: the entries of each section with their tables written out, and every name.

All names are known before any entry is read, so that entries may refer to what stands below them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from thermnet.errors import Place, Problem, nearest
from thermnet.text import shapes, tree
from thermnet.text.fields import Entry, singular
from thermnet.text.reports import Reports
from thermnet.text.rows import Columns, columns_of, names_of_tables
from thermnet.text.side_files import Files
from thermnet.text.tables import FEW, KEY, expand
from thermnet.text.tree import Scalar
from thermnet.text.whole_tables import WholeTable, read_table
from thermnet.units import Scale


@dataclass(frozen=True, slots=True)
class Brought:
    """What is known of an entry that a part brought in: the part, and its bare temperatures."""

    part: str
    scale: Scale | None


@dataclass(slots=True, kw_only=True)
class Opened:
    """What is learnt of a file before its entries are read.

    `scale` is that of its bare temperatures; `tables` are the classes, by section, of entries that
    hold a whole table; entries of a section in `counts` count as such of another section too.
    `bodies` are the entries by section and `names` their names, each with its place; of the
    `unsure` keys at the top not all that they hold is known, so nothing is said to be missing
    there. `read` are the whole tables by section and name, `places` those of the sections,
    `brought` the paths of entries that parts brought in, `tops` the other keys of those parts.
    """

    files: Files
    scale: Scale | None
    reports: Reports
    tables: Mapping[str, type[Entry]]
    counts: Mapping[str, str]
    bodies: dict[str, tree.Mapping] = field(default_factory=dict)
    names: dict[str, dict[str, Place]] = field(default_factory=dict)
    unsure: set[str] = field(default_factory=set)
    read: dict[tuple[str, str], WholeTable] = field(default_factory=dict)
    places: dict[str, Place] = field(default_factory=dict)
    brought: dict[str, Brought] = field(default_factory=dict)
    tops: list[tree.Mapping] = field(default_factory=list)

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
            self.reports.add(Problem(message=f"unknown key '{key}'{hint}", place=place))

    def open_sections(self, root: tree.Mapping, sections: Mapping[str, type[Entry]]) -> None:
        """The entries of each section with its tables written out; learns all names."""
        for section in sections:
            if section not in root.entries:
                continue
            place, node = root.entries[section]
            self.places[section] = place
            if not isinstance(node, tree.Mapping):
                self.unsure.add(section)
                self.reports.add_form("names with keys and values below", node, section, place)
                continue
            body, problems = expand(section, node, self.files, whole=section in self.tables)
            for problem in problems:
                self.reports.add(problem)
            if not body.whole:
                self.unsure.add(section)
            self.bodies[section] = body
            self.names[section] = {name: place for name, (place, _) in body.entries.items()}
            if section in self.tables:
                self.read_tables(section, body, columns_of(self.tables[section]))

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
                self.reports.add(Problem(message=message, path=f"{section}.{name}", place=place))
            names.update(fresh)

    def check_shared_names(self, sections: Mapping[str, type[Entry]]) -> None:
        """Report names in two sections where a reference could mean either."""
        for mixed in shapes.sections_named_together(tuple(sections.values())):
            counting = (each for each, other in self.counts.items() if other in mixed)
            together = (*mixed, *counting)
            owner: dict[str, tuple[str, Place]] = {}
            for section in (each for each in together if each in self.names):
                for name, place in self.names[section].items():
                    other, first = owner.setdefault(name, (section, place))
                    if other != section:
                        message = (
                            f"'{name}' is a {singular(other)} already, at {first}; "
                            f"a reference could mean either"
                        )
                        path = f"{section}.{name}"
                        self.reports.add(Problem(message=message, path=path, place=place))

    def count_in(self) -> None:
        """Let the names of some sections be names of others too, once nothing else is added."""
        for section, other in self.counts.items():
            if section in self.names:
                self.names[other] = {**self.names.get(other, {}), **self.names[section]}
            if section in self.unsure:
                self.unsure.add(other)


def scale_of(root: tree.Mapping) -> Scale | None:
    """The scale of bare temperatures. Where it is misspelt, no bare temperature is blamed."""
    node = root.get("temperatures")
    if node is None:
        return None
    return "K" if isinstance(node, Scalar) and node.value == "K" else "degC"
