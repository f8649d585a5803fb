"""Materials: their bulk properties, and the temperatures that they may be used at."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import Field, model_validator

from thermnet.errors import nearest
from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.model.kinds.properties import (
    Conductivity,
    SpecificHeat,
    cell,
    near_room,
    reaches_room,
    words,
)
from thermnet.model.library.rows import Column, Row, by_name, named, packaged, read_rows, sources
from thermnet.network.parts import Part
from thermnet.physics.curves import Curve
from thermnet.physics.material import MaterialFacts
from thermnet.text.fields import Entry, Text, fault, name_of, quantity, temperature

FILE = "materials.csv"
COLUMNS = {
    "density": Column(unit="kg/m^3", least=0.0),
    "specific_heat": Column(unit="J/kg/K", least=0.0),
    "conductivity": Column(unit="W/m/K", least=0.0),
    "melts_at": Column(unit="K", least=0.0),
    "latent_heat": Column(unit="J/kg", least=0.0),
    "specific_heat_liquid": Column(unit="J/kg/K", least=0.0),
    "lowest": Column(unit="K", least=0.0),
    "highest": Column(unit="K", least=0.0),
    "highest_short": Column(unit="K", least=0.0),
}
"""The columns of the library table, which are the keys of an entry and the fields of the facts."""

CURVES = ("specific_heat", "conductivity")
"""The properties that are known over temperature as well, in a column of words of their own."""

WORDS = tuple(f"{key}_by_temperature" for key in CURVES)
"""Those columns."""


@functools.cache
def rows() -> Mapping[str, Row]:
    """The rows of the library's table by name.

    Raises ValueError, which names file, line, row and column, for a cell that is wrong.
    """
    return by_name(read_rows(packaged(FILE), FILE, COLUMNS, WORDS), FILE)


@functools.cache
def of_library(name: str) -> MaterialFacts:
    """The facts of one material of the library. Its curves are made here, when they are wanted."""
    return facts_of(rows()[name])


def library() -> Mapping[str, MaterialFacts]:
    """All materials of the library by name."""
    return {name: of_library(name) for name in rows()}


def facts_of(row: Row) -> MaterialFacts:
    """The facts of a row of the table. Raises ValueError for words that make no curve."""
    found: dict[str, Any] = dict(row.numbers)
    for key, column in zip(CURVES, WORDS, strict=True):
        text = row.words[column]
        if text:
            curve = _curve(row, column, text)
            found |= {column: text, f"{key}_curve": curve}
            if reaches_room(curve):
                found.setdefault(key, near_room(curve))
    return MaterialFacts(name=row.name, source=row.source, **found)


def _curve(row: Row, column: str, text: str) -> Curve:
    try:
        return cell(text)
    except ValueError as error:
        place = f"{FILE}, line {row.line}, row '{row.name}', column '{column}'"
        raise ValueError(f"{place}: {error}") from None


MATERIALS = tuple(rows())
"""Names of the materials of the library."""

OneMaterial = Annotated[str, name_of("materials", also=MATERIALS)]
Bound = Annotated[float, temperature()]
Density = Annotated[float, quantity("kg/m^3", above=0)]
OneSpecificHeat = Annotated[float, quantity("J/kg/K", above=0)]
OneConductivity = Annotated[float, quantity("W/m/K", above=0)]
LatentHeat = Annotated[float, quantity("J/kg", above=0)]


class Material(Entry):
    """A material that differs from the library's of the same name in the keys given, or a new one.

    A number given for a property that the library knows over temperature holds at all temperatures.
    A highest temperature that is given without the one of a short time holds for a short time too.
    """

    density: Density | None = Field(None, description="density")
    specific_heat: OneSpecificHeat | SpecificHeat | None = Field(
        None,
        description="specific heat, one number or over temperature; of the solid, if it melts",
    )
    conductivity: OneConductivity | Conductivity | None = Field(
        None, description="thermal conductivity, one number or over temperature"
    )
    melts_at: Bound | None = Field(None, description="melting temperature")
    latent_heat: LatentHeat | None = Field(None, description="heat that melts it, by mass")
    specific_heat_liquid: OneSpecificHeat | None = Field(
        None, description="specific heat of the liquid"
    )
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
            raise fault("density", f"missing key: give one or more of {', '.join(COLUMNS)}")
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

    Raises ValueError with a sentence for a name that neither knows, and for temperatures that are
    not in their order.
    """
    entry = entries.get(name)
    below = name if entry is None else named(name)
    known = of_library(below) if below in rows() else None
    if entry is None:
        if known is None:
            raise ValueError(f"unknown material '{name}'{nearest(name, [*entries, *MATERIALS])}")
        return known
    keys = [key for key in COLUMNS if getattr(entry, key) is not None]
    values: dict[str, Any] = {}
    if known is not None:
        fields = (*COLUMNS, *WORDS, *(f"{key}_curve" for key in CURVES))
        values = {key: getattr(known, key) for key in fields}
    if "highest" in keys:
        values["highest_short"] = None
    for key in keys:
        values |= _stated(key, getattr(entry, key))
    _held_in_order(name, values)
    source = sources(keys, entry.note, known.source if known else "")
    return MaterialFacts(name=name, source=source, stated=tuple(keys), **values)


def _stated(key: str, value: float | Conductivity | SpecificHeat) -> dict[str, Any]:
    """What a key of an entry says of the facts; for a property it replaces curve and words too."""
    if key not in CURVES:
        return {key: value}
    if isinstance(value, Conductivity | SpecificHeat):
        text = words(value.temperature, value.value)
        number, curve = near_room(value.curve), value.curve
        return {key: number, f"{key}_curve": curve, f"{key}_by_temperature": text}
    return {key: value, f"{key}_curve": None, f"{key}_by_temperature": None}


def _held_in_order(name: str, values: Mapping[str, Any]) -> None:
    """Raise ValueError for temperatures of the model that do not fit those of the library."""
    lowest, highest, short = (values.get(key) for key in ("lowest", "highest", "highest_short"))
    if highest is None:
        return
    if (lowest is not None and not lowest < highest) or (short or highest) < highest:
        raise ValueError(
            f"the temperatures of the material '{name}' are not in their order:"
            + ("" if lowest is None else f" lowest {lowest:g} K,")
            + f" highest {highest:g} K for long"
            + ("" if short is None else f" and {short:g} K for a short time")
        )


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


def usable_between(facts: MaterialFacts) -> tuple[float, float]:
    """The lowest and highest temperature [K] that a material may be used at for long.

    Raises ValueError with a sentence for one of which either is not known.
    """
    missing = [key for key in ("lowest", "highest") if getattr(facts, key) is None]
    if missing or facts.lowest is None or facts.highest is None:
        keys = " and ".join(f"`{key}`" for key in missing)
        raise ValueError(
            f"the material '{facts.name}' needs {keys}: at which temperatures it may be used is "
            "not known"
        )
    return facts.lowest, facts.highest


def expand(name: str, entry: Material, path: str, around: Surroundings) -> tuple[Part, ...]:
    """No part; raises ValueError for temperatures that are not in order, whoever uses it."""
    material(name, {name: entry})
    return ()


KIND = Kind(section="materials", entry=Material, expand=expand)
