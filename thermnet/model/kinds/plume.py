"""Plumes of thrusters: heat flux on named surfaces."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import HeatPart, Part
from thermnet.text.fields import Entry, Text, fault, name_of, quantity

Flux = Annotated[float, quantity("W/m^2", at_least=0)]


class Plume(Entry):
    """The heat that the plume of a thruster brings to surfaces: `flux x area x schedule`.

    A steady case takes the mean of the schedule over its period, without a period its first value;
    a burn heats thin layers in seconds, which only a transient case shows.
    """

    surfaces: dict[Annotated[str, name_of("surfaces", "radiators")], Flux] = Field(
        description="heat flux that each surface absorbs, mean over its area, while the thruster "
        "fires"
    )
    schedule: Annotated[str, name_of("schedules")] = Field(
        description="when the thruster fires: 1 while it does and 0 else, or the share of the flux"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _somewhere(self) -> Plume:
        if not self.surfaces:
            raise fault("surfaces", "needs at least one surface")
        return self


def expand(name: str, entry: Plume, path: str, around: Surroundings) -> tuple[Part, ...]:
    factor, history = around.factor(entry.schedule)
    return tuple(
        HeatPart(
            node=around.exterior[surface].node,
            amplitude=flux * around.exterior[surface].area * factor,
            history=history,
            origin=f"{path}.surfaces.{surface}",
        )
        for surface, flux in entry.surfaces.items()
    )


KIND = Kind(section="plumes", entry=Plume, expand=expand)
