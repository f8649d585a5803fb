"""Exchange areas of an enclosure against the same by a general linear solve."""

from __future__ import annotations

import numpy as np

from tests.benchmarks.measure import Bench, Goal, Row, subject
from thermnet.network.primitives import Floats
from thermnet.physics import exchange

FACES = 1000


def closed(count: int) -> tuple[Floats, Floats, Floats]:
    """Areas, direct exchange areas and emittances of faces that all see each other and close."""
    rng = np.random.default_rng(0)
    direct = rng.random((count, count))
    direct = direct + direct.T
    return direct.sum(axis=1), direct, rng.uniform(0.03, 0.95, count)


def by_gebhart(area: Floats, direct: Floats, emittance: Floats) -> Floats:
    """The same by Gebhart's factors: one general linear solve."""
    factor = direct / area[:, None]
    system = np.eye(len(area)) - factor * (1.0 - emittance)
    absorbed = np.linalg.solve(system, factor * emittance)
    return np.asarray((emittance * area)[:, None] * absorbed)


def exchange_areas(bench: Bench) -> Row:
    """1,000 faces: time, closure of the row sums, symmetry, and agreement."""
    area, direct, emittance = closed(FACES)
    times = bench.interleaved({
        "ours": lambda: exchange.exchange_areas(area, direct, emittance),
        "Gebhart, LAPACK LU": lambda: by_gebhart(area, direct, emittance),
    })  # fmt: skip
    ours, other = times["ours"].result, times["Gebhart, LAPACK LU"].result
    emitted = emittance * area
    return Row(
        name="exchange-areas",
        workload=f"exchange areas of {FACES} gray faces that all see each other",
        subjects=[subject(name, timed) for name, timed in times.items()],
        goals=[
            Goal(what="CPU [s]", value=times["ours"].seconds, limit=2.0),
            Goal(
                what="row sums", value=float(np.abs(ours.sum(1) / emitted - 1).max()), limit=1e-10
            ),
            Goal(
                what="symmetry", value=float(np.abs(ours - ours.T).max() / ours.max()), limit=1e-12
            ),
            Goal(what="difference", value=float(np.abs(ours / other - 1.0).max()), limit=1e-9),
        ],
    )
