"""What joins two parts: conductance with the range that published values have."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Use = Literal["nominal", "low", "high"]
"""Which value of a range counts."""

PRESSURE_EXPONENT = 0.73
"""Power of the pressure by which the conductance of bare metal faces in a vacuum goes: a
correlation of 350 data points, ASME Journal of Heat Transfer 94 (3), 276 (1972), read in its
abstract."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranged:
    """A value with the ends of its range: of a fastener [W/K], of a contact [W/m2/K].

    An end is None where nobody states it. `pressure` [Pa] is that at which the values of a contact
    hold, None where it has no part in them. `source` says where the numbers come from.
    """

    name: str
    nominal: float
    low: float | None = None
    high: float | None = None
    pressure: float | None = None
    source: str = ""

    def at(self, use: Use) -> float:
        """The value that counts. Raises ValueError for an end that is not stated."""
        value = {"nominal": self.nominal, "low": self.low, "high": self.high}[use]
        if value is None:
            raise ValueError(
                f"'{self.name}' states no '{use}' value, which is asked for by `use`: state it, or "
                "name the joints that have one instead of all"
            )
        return value


NEAR = 3.0
"""Ratio of two pressures up to which correlations and published ranges agree within 40 %."""

FARTHEST = 10.0
"""Ratio of two pressures beyond which one conductance says nothing of the other: from 100 kPa to 10
MPa published ranges rise by 7 to 14, and not by the 29 of the correlation."""


def pressed(pressure: float, reference: float) -> float:
    """By how much the conductance of bare metal faces changes from one pressure [Pa] to another.

    Source: `PRESSURE_EXPONENT`. Raises ValueError for pressures more than `FARTHEST` apart.
    """
    if not 1.0 / FARTHEST <= pressure / reference <= FARTHEST * (1.0 + 1e-9):
        raise ValueError(
            f"a pressure of {pressure:g} Pa is more than {FARTHEST:g} times off the {reference:g} "
            "Pa that the contact is known at: take a contact that is known nearer to it"
        )
    return float((pressure / reference) ** PRESSURE_EXPONENT)
