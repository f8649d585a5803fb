"""Enclosures: faces that see each other, to the couplings between their nodes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array, csr_array

from thermnet.model.kinds.enclosure_entry import BOX, Box, Enclosure, Enclosures
from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.model.surrounded import Surrounded
from thermnet.network.parts import RADIATION, LinksPart, Part
from thermnet.network.primitives import Indices
from thermnet.physics import exchange
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.physics.curves import Floats
from thermnet.physics.view_factors import parallel_rectangles, perpendicular_rectangles

LOOSE = 1e-3
"""How far closure or reciprocity of a face may be off without a word, as a view factor."""

GROSS = 0.1
"""How far two views of each other may miss reciprocity and still be two counts of one thing."""

SCATTER = 0.05
"""Change of a view factor by a repair that is worth a word."""

ROUNDING = 1e-6
"""How far a sum of view factors may pass 1 by rounding."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Geometry:
    """How the faces of an enclosure see each other.

    `factor` n x n are the view factors as stated; `direct` n x n [m2] the direct exchange areas
    that count, after the rest has been given away and a repair has been done; `before` those before
    the repair, None without one.
    """

    faces: Surrounded
    factor: csr_array
    direct: csr_array
    before: csr_array | None = None

    @property
    def closure(self) -> Floats:
        """Sum of the view factors of each face, as they count."""
        return exchange.closure(self.faces.area, self.direct)

    @property
    def missed(self) -> csr_array:
        """How far view factors stated both ways miss reciprocity, n x n."""
        return exchange.reciprocity(self.faces.area, self.factor)

    @property
    def moved(self) -> csr_array:
        """By how much a repair has changed each view factor, n x n; of no entries without one."""
        if self.before is None:
            return csr_array(self.direct.shape)
        return csr_array((self.direct - self.before).multiply(1.0 / self.faces.area[:, None]))


def geometry(entry: Enclosure | Enclosures, around: Surroundings) -> Geometry:
    """How the faces of an enclosure see each other in a case.

    Raises ValueError for faces that see more than there is, for a pair that is stated twice or
    grossly against reciprocity, and for a repair that does not succeed.
    """
    faces, factor, rest = _stated(entry, around)
    if (worst := _most(exchange.reciprocity(faces.area, factor))) and worst[2] > GROSS:
        raise ValueError(
            f"'{faces.names[worst[0]]}' and '{faces.names[worst[1]]}' see each other by view "
            f"factors that miss reciprocity by {worst[2]:.4f}: check them and the areas, or state "
            "one way alone"
        )
    direct = exchange.direct_areas(faces.area, factor)
    if rest is not None:
        direct = _with_rest(faces, direct, rest)
    before = None
    sums = exchange.closure(faces.area, direct)
    if entry.repair:
        if (sums <= 0.0).any():
            blind = faces.names[int(np.argmin(sums))]
            raise ValueError(f"face '{blind}' sees nothing: no repair closes it")
        before, direct = direct, exchange.repaired(faces.area, direct)
    else:
        most = int(np.argmax(sums))
        if sums[most] > 1.0 + LOOSE:
            raise ValueError(
                f"the view factors of face '{faces.names[most]}' sum to {sums[most]:.4f}: check "
                "them and the areas, or say `repair: true`"
            )
    return Geometry(faces=faces, factor=factor, direct=direct, before=before)


def _most(matrix: csr_array) -> tuple[int, int, float] | None:
    """Place and size of the largest entry, in amount; None for a matrix without any."""
    found = matrix.tocoo()
    if not len(found.data):
        return None
    k = int(np.argmax(abs(found.data)))
    return int(found.row[k]), int(found.col[k]), abs(float(found.data[k]))


def _stated(
    entry: Enclosure | Enclosures, around: Surroundings
) -> tuple[Surrounded, csr_array, int | None]:
    """Faces, view factors as stated, and the place of the face that takes the rest."""
    if isinstance(entry, Enclosures):
        faces = around.faces[entry.faces]
        place = {name: k for k, name in enumerate(faces.names)}
        labels = [place.get(label, -1) for label in entry.table.labels]
        of_label, ends = np.array(labels, dtype=np.int32), entry.table.ends
        row, column = (
            ends[head].at if ends[head].counted else of_label[ends[head].at]
            for head in ("from", "to")
        )
        if min(row.min(initial=0), column.min(initial=0)) < 0:
            lost = entry.table.labels[labels.index(-1)]
            raise ValueError(f"'{lost}' is no face of the table '{entry.faces}'")
        return faces, _matrix(faces, row, column, entry.table.numbers["factor"]), None
    names = tuple(entry.faces)
    faces = Surrounded(
        names=names,
        nodes=tuple(face.node or "" for face in entry.faces.values()),
        area=np.array([entry.areas[name] for name in names]),
        emittance=np.array(
            [
                1.0 if face.opening
                else 0.0 if face.reradiating
                else face.emittance if face.emittance is not None
                else around.shelf.emittance(face.finish or "")
                for face in entry.faces.values()
            ]
        ),
    )  # fmt: skip
    place = {name: k for k, name in enumerate(names)}
    stated = {(view.from_, view.to): view.value for view in entry.views.values()}
    for view in entry.views.values():
        if view.around:  # the outer sees the inner by the ratio of areas (C-91, C-131)
            left = 1.0 - entry.areas[view.from_] / entry.areas[view.to]
            stated.setdefault((view.to, view.to), left)
    views = [(first, second, value) for (first, second), value in stated.items()]
    if entry.box is not None:
        views = list(_of_box(entry.box))
    row = np.array([place[a] for a, _, _ in views], dtype=np.int32)
    column = np.array([place[b] for _, b, _ in views], dtype=np.int32)
    factor = _matrix(faces, row, column, np.array([value for _, _, value in views]))
    return faces, factor, None if entry.rest is None else place[entry.rest]


def _of_box(box: Box) -> Iterator[tuple[str, str, float]]:
    """How the faces of a box see each other, each pair once."""
    size = {BOX[0]: box.height, BOX[2]: box.width, BOX[4]: box.length}
    extent = {
        BOX[0]: (box.length, box.width), BOX[2]: (box.length, box.height),
        BOX[4]: (box.width, box.height),
    }  # fmt: skip
    for first, second in zip(BOX[0::2], BOX[1::2], strict=True):
        yield first, second, parallel_rectangles(*extent[first], size[first])
    pairs = {
        (0, 2): (box.length, box.width, box.height), (0, 4): (box.width, box.length, box.height),
        (2, 4): (box.height, box.length, box.width),
    }  # fmt: skip
    for (a, b), lengths in pairs.items():
        for first in BOX[a : a + 2]:
            for second in BOX[b : b + 2]:
                yield first, second, perpendicular_rectangles(*lengths)


def _matrix(faces: Surrounded, row: Indices, column: Indices, value: Floats) -> csr_array:
    size = len(faces.names)
    pair = row.astype(np.int64) * size + column
    ordered = np.sort(pair)
    again = ordered[1:] == ordered[:-1]
    if again.any():
        first, second = divmod(int(ordered[1:][again][0]), size)
        raise ValueError(f"how '{faces.names[first]}' sees '{faces.names[second]}' is stated twice")
    return csr_array(coo_array((value, (row, column)), (size, size)))


def _with_rest(faces: Surrounded, direct: csr_array, rest: int) -> csr_array:
    """Every face sees the one that takes the rest with what its views leave."""
    lacking = faces.area - np.asarray(direct.sum(axis=1)).ravel()
    lacking[rest] = 0.0
    if (lacking < -ROUNDING * faces.area).any():
        worst = int(np.argmin(lacking / faces.area))
        seen = 1.0 - lacking[worst] / faces.area[worst]
        raise ValueError(
            f"the view factors of face '{faces.names[worst]}' sum to {seen:.6f}: check them and "
            "the areas"
        )
    lacking = np.maximum(lacking, 0.0)
    own = faces.area[rest] - float(direct[[rest]].sum()) - float(lacking.sum())
    if own < -ROUNDING * faces.area[rest]:
        raise ValueError(
            f"the views of the others upon '{faces.names[rest]}' take "
            f"{1.0 - own / faces.area[rest]:.4f} of its area: it is too small to take the rest"
        )
    lacking[rest] = max(own, 0.0)
    place = np.arange(len(lacking))
    there = np.full(len(lacking), rest)
    other = place != rest
    row, column = np.append(place, there[other]), np.append(there, place[other])
    values = np.append(lacking, lacking[other])
    return csr_array(direct + csr_array(coo_array((values, (row, column)), direct.shape)))


def expand(
    name: str, entry: Enclosure | Enclosures, path: str, around: Surroundings
) -> tuple[Part, ...]:
    seen = geometry(entry, around)
    faces = seen.faces
    first, second, area = exchange.exchanging(faces.area, seen.direct, faces.emittance)
    nodes = tuple(dict.fromkeys(node for node in faces.nodes if node))
    place = {node: k for k, node in enumerate(nodes)}
    at = np.array([place.get(node, -1) for node in faces.nodes], dtype=np.int32)
    apart = at[first] != at[second]  # two faces of one node exchange nothing
    part = LinksPart(
        nodes=nodes,
        a=at[first[apart]],
        b=at[second[apart]],
        strength=STEFAN_BOLTZMANN * area[apart],
        potential=RADIATION,
        origin=path,
    )
    return (part,)


def loose(entry: Enclosure | Enclosures, around: Surroundings) -> Iterator[str]:
    """Sentences about view factors that miss a rule, or that a repair changes by much."""
    seen = geometry(entry, around)
    names = seen.faces.names
    if entry.repair:
        if (moved := _most(seen.moved)) and moved[2] > SCATTER:
            yield (
                f"the repair changes how '{names[moved[0]]}' sees '{names[moved[1]]}' by "
                f"{moved[2]:.3f}, more than the scatter of a ray count: is a face missing, or an "
                "area wrong?"
            )
        return
    closure = seen.closure
    worst = int(np.argmin(closure))
    if closure[worst] < 1.0 - LOOSE:
        yield (
            f"face '{names[worst]}' looks at nothing with {1.0 - closure[worst]:.4f} of its view, "
            "which takes part in no exchange: name a face that takes the `rest`, an opening, or "
            "say `repair: true`"
        )
    if (missed := _most(seen.missed)) and missed[2] > LOOSE:
        yield (
            f"'{names[missed[0]]}' and '{names[missed[1]]}' see each other by view factors that "
            f"miss reciprocity by {missed[2]:.4f}; the mean of both ways is taken"
        )


KIND = Kind(
    section="enclosures", entry=Enclosure, expand=expand, table=Enclosures, expand_table=expand
)
