"""Exterior surfaces: they radiate to a sink and absorb sunlight, albedo and planet infrared."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field, model_validator

from thermnet.model.driven import Driven, product
from thermnet.model.kinds.directions import Direction, without_length
from thermnet.model.kinds.finish import FINISHES
from thermnet.model.kinds.kind import Exterior, Kind, Surroundings
from thermnet.network.parts import RADIATION, HeatPart, History, LinkPart, Part
from thermnet.physics.cells import efficiency_curve
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.text.fields import Entry, Text, fault, name_of, number, quantity, temperature

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


class Cells(Entry):
    """Solar cells on a surface: they turn some of the direct sunlight on it into power.

    That power is heat no longer; albedo and what the planet sends give none, a cautious choice for
    power. The absorptance of the surface is that with no power drawn.
    """

    efficiency: Annotated[float, number(above=0, below=1)] = Field(
        description="share of the sunlight on the cells that they give, at the temperature `at`"
    )
    at: Annotated[float, temperature()] = Field(
        301.15, description="temperature of that efficiency; 28 degC unless stated"
    )
    efficiency_slope: Annotated[float, quantity("1/K", at_most=0)] = Field(
        0.0,
        description="change of the efficiency, as a number and not as a share of itself, for each "
        "kelvin above that temperature, by the temperature of the node",
    )
    packing: Annotated[float, number(above=0, at_most=1)] = Field(
        1.0, description="share of the area that is cells"
    )
    drawn: Annotated[str, name_of("schedules")] | None = Field(
        None,
        description="schedule (0 to 1) of the share of the power that is drawn, in a steady case "
        "by its mean; all of it unless stated. A battery says so for the surfaces that it lists",
    )


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
    sees: dict[Annotated[str, name_of("nodes", "boundaries")], Share] = Field(
        {},
        description="instead of `view`: the fraction that each node or boundary fills, in all 1, "
        "the sky `to` among them, whose fraction scales albedo and planet infrared",
    )
    sunlit: Share = Field(
        1.0, description="share of the surface that direct sunlight, and oncoming air, reaches"
    )
    absorbed: Absorbed = Field(Absorbed(), description="absorbed heat by cause, where it is given")
    cells: Cells | None = Field(
        None, description="solar cells, whose power leaves the absorbed sunlight"
    )
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
        if self.cells is not None and not self.faces_out:
            if self.absorbed.solar is None:
                raise fault("cells", "nothing says what sunlight they absorb: give a direction")
            if self.absorptance is None:
                message = "missing key 'absorptance': by it the sunlight that is absorbed is known"
                raise fault("absorptance", message)
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
            strength=STEFAN_BOLTZMANN * outside.area * outside.emittance * share.amplitude,
            potential=RADIATION,
            history=share.history,
            origin=path,
        )
        for seen, share in outside.fractions.items()
    ]
    if entry.convection is not None and entry.convection_to is not None:
        conductance = entry.convection * outside.area
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
                    amplitude=absorbed.heat * outside.efficiency * factor,
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
    return (*parts, *_cells(entry, path, around, outside))


def _cells(
    entry: Surface, path: str, around: Surroundings, outside: Exterior
) -> Iterator[HeatPart]:
    """What solar cells take out of the heat: a share of the sunlight, and a stated power.

    Raises ValueError for cells that would give more than is absorbed.
    """
    cells = entry.cells
    if cells is None:
        return
    sunlight = outside.heat.get("solar")
    if entry.absorbed.solar is not None:
        factor, history = around.factor(entry.absorbed.solar.schedule)
        sunlight = Driven(amplitude=entry.absorbed.solar.heat * factor, history=history)
    most = outside.absorptance / cells.packing
    if cells.efficiency > most:
        raise ValueError(
            f"its cells would give {cells.efficiency * cells.packing:.3g} of the sunlight "
            f"(efficiency x packing) of which only {outside.absorptance:.3g} is absorbed"
        )
    path = f"{path}.cells"
    share, drawn = Driven(amplitude=1.0), around.drawn.get(path)
    if drawn is not None:
        share = constant_or_history(drawn.charging)
        demand = constant_or_history(drawn.demand)
        yield HeatPart(
            node=entry.node, amplitude=-demand.amplitude, history=demand.history, origin=path
        )
    elif cells.drawn is not None:
        amplitude, history = around.factor(cells.drawn)
        share = Driven(amplitude=amplitude, history=history)
        values = [amplitude] if history is None else history.value.tolist()
        if not all(0.0 <= value <= 1.0 for value in values):
            raise ValueError(
                f"schedule '{cells.drawn}' says what share of the power is drawn: its values must "
                "be from 0 to 1"
            )
    if sunlight is None:
        return
    given = product(sunlight, share) if outside.drawn_from is None else outside.drawn_from
    curve = efficiency_curve(cells.efficiency, cells.at, cells.efficiency_slope, most)
    yield HeatPart(
        node=entry.node,
        amplitude=-given.amplitude * cells.efficiency / most,
        history=given.history,
        curve=curve,
        sensor=entry.node if curve is not None else "",
        origin=path,
    )


def constant_or_history(history: History) -> Driven:
    """A history as it is multiplied; one of a single instant is constant."""
    if len(history.time) == 1:
        return Driven(amplitude=float(history.value[0]))
    return Driven(amplitude=1.0, history=history)


KIND = Kind(section="surfaces", entry=Surface, expand=expand)
