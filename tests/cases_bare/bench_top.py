"""The bench top as bare arrays: an independent answer. Thresholds in degC, otherwise SI units."""

from __future__ import annotations

import numpy as np

from tests.cases_bare import bare
from tests.cases_bare.bare import Array, Arrays, Run

NAMES = ("electronics", "base plate", "radiator", "shield", "sample")
CAPACITY = (900.0, 2700.0, 1350.0, 0.0, 450.0)  # J/K
LINKS = ((0, 1, 3.0), (1, 2, 4.0), (4, 1, 0.05))  # W/K
RADIATOR_TO_SHIELD = 0.003  # m2
TO_SHROUD = ((2, 0.08 * 0.85), (3, 0.08 * 0.6))  # m2
SHROUD = 100.0  # K
HEATER = (4.0, 18.0, 20.0)  # W on the sample, on at or below, off at or above [degC]
START = 293.15  # K
LENGTH = 6 * 3600.0  # s


def arrays(electronics: float) -> Arrays:
    """The arrays with this heat [W] on the electronics."""
    n = len(NAMES)
    conduction, radiation, space = np.zeros((n, n)), np.zeros((n, n)), np.zeros(n)
    for a, b, conductance in LINKS:
        bare.connect(conduction, a, b, conductance)
    bare.connect(radiation, 2, 3, bare.SIGMA * RADIATOR_TO_SHIELD)
    for a, area in TO_SHROUD:
        radiation[a, a] -= bare.SIGMA * area
        space[a] += bare.SIGMA * area * SHROUD**4
    power, on, off = HEATER
    return Arrays(
        names=NAMES,
        capacity=np.array(CAPACITY),
        conduction=conduction,
        radiation=radiation,
        space=space,
        heats=[(0, electronics, "")],
        histories={},
        heated=[4],
        enabled=[""],
        power=np.array([power]),
        on=np.array([on]) + bare.ZERO_CELSIUS,
        off=np.array([off]) + bare.ZERO_CELSIUS,
    )


def steady(electronics: float) -> tuple[Array, Array]:
    """Temperatures [K] and heater duty."""
    return bare.steady(arrays(electronics), guess=np.full(len(NAMES), START))


def cool_down(*, rtol: float = 1e-9) -> Run:
    """Six hours from 20 degC with 12 W."""
    start = np.full(len(NAMES), START)
    return bare.run(arrays(12.0), temperature=start, instants=[0.0, LENGTH], rtol=rtol)
