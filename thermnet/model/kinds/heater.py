"""Heaters switched by thermostats."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import Part, ThermostatPart
from thermnet.text.fields import Entry, Text, fault, name_of, quantity, temperature


class Heater(Entry):
    """A heater on a node, switched by a sensor: on at or below one threshold, off at the other."""

    node: Annotated[str, name_of("nodes")] = Field(description="node that takes the heat")
    sensor: Annotated[str, name_of("nodes", "boundaries")] | None = Field(
        None, description="node whose temperature switches; by default the heated node"
    )
    power: Annotated[float, quantity("W", at_least=0)] = Field(
        description="power when on, at the rated voltage if one is stated"
    )
    rated_voltage: Annotated[float, quantity("V", above=0)] | None = Field(
        None, description="voltage of the power; then power goes with the bus voltage squared"
    )
    on_below: Annotated[float, temperature()] = Field(description="switches on at or below")
    off_above: Annotated[float, temperature()] = Field(description="switches off at or above")
    enabled: Annotated[str, name_of("schedules")] | None = Field(
        None, description="schedule (0 to 1) that lets it heat; by default always"
    )
    failed: bool = Field(False, description="true for a heater that gives no heat")
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _band(self) -> Heater:
        if not self.on_below < self.off_above:
            raise fault("off_above", "must lie above 'on_below', or the heater would chatter")
        return self

    def power_at(self, bus_voltage: float | None) -> float:
        """Power [W] at a bus voltage [V]: a resistor's goes with the voltage squared."""
        if self.failed:
            return 0.0
        if self.rated_voltage is None or bus_voltage is None:
            return self.power
        return float(self.power * (bus_voltage / self.rated_voltage) ** 2)


def expand(name: str, entry: Heater, path: str, around: Surroundings) -> tuple[Part, ...]:
    factor, history = around.factor(entry.enabled)
    return (
        ThermostatPart(
            node=entry.node,
            sensor=entry.sensor or entry.node,
            power=entry.power_at(around.bus_voltage) * factor,
            on=entry.on_below,
            off=entry.off_above,
            enabled=history,
            origin=path,
        ),
    )


KIND = Kind(section="heaters", entry=Heater, expand=expand)
