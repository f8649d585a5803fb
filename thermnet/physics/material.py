"""What a material is: its bulk properties, by temperature where they are known so."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np

from thermnet.physics.curves import Curve

SPREAD = 1.04
"""Greatest ratio of the specific heats that one straight piece of a heat content stands for."""

NEAR = 0.005
"""How far [K] from its exact heat content one straight piece may be: its specific heat changing in
a straight line; never twice as far, however it changes."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MaterialFacts:
    """A material; None where a property is not known.

    `density` [kg/m3], `specific_heat` [J/kg/K] and `conductivity` [W/m/K] near 300 K, of one that
    melts those of the solid; the two `_curve`s hold the latter over temperature [K], and the two
    `_by_temperature` say in words what they were made of. `melts_at` [K], `latent_heat` [J/kg] and
    `specific_heat_liquid` [J/kg/K] are those of one that melts. It may be used from `lowest` to
    `highest` [K] for as long as one likes, and up to `highest_short` for a short time. `source`
    says in words where the numbers come from; `stated` are the keys that the model states itself.
    """

    name: str
    density: float | None = None
    specific_heat: float | None = None
    conductivity: float | None = None
    specific_heat_curve: Curve | None = None
    conductivity_curve: Curve | None = None
    specific_heat_by_temperature: str | None = None
    conductivity_by_temperature: str | None = None
    melts_at: float | None = None
    latent_heat: float | None = None
    specific_heat_liquid: float | None = None
    lowest: float | None = None
    highest: float | None = None
    highest_short: float | None = None
    source: str = ""
    stated: tuple[str, ...] = ()


def heat_content(specific_heat: Curve, mass: float) -> Curve:
    """Heat content [J] over temperature [K] of a mass [kg], counted from the curve's lowest one.

    It is the integral of the specific heat [J/kg/K], exact at its points. Between two of them the
    capacity is their mean. A solver stops at each that a temperature passes, so that there are no
    more of them than `SPREAD` and `NEAR` ask for.
    """
    x = _corners(specific_heat)
    integral = specific_heat.integral(x)
    return Curve(x=x, y=mass * (integral - integral[0]), extend=True)


def melting_content(
    mass: float, melts_at: float, over: float, latent_heat: float, solid: float, liquid: float
) -> Curve:
    """Heat content [J] over temperature [K] of a mass [kg] that melts.

    `solid` and `liquid` are its specific heats [J/kg/K]. It takes up its latent heat [J/kg] evenly
    `over` some kelvin, half of them below `melts_at` [K]; beyond these it holds exactly as much as
    one that melts at this one temperature.
    """
    half = over / 2.0
    x = np.array([melts_at - half - 1.0, melts_at - half, melts_at + half, melts_at + half + 1.0])
    rises = np.array([solid, latent_heat + half * (solid + liquid), liquid])
    return Curve(x=x, y=mass * np.append(0.0, np.cumsum(rises)), extend=True)


def melted_share(temperature: float, melts_at: float, over: float) -> float:
    """Which share of a mass that melts as in `melting_content` is liquid at a temperature [K]."""
    return float(np.clip((temperature - melts_at) / over + 0.5, 0.0, 1.0))


def together(contents: tuple[Curve, ...], capacity: float = 0.0) -> Curve:
    """The heat content [J] of several, and of a constant capacity [J/K], at one temperature."""
    x = np.unique(np.concatenate([each.x for each in contents]))
    # Two corners closer than this differ by rounding only, and would make a piece of no width.
    x = x[np.append(True, np.diff(x) > 1e-9)]
    y = sum((each.value(x) for each in contents), capacity * (x - x[0]))
    return Curve(x=x, y=np.asarray(y), extend=True)


@functools.lru_cache(maxsize=256)
def _corners(curve: Curve) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Temperatures between which one capacity is good enough for the curve, ends among them."""
    fine = _finely(curve)
    values = curve.value(fine)
    kept, least, most = [0], values[0], values[0]
    for k in range(1, len(fine)):
        least, most = min(least, values[k]), max(most, values[k])
        # The most that a chord and the integral of a straight line are apart.
        apart = (most - least) * (fine[k] - fine[kept[-1]]) / 8.0
        if (most > SPREAD * least or apart > NEAR * least) and kept[-1] < k - 1:
            kept.append(k - 1)
            least, most = min(values[k - 1], values[k]), max(values[k - 1], values[k])
    return fine[[*kept, len(fine) - 1]]


def _finely(curve: Curve) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Temperatures an eighth as far apart as one capacity is good for, or closer."""
    found = [curve.x[:1]]
    for x, width, first, last in zip(
        curve.x, np.diff(curve.x), curve.y[:-1], curve.y[1:], strict=False
    ):
        by_spread = abs(math.log(last / first)) / math.log(SPREAD)
        by_kelvin = math.sqrt(abs(last - first) * width / (8.0 * NEAR * min(first, last)))
        count = math.ceil(8.0 * max(by_spread, by_kelvin)) or 1
        share = np.linspace(0.0, 1.0, count + 1)[1:]
        if count > 1:
            share = ((last / first) ** share - 1.0) / (last / first - 1.0)
        found.append(x + share * width)
    return np.concatenate(found)
