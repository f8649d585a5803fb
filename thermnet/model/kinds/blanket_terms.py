"""A blanket term by term: what leads heat through it, as links, and where each number is from."""

from __future__ import annotations

from collections.abc import Iterator

from thermnet.model.kinds.blanket_entry import Blanket, Layers
from thermnet.model.kinds.blanket_gas import gas_term
from thermnet.model.kinds.blanket_spoilt import Fixing, Seam
from thermnet.model.kinds.blanket_term import Term
from thermnet.model.kinds.kind import Surroundings
from thermnet.network.parts import CONDUCTION, RADIATION, LinkPart
from thermnet.network.primitives import Potential
from thermnet.physics.blanket import (
    SeparatorFacts,
    beyond,
    conduction_strength,
    effective_emittance,
    overlap_conductance,
    radiation_strength,
    stack,
)
from thermnet.physics.constants import STEFAN_BOLTZMANN

SQUARE = Potential(exponent=2.0)
"""Conductivity that goes with temperature: the integral of it goes with its square."""


def terms(entry: Blanket, path: str, around: Surroundings) -> tuple[Term, ...]:
    """The terms of a blanket at `path` in a case.

    Raises ValueError for a separator that lacks a coefficient or an emittance, and where gas
    between the layers needs what the blanket does not state. Gas without pressure is no term.
    """
    found = [*_through_layers(entry, path, around), *_spoiled(entry, path)]
    if around.atmosphere is not None and around.atmosphere.pressure != 0.0:
        if entry.layers is None:
            raise ValueError(
                "the case has gas between the layers: state the `count` and the `density` or "
                "`thickness` of its `layers`"
            )
        found.append(gas_term(entry, path, around.atmosphere))
    return tuple(found)


def _through_layers(entry: Blanket, path: str, around: Surroundings) -> Iterator[Term]:
    """What gets through the layers, openings left out."""
    emitting = STEFAN_BOLTZMANN * entry.closed_area
    if entry.used is not None:
        yield Term(
            path=path,
            what="effective emittance",
            parts=_links(entry, path, RADIATION, emitting * entry.used * entry.scale),
            source=entry.note,
        )
    elif entry.layers is not None and entry.layers.separator is not None:
        yield from _with_separator(entry, entry.layers, path, around)
    elif entry.layers is not None:
        yield _ideal(entry, entry.layers, path)


def _ideal(entry: Blanket, layers: Layers, path: str) -> Term:
    inward = layers.emittance or 1.0
    outward = layers.other_side or inward
    covered, outer = layers.covered or outward, layers.outer or inward
    sides = stack(layers.count, inward, outward, covered, outer)
    strength = STEFAN_BOLTZMANN * _layered(entry) * effective_emittance(sides)
    return Term(
        path=f"{path}.layers",
        what=f"ideal stack of {layers.count} layers",
        parts=_links(entry, f"{path}.layers", RADIATION, strength),
        source=_joined(
            "shields in series, in closed form: derived", _as_the_layers(layers), entry.note
        ),
    )


def _as_the_layers(layers: Layers) -> str:
    """Which faces of an ideal stack are not stated, and so are taken as those of its layers."""
    faces = {"covered surface": layers.covered, "outer layer": layers.outer}
    left = [face for face, emittance in faces.items() if emittance is None]
    return f"{' and '.join(left)} as the layers" if left else ""


def _with_separator(
    entry: Blanket, layers: Layers, path: str, around: Surroundings
) -> Iterator[Term]:
    facts, density = _facts(layers, around), layers.per_length or 0.0
    emittance = layers.emittance or facts.emittance
    if emittance is None:
        raise ValueError(
            f"the separator '{facts.name}' states no emittance of the layers it was fitted for: "
            "give `layers` their `emittance`"
        )
    of = "of the formula" if layers.emittance is None else "as stated"
    radiative = Potential(exponent=facts.radiation_exponent)
    radiation = radiation_strength(facts, layers.count, emittance)
    area = _layered(entry)
    left = area * (1.0 - sum(part.share for part in layers.compressed.values()))
    outside = beyond(facts, layers.count, density)
    source = _joined(facts.source, entry.note)
    above = f"{path}.layers"
    yield Term(
        path=f"{above}.separator",
        what=f"conduction through separators, {facts.name}",
        parts=_links(
            entry,
            f"{above}.separator",
            SQUARE,
            left * conduction_strength(facts, layers.count, density),
        ),
        source=source,
        beyond=outside,
    )
    yield Term(
        path=f"{above}.radiation",
        what=f"radiation between layers of emittance {emittance:g}, {of}",
        parts=_links(entry, f"{above}.radiation", radiative, left * radiation),
        source=source,
        beyond=outside,
    )
    for name, part in layers.compressed.items():
        here, share = f"{above}.compressed.{name}", area * part.share
        conduction = conduction_strength(facts, layers.count, part.density)
        yield Term(
            path=here,
            what="compressed layers, conduction and radiation",
            parts=(
                *_links(entry, here, SQUARE, share * conduction),
                *_links(entry, here, radiative, share * radiation),
            ),
            source=_joined(part.note, facts.source),
            beyond=beyond(facts, layers.count, part.density),
        )


def _facts(layers: Layers, around: Surroundings) -> SeparatorFacts:
    name = layers.separator or ""
    if name not in around.separators:
        raise ValueError(f"its separator '{name}' lacks a coefficient of the formula")
    return around.separators[name]


def _spoiled(entry: Blanket, path: str) -> Iterator[Term]:
    """Seams, fixings and openings."""
    for name, seam in entry.seams.items():
        yield _seam(entry, seam, f"{path}.seams.{name}")
    for name, fixing in entry.fixings.items():
        yield _fixing(entry, fixing, f"{path}.fixings.{name}")
    for name, opening in entry.openings.items():
        here = f"{path}.openings.{name}"
        strength = STEFAN_BOLTZMANN * entry.open_area(name) * opening.emittance * entry.bound
        yield Term(
            path=here,
            what=f"opening to {opening.to}",
            parts=_links(entry, here, RADIATION, strength, to=opening.to),
            source=opening.note,
        )


def _seam(entry: Blanket, seam: Seam, path: str) -> Term:
    if seam.width is not None:
        strength = STEFAN_BOLTZMANN * seam.length * seam.width * seam.emittance * entry.bound
        parts = _links(entry, path, RADIATION, strength, to=seam.to)
        what = "open line of a seam" if seam.to is None else f"open line of a seam to {seam.to}"
        return Term(path=path, what=what, parts=parts, source=seam.note)
    if seam.overlap is not None and seam.sheet_conductance is not None:
        lengthwise = overlap_conductance(seam.length, seam.sheet_conductance, seam.overlap)
        parts = _links(entry, path, CONDUCTION, lengthwise * entry.bound)
        estimate = "heat along the layers over the overlap: derived, an estimate"
        source = _joined(seam.note, estimate)
        return Term(path=path, what="overlapped seam", parts=parts, source=source)
    strength = seam.length * (seam.conductance or 0.0) * entry.bound
    parts = _links(entry, path, CONDUCTION, strength)
    return Term(path=path, what="seam", parts=parts, source=seam.note)


def _fixing(entry: Blanket, fixing: Fixing, path: str) -> Term:
    strength = fixing.count * fixing.of_each * entry.bound
    number = "1 fixing" if fixing.count == 1 else f"{fixing.count} fixings"
    return Term(
        path=path,
        what=number if fixing.to is None else f"{number} to {fixing.to}",
        parts=_links(entry, path, CONDUCTION, strength, to=fixing.to),
        source=fixing.note,
    )


def _layered(entry: Blanket) -> float:
    """Area [m2] of the layers, times the factor and the bound on what they let through."""
    return entry.closed_area * entry.factor * entry.bound


def _links(
    entry: Blanket, origin: str, potential: Potential, strength: float, to: str | None = None
) -> tuple[LinkPart, ...]:
    """The link of a term, from the covered node to the outer face unless it leads elsewhere."""
    link = LinkPart(
        a=entry.from_, b=to or entry.to, strength=strength, potential=potential, origin=origin
    )
    return (link,)


def _joined(*sources: str) -> str:
    return "; ".join(source for source in sources if source)
