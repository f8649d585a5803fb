"""The faces of an enclosure as arrays."""

from __future__ import annotations

from dataclasses import dataclass

from thermnet.physics.curves import Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surrounded:
    """Faces by name, each with its node ("" for one that re-radiates), area f8[n] [m2] and
    emittance f8[n], 0 for one that re-radiates.
    """

    names: tuple[str, ...]
    nodes: tuple[str, ...]
    area: Floats
    emittance: Floats
