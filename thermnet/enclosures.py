"""Enclosures of a model: how well their view factors keep to the rules, and what they make."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermnet.model.assemble import surroundings
from thermnet.model.kinds.enclosure import Geometry, geometry
from thermnet.model.kinds.enclosure_entry import Enclosure, Enclosures
from thermnet.model.model import Model
from thermnet.model.plan import plan
from thermnet.physics.curves import Floats
from thermnet.physics.exchange import Indices, exchanging


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FaceRow:
    """One face: its node ("" where it re-radiates), area [m2], emittance (0 where it re-radiates),
    the sum of its view factors, and of its exchange areas [m2] with all other faces.
    """

    face: str
    node: str
    area: float
    emittance: float
    closure: float
    exchange: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EnclosureTable:
    """One enclosure.

    `lacking` is by how much a sum of view factors is off 1 at the most, below 0 where a face looks
    at nothing with a part of its view, and `lacking_at` is that face;
    `missed` the most that two view factors miss reciprocity, as one of the smaller face, between
    which (`missed_at`). With `repair` asked for, `moved` is the most that one view factor changed,
    of which pair `moved_at`, and `moved_share` the most relative to itself; NaN without. `first`,
    `second` i4[k] and `area` f8[k] [m2] are pairs of faces and their exchange areas.
    """

    name: str
    faces: tuple[FaceRow, ...]
    lacking: float
    lacking_at: str
    missed: float
    missed_at: tuple[str, str]
    repair: bool
    moved: float
    moved_at: tuple[str, str]
    moved_share: float
    first: Indices
    second: Indices
    area: Floats


def enclosure_table(model: Model) -> tuple[EnclosureTable, ...]:
    """Every enclosure of a model with a case applied. Raises InputError, as `surroundings` does."""
    entries: dict[str, Enclosure | Enclosures] = {}
    entries |= model.entries(Enclosure, "enclosures")
    entries |= model.entries(Enclosures, "enclosures")
    if not entries:
        return ()
    around = surroundings(model, plan(model, model.case))
    return tuple(
        _table(name, entries[name], geometry(entries[name], around))
        for name in model.sections["enclosures"]
    )


def _table(name: str, entry: Enclosure | Enclosures, seen: Geometry) -> EnclosureTable:
    faces, names, closure = seen.faces, seen.faces.names, seen.closure
    first, second, area = exchanging(faces.area, seen.direct, faces.emittance)
    count = len(names)
    total = np.bincount(first, area, count) + np.bincount(second, area, count)
    worst = int(np.argmax(np.abs(closure - 1.0)))
    missed, missed_at = _largest(seen.missed.tocoo(), names)
    moved, moved_at = _largest(abs(seen.moved).tocoo(), names)
    return EnclosureTable(
        name=name,
        faces=tuple(
            FaceRow(
                face=names[k],
                node=faces.nodes[k],
                area=float(faces.area[k]),
                emittance=float(faces.emittance[k]),
                closure=float(closure[k]),
                exchange=float(total[k]),
            )
            for k in range(count)
        ),
        lacking=float(closure[worst] - 1.0),
        lacking_at=names[worst],
        missed=missed,
        missed_at=missed_at,
        repair=entry.repair,
        moved=moved if entry.repair else float("nan"),
        moved_at=moved_at,
        moved_share=_share(seen) if entry.repair else float("nan"),
        first=first,
        second=second,
        area=area,
    )


def _largest(matrix: object, names: tuple[str, ...]) -> tuple[float, tuple[str, str]]:
    data, row, column = (getattr(matrix, key) for key in ("data", "row", "col"))
    if not len(data) or data.max() <= 0.0:
        return 0.0, ("", "")
    k = int(np.argmax(data))
    return float(data[k]), (names[row[k]], names[column[k]])


def _share(seen: Geometry) -> float:
    """The most that a repair changed a view factor relative to what it was."""
    if seen.before is None:
        return float("nan")
    before, after = seen.before.copy(), seen.direct
    before.eliminate_zeros()
    return float(np.abs(after.multiply(before.power(-1)).data - 1.0).max(initial=0.0))
