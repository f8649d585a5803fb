"""Exterior surfaces: they radiate to a sink and absorb sunlight, albedo and planet infrared."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from thermnet.model.kinds.directions import Direction, without_length
from thermnet.model.kinds.finish import FINISHES
from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import RADIATION, HeatPart, LinkPart, Part
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.text.fields import Entry, Text, fault, name_of, number, quantity

Fraction = Annotated[float, number(at_least=0, at_most=1)]


class ByAngle(Entry):
    """A fraction that changes through the orbit, in straight lines; it repeats after 360 deg."""

    angle: tuple[Annotated[float, quantity("deg", at_least=0, at_most=360)], ...] = Field(
        description="orbit angles from the start of the case"
    )
    fraction: tuple[Fraction, ...] = Field(description="one fraction for each angle")

    @model_validator(mode="after")
    def _points(self) -> ByAngle:
        if not self.angle:
            raise fault("angle", "needs at least one angle")
        if len(self.angle) != len(self.fraction):
            wanted, found = len(self.angle), len(self.fraction)
            raise fault("fraction", f"needs one for each angle: {wanted}, not {found}")
        for k in range(1, len(self.angle)):
            if self.angle[k] <= self.angle[k - 1]:
                raise fault(f"angle.{k}", "angles must increase")
        whole = self.angle[0] == 0.0 and self.angle[-1] == 360.0
        if whole and self.fraction[0] != self.fraction[-1]:
            message = "0 and 360 deg are the same point of the orbit: give the same fraction"
            raise fault(f"fraction.{len(self.angle) - 1}", message)
        return self


class BySchedule(Entry):
    """A fraction that follows a schedule, such as 0 until a fairing is released and 1 after."""

    schedule: Annotated[str, name_of("schedules")] = Field(description="schedule of the fraction")


Share = Fraction | ByAngle | BySchedule
"""A fraction, constant, by orbit angle, or by a schedule."""


class AbsorbedHeat(Entry):
    """Heat absorbed by a surface: `heat x schedule`."""

    heat: Annotated[float, quantity("W", at_least=0)] = Field(description="absorbed heat")
    schedule: Annotated[str, name_of("schedules")] | None = Field(
        None, description="schedule by which it varies"
    )


class Absorbed(Entry):
    """Absorbed heat by cause, each with the surface's absorptance and area applied already."""

    solar: AbsorbedHeat | None = Field(None, description="direct sunlight")
    albedo: AbsorbedHeat | None = Field(None, description="sunlight reflected by the planet")
    planet_infrared: AbsorbedHeat | None = Field(None, description="infrared of the planet")
    free_molecular: AbsorbedHeat | None = Field(None, description="power of oncoming air")


class Surface(Entry):
    """A surface that radiates to a sink, and absorbs sunlight, albedo and planet infrared.

    What it absorbs is computed from the case's orbit for a surface with a direction, or given.
    """

    node: Annotated[str, name_of("nodes")] = Field(description="node of the surface")
    area: Annotated[float, quantity("m^2", above=0)] = Field(description="area")
    finish: Annotated[str, name_of("finishes", also=FINISHES)] | None = Field(
        None, description="finish that gives absorptance and emittance, by the case's `life`"
    )
    emittance: Annotated[float, number(above=0, at_most=1)] | None = Field(
        None, description="hemispherical infrared emittance; stands above that of the finish"
    )
    absorptance: Annotated[float, number(at_least=0, at_most=1)] | None = Field(
        None, description="solar absorptance; stands above that of the finish"
    )
    shape: Literal["plate", "sphere", "cylinder"] = Field(
        "plate", description="a plate, a whole sphere, or the side of a cylinder"
    )
    normal: Direction | None = Field(
        None, description="outward normal of a plate that is fixed to the body"
    )
    along: Direction | None = Field(None, description="axis of a cylinder")
    follows_sun: Literal["one axis", "two axes"] | None = Field(
        None, description="a plate that turns to the Sun, about one axis or both"
    )
    about: Direction | None = Field(None, description="axis that a one-axis plate turns about")
    side: Literal["front", "back"] = Field(
        "front", description="of a plate that follows the Sun, the side that this is"
    )
    to: Annotated[str, name_of("nodes", "boundaries")] = Field(
        "space", description="sink that it radiates to; with `sees`, which of them is the sky"
    )
    view: Annotated[float, number(above=0, at_most=1)] = Field(
        1.0, description="fraction of its view that the sink fills"
    )
    sees: dict[str, Share] = Field(
        {},
        description="instead of `view`: the fraction that each node or boundary fills, in all 1, "
        "the sky `to` among them, whose fraction scales albedo and planet infrared",
    )
    sunlit: Share = Field(
        1.0, description="share of the surface that direct sunlight, and oncoming air, reaches"
    )
    absorbed: Absorbed = Field(Absorbed(), description="absorbed heat by cause, where it is given")
    convection: Annotated[float, quantity("W/m^2/K", at_least=0)] | None = Field(
        None, description="heat transfer coefficient to a thin atmosphere"
    )
    convection_to: Annotated[str, name_of("nodes", "boundaries")] | None = Field(
        None, description="node or boundary that has the atmosphere's temperature"
    )
    shaded: bool = Field(
        False,
        description="whether it absorbs nothing in an orbit, or only what comes as a load; such a "
        "surface needs no direction",
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _complete(self) -> Surface:
        if self.node in (self.to, *self.sees, self.convection_to):
            key = "to" if self.node == self.to else "sees"
            if self.node == self.convection_to:
                key = "convection_to"
            raise fault(key, f"joins '{self.node}' to itself")
        if self.finish is None and self.emittance is None:
            raise fault("emittance", "missing key 'emittance': give it, or a 'finish'")
        self._direction()
        if (self.convection is None) != (self.convection_to is None):
            missing = "convection" if self.convection is None else "convection_to"
            raise fault(missing, f"missing key '{missing}': coefficient and atmosphere go together")
        if self.faces_out:
            if self.shaded:
                raise fault("shaded", "a surface with a direction absorbs; drop one of the two")
            if self.finish is None and self.absorptance is None:
                raise fault("absorptance", "missing key 'absorptance': give it, or a 'finish'")
            for cause in Absorbed.model_fields:
                if getattr(self.absorbed, cause) is not None:
                    message = "is computed from the direction of the surface; drop one of the two"
                    raise fault(f"absorbed.{cause}", message)
        return self

    def _direction(self) -> None:
        """Exactly the keys that the shape needs."""
        needs = {"sphere": (), "cylinder": ("along",), "plate": ("normal",)}[self.shape]
        if self.follows_sun is not None:
            if self.shape != "plate":
                raise fault("follows_sun", f"a {self.shape} has no side to turn to the Sun")
            needs = ("about",) if self.follows_sun == "one axis" else ()
        for key in ("normal", "along", "about"):
            there = getattr(self, key) is not None
            if there and key not in needs:
                what = "a plate that follows the Sun" if self.follows_sun else f"a {self.shape}"
                if self.follows_sun == "two axes":
                    what = "a plate that follows the Sun about two axes"
                raise fault(key, f"{what} has no '{key}'")
            if not there and key in needs and (key != "normal"):
                raise fault(key, f"missing key '{key}'")
            without_length(key, getattr(self, key))
        if self.side == "back" and self.follows_sun is None:
            raise fault("side", "belongs to a plate that follows the Sun; give another 'normal'")
        self._fractions()

    def _fractions(self) -> None:
        if not self.sees:
            return
        if "view" in self.model_fields_set:
            raise fault("view", "is stated by 'sees' already")
        constant = [each for each in self.sees.values() if isinstance(each, float)]
        total = sum(constant)
        if len(constant) == len(self.sees) and abs(total - 1.0) > 1e-6:
            raise fault("sees", f"the fractions sum to {total:g}, not to 1")

    @property
    def faces_out(self) -> bool:
        """Whether it has a direction, from which an orbit's heat can be computed."""
        turned = self.normal is not None or self.follows_sun is not None
        return turned or self.shape != "plate"

    @property
    def silent(self) -> bool:
        """Whether nothing says what it absorbs in an orbit."""
        given = any(getattr(self.absorbed, cause) is not None for cause in Absorbed.model_fields)
        return not (self.faces_out or self.shaded or given)

    @property
    def fractions(self) -> dict[str, Share]:
        """What it sees by name, the sky first."""
        if not self.sees:
            return {self.to: self.view}
        return {self.to: self.sees[self.to]} | self.sees


def expand(name: str, entry: Surface, path: str, around: Surroundings) -> tuple[Part, ...]:
    outside = around.exterior[name]
    parts: list[Part] = [
        LinkPart(
            a=entry.node,
            b=seen,
            strength=STEFAN_BOLTZMANN * entry.area * outside.emittance * share.amplitude,
            potential=RADIATION,
            history=share.history,
            origin=path,
        )
        for seen, share in outside.fractions.items()
    ]
    if entry.convection is not None and entry.convection_to is not None:
        conductance = entry.convection * entry.area
        parts.append(
            LinkPart(a=entry.node, b=entry.convection_to, strength=conductance, origin=path)
        )
    for cause in Absorbed.model_fields:
        absorbed: AbsorbedHeat | None = getattr(entry.absorbed, cause)
        if absorbed is not None:
            factor, history = around.factor(absorbed.schedule)
            parts.append(
                HeatPart(
                    node=entry.node,
                    amplitude=absorbed.heat * factor,
                    history=history,
                    origin=f"{path}.absorbed.{cause}",
                )
            )
    for cause, heat in outside.heat.items():
        parts.append(
            HeatPart(
                node=entry.node,
                amplitude=heat.amplitude,
                history=heat.history,
                origin=f"{path}.absorbed.{cause}",
            )
        )
    return tuple(parts)


KIND = Kind(section="surfaces", entry=Surface, expand=expand)
