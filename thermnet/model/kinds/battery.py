"""The battery: it takes what solar cells give beyond the demand, and feeds the demand in shadow."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated

from pydantic import Field, model_validator

from thermnet.errors import Problem
from thermnet.model.driven import Driven
from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.model.kinds.surface import Surface, constant_or_history
from thermnet.network.parts import HeatPart, Part
from thermnet.text.fields import Entry, Text, fault, name_of, number, quantity


class Battery(Entry):
    """All cells of the battery together: what it holds, and the losses that warm its node.

    While it is not full, solar cells give all that they can; while it is full they give what units
    and heaters take, and the rest of their sunlight stays heat. Charge control itself is taken to
    lose nothing: give its losses as a unit. A steady case takes the mean demand for that in light
    and that in shadow.
    """

    node: Annotated[str, name_of("nodes")] = Field(
        description="node that takes the heat of charging and discharging"
    )
    capacity: Annotated[float, quantity("J", above=0)] = Field(
        description="energy that it holds when full, such as `300 Wh`"
    )
    charge_efficiency: Annotated[float, number(above=0, at_most=1)] = Field(
        description="share of the energy put in that it then holds"
    )
    discharge_efficiency: Annotated[float, number(above=0, at_most=1)] = Field(
        description="share of the energy that leaves it that the loads receive"
    )
    cells: tuple[Annotated[str, name_of("surfaces")], ...] = Field(
        description="surfaces with the solar cells that charge it"
    )
    begins: Annotated[float, number(at_least=0, at_most=1)] = Field(
        1.0, description="share of the capacity that it holds at the start of a transient case"
    )
    units: tuple[Annotated[str, name_of("units")], ...] | None = Field(
        None, description="units that it and the cells feed; by default all, or all of its part"
    )
    heaters: tuple[Annotated[str, name_of("heaters")], ...] | None = Field(
        None, description="heaters that it and the cells feed; by default all, or all of its part"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _charged(self) -> Battery:
        if not self.cells:
            raise fault("cells", "needs at least one surface with solar cells")
        for key in ("cells", "units", "heaters"):
            names = getattr(self, key) or ()
            for k, name in enumerate(names):
                if name in names[:k]:
                    raise fault(f"{key}.{k}", f"'{name}' is listed already")
        return self


def of_part(entry: Battery, units: tuple[str, ...], heaters: tuple[str, ...]) -> Battery:
    """A battery of a part within its host: where it names none it feeds those of the part."""
    given = {"units": entry.units, "heaters": entry.heaters}
    own = {"units": units, "heaters": heaters}
    return entry.model_copy(update={key: own[key] for key in own if given[key] is None})


def misuses(batteries: Mapping[str, Battery], surfaces: Mapping[str, Surface]) -> Iterator[Problem]:
    """What is wrong between batteries and surfaces, which neither can see alone."""
    first = next(iter(batteries), None)
    for name, battery in batteries.items():
        path = f"batteries.{name}"
        if name != first:
            message = f"one battery a model: write '{first}' and '{name}' as one, all cells of both"
            yield Problem(message=message, path=path)
        for k, surface in enumerate(battery.cells):
            cells = surfaces[surface].cells
            if cells is None:
                message = f"surface '{surface}' has no solar cells: give it 'cells'"
                yield Problem(message=message, path=f"{path}.cells.{k}")
            elif cells.drawn is not None:
                message = f"battery '{name}' says what is drawn already: drop one of the two"
                yield Problem(message=message, path=f"surfaces.{surface}.cells.drawn")


def expand(name: str, entry: Battery, path: str, around: Surroundings) -> tuple[Part, ...]:
    drawn = around.drawn.get(path)
    losses = Driven(amplitude=0.0) if drawn is None else constant_or_history(drawn.losses)
    return (
        HeatPart(node=entry.node, amplitude=losses.amplitude, history=losses.history, origin=path),
    )


KIND = Kind(section="batteries", entry=Battery, expand=expand)
