"""A conductivity that an entry states itself, or by the material that it names."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import numpy as np

from thermnet.model.kinds.properties import ROOM, told_beyond, told_range
from thermnet.physics.curves import Curve
from thermnet.physics.material import MaterialFacts
from thermnet.text.fields import fault

Known = Callable[[str], MaterialFacts]
"""The facts of a material by its name."""


class Conducting(Protocol):
    """An entry with the keys `material` and `conductivity`, of which it states one."""

    @property
    def material(self) -> str | None: ...
    @property
    def conductivity(self) -> float | None: ...


def check_one(material: object, conductivity: object) -> None:
    """Raise a fault unless exactly one of the two keys is stated."""
    if material is None and conductivity is None:
        raise fault("material", "missing key 'material': name it, or state the 'conductivity'")
    if material is not None and conductivity is not None:
        raise fault("conductivity", "is that of the material already: drop one of the two")


def of_material(name: str, known: Known) -> float | Curve:
    """Conductivity [W/m/K] of a material, over temperature where it is known so.

    Raises ValueError for a material whose conductivity is not known.
    """
    facts = known(name)
    if facts.conductivity_curve is not None:
        return facts.conductivity_curve
    if facts.conductivity is None:
        raise ValueError(
            f"the conductivity of '{facts.name}' is not known: state it under `materials`, or "
            "`conductivity` here instead of a material"
        )
    return facts.conductivity


def at_temperature(part: Conducting, temperature: float, known: Known) -> float:
    """Conductivity [W/m/K] of an entry at one temperature [K]; raises as `of_material` does."""
    if part.conductivity is not None:
        return part.conductivity
    found = of_material(part.material or "", known)
    return float(found.value(np.array([temperature]))[0]) if isinstance(found, Curve) else found


def doubt(name: str | None, known: Known, lowest: float, highest: float) -> str:
    """What is doubtful about the conductivity of a material between temperatures [K], "" for
    nothing; a number that the model states itself is not doubted.
    """
    if name is None:
        return ""
    found, facts = of_material(name, known), known(name)
    if isinstance(found, Curve):
        beyond = told_beyond(found, lowest, highest)
        held = "beyond, that of the end of its range is taken"
        return f"the conductivity of '{name}' is known {beyond}: {held}" if beyond else ""
    if "conductivity" in facts.stated or not (beyond := told_range(ROOM, lowest, highest)):
        return ""
    return f"the conductivity of '{name}' is one number known near 300 K, good {beyond}"
