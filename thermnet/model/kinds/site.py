"""Sites: a place on the surface of a body, through one of its days."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from thermnet.model.kinds.body import BODIES
from thermnet.model.kinds.kind import Kind
from thermnet.text.fields import Entry, Text, name_of, number, quantity


class Site(Entry):
    """A place on a flat ground. Time begins at noon there; a repeating case lasts a solar day.

    The body's axes are +x east, +y north and +z up unless the case names a pointing.
    """

    body: Annotated[str, name_of("bodies", also=BODIES)] = Field(description="body it lies on")
    latitude: Annotated[float, quantity("deg", at_least=-90, at_most=90)] = Field(
        description="latitude, north positive"
    )
    declination: Annotated[float, quantity("deg", above=-90, below=90)] = Field(
        0.0, description="how far the Sun stands north of the body's equator (its season)"
    )
    ground: Annotated[str, name_of("boundaries", "nodes")] = Field(
        description="boundary or node that has the ground's temperature, perhaps by a schedule"
    )
    reflectance: Annotated[float, number(at_least=0, at_most=1)] | None = Field(
        None, description="share of sunlight that the ground reflects; by default the albedo"
    )
    ground_emittance: Annotated[float, number(above=0, at_most=1)] = Field(
        0.95, description="infrared emittance of the ground, on which its temperature acts"
    )
    transmittance: Annotated[float, number(above=0, at_most=1)] = Field(
        1.0, description="share of direct sunlight that an atmosphere lets through"
    )
    note: Text = Field("", description="where the numbers come from")


KIND = Kind(section="sites", entry=Site)
