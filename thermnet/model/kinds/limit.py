"""Limits on more than the temperature of one item, which hold in every case."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from thermnet.model.kinds.kind import Kind
from thermnet.text.fields import Entry, Text, difference, fault, name_of, quantity

Conduction = Annotated[str, name_of("links")]
End = Annotated[str, name_of("nodes", "boundaries")]
Apart = Annotated[float, difference(above=0)]

BOUNDS = {
    "through": ("least", "most"),
    "interface": ("least", "most"),
    "energy_in_shadow": ("heaters",),
    "between": ("difference",),
    "node": ("rate",),
}
"""What one entry may limit, and the keys that bound it."""

NEEDED = {
    "through": ("most", "the heat flow through the links needs 'least', 'most' or both"),
    "interface": ("most", "the heat flow through the interface needs 'least', 'most' or both"),
    "between": ("difference", "the largest difference that is allowed"),
    "node": ("rate", "the largest rate of change that is allowed"),
}
"""The key that something limited cannot do without, and why."""


class Limit(Entry):
    """A limit on one heat flow, heater energy, temperature difference or rate of change.

    Exactly one of `through`, `interface`, `energy_in_shadow`, `between` and `node` is given. With
    `most` alone a heat flow is limited both ways; with `least` its sign counts.
    """

    through: Conduction | tuple[Conduction, ...] | None = Field(
        None,
        description="links whose heat flow is limited, all together; positive from `from` to `to`",
    )
    interface: Annotated[str, name_of("interfaces")] | None = Field(
        None, description="interface whose heat flow into its part is limited"
    )
    least: Annotated[float, quantity("W")] | None = Field(None, description="least heat flow")
    most: Annotated[float, quantity("W")] | None = Field(None, description="largest heat flow")
    energy_in_shadow: Annotated[float, quantity("J", at_least=0)] | None = Field(
        None, description="largest energy of heaters in one passage through the shadow"
    )
    heaters: tuple[Annotated[str, name_of("heaters")], ...] = Field(
        (), description="heaters of `energy_in_shadow`; by default all, or all of its part"
    )
    between: tuple[End, End] | None = Field(
        None, description="two nodes whose temperature difference is limited, either way"
    )
    difference: Apart | None = Field(None, description="largest difference of the two")
    node: Annotated[str, name_of("nodes")] | None = Field(
        None, description="node whose rate of change is limited, either way"
    )
    rate: Annotated[float, quantity("K/s", above=0)] | None = Field(
        None, description="largest rate of change"
    )
    when: Annotated[str, name_of("schedules")] | None = Field(
        None, description="schedule above zero while the limit holds; by default it always does"
    )
    group: Text = Field("", description="subsystem")
    note: Text = Field("", description="where the limit comes from")

    @model_validator(mode="after")
    def _one_thing(self) -> Limit:
        given = [key for key in BOUNDS if getattr(self, key) is not None]
        if not given:
            raise fault(
                "most" if self.most is not None else "",
                "must say what it limits: give 'through' links, an 'interface', "
                "'energy_in_shadow', 'between' two nodes or a 'node'",
            )
        if len(given) > 1:
            raise fault(
                given[1],
                f"one entry limits one thing, here '{given[0]}' already: make it a second limit",
            )
        for subject, bounds in BOUNDS.items():
            for key in bounds:
                if subject != given[0] and key not in BOUNDS[given[0]] and self._has(key):
                    raise fault(key, f"does not go with '{given[0]}', but with '{subject}'")
        key, why = NEEDED.get(given[0], ("", ""))
        if key and not any(self._has(each) for each in BOUNDS[given[0]]):
            raise fault(key, f"missing key '{key}': {why}")
        return self

    @model_validator(mode="after")
    def _sound(self) -> Limit:
        if self.through == ():
            raise fault("through", "a limit needs at least one link")
        if len(set(self.links)) < len(self.links):
            raise fault("through", "names a link twice, whose heat would count twice")
        if self.between is not None and self.between[0] == self.between[1]:
            raise fault("between.1", f"'{self.between[1]}' never differs from itself")
        if self.least is None and self.most is not None and self.most <= 0.0:
            raise fault("most", "must be above 0 W where no 'least' is given: it limits both ways")
        if self.least is not None and self.most is not None and self.least >= self.most:
            raise fault("most", "the limits are reversed: 'most' must lie above 'least'")
        if self.energy_in_shadow is not None and self.when is not None:
            raise fault("when", "does not go with 'energy_in_shadow', which counts in shadow only")
        return self

    def _has(self, key: str) -> bool:
        return getattr(self, key) not in (None, ())

    @property
    def links(self) -> tuple[str, ...]:
        """The links whose heat flow is limited."""
        return (self.through,) if isinstance(self.through, str) else self.through or ()


def of_part(entry: Limit, heaters: tuple[str, ...]) -> Limit:
    """A limit of a part within its host: without names it counts the `heaters` of the part.

    Raises ValueError with a sentence where the part has none: then there is nothing to limit.
    """
    if entry.energy_in_shadow is None or entry.heaters:
        return entry
    if not heaters:
        raise ValueError(
            "limits the energy of heaters, and the part has none; the heaters of the model that "
            "it is a part of do not count: state the limit there, with the names of its heaters"
        )
    return entry.model_copy(update={"heaters": heaters})


KIND = Kind(section="limits", entry=Limit)
