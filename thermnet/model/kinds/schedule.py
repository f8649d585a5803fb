"""Schedules: factors over time that loads, absorbed heat, heaters and boundaries follow."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from thermnet.model.histories import FIT
from thermnet.model.kinds.kind import Kind
from thermnet.text.fields import Entry, Text, fault, name_of, number, quantity


class Schedule(Entry):
    """A dimensionless factor over time; a repeated instant is a jump.

    Its points are given, or it follows the Sun in the case's orbit, or the modes of the case.
    """

    follows: Literal["sunlight", "shadow"] | None = Field(
        None,
        description="instead of points: the share of the Sun that is seen, or that is not; "
        "without an orbit no Sun is",
    )
    modes: tuple[Annotated[str, name_of("modes")], ...] = Field(
        (), description="instead of points: 1 in these modes, 0 in the others"
    )
    time: tuple[Annotated[float, quantity("s", at_least=0)], ...] = Field(
        (), description="instants, from the start of the case or of the period"
    )
    value: tuple[Annotated[float, number()], ...] = Field(
        (), description="one value for each instant"
    )
    shape: Literal["linear", "steps"] = Field(
        "linear",
        description="`linear` joins the points, `steps` holds each value until the next instant",
    )
    period: Annotated[float, quantity("s", above=0)] | Literal["orbit"] | None = Field(
        None,
        description="after which it repeats, `orbit` for that of the case's orbit or site; before "
        "the first and after the last instant the nearest value holds. Without one the last does",
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _points(self) -> Schedule:
        if self.follows is not None or self.modes:
            follows = "follows the Sun" if self.follows is not None else "follows modes"
            for key in ("time", "value", "period"):
                if getattr(self, key):
                    raise fault(key, f"a schedule that {follows} has no points of its own")
            if self.follows is not None and self.modes:
                raise fault("modes", "a schedule that follows the Sun follows no modes as well")
            return self
        if "time" not in self.model_fields_set:
            raise fault(
                "time", "missing key 'time' [s], and 'value': or say what it 'follows', or 'modes'"
            )
        if not self.time:
            raise fault("time", "a schedule needs at least one instant")
        if len(self.value) != len(self.time):
            wanted, found = len(self.time), len(self.value)
            raise fault("value", f"needs one value for each instant: {wanted}, not {found}")
        for k in range(1, len(self.time)):
            if self.time[k] < self.time[k - 1]:
                raise fault(f"time.{k}", "instants must not decrease")
            again = self.time[k] == self.time[k - 1]
            if again and (self.shape == "steps" or (k > 1 and self.time[k - 2] == self.time[k])):
                raise fault(f"time.{k}", "an instant comes once too often")
        if isinstance(self.period, float) and self.time[-1] > self.period + FIT:
            raise fault(
                f"time.{len(self.time) - 1}", f"lies beyond the period of {self.period:g} s"
            )
        return self


KIND = Kind(section="schedules", entry=Schedule)
