"""Gas between the layers of blankets in a case."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermnet.network.parts import History
from thermnet.network.primitives import Floats
from thermnet.physics.gas import GasFacts

GAUGE_TEMPERATURE = 293.15
"""K, of a gauge of which nothing is said: room temperature (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Between:
    """Gas between the layers of blankets in a case.

    `pressure` [Pa] at the gauge is constant, or a history whose points straight lines join in the
    LOGARITHM of the pressure; `pressure_at` reads either. `gauge_temperature` [K] is that of the
    gas where the pressure is measured.
    """

    gas: GasFacts
    pressure: float | History
    gauge_temperature: float = GAUGE_TEMPERATURE

    def pressure_at(self, time: Floats) -> Floats:
        """Pressures [Pa] at instants f8[...] [s]; same shape. The first and the last one hold
        before and after.
        """
        if not isinstance(self.pressure, History):
            return np.full(np.shape(time), self.pressure)
        instants, points = self.pressure.time, self.pressure.value
        return np.asarray(np.exp(np.interp(time, instants, np.log(points))))
