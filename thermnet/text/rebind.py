"""Values of an entry that is bound already: read by path, or changed by the rules of the file."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from numbers import Integral, Real
from typing import Any, TypeVar

from pydantic import ValidationError

from thermnet.errors import InputError, Problem, nearest
from thermnet.text import shapes
from thermnet.text.explain import explain, unknown_names
from thermnet.text.fields import Absent, Entry, Given
from thermnet.text.rows import rows_of
from thermnet.units import Scale

AnyEntry = TypeVar("AnyEntry", bound=Entry)


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
    data = _dumped(entry, stated=True)
    for below, value in changes.items():
        if not below or shapes.at(type(entry), below) is None:
            raise InputError([_unknown_path(type(entry), path, below)])
        *above, last = shapes.keys_in(type(entry), below)
        # A change within something left out starts from its default.
        whole = data if _holds(data, above) else _dumped(entry, stated=False)
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


def _dumped(entry: Entry, *, stated: bool) -> dict[str, Any]:
    """The values of an entry by key, either as stated or with defaults; arrays as they are."""
    table = rows_of(entry)
    values = entry.model_dump(
        by_alias=True,
        exclude=None if table is None else {"table"},
        exclude_unset=stated,
        exclude_none=not stated,
    )
    return values if table is None else {**values, "table": table}


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
