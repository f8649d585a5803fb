"""Heat pipes: nodes joined through a vapour of one temperature."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.by_temperature import ramp
from thermnet.model.kinds.kind import Kind, Seen, Surroundings
from thermnet.network.parts import LinkPart, NodePart, Part
from thermnet.text.fields import Entry, Text, fault, name_of, number, quantity, temperature

Node = Annotated[str, name_of("nodes", "boundaries")]
Film = Annotated[float, quantity("W/K", above=0)]
Threshold = Annotated[float, temperature()]
Share = Annotated[float, number(at_least=0, below=1)]
Power = Annotated[float, quantity("W", above=0)]
Transport = Annotated[float, quantity("W*m", above=0)]
Distance = Annotated[float, quantity("m", above=0)]


class Variable(Entry):
    """A gas that shuts the condenser off as its sensor cools, in a straight line."""

    condenser: tuple[Node, ...] = Field(
        description="nodes of `at` that the gas shuts off; one or more of the others stays open"
    )
    sensor: Node = Field(
        description="node whose temperature counts, one with a heat capacity, such as the unit "
        "that the pipe cools"
    )
    shut_below: Threshold = Field(description="temperature at and below which the gas fills it")
    open_above: Threshold = Field(description="temperature at and above which it is all open")
    shut: Share = Field(
        0.001,
        description="share of its conductances that is left when it is shut, next to nothing; with "
        "none at all, nodes that nothing else joins have no temperature",
    )

    @model_validator(mode="after")
    def _sound(self) -> Variable:
        if not self.condenser:
            raise fault("condenser", "needs at least one node")
        if not self.shut_below < self.open_above:
            raise fault("open_above", "must lie above 'shut_below'")
        return self


class HeatPipe(Entry):
    """A heat pipe: each node along it joins a vapour of one temperature, which holds no heat.

    The vapour is a massless node made here, `NAME, vapour`. The wall of the pipe, along which some
    heat flows though the pipe fail, is a link of its own.
    """

    at: dict[Node, Film] = Field(
        description="nodes along the pipe, two or more, each with the conductance between it and "
        "the vapour: film coefficient times the inner area there, wall and joint included"
    )
    most: Power | None = Field(
        None, description="heat that it can carry; a case in which it carries more is told so"
    )
    most_transport: Transport | None = Field(
        None, description="instead of `most`: heat times effective length that it can carry"
    )
    length: Distance | None = Field(
        None,
        description="effective length that goes with it: between the middles of where heat enters "
        "and where it leaves",
    )
    variable: Variable | None = Field(
        None, description="the gas of a pipe of variable conductance; without it there is none"
    )
    lost: bool = Field(False, description="true for one that has failed: its vapour carries none")
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _ends(self) -> HeatPipe:
        if len(self.at) < 2:
            raise fault("at", "a heat pipe joins at least two nodes")
        if self.variable is None:
            return self
        for k, node in enumerate(self.variable.condenser):
            if node not in self.at:
                raise fault(f"variable.condenser.{k}", f"'{node}' is no node of 'at'")
        if set(self.variable.condenser) >= set(self.at):
            message = "names every node of 'at': one or more, where the heat enters, stays open"
            raise fault("variable.condenser", message)
        return self

    @model_validator(mode="after")
    def _capability(self) -> HeatPipe:
        if self.most is not None and self.most_transport is not None:
            raise fault("most_transport", "given beside 'most': state one of them")
        if self.most_transport is not None and self.length is None:
            raise fault("length", "missing key 'length': goes with 'most_transport'")
        if self.length is not None and self.most_transport is None:
            raise fault("length", "goes with 'most_transport', which is not given")
        return self

    @property
    def capability(self) -> float | None:
        """The heat [W] that it can carry; None where none is stated."""
        if self.most_transport is not None and self.length is not None:
            return self.most_transport / self.length
        return self.most


def made(name: str, entry: HeatPipe) -> tuple[str, ...]:
    """The name of the node that a heat pipe makes."""
    return (f"{name}, vapour",)


def expand(name: str, entry: HeatPipe, path: str, around: Surroundings) -> tuple[Part, ...]:
    (vapour,) = made(name, entry)
    parts: list[Part] = [NodePart(name=vapour, origin=path)]
    told, gas = entry.variable, None
    shut_off = () if told is None else told.condenser
    if told is not None:
        gas = ramp(told.shut_below, told.open_above, told.shut, 1.0)
    # The vapour of a lost pipe keeps one link, so that it has a temperature: at the end of a single
    # link it carries nothing. That node is one which no gas shuts off.
    kept = next(node for node in entry.at if node not in shut_off)
    for node, conductance in entry.at.items():
        strength = conductance if node == kept or not entry.lost else 0.0
        parts.append(
            LinkPart(
                a=node,
                b=vapour,
                strength=strength,
                curve=gas if node in shut_off else None,
                sensor=told.sensor if told is not None and node in shut_off else "",
                origin=path,
            )
        )
    return tuple(parts)


def doubts(
    name: str, entry: HeatPipe, path: str, around: Surroundings, seen: Seen
) -> Iterator[tuple[str, str]]:
    """A warning where the heat through the vapour exceeds what the pipe can carry.

    That heat is what enters the vapour, which leaves it again: half the sum of what all its links
    carry, whichever way.
    """
    carried, limit = seen.most(path), entry.capability
    if limit is None or carried <= limit:
        return
    key = "most" if entry.most is not None else "most_transport"
    over = "" if entry.length is None else f" over {entry.length:.4g} m"
    message = (
        f"carries up to {carried:.4g} W, but can carry {limit:.4g} W{over}: it would dry out, and "
        "the temperatures of this case hold for a pipe that does not"
    )
    yield f"{path}.{key}", message


KIND = Kind(section="heat_pipes", entry=HeatPipe, expand=expand, makes=made, doubts=doubts)
