"""What multilayer blankets let through: the ideal stack, and stacks with separators.

An ideal stack only radiates from layer to layer. Separators conduct as well, and the layers absorb
better the warmer they are: for that there is a published formula, fitted to measured blankets,

    q = conduction * n**density_exponent * (T_hot**2 - T_cold**2) / (2 * D)
      + radiation * emittance * (T_hot**p - T_cold**p) / N

with N layers, n layers to a centimetre, D the gaps N + 1 or the layers N, p the radiation's
exponent and q [W/m2] (Keller, Cunnington and Glassford, NASA CR-134477, 1974; second-hand). The
first part is usually written with the mean temperature, (T_hot**2 - T_cold**2) / 2 being
T_mean * (T_hot - T_cold). The formula's term for gas stands in no consistent unit where it is
transcribed, and is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from thermnet.physics.constants import ZERO_CELSIUS

CENTIMETRE = 0.01
"""m: the formula counts layers to a centimetre."""

Divisor = Literal["gaps", "layers"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeparatorFacts:
    """A separator between layers: the coefficients of a published formula, and its range.

    `conduction` [W m-2 K-2] is that at one layer to a centimetre, `radiation` [W m-2 K-p] that of
    layers of emittance 1, p being `radiation_exponent`. `divisor` is what conduction is divided
    by. `emittance` is that of the layers at room temperature for which the formula was fitted, None
    where none is stated. The formula is good from `density_least` to `density_most` [1/m], from
    `layers_least` layers, and down to `coldest` [K] of the colder side, each None where unknown.
    """

    name: str
    conduction: float
    density_exponent: float
    radiation: float
    radiation_exponent: float
    divisor: Divisor = "gaps"
    emittance: float | None = None
    density_least: float | None = None
    density_most: float | None = None
    layers_least: float | None = None
    coldest: float | None = None
    source: str = ""


def effective_emittance(sides: Sequence[tuple[float, float]]) -> float:
    """Effective emittance of gaps in series, by the two emittances that face each other in each.

    1 / e* = sum over the gaps of (1/e_i + 1/e_j - 1): each gap is a pair of large grey parallel
    plates, and the same heat goes through all of them. Known: derived in closed form.
    """
    return 1.0 / sum(1.0 / one + 1.0 / other - 1.0 for one, other in sides)


def stack(
    layers: int, inward: float, outward: float, covered: float, outer: float
) -> tuple[tuple[float, float], ...]:
    """The gaps of a stack: the two emittances that face each other in each of the N + 1.

    Each layer shows `inward` to the covered surface and `outward` to the outer layer.
    """
    from_within = (covered, *(outward for _ in range(layers)))
    from_without = (*(inward for _ in range(layers)), outer)
    return tuple(zip(from_within, from_without, strict=True))


def conduction_strength(facts: SeparatorFacts, layers: int, density: float) -> float:
    """Strength [W m-2 K-2] of a link in T**2 through the separators; `density` is in 1/m."""
    divided_by = layers + 1 if facts.divisor == "gaps" else layers
    crowding = float((density * CENTIMETRE) ** facts.density_exponent)
    return facts.conduction * crowding / (2.0 * divided_by)


def radiation_strength(facts: SeparatorFacts, layers: int, emittance: float) -> float:
    """Strength [W m-2 K-p] of a link in T**p, p the radiation's exponent, between the layers."""
    return facts.radiation * emittance / layers


def beyond(facts: SeparatorFacts, layers: int, density: float) -> tuple[str, ...]:
    """Sentences on where layers and density [1/m] lie outside what the formula is good for."""
    return beyond_density(facts, density) + beyond_layers(facts, layers)


def beyond_density(facts: SeparatorFacts, density: float) -> tuple[str, ...]:
    """A sentence where a density [1/m] lies outside what the formula is good for."""
    least, most = facts.density_least, facts.density_most
    if (least is None or density >= least) and (most is None or density <= most):
        return ()
    sentence = (
        f"{density:.6g} layers/m lie outside the {_range(least, most)} layers/m that the "
        f"formula of the separator '{facts.name}' is good for"
    )
    return (sentence,)


def beyond_layers(facts: SeparatorFacts, layers: int) -> tuple[str, ...]:
    """A sentence where the layers are fewer than the formula is good for."""
    if facts.layers_least is None or layers >= facts.layers_least:
        return ()
    sentence = (
        f"the formula of the separator '{facts.name}' is good for {facts.layers_least:g} "
        f"layers or more, not for {layers}"
    )
    return (sentence,)


def beyond_at(facts: SeparatorFacts, hot: float, cold: float) -> tuple[str, ...]:
    """Sentences on where the temperatures [K] of both sides, in any order, lie outside."""
    colder = min(hot, cold)
    if facts.coldest is None or colder >= facts.coldest:
        return ()
    sentence = (
        f"the colder side is at {colder - ZERO_CELSIUS:.2f} degC, and the formula of the separator "
        f"'{facts.name}' was fitted down to {facts.coldest - ZERO_CELSIUS:.2f} degC"
    )
    return (sentence,)


def overlap_conductance(length: float, sheet: float, overlap: float) -> float:
    """Conductance [W/K] of a seam whose layers lead heat along themselves where they overlap.

    `sheet` [W/K] is conductivity times thickness of all layers together, `length` [m] the seam's,
    `overlap` [m] how far the heat goes. An estimate (derived): it leaves out what the layers
    exchange within the overlap.
    """
    return length * sheet / overlap


def _range(least: float | None, most: float | None) -> str:
    if least is None:
        return f"at most {most:g}"
    return f"at least {least:g}" if most is None else f"{least:g} to {most:g}"
