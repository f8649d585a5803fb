"""One record for each published number, so that no expected value stands without its source."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Known = Literal[
    "read",
    "second-hand",
    "from memory",
    "derived: closed form",
    "derived: independent solver",
]
"""How the value is known: read in the source itself; read in a text that transcribes or cites the
source; from memory of the source, not verified; a closed form, or a numerical solution, worked
out here without this package."""

SIGMA_TEXTBOOK = 5.67e-8
"""W m-2 K-4, as most textbooks have it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """A quantity, its inputs (SI) and its value, which holds within `tolerance`, in `unit`."""

    what: str
    inputs: Mapping[str, float]
    value: float
    unit: str
    tolerance: float
    source: str
    known: Known

    def __str__(self) -> str:
        return self.what

    def check(self, found: float) -> None:
        """Fail with everything that is known about the number, unless it is met."""
        assert math.isfinite(found)
        assert abs(found - self.value) <= self.tolerance, (
            f"{self.what}: found {found:.9g} {self.unit}, expected {self.value:.9g} within "
            f"{self.tolerance:g} ({self.known}: {self.source})"
        )
