"""Louvers: blades before a radiator, which open as it warms."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from thermnet.model.kinds.by_temperature import ramp
from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import RADIATION, LinkPart, Part
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.text.fields import Entry, Text, fault, name_of, number, quantity, temperature

Emittance = Annotated[float, number(above=0, at_most=1)]
Threshold = Annotated[float, temperature()]
View = Annotated[float, number(above=0, at_most=1)]


class Louver(Entry):
    """Louvers over a radiator, by their effective emittance: closed, open, and between.

    The emittances are those of radiator and blades together, as measured. The area under louvers
    is part of this entry and has no surface of its own. What it absorbs of sunlight depends on how
    far the blades stand open and is not computed: give it as loads.
    """

    node: Annotated[str, name_of("nodes")] = Field(description="node of the radiator")
    area: Annotated[float, quantity("m^2", above=0)] = Field(description="area under the blades")
    to: Annotated[str, name_of("nodes", "boundaries")] = Field(
        "space", description="sink that it radiates to"
    )
    view: View = Field(1.0, description="fraction of its view that the sink fills")
    emittance_closed: Emittance = Field(
        description="effective emittance, blades included, when closed"
    )
    emittance_open: Emittance = Field(
        description="effective emittance, blades included, when fully open"
    )
    closed_below: Threshold = Field(description="temperature at and below which it is closed")
    open_above: Threshold = Field(
        description="temperature at and above which it is fully open; straight between the two"
    )
    sensor: Annotated[str, name_of("nodes", "boundaries")] | None = Field(
        None, description="node whose temperature moves the blades; by default `node`"
    )
    stuck: Literal["no", "closed", "open"] = Field(
        "no", description="where the blades stand, whatever the temperature"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _sound(self) -> Louver:
        if self.node == self.to:
            raise fault("to", f"joins '{self.to}' to itself")
        if not self.emittance_closed < self.emittance_open:
            raise fault("emittance_open", "must be above 'emittance_closed'")
        if not self.closed_below < self.open_above:
            raise fault("open_above", "must lie above 'closed_below'")
        return self


def expand(name: str, entry: Louver, path: str, around: Surroundings) -> tuple[Part, ...]:
    stands = entry.emittance_closed if entry.stuck == "closed" else entry.emittance_open
    moves = entry.stuck == "no"
    least = entry.emittance_closed / entry.emittance_open
    return (
        LinkPart(
            a=entry.node,
            b=entry.to,
            strength=STEFAN_BOLTZMANN * entry.area * entry.view * stands,
            potential=RADIATION,
            curve=ramp(entry.closed_below, entry.open_above, least, 1.0) if moves else None,
            sensor=entry.sensor or entry.node if moves else "",
            origin=path,
        ),
    )


KIND = Kind(section="louvers", entry=Louver, expand=expand)
