"""Joints: fasteners, and faces upon each other."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.contact import CONTACTS
from thermnet.model.kinds.fastener import FASTENERS
from thermnet.model.kinds.kind import Kind, Seen, Surroundings
from thermnet.network.parts import LinkPart, Part
from thermnet.physics.contact import NEAR, Ranged, Use, pressed
from thermnet.text.fields import Entry, Text, count, fault, name_of, quantity

Whole = Annotated[int, count(at_least=1)]
Conductance = Annotated[float, quantity("W/K", above=0)]
Area = Annotated[float, quantity("m^2", above=0)]
Pressure = Annotated[float, quantity("Pa", above=0)]


class Fasteners(Entry):
    """Fasteners of one size, side by side."""

    size: Annotated[str, name_of("fasteners", also=FASTENERS)] = Field(description="which")
    count: Whole = Field(description="how many")


class Faces(Entry):
    """Two faces upon each other, bare or with something between them."""

    of: Annotated[str, name_of("contacts", also=CONTACTS)] = Field(description="which")
    area: Area = Field(description="area in contact")
    pressure: Pressure | None = Field(
        None,
        description="pressure between the faces, where it differs from that of the contact: the "
        "conductance goes with its power of 0.73, for bare metal in a vacuum",
    )


class Joint(Entry):
    """What joins two parts: fasteners, faces in contact, a conductance as measured; side by side.

    Conductances of joints scatter by a factor of two and more. A case takes an end of their range
    by `joints.*.use` in its `set`: a box that is cooled through its feet is hottest at the low end.
    """

    from_: Annotated[str, name_of("nodes", "boundaries")] = Field(description="one part")
    to: Annotated[str, name_of("nodes", "boundaries")] = Field(description="the other part")
    fasteners: Fasteners | None = Field(None, description="screws or bolts and what is near them")
    contact: Faces | None = Field(None, description="faces between the fasteners")
    conductance: Conductance | None = Field(None, description="as measured or agreed")
    low: Conductance | None = Field(None, description="least value of that `conductance`")
    high: Conductance | None = Field(None, description="greatest value of that `conductance`")
    use: Use = Field("nominal", description="value of every range that counts; a case sets it")
    lost: bool = Field(False, description="true for one that is open: it conducts nothing")
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _complete(self) -> Joint:
        if self.from_ == self.to:
            raise fault("to", f"joins '{self.to}' to itself")
        if self.fasteners is None and self.contact is None and self.conductance is None:
            message = "missing key 'fasteners': give them, or a 'contact', or a 'conductance'"
            raise fault("fasteners", message)
        for key in ("low", "high"):
            if getattr(self, key) is not None and self.conductance is None:
                raise fault(key, "is an end of the range of a 'conductance': give that too")
        if self.conductance is not None:
            if self.low is not None and self.low > self.conductance:
                raise fault("low", "lies above the conductance")
            if self.high is not None and self.high < self.conductance:
                raise fault("high", "lies below the conductance")
        return self


def conductance(entry: Joint, around: Surroundings) -> float:
    """Conductance [W/K] of a joint with the value of each range that counts.

    Raises ValueError for a range without the end that is asked for, and for a pressure where the
    contact does not say at which its values hold.
    """
    total = 0.0
    if entry.conductance is not None:
        own = Ranged(name="conductance", nominal=entry.conductance, low=entry.low, high=entry.high)
        total += own.at(entry.use)
    if entry.fasteners is not None:
        total += entry.fasteners.count * around.shelf.fastener(entry.fasteners.size).at(entry.use)
    if entry.contact is not None:
        facts, faces = around.shelf.contact(entry.contact.of), entry.contact
        by_area = facts.at(entry.use)
        if faces.pressure is not None:
            if facts.pressure is None:
                raise ValueError(f"'{facts.name}' does not say at which pressure it holds")
            by_area *= pressed(faces.pressure, facts.pressure)
        total += by_area * faces.area
    return total


def expand(name: str, entry: Joint, path: str, around: Surroundings) -> tuple[Part, ...]:
    strength = 0.0 if entry.lost else conductance(entry, around)
    return (LinkPart(a=entry.from_, b=entry.to, strength=strength, origin=path),)


def doubts(
    name: str, entry: Joint, path: str, around: Surroundings, seen: Seen
) -> Iterator[tuple[str, str]]:
    """A pressure so far from that of the contact that correlations and ranges differ by much."""
    faces = entry.contact
    if entry.lost or faces is None or faces.pressure is None:
        return
    known = around.shelf.contact(faces.of).pressure or faces.pressure
    if max(faces.pressure / known, known / faces.pressure) > NEAR:
        message = (
            f"the conductance of '{faces.of}' at {known:g} Pa is taken times "
            f"{pressed(faces.pressure, known):.2g}: published ranges differ from that by up to a "
            "factor of two so far off, so state one that is measured, or judge both ends by `use`"
        )
        yield f"{path}.contact.pressure", message


KIND = Kind(section="joints", entry=Joint, expand=expand, doubts=doubts)
