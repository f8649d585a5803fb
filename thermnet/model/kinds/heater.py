"""Heater circuits: switched by thermostats, or controlled in proportion."""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np
from pydantic import Field, model_validator

from thermnet.model.driven import Driven
from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.model.kinds.shares import Shares, shares_of
from thermnet.network.parts import HeatPart, Part, ThermostatPart
from thermnet.physics.curves import Curve
from thermnet.text.fields import (
    Entry,
    Text,
    difference,
    fault,
    name_of,
    quantity,
    temperature,
)


class Heater(Entry):
    """A heater circuit on a node, or shared over several, controlled by one sensor.

    A main and a spare circuit are two entries, each with its own thresholds. Both work at all
    times; `spare_of` says that what the main one holds is held by the spare one once that fails.
    """

    node: Annotated[str, name_of("nodes")] | None = Field(
        None, description="node that takes the heat"
    )
    shares: Shares = Field({}, description="instead of `node`: nodes with their shares, in all 1")
    sensor: Annotated[str, name_of("nodes", "boundaries")] | None = Field(
        None, description="node whose temperature switches; by default the heated node"
    )
    power: Annotated[float, quantity("W", at_least=0)] | None = Field(
        None, description="power when on, at the rated voltage if one is stated"
    )
    rated_voltage: Annotated[float, quantity("V", above=0)] | None = Field(
        None, description="voltage of the power; then power goes with the bus voltage squared"
    )
    resistance: Annotated[float, quantity("ohm", above=0)] | None = Field(
        None, description="instead of `power`: the power is the bus voltage squared over this"
    )
    on_below: Annotated[float, temperature()] = Field(
        description="switches on at or below; in proportion: full power"
    )
    off_above: Annotated[float, temperature()] = Field(
        description="switches off at or above; in proportion: no power"
    )
    tolerance: Annotated[float, difference(above=0)] | None = Field(
        None, description="by which both thresholds may lie lower or higher"
    )
    use: Literal["nominal", "low", "high"] = Field(
        "nominal", description="thresholds as they stand, or both at one end; a case sets it"
    )
    control: Literal["thermostat", "proportional"] = Field(
        "thermostat",
        description="on or off by a thermostat, or power in proportion between the thresholds",
    )
    enabled: Annotated[str, name_of("schedules")] | None = Field(
        None, description="schedule (0 to 1) that lets it heat; by default always"
    )
    modes: tuple[Annotated[str, name_of("modes")], ...] = Field(
        (), description="instead of `enabled`: the modes in which it may heat"
    )
    failed: Literal["no", "off", "on"] = Field(
        "no", description="`off`: gives no heat; `on`: full power, whatever sensor and modes say"
    )
    spare_of: Annotated[str, name_of("heaters")] | None = Field(
        None, description="main circuit; once that one gives no heat, this one holds what it holds"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _where(self) -> Heater:
        if self.sensor is None and len(shares_of(self.node, self.shares)) > 1:
            raise fault("sensor", "missing key 'sensor': a heater of several nodes needs one")
        return self

    @model_validator(mode="after")
    def _how_strong(self) -> Heater:
        if self.power is None and self.resistance is None:
            raise fault("power", "missing key 'power' [W], or 'resistance' [ohm]")
        if self.power is not None and self.resistance is not None:
            raise fault("resistance", "the power is stated: drop one of the two")
        if self.resistance is not None and self.rated_voltage is not None:
            raise fault("rated_voltage", "belongs to a 'power'; a resistance needs none")
        return self

    @model_validator(mode="after")
    def _when(self) -> Heater:
        if not self.on_below < self.off_above:
            raise fault("off_above", "must lie above 'on_below', or the heater would chatter")
        if self.use != "nominal" and self.tolerance is None:
            raise fault("use", f"this heater states no 'tolerance' for its {self.use} thresholds")
        if self.enabled is not None and self.modes:
            raise fault("modes", "enabled by a schedule or by modes, not both: drop one of the two")
        return self

    @property
    def nodes(self) -> dict[str, float]:
        """The nodes that take its heat, with their shares."""
        return shares_of(self.node, self.shares)

    @property
    def senses(self) -> str:
        """The node whose temperature controls it."""
        return self.sensor or next(iter(self.nodes))

    @property
    def thresholds(self) -> tuple[float, float]:
        """Thresholds [K], lower first, that the case uses: nominal, or with the tolerance."""
        shift = {"nominal": 0.0, "low": -1.0, "high": 1.0}[self.use] * (self.tolerance or 0.0)
        return self.on_below + shift, self.off_above + shift

    @property
    def resistive(self) -> bool:
        """Whether its power goes with the bus voltage."""
        return self.resistance is not None or self.rated_voltage is not None

    def power_at(self, bus_voltage: float | None) -> float:
        """Power [W] of the circuit while it is on, at a bus voltage V [V], failed or not.

        A resistor gives V^2 / R, or its rated power times (V / rated voltage)^2 (Ohm's and Joule's
        laws). Raises ValueError, a sentence, for a resistor without a bus voltage.
        """
        if not self.resistive:
            return self.power or 0.0
        if bus_voltage is None:
            key = "resistance" if self.resistance is not None else "rated_voltage"
            raise ValueError(
                f"its power goes with the bus voltage, as it states a '{key}', and the case has "
                "none: write 'bus_voltage: 28 V', or low, nominal or high, in the case"
            )
        if self.resistance is not None:
            return bus_voltage * bus_voltage / self.resistance
        return float((self.power or 0.0) * (bus_voltage / (self.rated_voltage or 1.0)) ** 2)


def expand(name: str, entry: Heater, path: str, around: Surroundings) -> tuple[Part, ...]:
    power = entry.power_at(around.bus_voltage)
    enabled = _enabled(entry, around)
    if entry.failed == "on":
        enabled = Driven(amplitude=1.0)
    elif entry.failed == "off":
        power = 0.0
    power *= enabled.amplitude
    if entry.failed == "on" or entry.control == "proportional":
        return _heats(entry, path, power, enabled)
    on, off = entry.thresholds
    # One thermostat a node: their states are the same, since their sensor is.
    return tuple(
        ThermostatPart(
            node=node,
            sensor=entry.senses,
            power=power * share,
            on=on,
            off=off,
            enabled=enabled.history,
            origin=path,
        )
        for node, share in entry.nodes.items()
    )


def _enabled(entry: Heater, around: Surroundings) -> Driven:
    if entry.modes:
        return around.by_mode(dict.fromkeys(entry.modes, 1.0))
    factor, history = around.factor(entry.enabled)
    return Driven(amplitude=factor, history=history)


def _heats(entry: Heater, path: str, power: float, enabled: Driven) -> tuple[Part, ...]:
    """A circuit that no thermostat switches: in proportion to what the sensor lacks, or always."""
    curve = None
    if entry.failed != "on":
        curve = Curve(x=np.array(entry.thresholds), y=np.array([1.0, 0.0]))
    return tuple(
        HeatPart(
            node=node,
            amplitude=power * share,
            history=enabled.history,
            curve=curve,
            sensor=entry.senses if curve is not None else "",
            origin=path,
        )
        for node, share in entry.nodes.items()
    )


KIND = Kind(section="heaters", entry=Heater, expand=expand)
