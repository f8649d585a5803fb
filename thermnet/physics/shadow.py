"""The shadow of a body: how much of the Sun a spacecraft sees, and when that begins to change.

The body is a sphere without an atmosphere. With the Sun at infinity its shadow is a cylinder with
a sharp edge. With the Sun at its distance there are cones, whose edges are where the body's limb
touches the Sun's: the apparent discs touch from outside (penumbra), or one lies just inside the
other (umbra, or the ring of Sun beyond the tip of the umbra).
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from thermnet.physics.curves import Floats, within
from thermnet.physics.orbit import TURN, Orbit, instant_at_angle, period, position_at

Heights = Callable[[Floats], Floats]
"""Several functions of an angle: f8[k] to f8[m,k]."""

Indices = np.ndarray[tuple[int, ...], np.dtype[np.intp]]

SUN_RADIUS = 6.957e8
"""m, nominal (International Astronomical Union, Resolution B3 of 2015)."""

GRID = 720
"""Angles of an orbit at which edges are looked for first, half a degree apart."""

PARTS = 64
"""Parts into which a stretch that holds an edge is divided, again and again."""


def circular_shadow_fraction(ratio: Floats, beta: Floats) -> Floats:
    """Share of a circular orbit that lies in a cylindrical shadow, f8[...].

    acos[sqrt(H2 - 1) / (H cos beta)] / pi, and 0 where the Sun is too far out of the plane;
    `ratio` H (at least 1) is the orbit's radius over the body's, `beta` [rad] the angle of the Sun
    to the orbit's plane. Found by setting the distance from the shadow's axis to the body's radius.
    """
    ratio = np.asarray(ratio, dtype=float)
    reach = ratio * np.abs(np.cos(beta))
    limb = np.sqrt(ratio**2 - 1.0)
    inside = reach > limb
    cosine = limb / np.where(inside, reach, 1.0)
    return np.where(inside, np.arccos(np.where(inside, cosine, 1.0)) / math.pi, 0.0)


def _angle(a: Floats, b: Floats) -> Floats:
    """Angle [rad] f8[k] between unit vectors f8[k,3], exact also near 0 and pi."""
    apart, together = np.linalg.norm(a - b, axis=-1), np.linalg.norm(a + b, axis=-1)
    return np.asarray(2.0 * np.arctan2(apart, together))


def _discs(
    where: Floats, sun: Floats, radius: float, sun_distance: float | None
) -> tuple[Floats, Floats, Floats]:
    """As seen from `where` f8[k,3]: angle f8[k] between the centres of Sun and body, and the
    apparent radii f8[k] of the body and of the Sun [rad].
    """
    distance = np.linalg.norm(where, axis=-1)
    body_radius = np.arcsin(np.minimum(radius / distance, 1.0))
    down = -where / distance[:, None]
    if sun_distance is None:
        return _angle(sun, down), body_radius, np.zeros(len(where))
    to_sun = sun_distance * sun - where
    range_of_sun = np.linalg.norm(to_sun, axis=-1)
    sun_radius = np.arcsin(SUN_RADIUS / range_of_sun)
    return _angle(to_sun / range_of_sun[:, None], down), body_radius, sun_radius


def _covered(apart: Floats, body: Floats, sun: Floats) -> Floats:
    """Share f8[k] of the Sun's disc covered by the body's; radii and distance of centres [rad].

    The area common to two circles, on a plane: that the limb is a circle on the sky moves the
    share by less than 0.001.
    """
    small = np.minimum(body, sun)
    share = np.where(apart <= np.abs(body - sun), (small / sun) ** 2, 0.0)
    cut = (apart > np.abs(body - sun)) & (apart < body + sun)
    d, b, s = apart[cut], body[cut], sun[cut]
    # Distance of the common chord from the Sun's centre, and half its length.
    to_chord = ((d - b) * (d + b) + s * s) / (2.0 * d)
    half = np.sqrt(np.maximum((s - to_chord) * (s + to_chord), 0.0))
    lens = (
        s * s * np.arccos(within(to_chord / s, -1.0, 1.0))
        + b * b * np.arctan2(half, d - to_chord)
        - d * half
    )
    share[cut] = within(lens / (math.pi * s * s), 0.0, 1.0)
    return share


def lit_fraction(
    position: Floats, sun: Floats, radius: float, sun_distance: float | None
) -> Floats:
    """Share f8[k] of the Sun's disc, 0 to 1, that is seen from `position` f8[k,3] [m].

    `position` counts from the centre of the body, a sphere of `radius` [m]; `sun` f8[3] is the unit
    vector from there to the Sun, `sun_distance` [m] its distance. The Sun's disc is taken as evenly
    bright. Without a distance the Sun stands at infinity: the shadow is a cylinder, the share 0
    or 1.
    """
    apart, body_radius, sun_radius = _discs(position, sun, radius, sun_distance)
    if sun_distance is None:
        return np.where(apart < body_radius, 0.0, 1.0)
    return 1.0 - _covered(apart, body_radius, sun_radius)


def _clearances(where: Floats, sun: Floats, radius: float, sun_distance: float | None) -> Floats:
    """Angles [rad] f8[m,k] by which the discs clear each contact; an edge is where one is 0.

    Of the outer contact; with a distance of the Sun also of the umbra, and of the ring.
    """
    apart, body, sun_radius = _discs(where, sun, radius, sun_distance)
    if sun_distance is None:
        return np.asarray([apart - body])
    return np.stack(
        [apart - body - sun_radius, apart - body + sun_radius, apart - sun_radius + body]
    )


def _divided(first: Floats, last: Floats) -> Floats:
    """f8[k, PARTS + 1] points that divide each stretch from first to last, both f8[k]."""
    share = np.arange(PARTS + 1) / PARTS
    return first[:, None] + share * (last - first)[:, None]


def _nearest(heights: Heights, row: Indices, first: Floats, last: Floats, side: Floats) -> Floats:
    """Where row `row` [k] of `heights` comes nearest to zero, or farthest past it.

    Between first and last, where it starts and ends on one `side` (1 above zero, -1 below); all
    f8[k]. All but the two parts beside the best point is cut off, again and again.
    """
    each = np.arange(len(row))
    for _ in range(6):
        points = _divided(first, last)
        best = np.argmin(side[:, None] * _heights_of(heights, row, points), axis=1)
        first = points[each, np.maximum(best - 1, 0)]
        last = points[each, np.minimum(best + 1, PARTS)]
    return (first + last) / 2.0


def _crossing(heights: Heights, row: Indices, first: Floats, last: Floats) -> Floats:
    """Where row `row` [k] of `heights` changes sign between first and last, all f8[k].

    The part with the change is cut out again and again, to the last digit of an angle.
    """
    each = np.arange(len(row))
    for _ in range(8):
        points = _divided(first, last)
        below = _heights_of(heights, row, points) < 0.0
        changed = np.argmax(below[:, 1:] != below[:, :1], axis=1)
        first, last = points[each, changed], points[each, changed + 1]
    return (first + last) / 2.0


def _heights_of(heights: Heights, row: Indices, points: Floats) -> Floats:
    """f8[k,j] of row `row` [k] at points f8[k,j]."""
    every = heights(points.ravel())
    return np.asarray(every.reshape(len(every), *points.shape)[row, np.arange(len(row))])


def _zeros_round(heights: Heights) -> Floats:
    """Angles f8[n], 0 to 2 pi in order, where a row of `heights` (f8[k] to f8[m,k]) changes sign.

    First on a grid. A change and the change back that hide between two points of the grid leave
    there a point nearer to zero than both neighbours; near each such point the nearest is found.
    """
    step = TURN / GRID
    grid: Floats = step * np.arange(GRID, dtype=float)
    values = heights(grid)
    below = values < 0.0
    below_before, below_after = np.roll(below, 1, axis=1), np.roll(below, -1, axis=1)
    row, point = np.nonzero(below != below_after)
    rows, firsts, lasts = [row], [grid[point]], [grid[point] + step]

    size = np.abs(values)
    rise_before, rise_after = np.roll(size, 1, axis=1) - size, np.roll(size, -1, axis=1) - size
    turns = (rise_before > 0.0) & (rise_after >= 0.0)
    turns &= (below == below_before) & (below == below_after)
    # From a grid point to the turning point beside it a height changes by no more than to the
    # neighbours, also at a kink; four times as much leaves room. All others need no closer look.
    turns &= size < 4.0 * np.maximum(rise_before, rise_after)
    row, point = np.nonzero(turns)
    if len(row):
        first, last = grid[point] - step, grid[point] + step
        side = np.where(below[row, point], -1.0, 1.0)
        near = _nearest(heights, row, first, last, side)
        past = (_heights_of(heights, row, near[:, None])[:, 0] < 0.0) != (side < 0.0)
        rows += [row[past], row[past]]
        firsts += [first[past], near[past]]
        lasts += [near[past], last[past]]
    found = _crossing(heights, np.concatenate(rows), np.concatenate(firsts), np.concatenate(lasts))
    return np.sort(np.mod(found, TURN))


def shadow_instants(orbit: Orbit, sun: Floats, radius: float, sun_distance: float | None) -> Floats:
    """Instants f8[n] [s], in order within one period, at which the light begins or ends to change.

    Of a cylinder (no `sun_distance`) entry and exit; of cones the edges of penumbra, of umbra, and
    of the ring beyond its tip. Empty where the orbit meets no shadow. `sun` f8[3], the unit vector
    from the body to the Sun, and `sun_distance` [m] are held for the revolution; `radius` [m].
    Exact to rounding, far below a millisecond; a shadow as short as a millisecond is found.
    """

    def clearances(angle: Floats) -> Floats:
        return _clearances(position_at(orbit, orbit.start + angle), sun, radius, sun_distance)

    instants = instant_at_angle(orbit, _zeros_round(clearances))
    return np.sort(np.where(instants < period(orbit), instants, 0.0))
