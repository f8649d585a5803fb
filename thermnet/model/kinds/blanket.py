"""Multilayer blankets, stated by an effective emittance with its bounds."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import RADIATION, LinkPart, Part
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.text.fields import Entry, Text, fault, name_of, number, quantity


class Blanket(Entry):
    """A blanket between the surface that it covers and its own outer face.

    The outer face is a node of its own, which radiates onwards by its own surface: an effective
    emittance that already includes the outer face would count it twice.
    """

    from_: Annotated[str, name_of("nodes", "boundaries")] = Field(description="covered node")
    to: Annotated[str, name_of("nodes", "boundaries")] = Field(description="outer face")
    area: Annotated[float, quantity("m^2", above=0)] = Field(description="covered area")
    effective_emittance: Annotated[float, number(above=0, at_most=1)] = Field(
        description="blanket heat flow over area x sigma (T_from^4 - T_to^4), nominal"
    )
    low: Annotated[float, number(above=0, at_most=1)] | None = Field(
        None, description="lower bound of the effective emittance"
    )
    high: Annotated[float, number(above=0, at_most=1)] | None = Field(
        None, description="upper bound of the effective emittance"
    )
    use: Literal["nominal", "low", "high"] = Field(
        "nominal", description="which of the three is used; a case sets it"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _in_order(self) -> Blanket:
        if self.from_ == self.to:
            raise fault("to", f"joins '{self.to}' to itself")
        if self.low is not None and self.low > self.effective_emittance:
            raise fault("low", "the lower bound lies above the nominal effective emittance")
        if self.high is not None and self.high < self.effective_emittance:
            raise fault("high", "the upper bound lies below the nominal effective emittance")
        if self.used is None:
            raise fault("use", f"this blanket states no '{self.use}' bound")
        return self

    @property
    def used(self) -> float | None:
        """The effective emittance that the case uses, None where that bound is not stated."""
        return {"nominal": self.effective_emittance, "low": self.low, "high": self.high}[self.use]


def expand(name: str, entry: Blanket, path: str, around: Surroundings) -> tuple[Part, ...]:
    strength = STEFAN_BOLTZMANN * entry.area * (entry.used or 0.0)
    return (
        LinkPart(a=entry.from_, b=entry.to, strength=strength, potential=RADIATION, origin=path),
    )


KIND = Kind(section="blankets", entry=Blanket, expand=expand)
