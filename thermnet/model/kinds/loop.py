"""Loops: a fluid that a pump drives through nodes, one after another."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

import numpy as np
from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind, Seen, Surroundings
from thermnet.model.kinds.material import OneMaterial
from thermnet.model.kinds.properties import ROUNDING
from thermnet.network.parts import FlowLinkPart, Part
from thermnet.physics.curves import within
from thermnet.physics.material import MaterialFacts
from thermnet.text.fields import Entry, Text, fault, name_of, quantity, temperature

DIFFERENT = 0.05
"""Relative difference of a fluid's specific heat from the one taken that is worth a warning."""

Rate = Annotated[float, quantity("W/K", above=0)]
MassFlow = Annotated[float, quantity("kg/s", above=0)]
At = Annotated[float, temperature()]


class Loop(Entry):
    """A fluid that carries heat from each node into the next, and from the last into the first.

    How it takes heat up, as by convection at a wall, is said by links to its nodes. How much it
    carries is said by its capacity rate, or by fluid and mass flow.
    """

    through: tuple[Annotated[str, name_of("nodes", "boundaries")], ...] = Field(
        description="nodes of the fluid in the order of the flow"
    )
    capacity_rate: Rate | None = Field(None, description="mass flow times specific heat")
    fluid: OneMaterial | None = Field(
        None, description="instead, with `mass_flow`: the material that flows, a liquid or a gas"
    )
    mass_flow: MassFlow | None = Field(None, description="mass of the fluid that passes by time")
    fluid_at: At | None = Field(
        None,
        description="temperature at which the specific heat of the fluid is taken, where it is "
        "known over temperature; unless stated, near 300 K",
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

    @model_validator(mode="after")
    def _how_much(self) -> Loop:
        by_fluid = [k for k in ("fluid", "mass_flow", "fluid_at") if getattr(self, k) is not None]
        if self.capacity_rate is not None and by_fluid:
            message = "given beside 'capacity_rate', which says how much the fluid carries"
            raise fault(by_fluid[0], message)
        if self.capacity_rate is None and not by_fluid:
            message = "missing key 'capacity_rate' [W/K], or 'fluid' and 'mass_flow'"
            raise fault("capacity_rate", message)
        for key in ("fluid", "mass_flow") if by_fluid else ():
            if getattr(self, key) is None:
                raise fault(key, f"missing key '{key}': goes with '{by_fluid[0]}'")
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
    rate = 0.0 if entry.stopped else capacity_rate(entry, around) * factor
    return tuple(
        FlowLinkPart(a=a, b=b, rate=rate, history=history, origin=path) for a, b in entry.pairs
    )


def capacity_rate(entry: Loop, around: Surroundings) -> float:
    """What the fluid carries for each kelvin [W/K], its schedule left out.

    Raises ValueError for a fluid whose specific heat is not known.
    """
    if entry.capacity_rate is not None or entry.fluid is None or entry.mass_flow is None:
        return entry.capacity_rate or 0.0
    return entry.mass_flow * specific_heat(around.shelf.material(entry.fluid), entry.fluid_at)


def specific_heat(fluid: MaterialFacts, at: float | None) -> float:
    """Specific heat [J/kg/K] of a fluid, that of the liquid for a material that melts.

    With `at` [K] it is the value of the curve there. Raises ValueError, a sentence, where it is not
    known, or not at that temperature.
    """
    if at is not None and (fluid.melts_at is not None or fluid.specific_heat_curve is None):
        raise ValueError(
            f"the specific heat of '{fluid.name}' is not known over temperature: drop `fluid_at`"
        )
    if fluid.melts_at is not None:
        if fluid.specific_heat_liquid is None:
            raise ValueError(_unknown(fluid.name, "specific_heat_liquid"))
        return fluid.specific_heat_liquid
    curve = fluid.specific_heat_curve
    if at is not None and curve is not None:
        if not curve.x[0] - ROUNDING <= at <= curve.x[-1] + ROUNDING:
            raise ValueError(
                f"the specific heat of '{fluid.name}' is known from {curve.x[0]:g} to "
                f"{curve.x[-1]:g} K, not at {at:g} K"
            )
        return float(curve.value(np.array([at]))[0])
    if fluid.specific_heat is None:
        raise ValueError(_unknown(fluid.name, "specific_heat"))
    return fluid.specific_heat


def _unknown(name: str, key: str) -> str:
    what = {"specific_heat": "specific heat", "specific_heat_liquid": "specific heat when liquid"}
    return f"the {what[key]} of '{name}' is not known: state `{key}` under `materials`"


def doubts(
    name: str, entry: Loop, path: str, around: Surroundings, seen: Seen
) -> Iterator[tuple[str, str]]:
    """Warnings about a fluid that freezes, gets too hot, or differs from the one taken."""
    if entry.fluid is None:
        return
    fluid = around.shelf.material(entry.fluid)
    coldest = min(entry.through, key=lambda node: seen.lowest[node])
    hottest = max(entry.through, key=lambda node: seen.highest[node])
    low, high = seen.lowest[coldest], seen.highest[hottest]
    bounds = [each for each in (fluid.lowest, fluid.melts_at) if each is not None]
    if not bounds:
        yield (
            f"{path}.fluid",
            f"it is not known where '{fluid.name}' freezes: state `lowest` under `materials`",
        )
    elif low < max(bounds) - ROUNDING:
        # What a fluid freezes at is no allowable band: there is no flow below it.
        why = "freezes" if max(bounds) == fluid.melts_at else "may not be used"
        message = (
            f"'{fluid.name}' {why} below {max(bounds):g} K, but '{coldest}' goes down to {low:.1f} "
            "K: this case goes on as if it flowed"
        )
        yield f"{path}.fluid", message
    if fluid.highest is not None and high > fluid.highest + ROUNDING:
        message = (
            f"'{fluid.name}' may be used up to {fluid.highest:g} K, but '{hottest}' goes up to "
            f"{high:.1f} K"
        )
        yield f"{path}.fluid", message
    yield from _other_specific_heat(entry, fluid, path, low, high)


def _other_specific_heat(
    entry: Loop, fluid: MaterialFacts, path: str, low: float, high: float
) -> Iterator[tuple[str, str]]:
    """A warning where the specific heat at the temperatures met is not the one that is taken."""
    curve = fluid.specific_heat_curve
    if curve is None or fluid.melts_at is not None:
        return
    taken = specific_heat(fluid, entry.fluid_at)
    ends = within(np.array([low, high]), curve.x[0], curve.x[-1])
    met = curve.value(np.append(ends, curve.x[(curve.x > low) & (curve.x < high)]))
    most = float(np.abs(met / taken - 1.0).max())
    if most > DIFFERENT:
        message = (
            f"the specific heat of '{fluid.name}' differs by up to {100.0 * most:.0f} % from the "
            f"{taken:.4g} J/kg/K that is taken, from {low:.1f} to {high:.1f} K: state `fluid_at`"
        )
        yield f"{path}.fluid", message


KIND = Kind(section="loops", entry=Loop, expand=expand, doubts=doubts)
