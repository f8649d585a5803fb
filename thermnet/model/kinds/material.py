"""Materials, by the temperatures that they may be used at."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from pydantic import Field, model_validator

from thermnet.errors import nearest
from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.model.library.rows import Column, by_name, named, packaged, read_rows, sources
from thermnet.network.parts import Part
from thermnet.text.fields import Entry, Text, fault, name_of, temperature

FILE = "materials.csv"
COLUMNS = {
    "lowest": Column(unit="K", needed=True, least=0.0),
    "highest": Column(unit="K", needed=True, least=0.0),
    "highest_short": Column(unit="K", least=0.0),
}
"""The columns of the library table, which are the keys of an entry and the fields of the facts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialFacts:
    """The temperatures [K] that a material may be used at.

    `highest` holds for as long as one likes, `highest_short` for a short time, None where it is not
    known; `source` says in words where the numbers come from.
    """

    name: str
    lowest: float
    highest: float
    highest_short: float | None = None
    source: str = ""


@functools.cache
def library() -> Mapping[str, MaterialFacts]:
    """The materials of the library by name."""
    rows = by_name(read_rows(packaged(FILE), FILE, COLUMNS), FILE)
    return {
        name: MaterialFacts(name=name, source=row.source, **row.numbers)
        for name, row in rows.items()
    }


MATERIALS = tuple(library())
"""Names of the materials of the library."""

OneMaterial = Annotated[str, name_of("materials", also=MATERIALS)]
Bound = Annotated[float, temperature()]


class Material(Entry):
    """A material that differs from the library's of the same name in the keys given, or a new one.

    A highest temperature that is given without the one of a short time holds for a short time too.
    """

    lowest: Bound | None = Field(None, description="lowest temperature that it may be used at")
    highest: Bound | None = Field(
        None, description="highest temperature that it may be used at for long"
    )
    highest_short: Bound | None = Field(
        None, description="highest temperature that it bears for a short time"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _something(self) -> Material:
        if all(getattr(self, key) is None for key in COLUMNS):
            raise fault("highest", "missing key: a material states `lowest` or `highest`")
        _ordered(self.lowest, self.highest, self.highest_short)
        return self


def _ordered(lowest: float | None, highest: float | None, short: float | None) -> None:
    if lowest is not None and highest is not None and not lowest < highest:
        raise fault("highest", "must lie above the lowest temperature")
    if highest is not None and short is not None and short < highest:
        raise fault("highest_short", "lies below the highest temperature for long")


def material(name: str, entries: Mapping[str, Material]) -> MaterialFacts:
    """The facts of a material: the library's, changed by the keys of the model's own entry.

    The entry of a part, `part/name`, changes that of the library by its own `name`.

    Raises ValueError with a sentence for a name that neither knows, for a new material without its
    lowest or highest temperature, and for temperatures that are not in their order.
    """
    entry = entries.get(name)
    known = library().get(name if entry is None else named(name))
    if entry is None:
        if known is None:
            raise ValueError(f"unknown material '{name}'{nearest(name, [*entries, *library()])}")
        return known
    own = {key: value for key in COLUMNS if (value := getattr(entry, key)) is not None}
    values = {} if known is None else {key: getattr(known, key) for key in COLUMNS}
    if "highest" in own:
        values["highest_short"] = None
    values |= own
    for key in ("lowest", "highest"):
        if key not in values:
            raise ValueError(f"the material '{name}' is not in the library and needs `{key}`")
    short = values.get("highest_short")
    if not values["lowest"] < values["highest"] or (short or values["highest"]) < values["highest"]:
        raise ValueError(
            f"the temperatures of the material '{name}' are not in their order: lowest "
            f"{values['lowest']:g} K, highest {values['highest']:g} K for long"
            + ("" if short is None else f" and {short:g} K for a short time")
        )
    source = sources(own, entry.note, known.source if known else "")
    return MaterialFacts(name=name, source=source, **values)


class MadeOf(Entry):
    """What a blanket is made of, each held to the temperatures that it may be used at."""

    outer: OneMaterial | None = Field(
        None, description="outer layer, held against the temperature of the outer face"
    )
    cover: OneMaterial | None = Field(
        None, description="woven cover over the outer layer, held against the outer face"
    )
    layers: OneMaterial | None = Field(
        None, description="layers, held against the worse of the covered node and the outer face"
    )
    separators: OneMaterial | None = Field(
        None, description="what keeps the layers apart, held against the worse of both as well"
    )
    short_time: bool = Field(
        False, description="whether the highest temperature of a short time counts"
    )

    @model_validator(mode="after")
    def _something(self) -> MadeOf:
        if all(getattr(self, key) is None for key in PLACES):
            raise fault("outer", f"says of no material: name one or more of {', '.join(PLACES)}")
        return self


PLACES = {
    "outer": "outer layer",
    "cover": "cover",
    "layers": "layers",
    "separators": "separators",
}
"""What a blanket has materials for: the keys of `made_of`, and what they are called."""


def expand(name: str, entry: Material, path: str, around: Surroundings) -> tuple[Part, ...]:
    """No part; raises ValueError for a new material that lacks a key, whoever uses it."""
    material(name, {name: entry})
    return ()


KIND = Kind(section="materials", entry=Material, expand=expand)
