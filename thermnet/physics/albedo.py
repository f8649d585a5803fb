"""The sunlit part of a planet that a spacecraft sees, as points of a dome with weights.

The planet is a diffuse sphere: a point of it reflects albedo x sunlight x cos(Sun's zenith angle)
equally bright in all directions (Lambert). What a surface receives is then the integral of that
cosine over the solid angle of the lit part, times the surface's projected area, over pi. The same
integral holds for the infrared of an airless body whose ground radiates what it absorbs.

The points are those of Gauss: exact but for what bends inside the lit part, which is nothing but
the horizon of the receiving plate itself. Rings of constant distance from the point below the
spacecraft are cut at the terminator in closed form.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np

from thermnet.physics.curves import Floats
from thermnet.physics.view import horizon_cosine

Flags = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]

RINGS = 28
"""Rings between the limb and the point below; where the terminator begins to cut them, half of
them lie on either side."""

RING_POINTS = 28
"""Points of each ring. With 28 by 28 points the worst of 100,000 random plates was wrong
by 0.035 % of what a plate that looks down gets at that height under the Sun overhead."""

TINY = float(np.finfo(float).tiny)

TURN = 0.5 * (5.0**0.5 - 1.0) / RING_POINTS
"""By which each whole ring is turned against the one before: by the golden section of a step."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Dome:
    """Directions f8[k, q, 3] from the spacecraft to points of the lit planet, and their weights.

    `weight` f8[k, q]: solid angle x cosine of the Sun's zenith angle there / pi; 0 by night. The
    flux on a surface over albedo x sunlight is the sum of weight x projected area over area.
    """

    direction: Floats
    weight: Floats


def lit(nadir: Floats, ratio: Floats, sun: Floats) -> Flags:
    """Whether any lit ground is seen at each instant, bool[k]; arguments as for `lit_dome`.

    The Sun may be lower than the horizon below the spacecraft by no more than the angle at the
    centre between that point and the limb.
    """
    return _dot(nadir, sun) < horizon_cosine(ratio)


def lit_dome(nadir: Floats, ratio: Floats, sun: Floats) -> Dome:
    """Points of the lit part of the planet within the spacecraft's horizon, for k instants.

    `nadir` f8[k, 3] and `sun` f8[k, 3] are unit vectors to the planet's centre and to the Sun in
    any frame, that of the directions; `ratio` f8[k] the distance from the centre over the
    radius. Raises ValueError for a ratio below 1.
    """
    high = -_dot(nadir, sun)
    towards = sun + high[:, None] * nadir
    low = np.sqrt(_dot(towards, towards))
    along = _along(nadir, towards, low)
    side = np.cross(nadir, along)
    ring = _rings(ratio, high, low)
    # The cosine of the Sun's zenith angle on a ring is this, and so much times cos(azimuth).
    mean = high[:, None] * ring.centre_cosine
    swing = low[:, None] * ring.centre_sine
    azimuth, share = _arcs(mean, swing)
    zenith_cosine = mean[..., None] + swing[..., None] * np.cos(azimuth)
    solid_angle = ring.solid_angle[..., None] * share
    weight = solid_angle * np.maximum(zenith_cosine, 0.0) / np.pi
    down = np.broadcast_to(ring.nadir_cosine[..., None], azimuth.shape)
    out = ring.nadir_sine[..., None]
    parts = np.stack([down, out * np.cos(azimuth), out * np.sin(azimuth)], axis=-1)
    frame = np.stack([nadir, along, side], axis=1)
    count, points = len(nadir), RINGS * RING_POINTS
    return Dome(
        direction=parts.reshape(count, points, 3) @ frame, weight=weight.reshape(count, points)
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rings:
    """Rings f8[k, r] of the visible cap: angle from nadir at the spacecraft, angle at the centre
    from the point below, and solid angle [sr].
    """

    nadir_cosine: Floats
    nadir_sine: Floats
    centre_cosine: Floats
    centre_sine: Floats
    solid_angle: Floats


def _rings(ratio: Floats, high: Floats, low: Floats) -> _Rings:
    """Gauss rings where some ground is lit; `high`, `low` are sine, cosine of the Sun's elevation
    at the point below.

    Rings are counted by t from the limb, 0, to the point below, pi/2: m + (1 - m) sin^2 t is the
    cosine of the angle from nadir, m that of the limb. In t all that follows is smooth, close
    above the ground as far away, and the solid angle is 4 pi (1 - m) sin t cos t dt.
    """
    limb = horizon_cosine(ratio)[:, None]
    H = ratio[:, None]
    depth = 1.0 / (H**2 * (1.0 + limb))  # 1 - m, without cancellation
    t, width = _stretches(*_lit_stretch(ratio, depth[:, 0], high, low))
    cosine = limb + depth * np.sin(t) ** 2
    sine = np.cos(t) * np.sqrt(depth * (1.0 + cosine))
    emission = H * np.sin(t) * np.sqrt(depth * (cosine + limb))  # its cosine, at the ground
    across = np.maximum(H * cosine + emission, TINY)  # 0 only on the ground, by night
    distance = (H - 1.0) * (H + 1.0) / across  # in radii
    return _Rings(
        nadir_cosine=cosine,
        nadir_sine=sine,
        centre_cosine=emission * cosine + H * sine**2,
        centre_sine=sine * distance,
        solid_angle=4.0 * np.pi * depth * np.sin(t) * np.cos(t) * width,
    )


def _lit_stretch(ratio: Floats, depth: Floats, high: Floats, low: Floats) -> tuple[Floats, Floats]:
    """The ring f8[k] at which the terminator begins to cut, 0 if it lies beyond the limb, and the
    last lit ring f8[k], both by t.

    The terminator is nearest to the point below at the angle |pi/2 - Sun's zenith angle|.
    """
    rise = ratio - 1.0 + high**2 / (1.0 + low)  # H - cos of that angle
    nadir_sine = np.abs(high) / np.maximum(np.hypot(rise, high), TINY)
    nadir_cosine = np.sqrt(np.maximum(1.0 - nadir_sine**2, 0.0))
    left = nadir_sine**2 / (depth * (1.0 + nadir_cosine))  # cos^2 t
    cut = np.arccos(np.sqrt(np.minimum(left, 1.0)))
    cut = np.where(low * ratio > 1.0, cut, 0.0)
    day = high > 0.0
    return np.where(day, cut, 0.0), np.where(day, 0.5 * np.pi, cut)


def _stretches(cut: Floats, last: Floats) -> tuple[Floats, Floats]:
    """Gauss points f8[k, r] from 0 to `last` f8[k], half of them before a cut, and their widths."""
    whole, whole_width = _gauss(RINGS)
    half, half_width = _gauss(RINGS // 2)
    cut, last = cut[:, None], last[:, None]
    beyond = last - cut
    split = np.concatenate([cut * half, cut + beyond * half], axis=1)
    split_width = np.concatenate([cut * half_width, beyond * half_width], axis=1)
    is_cut = cut > 0.0
    return np.where(is_cut, split, last * whole), np.where(is_cut, split_width, last * whole_width)


def _arcs(mean: Floats, swing: Floats) -> tuple[Floats, Floats]:
    """Azimuths f8[k, r, p] of the points of each ring's lit arc, and shares of the turn.

    Lit is where mean + swing cos(azimuth), both f8[k, r], is positive: up to acos(-mean / swing)
    either way, which is an angle of a right triangle. A whole ring has evenly spaced points,
    which are best for what is periodic, turned from ring to ring so that no horizon meets them
    all alike; an arc has those of Gauss.
    """
    edge = np.sqrt(np.maximum((swing - mean) * (swing + mean), 0.0))
    half = np.arctan2(edge, -mean)[..., None]
    points, widths = _gauss(RING_POINTS)
    arc, share = half * (2.0 * points - 1.0), half / np.pi * widths
    turned = np.arange(mean.shape[1])[:, None] * TURN
    even = 2.0 * np.pi * (np.arange(RING_POINTS) / RING_POINTS + turned)
    whole = (mean >= swing)[..., None]
    return np.where(whole, even, arc), np.where(whole, 1.0 / RING_POINTS, share)


@functools.cache
def _gauss(count: int) -> tuple[Floats, Floats]:
    """Points and widths of Gauss and Legendre on 0 to 1."""
    points, widths = np.polynomial.legendre.leggauss(count)
    found = 0.5 * (points + 1.0), 0.5 * widths
    for array in found:
        array.flags.writeable = False
    return found


def _along(nadir: Floats, towards: Floats, low: Floats) -> Floats:
    """Unit vectors f8[k, 3] across nadir towards the Sun; any across where it stands overhead."""
    other = np.eye(3)[np.argmin(np.abs(nadir), axis=1)]
    other = other - _dot(other, nadir)[:, None] * nadir
    overhead = low < 1e-12
    chosen = np.where(overhead[:, None], other, towards)
    return np.asarray(chosen / np.linalg.norm(chosen, axis=1, keepdims=True))


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.einsum("ki,ki->k", a, b))
