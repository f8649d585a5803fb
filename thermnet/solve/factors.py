"""Factors of large systems, kept by step length for as long as they are nearly right."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from thermnet.network.primitives import Floats
from thermnet.solve.front import Front
from thermnet.solve.linear import Factor

CHANGED = 0.1
"""Change of a diagonal entry, as a share of it, that calls for a new factor. Beyond it the steps of
light nodes behind blankets become short; below it nothing is gained."""

LEAST, MOST = 0.4, 1.3
"""Shares of what control allows within which the step of the orbit before is good enough."""

MOST_BYTES = 1_000_000_000
"""Memory that kept factors may take."""


@dataclass(slots=True)
class Factors:
    """The factors of one front, each with the diagonal f8[n] [W/K] that it was made for.

    Nothing but memory is saved by forgetting one: the least recently used goes first. `taken`
    holds the last step [s] from each local instant: from orbit to orbit the same steps, where they
    still do, find their factors made.
    """

    kept: dict[float, tuple[Factor, Floats]] = field(default_factory=dict)
    made: int = 0
    taken: dict[float, float] = field(default_factory=dict)

    def wish(self, time: float, width: float, *, first: bool) -> float:
        """The step to try from a local instant [s] where control allows `width` [s].

        Of the first step after a jump control knows nothing yet.
        """
        before = self.taken.get(round(time, 6), 0.0)
        least = 0.0 if first else LEAST
        return before if least < before / width <= MOST else width

    def get(
        self,
        front: Front,
        width: float,
        weight: Floats,
        temperature: Floats,
        time: float,
        *,
        fresh: bool = False,
    ) -> Factor:
        """The factor for a step of length `width` [s], with weights f8[n] [W/K]."""
        key = round(width, 6) if width > 1e-3 else width
        diagonal = front.diagonal_values(weight, temperature, time)
        known = self.kept.pop(key, None)
        if known is not None and not fresh:
            factor, before = known
            if bool((np.abs(diagonal - before) <= CHANGED * before).all()):
                self.kept[key] = known
                return factor
        factor = front.factor(weight, temperature, time)
        self.made += 1
        self.kept[key] = factor, diagonal
        while len(self.kept) > 1 and self._bytes() > MOST_BYTES:
            self.kept.pop(next(iter(self.kept)))
        return factor

    def _bytes(self) -> int:
        return sum(factor.size + diagonal.nbytes for factor, diagonal in self.kept.values())
