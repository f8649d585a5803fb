"""Pointings: how the body's axes stand in the orbit."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from thermnet.model.kinds.directions import Direction, without_length
from thermnet.model.kinds.kind import Kind
from thermnet.text.fields import Entry, Text, fault, name_of, quantity

Angle = Annotated[float, quantity("deg")]

Target = (
    Literal[
        "nadir",
        "zenith",
        "velocity",
        "against velocity",
        "orbit normal",
        "against orbit normal",
        "sun",
        "against sun",
        "north",
        "east",
    ]
    | tuple[Angle, Angle]
)
"""What an axis points to: a word, or right ascension and declination of a fixed direction."""


class Pointing(Entry):
    """One axis points exactly to its target, a second one as near to its own as it then can.

    Or a sequence of other pointings through the orbit.
    """

    axis: Direction | None = Field(None, description="axis of the body that points exactly")
    to: Target | None = Field(
        None, description="its target; a pair is right ascension and declination"
    )
    second_axis: Direction | None = Field(None, description="axis that comes second")
    second_to: Target | None = Field(None, description="its target")
    spin: bool = Field(
        False, description="whether the body turns about `axis`; heat is then a turn's mean"
    )
    sequence: tuple[Annotated[str, name_of("pointings")], ...] = Field(
        (), description="other pointings, one after another, instead of the keys above"
    )
    angle: tuple[Annotated[float, quantity("deg", at_least=0, below=360)], ...] = Field(
        (), description="orbit angle from the start of the case at which each of them begins"
    )
    note: Text = Field("", description="where it comes from")

    @model_validator(mode="after")
    def _complete(self) -> Pointing:
        own = ("axis", "to", "second_axis", "second_to")
        given = [key for key in own if getattr(self, key) is not None]
        if self.sequence:
            return self._sequence(given)
        if self.angle:
            raise fault("angle", "belongs to a 'sequence' of pointings")
        free = self.spin or self.to in ("sun", "against sun")  # between the planets that is all
        needed = own[:2] if free else own
        for key in needed:
            if key not in given:
                raise fault(key, f"missing key '{key}': a pointing needs both its axes and targets")
        for key in ("axis", "second_axis"):
            without_length(key, getattr(self, key))
        return self

    def _sequence(self, given: list[str]) -> Pointing:
        if given:
            raise fault(given[0], "a sequence takes its axes from the pointings that it names")
        if len(self.angle) != len(self.sequence):
            wanted, found = len(self.sequence), len(self.angle)
            raise fault("angle", f"needs one angle for each pointing: {wanted}, not {found}")
        if self.angle[0] != 0.0:
            raise fault("angle.0", "the first pointing begins at 0 deg")
        for k in range(1, len(self.angle)):
            if self.angle[k] <= self.angle[k - 1]:
                raise fault(f"angle.{k}", "angles must increase")
        return self


KIND = Kind(section="pointings", entry=Pointing)
