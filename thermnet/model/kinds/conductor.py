"""Conduction by material and shape."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.conductivities import check_one, doubt, of_material
from thermnet.model.kinds.kind import Kind, Seen, Surroundings
from thermnet.model.kinds.material import OneConductivity, OneMaterial
from thermnet.model.kinds.properties import Conductivity, told_beyond
from thermnet.network.parts import CONDUCTION, LinkPart, NodePart, Part
from thermnet.network.primitives import Potential
from thermnet.physics import conduction
from thermnet.physics.curves import Curve
from thermnet.text.fields import Entry, Text, count, fault, name_of, number, quantity

Length = Annotated[float, quantity("m", above=0)]
Area = Annotated[float, quantity("m^2", above=0)]
Conductance = Annotated[float, quantity("W/K", above=0)]
Share = Annotated[float, number(above=0, at_most=1)]
Whole = Annotated[int, count(at_least=1)]

SHAPES = ("bar", "cylinder", "sphere", "strap")
"""The keys of a conductor of which one says what shape it has."""


class Bar(Entry):
    """A bar, tube wall or strip that heat flows along."""

    area: Area = Field(description="cross-section that heat flows through")
    length: Length = Field(description="length along the flow")

    @property
    def shape(self) -> float:
        """Shape factor [m]."""
        return conduction.bar(self.area, self.length)


class Cylinder(Entry):
    """A hollow cylinder that heat flows through from its inner to its outer face."""

    inner_radius: Length = Field(description="radius of the inner face")
    outer_radius: Length = Field(description="radius of the outer face")
    length: Length = Field(description="length along the axis")

    @model_validator(mode="after")
    def _outwards(self) -> Cylinder:
        _check_radii(self.inner_radius, self.outer_radius)
        return self

    @property
    def shape(self) -> float:
        """Shape factor [m]."""
        return conduction.cylinder(self.inner_radius, self.outer_radius, self.length)


class Sphere(Entry):
    """A hollow sphere that heat flows through from its inner to its outer face."""

    inner_radius: Length = Field(description="radius of the inner face")
    outer_radius: Length = Field(description="radius of the outer face")

    @model_validator(mode="after")
    def _outwards(self) -> Sphere:
        _check_radii(self.inner_radius, self.outer_radius)
        return self

    @property
    def shape(self) -> float:
        """Shape factor [m]."""
        return conduction.sphere(self.inner_radius, self.outer_radius)


class Strap(Entry):
    """A flexible strap of foils or braids between two end fittings."""

    layers: Whole = Field(description="foils one upon the other")
    thickness: Length = Field(description="thickness of one foil")
    width: Length = Field(description="width of the foils")
    length: Length = Field(description="length of the foils between the end fittings")
    efficiency: Share = Field(
        1.0,
        description="share of their conduction that test has shown, for foils that are bent, or of "
        "unequal length",
    )
    ends: Conductance | None = Field(
        None,
        description="conductance of the two end fittings together, half of its resistance at each",
    )

    @property
    def shape(self) -> float:
        """Shape factor [m] of the foils."""
        factor = conduction.strap(self.layers, self.thickness, self.width, self.length)
        return self.efficiency * factor


def _check_radii(inner: float, outer: float) -> None:
    if not inner < outer:
        raise fault("outer_radius", "must be larger than the inner radius")


class Conductor(Entry):
    """A body between two nodes, conducting by its material and its shape.

    Where the conductivity is known over temperature, its integral between the temperatures of the
    two ends counts, so that one entry is exact however far apart they are. A strap with end
    fittings makes two massless nodes, `NAME, first end` and `NAME, second end`.
    """

    from_: Annotated[str, name_of("nodes", "boundaries")] = Field(
        description="one end; of a cylinder or sphere one of the faces"
    )
    to: Annotated[str, name_of("nodes", "boundaries")] = Field(description="the other end")
    material: OneMaterial | None = Field(None, description="what it is made of")
    conductivity: OneConductivity | Conductivity | None = Field(
        None, description="instead of a material: its conductivity, one number or over temperature"
    )
    bar: Bar | None = Field(None, description="heat flows along it")
    cylinder: Cylinder | None = Field(None, description="heat flows through its wall")
    sphere: Sphere | None = Field(None, description="heat flows through its wall")
    strap: Strap | None = Field(None, description="heat flows along its foils")
    count: Whole = Field(1, description="how many alike, side by side")
    lost: bool = Field(False, description="true for one that is broken: it conducts nothing")
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _complete(self) -> Conductor:
        if self.from_ == self.to:
            raise fault("to", f"joins '{self.to}' to itself")
        check_one(self.material, self.conductivity)
        shapes = [key for key in SHAPES if getattr(self, key) is not None]
        if not shapes:
            raise fault("bar", f"states no shape: give one of {', '.join(SHAPES)}")
        if len(shapes) > 1:
            raise fault(shapes[1], f"has the shape of a {shapes[0]} already: drop one of the two")
        return self

    @property
    def shape(self) -> float:
        """Shape factor [m] of all together."""
        body = self.bar or self.cylinder or self.sphere or self.strap
        return 0.0 if body is None else self.count * body.shape

    @property
    def fittings(self) -> float | None:
        """Conductance [W/K] at each end of the straps, all together, None without end fittings."""
        if self.strap is None or self.strap.ends is None:
            return None
        return 2.0 * self.count * self.strap.ends


def made(name: str, entry: Conductor) -> tuple[str, ...]:
    """Names of the nodes that a conductor makes: the ends of the foils of a strap with fittings."""
    return () if entry.fittings is None else (f"{name}, first end", f"{name}, second end")


def expand(name: str, entry: Conductor, path: str, around: Surroundings) -> tuple[Part, ...]:
    known = _conductivity(entry, around)
    if isinstance(known, Curve):
        strength, potential = entry.shape, Potential(curve=known)
    else:
        strength, potential = entry.shape * known, CONDUCTION
    if entry.lost:  # it keeps its place in the network, so that the account says so
        strength = 0.0
    if entry.fittings is None:
        a, b = entry.from_, entry.to
        return (LinkPart(a=a, b=b, strength=strength, potential=potential, origin=path),)
    first, second = made(name, entry)
    return (
        NodePart(name=first, origin=path),
        NodePart(name=second, origin=path),
        LinkPart(a=entry.from_, b=first, strength=entry.fittings, origin=path),
        LinkPart(a=first, b=second, strength=strength, potential=potential, origin=path),
        LinkPart(a=second, b=entry.to, strength=entry.fittings, origin=path),
    )


def _conductivity(entry: Conductor, around: Surroundings) -> float | Curve:
    """Conductivity [W/m/K], or that over temperature. Raises ValueError where it is not known."""
    if isinstance(entry.conductivity, Conductivity):
        return entry.conductivity.curve
    if entry.conductivity is not None:
        return entry.conductivity
    return of_material(entry.material or "", around.shelf.material)


def doubts(
    name: str, entry: Conductor, path: str, around: Surroundings, seen: Seen
) -> Iterator[tuple[str, str]]:
    """Where the ends of a conductor were beyond what its conductivity is known at."""
    if entry.lost:
        return
    ends = (entry.from_, entry.to)
    lowest = min(seen.lowest[each] for each in ends)
    highest = max(seen.highest[each] for each in ends)
    own = entry.conductivity
    if isinstance(own, Conductivity) and (beyond := told_beyond(own.curve, lowest, highest)):
        yield path, f"its conductivity is known {beyond}: beyond, the end of its range is taken"
    if message := doubt(entry.material, around.shelf.material, lowest, highest):
        yield path, message


KIND = Kind(section="conductors", entry=Conductor, expand=expand, makes=made, doubts=doubts)
