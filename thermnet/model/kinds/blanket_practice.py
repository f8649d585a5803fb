"""A blanket held against practice: slips of units, formulas beyond their range, unusual totals."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

import numpy as np

from thermnet.model.kinds.blanket_entry import Blanket, Layers
from thermnet.model.kinds.blanket_term import Term
from thermnet.model.kinds.blanket_terms import terms
from thermnet.model.kinds.kind import Surroundings
from thermnet.physics.blanket import SeparatorFacts, beyond_density, beyond_layers
from thermnet.physics.constants import STEFAN_BOLTZMANN

PRACTICE_AT = (300.0, 200.0)
"""K on the two sides, at which a blanket is held against published practice."""

SMALL = 0.1
"""m2 below which a blanket counts as small. Common practice, no source."""

LARGE_LEAST, LARGE_MOST = 0.01, 0.05
SMALL_LEAST, SMALL_MOST = 0.05, 0.30
"""Effective emittances of installed blankets, large and well made, and small or of complex shape.
Second-hand, in a text that cites the Spacecraft Thermal Control Handbook, 2002, chapter 5."""

THICKEST = 0.1
"""m of all layers, beyond which a slip of units is likelier. Common practice, no source."""

SPARSEST = 100.0
"""Layers to a metre, below which a slip of units is likelier. Common practice, no source."""

THINNEST = 2e-6
"""m from layer to layer, below which no film and separator fit. Common practice, no source."""


def total_effective_emittance(area: float, found: Iterable[Term], hot: float, cold: float) -> float:
    """Heat [W] of all terms between two temperatures [K] over area x sigma (hot^4 - cold^4).

    Terms that lead elsewhere than to the outer face count as if it were as cold there.
    """
    ends = np.array([hot, cold])
    heat = 0.0
    for part in (part for term in found for part in term.parts):
        driving = part.potential.value(ends)
        heat += part.strength * float(driving[0] - driving[1])
    return heat / (area * STEFAN_BOLTZMANN * (hot**4 - cold**4))


def unusual(entry: Blanket, around: Surroundings) -> tuple[str, ...]:
    """A note where a blanket lets less or more through than installed ones of its size do.

    It is judged in a vacuum and at its nominal bound, whichever the case uses.
    """
    nominal = entry.model_copy(update={"use": "nominal"})
    found = terms(nominal, "", replace(around, atmosphere=None))
    total = total_effective_emittance(entry.area, found, *PRACTICE_AT)
    small = entry.area < SMALL
    least, most = (SMALL_LEAST, SMALL_MOST) if small else (LARGE_LEAST, LARGE_MOST)
    if least <= total <= most:
        return ()
    hot, cold = PRACTICE_AT
    size = f"small blankets, below {SMALL:g} m2," if small else "large, well-made blankets"
    if total > 1.0:
        after = "more than no blanket at all: are the units of its terms right?"
    elif total > most:
        after = f"installed ones of {size} are known from {least:g} to {most:g}: is it meant?"
    else:
        after = (
            f"installed ones of {size} are known from {least:g} to {most:g}: do seams, fixings and "
            "edges count?"
        )
    sentence = (
        f"all its nominal terms together come to an effective emittance of {total:.3g} between "
        f"{hot:g} K and {cold:g} K; {after}"
    )
    return (sentence,)


def doubts(
    entry: Blanket, path: str, separators: Mapping[str, SeparatorFacts]
) -> Iterator[tuple[str, str]]:
    """What is doubtful of the layers of a blanket at `path` whatever the temperatures, as pairs of
    a path and a sentence: numbers beyond what the formula of their separator is good for, and
    slips of units.
    """
    layers = entry.layers
    if layers is None:
        return
    yield from _slips(entry, layers, f"{path}.layers")
    facts = separators.get(layers.separator or "")
    if facts is None:
        return
    for sentence in beyond_layers(facts, layers.count):
        yield f"{path}.layers.count", sentence
    for at, density in _densities(layers, f"{path}.layers"):
        for sentence in beyond_density(facts, density):
            yield at, sentence


def slips(entry: Blanket) -> tuple[str, ...]:
    """Sentences on layers whose numbers are likelier a slip of units."""
    return () if entry.layers is None else tuple(s for _, s in _slips(entry, entry.layers, ""))


def _slips(entry: Blanket, layers: Layers, path: str) -> Iterator[tuple[str, str]]:
    thickness = entry.gas_thickness
    asked = "is the unit right?"
    if thickness is not None and thickness > THICKEST:
        sentence = f"the layers together are {thickness:.3g} m thick: {asked}"
        yield _at(layers, path), sentence
    elif layers.per_length is not None and layers.per_length < SPARSEST:
        apart = 1.0 / layers.per_length
        yield _at(layers, path), f"from layer to layer it is {apart:.3g} m: {asked}"
    for at, density in _densities(layers, path):
        if density * THINNEST > 1.0:
            yield at, f"from layer to layer it is only {1e6 / density:.3g} um: {asked}"


def _densities(layers: Layers, path: str) -> Iterator[tuple[str, float]]:
    """Every density [1/m] that is known, with the path of what states it."""
    if layers.per_length is not None:
        yield _at(layers, path), layers.per_length
    for name, part in layers.compressed.items():
        yield f"{path}.compressed.{name}.density", part.density


def _at(layers: Layers, path: str) -> str:
    return f"{path}.{'density' if layers.thickness is None else 'thickness'}"
