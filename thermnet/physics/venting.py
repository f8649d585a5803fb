"""Gas that leaves a volume through holes while the pressure outside falls, as in an ascent.

The flow through the holes is that of a perfect gas through a short nozzle without loss, times a
discharge coefficient; it is as steady at every instant as if the pressures were constant. Inside,
the pressure is the same everywhere. Derived from the balances of mass and energy; the flow is the
textbook's (de Saint-Venant and Wantzel). What sets in below some pascals, the flow of single
molecules through the holes, is left out: the greatest difference comes earlier.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from thermnet.physics.curves import Floats
from thermnet.physics.gas import GAS_CONSTANT

SHARP_EDGED = 0.6
"""Discharge coefficient of holes with sharp edges: within 0.563 to 0.788, which Weisbach measured
with air, second-hand (Encyclopaedia Britannica, 11th ed., vol. 14, Hydraulics, section 63)."""

STANDARD_ATMOSPHERE = 101325.0
"""Pressure [Pa] at sea level, exact by definition."""

AIR = (0.0289647, 1.4)
"""Molar mass [kg/mol] of dry air, from memory of the standard atmosphere of 1976, and the ratio of
its specific heats."""

LEAST_AREA = 0.25 * 0.0254**2 / 0.3048**3
"""Open area to volume [1/m] of a rule of thumb, 0.25 square inches to a cubic foot: from memory of
NASA practice, guidance only."""

GREATEST_VOLUME = 2000 * 0.0254
"""Volume to open area [m] of another, 2000 inches: from memory of NASA practice, guidance only."""

NEAR = 1e-10
"""How near to 1 a ratio of pressures is before the flow is taken as proportional to what lacks."""

ACCURACY = 1e-9
"""Tolerance of the logarithms of pressure and mass over a step."""

LOOKS = np.linspace(0.0, 1.0, 9)
"""Where in each step of the integrator the pressures are looked at."""

Exchange = Literal["isothermal", "adiabatic"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Vented:
    """A volume [m3] of gas and the holes, of open area `vents` [m2], by which it leaves.

    `temperature` [K] is that of the gas at the start, and of all gas outside; `molar_mass` is in
    kg/mol, `heat_ratio` is that of the specific heats.
    """

    volume: float
    vents: float
    discharge: float
    temperature: float
    molar_mass: float
    heat_ratio: float

    @property
    def specific(self) -> float:
        """The gas constant of this gas [J/(kg K)]."""
        return GAS_CONSTANT / self.molar_mass

    @property
    def speed(self) -> float:
        """Effective open area, over the volume, times sqrt(R T) [1/s]."""
        return (
            self.discharge * self.vents / self.volume * math.sqrt(self.specific * self.temperature)
        )

    @property
    def time_constant(self) -> float:
        """In which an isothermal volume falls to 1/e while it empties into a vacuum [s]."""
        return 1.0 / (self.speed * flow_function(0.0, self.heat_ratio))


@dataclass(frozen=True, slots=True, kw_only=True)
class Outside:
    """Pressure outside over time: `pressure` f8[k] [Pa] at `time` f8[k] [s], which increases.

    Between instants it is straight, or its logarithm is; afterwards it stays as it is. Raises
    ValueError where arrays do not fit, and for pressures that have no logarithm but need one.
    """

    time: Floats
    pressure: Floats
    straight: Literal["pressure", "logarithm"] = "logarithm"

    def __post_init__(self) -> None:
        if len(self.time) < 2 or len(self.time) != len(self.pressure):
            raise ValueError("a falling pressure needs as many pressures as instants, at least two")
        if (np.diff(self.time) <= 0.0).any():
            raise ValueError("the instants of a falling pressure must increase")
        least = float(np.min(self.pressure))
        if least < 0.0 or (self.straight == "logarithm" and least == 0.0):
            raise ValueError("pressures joined by straight logarithms must lie above 0 Pa")

    def at(self, time: Floats | float) -> Floats:
        """Pressure [Pa] at instants [s]."""
        if self.straight == "pressure":
            return np.asarray(np.interp(time, self.time, self.pressure))
        return np.exp(np.interp(time, self.time, np.log(self.pressure)))

    def logarithm(self, time: float) -> float:
        """Logarithm of the pressure in pascals at an instant [s], -inf in a vacuum."""
        pressure = float(self.at(time))
        return math.log(pressure) if pressure > 0.0 else -math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Greatest:
    """The greatest pressure difference [Pa], inside above outside, and its instant [s].

    It is 0 where the inside never lies above; how far it lies below is not looked at.
    `inside` and `outside` [Pa] are the pressures then; `exchange` says whether the gas inside keeps
    its temperature or exchanges no heat.
    """

    difference: float
    instant: float
    inside: float
    outside: float
    exchange: Exchange


def flow_function(ratio: float, heat_ratio: float) -> float:
    """Mass flow through a lossless hole, over area x pressure / sqrt(R T) upstream.

    `ratio` is the pressure downstream over that upstream, from 0 to 1. Below the critical ratio the
    flow is choked: as fast as sound in the hole, whatever lies behind. Nearer to 1 than `NEAR` it
    is a straight line, lest its slope be infinite.
    """
    g, missing = heat_ratio, 1.0 - ratio
    if missing < NEAR:
        return missing * math.sqrt(2.0 / NEAR)
    log = math.log(max(ratio, _critical(g)))
    # expm1 keeps the digits where the pressures are nearly the same
    return math.sqrt(2.0 * g / (g - 1.0) * math.exp(2.0 * log / g) * -math.expm1((g - 1) / g * log))


def _flow_slope(ratio: float, heat_ratio: float) -> float:
    """Slope of the flow function over the ratio of pressures."""
    g = heat_ratio
    if 1.0 - ratio < NEAR:
        return -math.sqrt(2.0 / NEAR)
    if ratio <= _critical(g):
        return 0.0
    rise = 2.0 * ratio ** (2.0 / g - 1.0) - (g + 1.0) * ratio ** (1.0 / g)
    return float(rise / (g - 1.0) / flow_function(ratio, g))


def _critical(heat_ratio: float) -> float:
    """Ratio of pressures at which the flow becomes choked."""
    return float((2.0 / (heat_ratio + 1.0)) ** (heat_ratio / (heat_ratio - 1.0)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Inside:
    """Pressure f8[k] [Pa], mass f8[k] over that at the start, and their instants f8[k] [s]."""

    time: Floats
    pressure: Floats
    mass: Floats


def inside(vented: Vented, outside: Outside, exchange: Exchange) -> Inside:
    """What is inside while the pressure outside changes; at first both pressures are the same.

    The gas inside keeps its temperature ("isothermal"), or exchanges no heat ("adiabatic") and
    cools as it expands. Raises ValueError where the pressure outside begins with 0 Pa.
    """
    from scipy.integrate import solve_ivp

    first = float(outside.pressure[0])
    if first <= 0.0:
        raise ValueError("the pressure outside must begin above 0 Pa")
    around = outside.logarithm
    slopes, jacobian = _balances(vented, exchange)

    def outward(time: float, state: Floats) -> tuple[float, float, float]:
        """Logarithms: mass and pressure over those at the start, pressure outside over inside."""
        return state[0], state[1], around(time) - around(outside.time[0]) - state[1]

    state, found = np.zeros(2), [np.zeros((3, 1))]
    for begin, end in zip(outside.time, outside.time[1:], strict=False):
        piece = solve_ivp(
            lambda time, state: slopes(*outward(time, state)),
            (begin, end),
            state,
            method="Radau",
            rtol=ACCURACY,
            atol=ACCURACY,
            jac=lambda time, state: jacobian(*outward(time, state)),
            dense_output=True,
        )
        if not piece.success or piece.sol is None:
            raise ValueError(f"the pressure inside could not be followed: {piece.message}")
        time = (piece.t[:-1, None] + LOOKS * np.diff(piece.t)[:, None]).ravel()
        found.append(np.vstack([time, piece.sol(time)]))
        state = piece.y[:, -1]
    found[0][0] = outside.time[0]
    time, mass, pressure = np.concatenate(found, axis=1)
    return Inside(time=time, pressure=first * np.exp(pressure), mass=np.exp(mass))


def _balances(
    vented: Vented, exchange: Exchange
) -> tuple[Callable[[float, float, float], Floats], Callable[[float, float, float], Floats]]:
    """How fast the logarithms of mass and pressure inside change f8[2] [1/s], and their slopes.

    Both functions take the logarithms of mass and pressure over those at the start, and that of
    the pressure outside over that inside. The slopes f8[2, 2] are over the first two.
    """
    speed, ratio = vented.speed, vented.heat_ratio
    cools = exchange == "adiabatic"
    growth = ratio if cools else 1.0

    def rates(mass: float, pressure: float, outward: float) -> Floats:
        warmth = math.exp(pressure - mass) if cools else 1.0
        if outward <= 0.0:
            lost = speed * math.sqrt(warmth) * flow_function(math.exp(outward), ratio)
            return np.array([-lost, -growth * lost])
        gained = speed * math.exp(outward) * flow_function(math.exp(-outward), ratio)
        return np.array([warmth * gained, growth * gained])

    def slopes(mass: float, pressure: float, outward: float) -> Floats:
        warmth = math.exp(pressure - mass) if cools else 1.0
        if outward <= 0.0:
            lost = speed * math.sqrt(warmth) * flow_function(math.exp(outward), ratio)
            opened = speed * math.sqrt(warmth) * math.exp(outward)
            half = 0.5 * lost if cools else 0.0
            over = np.array([-half, half - opened * _flow_slope(math.exp(outward), ratio)])
            return np.array([-over, -growth * over])
        gained = speed * math.exp(outward) * flow_function(math.exp(-outward), ratio)
        less = -gained + speed * _flow_slope(math.exp(-outward), ratio)
        more = warmth * gained if cools else 0.0
        return np.array([[-more, more + warmth * less], [0.0, growth * less]])

    return rates, slopes


def greatest_difference(vented: Vented, outside: Outside) -> Greatest:
    """The greatest difference while the pressure outside changes.

    Both kinds of heat exchange are followed, and the worse one is told: a gas that stays warm
    must leave faster, but one that cools leaves more slowly once little of it is left.
    """
    kinds: tuple[Exchange, Exchange] = ("isothermal", "adiabatic")
    return max((_greatest(vented, outside, kind) for kind in kinds), key=lambda one: one.difference)


def _greatest(vented: Vented, outside: Outside, exchange: Exchange) -> Greatest:
    """Of one kind of heat exchange, among the instants that were looked at."""
    course = inside(vented, outside, exchange)
    around = outside.at(course.time)
    above = course.pressure - around
    above[above <= ACCURACY * around] = 0.0  # rounding of equal pressures, or inside below outside
    worst = int(np.argmax(above))
    return Greatest(
        difference=float(above[worst]),
        instant=float(course.time[worst]),
        inside=float(course.pressure[worst]),
        outside=float(around[worst]),
        exchange=exchange,
    )
