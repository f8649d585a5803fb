"""An entry with everything that it refers to renamed, by the annotations of its class."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace

from thermnet.errors import Place, Problem
from thermnet.text import shapes, tree
from thermnet.text.fields import Words
from thermnet.text.rows import Rows
from thermnet.text.shapes import ByName, Choice, Either, Leaf, Record, Shape
from thermnet.text.tree import Node, Scalar, Sequence
from thermnet.text.whole_tables import WholeTable


@dataclass(frozen=True, slots=True, kw_only=True)
class Names:
    """How the names of a part become names of its host.

    `own` names, by section, get the part's name before them; those that the host has in `above`
    stay. A name in sections that are `left` to the host, which the host does not have, is lost.
    `taken` are all names of the host, where a name of the library may mean something else.
    """

    part: str
    own: Mapping[str, Collection[str]]
    above: Mapping[str, Collection[str]]
    left: Collection[str]
    taken: Mapping[str, Collection[str]] = field(default_factory=dict)

    def of(self, kind: Words, name: str) -> str | None:
        """The name that a reference gets, None when the host has nothing of the name."""
        if any(name in self.own.get(section, ()) for section in kind.sections):
            return f"{self.part}/{name}"
        if name in kind.also or self.stays(kind, name):
            return name
        if all(section in self.left for section in kind.sections):
            return None
        return f"{self.part}/{name}"  # nobody has it: the message shows what there is instead

    def clashes(self, kind: Words, name: str) -> bool:
        """Whether a name is the library's in the part, and that of an entry in the host."""
        sections = [section for section in kind.sections if section not in self.left]
        if name not in kind.also or any(name in self.own.get(each, ()) for each in sections):
            return False
        return any(name in self.taken.get(each, ()) for each in sections)

    def stays(self, kind: Words, name: str) -> bool:
        return any(name in self.above.get(section, ()) for section in kind.sections)

    def of_path(self, path: str) -> str:
        """A path `section.name.key`, whose name may hold `*`, as it is in the host."""
        section, *rest = path.split(".", 2)
        if len(rest) < 2 or section in self.left or rest[0] in self.above.get(section, ()):
            return path
        return f"{section}.{self.part}/{rest[0]}.{rest[1]}"


@dataclass(slots=True, kw_only=True)
class _Walk:
    """A way through one entry: what the host has nothing of, and whether it has something.

    `without`: a key has been left without anything that the host has.
    """

    names: Names
    lost: list[tuple[Words, str]] = field(default_factory=list)
    kept: bool = False
    without: bool = False
    problems: list[Problem] = field(default_factory=list)

    def name(self, kind: Words, name: str) -> str | None:
        found = self.names.of(kind, name)
        if found is None:
            self.lost.append((kind, name))
        elif all(section in self.names.left for section in kind.sections):
            self.kept = True
        return found

    def node(self, node: Node, shape: Shape) -> Node | None:
        """A node renamed; None for a name that the host has nothing of."""
        if isinstance(node, Scalar):
            kind = _reference(shape, node.value)
            if kind is None or not isinstance(node.value, str):
                return node
            if self.names.clashes(kind, node.value):
                self.problems.append(_another_meaning(kind, node))
            name = self.name(kind, node.value)
            return None if name is None else replace(node, value=name)
        if isinstance(node, Sequence):
            return self.sequence(node, shape)
        return self.mapping(node, shape)

    def sequence(self, node: Sequence, shape: Shape) -> Sequence:
        """A list without the names that the host has nothing of."""
        lost = len(self.lost)
        items = []
        for position, item in enumerate(node.items):
            below = shapes.inside(shape, str(position))
            found = item if below is None else self.node(item, below)
            if found is not None:
                items.append(found)
        if node.items and not items:
            # An empty list says something else: always, or everywhere.
            self.without = True
            self.problems.append(_none_of(self.lost[lost:], node))
        return replace(node, items=tuple(items))

    def mapping(self, node: tree.Mapping, shape: Shape) -> tree.Mapping:
        """Keys and values, without keys that are names that the host has nothing of."""
        keys_are = _kind_of_keys(shape)
        entries = {}
        for key, (place, child) in node.entries.items():
            new = key if keys_are is None else self.name(keys_are, key)
            if new is None:
                continue
            below = shapes.inside(shape, key)
            sought = below is not None and shapes.has_names(below)
            found = self.node(child, below) if below is not None and sought else child
            # A single name that the host has nothing of stays, to be reported as unknown.
            self.without |= found is None
            entries[new] = place, child if found is None else found
        entries |= self.defaults(node, shape)
        return replace(node, entries=entries)

    def defaults(self, node: tree.Mapping, shape: Shape) -> dict[str, tuple[Place, Node]]:
        """The keys left out whose default is the name of something in the part."""
        found: dict[str, tuple[Place, Node]] = {}
        if not isinstance(shape, Record):
            return found
        keys = shapes.keys_of(shape.entry)
        for key, below in shapes.keys_with_names(shape.entry).items():
            default = keys[key].default
            kind = _reference(below, default)
            if key in node.entries or kind is None or not isinstance(default, str):
                continue
            if any(default in self.names.own.get(section, ()) for section in kind.sections):
                name = f"{self.names.part}/{default}"
                found[key] = node.place, Scalar(name, node.place, name)
        return found


def renamed(
    node: Node, shape: Shape, names: Names, *, paths: str = ""
) -> tuple[Node, list[Problem], bool]:
    """An entry with all that it refers to renamed, and what is wrong with that.

    `paths` is the key below which keys are paths of values, if there is one. The last value says
    whether a key names nothing but what the host does not have.
    """
    if not isinstance(node, tree.Mapping):
        return node, [], False
    walk = _Walk(names=names)
    found = walk.mapping(node, shape)
    if walk.lost and not walk.kept and not walk.problems:
        walk.problems.append(_none_of(walk.lost, node))
    changes = found.entries.get(paths)
    if changes is not None and isinstance(changes[1], tree.Mapping):
        entries = {names.of_path(path): each for path, each in changes[1].entries.items()}
        renamed_changes = replace(changes[1], entries=entries)
        found = replace(found, entries={**found.entries, paths: (changes[0], renamed_changes)})
    return found, walk.problems, walk.without


def renamed_rows(table: WholeTable, names: Names) -> Rows | None:
    """The rows of a whole table with their own names, and those that they lead to, renamed."""
    rows = table.rows
    if rows is None:
        return None
    kinds = (column.kind for _, column in table.columns.columns)
    sections = [each for kind in kinds if isinstance(kind, Words) for each in kind.sections]
    kind = Words(tuple(dict.fromkeys(sections)))
    return replace(
        rows,
        labels=tuple(names.of(kind, label) or label for label in rows.labels),
        names=tuple(f"{names.part}/{name}" for name in rows.names),
    )


def _another_meaning(kind: Words, node: Scalar) -> Problem:
    """The problem that a name of the library means something of the host's own there."""
    message = (
        f"'{node.value}' is the library's here, but the model that this is a part of has a "
        f"{kind.noun} of its own by that name: give that another name"
    )
    return Problem(message=message, place=node.place)


def _none_of(lost: Iterable[tuple[Words, str]], node: Node) -> Problem:
    """The problem that the host has nothing of all that is named."""
    found = list(lost)
    words = ", ".join(dict.fromkeys(f"'{name}'" for _, name in found))
    message = f"the model that this is a part of has no {found[0][0].noun} {words}"
    return Problem(message=message, place=node.place)


def _members(shape: Shape) -> tuple[Shape, ...]:
    return shape.members if isinstance(shape, Either) else (shape,)


def _reference(shape: Shape, value: object) -> Words | None:
    """What a value names, None where it is no name."""
    members = _members(shape)
    if any(isinstance(each, Choice) and value in each.values for each in members):
        return None
    kinds = (each.kind for each in members if isinstance(each, Leaf))
    return next((each for each in kinds if isinstance(each, Words) and each.sections), None)


def _kind_of_keys(shape: Shape) -> Words | None:
    """What the keys under a shape name, None where they are no names of entries."""
    keys = (each.key for each in _members(shape) if isinstance(each, ByName))
    return next((each for each in keys if each is not None and each.sections), None)
