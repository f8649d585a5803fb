"""What the file may say of an enclosure: faces, and how they see each other."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds import views
from thermnet.model.kinds.finish import FINISHES
from thermnet.text.fields import Entry, Text, fault, name_of, number, quantity
from thermnet.text.rows import Column, Rows, columns

Area = Annotated[float, quantity("m^2", above=0)]
Length = Annotated[float, quantity("m", above=0)]
Emittance = Annotated[float, number(above=0, at_most=1)]
Factor = Annotated[float, number(at_least=0, at_most=1)]

SHAPES = (
    "parallel_rectangles",
    "perpendicular_rectangles",
    "coaxial_discs",
    "concentric_spheres",
    "coaxial_cylinders",
    "parallel_plates",
    "parallel_strips",
    "wedge",
    "sphere_to_disc",
    "plate_to_disc",
    "plate_to_rectangle",
    "plate_to_sphere",
)
"""The keys of a view that give its factor by the shapes of the two faces."""

BOX = ("floor", "ceiling", "front", "back", "left", "right")
"""The faces of a box: opposite pairs follow each other."""

SAME = 0.01
"""Relative difference between an area and that of a shape at which one of the two is wrong."""


class Face(Entry):
    """One face: gray, diffuse, of one temperature."""

    node: Annotated[str, name_of("nodes", "boundaries")] | None = Field(
        None, description="node that has its temperature; none for a re-radiating face"
    )
    area: Area | None = Field(None, description="area; of a face of a `box` it is known")
    emittance: Emittance | None = Field(None, description="hemispherical infrared emittance")
    finish: Annotated[str, name_of("finishes", also=FINISHES)] | None = Field(
        None, description="instead: finish that gives the emittance, by the case's `life`"
    )
    opening: bool = Field(
        False,
        description="true for an opening to what `node` stands for, such as `space`: it is black",
    )
    reradiating: bool = Field(
        False, description="true for a face that gives back all that it receives, as if insulated"
    )

    @model_validator(mode="after")
    def _one_way(self) -> Face:
        ways = [key for key in ("emittance", "finish") if getattr(self, key) is not None]
        ways += [key for key in ("opening", "reradiating") if getattr(self, key)]
        if not ways:
            raise fault("emittance", "missing key 'emittance': give it, or a 'finish'")
        if len(ways) > 1:
            raise fault(ways[1], f"'{ways[0]}' says what the face is: drop one of the two")
        if self.reradiating and self.node is not None:
            raise fault("node", "a re-radiating face takes its own temperature, and has no node")
        if not self.reradiating and self.node is None:
            raise fault("node", "missing key 'node', unless the face is `reradiating: true`")
        return self


class View(Entry):
    """How one face sees another: the view factor, or two shapes that give it."""

    from_: Text = Field(description="face that looks")
    to: Text = Field(description="face that it sees; itself for one that is hollow")
    factor: Factor | None = Field(None, description="view factor from the one to the other")
    parallel_rectangles: views.ParallelRectangles | None = Field(
        None, description="two equal rectangles that face each other"
    )
    perpendicular_rectangles: views.PerpendicularRectangles | None = Field(
        None, description="two rectangles at a right angle that share an edge"
    )
    coaxial_discs: views.CoaxialDiscs | None = Field(
        None, description="two discs on one axis that face each other"
    )
    concentric_spheres: views.ConcentricSpheres | None = Field(
        None, description="a sphere within another"
    )
    coaxial_cylinders: views.CoaxialCylinders | None = Field(
        None, description="a long cylinder within another"
    )
    parallel_plates: views.ParallelPlates | None = Field(
        None, description="two plates so near that they see nothing else"
    )
    parallel_strips: views.ParallelStrips | None = Field(
        None, description="two long strips that face each other"
    )
    wedge: views.Wedge | None = Field(None, description="two long strips that share an edge")
    sphere_to_disc: views.SphereToDisc | None = Field(
        None, description="a sphere and a disc before it"
    )
    plate_to_disc: views.PlateToDisc | None = Field(
        None, description="a small plate and a disc before it"
    )
    plate_to_rectangle: views.PlateToRectangle | None = Field(
        None, description="a small plate and a rectangle parallel to it"
    )
    plate_to_sphere: views.PlateToSphere | None = Field(
        None, description="a small plate and a sphere"
    )

    @model_validator(mode="after")
    def _one_way(self) -> View:
        ways = [key for key in ("factor", *SHAPES) if getattr(self, key) is not None]
        if not ways:
            raise fault("factor", "missing key 'factor': give it, or one of the shapes")
        if len(ways) > 1:
            raise fault(ways[1], f"'{ways[0]}' gives the view factor: drop one of the two")
        return self

    @property
    def shape(self) -> tuple[str, views.ByShape | None]:
        """The key of the shape with what stands under it, None where the factor is stated."""
        for key in SHAPES:
            if (shape := getattr(self, key)) is not None:
                return key, shape
        return "", None

    @property
    def value(self) -> float:
        """The view factor."""
        _, shape = self.shape
        return shape.factor if shape is not None else self.factor or 0.0

    @property
    def around(self) -> bool:
        """Whether the face `to` lies all around the other, and so sees itself with what is left."""
        return self.concentric_spheres is not None or self.coaxial_cylinders is not None


class Box(Entry):
    """The inside of a box of six faces: floor, ceiling, front, back, left and right."""

    length: Length = Field(description="from the left face to the right one")
    width: Length = Field(description="from the front face to the back one")
    height: Length = Field(description="from the floor to the ceiling")


class Enclosure(Entry):
    """Faces that see each other, and exchange heat by emission and all reflections.

    Faces are gray and diffuse, and leave and receive the same all over. A view that is stated one
    way counts for both. What faces lack of closure, they look at nothing with: it takes part in no
    exchange, and is warned of.
    """

    faces: dict[str, Face] = Field(description="the faces by name")
    views: dict[str, View] = Field({}, description="how they see each other, under any names")
    box: Box | None = Field(None, description="instead of `views`: the inside of a box")
    rest: Text | None = Field(
        None,
        description="face that all others see with what their views leave; the rest of its own "
        "view falls on itself",
    )
    repair: bool = Field(
        False, description="true to scale the views until all close and are alike both ways"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _complete(self) -> Enclosure:
        if self.box is not None:
            self._boxed(self.box)
        elif len(self.faces) < 2:
            raise fault("faces", "an enclosure needs two faces or more")
        elif not self.views and self.rest is None:
            raise fault("views", "missing key 'views': say how the faces see each other")
        for name, face in self.faces.items():
            if face.area is None and self.box is None:
                raise fault(f"faces.{name}.area", "missing key 'area' [m^2]")
        if self.rest is not None and self.rest not in self.faces:
            raise fault("rest", f"there is no face '{self.rest}'")
        self._known_views()
        return self

    def _boxed(self, box: Box) -> None:
        if self.views or self.rest is not None or self.repair:
            key = "views" if self.views else "rest" if self.rest is not None else "repair"
            raise fault(key, "a box knows how its faces see each other: drop one of the two")
        for name in self.faces:
            if name not in BOX:
                raise fault(f"faces.{name}", f"a box has the faces {', '.join(BOX)}")
        for name, area in zip(BOX, self._of_box(box), strict=True):
            if name not in self.faces:
                raise fault("faces", f"missing face '{name}' of the box")
            _same(f"faces.{name}.area", self.faces[name].area, area)

    def _of_box(self, box: Box) -> tuple[float, ...]:
        level, facing = box.length * box.width, box.length * box.height
        beside = box.width * box.height
        return (level, level, facing, facing, beside, beside)

    def _known_views(self) -> None:
        seen: dict[tuple[str, str], str] = {}
        for name, view in self.views.items():
            for key, end in (("from", view.from_), ("to", view.to)):
                if end not in self.faces:
                    raise fault(f"views.{name}.{key}", f"there is no face '{end}'")
            first = seen.setdefault((view.from_, view.to), name)
            if first != name:
                raise fault(f"views.{name}", f"'{first}' says how '{view.from_}' sees that already")
            key, shape = view.shape
            if shape is None:
                continue
            if view.from_ == view.to:
                raise fault(f"views.{name}.to", "a shape is of two faces")
            for end, area in zip((view.from_, view.to), shape.areas, strict=True):
                if area is not None:
                    _same(f"views.{name}.{key}", self.faces[end].area, area, f" of face '{end}'")

    @property
    def areas(self) -> dict[str, float]:
        """Area [m2] of each face."""
        if self.box is not None:
            return dict(zip(BOX, self._of_box(self.box), strict=True))
        return {name: face.area or 0.0 for name, face in self.faces.items()}


def _same(key: str, stated: float | None, shape: float, of: str = "") -> None:
    if stated is not None and abs(stated - shape) > SAME * shape:
        message = f"the area{of} is {stated:.4g} m2, that of the shape is {shape:.4g} m2"
        raise fault(key, message)


class Enclosures(Entry):
    """An enclosure of many faces, all of them in one table and their view factors in another.

    The table is one entry with one path, whatever its length.
    """

    table: Annotated[
        Rows,
        columns(
            {
                "from": Column(kind=name_of("faces"), description="face that looks"),
                "to": Column(kind=name_of("faces"), description="face that it sees"),
                "factor": Column(
                    kind=number(at_least=0, at_most=1),
                    description="view factor from the one to the other; one way counts for both",
                ),
            },
            counted="faces",
        ),
    ] = Field(description="a row for each pair that sees each other; ends are names, or whole "
              "numbers from 0 that count rows")  # fmt: skip
    faces: Annotated[str, name_of("face tables")] = Field(description="table of its faces")
    repair: bool = Field(
        False, description="true to scale the views until all close and are alike both ways"
    )
    note: Text = Field("", description="where the numbers come from")
