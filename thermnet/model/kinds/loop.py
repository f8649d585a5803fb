"""Loops: a fluid that a pump drives through nodes, one after another."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import FlowLinkPart, Part
from thermnet.text.fields import Entry, Text, fault, name_of, quantity


class Loop(Entry):
    """A fluid that carries heat from each node into the next, and from the last into the first.

    How it takes heat up, as by convection at a wall, is said by links to its nodes.
    """

    through: tuple[Annotated[str, name_of("nodes", "boundaries")], ...] = Field(
        description="nodes of the fluid in the order of the flow"
    )
    capacity_rate: Annotated[float, quantity("W/K", above=0)] = Field(
        description="mass flow times specific heat"
    )
    returns: bool = Field(
        True,
        description="whether the last flows back into the first; a line that does not return "
        "begins and ends at boundaries",
    )
    schedule: Annotated[str, name_of("schedules")] | None = Field(
        None, description="schedule that the flow follows; it must not be negative"
    )
    stopped: bool = Field(False, description="true for a pump that stands still: no flow")
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _in_order(self) -> Loop:
        if len(self.through) < 2:
            raise fault("through", "a flow needs at least two nodes")
        for k, node in enumerate(self.through):
            if node in self.through[:k]:
                message = f"'{node}' comes twice: give each pass of the fluid a node of its own"
                raise fault(f"through.{k}", message)
        return self

    @property
    def pairs(self) -> tuple[tuple[str, str], ...]:
        """From where to where the fluid flows, in order."""
        following = (*self.through[1:], self.through[0])
        pairs = tuple(zip(self.through, following, strict=True))
        return pairs if self.returns else pairs[:-1]


def expand(name: str, entry: Loop, path: str, around: Surroundings) -> tuple[Part, ...]:
    factor, history = around.factor(entry.schedule)
    least = factor if history is None else float(history.value.min())
    if least < 0.0:
        raise ValueError(
            f"schedule '{entry.schedule}' goes down to {least:g}: a flow does not turn round"
        )
    # A pump that stands still keeps its place in the network, with nothing to carry.
    rate = 0.0 if entry.stopped else entry.capacity_rate * factor
    return tuple(
        FlowLinkPart(a=a, b=b, rate=rate, history=history, origin=path) for a, b in entry.pairs
    )


KIND = Kind(section="loops", entry=Loop, expand=expand)
