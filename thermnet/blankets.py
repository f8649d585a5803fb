"""What leads heat through the blankets of a solved case, term by term, and where it is from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from thermnet.errors import Problem
from thermnet.model.assemble import surroundings
from thermnet.model.between import Between
from thermnet.model.kinds.blanket_entry import Blanket
from thermnet.model.kinds.blanket_gas import cold_gas, gas_term
from thermnet.model.kinds.blanket_practice import slips, unusual
from thermnet.model.kinds.blanket_term import Term
from thermnet.model.kinds.blanket_terms import terms
from thermnet.model.kinds.gas import Gas
from thermnet.model.kinds.gas import gas as gas_facts
from thermnet.model.kinds.kind import Surroundings
from thermnet.network.build import build
from thermnet.network.network import flows
from thermnet.network.parts import BoundaryPart, LinkPart
from thermnet.network.primitives import Floats
from thermnet.network.subset import blocks, subset
from thermnet.physics.blanket import beyond_at
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.physics.curves import Curve
from thermnet.physics.gas import GasFacts, conductivity
from thermnet.results import Result
from thermnet.solve.solution import Record
from thermnet.solve.steady import recorded

NOTHING = float("nan")
"""Stands for every number of a case that could not be solved, and for those that are none."""

LITTLE = 1e-9
"""Share of T^4 within which two faces count as equally warm: no emittance follows from that. Also
the share of what goes either way within which the terms of a blanket count as nothing together."""

LEAST_LEFT = 0.5
"""Share of the mean size of a difference that must be left in its mean over time. Where less is,
the faces swing about each other, and no emittance follows (a choice, no source)."""

CONDUCTIVITIES = 201
"""Temperatures from face to face at which the conductivity of a gas is looked up for its mean."""

NITROGEN = "nitrogen"
"""The gas that is asked after where a case has none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BlanketRow:
    """One term of a blanket in one case.

    `term` is its path, `place` the file, line and column of it, `source` where its numbers come
    from, "" where nobody says so. `heat` [W] is the mean heat flow out of the covered node; `share`
    its share of all terms together; `effective_emittance` is that of a blanket of the same area
    and faces through which this heat alone flows. `notes` say where numbers are used beyond what
    their source is good for.
    """

    case: str
    blanket: str
    term: str
    what: str
    heat: float
    share: float
    effective_emittance: float
    source: str
    place: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BlanketTotal:
    """All terms of a blanket in one case, by themselves in `terms`.

    `covered` and `outer` are the nodes of its faces, `covered_mean` and `outer_mean` [K] their mean
    temperatures, `area` [m2] what it covers. `heat` [W] is the mean heat flow out of the covered
    node through all terms, wherever they lead; `effective_emittance` is that heat over area times
    sigma (T_covered^4 - T_outer^4), the mean of the fourth powers and not the fourth power of the
    mean. It is not a number, nor are those of the terms, where the faces are equally warm, where
    they swing about each other over time so that less than half of the mean size of T_covered^4 -
    T_outer^4 is left in its mean, and where the heat of all terms flows against that mean.
    """

    case: str
    blanket: str
    covered: str
    outer: str
    area: float
    covered_mean: float
    outer_mean: float
    heat: float
    effective_emittance: float
    terms: tuple[BlanketRow, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OverPressure:
    """Heat flow through a blanket over the pressure of a gas between its layers.

    The faces stay at the mean temperatures [K] of a case. `pressure` f8[k] [Pa], `heat` f8[k] [W]
    out of the covered node through all terms; `vacuum` [W] is that without gas, `still` [W] what
    the gas alone would let through as a continuum at rest that fills the thickness of the layers.
    """

    case: str
    blanket: str
    gas: str
    covered_mean: float
    outer_mean: float
    pressure: Floats
    heat: Floats
    vacuum: float
    still: float


def blanket_table(result: Result) -> tuple[BlanketRow, ...]:
    """One row for each term of each blanket of a solved case, in the order of the file."""
    return tuple(row for total in blanket_totals(result) for row in total.terms)


def blanket_totals(result: Result) -> tuple[BlanketTotal, ...]:
    """Each blanket of a solved case with its terms, in the order of the file.

    The heat of a term is that of the links that come from it, at the samples of the record; over
    time it is the mean. Of a case that could not be solved no number is known.
    """
    around = surroundings(result.model, result.plan)
    entries = result.model.entries(Blanket, "blankets")
    known = {name: terms(entry, f"blankets.{name}", around) for name, entry in entries.items()}
    heat = {} if result.solution.failure else _heat_by_term(result, entries, known)
    found = [_total(result, name, entries[name], known[name], heat) for name in entries]
    return tuple(
        replace(total, notes=_notes(result, entries[total.blanket], around)) for total in found
    )


def over_pressure(
    result: Result, name: str, pressures: Sequence[float] | Floats, gas: str = ""
) -> OverPressure:
    """Heat flow through a blanket over the pressure [Pa] of a gas, its faces as they are on
    average in a solved case; nothing is solved again.

    The gas is one of the library or the model by its name, by default that of the case's
    atmosphere, or nitrogen where it has none. What an atmosphere states of accommodation belongs
    to its own gas: another one takes that of the model or the library.

    Raises KeyError for no such blanket, and ValueError where the gas is not known, the case is not
    solved, or the blanket does not say how many layers it has and how thick they are.
    """
    if result.solution.failure:
        raise ValueError(f"case '{result.case}' is not solved: {result.solution.failure}")
    entry, path = result.model.entries(Blanket, "blankets")[name], f"blankets.{name}"
    around = surroundings(result.model, result.plan)
    filled = _filled(result, around, gas)
    pressure = np.asarray(pressures, dtype=np.float64)
    found = terms(entry, path, replace(around, atmosphere=None))
    bare = [part for term in found for part in term.parts]
    alone = [
        gas_term(entry, path, replace(filled, pressure=float(each))).parts for each in pressure
    ]
    vacuum, *through = _heat_at_means(result, entry, [bare, *alone])
    return OverPressure(
        case=result.case,
        blanket=name,
        gas=filled.gas.name,
        covered_mean=_mean(result, entry.from_),
        outer_mean=_mean(result, entry.to),
        pressure=pressure,
        heat=vacuum + np.array(through),
        vacuum=float(vacuum),
        still=_still(result, entry, filled.gas),
    )


def _filled(result: Result, around: Surroundings, name: str) -> Between:
    """The gas between the layers: that of the case, another in its place, or nitrogen."""
    if around.atmosphere is not None and name in ("", around.atmosphere.gas.name):
        return around.atmosphere
    facts = gas_facts(name or NITROGEN, result.model.entries(Gas, "gases"))
    if around.atmosphere is None:
        return Between(gas=facts, pressure=0.0)
    return replace(around.atmosphere, gas=facts)


def _heat_by_term(
    result: Result, entries: Mapping[str, Blanket], known: Mapping[str, tuple[Term, ...]]
) -> dict[str, float]:
    """Mean heat flow [W] out of the covered node through the links of each term, by its path."""
    record, network = result.solution.record, recorded(result.network, result.solution)
    covered = {
        term.path: network.index(entries[name].from_) for name in entries for term in known[name]
    }
    of_term = np.array([origin in covered for origin in network.origins], dtype=bool)
    few = subset(network, links=of_term[network.links.origin])
    links = few.links
    total = np.zeros(len(links.a))
    for part in blocks(len(record.time), few.histories.start.shape[-1] + 3 * len(links.a)):
        flow = flows(few, record.temperature[part], record.local_time[part])
        total += record.weight[part] @ flow
    heat = dict.fromkeys(covered, 0.0)
    mean = total / record.weight.sum()
    for a, origin, value in zip(links.a, links.origin, mean, strict=True):
        path = network.origins[origin]
        heat[path] += float(value) if a == covered[path] else -float(value)
    return heat


def _total(
    result: Result, name: str, entry: Blanket, found: Sequence[Term], heat: Mapping[str, float]
) -> BlanketTotal:
    solved = not result.solution.failure
    total = sum(heat[term.path] for term in found) if solved else NOTHING
    ends = (result.network.index(end) for end in (entry.from_, entry.to))
    difference = mean_difference(result.solution.record, *ends) if solved else NOTHING
    emitted = entry.area * STEFAN_BOLTZMANN * difference
    if total * emitted < 0.0:
        emitted = NOTHING
    either_way = sum(abs(heat[term.path]) for term in found) if solved else NOTHING
    whole = NOTHING if abs(total) <= LITTLE * either_way else total
    rows = tuple(
        BlanketRow(
            case=result.case,
            blanket=name,
            term=term.path,
            what=term.what,
            heat=heat.get(term.path, NOTHING),
            share=_over(heat.get(term.path, NOTHING), whole),
            effective_emittance=_over(heat.get(term.path, NOTHING), emitted),
            source=term.source,
            place=_place(result, name, term.path),
            notes=term.beyond,
        )
        for term in found
    )
    return BlanketTotal(
        case=result.case,
        blanket=name,
        covered=entry.from_,
        outer=entry.to,
        area=entry.area,
        covered_mean=_mean(result, entry.from_) if solved else NOTHING,
        outer_mean=_mean(result, entry.to) if solved else NOTHING,
        heat=total,
        effective_emittance=_over(total, emitted),
        terms=rows,
    )


def _notes(result: Result, entry: Blanket, around: Surroundings) -> tuple[str, ...]:
    """What is to be said of a whole blanket: how it compares, and at what temperatures it is."""
    if result.solution.failure:
        return ()
    notes = slips(entry) + unusual(entry, around)
    layers = entry.layers
    network, lowest = result.network, result.solution.extremes.lowest.min(axis=0)
    one, other = (float(lowest[network.index(end)]) for end in (entry.from_, entry.to))
    if around.atmosphere is not None and around.atmosphere.pressure != 0.0:
        notes += cold_gas(around.atmosphere.gas, min(one, other))
    if layers is None or layers.separator is None or layers.separator not in around.separators:
        return notes
    return notes + beyond_at(around.separators[layers.separator], one, other)


def mean_difference(record: Record, covered: int, outer: int) -> float:
    """Mean over time of T^4 of a covered node less that of its outer face [K4], by their places.

    Not a number where they are as good as equally warm, or swing about each other so that most of
    it cancels: no effective emittance follows from that.
    """
    powers = record.temperature[:, [covered, outer]] ** 4
    share = record.weight / record.weight.sum()
    warm, cool = share @ powers
    even = abs(warm - cool) <= LITTLE * max(warm, cool)
    size = share @ np.abs(powers[:, 0] - powers[:, 1])
    swings = abs(warm - cool) < LEAST_LEFT * size
    return NOTHING if even or swings else float(warm - cool)


def _mean(result: Result, node: str) -> float:
    return float(result.solution.mean[result.network.index(node)])


def _over(part: float, whole: float) -> float:
    return part / whole if whole else NOTHING


def _place(result: Result, blanket: str, path: str) -> str:
    """File, line and column of the term of a blanket, or of what it lies below; "" for none.

    The gas of a term is that of the case's atmosphere, and stands there.
    """
    if path == f"blankets.{blanket}.gas":  # not a seam or a blanket of that name
        path = f"atmospheres.{result.plan.atmosphere}"
    (problem,) = result.model.located([Problem(message="", path=path)])
    return "" if problem.place is None else str(problem.place)


def _still(result: Result, entry: Blanket, gas: GasFacts) -> float:
    """Heat flow [W] by conduction of a gas that fills the thickness of the layers, at rest: the
    integral of its conductivity from face to face, over the thickness. Derived from Fourier's law.
    """
    if entry.gas_thickness is None:
        return NOTHING
    covered, outer = _mean(result, entry.from_), _mean(result, entry.to)
    share = np.linspace(0.0, 1.0, CONDUCTIVITIES)
    known = conductivity(gas, outer + share * (covered - outer))
    mean = float(Curve(x=share, y=known).integral(np.array([1.0]))[0])
    return entry.closed_area * mean * (covered - outer) / entry.gas_thickness


def _heat_at_means(result: Result, entry: Blanket, sets: Sequence[Sequence[LinkPart]]) -> Floats:
    """Heat flow f8[k] [W] out of the covered node through each of k sets of links, whose ends are
    held at the mean temperatures of a case.
    """
    parts = [replace(part, origin=str(k)) for k, each in enumerate(sets) for part in each]
    ends = dict.fromkeys(
        end for part in parts for end in (part.a, part.b, part.sensor or entry.from_)
    )
    held = [BoundaryPart(name=end, temperature=_mean(result, end)) for end in ends]
    network = build([*held, *parts])
    flow = flows(network, network.boundary_mean, 0.0)
    outward = np.where(network.links.a == network.index(entry.from_), flow, -flow)
    owner = np.array([int(network.origins[k]) for k in network.links.origin], dtype=np.intp)
    return np.bincount(owner, outward, len(sets)).astype(np.float64)
