"""Nodes: regions taken as isothermal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

import numpy as np
from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind, Seen, Surroundings
from thermnet.model.kinds.material import LatentHeat, OneMaterial, OneSpecificHeat
from thermnet.model.kinds.properties import ROOM, told_beyond, told_range
from thermnet.network.parts import NodePart, NodesPart, Part
from thermnet.physics.curves import Curve, within
from thermnet.physics.material import (
    MaterialFacts,
    heat_content,
    melted_share,
    melting_content,
    together,
)
from thermnet.text.fields import (
    Entry,
    Text,
    Words,
    difference,
    fault,
    number,
    quantity,
    temperature,
)
from thermnet.text.rows import Column, Floats, Rows, columns

Mass = Annotated[float, quantity("kg", above=0)]
Volume = Annotated[float, quantity("m^3", above=0)]
Width = Annotated[float, difference(above=0)]
Start = Annotated[float, temperature()]

STORES = ("capacity", "material", "melting")
"""The keys of a node that give it heat capacity."""

MELTING = ("melts_at", "latent_heat", "specific_heat", "specific_heat_liquid")
"""What must be known of something that melts: keys of an entry and fields of the facts."""

CALLED = {"melts_at": "melting temperature", "specific_heat_liquid": "liquid's specific heat"}
"""What keys are called in a sentence, where their own words make none."""

DIFFERENT = 0.1
"""Relative difference of a specific heat from the one taken that is worth a warning."""


class Melting(Entry):
    """Something in a node that melts and freezes, such as the filling of a phase-change store.

    It takes up its latent heat evenly over some kelvin, half of them below its melting temperature,
    and freezes as it melted: it is at one temperature all through, and does not supercool.
    """

    material: OneMaterial | None = Field(
        None, description="what melts; keys given beside it overrule what is known of it"
    )
    mass: Mass = Field(description="mass of what melts")
    over: Width = Field(
        0.2, description="range of temperature that it melts over, centred on the melting one"
    )
    melts_at: Start | None = Field(None, description="melting temperature")
    latent_heat: LatentHeat | None = Field(None, description="heat that melts it, by mass")
    specific_heat: OneSpecificHeat | None = Field(None, description="specific heat of the solid")
    specific_heat_liquid: OneSpecificHeat | None = Field(
        None, description="specific heat of the liquid"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _known(self) -> Melting:
        if self.material is None:
            for key in MELTING:
                if getattr(self, key) is None:
                    raise fault(key, f"missing key '{key}', unless a `material` is named")
        return self


class Node(Entry):
    """A node has a heat capacity, or is massless and in balance at each instant.

    Its capacity is what is stated, and that of a mass of material, and of what melts in it.
    """

    capacity: Annotated[float, quantity("J/K", above=0)] | None = Field(
        None, description="heat capacity; left out for a massless node and one stated by material"
    )
    material: OneMaterial | None = Field(
        None, description="what it is made of, whose heat capacity adds to the stated one"
    )
    mass: Mass | None = Field(None, description="mass of the material")
    volume: Volume | None = Field(None, description="instead of a mass: volume of the material")
    by_temperature: bool = Field(
        False,
        description="true to follow the specific heat over temperature, false to take it near 300 "
        "K throughout",
    )
    melting: Melting | None = Field(None, description="what melts and freezes in it")
    massless: bool = Field(False, description="true for a node without heat capacity")
    initial: Start | None = Field(
        None, description="temperature at the start of a transient whose case says `initial: given`"
    )
    group: Text = Field("", description="subsystem, for diagrams and tables")
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _one_or_the_other(self) -> Node:
        stores = [each for each in STORES if getattr(self, each) is not None]
        if not stores and not self.massless:
            raise fault("capacity", "missing key 'capacity' [J/K], or say `massless: true`")
        if self.capacity is not None and self.massless:
            raise fault("massless", "a massless node has no capacity; drop one of the two")
        if stores and self.massless:
            raise fault("massless", f"a massless node has no '{stores[0]}'; drop one of the two")
        return self

    @model_validator(mode="after")
    def _how_much(self) -> Node:
        amounts = [key for key in ("mass", "volume") if getattr(self, key) is not None]
        if self.material is None:
            for key in (*amounts, *(["by_temperature"] if self.by_temperature else [])):
                raise fault(key, "says nothing without a material: name it")
        elif not amounts:
            raise fault("mass", "missing key 'mass': how much of the material, or its 'volume'")
        elif len(amounts) > 1:
            raise fault("volume", "is given by 'mass' already: drop one of the two")
        return self


def expand(name: str, entry: Node, path: str, around: Surroundings) -> tuple[Part, ...]:
    """One node. Raises ValueError for a material of which something needed is not known."""
    capacity, contents = entry.capacity or 0.0, []
    if entry.material is not None:
        facts = around.shelf.material(entry.material)
        mass = _mass(entry, facts)
        if entry.by_temperature:
            contents.append(heat_content(_specific_heat_curve(facts), mass))
        else:
            capacity += mass * _known(facts, "specific_heat", facts.specific_heat)
    if entry.melting is not None:
        contents.append(_melting_content(entry.melting, around))
    if not contents:
        return (NodePart(name=name, capacity=capacity, origin=path),)
    return (NodePart(name=name, content=together(tuple(contents), capacity), origin=path),)


def melted(entry: Node, around: Surroundings, temperature: float) -> float:
    """Which share of what melts in a node is liquid at a temperature [K]; 0 where nothing melts.

    Raises ValueError for a material that is not known to melt.
    """
    if entry.melting is None:
        return 0.0
    numbers = _numbers(entry.melting, around)
    return melted_share(temperature, numbers["melts_at"], entry.melting.over)


def _mass(entry: Node, facts: MaterialFacts) -> float:
    """Mass [kg] of the material of a node."""
    if entry.mass is not None:
        return entry.mass
    return (entry.volume or 0.0) * _known(facts, "density", facts.density)


def _known(facts: MaterialFacts, key: str, value: float | None) -> float:
    if value is None:
        what = CALLED.get(key, key.replace("_", " "))
        raise ValueError(
            f"the {what} of '{facts.name}' is not known: state `{key}` under `materials`"
        )
    return value


def _specific_heat_curve(facts: MaterialFacts) -> Curve:
    if facts.specific_heat_curve is None:
        raise ValueError(
            f"the specific heat of '{facts.name}' is not known over temperature: state it so under "
            "`materials`, or drop `by_temperature`"
        )
    return facts.specific_heat_curve


def _melting_content(melting: Melting, around: Surroundings) -> Curve:
    numbers = _numbers(melting, around)
    return melting_content(
        mass=melting.mass,
        melts_at=numbers["melts_at"],
        over=melting.over,
        latent_heat=numbers["latent_heat"],
        solid=numbers["specific_heat"],
        liquid=numbers["specific_heat_liquid"],
    )


def _numbers(melting: Melting, around: Surroundings) -> dict[str, float]:
    """What is known of what melts, by key: stated beside its mass, or else of its material."""
    own = {key: getattr(melting, key) for key in MELTING}
    if melting.material is None:
        return own
    facts = around.shelf.material(melting.material)
    return {
        key: _known(facts, key, getattr(facts, key)) if value is None else value
        for key, value in own.items()
    }


def doubts(
    name: str, entry: Node, path: str, around: Surroundings, seen: Seen
) -> Iterator[tuple[str, str]]:
    """Where the specific heat of a node is not what its temperatures ask for."""
    if entry.material is None or seen.steady:
        return
    lowest, highest = seen.lowest[name], seen.highest[name]
    facts = around.shelf.material(entry.material)
    what, curve = f"the specific heat of '{entry.material}'", facts.specific_heat_curve
    if entry.by_temperature and curve is not None:
        if beyond := told_beyond(curve, lowest, highest):
            yield path, f"{what} is known {beyond}: beyond, that near the end of its range is taken"
    elif curve is not None and facts.specific_heat is not None:
        met = np.append(within(np.array([lowest, highest]), curve.x[0], curve.x[-1]), curve.x)
        ratio = curve.value(met[(met >= lowest) & (met <= highest)]) / facts.specific_heat - 1.0
        if len(ratio) and np.abs(ratio).max() > DIFFERENT:
            worst = 100.0 * ratio[np.argmax(np.abs(ratio))]
            met_range = f"{lowest:.1f} to {highest:.1f} K were met"
            taken = f"differs by {worst:+.0f} % from the one near 300 K that is taken"
            yield path, f"{what} {taken}, where {met_range}: say `by_temperature: true`"
    elif "specific_heat" not in facts.stated and (beyond := told_range(ROOM, lowest, highest)):
        yield path, f"{what} is one number known near 300 K, good {beyond}"
    if facts.melts_at is not None and lowest < facts.melts_at < highest:
        passed = f"melts at {facts.melts_at:g} K, which was passed"
        message = f"'{entry.material}' {passed}, and takes up no heat for it: see `melting`"
        yield path, message


class Nodes(Entry):
    """Many nodes from one table, called by its column `name` or else `deck 0`, `deck 1`, ...

    The table is one entry with one path, whatever its length: its `scale` is what cases change.
    """

    table: Annotated[
        Rows,
        columns(
            {
                "name": Column(kind=Words(), description="name of each node", needed=False),
                "capacity": Column(
                    kind=quantity("J/K", at_least=0),
                    description="heat capacity; 0 for a massless node",
                ),
                "initial": Column(
                    kind=temperature(), description="temperature at the start", needed=False
                ),
            },
            named=True,
        ),
    ] = Field(description="a row for each node")
    scale: Annotated[float, number(above=0)] = Field(1.0, description="multiplies the capacities")
    initial: Annotated[float, temperature()] | None = Field(
        None, description="temperature at the start of all, where the table has no such column"
    )
    group: Text = Field("", description="subsystem, for diagrams and tables")
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _one_start(self) -> Nodes:
        if self.initial is not None and "initial" in self.table.numbers:
            raise fault("initial", "the table has a column 'initial'; drop one of the two")
        return self


def initial_of(entry: Nodes) -> Floats | None:
    """First temperatures f8[k] [K] of the nodes of a table, None where none are stated."""
    if entry.initial is not None:
        return np.full(entry.table.count, entry.initial)
    return entry.table.numbers.get("initial")


def expand_table(name: str, entry: Nodes, path: str, around: Surroundings) -> tuple[Part, ...]:
    capacity = entry.table.numbers["capacity"] * entry.scale
    return (NodesPart(names=entry.table.names, capacity=capacity, origin=path),)


KIND = Kind(
    section="nodes",
    entry=Node,
    expand=expand,
    table=Nodes,
    expand_table=expand_table,
    doubts=doubts,
)
