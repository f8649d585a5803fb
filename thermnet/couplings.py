"""What every coupling of a solved case carries, and between which temperatures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermnet.model.kinds import KINDS
from thermnet.network.network import Network, flows
from thermnet.network.primitives import Floats
from thermnet.network.subset import blocks
from thermnet.results import Result
from thermnet.solve.steady import recorded
from thermnet.used import rows_of_entries, rows_used

NOTHING = float("nan")
"""Stands for a number that there is not."""

ALIKE = 1e-3
"""Difference [K] of mean temperatures below which no conductance is told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CouplingRow:
    """What one entry carries between two nodes in a case.

    `entry` is its path, `of` and `to` are the nodes; all links of the entry between the two count
    together. `from_temperature` and `to_temperature` [K] are means over time; `heat` [W] is the
    mean from the one to the other, `least` and `most` those of an instant [s]. `conductance` [W/K]
    is the mean heat over the difference of the means, of an entry that conducts; NaN for one that
    radiates, for a fluid, and where there is next to no difference. `rows` are those that
    the entry stands on, of the library or the model's own.
    """

    case: str
    entry: str
    of: str
    to: str
    from_temperature: float
    to_temperature: float
    heat: float
    least: float
    least_at: float
    most: float
    most_at: float
    conductance: float
    rows: tuple[str, ...]


def coupling_table(result: Result) -> tuple[CouplingRow, ...]:
    """A row for each pair of nodes that an entry couples, in the order of the model's sections.

    None for a case that is not solved.
    """
    if result.solution.failure:
        return ()
    solution, network = result.solution, recorded(result.network, result.solution)
    pairs = _pairs(network)
    heat, least, most = _through(network, result, pairs)
    rows = rows_of_entries(rows_used(result.model, [result.case]))
    mean, time, found = solution.mean, solution.record.time, []
    for k in range(len(pairs.entry)):
        entry = pairs.entries[pairs.entry[k]]
        warm, cold = float(mean[pairs.a[k]]), float(mean[pairs.b[k]])
        conductance = NOTHING
        if pairs.conducts[k] and abs(warm - cold) > ALIKE:
            conductance = float(heat[k]) / (warm - cold) + 0.0  # no minus before a zero
        found.append(
            CouplingRow(
                case=result.case,
                entry=entry,
                of=network.names[pairs.a[k]],
                to=network.names[pairs.b[k]],
                from_temperature=warm,
                to_temperature=cold,
                heat=float(heat[k]),
                least=float(least.value[k]),
                least_at=float(time[least.at[k]]),
                most=float(most.value[k]),
                most_at=float(time[most.at[k]]),
                conductance=conductance,
                rows=rows.get(entry, ()),
            )
        )
    order = {
        f"{section}.{name}": (k, j)
        for k, section in enumerate(KINDS)
        for j, name in enumerate(result.model.sections[section])
    }
    return tuple(sorted(found, key=lambda row: order[row.entry]))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pairs:
    """Pairs of nodes that entries couple: nodes `a` and `b`, and the place of the entry.

    `of` is the pair that each link and flow link belongs to, and `sign` +1 or -1 as it goes from a
    to b or back; `order` sorts links by pair, and pair k begins at `begin[k]` of them. `conducts`
    says of each pair whether all its links conduct.
    """

    entries: tuple[str, ...]
    entry: np.ndarray[tuple[int, ...], np.dtype[np.int64]]
    a: np.ndarray[tuple[int, ...], np.dtype[np.int64]]
    b: np.ndarray[tuple[int, ...], np.dtype[np.int64]]
    sign: Floats
    order: np.ndarray[tuple[int, ...], np.dtype[np.int64]]
    begin: np.ndarray[tuple[int, ...], np.dtype[np.int64]]
    conducts: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Extreme:
    """The extreme [W] of each pair, and at which sample it was met."""

    value: Floats
    at: np.ndarray[tuple[int, ...], np.dtype[np.int64]]


def _pairs(network: Network) -> _Pairs:
    links, carried, size = network.links, network.flow_links, len(network.names)
    own = [".".join(origin.split(".")[:2]) for origin in network.origins]
    entries = tuple(dict.fromkeys(own))
    place = {entry: k for k, entry in enumerate(entries)}
    of_origin = np.array([place[entry] for entry in own], dtype=np.int64)
    a = np.concatenate([links.a, carried.a]).astype(np.int64)
    b = np.concatenate([links.b, carried.b]).astype(np.int64)
    entry = of_origin[np.concatenate([links.origin, carried.origin])]
    # A fluid goes one way; two links between the same nodes may be stated either way round.
    fluid = np.arange(len(a)) >= len(links.a)
    low, high = np.where(fluid, a, np.minimum(a, b)), np.where(fluid, b, np.maximum(a, b))
    key = (entry * size + low) * size + high
    found, first, of = np.unique(key, return_index=True, return_inverse=True)
    rank = np.argsort(first, kind="stable")  # in the order in which pairs are first met
    of = np.argsort(rank, kind="stable")[of.ravel()]
    first = first[rank]
    order = np.argsort(of, kind="stable")
    conducts = np.append(links.of_law("conduction"), np.zeros(len(carried.a), dtype=bool))
    return _Pairs(
        entries=entries,
        entry=entry[first],
        a=a[first],
        b=b[first],
        sign=np.where(a == a[first][of], 1.0, -1.0),
        order=order,
        begin=np.searchsorted(of[order], np.arange(len(found))),
        conducts=np.bincount(of, ~conducts, len(found)) == 0,
    )


def _through(network: Network, result: Result, pairs: _Pairs) -> tuple[Floats, _Extreme, _Extreme]:
    """Mean, least and greatest heat [W] of each pair over the record."""
    record, count = result.solution.record, len(pairs.entry)
    weight = record.weight / record.weight.sum()
    mean = np.zeros(count)
    least = _Extreme(value=np.full(count, np.inf), at=np.zeros(count, dtype=np.int64))
    most = _Extreme(value=np.full(count, -np.inf), at=np.zeros(count, dtype=np.int64))
    if not count:
        return mean, least, most
    for part in blocks(len(record.time), len(pairs.sign) + len(network.names)):
        through = flows(network, record.temperature[part], record.local_time[part])
        through[:, len(network.links.a) :] = _risen(network, record.temperature[part], through)
        each = np.add.reduceat((through * pairs.sign)[:, pairs.order], pairs.begin, axis=1)
        mean += weight[part] @ each
        for extreme, lower in ((least, True), (most, False)):
            row = each.argmin(axis=0) if lower else each.argmax(axis=0)
            value = each[row, np.arange(count)]
            beyond = value < extreme.value if lower else value > extreme.value
            extreme.value[beyond] = value[beyond]
            extreme.at[beyond] = row[beyond] + part.start
    return mean, least, most


def _risen(network: Network, temperature: Floats, through: Floats) -> Floats:
    """Heat [W] that each flow link brings by the temperature of its fluid above that of its end."""
    carried = network.flow_links
    fluid = through[:, len(network.links.a) :]
    return np.asarray(fluid * (1.0 - temperature[:, carried.b] / temperature[:, carried.a]))
