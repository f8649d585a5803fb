"""What the faces of a body receive through an orbit, a cruise and a day on the ground."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from thermnet.physics import flux
from thermnet.physics.curves import Floats
from thermnet.physics.exposure import Exposure, exposure, light, shadow_edges
from thermnet.physics.orbit import Orbit, instant_at_angle
from thermnet.physics.setting import Attitude, Cruise, Face, Flight, Stand
from thermnet.physics.shadow import circular_shadow_fraction

RADIUS = 6378137.0
HEIGHT = 500e3
BETA = math.radians(20.5)
NADIR = Attitude(
    axis=(0.0, 0.0, 1.0), to="nadir", second_axis=(1.0, 0.0, 0.0), second_to="velocity"
)
LOW = Flight(
    orbit=Orbit(gravity=3.986004418e14, semi_major_axis=RADIUS + HEIGHT, eccentricity=0.0),
    sun=(math.cos(BETA), 0.0, math.sin(BETA)),
    sun_distance=None,
    radius=RADIUS,
    glow_radius=RADIUS,
    attitudes=((0.0, NADIR),),
)
CUBE = tuple(
    Face(axis=(x, y, z))
    for x, y, z in [(1.0, 0, 0), (-1.0, 0, 0), (0, 1.0, 0), (0, -1.0, 0), (0, 0, 1.0), (0, 0, -1.0)]
)
SPHERE = Face(axis=None)


def means(found: Exposure, of: str) -> Floats:
    """Time means of one part of what is received, by face."""
    value = getattr(found, of)
    width = np.diff(found.time)[:, None]
    return np.asarray((width * (value[1:] + value[:-1]) / 2.0).sum(axis=0) / found.time[-1])


def test_sunlight_on_nadir_pointing_faces_follows_the_closed_forms() -> None:
    # Derived: with u the angle from noon, +x (velocity) has cos beta sin u on the way down,
    # -z (zenith) has cos beta cos u, -y (towards the orbit's normal) has sin beta; dark from us.
    found = exposure(LOW, CUBE)
    share = float(circular_shadow_fraction(np.array((RADIUS + HEIGHT) / RADIUS), np.array(BETA)))
    edge = math.pi * (1.0 - share)  # of the light, from noon
    ahead = math.cos(BETA) * (1.0 - math.cos(edge)) / (2.0 * math.pi)
    up = math.cos(BETA) * 2.0 / (2.0 * math.pi)
    aside = math.sin(BETA) * edge / math.pi
    # The light on the nadir face: cos u < 0 while still lit, on both sides of the shadow.
    down = math.cos(BETA) * 2.0 * (1.0 - math.sin(edge)) / (2.0 * math.pi)
    np.testing.assert_allclose(
        means(found, "direct"), [ahead, ahead, 0.0, aside, down, up], rtol=2e-4, atol=1e-12
    )


def test_the_day_side_is_half_an_orbit_of_subsolar_load_for_the_albedo() -> None:
    # check-values 3.4: at beta 0 the mean of F cos(zenith) over the orbit is F / pi for a nadir
    # plate (derived), and integration over the lit cap is lower by 0.5 % at 500 km.
    flight = replace(LOW, sun=(1.0, 0.0, 0.0))
    mean = means(exposure(flight, (CUBE[4],)), "reflected")[0]
    view = (RADIUS / (RADIUS + HEIGHT)) ** 2
    assert mean == pytest.approx(view / math.pi, rel=0.01)


def test_six_faces_of_a_cube_receive_what_a_sphere_of_their_mean_cross_section_does() -> None:
    # Derived (Cauchy): a convex body's mean cross-section over all attitudes is a quarter of its
    # surface. 3,000 random attitudes leave an error of some 0.2 %.
    turns = Rotation.random(3000, random_state=1).as_matrix()
    axis = np.concatenate([turns, -turns], axis=1).reshape(-1, 3)
    cubes = flux.Faces(axis=axis, cone=np.zeros(len(axis)))
    ball = flux.Faces(axis=np.array([[0.0, 0.0, 1.0]]), cone=np.array([np.nan]))
    sun, nadir = np.array([[0.6, 0.0, 0.8]]), np.array([[0.0, 0.0, -1.0]])
    ratio = np.array([1.0784])
    pairs = [
        (flux.sunlight(cubes, sun), flux.sunlight(ball, sun)),
        (flux.planet_view(cubes, nadir, ratio), flux.planet_view(ball, nadir, ratio)),
        (flux.reflected(cubes, nadir, ratio, sun), flux.reflected(ball, nadir, ratio, sun)),
    ]
    for on_cubes, on_ball in pairs:
        assert on_cubes.mean() == pytest.approx(on_ball[0, 0], rel=5e-3)


def test_a_face_that_follows_the_sun_has_its_full_light_and_its_back_none() -> None:
    front, back = (
        Face(axis=None, follows="two axes"),
        Face(axis=None, follows="two axes", back=True),
    )
    found = exposure(LOW, (front, back))
    lit = 1.0 - float(
        circular_shadow_fraction(np.array((RADIUS + HEIGHT) / RADIUS), np.array(BETA))
    )
    np.testing.assert_allclose(means(found, "direct"), [lit, 0.0], rtol=1e-6, atol=1e-12)


def test_a_wing_about_the_orbit_normal_loses_the_cosine_of_beta() -> None:
    found = exposure(LOW, (Face(axis=(0.0, 1.0, 0.0), follows="one axis"),))
    assert found.direct.max() == pytest.approx(math.cos(BETA), rel=1e-6)


def test_a_spinning_body_receives_the_mean_of_fixed_attitudes() -> None:
    spin = Attitude(axis=(0.0, 0.0, 1.0), to="orbit normal", spin=True)
    spun = exposure(replace(LOW, attitudes=((0.0, spin),)), (CUBE[0],))
    total = np.zeros(3)
    count = 35  # odd, so that the kinks of opposite sides fall between each other
    for k in range(count):
        angle = 2.0 * math.pi * k / count
        held = Attitude(
            axis=(0.0, 0.0, 1.0),
            to="orbit normal",
            second_axis=(math.cos(angle), math.sin(angle), 0.0),
            second_to=(1.0, 0.0, 0.0),
        )
        fixed = exposure(replace(LOW, attitudes=((0.0, held),)), (CUBE[0],))
        total += [means(fixed, part)[0] / count for part in ("direct", "reflected", "planet")]
    found = [means(spun, part)[0] for part in ("direct", "reflected", "planet")]
    np.testing.assert_allclose(found, total, rtol=1.5e-3)


def test_attitudes_change_as_jumps_at_their_orbit_angles() -> None:
    zenith = replace(NADIR, to="zenith")
    flight = replace(LOW, attitudes=((0.0, NADIR), (math.pi / 3.0, zenith)))
    found = exposure(flight, (CUBE[4],))
    turn = float(instant_at_angle(LOW.orbit, np.array([math.pi / 3.0]))[0])
    at = np.flatnonzero(np.abs(found.time - turn) < 1e-9)
    assert len(at) == 2
    view = (RADIUS / (RADIUS + HEIGHT)) ** 2
    assert found.planet[at[0], 0] == pytest.approx(view, rel=1e-3)
    assert found.planet[at[1], 0] == 0.0


def test_sunlight_ends_at_the_edges_of_the_shadow() -> None:
    found = exposure(LOW, (Face(axis=None, follows="two axes"),))
    into, out = shadow_edges(LOW)
    for edge in (into, out):
        assert (np.abs(found.time - edge) < 1e-9).sum() == 2
    inside = (found.time > into + 1e-6) & (found.time < out - 1e-6)
    assert (found.direct[inside] == 0.0).all()


def test_light_fades_through_the_penumbra_without_a_jump() -> None:
    time, share = light(replace(LOW, sun_distance=1.495978707e11))
    assert share.min() == 0.0
    assert share.max() == 1.0
    assert (np.diff(time) > 0.0).all()
    # Half the Sun stands above the limb at the edge of the cylinder, which is 8 s into it: derived
    # from the Sun's apparent diameter of 0.533 degrees over the orbit's rate, within a second.
    edge = shadow_edges(LOW)[0]
    assert np.interp(edge, time, share) == pytest.approx(0.5, abs=0.02)


def test_air_heats_the_face_that_flies_into_it() -> None:
    # 1/2 rho v^3 for a circular orbit, by hand: v = sqrt(mu / a) = 7612.6 m/s at 500 km.
    density = 1e-11
    found = exposure(replace(LOW, air=(density, 0.0, math.inf)), CUBE)
    speed = math.sqrt(3.986004418e14 / (RADIUS + HEIGHT))
    assert speed == pytest.approx(7612.6, abs=0.1)
    expected = [0.5 * density * speed**3, 0.0, 0.0, 0.0, 0.0, 0.0]
    np.testing.assert_allclose(found.air[0], expected, rtol=1e-9, atol=1e-12)


def test_between_the_planets_only_the_sun_counts() -> None:
    towards = Attitude(axis=(0.0, 0.0, 1.0), to="sun")
    found = exposure(Cruise(sun=(1.0, 0.0, 0.0), attitude=towards), (*CUBE, SPHERE))
    np.testing.assert_allclose(found.direct[0], [0, 0, 0, 0, 1, 0, 0.25], atol=1e-12)
    assert not found.reflected.any()
    assert not found.planet.any()


def test_a_cube_at_the_equator_at_equinox_sees_the_sun_rise_and_set() -> None:
    # Derived: the Sun goes from east through the zenith to west; means over a day: up 1/pi,
    # east and west 1/(2 pi) each, north and south none.
    upright = Attitude(
        axis=(0.0, 0.0, 1.0), to="zenith", second_axis=(0.0, 1.0, 0.0), second_to="north"
    )
    stand = Stand(latitude=0.0, declination=0.0, day=86400.0, attitude=upright)
    found = exposure(stand, CUBE)
    half = 1.0 / (2.0 * math.pi)
    np.testing.assert_allclose(
        means(found, "direct"), [half, half, 0.0, 0.0, 2.0 * half, 0.0], rtol=1e-3, atol=1e-6
    )
    np.testing.assert_allclose(found.planet[0], [0.5, 0.5, 0.5, 0.5, 0.0, 1.0], atol=1e-12)
    # From the ground comes sunlight x sin(elevation) x view, whose mean over the day is 1/pi.
    np.testing.assert_allclose(means(found, "reflected"), found.planet[0] / math.pi, rtol=1e-3)


def test_what_was_computed_once_is_not_computed_again() -> None:
    exposure.cache_clear()
    first = exposure(LOW, CUBE)
    assert exposure(replace(LOW), tuple(CUBE)) is first
    assert exposure.cache_info().misses == 1


@pytest.mark.parametrize(
    ("attitude", "words"),
    [
        (replace(NADIR, to="east"), "there is no 'east' to point to here"),
        (replace(NADIR, second_axis=(0.0, 0.0, 1.0)), "the two body axes"),
        (replace(NADIR, second_to="zenith"), "the two targets"),
    ],
)
def test_an_attitude_that_is_none_is_refused(attitude: Attitude, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        exposure(replace(LOW, attitudes=((0.0, attitude),)), CUBE)


@pytest.mark.parametrize(
    "face", [Face(axis=(1.0, 0.0, 0.0), cylinder=True), Face(axis=None, follows="two axes")]
)
def test_a_spinning_body_refuses_what_has_no_mean_over_its_turn(face: Face) -> None:
    spin = replace(NADIR, spin=True)
    with pytest.raises(ValueError, match="spin"):
        exposure(replace(LOW, attitudes=((0.0, spin),)), (face,))
