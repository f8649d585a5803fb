"""How the gas inside a blanket gets out while the pressure falls."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from thermnet.physics.venting import SHARP_EDGED, STANDARD_ATMOSPHERE
from thermnet.text.fields import Entry, Text, fault, number, quantity, temperature

Warmth = Annotated[float, temperature()]


class Venting(Entry):
    """Gas that is trapped beneath a blanket, and the holes by which it leaves.

    The pressure outside follows the atmosphere of the case where that changes over time; else it
    falls from one standard atmosphere at the steepest rate, and the gas is air.
    """

    volume: Annotated[float, quantity("m^3", above=0)] = Field(
        description="volume of the gas that leaves by these holes"
    )
    vents: Annotated[float, quantity("m^2", above=0)] = Field(
        description="open area of all holes, perforations and edges together"
    )
    discharge: Annotated[float, number(above=0, at_most=1)] = Field(
        SHARP_EDGED, description="discharge coefficient of the holes, by default of sharp edges"
    )
    temperature: Warmth = Field(293.15, description="of the gas at the start, by default 20 degC")
    steepest_fall: Annotated[float, quantity("Pa/s", above=0)] | None = Field(
        None, description="steepest fall of the pressure outside, where no atmosphere falls"
    )
    down_to: Annotated[float, quantity("Pa", at_least=0)] = Field(
        0.0, description="pressure down to which it falls so steeply; by default 0 Pa, the worst"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _possible(self) -> Venting:
        if self.temperature <= 0.0:
            raise fault("temperature", "must lie above 0 K")
        if self.down_to >= STANDARD_ATMOSPHERE:
            raise fault(
                "down_to",
                f"must lie below {STANDARD_ATMOSPHERE:g} Pa, from where the pressure falls",
            )
        if self.steepest_fall is None and self.down_to > 0.0:
            raise fault("down_to", "says how far the `steepest_fall` goes, which is not stated")
        return self
