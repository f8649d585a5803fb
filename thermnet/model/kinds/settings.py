"""What stands at the top of a model file, beside the sections."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from thermnet.text.fields import Entry, Text, difference, fault, number, quantity

PUBLISHED = {"SMC-S-016": (11.0, 17.0)}
"""Allowances [K] after and before a thermal balance test, by policy. SMC-S-016 (5 September
2014) 4.4.2.1: 11 degC for passive hardware, 17 degC where it is not balance tested (read in the
standard). Its smaller allowances for cold hardware stand in `thermnet.margins`."""


class Uncertainty(Entry):
    """How much is allowed for the uncertainty of the model between calculated and predicted."""

    policy: Literal["flat", "SMC-S-016", "none"] = Field(
        "flat", description="a flat allowance, that of a published standard, or none"
    )
    allowance: Annotated[float, difference(at_least=0)] | None = Field(
        None, description="the allowance of the flat policy"
    )
    balance_tested: bool = Field(
        False, description="whether the model stands correlated with a thermal balance test"
    )
    heater_duty: Annotated[float, number(above=0, at_most=1)] = Field(
        0.8,
        description="largest duty allowed for a heater that holds an item (25 % capacity margin)",
    )

    @model_validator(mode="after")
    def _complete(self) -> Uncertainty:
        if self.policy == "flat" and self.allowance is None:
            raise fault("allowance", "missing key 'allowance' [K]: the flat policy needs one")
        if self.policy != "flat" and self.allowance is not None:
            raise fault("allowance", f"the policy '{self.policy}' states its own allowance")
        return self


Voltage = Annotated[float, quantity("V", above=0)]


class BusVoltages(Entry):
    """The bus voltages that cases name."""

    low: Voltage = Field(description="lowest: heaters must do with it")
    nominal: Voltage = Field(description="usual one")
    high: Voltage = Field(description="highest: heaters take the most power")

    @model_validator(mode="after")
    def _order(self) -> BusVoltages:
        if not self.low <= self.nominal <= self.high:
            raise fault("nominal", "bus voltages must not fall from low to nominal to high")
        return self


class Settings(Entry):
    """The top of the file."""

    thermnet: Literal[1] = Field(description="number of the file format")
    name: Text = Field("", description="name of the model; by default that of the file")
    description: Text = Field("", description="what it is")
    temperatures: Literal["degC", "K"] | None = Field(
        None, description="scale of bare temperatures; without it each one needs its unit"
    )
    uncertainty: Uncertainty = Field(
        Uncertainty(policy="none"), description="uncertainty policy of the margins"
    )

    bus_voltage: BusVoltages | None = Field(None, description="low, nominal and high bus voltage")

    @field_validator("thermnet", mode="before")
    @classmethod
    def _a_number(cls, value: object) -> object:
        if isinstance(value, bool):  # which Python takes for 1
            raise ValueError(f"expected 1, got {'true' if value else 'false'}")
        return value
