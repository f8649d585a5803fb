"""The rows of the library that entries may look up by name, as a model changes them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from thermnet.physics.contact import Ranged
from thermnet.physics.material import MaterialFacts


def _empty(name: str) -> float:
    raise ValueError(f"nothing is known of '{name}'")


def _no_material(name: str) -> MaterialFacts:
    raise ValueError(f"unknown material '{name}'")


def _no_range(name: str) -> Ranged:
    raise ValueError(f"nothing is known of '{name}'")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """What the library and the model know by name, in a case.

    `emittance` is that of a finish in the case's `life`. `fastener` is a conductance [W/K] of one,
    `contact` one of an area [W/m2/K]. All raise ValueError, a sentence, for what they do not know.
    """

    emittance: Callable[[str], float] = _empty
    material: Callable[[str], MaterialFacts] = _no_material
    fastener: Callable[[str], Ranged] = _no_range
    contact: Callable[[str], Ranged] = _no_range
