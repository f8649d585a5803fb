"""View factors from the shapes of two faces: what the file says of them."""

from __future__ import annotations

import math
from typing import Annotated

from pydantic import Field, model_validator

from thermnet.physics import view, view_factors
from thermnet.text.fields import Entry, fault, quantity

Length = Annotated[float, quantity("m", above=0)]
Place = Annotated[float, quantity("m")]
Area = Annotated[float, quantity("m^2", above=0)]
Angle = Annotated[float, quantity("deg", above=0, below=180)]
Tilt = Annotated[float, quantity("deg", at_least=0, at_most=180)]

Areas = tuple[float | None, float | None]
"""Areas [m2] of the two faces, as far as a shape gives them."""


class ParallelRectangles(Entry):
    """Two equal rectangles that face each other."""

    width: Length = Field(description="one side of both")
    height: Length = Field(description="other side of both")
    gap: Length = Field(description="distance between them")

    @property
    def factor(self) -> float:
        return view_factors.parallel_rectangles(self.width, self.height, self.gap)

    @property
    def areas(self) -> Areas:
        return self.width * self.height, self.width * self.height


class PerpendicularRectangles(Entry):
    """Two rectangles at a right angle that share an edge."""

    edge: Length = Field(description="length of the edge that they share")
    from_depth: Length = Field(description="how far `from` reaches from the edge")
    to_depth: Length = Field(description="how far `to` reaches from the edge")

    @property
    def factor(self) -> float:
        return view_factors.perpendicular_rectangles(self.edge, self.from_depth, self.to_depth)

    @property
    def areas(self) -> Areas:
        return self.edge * self.from_depth, self.edge * self.to_depth


class CoaxialDiscs(Entry):
    """Two discs on one axis that face each other."""

    from_radius: Length = Field(description="radius of `from`")
    to_radius: Length = Field(description="radius of `to`")
    gap: Length = Field(description="distance between them")

    @property
    def factor(self) -> float:
        return view_factors.coaxial_discs(self.from_radius, self.to_radius, self.gap)

    @property
    def areas(self) -> Areas:
        return math.pi * self.from_radius**2, math.pi * self.to_radius**2


class ConcentricSpheres(Entry):
    """A sphere within another: `from` is the outside of the inner one."""

    inner_radius: Length = Field(description="radius of `from`")
    outer_radius: Length = Field(
        description="radius of `to`, which sees itself with what the inner one leaves"
    )

    @model_validator(mode="after")
    def _outwards(self) -> ConcentricSpheres:
        _outwards(self.inner_radius, self.outer_radius)
        return self

    @property
    def factor(self) -> float:
        return 1.0

    @property
    def areas(self) -> Areas:
        return 4.0 * math.pi * self.inner_radius**2, 4.0 * math.pi * self.outer_radius**2


class CoaxialCylinders(Entry):
    """A long cylinder within another, without their ends: `from` is the outside of the inner."""

    inner_radius: Length = Field(description="radius of `from`")
    outer_radius: Length = Field(
        description="radius of `to`, which sees itself with what the inner one leaves"
    )
    length: Length = Field(description="length of both, long compared with the gap between them")

    @model_validator(mode="after")
    def _outwards(self) -> CoaxialCylinders:
        _outwards(self.inner_radius, self.outer_radius)
        return self

    @property
    def factor(self) -> float:
        return 1.0

    @property
    def areas(self) -> Areas:
        around = 2.0 * math.pi * self.length
        return around * self.inner_radius, around * self.outer_radius


class ParallelPlates(Entry):
    """Two plates so near to each other that they see nothing else."""

    area: Area = Field(description="area of each")

    @property
    def factor(self) -> float:
        return 1.0

    @property
    def areas(self) -> Areas:
        return self.area, self.area


class Wedge(Entry):
    """Two long strips of one width that share an edge."""

    width: Length = Field(description="width of both")
    length: Length = Field(description="length of both, long compared with the width")
    angle: Angle = Field(description="angle between them")

    @property
    def factor(self) -> float:
        return view_factors.wedge(math.radians(self.angle))

    @property
    def areas(self) -> Areas:
        return self.width * self.length, self.width * self.length


class ParallelStrips(Entry):
    """Two long strips of one width that face each other."""

    width: Length = Field(description="width of both")
    length: Length = Field(description="length of both, long compared with width and gap")
    gap: Length = Field(description="distance between them")

    @property
    def factor(self) -> float:
        return view_factors.long_parallel_strips(self.width, self.gap)

    @property
    def areas(self) -> Areas:
        return self.width * self.length, self.width * self.length


class SphereToDisc(Entry):
    """A sphere, `from`, and a disc whose axis goes through its centre."""

    sphere_radius: Length = Field(description="radius of the sphere")
    disc_radius: Length = Field(description="radius of the disc")
    distance: Length = Field(description="of the disc from the centre, beyond the sphere")

    @model_validator(mode="after")
    def _beyond(self) -> SphereToDisc:
        if self.distance < self.sphere_radius:
            raise fault("distance", "lies within the sphere")
        return self

    @property
    def factor(self) -> float:
        return view_factors.sphere_to_disc(self.disc_radius, self.distance)

    @property
    def areas(self) -> Areas:
        return 4.0 * math.pi * self.sphere_radius**2, math.pi * self.disc_radius**2


class PlateToDisc(Entry):
    """A small plate, `from`, and a disc parallel to it on one axis."""

    radius: Length = Field(description="radius of the disc")
    distance: Length = Field(description="between them, long compared with the plate")

    @property
    def factor(self) -> float:
        return view_factors.plate_to_disc(self.radius, self.distance)

    @property
    def areas(self) -> Areas:
        return None, math.pi * self.radius**2


class PlateToRectangle(Entry):
    """A small plate, `from`, and a rectangle parallel to it, by default before its middle."""

    width: Length = Field(description="one side of the rectangle")
    height: Length = Field(description="other side of the rectangle")
    distance: Length = Field(description="between their planes, long compared with the plate")
    across: Place | None = Field(
        None,
        description="where the plate's normal meets the plane: across the width, from a corner",
    )
    along: Place | None = Field(None, description="and along the height, from the same corner")

    @property
    def factor(self) -> float:
        across = self.width / 2.0 if self.across is None else self.across
        along = self.height / 2.0 if self.along is None else self.along
        return view_factors.plate_to_rectangle(
            self.width, self.height, self.distance, across, along
        )

    @property
    def areas(self) -> Areas:
        return None, self.width * self.height


class PlateToSphere(Entry):
    """A small plate, `from`, and a sphere; the plane of the plate may cut it."""

    radius: Length = Field(description="radius of the sphere")
    distance: Length = Field(description="of the plate from the centre of the sphere")
    angle: Tilt = Field(
        0.0, description="between the normal of the plate and the direction of the centre"
    )

    @model_validator(mode="after")
    def _beyond(self) -> PlateToSphere:
        if self.distance < self.radius:
            raise fault("distance", "lies within the sphere")
        return self

    @property
    def factor(self) -> float:
        return float(
            view.plate_to_sphere(self.distance / self.radius, math.cos(math.radians(self.angle)))
        )

    @property
    def areas(self) -> Areas:
        return None, 4.0 * math.pi * self.radius**2


def _outwards(inner: float, outer: float) -> None:
    if not inner < outer:
        raise fault("outer_radius", "must be larger than the inner radius")


ByShape = (
    ParallelRectangles
    | PerpendicularRectangles
    | CoaxialDiscs
    | ConcentricSpheres
    | CoaxialCylinders
    | ParallelPlates
    | ParallelStrips
    | Wedge
    | SphereToDisc
    | PlateToDisc
    | PlateToRectangle
    | PlateToSphere
)
"""A shape: each has the view factor `factor` from the first face to the second, and `areas`."""
