"""Separators between layers of a blanket, by the coefficients of a published formula."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.model.library.rows import Column, by_name, named, packaged, read_rows, sources
from thermnet.network.parts import Part
from thermnet.physics.blanket import SeparatorFacts
from thermnet.text.fields import Entry, Text, number, quantity, temperature

FILE = "separators.csv"
COLUMNS = {
    "conduction": Column(needed=True, least=1e-15, greatest=1.0),
    "density_exponent": Column(needed=True, least=0.1, greatest=10.0),
    "radiation": Column(needed=True, least=1e-15, greatest=1.0),
    "radiation_exponent": Column(needed=True, least=1.0, greatest=10.0),
    "emittance": Column(least=1e-3, greatest=1.0),
    "density_least": Column(unit="1/m", least=1e-3),
    "density_most": Column(unit="1/m", least=1e-3),
    "layers_least": Column(least=1.0),
    "coldest": Column(unit="K", least=1e-3),
}
"""The numbers of the library table, which are keys of an entry and fields of the facts."""

DIVISORS = ("gaps", "layers")
NEEDED = ("conduction", "density_exponent", "radiation", "radiation_exponent", "divisor")

Coefficient = Annotated[float, number(above=0, at_most=1)]
Exponent = Annotated[float, number(above=0, at_most=10)]
Many = Annotated[float, number(at_least=1)]
Density = Annotated[float, quantity("1/m", above=0)]


class Separator(Entry):
    """A separator that differs from the library's of the same name in the keys given, or a new one.

    A new one needs the four numbers of the formula and its divisor: q = conduction x
    n^density_exponent x (T_hot^2 - T_cold^2) / (2 x divisor) + radiation x emittance x
    (T_hot^p - T_cold^p) / layers, in W/m2, with n layers to a centimetre and p the exponent of the
    radiation.
    """

    conduction: Coefficient | None = Field(
        None, description="coefficient of conduction [W/m2/K2] at one layer to a centimetre"
    )
    density_exponent: Exponent | None = Field(
        None, description="power by which conduction goes with the layers to a centimetre"
    )
    radiation: Coefficient | None = Field(
        None, description="coefficient of radiation [W/m2 over K to the exponent of the radiation]"
    )
    radiation_exponent: Exponent | None = Field(
        None, description="power of temperature by which radiation goes"
    )
    divisor: Literal["gaps", "layers"] | None = Field(
        None, description="what conduction is divided by: one more than the layers, or the layers"
    )
    emittance: Annotated[float, number(above=0, at_most=1)] | None = Field(
        None, description="of the layers, at room temperature, where a blanket states none"
    )
    density_least: Density | None = Field(
        None, description="least layers to a thickness that the formula is good for"
    )
    density_most: Density | None = Field(
        None, description="most layers to a thickness that the formula is good for"
    )
    layers_least: Many | None = Field(
        None, description="least number of layers that the formula is good for"
    )
    coldest: Annotated[float, temperature()] | None = Field(
        None, description="lowest temperature of the colder side that the formula was fitted to"
    )
    note: Text = Field("", description="where the numbers come from")


@functools.cache
def library() -> Mapping[str, SeparatorFacts]:
    """The separators of the library by name."""
    rows = by_name(read_rows(packaged(FILE), FILE, COLUMNS, words=("divisor",)), FILE)
    found = {}
    for name, row in rows.items():
        if row.words["divisor"] not in DIVISORS:
            raise ValueError(
                f"{FILE}, line {row.line}, row '{name}', column 'divisor': expected one of "
                f"{', '.join(DIVISORS)}, got '{row.words['divisor']}'"
            )
        values: dict[str, Any] = {**row.numbers, "divisor": row.words["divisor"]}
        found[name] = SeparatorFacts(name=name, source=row.source, **values)
    return found


SEPARATORS = tuple(library())
"""Names of the separators of the library."""


def separators(entries: Mapping[str, Separator]) -> dict[str, SeparatorFacts]:
    """The separators of the library, and of a model over them, by name.

    The entry of a part, `part/name`, changes that of the library by its own `name`. A new one that
    lacks a coefficient is left out: its own entry is told of it when it expands.
    """
    own = {name: entry for name, entry in entries.items() if not _lacking(name, entry)}
    return {**library(), **{name: _of(name, entry) for name, entry in own.items()}}


def _known(name: str) -> SeparatorFacts | None:
    return library().get(named(name))


def _lacking(name: str, entry: Separator) -> list[str]:
    """The keys that a new separator needs and does not state."""
    if _known(name) is not None:
        return []
    return [key for key in NEEDED if getattr(entry, key) is None]


def _of(name: str, entry: Separator) -> SeparatorFacts:
    known, own = _known(name), _stated(entry)
    values = own if known is None else _stated(known) | own
    source = sources(own, entry.note, known.source if known else "")
    return SeparatorFacts(name=name, source=source, **values)


def _stated(values: SeparatorFacts | Separator) -> dict[str, Any]:
    keys = (*COLUMNS, "divisor")
    return {key: value for key in keys if (value := getattr(values, key)) is not None}


def expand(name: str, entry: Separator, path: str, around: Surroundings) -> tuple[Part, ...]:
    """No primitives. Raises ValueError for a new separator that lacks a coefficient."""
    lacking = _lacking(name, entry)
    if lacking:
        keys = ", ".join(f"`{key}`" for key in lacking)
        raise ValueError(f"the separator '{name}' is not in the library and needs {keys}")
    return ()


KIND = Kind(section="separators", entry=Separator, expand=expand)
