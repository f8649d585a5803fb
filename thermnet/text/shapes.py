"""The shape of an entry, read once from its annotations: what may stand under which key.

Messages, references, units, the schema and the reference pages all follow these few forms.
"""

from __future__ import annotations

import functools
import types
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic.fields import FieldInfo

from thermnet.text.fields import Annotation, Anything, Entry, Given, Words, spelled
from thermnet.text.rows import Columns, Rows


@dataclass(frozen=True, slots=True)
class Leaf:
    """One value under one of our annotations."""

    kind: Annotation | Columns


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few fixed values; True and False for a truth value."""

    values: tuple[str | int | bool, ...]


@dataclass(frozen=True, slots=True)
class Many:
    """A list of any length."""

    item: Shape


@dataclass(frozen=True, slots=True)
class Fixed:
    """A list with one shape for each position."""

    items: tuple[Shape, ...]


@dataclass(frozen=True, slots=True)
class ByName:
    """Things under names that the user chooses, or under those of entries elsewhere (`key`)."""

    item: Shape
    key: Words | None = None


@dataclass(frozen=True, slots=True)
class Record:
    """The keys of an entry class."""

    entry: type[Entry]


@dataclass(frozen=True, slots=True)
class Either:
    """One of several shapes, each with the annotation it was read from."""

    members: tuple[Shape, ...]
    annotations: tuple[Any, ...]


Shape = Leaf | Choice | Many | Fixed | ByName | Record | Either


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One key of an entry class; `attribute` is its name in Python."""

    attribute: str
    shape: Shape
    required: bool
    default: Any
    description: str


@functools.cache
def keys_of(entry: type[Entry]) -> dict[str, Key]:
    """The keys of an entry class as the file spells them."""
    return {
        spelled(name): Key(
            attribute=name,
            shape=_shape_of_field(info),
            required=info.is_required(),
            default=None if info.is_required() else info.get_default(call_default_factory=True),
            description=info.description or "",
        )
        for name, info in entry.model_fields.items()
    }


@functools.cache
def shape_of(annotation: Any) -> Shape:  # noqa: PLR0911 one for each shape
    """The shape that an annotation describes. Raises TypeError for one that no file can hold."""
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        kinds = [each for each in arguments[1:] if isinstance(each, Annotation | Columns)]
        return Leaf(kinds[0]) if kinds else shape_of(arguments[0])
    if origin in {Union, types.UnionType}:
        members = tuple(each for each in arguments if each is not type(None))
        shapes = tuple(shape_of(each) for each in members)
        return shapes[0] if len(shapes) == 1 else Either(shapes, members)
    if origin is Literal:
        return Choice(arguments)
    if annotation is bool:
        return Choice((True, False))
    if origin is tuple and len(arguments) == 2 and arguments[1] is Ellipsis:
        return Many(shape_of(arguments[0]))
    if origin is tuple:
        return Fixed(tuple(shape_of(each) for each in arguments))
    if origin is dict and arguments[0] is str:
        return ByName(shape_of(arguments[1]))
    if origin is dict and isinstance(key := shape_of(arguments[0]), Leaf):
        return ByName(shape_of(arguments[1]), key.kind if isinstance(key.kind, Words) else None)
    if isinstance(annotation, type) and issubclass(annotation, Entry):
        return Record(annotation)
    raise TypeError(f"a field needs one of the annotations of thermnet.text.fields: {annotation}")


def inside(shape: Shape, key: str) -> Shape | None:
    """The shape under a key, or under a position written as a number; None when there is none."""
    if isinstance(shape, Record):
        known = keys_of(shape.entry)
        return known[key].shape if key in known else None
    if isinstance(shape, ByName):
        return shape.item
    if isinstance(shape, Many):
        return shape.item if key.isdecimal() else None
    if isinstance(shape, Fixed):
        return shape.items[int(key)] if key.isdecimal() and int(key) < len(shape.items) else None
    if isinstance(shape, Either):
        return next((found for each in shape.members if (found := inside(each, key))), None)
    return None


@functools.lru_cache(maxsize=4096)
def keys_in(entry: type[Entry], path: str) -> tuple[str, ...]:
    """A path below an entry, taken apart. Names of bare values may hold dots: they come last."""
    shape: Shape | None = Record(entry)
    keys: tuple[str, ...] = ()
    rest = path
    while rest:
        if isinstance(shape, ByName) and not isinstance(shape.item, Record):
            return (*keys, rest)
        key, _, rest = rest.partition(".")
        keys = (*keys, key)
        shape = inside(shape, key) if shape is not None else None
    return keys


@functools.lru_cache(maxsize=4096)
def at(entry: type[Entry], path: str) -> Shape | None:
    """The shape at a path below an entry class, None when there is none."""
    shape: Shape | None = Record(entry)
    for key in keys_in(entry, path):
        shape = inside(shape, key) if shape is not None else None
    return shape


def unit_of_shape(shape: Shape) -> str:
    """The SI unit of a shape's numbers, "" where it has none."""
    if isinstance(shape, Leaf):
        return shape.kind.unit
    if isinstance(shape, Many | ByName):
        return unit_of_shape(shape.item)
    if isinstance(shape, Fixed):
        return unit_of_shape(shape.items[0])
    if isinstance(shape, Either):
        return next((unit for each in shape.members if (unit := unit_of_shape(each))), "")
    return ""


def expected(shape: Shape) -> str:  # noqa: PLR0911 one for each shape
    """What may stand there, in words for a message."""
    if isinstance(shape, Leaf):
        return shape.kind.expected
    if isinstance(shape, Choice):
        return " or ".join(_choice(value) for value in shape.values)
    if isinstance(shape, Many):
        return f"a list, each {expected(shape.item)}"
    if isinstance(shape, Fixed):
        return f"a list of {len(shape.items)} values"
    if isinstance(shape, Either):
        return " or ".join(expected(each) for each in shape.members)
    if isinstance(shape, Record):
        return f"keys and values ({', '.join(keys_of(shape.entry))})"
    return "names with values"


def takes(shape: Shape, value: object) -> bool:  # noqa: PLR0911 one for each shape
    """Whether a value is of the right form (one value, list, keys), its details set aside."""
    if isinstance(value, Given):
        value = value.value
    if isinstance(shape, Either):
        return any(takes(each, value) for each in shape.members)
    if isinstance(shape, Record | ByName):
        return isinstance(value, dict)
    if isinstance(shape, Many | Fixed):
        return isinstance(value, tuple)
    if isinstance(shape, Choice):
        return any(type(value) is type(choice) for choice in shape.values)
    if isinstance(shape.kind, Words):
        return isinstance(value, str)
    if isinstance(shape.kind, Columns):
        return isinstance(value, Rows)
    if isinstance(shape.kind, Anything):
        return isinstance(value, (bool, int, float, str, tuple))
    return _looks_numeric(value)


@functools.cache
def keys_with_names(entry: type[Entry]) -> dict[str, Shape]:
    """The keys of an entry class under which references may stand."""
    return {key: known.shape for key, known in keys_of(entry).items() if has_names(known.shape)}


@functools.cache
def has_names(shape: Shape) -> bool:
    """Whether references to other entries may stand in a shape."""
    return any(kind.sections for kind in _references(shape))


def _shape_of_field(info: FieldInfo) -> Shape:
    # pydantic takes the outer annotation apart: its extras are in the metadata.
    kinds = [each for each in info.metadata if isinstance(each, Annotation | Columns)]
    annotation: Any = info.annotation
    return Leaf(kinds[0]) if kinds else shape_of(annotation)


def _looks_numeric(value: object) -> bool:
    if isinstance(value, str):
        return value.lstrip()[:1] in set("0123456789+-.")
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _choice(value: str | int | bool) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"'{value}'" if isinstance(value, str) else str(value)


@functools.cache
def has_groups(shape: Shape) -> bool:
    """Whether entries under names that the user chooses may stand in a shape."""
    if isinstance(shape, ByName) and isinstance(shape.item, Record):
        return True
    return any(has_groups(part) for part in _parts(shape))


@functools.cache
def sections_named_together(entries: tuple[type[Entry], ...]) -> set[tuple[str, ...]]:
    """The groups of sections that one reference may name an entry of."""
    found: set[tuple[str, ...]] = set()
    for entry in entries:
        for kind in _references(Record(entry)):
            if len(kind.sections) > 1:
                found.add(tuple(sorted(kind.sections)))
    return found


def _references(shape: Shape) -> Iterator[Words]:
    if isinstance(shape, Leaf) and isinstance(shape.kind, Words):
        yield shape.kind
    if isinstance(shape, ByName) and shape.key is not None:
        yield shape.key
    for part in _parts(shape):
        yield from _references(part)


def _parts(shape: Shape) -> tuple[Shape, ...]:
    """The shapes that a shape is made of."""
    if isinstance(shape, Many | ByName):
        return (shape.item,)
    if isinstance(shape, Fixed):
        return shape.items
    if isinstance(shape, Either):
        return shape.members
    if isinstance(shape, Record):
        return tuple(key.shape for key in keys_of(shape.entry).values())
    return ()
