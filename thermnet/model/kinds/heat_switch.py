"""Heat switches: two nodes joined well or hardly, by a temperature."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from thermnet.model.kinds.by_temperature import ramp
from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import LinkPart, Part
from thermnet.physics.curves import Curve
from thermnet.text.fields import Entry, Text, difference, fault, name_of, quantity, temperature

Conductance = Annotated[float, quantity("W/K", above=0)]
Rest = Annotated[float, quantity("W/K", at_least=0)]
Threshold = Annotated[float, temperature()]
Width = Annotated[float, difference(above=0)]


class HeatSwitch(Entry):
    """A heat switch between two nodes, which conducts above a temperature, or below it.

    It goes from open to closed in a straight line over some kelvin, half of them on either side of
    its temperature, where its conductance is the mean of both.
    """

    from_: Annotated[str, name_of("nodes", "boundaries")] = Field(description="one end")
    to: Annotated[str, name_of("nodes", "boundaries")] = Field(description="the other end")
    on: Conductance = Field(description="conductance when closed")
    off: Rest = Field(description="conductance when open, 0 for none; below `on`")
    closes_above: Threshold | None = Field(
        None, description="temperature above which it conducts, as one that cools a unit does"
    )
    closes_below: Threshold | None = Field(
        None, description="instead: temperature below which it conducts"
    )
    over: Width = Field(
        description="kelvin in which it closes: open half of it before the temperature, closed "
        "half of it beyond"
    )
    sensor: Annotated[str, name_of("nodes", "boundaries")] | None = Field(
        None, description="node whose temperature counts; by default `from`"
    )
    stuck: Literal["no", "off", "on"] = Field(
        "no", description="`off`: open, or `on`: closed, whatever the temperature"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _sound(self) -> HeatSwitch:
        if self.from_ == self.to:
            raise fault("to", f"joins '{self.to}' to itself")
        if not self.off < self.on:
            raise fault("off", "must be below 'on': a switch conducts better when closed")
        if self.closes_above is None and self.closes_below is None:
            message = "missing key 'closes_above' or 'closes_below', a temperature"
            raise fault("closes_above", message)
        if self.closes_above is not None and self.closes_below is not None:
            message = "given beside 'closes_above': a switch closes on one side of a temperature"
            raise fault("closes_below", message)
        return self

    @property
    def curve(self) -> Curve:
        """The conductance as a share of `on`, over the temperature [K] of the sensor."""
        half, least = self.over / 2.0, self.off / self.on
        if self.closes_above is not None:
            return ramp(self.closes_above - half, self.closes_above + half, least, 1.0)
        middle = self.closes_below or 0.0
        return ramp(middle - half, middle + half, 1.0, least)


def expand(name: str, entry: HeatSwitch, path: str, around: Surroundings) -> tuple[Part, ...]:
    moves = entry.stuck == "no"
    return (
        LinkPart(
            a=entry.from_,
            b=entry.to,
            strength=entry.off if entry.stuck == "off" else entry.on,
            curve=entry.curve if moves else None,
            sensor=entry.sensor or entry.from_ if moves else "",
            origin=path,
        ),
    )


KIND = Kind(section="heat_switches", entry=HeatSwitch, expand=expand)
