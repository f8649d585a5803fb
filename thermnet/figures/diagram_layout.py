"""Places for the nodes of a diagram: linked nodes near each other, and no two names overlapping.

Plain arrays in and out, in mm, the same on every machine: no random numbers, no iteration until
"good enough" but for a fixed count.
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import shortest_path

from thermnet.network.primitives import Floats, Indices

ROUNDS, PUSHES = 200, 300
FILLED = 0.4
"""Share of the page that the boxes may take."""
LEAST_HEIGHT = 45.0
GRID = 2.0
"""Pitch [mm] of the places to which a box moves that could not be pushed free."""


def arrange(
    pairs: Indices, boxes: Floats, width: float, most_height: float
) -> tuple[Floats, float, float]:
    """Middles f8[n, 2] of n boxes, and the width and height of the page that they take.

    `pairs` i4[m, 2] are the linked boxes, `boxes` f8[n, 2] their widths and heights, all in mm. The
    page is as tall as they need, and is larger both ways than `width` by `most_height` only if
    they do not fit otherwise.
    """
    drawn = _stress_layout(_distances(pairs, len(boxes)))
    area = float(boxes.prod(axis=1).sum()) / FILLED
    height = min(max(area / width, LEAST_HEIGHT), most_height)
    larger = max(1.0, area / (width * height)) ** 0.5
    size = np.array([width, height]) * larger
    if size[0] > size[1]:
        drawn = drawn[:, ::-1]
    while True:
        middles = _settle(_push_apart(_fit(drawn, boxes, size), boxes, size), boxes, size)
        if not overlaps(middles, boxes).any():
            return middles, float(size[0]), float(size[1])
        size = size * (1.1 if size[1] >= most_height else np.array([1.0, 1.1]))


def overlaps(middles: Floats, boxes: Floats) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """b1[n, n]: which boxes overlap, itself not counted."""
    depth = _depths(middles, boxes)
    return np.asarray((depth > 1e-6).all(axis=2))


def _distances(pairs: Indices, count: int) -> Floats:
    """Number of links between each two nodes; islands stand a little apart."""
    graph = csr_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    steps = np.asarray(shortest_path(graph, directed=False, unweighted=True))
    near = np.isfinite(steps)
    steps[~near] = steps[near].max(initial=1.0) + 1.0
    return steps


def _stress_layout(distance: Floats) -> Floats:
    """Points f8[n, 2] whose distances follow the given ones, near pairs most (stress majorization).

    Gansner, Koren and North, Graph drawing by stress majorization, 2004: each round solves the
    weighted problem that bounds the stress from above. The first axis is the longest one.
    """
    count = len(distance)
    if count == 1:
        return np.zeros((1, 2))
    golden = np.pi * (3.0 - np.sqrt(5.0))
    number = np.arange(count)
    # Classical scaling starts it; a little of a fixed spiral settles what symmetry leaves open.
    spiral = np.sqrt(number + 0.5)[:, None] * np.column_stack(
        [np.cos(golden * number), np.sin(golden * number)]
    )
    points = _classical_scaling(distance) + 0.02 * spiral
    apart = np.where(distance > 0.0, distance, 1.0)
    weight = np.where(distance > 0.0, apart**-2.0, 0.0)
    laplacian = np.diag(weight.sum(axis=1)) - weight
    inverse = np.linalg.pinv(laplacian)
    for _ in range(ROUNDS):
        between = np.linalg.norm(points[:, None] - points[None], axis=2)
        pull = -weight * distance / np.maximum(between, 1e-9)
        np.fill_diagonal(pull, 0.0)
        pull -= np.diag(pull.sum(axis=1))
        points = inverse @ (pull @ points)
    centred = points - points.mean(axis=0)
    _, axes = np.linalg.eigh(centred.T @ centred)
    turned = centred @ axes[:, ::-1]
    return np.asarray(turned * np.where(turned[np.abs(turned).argmax(axis=0), [0, 1]] < 0, -1, 1))


def _classical_scaling(distance: Floats) -> Floats:
    """Two-dimensional points by the leading axes of the doubly centred squared distances."""
    # A fixed slight unevenness keeps the axes of symmetric networks from being arbitrary.
    number = np.arange(len(distance))
    uneven = 1.0 + 1e-3 * np.sin(1.0 + number[:, None] * number[None])
    squared = (distance * uneven) ** 2
    squared -= squared.mean(axis=0) + squared.mean(axis=1)[:, None] - squared.mean()
    values, vectors = np.linalg.eigh(-0.25 * (squared + squared.T))
    leading = vectors[:, -2:] * np.sqrt(np.maximum(values[-2:], 1e-9))
    return np.asarray(
        leading * np.where(leading[np.abs(leading).argmax(axis=0), [0, 1]] < 0, -1, 1)
    )


def _fit(points: Floats, boxes: Floats, size: Floats) -> Floats:
    """Points stretched over the page so that their boxes stand within it; y is the longer axis."""
    points = points[:, ::-1]
    low, high = points.min(axis=0), points.max(axis=0)
    share = (points - low) / np.maximum(high - low, 1e-9)
    share[:, high - low < 1e-6] = 0.5
    return np.asarray(boxes / 2.0 + share * (size - boxes))


def _depths(middles: Floats, boxes: Floats) -> Floats:
    """How far each two boxes reach into each other in x and y, f8[n, n, 2]; negative if apart."""
    apart = np.abs(middles[:, None] - middles[None])
    depth = (boxes[:, None] + boxes[None]) / 2.0 - apart
    own = np.arange(len(boxes))
    depth[own, own] = -1.0
    return np.asarray(depth)


def _push_apart(middles: Floats, boxes: Floats, size: Floats) -> Floats:
    """Move overlapping boxes apart by the shorter way, again and again, within the page."""
    number = np.arange(len(boxes))
    before = np.where(number[:, None] < number[None], -1.0, 1.0)
    for _ in range(PUSHES):
        depth = _depths(middles, boxes)
        hit = (depth > 0.0).all(axis=2)
        if not hit.any():
            break
        across = depth[..., 0] < depth[..., 1]
        move = np.zeros_like(middles)
        for axis, chosen in ((0, across), (1, ~across)):
            difference = middles[:, None, axis] - middles[None, :, axis]
            way = np.where(difference == 0.0, before, np.sign(difference))
            move[:, axis] = (np.where(hit & chosen, depth[..., axis] + 0.05, 0.0) * way).sum(axis=1)
        # A bit over half of each depth, for both boxes move; less where many push at once.
        middles = middles + 0.52 * move / np.maximum(hit.sum(axis=1), 1)[:, None] ** 0.5
        middles = np.clip(middles, boxes / 2.0, size - boxes / 2.0)
    return np.asarray(middles)


def _settle(middles: Floats, boxes: Floats, size: Floats) -> Floats:
    """Put each box that still overlaps another into the nearest free place of a fine grid."""
    settled = middles.copy()
    for k in range(len(boxes)):
        if not overlaps(settled, boxes)[k].any():
            continue
        low, high = boxes[k] / 2.0, size - boxes[k] / 2.0
        across, down = (np.arange(low[axis], high[axis], GRID) for axis in (0, 1))
        free = np.ones((len(across), len(down)), dtype=bool)
        for other in range(len(boxes)):
            if other != k:
                reach = (boxes[other] + boxes[k]) / 2.0
                near = np.abs(across - settled[other, 0]) < reach[0]
                free[np.ix_(near, np.abs(down - settled[other, 1]) < reach[1])] = False
        away = (across[:, None] - settled[k, 0]) ** 2 + (down - settled[k, 1]) ** 2
        if free.any():
            away[~free] = np.inf
            first, second = np.unravel_index(away.argmin(), away.shape)
            settled[k] = across[first], down[second]
    return settled
