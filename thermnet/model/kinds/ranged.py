"""Rows of the library that have a nominal value and a range, as a model changes them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Protocol

from thermnet.errors import nearest
from thermnet.model.library.rows import Column, by_name, named, packaged, read_rows, sources
from thermnet.physics.contact import Ranged
from thermnet.text.fields import fault

ORDER = ("low", "nominal", "high")
"""The values of a row, which must not fall in this order."""


class Stated(Protocol):
    """An entry that states values of a row, each None where it does not."""

    @property
    def note(self) -> str: ...


def library_of(file: str, columns: Mapping[str, Column]) -> dict[str, Ranged]:
    """The rows of a table by name. Raises ValueError for values that are not in their order."""
    found = {}
    for name, row in by_name(read_rows(packaged(file), file, columns), file).items():
        values: dict[str, Any] = dict(row.numbers)
        if wrong := out_of_order(values):
            raise ValueError(f"{file}, line {row.line}, row '{name}': {wrong}")
        found[name] = Ranged(name=name, source=row.source, **values)
    return found


def ranged(
    name: str,
    entries: Mapping[str, Stated],
    library: Mapping[str, Ranged],
    columns: Mapping[str, Column],
    noun: str,
) -> Ranged:
    """A row of the library, changed by the keys of the model's entry of that name, or a new one.

    The entry of a part, `part/name`, changes that of the library by its own `name`. With a nominal
    value that is stated nothing of the library's holds: what is not stated too is not known. Raises
    ValueError with a sentence for a name that neither knows, for one without a nominal value, for
    another pressure of values that it does not state, and for values that are not in order.
    """
    entry = entries.get(name)
    known = library.get(name if entry is None else named(name))
    if entry is None:
        if known is None:
            raise ValueError(f"unknown {noun} '{name}'{nearest(name, [*entries, *library])}")
        return known
    own = {key: value for key in columns if (value := getattr(entry, key)) is not None}
    values = {} if known is None else {key: getattr(known, key) for key in columns}
    if "nominal" in own:
        values = dict.fromkeys(columns)
    values |= own
    if values.get("nominal") is None:
        raise ValueError(f"the {noun} '{name}' is not in the library and needs `nominal`")
    if "pressure" in own and "nominal" not in own:
        raise ValueError(
            f"the {noun} '{name}' states another `pressure` for the library's values: state "
            "`nominal` too, or the pressure at the joint"
        )
    if wrong := out_of_order(values):
        raise ValueError(f"the {noun} '{name}': {wrong}")
    left = [key for key, value in values.items() if value is not None and key not in own]
    source = sources(own, entry.note, known.source if known and left else "")
    return Ranged(name=name, source=source, **values)


def check_order(entry: object) -> None:
    """Raise a fault at the value of an entry that lies below one that it must not."""
    values = {key: getattr(entry, key) for key in ORDER}
    if wrong := out_of_order(values):
        raise fault("high" if "'high'" in wrong else "nominal", wrong)


def out_of_order(values: Mapping[str, float | None]) -> str:
    """What is wrong with the order of values, "" for nothing."""
    stated = [(key, value) for key in ORDER if (value := values.get(key)) is not None]
    for (first, lower), (second, upper) in zip(stated[:-1], stated[1:], strict=True):
        if lower > upper:
            return f"'{first}' {lower:g} lies above '{second}' {upper:g}"
    return ""
