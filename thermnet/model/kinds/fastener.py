"""Fasteners, by the conductance of a joint at one of them."""

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

FILE = "fasteners.csv"
COLUMNS = {
    "low": Column(unit="W/K", least=1e-6),
    "nominal": Column(unit="W/K", needed=True, least=1e-6),
    "high": Column(unit="W/K", least=1e-6),
}
"""The columns of the library table, which are the keys of an entry and the fields of the facts."""

Value = Annotated[float, quantity("W/K", above=0)]


@functools.cache
def library() -> Mapping[str, Ranged]:
    """The fasteners of the library by name."""
    return library_of(FILE, COLUMNS)


FASTENERS = tuple(library())
"""Names of the fasteners of the library."""


class Fastener(Entry):
    """The conductance of a joint at one fastener, such as a screw of a size.

    It differs from the library's of the same name in the keys given, or is a new one. With a
    nominal value that is stated nothing of the library's holds.
    """

    low: Value | None = Field(None, description="least conductance to be expected")
    nominal: Value | None = Field(None, description="conductance to be expected")
    high: Value | None = Field(None, description="most conductance to be expected")
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _something(self) -> Fastener:
        if all(getattr(self, key) is None for key in COLUMNS):
            raise fault("nominal", "missing key 'nominal': say what it conducts")
        check_order(self)
        return self


def fastener(name: str, entries: Mapping[str, Fastener]) -> Ranged:
    """The facts of a fastener: the library's, changed by the model's entry of that name.

    Raises ValueError with a sentence as `ranged` does.
    """
    return ranged(name, entries, library(), COLUMNS, "fastener")


def expand(name: str, entry: Fastener, path: str, around: Surroundings) -> tuple[Part, ...]:
    """No part; raises ValueError for one that lacks a value, whoever uses it."""
    fastener(name, {name: entry})
    return ()


KIND = Kind(section="fasteners", entry=Fastener, expand=expand)
