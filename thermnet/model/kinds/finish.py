"""Finishes: how a surface absorbs sunlight and emits infrared, new and at the end of its life."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from pydantic import Field, model_validator

from thermnet.errors import nearest
from thermnet.model.kinds.kind import Kind
from thermnet.model.library.rows import Column, by_name, named, packaged, read_rows, sources
from thermnet.text.fields import Entry, Text, fault, number

FILE = "finishes.csv"
COLUMNS = {
    "absorptance": Column(needed=True, least=0.0, greatest=1.0),
    "absorptance_end": Column(least=0.0, greatest=1.0),
    "emittance": Column(needed=True, least=1e-3, greatest=1.0),
    "emittance_end": Column(least=1e-3, greatest=1.0),
}
"""The columns of the library table, which are the keys of an entry and the fields of the facts."""

BEGINNING = "beginning of life"
END = "end of life"

Absorptance = Annotated[float, number(at_least=0, at_most=1)]
Emittance = Annotated[float, number(above=0, at_most=1)]


class Finish(Entry):
    """A finish that differs from the library's of the same name in the keys given, or a new one.

    A value that is given without its end-of-life value holds all life long.
    """

    absorptance: Absorptance | None = Field(
        None, description="absorptance of sunlight at the beginning of life"
    )
    absorptance_end: Absorptance | None = Field(
        None, description="absorptance of sunlight at the end of life; by default the same"
    )
    emittance: Emittance | None = Field(
        None, description="hemispherical infrared emittance at the beginning of life"
    )
    emittance_end: Emittance | None = Field(
        None, description="hemispherical infrared emittance at the end of life; by default the same"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _something(self) -> Finish:
        if all(getattr(self, key) is None for key in COLUMNS):
            raise fault("absorptance", "missing key: a finish states `absorptance` or `emittance`")
        return self


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishFacts:
    """Absorptance of sunlight and infrared emittance of a finish, at both ends of its life.

    A value at the end of life is None where it is not known; `source` says in words where the
    numbers come from.
    """

    name: str
    absorptance: float
    emittance: float
    absorptance_end: float | None = None
    emittance_end: float | None = None
    source: str = ""


@functools.cache
def library() -> Mapping[str, FinishFacts]:
    """The finishes of the library by name."""
    rows = by_name(read_rows(packaged(FILE), FILE, COLUMNS), FILE)
    return {
        name: FinishFacts(name=name, source=row.source, **row.numbers) for name, row in rows.items()
    }


FINISHES = tuple(library())
"""Names of the finishes of the library."""


def finish(name: str, entries: Mapping[str, Finish]) -> FinishFacts:
    """The facts of a finish: the library's, changed by the keys of the model's entry of that name.

    The entry of a part, `part/name`, changes that of the library by its own `name`.

    Raises ValueError with a sentence for a name that neither knows, and for a new finish without
    absorptance or emittance.
    """
    entry = entries.get(name)
    known = library().get(name if entry is None else named(name))
    if known is None and entry is None:
        raise ValueError(f"unknown finish '{name}'{nearest(name, [*entries, *library()])}")
    if entry is None and known is not None:
        return known
    own = {key: value for key in COLUMNS if (value := getattr(entry, key)) is not None}
    values = {} if known is None else _stated(known)
    for key in ("absorptance", "emittance"):
        if key in own:  # which then holds all life long, unless the entry says otherwise
            values[f"{key}_end"] = own[key]
    values |= own
    for key in ("absorptance", "emittance"):
        if key not in values:
            raise ValueError(f"the finish '{name}' is not in the library and needs `{key}`")
    source = sources(own, entry.note if entry else "", known.source if known else "")
    return FinishFacts(name=name, source=source, **values)


def _stated(facts: FinishFacts) -> dict[str, float]:
    return {key: value for key in COLUMNS if (value := getattr(facts, key)) is not None}


def absorptance(facts: FinishFacts, life: str | None) -> float:
    """Absorptance of sunlight at "beginning of life" or "end of life"; None: nobody says which.

    Raises ValueError with a sentence where the value depends on what nobody says, where that of
    the end of life is not known, and for another word.
    """
    return _of_life(facts, "absorptance", facts.absorptance, facts.absorptance_end, life)


def emittance(facts: FinishFacts, life: str | None) -> float:
    """Infrared emittance at "beginning of life" or "end of life"; None: nobody says which.

    Raises ValueError as `absorptance` does.
    """
    return _of_life(facts, "emittance", facts.emittance, facts.emittance_end, life)


def _of_life(
    facts: FinishFacts, key: str, beginning: float, end: float | None, life: str | None
) -> float:
    if life not in {None, BEGINNING, END}:
        raise ValueError(f"unknown life '{life}'; expected '{BEGINNING}' or '{END}'")
    if life == BEGINNING or beginning == end:
        return beginning
    if end is None and life == END:
        raise ValueError(
            f"the {key} of the finish '{facts.name}' at the end of life is not known to the "
            f"library; give `{key}_end` under `finishes`"
        )
    if end is None:
        return beginning
    if life is None:
        raise ValueError(
            f"the finish '{facts.name}' has an {key} of {beginning:g} at the beginning of life and "
            f"{end:g} at its end; say `life` in the case"
        )
    return end


KIND = Kind(section="finishes", entry=Finish)
