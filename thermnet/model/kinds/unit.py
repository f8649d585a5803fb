"""Units: what the boxes of a spacecraft give off in each mode."""

from __future__ import annotations

from typing import Annotated

import numpy as np
from pydantic import Field, model_validator

from thermnet.model.kinds.by_temperature import ByTemperature, check_points, followed
from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.model.kinds.shares import Shares, shares_of
from thermnet.network.parts import HeatPart, Part
from thermnet.text.fields import Entry, Text, name_of, number, quantity, temperature

InMode = Annotated[str, name_of("modes")]
Kelvin = Annotated[float, temperature()]
Watts = Annotated[float, quantity("W", at_least=0)]


class ByVoltage(Entry):
    """A factor over the bus voltage, in straight lines."""

    voltage: tuple[Annotated[float, quantity("V", above=0)], ...] = Field(
        description="bus voltages"
    )
    factor: tuple[Annotated[float, number(at_least=0)], ...] = Field(
        description="one factor for each voltage"
    )

    @model_validator(mode="after")
    def _points(self) -> ByVoltage:
        check_points(self.voltage, self.factor, "factor", "voltage")
        return self


class Unit(Entry):
    """A unit with its heat by mode, on one node or shared over several.

    It is on in the modes in which it gives heat or sends, unless `on` says otherwise.
    """

    node: Annotated[str, name_of("nodes")] | None = Field(
        None, description="node that takes the heat"
    )
    shares: Shares = Field({}, description="instead of `node`: nodes with their shares, in all 1")
    heat: dict[InMode, Watts] = Field(
        {}, description="heat by mode; none in modes that are left out"
    )
    sent: dict[InMode, Watts] = Field(
        {}, description="power by mode that is taken but leaves as radio waves or light"
    )
    on: dict[InMode, bool] = Field(
        {}, description="whether it is on, by mode, where heat does not say so"
    )
    by_temperature: ByTemperature | None = Field(
        None, description="factor on the heat, not on what is sent, by temperature"
    )
    by_voltage: ByVoltage | None = Field(
        None, description="factor on heat and what is sent, by bus voltage"
    )
    schedule: Annotated[str, name_of("schedules")] | None = Field(
        None, description="schedule that varies heat and what is sent within its modes"
    )
    scale: Annotated[float, number(at_least=0)] = Field(
        1.0, description="multiplies heat and what is sent, 0 is off; a case sets it"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _where(self) -> Unit:
        shares_of(self.node, self.shares)
        return self

    @property
    def nodes(self) -> dict[str, float]:
        """The nodes that take its heat, with their shares."""
        return shares_of(self.node, self.shares)

    def is_on(self, mode: str) -> bool:
        """Whether it is on in a mode; never with a scale of 0."""
        taken = self.heat.get(mode, 0.0) + self.sent.get(mode, 0.0)
        return self.scale > 0.0 and self.on.get(mode, taken > 0.0)

    def voltage_factor(self, bus_voltage: float | None) -> float:
        """Factor on the heat at a bus voltage [V]. Raises ValueError beyond the points."""
        if self.by_voltage is None:
            return 1.0
        points = self.by_voltage.voltage
        if bus_voltage is None:
            raise ValueError("missing key 'bus_voltage': the heat of a unit goes by it")
        if not points[0] <= bus_voltage <= points[-1]:
            raise ValueError(
                f"the bus voltage of {bus_voltage:g} V lies beyond the points, "
                f"{points[0]:g} to {points[-1]:g} V"
            )
        return float(np.interp(bus_voltage, points, self.by_voltage.factor))


def expand(name: str, entry: Unit, path: str, around: Surroundings) -> tuple[Part, ...]:
    factor = entry.scale * entry.voltage_factor(around.bus_voltage)
    given = around.by_mode(entry.heat, entry.schedule)
    curve, sensor = followed(entry.by_temperature, next(iter(entry.nodes)))
    return tuple(
        HeatPart(
            node=node,
            amplitude=given.amplitude * factor * share,
            history=given.history,
            curve=curve,
            sensor=sensor,
            origin=path,
        )
        for node, share in entry.nodes.items()
    )


KIND = Kind(section="units", entry=Unit, expand=expand)
