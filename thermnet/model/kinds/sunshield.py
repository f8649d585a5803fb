"""Sunshields: one sheet, or several apart from each other."""

from __future__ import annotations

import math
from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import RADIATION, LinkPart, NodePart, Part
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.physics.shield import gap, sideways_of_squares
from thermnet.text.fields import Entry, Text, count, fault, name_of, number, quantity

Emittance = Annotated[float, number(above=0, at_most=1)]
Sheets = Annotated[int, count(at_least=1, at_most=50)]
Sideways = Annotated[float, number(at_least=0, at_most=1)]
Distance = Annotated[float, quantity("m", above=0)]


class Sunshield(Entry):
    """A sunshield of one sheet, or of several apart from each other, before what it covers.

    The first sheet is a node of its own, whose surface to the Sun is an entry under `surfaces`. The
    others are made here, massless: `NAME, sheet 2` and so on. In each gap, the last one before the
    covered node among them, two gray and diffuse faces exchange heat with each other and, at the
    open edges, with a black sink.
    """

    sunward: Annotated[str, name_of("nodes")] = Field(description="node of the sheet to the Sun")
    behind: Annotated[str, name_of("nodes", "boundaries")] = Field(
        description="node that it covers, whose face to the shield is part of this entry and needs "
        "no surface"
    )
    area: Annotated[float, quantity("m^2", above=0)] = Field(
        description="area of each sheet and of the covered face"
    )
    sheets: Sheets = Field(description="how many; one alone reflects sunlight but hardly insulates")
    emittance: Emittance = Field(
        description="hemispherical infrared emittance of both faces of each sheet, but for the one "
        "to the Sun"
    )
    sunward_back: Emittance | None = Field(
        None, description="emittance of the back of the first sheet, where it is another"
    )
    behind_emittance: Emittance = Field(description="emittance of the covered face")
    sideways: Sideways | None = Field(
        None,
        description="share of the view of each face in a gap that leads out of its open edges, "
        "0 for closed ones",
    )
    gap: Distance | None = Field(
        None,
        description="instead of `sideways`: the distance between neighbours, from which that share "
        "follows for square sheets of the area",
    )
    to: Annotated[str, name_of("nodes", "boundaries")] = Field(
        "space", description="sink that the open edges see"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _complete(self) -> Sunshield:
        if self.behind == self.sunward:
            raise fault("behind", f"joins '{self.behind}' to itself")
        if self.behind == self.to and "to" not in self.model_fields_set:
            message = f"is '{self.to}', the sink that the open edges see: name the covered node"
            raise fault("behind", message)
        if self.to in (self.sunward, self.behind):
            raise fault("to", f"joins '{self.to}' to itself")
        if self.sideways is None and self.gap is None:
            message = "missing key 'sideways': give it, or the 'gap' between square sheets"
            raise fault("sideways", message)
        if self.sideways is not None and self.gap is not None:
            raise fault("gap", "is stated by 'sideways' already: drop one of the two")
        return self

    @property
    def out(self) -> float:
        """The share of the view of each face that leads out of the open edges."""
        if self.gap is not None:
            return sideways_of_squares(self.gap, math.sqrt(self.area))
        return self.sideways or 0.0

    @property
    def faces(self) -> tuple[tuple[float, float], ...]:
        """The emittances of the two faces in each gap, from the Sun inwards."""
        back = self.emittance if self.sunward_back is None else self.sunward_back
        backs = (back, *[self.emittance] * (self.sheets - 1))
        fronts = (*[self.emittance] * (self.sheets - 1), self.behind_emittance)
        return tuple(zip(backs, fronts, strict=True))


def made(name: str, entry: Sunshield) -> tuple[str, ...]:
    """Names of the nodes that a sunshield makes: its sheets but for the first."""
    return tuple(f"{name}, sheet {k}" for k in range(2, entry.sheets + 1))


def expand(name: str, entry: Sunshield, path: str, around: Surroundings) -> tuple[Part, ...]:
    inner = made(name, entry)
    parts: list[Part] = [NodePart(name=each, origin=path) for each in inner]
    row = (entry.sunward, *inner, entry.behind)
    for first, second, (back, front) in zip(row[:-1], row[1:], entry.faces, strict=True):
        factors = gap(back, front, entry.out)
        for a, b, factor in (
            (first, second, factors.across),
            (first, entry.to, factors.first_out),
            (second, entry.to, factors.second_out),
        ):
            if factor > 0.0:
                strength = STEFAN_BOLTZMANN * entry.area * factor
                link = LinkPart(a=a, b=b, strength=strength, potential=RADIATION, origin=path)
                parts.append(link)
    return tuple(parts)


KIND = Kind(section="sunshields", entry=Sunshield, expand=expand, makes=made)
