"""Turning a spacecraft: the first axis exactly, the second as near as it can, faces to the Sun."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from thermnet.physics.attitude import body_axes, following, in_body
from thermnet.physics.curves import Floats

X, Y, Z = np.eye(3)
SQUARE = 1e-12

coordinate = st.floats(-1.0, 1.0)
direction = st.tuples(coordinate, coordinate, coordinate).filter(lambda v: math.hypot(*v) > 0.1)
"""Any direction, of any length."""


def unit(vectors: Floats) -> Floats:
    return vectors / np.linalg.norm(vectors, axis=-1, keepdims=True)


def apart(one: Floats, other: Floats) -> bool:
    """Not along one line: more than half a degree apart, so that rounding stays small."""
    return float(np.linalg.norm(np.cross(unit(one), unit(other)))) > 0.01


@given(st.tuples(direction, direction, direction, direction))
def test_matrices_of_body_axes_are_proper_rotations(given_directions: tuple[object, ...]) -> None:
    first, first_to, second, second_to = (np.array(d) for d in given_directions)
    assume(apart(first, second) and apart(first_to, second_to))
    matrix = body_axes(first, first_to[None], second, second_to[None])[0]
    np.testing.assert_allclose(matrix @ matrix.T, np.eye(3), atol=SQUARE)
    assert np.linalg.det(matrix) == pytest.approx(1.0, abs=SQUARE)


@given(st.tuples(direction, direction, direction, direction))
def test_the_first_axis_points_exactly_and_the_second_as_near_as_it_can(
    given_directions: tuple[object, ...],
) -> None:
    first, first_to, second, second_to = (np.array(d) for d in given_directions)
    assume(apart(first, second) and apart(first_to, second_to))
    matrices = body_axes(first, first_to[None], second, second_to[None])
    np.testing.assert_allclose(
        in_body(matrices, first_to)[0], _same_way(first, first_to), atol=1e-12
    )
    # Nearest: the angle between second and its target is the difference of their angles from the
    # first axis and its target (derived: both lie in one half plane).
    turned = unit(in_body(matrices, second_to)[0])
    between = math.atan2(np.linalg.norm(np.cross(turned, unit(second))), turned @ unit(second))
    assert between == pytest.approx(
        abs(_angle(first, second) - _angle(first_to, second_to)), abs=1e-9
    )


def _same_way(axis: Floats, target: Floats) -> Floats:
    """The axis, as long as its target."""
    return unit(axis) * np.linalg.norm(target)


def _angle(one: Floats, other: Floats) -> float:
    return math.atan2(np.linalg.norm(np.cross(one, other)), one @ other)


def test_no_turn_about_the_first_axis_brings_the_second_nearer() -> None:
    first, second = unit(np.array([0.2, -0.5, 1.0])), unit(np.array([1.0, 0.3, 0.4]))
    first_to, second_to = unit(np.array([[0.0, 1.0, 0.3]])), unit(np.array([[1.0, 0.2, -0.5]]))
    target = in_body(body_axes(first, first_to, second, second_to), second_to)[0]
    angles = np.linspace(0.0, 2.0 * np.pi, 3600, endpoint=False)
    assert (turned_about(first, target, angles) @ second).max() <= target @ second + 1e-12


def turned_about(axis: Floats, vector: Floats, angles: Floats) -> Floats:
    """A vector turned about a unit axis f8[k,3] (rotation formula of Rodrigues, textbook)."""
    cos, sin = np.cos(angles)[:, None], np.sin(angles)[:, None]
    return vector * cos + np.cross(axis, vector) * sin + axis * (axis @ vector) * (1.0 - cos)


def test_a_nadir_pointing_body_sees_the_planet_along_its_axis_all_round_the_orbit() -> None:
    angle = np.linspace(0.0, 2.0 * np.pi, 37)
    nadir = -np.stack([np.cos(angle), np.sin(angle), 0.0 * angle], axis=1)
    flight = np.stack([-np.sin(angle), np.cos(angle), 0.0 * angle], axis=1)
    matrices = body_axes(Z, nadir, X, flight)
    np.testing.assert_allclose(in_body(matrices, nadir), np.tile(Z, (37, 1)), atol=1e-15)
    np.testing.assert_allclose(in_body(matrices, flight), np.tile(X, (37, 1)), atol=1e-15)
    # x forward and z down leave y against the orbit normal (right-handed axes).
    np.testing.assert_allclose(in_body(matrices, Z), np.tile(-Y, (37, 1)), atol=1e-15)


def test_an_inertial_target_holds_at_all_instants() -> None:
    sun = unit(np.array([[1.0, 0.2, 0.1], [0.9, 0.4, 0.1]]))
    np.testing.assert_array_equal(body_axes(X, sun, Z, Z), body_axes(X, sun, Z, np.tile(Z, (2, 1))))
    assert body_axes(X, Y, Z, Z).shape == (1, 3, 3)


def test_body_axes_along_one_line_are_refused() -> None:
    with pytest.raises(ValueError, match="two body axes lie along one line"):
        body_axes(X, Y[None], -X, Z[None])


def test_targets_along_one_line_are_refused_with_their_instant() -> None:
    targets = np.array([[0.0, 1.0, 0.0], [0.0, 1.0, 0.0], [-1.0, 1e-7, 0.0]])
    with pytest.raises(ValueError, match="at instant 2 the two targets"):
        body_axes(Z, targets, X, X)


def test_a_direction_without_length_is_refused() -> None:
    with pytest.raises(ValueError, match="needs a length"):
        body_axes(np.zeros(3), Y[None], X, Z[None])
    with pytest.raises(ValueError, match="needs a length"):
        following(Z, np.array([[np.nan, 0.0, 0.0]]))


@given(direction, direction)
def test_a_following_face_is_nearer_to_the_sun_than_any_of_3600_turns(
    axis: tuple[float, ...], sun: tuple[float, ...]
) -> None:
    about, to_sun = unit(np.array(axis)), unit(np.array(sun))
    assume(apart(about, to_sun))
    normal = following(np.array(axis), np.array([sun]))[0]
    assert np.linalg.norm(normal) == pytest.approx(1.0, abs=SQUARE)
    assert normal @ about == pytest.approx(0.0, abs=SQUARE)
    angles = np.linspace(0.0, 2.0 * np.pi, 3600, endpoint=False)
    cosines = turned_about(about, normal, angles + 1e-4) @ to_sun
    # The nearest of 3,600 turns is within half a step, whose cosine is 1 - 3.8e-7.
    assert cosines.max() <= normal @ to_sun + SQUARE
    assert cosines.max() >= (normal @ to_sun) * math.cos(math.pi / 3600) - SQUARE


def test_a_face_that_follows_the_sun_about_an_axis_square_to_it_looks_straight_at_it() -> None:
    angle = np.linspace(0.0, 6.0, 13)
    sun = np.stack([np.cos(angle), 0.0 * angle, np.sin(angle)], axis=1)
    np.testing.assert_allclose(following(Y, sun), sun, atol=1e-15)


def test_the_sun_along_the_rotation_axis_leaves_a_fixed_face_square_to_it() -> None:
    axis = unit(np.array([0.3, -0.2, 0.9]))
    normals = following(axis, np.array([axis, -axis]))
    np.testing.assert_allclose(normals @ axis, 0.0, atol=SQUARE)
    np.testing.assert_array_equal(normals[0], normals[1])
