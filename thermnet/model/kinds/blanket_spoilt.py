"""What spoils a blanket: seams, things that go through it, and openings."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from thermnet.text.fields import Entry, Text, count, fault, name_of, number, quantity

Share = Annotated[float, number(above=0, below=1)]
HowMany = Annotated[int, count(at_least=1)]
Emittance = Annotated[float, number(above=0, at_most=1)]


class Seam(Entry):
    """A seam or an edge, by its length: by a conductance, an open line, or an overlap."""

    length: Annotated[float, quantity("m", above=0)] = Field(description="length of all of it")
    conductance: Annotated[float, quantity("W/m/K", above=0)] | None = Field(
        None, description="heat flow for each metre and kelvin"
    )
    width: Annotated[float, quantity("m", above=0)] | None = Field(
        None,
        description="instead: width of the open line, by which the covered surface shines out",
    )
    emittance: Emittance = Field(1.0, description="of the covered surface in the open line")
    to: Annotated[str, name_of("nodes", "boundaries")] | None = Field(
        None,
        description="what the covered surface sees through the open line, as `space`; by default "
        "the outer face, as where a flap covers the line",
    )
    overlap: Annotated[float, quantity("m", above=0)] | None = Field(
        None,
        description="instead, with `sheet_conductance`: how far the layers of both sides overlap, "
        "along which they lead the heat (an estimate)",
    )
    sheet_conductance: Annotated[float, quantity("W/K", above=0)] | None = Field(
        None, description="conductivity times thickness of all layers together"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _one_way(self) -> Seam:
        ways = [key for key in ("conductance", "width", "overlap") if getattr(self, key)]
        if not ways:
            raise fault(
                "conductance",
                "missing key 'conductance', 'width', or 'overlap' and 'sheet_conductance': a seam "
                "states one of them",
            )
        if len(ways) > 1:
            raise fault(ways[1], f"given beside '{ways[0]}': a seam lets heat through in one way")
        if self.overlap is not None and self.sheet_conductance is None:
            raise fault("sheet_conductance", "missing key 'sheet_conductance': goes with 'overlap'")
        if self.overlap is None and self.sheet_conductance is not None:
            raise fault("sheet_conductance", "goes with 'overlap', which is not given")
        if self.width is None and self.emittance != 1.0:
            raise fault("emittance", "goes with 'width', which is not given")
        if self.width is None and self.to is not None:
            raise fault("to", "goes with 'width', which is not given")
        return self


class Fixing(Entry):
    """Stitches, pins, fasteners, stand-offs, cables: things that lead heat through a blanket."""

    count: HowMany = Field(1, description="how many")
    conductance: Annotated[float, quantity("W/K", above=0)] | None = Field(
        None, description="of each"
    )
    conductivity: Annotated[float, quantity("W/m/K", above=0)] | None = Field(
        None, description="instead, with `section` and `length`: of its material"
    )
    section: Annotated[float, quantity("m^2", above=0)] | None = Field(
        None, description="area of its cross-section"
    )
    length: Annotated[float, quantity("m", above=0)] | None = Field(
        None, description="length that the heat goes through"
    )
    to: Annotated[str, name_of("nodes", "boundaries")] | None = Field(
        None, description="where it leads to; by default the outer face"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _one_way(self) -> Fixing:
        rod = ("conductivity", "section", "length")
        given = [key for key in rod if getattr(self, key) is not None]
        if self.conductance is not None and given:
            raise fault(given[0], "given beside 'conductance': a fixing states one of them")
        if self.conductance is None and not given:
            raise fault(
                "conductance",
                "missing key 'conductance', or 'conductivity', 'section' and 'length'",
            )
        if given and len(given) < len(rod):
            lacking = next(key for key in rod if key not in given)
            raise fault(lacking, f"missing key '{lacking}': goes with '{given[0]}'")
        return self

    @property
    def of_each(self) -> float:
        """Conductance [W/K] of one."""
        if self.conductivity is None or self.section is None or self.length is None:
            return self.conductance or 0.0
        return self.conductivity * self.section / self.length


class Opening(Entry):
    """A bare patch or a gap, through which the covered surface shines out past the blanket."""

    area: Annotated[float, quantity("m^2", above=0)] | None = Field(None, description="area")
    share: Share | None = Field(None, description="instead: share of the covered area")
    emittance: Emittance = Field(1.0, description="of the covered surface there")
    to: Annotated[str, name_of("nodes", "boundaries")] = Field(
        "space", description="what it sees through it"
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _one_size(self) -> Opening:
        if self.area is None and self.share is None:
            raise fault("area", "missing key 'area', or 'share' of the covered area")
        if self.area is not None and self.share is not None:
            raise fault("share", "given beside 'area': an opening states one of them")
        return self
