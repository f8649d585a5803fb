"""What faces receive, against integration by other means, symmetry and energy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermnet.physics.curves import Floats
from thermnet.physics.flux import Faces, planet_view, reflected, sunlight

RATIOS = st.floats(-4.0, np.log10(49.0)).map(lambda power: 1.0 + 10.0**power)
SEEDS = st.integers(0, 2**32 - 1)
SIDE = np.pi / 2

WITHIN = 5e-4
"""Of the subsolar load, that of a nadir plate at the same height under the Sun overhead. The goal
is 2e-3."""


def directions(count: int, seed: int) -> Floats:
    """Unit vectors f8[count, 3], alike in all directions."""
    vectors = np.random.default_rng(seed).normal(size=(count, 3))
    return np.asarray(vectors / np.linalg.norm(vectors, axis=1, keepdims=True))


def plates(normals: Floats) -> Faces:
    return Faces(axis=normals, cone=np.zeros(normals.shape[-2]))


def across(axis: Floats) -> tuple[Floats, Floats]:
    """Two unit vectors that are square to a third and to each other."""
    first = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    first = first / np.linalg.norm(first)
    return first, np.cross(axis, first)


def swept(axis: Floats, cone: float, count: int) -> Faces:
    """Fixed plates all round an axis."""
    turn = np.arange(count)[:, None] * 2.0 * np.pi / count
    first, second = across(axis)
    ring = first * np.cos(turn) + second * np.sin(turn)
    return plates(axis * np.cos(cone) + ring * np.sin(cone))


def subsolar(ratio: float) -> float:
    """Reflected flux on a nadir plate under the Sun overhead."""
    down = np.array([[0.0, 0.0, -1.0]])
    return float(reflected(plates(down), down, np.array([ratio]), -down)[0, 0])


def over_the_ground(normal: Floats, nadir: Floats, ratio: float, sun: Floats) -> float:
    """Reflected flux on a plate, summed over the planet's ground: a fine grid of small areas.

    Each sends cos(Sun's zenith) cos(emission) cos(incidence) / (pi distance^2) times its area.
    """
    first, second = across(nadir)
    angle = (np.arange(500) + 0.5) / 500 * np.arccos(1.0 / ratio)
    area = np.sin(angle) * (angle[1] - angle[0]) * 2.0 * np.pi / 500
    azimuth = (np.arange(500) + 0.5) / 500 * 2.0 * np.pi
    received = 0.0
    for x, small in zip(angle, area, strict=True):
        ring = np.outer(np.cos(azimuth), first) + np.outer(np.sin(azimuth), second)
        ground = ring * np.sin(x) - nadir * np.cos(x)
        sight = ground + ratio * nadir  # from the spacecraft
        distance = np.linalg.norm(sight, axis=1)
        zenith = np.maximum(ground @ sun, 0.0)
        emission = np.maximum(-np.einsum("pi,pi->p", ground, sight), 0.0) / distance
        incidence = np.maximum(sight @ normal, 0.0) / distance
        received += small * float((zenith * emission * incidence / distance**2).sum())
    return received / np.pi


def over_the_sky(normal: Floats, nadir: Floats, ratio: float, sun: Floats) -> float:
    """The same, summed over the plate's own half space, whether a ray meets the planet or not.

    Rays are spread evenly over the unit disc below them, as a diffuse plate weighs them.
    """
    first, second = across(normal)
    radius = np.sqrt((np.arange(600) + 0.5) / 600)
    azimuth = ((np.arange(600) + 0.5) / 600 * 2.0 * np.pi)[:, None]
    received = 0.0
    for r in radius:
        ray = r * (np.cos(azimuth) * first + np.sin(azimuth) * second) + np.sqrt(1 - r**2) * normal
        middle = ratio * (ray @ nadir)
        inside = middle**2 - (ratio**2 - 1.0)
        meets = (middle > 0.0) & (inside > 0.0)
        along = middle - np.sqrt(np.maximum(inside, 0.0))
        ground = along[:, None] * ray - ratio * nadir
        received += float((np.maximum(ground @ sun, 0.0) * meets).mean())
    return received / 600


@pytest.mark.parametrize("seed", range(16))
def test_reflected_light_is_its_integral_over_the_ground(seed: int) -> None:
    """At any tilt, Sun angle and height, where the ground is wide enough to be seen in a grid."""
    ratio = 1.0 + 10.0 ** float(np.random.default_rng(seed).uniform(-1.3, 1.69))
    normal, nadir, sun = directions(3, seed)
    # As random as they are, most planets would lie behind the plate: tilt it towards nadir.
    normal = (normal + nadir) / np.linalg.norm(normal + nadir)
    expected = over_the_ground(normal, nadir, ratio, sun)
    found = reflected(plates(normal[None]), nadir[None], np.array([ratio]), sun[None])[0, 0]
    assert abs(found - expected) < WITHIN * subsolar(ratio)


@pytest.mark.parametrize("seed", range(16))
def test_reflected_light_low_over_the_ground_is_its_integral_over_the_sky(seed: int) -> None:
    ratio = 1.0 + 10.0 ** float(np.random.default_rng(seed).uniform(-4.0, -1.0))
    normal, nadir, sun = directions(3, 100 + seed)
    sun = (sun - 0.7 * nadir) / np.linalg.norm(sun - 0.7 * nadir)  # more often by day
    expected = over_the_sky(normal, nadir, ratio, sun)
    found = reflected(plates(normal[None]), nadir[None], np.array([ratio]), sun[None])[0, 0]
    assert abs(found - expected) < WITHIN * subsolar(ratio)


@pytest.mark.parametrize("cone", [0.3, 1.2, SIDE, 2.0])
@pytest.mark.parametrize("ratio", [1.06, 1.5, 8.0])
def test_a_spinning_plate_gets_the_mean_of_360_fixed_attitudes(cone: float, ratio: float) -> None:
    axis, nadir, sun = directions(3, seed=7)
    sun = (sun - nadir) / np.linalg.norm(sun - nadir)
    spinning, fixed = Faces(axis=axis[None], cone=np.array([cone])), swept(axis, cone, 360)
    where = nadir[None], np.array([ratio])
    assert sunlight(spinning, sun[None])[0, 0] == pytest.approx(
        sunlight(fixed, sun[None]).mean(), abs=2e-5
    )
    assert planet_view(spinning, *where)[0, 0] == pytest.approx(
        planet_view(fixed, *where).mean(), abs=1e-6
    )
    assert reflected(spinning, *where, sun[None])[0, 0] == pytest.approx(
        reflected(fixed, *where, sun[None]).mean(), abs=2e-5
    )


def test_a_sphere_gets_the_mean_of_plates_of_all_directions() -> None:
    """A black closed surface of all directions; plates all round, by Gauss from pole to pole."""
    points, widths = np.polynomial.legendre.leggauss(200)
    nadir, sun = np.array([[0.0, 0.6, 0.8]]), np.array([[0.0, 0.28, -0.96]])
    ratio = np.array([1.3])
    rings = [swept(np.array([0.0, 0.0, 1.0]), float(np.arccos(c)), 90) for c in points]
    all_round = plates(np.concatenate([ring.axis for ring in rings]))
    weight = np.repeat(widths / 2.0 / 90, 90)
    sphere = Faces(axis=np.array([[1.0, 0.0, 0.0]]), cone=np.array([np.nan]))
    for one, many in (
        (sunlight(sphere, sun), sunlight(all_round, sun)),
        (planet_view(sphere, nadir, ratio), planet_view(all_round, nadir, ratio)),
        (reflected(sphere, nadir, ratio, sun), reflected(all_round, nadir, ratio, sun)),
    ):
        assert one[0, 0] == pytest.approx(float(many[0] @ weight), rel=1e-4)


@given(seed=SEEDS, ratio=RATIOS)
def test_opposite_faces_of_a_cube_add_up_to_what_passes_through(seed: int, ratio: float) -> None:
    """The flux on a plate less that on its back is the flow of heat along the normal, a vector.

    So three pairs of faces give a vector, and any plate and its back the component along it.
    """
    normal, nadir, sun = directions(3, seed)
    faces = plates(np.stack([*np.eye(3), *-np.eye(3), normal, -normal]))
    where = nadir[None], np.array([ratio])
    for flux in (
        sunlight(faces, sun[None])[0],
        planet_view(faces, *where)[0],
        reflected(faces, *where, sun[None])[0],
    ):
        assert flux[6] - flux[7] == pytest.approx(normal @ (flux[:3] - flux[3:6]), abs=1e-12)


@given(seed=SEEDS, ratio=RATIOS)
def test_no_more_is_reflected_than_a_planet_as_bright_as_sunlight(seed: int, ratio: float) -> None:
    axis = directions(8, seed)
    faces = Faces(axis=axis, cone=np.array([0.0, 0.0, 0.0, 0.0, 0.4, SIDE, 2.5, np.nan]))
    nadir, sun = directions(2, seed + 1)[:, None]
    where = nadir, np.array([ratio])
    found = reflected(faces, *where, sun)
    assert (found >= 0.0).all()
    assert (found <= planet_view(faces, *where) + WITHIN * subsolar(ratio)).all()


@given(seed=SEEDS, ratio=RATIOS)
def test_without_lit_ground_in_sight_nothing_is_reflected(seed: int, ratio: float) -> None:
    """By night up to the limb, and by day on a plate that looks up by more than the limb's dip."""
    nadir, normal = directions(2, seed)
    side = across(nadir)[0]
    night = np.pi / 2 + np.arccos(1.0 / ratio) + 1e-6  # the Sun's zenith angle
    sun = side * np.sin(night) - nadir * np.cos(night)
    where = nadir[None], np.array([ratio])
    assert reflected(plates(normal[None]), *where, sun[None])[0, 0] == 0.0
    tilt = np.arccos(-1.0 / ratio) + 1e-6
    up = side * np.sin(tilt) + nadir * np.cos(tilt)
    assert reflected(plates(up[None]), *where, -nadir[None])[0, 0] == 0.0


@given(seed=SEEDS, ratio=RATIOS)
def test_reflected_light_follows_a_tilt_without_a_jump(seed: int, ratio: float) -> None:
    """A plate's flux changes by no more than its turn times what all the dome could give."""
    normal, nadir, sun, other = directions(4, seed)
    turned = normal + 1e-6 * other
    faces = plates(np.stack([normal, turned / np.linalg.norm(turned)]))
    found = reflected(faces, nadir[None], np.array([ratio]), sun[None])[0]
    assert abs(found[1] - found[0]) <= 2e-6 * 2.0 * (1.0 / ratio**2)


def test_faces_that_turn_see_what_faces_at_rest_see_from_a_turned_frame() -> None:
    """Three instants, at each of which the faces stand otherwise."""
    shapes = np.array([0.0, 0.4, SIDE, np.nan])
    turns = np.stack([np.linalg.qr(directions(3, seed))[0] for seed in range(3)])
    nadir, sun = directions(3, 8), directions(3, 9)
    ratio = np.array([1.05, 1.4, 3.0])
    resting = Faces(axis=directions(4, 10), cone=shapes)
    turning = Faces(axis=resting.axis @ turns, cone=shapes)
    nadir_turned, sun_turned = (np.einsum("ki,kij->kj", v, turns) for v in (nadir, sun))
    for rest, turn in (
        (sunlight(resting, sun), sunlight(turning, sun_turned)),
        (planet_view(resting, nadir, ratio), planet_view(turning, nadir_turned, ratio)),
        (
            reflected(resting, nadir, ratio, sun),
            reflected(turning, nadir_turned, ratio, sun_turned),
        ),
    ):
        np.testing.assert_allclose(rest, turn, atol=WITHIN / 10)


def test_many_faces_and_instants_are_worth_as_much_as_one() -> None:
    """However they are cut into blocks."""
    axis, nadir, sun = directions(150, 1), directions(70, 2), directions(70, 3)
    cone = np.tile([0.0, SIDE, np.nan, 0.5, 0.0], 30)
    ratio = np.linspace(1.0, 3.0, 70)
    together = reflected(Faces(axis=axis, cone=cone), nadir, ratio, sun)
    for k, n in ((0, 0), (33, 149), (69, 75), (50, 51), (12, 77)):
        alone = Faces(axis=axis[n : n + 1], cone=cone[n : n + 1])
        one = reflected(alone, nadir[k : k + 1], ratio[k : k + 1], sun[k : k + 1])
        assert together[k, n] == pytest.approx(one[0, 0], abs=1e-14)


def test_no_faces_or_no_instants_receive_nothing() -> None:
    none = Faces(axis=np.zeros((0, 3)), cone=np.zeros(0))
    some, never = plates(np.eye(3)), np.zeros((0, 3))
    assert reflected(none, np.eye(3), np.full(3, 1.1), -np.eye(3)).shape == (3, 0)
    assert planet_view(none, np.eye(3), np.full(3, 1.1)).shape == (3, 0)
    assert reflected(some, never, np.zeros(0), never).shape == (0, 3)
    assert sunlight(some, never).shape == (0, 3)


def test_what_is_no_unit_vector_is_refused() -> None:
    one = np.array([[0.0, 0.0, 1.0]])
    faces = plates(one)
    with pytest.raises(ValueError, match="an axis must be a unit vector"):
        plates(1.1 * one)
    with pytest.raises(ValueError, match="an axis of three numbers and a cone each"):
        Faces(axis=one, cone=np.zeros(2))
    with pytest.raises(ValueError, match="a direction of the Sun must be a unit vector"):
        sunlight(faces, np.nan * one)
    with pytest.raises(ValueError, match="a nadir must be a unit vector"):
        planet_view(faces, 0.0 * one, np.array([1.1]))
    with pytest.raises(ValueError, match="at least its radius"):
        reflected(faces, one, np.array([0.9]), one)
