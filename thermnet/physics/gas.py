"""Heat through a rarefied gas between parallel faces, from free molecules to a continuum.

Free molecules fly from face to face: the heat is proportional to the pressure and knows nothing of
the distance. In a continuum it is the conductivity over the distance, whatever the pressure. In
between, both resistances lie in series.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from thermnet.physics.curves import Curve, Floats

GAS_CONSTANT = 8.314462618
"""J mol-1 K-1, exact since 2019 to the digits given (CODATA 2018)."""

COLDEST, HOTTEST = 4.0, 2000.0
"""K, the ends of the tables of conductance over temperature; beyond them the end value holds."""

NODES = 97
"""Of such a table, each 7 % hotter: between two, a power of 1.5 of T is followed to 0.04 %."""

RATIO, MOST_SHARES = 1.35, 12
"""Of the conductivities from one share to the next, and the most shares of a changing pressure."""

FOLD = 0.15
"""Step of the logarithm of a pressure within which its exponential is followed to 0.3 %."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GasFacts:
    """A gas: what kinetic theory needs of it, and where that comes from.

    `molar_mass` [kg/mol]; `heat_capacity_ratio` at constant pressure over that at constant volume;
    `accommodation` of either face, the share of the difference in energy that a molecule gives up
    when it strikes: 1 lets most heat through. `conductivity` [W/m/K] is that at
    `conductivity_at` [K]; over temperature it goes by a `sutherland` temperature [K] or else with
    an `exponent`. Below `lowest` [K] it is held, and the gas may condense.
    """

    name: str
    molar_mass: float
    heat_capacity_ratio: float
    accommodation: float
    conductivity: float
    conductivity_at: float
    sutherland: float | None = None
    exponent: float | None = None
    lowest: float = 0.0
    source: str = ""


def conductivity(gas: GasFacts, temperature: Floats) -> Floats:
    """Conductivity of a continuum [W/m/K] at temperatures f8[...] [K]; same shape.

    By Sutherland's form, k0 (T/T0)^1.5 (T0 + S)/(T + S) (White, Viscous Fluid Flow, second-hand),
    or a power of T; held below `lowest`.
    """
    warm = np.maximum(temperature, gas.lowest)
    ratio = warm / gas.conductivity_at
    if gas.sutherland is None:
        return np.asarray(gas.conductivity * ratio ** (gas.exponent or 0.0))
    less = (gas.conductivity_at + gas.sutherland) / (warm + gas.sutherland)
    return np.asarray(gas.conductivity * ratio**1.5 * less)


def joint_accommodation(first: float, second: float) -> float:
    """Accommodation of a gap between two faces of equal area, from that of each (Knudsen's form,
    from memory).
    """
    return first * second / (first + second - first * second)


def free_molecular(gas: GasFacts, gauge_temperature: float) -> float:
    """Conductance of a gap for each pascal [W/m2/K/Pa] where molecules fly from face to face.

    a (g + 1)/(g - 1) sqrt(R / (8 pi M T)), pressure and T at the gauge (Corruccini, 1959, from
    memory; it follows from kinetic theory). In a vessel of uneven temperature P/sqrt(T) is the same
    all over, so that the conductance does not change with the temperature of the faces.
    """
    g = gas.heat_capacity_ratio
    flying = math.sqrt(GAS_CONSTANT / (8.0 * math.pi * gas.molar_mass * gauge_temperature))
    joint = joint_accommodation(gas.accommodation, gas.accommodation)
    return joint * (g + 1.0) / (g - 1.0) * flying


def gap_conductance(
    gas: GasFacts, temperature: Floats, pressure: Floats, gauge_temperature: float, gap: float
) -> Floats:
    """Conductance [W/m2/K] of a gap of width `gap` [m], f8[...] as temperature [K] and pressure
    [Pa] at the gauge broadcast.

    1/h = 1/h_free + gap/k: resistances in series (the interpolation of Sherman, 1963, and Lees,
    second-hand in an open code for gaps of cold helium, and in notes on how accommodation between
    parallel plates is measured).
    """
    dense = conductivity(gas, temperature) / gap
    free = free_molecular(gas, gauge_temperature) * pressure
    return np.asarray(dense * free / (dense + free))


def mean_free_path(gas: GasFacts, temperature: float, pressure: float) -> float:
    """Mean free path [m] at a temperature [K] and pressure [Pa] of the gas itself.

    From its viscosity mu, mu/P sqrt(pi R T / (2 M)), which in turn is that of its conductivity by
    Eucken's relation, k = (9 g - 5)/4 mu cv (kinetic theory, from memory).
    """
    g = gas.heat_capacity_ratio
    specific = GAS_CONSTANT / gas.molar_mass
    at_constant_volume = specific / (g - 1.0)
    known = float(conductivity(gas, np.array(temperature)))
    viscosity = known / ((9.0 * g - 5.0) / 4.0 * at_constant_volume)
    return viscosity / pressure * math.sqrt(math.pi * specific * temperature / 2.0)


def knudsen_number(gas: GasFacts, temperature: float, pressure: float, gap: float) -> float:
    """Mean free path over the gap: far above 1 molecules fly free, far below 1 is a continuum."""
    return mean_free_path(gas, temperature, pressure) / gap


def conductance_curve(
    gas: GasFacts, pressure: float, gauge_temperature: float, gap: float
) -> Curve:
    """Conductance of a gap [W/m2/K] over temperature [K] at a constant pressure [Pa]."""
    grid = _grid(gas)
    return Curve(x=grid, y=gap_conductance(gas, grid, np.array(pressure), gauge_temperature, gap))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Share:
    """Part of the conductance of a gap under changing pressure: curve(T) times rise(P).

    `curve` [W/m2/K] over temperature [K]; the rise is P / (P + half), from 0 to 1, where `half`
    [Pa] is the pressure at which free molecules and the continuum let through alike.
    """

    curve: Curve
    half: float

    def rise(self, pressure: Floats) -> Floats:
        """What of the curve there is at pressures f8[...] [Pa]; same shape."""
        return np.asarray(pressure / (pressure + self.half))


def shares(gas: GasFacts, gauge_temperature: float, gap: float) -> tuple[Share, ...]:
    """The conductance of a gap as a sum of products of temperature and of pressure alone.

    h(P, T) = k/gap P/(P + half(T)), half = k/(gap c), is not such a product, as the solver's links
    are. At chosen temperatures, whose y = 1/half lie a fixed ratio apart, it is taken as it is; in
    between, h is joined by straight lines over y. The sum is exact for free molecules and for a
    continuum, and too small in between by a share of at most D^2/16, D the step of y over y (from
    the second derivative of Py/(1 + Py)).
    """
    grid = _grid(gas)
    known = conductivity(gas, grid)
    least, most = float(known[0]), float(known[-1])
    if least == most:  # no change with temperature: one product is exact
        marks = np.array([least])
    else:
        steps = math.ceil(abs(math.log(most / least)) / math.log(RATIO))
        apart = np.geomspace(least, most, min(steps + 1, MOST_SHARES))[1:-1]
        # The corners of the straight lines are points of the table.
        inside = np.exp(np.interp(np.log(apart), np.log(known), np.log(grid)))
        marks = np.concatenate([[least], conductivity(gas, inside), [most]])
        grid = np.union1d(grid, inside)
        known = conductivity(gas, grid)
    of_each = free_molecular(gas, gauge_temperature) * gap
    y, nodes = of_each / known, of_each / marks
    found = []
    for k, node in enumerate(nodes):
        hat = np.interp(-y, -nodes, np.arange(len(nodes)) == k)  # y falls where k rises
        found.append(Share(curve=Curve(x=grid, y=hat * known / gap), half=1.0 / float(node)))
    return tuple(found)


def finer_instants(time: Floats, pressure: Floats) -> tuple[Floats, Floats]:
    """Instants f8[m] [s] and pressures f8[m] [Pa], so close that straight lines may join them.

    The points given, f8[k], k >= 2, time strictly increasing, are joined in the logarithm of the
    pressure.
    """
    logarithm = np.log(pressure)
    pieces = np.maximum(np.ceil(np.abs(np.diff(logarithm)) / FOLD), 1.0).astype(int)
    fine = [np.linspace(a, b, n + 1)[:-1] for a, b, n in zip(time, time[1:], pieces, strict=False)]
    instants = np.append(np.concatenate(fine), time[-1])
    return instants, np.exp(np.interp(instants, time, logarithm))


def _grid(gas: GasFacts) -> Floats:
    """Temperatures f8[] [K] of a table over which the conductivity bends little."""
    grid = np.geomspace(COLDEST, HOTTEST, NODES)
    if COLDEST < gas.lowest < HOTTEST:
        grid = np.union1d(grid, [gas.lowest])
    return np.asarray(grid)
