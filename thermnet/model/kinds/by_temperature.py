"""A factor that follows the temperature of a node."""

from __future__ import annotations

from typing import Annotated

import numpy as np
from pydantic import Field, model_validator

from thermnet.physics.curves import Curve
from thermnet.text.fields import Entry, fault, name_of, number, temperature

Points = tuple[Annotated[float, temperature()], ...]


class ByTemperature(Entry):
    """A factor over the temperature of a node, in straight lines; the end values hold outside."""

    node: Annotated[str, name_of("nodes", "boundaries")] | None = Field(
        None, description="node whose temperature counts; by default the one that takes the heat"
    )
    temperature: Points = Field(description="temperatures, which must increase")
    factor: tuple[Annotated[float, number(at_least=0)], ...] = Field(
        description="one factor for each temperature"
    )

    @model_validator(mode="after")
    def _points(self) -> ByTemperature:
        check_points(self.temperature, self.factor, "factor")
        return self

    @property
    def curve(self) -> Curve:
        """The factor over temperature [K]."""
        return Curve(x=np.array(self.temperature), y=np.array(self.factor))


def check_points(
    at: tuple[float, ...], values: tuple[float, ...], key: str, over: str = "temperature"
) -> None:
    """Raise a fault for points that make no curve; `key` is that of the values, `over` of `at`."""
    if len(at) < 2:
        raise fault(over, f"needs two or more {over}s")
    if len(values) != len(at):
        raise fault(key, f"needs one for each {over}: {len(at)}, not {len(values)}")
    for k in range(1, len(at)):
        if at[k] <= at[k - 1]:
            raise fault(f"{over}.{k}", f"{over}s must increase")


def ramp(lower: float, upper: float, below: float, above: float) -> Curve:
    """A factor that is `below` up to one temperature [K] and `above` from the other one on.

    In between it goes in a straight line; it may fall as well as rise.
    """
    return Curve(x=np.array([lower, upper]), y=np.array([below, above]))


def followed(factor: ByTemperature | None, default: str) -> tuple[Curve | None, str]:
    """The curve of a factor and the node that it follows, by default this; None for no factor."""
    return (None, "") if factor is None else (factor.curve, factor.node or default)
