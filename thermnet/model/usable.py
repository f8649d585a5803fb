"""All that is judged: the components of a model, and the materials that its blankets are made of.

A material must stay within the temperatures that it may be used at. It is judged as a component is
that has this one band, named after its blanket: every study and figure that asks for margins takes
it along.
"""

from __future__ import annotations

from collections.abc import Iterator

from thermnet.errors import InputError, Problem
from thermnet.model.kinds.blanket_entry import Blanket
from thermnet.model.kinds.component import Component, Window
from thermnet.model.kinds.louver import Louver
from thermnet.model.kinds.material import (
    PLACES,
    MadeOf,
    Material,
    material,
    usable_between,
)
from thermnet.model.kinds.sunshield import Sunshield
from thermnet.model.kinds.surface import Surface
from thermnet.model.model import Model
from thermnet.model.surfaces import surfaces_of

BAND = "usable"
"""Name of the band of a material."""

GROUP = "blankets"
"""The group that materials are listed under."""

ALWAYS = (0.0, 1e300)
"""Window [s] that no case leaves."""

BOTH_FACES = ("layers", "separators")
"""What lies between both faces of a blanket, and is held against the worse of them."""

SINK = str(Surface.model_fields["to"].default)
"""The sink that is seen where nothing else is said: no face of a blanket."""


def components(model: Model) -> dict[str, Component]:
    """All that is judged, by name: the components in the order of the file, then the materials.

    Raises InputError where materials are wrong, as `usable` does.
    """
    return model.entries(Component, "components") | usable(model)


def usable(model: Model) -> dict[str, Component]:
    """The materials that blankets say they are made of, as components named after their blanket.

    Outer layer and cover are held against the outer face, layers and separators against both faces.
    A face whose temperature is imposed is judged like any other. A sink is no face: what would be
    held against one is not judged at all (see `unjudged`), for what is left out of it could be what
    it fails by. Raises InputError for what `problems_of_materials` finds.
    """
    found, problems = _found(model)
    if problems:
        raise InputError(model.located(problems))
    return found


def problems_of_materials(model: Model) -> tuple[Problem, ...]:
    """What is wrong with the materials of blankets in a model with its case applied.

    They may be unknown, lack a temperature, or be judged under a name that a component has.
    """
    return tuple(_found(model)[1])


def unjudged(model: Model) -> Iterator[Problem]:
    """A warning for each material of a blanket that leads to a sink, which is no face of it."""
    away = sinks(model)
    for blanket, entry in model.entries(Blanket, "blankets").items():
        for key, _, _ in _made_of(entry):
            for face in away.intersection(_faces(entry, key)):
                message = (
                    f"is not judged: '{face}' is what surfaces see and no face of the blanket; "
                    "join the blanket to a node of its own that sees it"
                )
                path = f"blankets.{blanket}.made_of.{key}"
                yield Problem(message=message, path=path, severity="warning")


def sinks(model: Model) -> frozenset[str]:
    """The boundaries that surfaces or the open edges of sunshields see, and deep space."""
    seen = {SINK}
    for surface in surfaces_of(model).values():
        seen |= {surface.to, *surface.sees}
    seen |= {louver.to for louver in model.entries(Louver, "louvers").values()}
    seen |= {shield.to for shield in model.entries(Sunshield, "sunshields").values()}
    return frozenset(seen.intersection(model.sections["boundaries"]))


def _found(model: Model) -> tuple[dict[str, Component], list[Problem]]:
    """The materials as components, and what is wrong with others."""
    entries = model.entries(Material, "materials")
    own, away = model.sections["components"], sinks(model)
    found: dict[str, Component] = {}
    problems: list[Problem] = []
    for blanket, entry in model.entries(Blanket, "blankets").items():
        for key, made_of, chosen in _made_of(entry):
            path = f"blankets.{blanket}.made_of.{key}"
            name = f"{blanket} blanket, {PLACES[key]}"
            try:
                facts = material(chosen, entries)
                lowest, highest = usable_between(facts)
            except ValueError as error:
                if chosen in entries:  # its own entry is to be put right
                    path = f"materials.{chosen}"
                problems.append(Problem(message=str(error), path=path))
                continue
            nodes = _faces(entry, key)
            if name in own:
                message = f"is judged under the name '{name}', which a component has: rename that"
                problems.append(Problem(message=message, path=path))
            elif away.isdisjoint(nodes):
                if made_of.short_time and facts.highest_short is not None:
                    highest = facts.highest_short
                found[name] = _judged(nodes, (lowest, highest), f"{chosen}: {facts.source}")
    return found, problems


def _made_of(entry: Blanket) -> Iterator[tuple[str, MadeOf, str]]:
    """What a blanket is made of, material by material: the key, all of it, and the material."""
    if entry.made_of is not None:
        for key in PLACES:
            chosen = getattr(entry.made_of, key)
            if chosen is not None:
                yield key, entry.made_of, chosen


def _faces(entry: Blanket, key: str) -> tuple[str, ...]:
    """The nodes and boundaries that a material is held against."""
    return (entry.from_, entry.to) if key in BOTH_FACES else (entry.to,)


def _judged(nodes: tuple[str, ...], band: tuple[float, float], note: str) -> Component:
    # Not validated again: what it is made from was, and names of nodes need no look-up.
    window = Window.model_construct(band=band, from_=ALWAYS[0], to=ALWAYS[1])
    return Component.model_construct(at=nodes, group=GROUP, windows={BAND: window}, note=note)
