"""What pydantic found wrong with an entry, in the words of the house and without repetition."""

from __future__ import annotations

import functools
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from pydantic import ValidationError

from thermnet.errors import nearest
from thermnet.text.fields import Absent, Entry, Words, shown
from thermnet.text.shapes import (
    ByName,
    Choice,
    Either,
    Fixed,
    Leaf,
    Record,
    Shape,
    expected,
    has_groups,
    has_names,
    inside,
    keys_of,
    keys_with_names,
    takes,
    unit_of_shape,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Complaint:
    """One thing wrong, at `keys` below an entry.

    `about` says what to point at: the value there, the key itself (`unknown` to the entry), a
    `missing` key of the mapping there, or a `name` that nothing bears. `key` is the missing one.
    """

    message: str
    keys: tuple[str, ...]
    about: Literal["value", "unknown", "missing", "name"] = "value"
    key: str = ""


@dataclass(frozen=True, slots=True)
class _Spot:
    """A position below an entry: its shape, what stands there, and the keys that lead to it."""

    shape: Shape
    value: Any
    keys: tuple[str, ...] = ()

    def step(self, key: str | int) -> _Spot:
        shape = inside(self.shape, str(key)) or self.shape
        value: Any = Absent.NOTHING
        if isinstance(self.value, Mapping):
            value = self.value.get(key, value)
        elif isinstance(self.value, tuple) and isinstance(key, int) and key < len(self.value):
            value = self.value[key]
        return _Spot(shape, value, (*self.keys, str(key)))


def explain(
    error: ValidationError, shape: Shape, value: object, context: dict[str, Any]
) -> list[Complaint]:
    """Every complaint in an error about a value of a shape, each once, none that follows."""
    complaints = dict.fromkeys(_complaints(error, _Spot(shape, value), context))
    hints = {(each.keys[:-1], each.message) for each in complaints if each.about == "unknown"}
    return [each for each in complaints if not _follows(each, hints)]


def surely_known(
    entry: type[Entry], data: Mapping[str, Any], names: Mapping[str, Collection[str]]
) -> bool:
    """Whether every reference of an entry's data leads somewhere, by a quick look; else maybe."""
    for key, sections, default in _quick_look(entry):
        name = data.get(key, default)
        if name is None and key not in data:
            continue
        found = isinstance(name, str) and any(name in names.get(each, ()) for each in sections)
        if not found:
            return False
    return True


@functools.cache
def _quick_look(entry: type[Entry]) -> tuple[tuple[str, tuple[str, ...], Any], ...]:
    """Each key with references, the sections of a single name (none for more), its default."""
    known = keys_of(entry)
    return tuple(
        (
            key,
            shape.kind.sections
            if isinstance(shape, Leaf) and isinstance(shape.kind, Words)
            else (),
            known[key].default if isinstance(known[key].default, str) else None,
        )
        for key, shape in keys_with_names(entry).items()
    )


def unknown_names(
    shape: Shape,
    value: object,
    names: Mapping[str, Iterable[str]],
    unsure: Iterable[str] = (),
    entry: Entry | None = None,
) -> list[Complaint]:
    """A complaint for every reference in a value to an entry that is in none of its sections.

    `names` are the entries by section; nothing is said of the `unsure` sections' entries. Of the
    `entry` that the value was read to, if it was, the defaults are references too.
    """
    found = [] if entry is None else list(_unknown_defaults(entry, names, unsure))
    return found + [
        _unknown_name(each, names)
        for each in _references(shape, value, ())
        if _leads_nowhere(each.kind, each.name, names, unsure)
    ]


def _unknown_defaults(
    entry: Entry,
    names: Mapping[str, Iterable[str]],
    unsure: Iterable[str],
    keys: tuple[str, ...] = (),
) -> Iterator[Complaint]:
    """A complaint for every key left out of an entry, or of one within it, whose default names
    nothing that there is.
    """
    for key, below in keys_with_names(type(entry)).items():
        known = keys_of(type(entry))[key]
        value = getattr(entry, known.attribute)
        group = value.items() if isinstance(value, Mapping) else ()
        within = {(key,): value} | {(key, name): each for name, each in group}
        for at, each in within.items():
            if isinstance(each, Entry):
                yield from _unknown_defaults(each, names, unsure, (*keys, *at))
        if known.attribute in entry.model_fields_set or not isinstance(known.default, str):
            continue
        for reference in _references(below, known.default, ()):
            if _leads_nowhere(reference.kind, reference.name, names, unsure):
                message = (
                    f"missing key '{key}': there is no {reference.kind.noun} "
                    f"'{reference.name}', its default"
                )
                yield Complaint(message=message, keys=keys, about="missing", key=key)


def misnamed(shape: Shape, value: object, keys: tuple[str, ...] = ()) -> list[Complaint]:
    """A complaint for every name that a path could not hold, among names that the user chooses."""
    if not isinstance(value, Mapping) or not has_groups(shape):
        return []
    found = []
    if isinstance(shape, ByName):
        wrong = ((name, fault_of_name(name)) for name in value)
        found = [
            Complaint(message=message, keys=(*keys, name), about="unknown")
            for name, message in wrong
            if message
        ]
    for key, below in value.items():
        found += misnamed(inside(shape, key) or shape, below, (*keys, key))
    return found


def fault_of_name(name: str) -> str:
    """What is wrong with the name of an entry, "" for nothing."""
    for mark in (".", "*"):
        if mark in name:
            return f"a name cannot hold '{mark}', which paths need"
    if not name or name != name.strip() or not name.isprintable():
        return (
            "a name needs at least one character, all of them printable, and no space at its ends"
        )
    return ""


def _complaints(
    error: ValidationError, root: _Spot, context: dict[str, Any]
) -> Iterator[Complaint]:
    for each in error.errors(include_url=False, include_input=False):
        spot = root
        keys = list(each["loc"])
        last = keys.pop() if each["type"] in {"missing", "extra_forbidden"} else None
        for key in keys:
            if isinstance(spot.shape, Either):
                break
            spot = spot.step(key)
        if spot.value is Absent.BROKEN:
            continue
        if isinstance(spot.shape, Either):
            yield from _of_either(spot, spot.shape, context)
        elif last is not None:
            yield _of_key(each["type"], spot, str(last))
        else:
            yield from _of_value(each["type"], spot, each.get("ctx", {}), each["msg"])


def _of_either(spot: _Spot, shape: Either, context: dict[str, Any]) -> Iterator[Complaint]:
    """Judge by the one member that is meant, where that can be told."""
    from pydantic import TypeAdapter

    pairs = zip(shape.members, shape.annotations, strict=True)
    fitting = [(member, annotation) for member, annotation in pairs if takes(member, spot.value)]
    if len(fitting) > 1 and isinstance(spot.value, Mapping):
        shared = [_shared_keys(member, spot.value) for member, _ in fitting]
        best = max(shared)
        fitting = [each for each, n in zip(fitting, shared, strict=True) if n == best > 0]
    if len(fitting) == 1:
        member, annotation = fitting[0]
        try:
            TypeAdapter(annotation).validate_python(spot.value, strict=True, context=context)
        except ValidationError as error:
            yield from _complaints(error, _Spot(member, spot.value, spot.keys), context)
            return
    yield _unexpected(spot)


def _shared_keys(shape: Shape, value: Mapping[str, Any]) -> int:
    """How many keys of a value an entry class has."""
    return len(value.keys() & keys_of(shape.entry).keys()) if isinstance(shape, Record) else 0


def _of_key(kind: str, spot: _Spot, key: str) -> Complaint:
    """A key that is unknown, or missing; or a list that is too short."""
    if not isinstance(spot.shape, Record):
        return _unexpected(spot)
    known = keys_of(spot.shape.entry)
    if kind == "extra_forbidden":
        message = f"unknown key '{key}'{nearest(key, known)}"
        return Complaint(message=message, keys=(*spot.keys, key), about="unknown")
    unit = unit_of_shape(known[key].shape)
    message = f"missing key '{key}'" + (f" [{unit}]" if unit else "")
    return Complaint(message=message, keys=spot.keys, about="missing", key=key)


def _of_value(kind: str, spot: _Spot, context: dict[str, Any], text: str) -> Iterator[Complaint]:
    if kind == "fault":
        # The keys blamed may be absent, when a default is at odds with the rest.
        below = tuple(context["key"].split("."))
        yield Complaint(message=context["message"], keys=(*spot.keys, *below))
    elif spot.value is Absent.NOTHING:
        yield _unexpected(spot)
    elif kind == "refused":
        yield Complaint(message=context["message"], keys=spot.keys)
    elif kind == "value_error":
        yield Complaint(message=str(context["error"]), keys=spot.keys)
    elif isinstance(spot.shape, Leaf) or (
        isinstance(spot.shape, Record) and isinstance(spot.value, Mapping)
    ):
        yield Complaint(message=text, keys=spot.keys)
    else:
        yield _unexpected(spot)


def _unexpected(spot: _Spot) -> Complaint:
    """Expected one thing, got another."""
    got = shown(spot.value)
    hint = ""
    if isinstance(spot.shape, Fixed) and isinstance(spot.value, tuple):
        got = str(len(spot.value))
    if isinstance(spot.shape, Choice) and isinstance(spot.value, str):
        hint = nearest(spot.value, map(str, spot.shape.values))
        hint = hint if "did you mean" in hint else ""
    return Complaint(message=f"expected {expected(spot.shape)}, got {got}{hint}", keys=spot.keys)


def _follows(complaint: Complaint, unknown: set[tuple[tuple[str, ...], str]]) -> bool:
    """Whether a key is only missing because it is misspelt."""
    return complaint.about == "missing" and any(
        keys == complaint.keys and message.endswith(f"did you mean '{complaint.key}'?")
        for keys, message in unknown
    )


@dataclass(frozen=True, slots=True)
class _Reference:
    """A name that stands for an entry elsewhere, at `keys`; or a key that is such a name."""

    keys: tuple[str, ...]
    kind: Words
    name: str
    is_key: bool = False


def _references(shape: Shape, value: Any, keys: tuple[str, ...]) -> Iterator[_Reference]:
    """Each name that stands for an entry elsewhere."""
    if isinstance(shape, ByName) and shape.key is not None and isinstance(value, Mapping):
        for name in value:
            yield _Reference((*keys, name), shape.key, name, is_key=True)
    if isinstance(shape, Leaf):
        if isinstance(shape.kind, Words) and shape.kind.sections and isinstance(value, str):
            yield _Reference(keys, shape.kind, value)
    elif isinstance(shape, Either):
        for member in shape.members:
            if takes(member, value):
                yield from _references(member, value, keys)
    else:
        for key, below, each in _below(shape, value):
            yield from _references(below, each, (*keys, key))


def _leads_nowhere(
    kind: Words, name: str, names: Mapping[str, Iterable[str]], unsure: Iterable[str]
) -> bool:
    return name not in kind.also and not any(
        name in names.get(section, ()) or section in unsure for section in kind.sections
    )


def _below(shape: Shape, value: object) -> Iterator[tuple[str, Shape, Any]]:
    """What stands under a shape that may hold references, with the shape of each."""
    if isinstance(shape, Record):
        if isinstance(value, Mapping):
            for key, below in keys_with_names(shape.entry).items():
                if key in value:
                    yield key, below, value[key]
    elif has_names(shape):
        for key, each in _items(value):
            found = inside(shape, key)
            if found is not None:
                yield key, found, each


def _items(value: object) -> Iterator[tuple[str, Any]]:
    if isinstance(value, tuple):
        for position, each in enumerate(value):
            yield str(position), each
    elif isinstance(value, Mapping):
        yield from value.items()


def _unknown_name(found: _Reference, names: Mapping[str, Iterable[str]]) -> Complaint:
    kind, name = found.kind, found.name
    valid = [each for section in kind.sections for each in names.get(section, ())]
    message = f"unknown {kind.noun} '{name}'{nearest(name, [*valid, *kind.also])}"
    about: Literal["unknown", "name"] = "unknown" if found.is_key else "name"
    return Complaint(message=message, keys=found.keys, about=about)
