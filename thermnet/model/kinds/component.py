"""Components: what is judged, where, and against which allowable bands."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind
from thermnet.text.fields import (
    Entry,
    Text,
    difference,
    fault,
    name_of,
    quantity,
    temperature,
)

Band = tuple[Annotated[float, temperature()], Annotated[float, temperature()]]


def _ordered(key: str, band: Band | None) -> None:
    if band is not None and not band[0] < band[1]:
        raise fault(f"{key}.1", "the band is reversed: its upper end must lie above its lower end")


class State(Entry):
    """A band that holds while a schedule is above zero (charging, say)."""

    band: Band = Field(description="allowable band")
    when: Annotated[str, name_of("schedules")] = Field(description="schedule of the state")

    @model_validator(mode="after")
    def _order(self) -> State:
        _ordered("band", self.band)
        return self


class Window(Entry):
    """A band that holds within a window of time (while a mechanism is used, say)."""

    band: Band = Field(description="allowable band")
    from_: Annotated[float, quantity("s", at_least=0)] = Field(description="beginning")
    to: Annotated[float, quantity("s", above=0)] = Field(description="end")

    @model_validator(mode="after")
    def _order(self) -> Window:
        _ordered("band", self.band)
        if not self.from_ < self.to:
            raise fault("to", "the window must end after it begins")
        return self


class Difference(Entry):
    """A limit on the temperature difference to another node, either way."""

    to: Annotated[str, name_of("nodes", "boundaries")] = Field(description="the other node")
    limit: Annotated[float, difference(above=0)] = Field(description="largest allowed difference")


class Component(Entry):
    """An item that must stay inside its bands at its temperature reference point."""

    at: Annotated[str, name_of("nodes")] | tuple[Annotated[str, name_of("nodes")], ...] = Field(
        description="temperature reference point: a node, or the worst of several"
    )
    group: Text = Field("", description="subsystem")
    level: Literal["design", "acceptance", "qualification"] = Field(
        "design", description="level that the bands are at"
    )
    operating: Band | None = Field(None, description="band while the unit is on")
    non_operating: Band | None = Field(None, description="band while the unit is off")
    switch_on: Band | None = Field(None, description="band at the instant of switching on")
    on: bool | Annotated[str, name_of("schedules")] = Field(
        True, description="whether the unit is on: true, false, or a schedule (on above zero)"
    )
    unit: Annotated[str, name_of("units")] | None = Field(
        None, description="unit that it is on with, instead of `on`"
    )
    uncertainty: Annotated[float, difference(at_least=0)] | None = Field(
        None, description="uncertainty allowance in place of the policy's"
    )
    held_by: Annotated[str, name_of("heaters")] | None = Field(
        None, description="heater whose capacity margin takes the place of the cold allowance"
    )
    states: dict[str, State] = Field({}, description="bands of states that the user names")
    windows: dict[str, Window] = Field({}, description="bands within windows of time")
    rate: Annotated[float, quantity("K/s", above=0)] | None = Field(
        None, description="largest allowed rate of change"
    )
    differences: dict[str, Difference] = Field({}, description="limits on differences")
    note: Text = Field("", description="where the bands come from")

    @model_validator(mode="after")
    def _order(self) -> Component:
        for key in ("operating", "non_operating", "switch_on"):
            _ordered(key, getattr(self, key))
        if self.unit is not None and "on" in self.model_fields_set:
            raise fault("on", "is stated by the modes of its 'unit' already: drop one of the two")
        if not self.nodes:
            raise fault("at", "a component needs at least one node")
        return self

    @property
    def nodes(self) -> tuple[str, ...]:
        """The nodes of its reference point."""
        return (self.at,) if isinstance(self.at, str) else self.at

    @property
    def schedules(self) -> tuple[str, ...]:
        """Schedules whose edges bound its states."""
        own = (self.on,) if isinstance(self.on, str) else ()
        return own + tuple(state.when for state in self.states.values())


KIND = Kind(section="components", entry=Component)
