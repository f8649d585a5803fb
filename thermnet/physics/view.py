"""How much of a planet, and of the Sun's beam, a plate, a swept surface or a sphere receives.

A surface is a plate whose normal is swept round an axis at a fixed angle, its cone: a plate by
itself has cone 0 and its normal as axis; the side of a cylinder has cone pi/2; a plate on a
spinning body has the angle between its normal and the spin axis. Heat is averaged over the turn.
A sphere has no axis: its cone is NaN. All angles are radians, all directions unit vectors.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from thermnet.physics.curves import Floats

SPHERE = 0.25
"""Projected area of a sphere over its surface."""

SIDE = 0.5 * np.pi
"""rad: the cone of the side of a cylinder."""

SWEEP_POINTS = 64
"""Points of a half turn that a swept view factor is averaged over."""


def aspect(cosine: Any, cone: Any) -> Floats:
    """Projected area over area towards a direction, averaged over the turn of a swept normal.

    `cosine` f8[...] is that of the angle between axis and direction, `cone` f8[...] the angle
    between axis and normal, or NaN for a sphere, whose value is 1/4 from everywhere; both
    broadcast. Per area of the surface: 0 to 1.

    The cosine between normal and direction is A + B cos(p) at the angle p of the turn, with
    A = cos(cone) cos(x), B = sin(cone) sin(x) and x the angle between axis and direction. It is
    positive for p up to acos(-A / B), and its mean over all p, negative ones left out, is
    [A acos(-A / B) + sqrt(B^2 - A^2)] / pi: elementary calculus. B^2 - A^2 = sin^2(cone) -
    cos^2(x), and where it is negative the sign of A says whether the direction is always seen.
    """
    cosine, cone = np.asarray(cosine, dtype=float), np.asarray(cone, dtype=float)
    if not cone.any():
        return np.asarray(np.maximum(cosine, np.zeros_like(cone)))  # a plate, exactly
    if (cone == SIDE).all():
        return np.asarray(np.sqrt(np.maximum(1.0 - cosine**2, np.zeros_like(cone))) / np.pi)
    edge = np.sqrt(np.maximum(np.sin(cone) ** 2 - cosine**2, 0.0))
    along = np.cos(cone) * cosine
    seen = np.arctan2(edge, -along) / np.pi  # share of the turn; exactly 1 or 0 without an edge
    return np.where(np.isnan(cone), SPHERE, along * seen + edge / np.pi)


def horizon_cosine(ratio: Any) -> Floats:
    """Cosine of the angle between nadir and the body's limb, f8[...], for a distance over radius.

    Raises ValueError for a ratio that is not a number from 1 on: inside the body.
    """
    ratio = np.asarray(ratio, dtype=float)
    if not (np.isfinite(ratio) & (ratio >= 1.0)).all():
        raise ValueError("distance from the body's centre must be at least its radius")
    return np.asarray(np.sqrt((ratio - 1.0) * (ratio + 1.0)) / ratio)


def plate_to_sphere(ratio: Any, cosine: Any) -> Floats:
    """View factor from a small plate to a sphere, f8[...], at any tilt; its horizon may cut.

    `ratio` f8[...] is the distance of the plate from the sphere's centre over the radius, H;
    `cosine` f8[...] that of the angle g between the plate's normal and the direction of the
    centre; both broadcast. Raises ValueError for a ratio below 1.

    With q = sqrt(H^2 - 1), textbook result (for example Ivezic 2021, appendix A, whose printed
    arctangent has y in place of z; the author's published script is right): cos(g) / H^2 where
    the whole sphere is seen, and where the plate's horizon cuts it

    1/2 - asin(q / (H sin g)) / pi + [cos(g) acos(-q cot g) - q sqrt(1 - H^2 cos^2 g)] / (pi H^2).

    Here both inverse functions are written as angles of a right triangle with the side
    w = sqrt(1 - H^2 cos^2 g): 1/2 - asin(..) / pi = atan2(w, q) / pi, and acos(..) =
    atan2(w, -q cos g). So rounding leads out of the range of neither, and with w = 0 the same
    line holds where the sphere is seen whole (the angles are 0 and pi) or not at all (0 and 0).
    """
    ratio, cosine = np.asarray(ratio, dtype=float), np.asarray(cosine, dtype=float)
    q = ratio * horizon_cosine(ratio)
    cut = ratio * cosine
    w = np.sqrt(np.maximum((1.0 - cut) * (1.0 + cut), 0.0))
    disc = cosine * np.arctan2(w, -q * cosine) - q * w
    return np.asarray((np.arctan2(w, q) + disc / ratio**2) / np.pi)


def sphere_to_sphere(ratio: Any) -> Floats:
    """View factor from a small sphere to a big one, f8[...]: (1 - sqrt(1 - 1 / H^2)) / 2.

    A quarter of the solid angle of the big sphere over pi: textbook result. Written as
    1 / [2 H^2 (1 + sqrt(1 - 1 / H^2))], in which nothing cancels far away. Raises ValueError for
    a ratio H, of the distance of the centre to the radius, below 1.
    """
    limb = horizon_cosine(ratio)
    return np.asarray(0.5 / (np.asarray(ratio, dtype=float) ** 2 * (1.0 + limb)))


def swept_to_sphere(ratio: Any, cosine: Any, cone: Any) -> Floats:
    """View factor to a sphere, averaged over the turn of a swept normal, f8[...].

    `ratio` f8[...] as for plates; `cosine` f8[...] of the angle between axis and nadir; `cone`
    f8[...], not NaN; all broadcast. Raises ValueError for a ratio below 1.

    The mean over a half turn by the midpoint rule, which for a periodic function is as good as
    it is smooth: where the horizon begins to cut, the view factor leaves the cosine with the
    power 5/2 of the angle. With 64 points the worst error found was 3e-7, at a ratio of 1.00007.
    """
    cosine, cone = np.asarray(cosine, dtype=float), np.asarray(cone, dtype=float)
    along = np.cos(cone) * cosine
    across = np.sin(cone) * np.sqrt(np.maximum((1.0 - cosine) * (1.0 + cosine), 0.0))
    turn = (np.arange(SWEEP_POINTS) + 0.5) * np.pi / SWEEP_POINTS
    total = sum(plate_to_sphere(ratio, along + across * c) for c in np.cos(turn))
    return np.asarray(total / SWEEP_POINTS)
