"""Parts: models of their own, such as a supplier's, brought in under a name."""

from __future__ import annotations

from pydantic import Field

from thermnet.model.kinds.kind import Kind
from thermnet.text.fields import Entry, Text
from thermnet.text.parts import Rules


class Part(Entry):
    """Another model file, all of whose things are here by the name `part/name`.

    What belongs to a flight and not to a thing is not brought in: cases, orbits, sites, pointings,
    environments, bodies, timelines, modes and what stands at the top of its file. Its references
    to modes and cases are to those of this model; those that this model does not have are left
    out, and so is a failure whose mode, or each of whose cases, is among them. A boundary that
    this model has under the same name, such as `space`, is this model's. Directions are in the
    axes of this model.
    """

    file: Text = Field(description="model file, in the folder of this one or below")
    note: Text = Field("", description="where it comes from")


RULES = Rules(
    section="parts",
    left=frozenset(
        (
            "cases",
            "orbits",
            "sites",
            "pointings",
            "environments",
            "bodies",
            "timelines",
            "modes",
        )
    ),
    shared=("boundaries",),
    dispensable=frozenset({"failures"}),
    paths={"failures": "set"},
)
"""What parts are in a model file."""

KIND = Kind(section="parts", entry=Part)
