"""Gases that may be left between the layers of a blanket."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import Annotated

from pydantic import Field, model_validator

from thermnet.errors import nearest
from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.model.library.rows import Column, by_name, named, packaged, read_rows, sources
from thermnet.network.parts import Part
from thermnet.physics.gas import GasFacts
from thermnet.text.fields import Entry, Text, fault, number, quantity
from thermnet.text.fields import temperature as temperature_in

FILE = "gases.csv"
COLUMNS = {
    "molar_mass": Column(unit="kg/mol", needed=True, least=1e-3, greatest=1.0),
    "heat_capacity_ratio": Column(needed=True, least=1.001, greatest=1.67),
    "accommodation": Column(needed=True, least=0.01, greatest=1.0),
    "conductivity": Column(unit="W/m/K", needed=True, least=1e-4, greatest=1.0),
    "conductivity_at": Column(unit="K", needed=True, least=1.0, greatest=2000.0),
    "sutherland": Column(unit="K", least=0.0, greatest=1e4),
    "exponent": Column(least=0.0, greatest=2.0),
    "lowest": Column(unit="K", least=0.0, greatest=2000.0),
}
"""The columns of the library table, which are the keys of an entry and the fields of the facts."""

NEEDED = tuple(key for key, column in COLUMNS.items() if column.needed)

Temperature = Annotated[float, temperature_in()]


class Gas(Entry):
    """A gas that differs from the library's of the same name in the keys given, or a new one."""

    molar_mass: Annotated[float, quantity("kg/mol", at_least=1e-3, at_most=1)] | None = Field(
        None, description="mass of a mole"
    )
    heat_capacity_ratio: Annotated[float, number(above=1, at_most=1.67)] | None = Field(
        None, description="heat capacity at constant pressure over that at constant volume"
    )
    accommodation: Annotated[float, number(at_least=0.01, at_most=1)] | None = Field(
        None,
        description="share of the difference in energy that a molecule gives up when it strikes a "
        "face; 1 lets most heat through",
    )
    conductivity: Annotated[float, quantity("W/m/K", at_least=1e-4, at_most=1)] | None = Field(
        None, description="of the dense gas, at the temperature `conductivity_at`"
    )
    conductivity_at: Temperature | None = Field(None, description="temperature that it holds at")
    sutherland: Annotated[float, quantity("K", at_least=0, at_most=1e4)] | None = Field(
        None, description="temperature in Sutherland's form of the conductivity, or give `exponent`"
    )
    exponent: Annotated[float, number(at_least=0, at_most=2)] | None = Field(
        None, description="of the temperature, which the conductivity goes with"
    )
    lowest: Temperature | None = Field(
        None, description="temperature below which the conductivity is held, and it may condense"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _together(self) -> Gas:
        if all(getattr(self, key) is None for key in COLUMNS):
            raise fault("molar_mass", "missing key: a gas states what differs from the library")
        if self.sutherland is not None and self.exponent is not None:
            raise fault("exponent", "give either this or 'sutherland', not both")
        if (self.conductivity is None) != (self.conductivity_at is None):
            lacking = "conductivity" if self.conductivity is None else "conductivity_at"
            raise fault(
                lacking, "missing key: `conductivity` and `conductivity_at` go with each other"
            )
        if self.conductivity_at is not None and not 1.0 <= self.conductivity_at <= 2000.0:
            raise fault("conductivity_at", "must be from 1 to 2000 K")
        return self


@functools.cache
def library() -> Mapping[str, GasFacts]:
    """The gases of the library by name."""
    rows = by_name(read_rows(packaged(FILE), FILE, COLUMNS), FILE)
    return {
        name: GasFacts(name=name, source=row.source, **row.numbers) for name, row in rows.items()
    }


GASES = tuple(library())
"""Names of the gases of the library."""


def gas(name: str, entries: Mapping[str, Gas]) -> GasFacts:
    """The facts of a gas: the library's, changed by the keys of the model's entry of that name.

    The entry of a part, `part/name`, changes that of the library by its own `name`.

    Raises ValueError with a sentence for a name that neither knows, and for a new gas that lacks a
    key.
    """
    entry = entries.get(name)
    known = library().get(name if entry is None else named(name))
    if known is None and entry is None:
        raise ValueError(f"unknown gas '{name}'{nearest(name, [*entries, *library()])}")
    if entry is None and known is not None:
        return known
    own = {key: value for key in COLUMNS if (value := getattr(entry, key)) is not None}
    values = {} if known is None else {key: getattr(known, key) for key in COLUMNS}
    if "sutherland" in own or "exponent" in own:  # either takes the place of the other
        values |= {"sutherland": None, "exponent": None}
    values |= own
    lacking = [f"`{key}`" for key in NEEDED if key not in values]
    if values.get("sutherland") is None and values.get("exponent") is None:
        lacking.append("`sutherland` or `exponent`")
    if lacking:
        raise ValueError(f"the gas '{name}' is not in the library and needs {', '.join(lacking)}")
    source = sources(own, entry.note if entry else "", known.source if known else "")
    return GasFacts(name=name, source=source, **values)


def expand(name: str, entry: Gas, path: str, around: Surroundings) -> tuple[Part, ...]:
    """No part; raises ValueError for a new gas that lacks a key, whoever uses it."""
    gas(name, {name: entry})
    return ()


KIND = Kind(section="gases", entry=Gas, expand=expand)
