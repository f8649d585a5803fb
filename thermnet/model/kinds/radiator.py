"""Radiators: surfaces whose heat comes from their root, and whose size is judged."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.conductivities import at_temperature, check_one, doubt
from thermnet.model.kinds.kind import Kind, Seen, Surroundings
from thermnet.model.kinds.material import OneConductivity, OneMaterial
from thermnet.model.kinds.surface import Surface, expand
from thermnet.physics import fin
from thermnet.physics.material import MaterialFacts
from thermnet.text.fields import Entry, fault, number, quantity, temperature

Length = Annotated[float, quantity("m", above=0)]
Temperature = Annotated[float, temperature()]
Share = Annotated[float, number(above=0, at_most=1)]

CHANGED = 0.02
"""Relative change of a fin efficiency by temperature that is worth a warning."""


class Fin(Entry):
    """A plate that is warm along its root and radiates on its way to its tip."""

    length: Length = Field(
        description="from the root to the tip; for a plate between two roots half of their distance"
    )
    thickness: Length = Field(description="of the plate; of a sandwich that of both faces")
    material: OneMaterial | None = Field(None, description="what it is made of")
    conductivity: OneConductivity | None = Field(
        None, description="instead of a material: its conductivity along the fin"
    )
    at: Temperature = Field(description="temperature of its root that the efficiency is taken at")
    sink: Temperature | None = Field(
        None,
        description="black environment with which it exchanges the same heat, sunlight included; "
        "unless stated, the linear fin is taken, cautious in a hot case: colder sinks give more",
    )
    both_sides: bool = Field(
        False, description="true where it radiates from both sides, both in the area"
    )

    @model_validator(mode="after")
    def _complete(self) -> Fin:
        check_one(self.material, self.conductivity)
        if self.sink is not None and not self.sink < self.at:
            raise fault("sink", "must be colder than the root")
        return self


class Radiator(Surface):
    """A surface that gives heat away, all that one without solar cells is, and more.

    Its node is the root that heat comes to. A fin gives away less than a plate of one temperature:
    the share is its efficiency, taken at one temperature of the root, by which the area counts for
    all that it emits and absorbs alike.
    """

    fin: Fin | None = Field(None, description="plate by whose shape the efficiency is computed")
    efficiency: Share | None = Field(
        None, description="instead of `fin`: its efficiency; 1 where neither is stated"
    )
    hottest: Temperature | None = Field(
        None, description="temperature that its root may reach, by which its size is judged"
    )

    @model_validator(mode="after")
    def _of_radiator(self) -> Radiator:
        if self.fin is not None and self.efficiency is not None:
            raise fault("efficiency", "is that of the fin already: drop one of the two")
        if self.cells is not None:
            raise fault("cells", "a radiator bears no solar cells: make it a surface")
        return self


def fin_efficiency(
    entry: Radiator,
    emittance: float,
    material: Callable[[str], MaterialFacts],
    root: float | None = None,
    sink: float | None = None,
) -> float:
    """Share of the heat of a plate of one temperature that a radiator gives away.

    `emittance` is the effective one: times the share of its view that exchanges anything. `root`
    and `sink` [K] are by default those which its fin states. Raises ValueError for a material whose
    conductivity is not known.
    """
    plate = entry.fin
    if plate is None:
        return 1.0 if entry.efficiency is None else entry.efficiency
    at = plate.at if root is None else root
    z = fin.number(
        plate.length,
        plate.thickness,
        at_temperature(plate, at, material),
        emittance,
        at,
        2 if plate.both_sides else 1,
    )
    if plate.sink is None:
        return fin.linear_efficiency(z)
    cold = plate.sink if sink is None else sink
    return fin.efficiency(z, min(cold / at, 1.0 - fin.NEAR))


def doubts(
    name: str, entry: Radiator, path: str, around: Surroundings, seen: Seen
) -> Iterator[tuple[str, str]]:
    """Where the root was so far from the temperature of its efficiency that it matters."""
    if entry.fin is None:
        return
    known = around.shelf.material
    lowest, highest = seen.lowest[entry.node], seen.highest[entry.node]
    if message := doubt(entry.fin.material, known, lowest, highest):
        yield f"{path}.fin.material", message
    emittance = around.exterior[name].effective_emittance
    taken = fin_efficiency(entry, emittance, around.shelf.material)
    for side, root in (("lowest", seen.lowest[entry.node]), ("highest", seen.highest[entry.node])):
        there = fin_efficiency(entry, emittance, around.shelf.material, root)
        if abs(there - taken) > CHANGED * taken:
            message = (
                f"the efficiency is {taken:.3f} at {entry.fin.at:.1f} K, but {there:.3f} at "
                f"{root:.1f} K, the {side} that its root takes: state a temperature nearer to that"
            )
            yield f"{path}.fin.at", message
            return


KIND = Kind(section="radiators", entry=Radiator, expand=expand, doubts=doubts)
