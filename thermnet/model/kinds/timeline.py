"""Timelines: what the spacecraft does, one step after another."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind
from thermnet.text.fields import Entry, Text, fault, name_of, quantity


class Step(Entry):
    """One step of a timeline: a mode, a pointing, and when it begins.

    It begins where the step before it ends, or at a time, an orbit angle, or an edge of the shadow.
    """

    mode: Annotated[str, name_of("modes")] = Field(description="mode of the spacecraft")
    pointing: Annotated[str, name_of("pointings")] | None = Field(
        None, description="pointing; by default that of the case"
    )
    time: Annotated[float, quantity("s", at_least=0)] | None = Field(
        None, description="instant at which it begins, from the start of the timeline"
    )
    angle: Annotated[float, quantity("deg", at_least=0)] | None = Field(
        None, description="orbit angle at which it begins, from the start of the case"
    )
    at: Literal["shadow entry", "shadow exit"] | None = Field(
        None,
        description="edge of the shadow at which it begins: where half of the Sun is seen; left "
        "out in an orbit that has no shadow, with the steps that follow it",
    )
    offset: Annotated[float, quantity("s")] = Field(
        0.0, description="seconds after that edge; negative before it"
    )
    duration: Annotated[float, quantity("s", above=0)] | None = Field(
        None, description="after which the next step begins, unless that says when"
    )
    note: Text = Field("", description="what is done")

    @model_validator(mode="after")
    def _once(self) -> Step:
        given = [key for key in ("time", "angle", "at") if getattr(self, key) is not None]
        if len(given) > 1:
            raise fault(given[1], f"begins at '{given[0]}' already: drop one of the two")
        if self.at is None and self.offset != 0.0:
            raise fault("offset", "counts from an edge of the shadow: say which with 'at'")
        return self

    @property
    def anchored(self) -> bool:
        """Whether it says itself when it begins."""
        return self.time is not None or self.angle is not None or self.at is not None


class Timeline(Entry):
    """A sequence of steps, once or again and again."""

    steps: dict[str, Step] = Field(description="the steps by name, in their order")
    repeats: Annotated[float, quantity("s", above=0)] | Literal["orbit", "at its end"] | None = (
        Field(
            None,
            description="after which it begins again: a time, `orbit` for the period of the case's "
            "orbit or site, or `at its end` for the sum of its durations. Without it the last "
            "step goes on",
        )
    )
    stuck: Annotated[str, name_of("modes")] | None = Field(
        None, description="mode that the spacecraft is stuck in, whatever the steps say"
    )
    note: Text = Field("", description="where it comes from")

    @model_validator(mode="after")
    def _order(self) -> Timeline:
        if not self.steps:
            raise fault("steps", "a timeline needs at least one step")
        names = list(self.steps)
        for before, name in zip(names[:-1], names[1:], strict=True):
            if not self.steps[name].anchored and self.steps[before].duration is None:
                message = f"missing key 'duration': nothing says when '{name}' begins"
                raise fault(f"steps.{before}.duration", message)
            if self.steps[name].anchored and self.steps[before].duration is not None:
                message = (
                    f"'{name}' says itself when it begins: drop this, or put a step between them"
                )
                raise fault(f"steps.{before}.duration", message)
        if self.repeats == "at its end":
            open_ended = [name for name in names if self.steps[name].duration is None]
            anchored = [name for name in names if self.steps[name].anchored]
            if open_ended:
                message = "missing key 'duration': the timeline repeats at its end"
                raise fault(f"steps.{open_ended[0]}.duration", message)
            if anchored:
                message = "steps of a timeline that repeats at its end follow one another"
                raise fault(f"steps.{anchored[0]}", message)
        return self


KIND = Kind(section="timelines", entry=Timeline)
