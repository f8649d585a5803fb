"""Contacts of two faces, by the conductance of an area."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.model.kinds.ranged import check_order, library_of, ranged
from thermnet.model.library.rows import Column
from thermnet.network.parts import Part
from thermnet.physics.contact import Ranged
from thermnet.text.fields import Entry, Text, fault, quantity

FILE = "contacts.csv"
COLUMNS = {
    "low": Column(unit="W/m^2/K", least=1e-6),
    "nominal": Column(unit="W/m^2/K", needed=True, least=1e-6),
    "high": Column(unit="W/m^2/K", least=1e-6),
    "pressure": Column(unit="Pa", least=1.0),
}
"""The columns of the library table, which are the keys of an entry and the fields of the facts."""

Value = Annotated[float, quantity("W/m^2/K", above=0)]


@functools.cache
def library() -> Mapping[str, Ranged]:
    """The contacts of the library by name."""
    return library_of(FILE, COLUMNS)


CONTACTS = tuple(library())
"""Names of the contacts of the library."""


class Contact(Entry):
    """The conductance of two faces upon each other, bare or with something between them, by area.

    It differs from the library's of the same name in the keys given, or is a new one. With a
    nominal value that is stated nothing of the library's holds.
    """

    low: Value | None = Field(None, description="least conductance to be expected")
    nominal: Value | None = Field(None, description="conductance to be expected")
    high: Value | None = Field(None, description="most conductance to be expected")
    pressure: Annotated[float, quantity("Pa", above=0)] | None = Field(
        None, description="pressure between the faces that the values hold at"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _something(self) -> Contact:
        if all(getattr(self, key) is None for key in COLUMNS):
            raise fault("nominal", "missing key 'nominal': say what it conducts")
        check_order(self)
        return self


def contact(name: str, entries: Mapping[str, Contact]) -> Ranged:
    """The facts of a contact: the library's, changed by the model's entry of that name.

    Raises ValueError with a sentence as `ranged` does.
    """
    return ranged(name, entries, library(), COLUMNS, "contact")


def expand(name: str, entry: Contact, path: str, around: Surroundings) -> tuple[Part, ...]:
    """No part; raises ValueError for one that lacks a value, whoever uses it."""
    contact(name, {name: entry})
    return ()


KIND = Kind(section="contacts", entry=Contact, expand=expand)
