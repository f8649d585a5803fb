"""Schedules: factors over time that loads, absorbed heat, heaters and boundaries follow."""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np
from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind
from thermnet.network.parts import History
from thermnet.text.fields import Entry, Text, fault, number, quantity


class Schedule(Entry):
    """A dimensionless factor over time; a repeated instant is a jump."""

    time: tuple[Annotated[float, quantity("s", at_least=0)], ...] = Field(
        description="instants, from the start of the case or of the period"
    )
    value: tuple[Annotated[float, number()], ...] = Field(description="one value for each instant")
    shape: Literal["linear", "steps"] = Field(
        "linear",
        description="`linear` joins the points, `steps` holds each value until the next instant",
    )
    period: Annotated[float, quantity("s", above=0)] | None = Field(
        None, description="after which it repeats; without one the last value holds"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _points(self) -> Schedule:
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
        if self.period is not None and self.time[-1] > self.period:
            raise fault(
                f"time.{len(self.time) - 1}", f"lies beyond the period of {self.period:g} s"
            )
        return self

    def history(self, span: float) -> History:
        """The schedule from 0 to `span` [s], its period unrolled."""
        time, value = self._one_period()
        if self.period is None or self.period >= span:
            return History(time=time, value=value)
        turns = int(np.ceil(span / self.period - 1e-9))
        shifted = [time + k * self.period for k in range(turns)]
        return History(time=np.concatenate(shifted), value=np.tile(value, turns))

    def _one_period(self) -> tuple[np.ndarray, np.ndarray]:
        """Points as a piecewise linear history; over the whole period where there is one."""
        time, value = np.array(self.time), np.array(self.value)
        if self.shape == "steps":
            time = np.concatenate([time[:1], np.repeat(time[1:], 2)])
            value = np.concatenate([np.repeat(value[:-1], 2), value[-1:]])
        if self.period is not None:
            if time[-1] < self.period:
                time, value = np.append(time, self.period), np.append(value, value[-1])
            if time[0] > 0.0:
                time, value = np.append(0.0, time), np.append(value[0], value)
        return time, value

    def mean(self, span: float) -> float:
        """Time mean over the period, or over 0 to `span` [s] without one; the first value at 0."""
        history = self.history(self.period or span)
        end = self.period or span
        if end == 0.0:
            return float(history.value[0])
        time = np.concatenate([[min(0.0, history.time[0])], history.time, [end]])
        value = np.concatenate([history.value[:1], history.value, history.value[-1:]])
        inside = np.clip(time, 0.0, end)
        widths = np.diff(inside)
        return float((widths * (value[1:] + value[:-1]) / 2.0).sum() / end)


KIND = Kind(section="schedules", entry=Schedule)
