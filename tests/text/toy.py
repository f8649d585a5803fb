"""A small set of entry classes, and the steps from text to what they hold."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from thermnet.errors import InputError, Problem
from thermnet.text.bind import Bound, bind
from thermnet.text.fields import (
    Entry,
    Text,
    anything,
    count,
    difference,
    fault,
    name_of,
    number,
    quantity,
    temperature,
)
from thermnet.text.tree import compose

Kelvin = Annotated[float, temperature()]
Band = tuple[Kelvin, Kelvin]


class Box(Entry):
    """Something with a heat capacity, or without."""

    capacity: Annotated[float, quantity("J/K", above=0)] | None = None
    massless: bool = False
    initial: Kelvin | None = None
    note: Text = ""

    @model_validator(mode="after")
    def _one_of_two(self) -> Box:
        if self.massless == (self.capacity is not None):
            raise fault("capacity", "give either a capacity or `massless: true`")
        return self


class Fence(Entry):
    """Something with an imposed temperature."""

    temperature: Kelvin
    swing: Annotated[float, difference(at_least=0)] = 0.0


class Strap(Entry):
    """A conductance between two things."""

    from_: Annotated[str, name_of("boxes", "fences")] = Field(description="one end")
    to: Annotated[str, name_of("boxes", "fences", also=("sky",))]
    conductance: Annotated[float, quantity("W/K", above=0)] = Field(description="heat | kelvin")
    share: Annotated[float, number(at_least=0, at_most=1)] = 1.0


class Course(Entry):
    """Values over time."""

    time: tuple[Annotated[float, quantity("s")], ...]
    value: tuple[Annotated[float, number()], ...]
    shape: Literal["linear", "steps"] = "linear"

    @model_validator(mode="after")
    def _alike(self) -> Course:
        if len(self.time) != len(self.value):
            raise ValueError("time and value differ in length")
        return self


class Window(Entry):
    """A band for a while."""

    band: Band
    until: Annotated[float, quantity("s", at_least=0)] = 0.0


class Part(Entry):
    """Something with a band."""

    at: Annotated[str, name_of("boxes")] | tuple[Annotated[str, name_of("boxes")], ...]
    operating: Band = (273.15, 313.15)
    on: bool | Annotated[str, name_of("courses")] = True
    windows: dict[str, Window] = {}
    copies: Annotated[int, count(at_least=1)] = 1

    @model_validator(mode="after")
    def _ordered(self) -> Part:
        if self.operating[0] > self.operating[1]:
            raise fault("operating.0", "the lower end of the band comes first")
        return self


class Change(Entry):
    """A change of a number."""

    scale: Annotated[float, number()] | None = None
    offset: Annotated[object, anything()] | None = None


class Case(Entry):
    """Changes by path."""

    set: dict[str, Annotated[object, anything()] | Change] = {}


class Policy(Entry):
    """How careful to be."""

    allowance: Annotated[float, difference(at_least=0)]


class Top(Entry):
    """The keys that are no section."""

    name: Text
    temperatures: Literal["degC", "K"] | None = None
    policy: Policy | None = None


SECTIONS: dict[str, type[Entry]] = {
    "boxes": Box,
    "fences": Fence,
    "straps": Strap,
    "courses": Course,
    "parts": Part,
    "cases": Case,
}


SOUND = """\
name: a toy
temperatures: degC
policy: {allowance: 5 degC}
boxes:
  big: {capacity: 1.2 kJ/K, initial: 20 }
  thin: {massless: true}
fences:
  wall: {temperature: 68 degF, swing: 9 degF}
straps:
  s:
    from: big
    to: sky
    conductance: 2.5
courses:
  c: {time: [0, 1 min], value: [0, 1.5]}
parts:
  p:
    at: [big, thin]
    operating: [-10, 313.15 K]
    on: c
    windows:
      w: {band: [0, 10]}
cases:
  hot:
    set: {straps.s.conductance: 3 W/K, "boxes.*.capacity": {scale: 1.1}, fences.wall.temperature: 5}
"""
"""A file without mistakes, with a bit of everything."""


def read(text: str, folder: Path | None = None) -> tuple[Bound[Top] | None, tuple[Problem, ...]]:
    """Compose and bind a file called toy.yaml; all its problems, sorted."""
    root, problems = compose(text, "toy.yaml")
    if root is None:
        return None, InputError(problems).problems
    bound = bind(root, settings=Top, sections=SECTIONS, folder=folder, sources={"toy.yaml": text})
    return bound, InputError((*problems, *bound.problems)).problems


def sound(text: str, folder: Path | None = None) -> Bound[Top]:
    """Bind a file that has no problems."""
    bound, problems = read(text, folder)
    assert not problems, "\n".join(map(str, problems))
    assert bound is not None
    return bound


def messages(text: str, folder: Path | None = None) -> list[str]:
    """The problems of a file as `line: path: message`, without excerpts."""
    return [
        ": ".join(
            part for part in (str(each.place and each.place.line), each.path, each.message) if part
        )
        for each in read(text, folder)[1]
    ]
