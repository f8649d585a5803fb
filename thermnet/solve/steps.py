"""What integrators hand on: accepted steps in a row, sampled for quadrature."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermnet.network.primitives import Floats

LOBATTO = np.array([-1.0, -np.sqrt(3.0 / 7.0), 0.0, np.sqrt(3.0 / 7.0), 1.0]) / 2.0 + 0.5
LOBATTO_WEIGHTS = np.array([1 / 10, 49 / 90, 32 / 45, 49 / 90, 1 / 10]) / 2.0
"""Five-point Lobatto rule on 0..1, exact for degree 7 (Abramowitz and Stegun 25.4.32)."""


class MarchError(Exception):
    """The integrator cannot go on; the message is a sentence for the reader."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """Accepted steps in a row, s of them.

    Each goes from `begin` to `end` f8[s] in local time [s]; `offset` f8[s] leads to the time of the
    solve. `state` f8[s, h] are the thermostat states during it (zero under the proportional law),
    `temperature` f8[s, 5, n] every node's at the Lobatto points of the step, massless nodes in
    balance. `segment` i8[s] numbers the stretch between known instants. `evaluations` of the heat
    balance and `factorizations` are those of these steps; `how` names the integrator.
    """

    offset: Floats
    begin: Floats
    end: Floats
    state: Floats
    temperature: Floats
    segment: np.ndarray[tuple[int, ...], np.dtype[np.int64]]
    evaluations: int
    factorizations: int
    how: str = ""


def lagrange(x: Floats) -> Floats:
    """Lagrange polynomials of the Lobatto points at x in 0..1: f8[len(x), 5]."""
    result = np.ones((len(x), len(LOBATTO)))
    for k, node in enumerate(LOBATTO):
        for other in np.delete(LOBATTO, k):
            result[:, k] *= (x - other) / (node - other)
    return result
