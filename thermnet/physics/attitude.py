"""How a spacecraft is turned: body axes that point at targets, and faces that follow the Sun."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from thermnet.physics.curves import Floats

Flags = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]

PARALLEL = 1e-6
"""Angle [rad] below which two directions are one line, and no longer say how to turn about it."""

ALONG = 1e-9
"""Angle [rad] below which a Sun along a rotation axis prefers no turn about it."""


def body_axes(
    first: Floats,
    first_to: Floats,
    second: Floats,
    second_to: Floats,
    *,
    instant: Callable[[int], str] = "instant {}".format,
) -> Floats:
    """Matrices f8[k,3,3] that turn components in the inertial frame into components in the body.

    The body axis `first` f8[3] points exactly along `first_to` f8[k,3], and `second` f8[3] as near
    to `second_to` f8[k,3] as it then can: it lies in the half plane of the two targets. Lengths do
    not matter; a target f8[3] holds at all instants. Source: two directions, each known in both
    frames, give an orthonormal triad in each, and the matrix is the product of the two triads
    (Black, AIAA Journal 2 (7), 1964, 1350: from memory; the closed form is derived).

    Raises ValueError where a direction has no length, or where the two axes, or the two targets at
    some instant, lie along one line (within 1e-6 rad); `instant` words its number.
    """
    in_body_frame, along = _triads(np.atleast_2d(first), np.atleast_2d(second))
    if along.any():
        raise ValueError(
            "the two body axes lie along one line: choose a second axis that is not the first, "
            "nor its opposite"
        )
    wanted, other = np.broadcast_arrays(np.atleast_2d(first_to), np.atleast_2d(second_to))
    in_frame, along = _triads(wanted, other)
    if along.any():
        raise ValueError(
            f"at {instant(int(np.argmax(along)))} the two targets lie along one line: "
            "choose a second target that does not meet the first, nor its opposite"
        )
    # Rows of a triad are its directions: body = sum over them of (body row) (frame row . vector).
    return np.asarray(np.einsum("ai,kaj->kij", in_body_frame[0], in_frame))


def in_body(matrices: Floats, vectors: Floats) -> Floats:
    """Components f8[k,3] in the body of vectors f8[k,3], or of one f8[3], in the inertial frame.

    `matrices` f8[k,3,3] as `body_axes` gives them.
    """
    return np.asarray((matrices @ np.asarray(vectors)[..., np.newaxis])[..., 0])


def following(axis: Floats, sun_in_body: Floats) -> Floats:
    """Unit normals f8[k,3] of a face turned about `axis` f8[3] as near to the Sun as it can.

    `sun_in_body` f8[k,3]: direction of the Sun in the frame of the axis; lengths do not matter.
    The normal is square to the axis: the part of the Sun's direction that is (closed form, the
    projection on the plane of rotation). Where the Sun lies along the axis, within 1e-9 rad, no
    turn is nearer to it than another; then a fixed direction square to the axis is given.
    Raises ValueError where a direction has no length.
    """
    turning = _unit(np.asarray(axis))
    sun = _unit(np.atleast_2d(sun_in_body))
    square = sun - (sun @ turning)[:, np.newaxis] * turning
    length = np.linalg.norm(square, axis=-1, keepdims=True)
    found = length >= ALONG
    return np.where(found, square / np.where(found, length, 1.0), _any_square_to(turning))


def _triads(first: Floats, second: Floats) -> tuple[Floats, Flags]:
    """Orthonormal triads f8[k,3,3] from pairs of directions f8[k,3], and where they have none.

    Rows: the first direction, the part of the second that is square to it, their cross product.
    """
    forward, aside = _unit(first), _unit(second)
    across = np.cross(forward, aside)
    sine = np.linalg.norm(across, axis=-1, keepdims=True)
    along = sine[:, 0] < PARALLEL
    across = across / np.where(along[:, np.newaxis], 1.0, sine)
    return np.stack([forward, np.cross(across, forward), across], axis=1), along


def _unit(vectors: Floats) -> Floats:
    length = np.linalg.norm(vectors, axis=-1, keepdims=True)
    if not (np.isfinite(length).all() and (length > 0.0).all()):
        raise ValueError("a direction needs a length: finite numbers, not all of them zero")
    return np.asarray(vectors / length)


def _any_square_to(axis: Floats) -> Floats:
    """One unit vector square to a unit vector, the same each time: from the axis least along it."""
    least = np.zeros(3)
    least[np.argmin(np.abs(axis))] = 1.0
    return _unit(np.cross(axis, least))
