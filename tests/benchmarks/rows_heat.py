"""What a thousand faces receive through an orbit, and how the cost grows with their number."""

from __future__ import annotations

from functools import partial

import numpy as np

from tests.benchmarks.measure import Bench, Goal, Row, subject
from thermnet.physics.curves import Floats
from thermnet.physics.flux import Faces, planet_view, reflected, sunlight

INSTANTS = 200
ECCENTRICITY, SEMI_MAJOR_AXIS = 0.3, 1.6
"""Of an ellipse from 1.12 to 2.08 radii, so that no two views of the planet are alike."""


def faces(count: int) -> Faces:
    """Random normals: two thirds plates, a sixth spheres, a sixth sides of cylinders."""
    axis = np.random.default_rng(3).normal(size=(count, 3))
    cone = np.zeros(count)
    cone[0::6], cone[3::6] = np.nan, np.pi / 2.0
    return Faces(axis=axis / np.linalg.norm(axis, axis=1, keepdims=True), cone=cone)


def places() -> tuple[Floats, Floats, Floats]:
    """Nadir f8[k, 3], distance over radius f8[k] and the Sun f8[k, 3] round the ellipse."""
    eccentric = np.arange(INSTANTS) * 2.0 * np.pi / INSTANTS
    short = np.sqrt(1.0 - ECCENTRICITY**2)
    across = np.stack(
        [np.cos(eccentric) - ECCENTRICITY, short * np.sin(eccentric), np.zeros(INSTANTS)], axis=1
    )
    ratio = np.linalg.norm(across, axis=1)
    sun = np.tile([np.cos(0.4), 0.0, np.sin(0.4)], (INSTANTS, 1))
    return -across / ratio[:, None], SEMI_MAJOR_AXIS * ratio, sun


def history(some: Faces) -> Floats:
    """Sunlight, planet view and reflected sunlight, f8[3, k, n]."""
    nadir, ratio, sun = places()
    views = sunlight(some, sun), planet_view(some, nadir, ratio), reflected(some, nadir, ratio, sun)
    return np.stack(views)


def orbit_heat(bench: Bench) -> Row:
    """Flux histories from geometry to arrays."""
    few, many = (100, 1000) if bench.quick else (1000, 10_000)
    names = f"{few:,} faces", f"{many:,} faces"
    times = bench.interleaved({
        name: partial(history, faces(count)) for name, count in zip(names, (few, many), strict=True)
    })  # fmt: skip
    first, last = (times[name].seconds for name in names)
    return Row(
        name="orbit-heat",
        workload=f"fluxes from Sun and planet, {few:,} and {many:,} faces, {INSTANTS} instants",
        subjects=[subject(name, times[name]) for name in names],
        goals=[
            Goal(what=f"{names[0]} [s]", value=first, limit=1.0),
            Goal(what="growth for ten times the faces", value=last / first, limit=11.0),
        ],
        note="an ellipse of 1.12 to 2.08 radii; a third of the faces are spheres and cylinders",
    )
