"""Conduction through and along sandwich panels."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field, model_validator

from thermnet.model.kinds.conductivities import at_temperature, check_one, doubt
from thermnet.model.kinds.kind import Kind, Seen, Surroundings
from thermnet.model.kinds.material import OneConductivity, OneMaterial
from thermnet.network.parts import LinkPart, Part
from thermnet.physics import honeycomb
from thermnet.text.fields import Entry, Text, fault, name_of, quantity, temperature

Length = Annotated[float, quantity("m", above=0)]
Area = Annotated[float, quantity("m^2", above=0)]
ByArea = Annotated[float, quantity("W/m^2/K", above=0)]
At = Annotated[float, temperature()]

ROOM = 293.15
"""Temperature [K] at which conductivities are taken unless another is stated."""

CHANGED = 0.05
"""Relative change of a conductance by temperature that is worth a warning."""


class Sheet(Entry):
    """A face sheet."""

    material: OneMaterial | None = Field(None, description="what it is made of")
    conductivity: OneConductivity | None = Field(
        None, description="instead of a material: its conductivity in the direction of the heat"
    )
    thickness: Length = Field(description="thickness of one face sheet")

    @model_validator(mode="after")
    def _one(self) -> Sheet:
        check_one(self.material, self.conductivity)
        return self


class Core(Entry):
    """A core: a honeycomb by its foil and cells, or any other by its conductivity as a block."""

    material: OneMaterial | None = Field(
        None, description="what the foil, or the block, is made of"
    )
    conductivity: OneConductivity | None = Field(
        None, description="instead: conductivity of the foil; of a block in the heat's direction"
    )
    foil: Length | None = Field(None, description="thickness of the foil of a honeycomb")
    cell: Length | None = Field(None, description="size of its cells, across their flats")
    height: Length = Field(description="height of the core")

    @model_validator(mode="after")
    def _one(self) -> Core:
        check_one(self.material, self.conductivity)
        if (self.foil is None) != (self.cell is None):
            missing = "foil" if self.foil is None else "cell"
            raise fault(missing, f"missing key '{missing}': foil and cell go together")
        if self.foil is not None and self.cell is not None and self.foil > 0.1 * self.cell:
            raise fault("foil", "is thicker than a tenth of the cell: is its unit right?")
        return self


class Panel(Entry):
    """A sandwich panel between two nodes: through its thickness, or along it.

    Conductivities are taken at one temperature, so that it is a constant link. Heat along the panel
    flows in both faces and the core side by side; through it, in the core, the faces and the bonds
    one behind the other. Inserts, edges and radiation within the cells are not counted.
    """

    from_: Annotated[str, name_of("nodes", "boundaries")] = Field(description="one end")
    to: Annotated[str, name_of("nodes", "boundaries")] = Field(description="the other end")
    direction: Literal["through", "ribbon", "across"] = Field(
        description="of the heat: through the thickness, along the ribbon of the honeycomb, or "
        "across the ribbon in the plane of the panel"
    )
    area: Area | None = Field(None, description="area that heat flows through, for `through`")
    width: Length | None = Field(None, description="width across the flow, in the plane")
    length: Length | None = Field(None, description="length along the flow, in the plane")
    faces: Sheet | None = Field(None, description="both face sheets, or the one at `from`")
    other_face: Sheet | None = Field(None, description="the face sheet at `to`, where it differs")
    core: Core = Field(description="core between the face sheets")
    bond: ByArea | None = Field(
        None, description="conductance of both layers of adhesive together, for `through`"
    )
    at: At = Field(ROOM, description="temperature at which conductivities are taken")
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _complete(self) -> Panel:
        if self.from_ == self.to:
            raise fault("to", f"joins '{self.to}' to itself")
        through = self.direction == "through"
        needed = ("area",) if through else ("width", "length")
        for key in ("area", "width", "length"):
            there = getattr(self, key) is not None
            if there and key not in needed:
                raise fault(key, f"has no meaning for the direction '{self.direction}'")
            if not there and key in needed:
                raise fault(key, f"missing key '{key}', for the direction '{self.direction}'")
        if self.bond is not None and not through:
            raise fault("bond", f"has no meaning for the direction '{self.direction}'")
        if self.other_face is not None and self.faces is None:
            raise fault("faces", "missing key 'faces': the other one is there")
        return self

    @property
    def sheets(self) -> tuple[Sheet, ...]:
        """The face sheets, from first to last."""
        if self.faces is None:
            return ()
        return (self.faces, self.other_face or self.faces)


def conductance(entry: Panel, at: float, around: Surroundings) -> float:
    """Conductance [W/K] with the conductivities at a temperature [K].

    Raises ValueError for a material whose conductivity is not known.
    """
    known = around.shelf.material
    block = at_temperature(entry.core, at, known)
    if entry.core.foil is not None and entry.core.cell is not None:
        found = honeycomb.core(block, entry.core.foil, entry.core.cell)
        block = {"through": found.through, "ribbon": found.ribbon, "across": found.across}[
            entry.direction
        ]
    faces = [(at_temperature(each, at, known), each.thickness) for each in entry.sheets]
    if entry.direction == "through":
        resistances = [entry.core.height / block, *(thick / k for k, thick in faces)]
        if entry.bond is not None:
            resistances.append(1.0 / entry.bond)
        return honeycomb.through(tuple(resistances), entry.area or 0.0)
    sheets = sum(k * thick for k, thick in faces)
    width, length = entry.width or 0.0, entry.length or 1.0
    return honeycomb.in_plane(sheets, entry.core.height, block, width, length)


def expand(name: str, entry: Panel, path: str, around: Surroundings) -> tuple[Part, ...]:
    strength = conductance(entry, entry.at, around)
    return (LinkPart(a=entry.from_, b=entry.to, strength=strength, origin=path),)


def doubts(
    name: str, entry: Panel, path: str, around: Surroundings, seen: Seen
) -> Iterator[tuple[str, str]]:
    """Where the panel was so far from the temperature of its conductivities that it matters."""
    ends = (entry.from_, entry.to)
    taken = conductance(entry, entry.at, around)
    for side, found in (("coldest", seen.lowest), ("hottest", seen.highest)):
        mean = sum(found[each] for each in ends) / 2.0
        there = conductance(entry, mean, around)
        if abs(there - taken) > CHANGED * taken:
            yield (
                path,
                (
                    f"is {taken:.3g} W/K by the conductivities at {entry.at:.1f} K, but "
                    f"{there:.3g} W/K at {mean:.1f} K, its {side} mean: state the temperature "
                    "by `at`"
                ),
            )
            return
    lowest = min(seen.lowest[each] for each in ends)
    highest = max(seen.highest[each] for each in ends)
    materials = [*(each.material for each in entry.sheets), entry.core.material]
    for material in dict.fromkeys(materials):
        if message := doubt(material, around.shelf.material, lowest, highest):
            yield path, message


KIND = Kind(section="panels", entry=Panel, expand=expand, doubts=doubts)
