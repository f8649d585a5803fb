"""Kepler orbits and their drift, against conservation laws and integrated motion."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from thermnet.physics.curves import Floats
from thermnet.physics.orbit import (
    TURN,
    Orbit,
    drift_rates,
    drifted,
    eccentric_anomaly,
    instant_at_angle,
    normal,
    orbit_angle,
    period,
    position,
    sun_synchronous_inclination,
    true_anomaly,
    true_anomaly_towards,
    velocity,
)
from thermnet.physics.sun import TROPICAL_YEAR

GRAVITY = 3.986004418e14  # m3/s2, Earth, WGS 84 (second-hand)
RADIUS = 6378137.0  # m, Earth's equator, WGS 84 (second-hand)
J2 = 1.0826e-3  # Earth (from memory)

angles = st.floats(-math.pi, math.pi)
orbits = st.builds(
    Orbit,
    gravity=st.just(GRAVITY),
    semi_major_axis=st.floats(6.5e6, 1e9),
    eccentricity=st.floats(0.0, 0.95),
    inclination=st.floats(0.0, math.pi),
    node=angles,
    periapsis=angles,
    start=angles,
)


def low(**changes: float) -> Orbit:
    whole = Orbit(
        gravity=GRAVITY,
        semi_major_axis=8e6,
        eccentricity=0.15,
        inclination=1.1,
        node=0.7,
        periapsis=2.3,
        start=-1.2,
    )
    return replace(whole, **changes)


def through(orbit: Orbit, count: int = 41) -> Floats:
    """Instants over two revolutions before and after time 0."""
    return np.linspace(-2.0, 2.0, count) * period(orbit)


def halved_kepler(mean: Floats, eccentricity: float) -> Floats:
    """Kepler's equation on 0..pi by halving in extended precision."""
    wanted = mean.astype(np.longdouble)
    low, high = np.zeros_like(wanted), np.full_like(wanted, 4.0)
    for _ in range(80):
        middle = (low + high) / 2
        under = middle - np.longdouble(eccentricity) * np.sin(middle) < wanted
        low, high = np.where(under, middle, low), np.where(under, high, middle)
    return low.astype(float)


@pytest.mark.parametrize("eccentricity", [0.0, 1e-9, 0.1, 0.5, 0.9, 0.99])
def test_kepler_s_equation_is_solved_to_rounding(eccentricity: float) -> None:
    mean = np.concatenate([np.linspace(0.0, math.pi, 2001), np.logspace(-12.0, 0.0, 200)])
    expected = halved_kepler(mean, eccentricity)
    np.testing.assert_allclose(eccentric_anomaly(mean, eccentricity), expected, rtol=0, atol=1e-14)
    np.testing.assert_allclose(
        eccentric_anomaly(-mean, eccentricity), -expected, rtol=0, atol=1e-14
    )


def test_the_period_follows_kepler_s_third_law() -> None:
    # Derived: an orbit four times as wide takes eight times as long.
    wide = low(semi_major_axis=32e6)
    assert period(wide) == pytest.approx(8.0 * period(low()), rel=1e-14)


@given(orbits)
def test_each_period_adds_one_turn(orbit: Orbit) -> None:
    t = through(orbit)
    later = true_anomaly(orbit, t + period(orbit))
    np.testing.assert_allclose(later - true_anomaly(orbit, t), TURN, atol=1e-8)
    assert (np.diff(orbit_angle(orbit, t)) > 0.0).all()


@given(orbits)
def test_the_position_is_periodic(orbit: Orbit) -> None:
    t = through(orbit)
    there, again = position(orbit, t), position(orbit, t + period(orbit))
    np.testing.assert_allclose(again, there, rtol=0, atol=1e-8 * orbit.semi_major_axis)


@given(orbits)
def test_energy_and_angular_momentum_stay(orbit: Orbit) -> None:
    t = through(orbit)
    place, speed = position(orbit, t), velocity(orbit, t)
    distance = np.linalg.norm(place, axis=1)
    energy = (speed**2).sum(axis=1) / 2.0 - GRAVITY / distance
    scale = GRAVITY / distance.min()
    np.testing.assert_allclose(
        energy, -GRAVITY / (2.0 * orbit.semi_major_axis), rtol=0, atol=1e-12 * scale
    )
    momentum = np.cross(place, speed)
    size = math.sqrt(GRAVITY * orbit.semi_major_axis * (1.0 - orbit.eccentricity**2))
    expected = np.broadcast_to(size * normal(orbit), momentum.shape)
    np.testing.assert_allclose(momentum, expected, rtol=0, atol=1e-11 * size)


@given(orbits)
def test_the_first_instant_stands_at_the_true_anomaly_of_the_start(orbit: Orbit) -> None:
    found = true_anomaly(orbit, np.array([0.0]))
    np.testing.assert_allclose(found, orbit.start, atol=1e-12)


@given(orbits, st.lists(st.floats(-20.0, 20.0), min_size=1, max_size=20))
def test_instant_at_angle_inverts_orbit_angle(orbit: Orbit, travelled: list[float]) -> None:
    angle = np.array(travelled)
    found = orbit_angle(orbit, instant_at_angle(orbit, angle))
    np.testing.assert_allclose(found, angle, rtol=0, atol=1e-10)


@pytest.mark.parametrize("eccentricity", [0.0, 0.15, 0.7])
def test_the_motion_is_that_of_newton_s_law(eccentricity: float) -> None:
    orbit = low(semi_major_axis=2.6e7, eccentricity=eccentricity)
    t = np.linspace(0.0, 1.3 * period(orbit), 60)

    def motion(_: float, state: Floats) -> Floats:
        place = state[:3]
        return np.concatenate([state[3:], -GRAVITY * place / np.linalg.norm(place) ** 3])

    zero = np.array([0.0])
    state = np.concatenate([position(orbit, zero)[0], velocity(orbit, zero)[0]])
    solved = solve_ivp(motion, (0.0, t[-1]), state, "DOP853", t, rtol=1e-12, atol=1e-6)
    np.testing.assert_allclose(position(orbit, t), solved.y[:3].T, rtol=0, atol=1.0)
    np.testing.assert_allclose(velocity(orbit, t), solved.y[3:].T, rtol=0, atol=1e-3)


def test_the_periapsis_lies_where_its_angles_say() -> None:
    # Derived: with the periapsis a right angle past the node, it is as far north as the plane goes.
    orbit = low(periapsis=math.pi / 2.0, node=0.0, start=0.0)
    nearest = 8e6 * (1.0 - 0.15)
    expected = nearest * np.array([[0.0, math.cos(1.1), math.sin(1.1)]])
    np.testing.assert_allclose(position(orbit, np.array([0.0])), expected, atol=1e-6)


def test_the_spacecraft_flies_north_through_the_ascending_node() -> None:
    orbit = low(start=-2.3)  # the periapsis is 2.3 past the node
    place, speed = position(orbit, np.array([0.0]))[0], velocity(orbit, np.array([0.0]))[0]
    direction = place / np.linalg.norm(place)
    np.testing.assert_allclose(direction, [math.cos(0.7), math.sin(0.7), 0.0], atol=1e-14)
    assert speed[2] > 0.0


def test_without_inclination_noon_lies_on_x_and_the_flight_goes_to_y() -> None:
    orbit = Orbit(gravity=GRAVITY, semi_major_axis=7e6)
    quarter = period(orbit) / 4.0
    np.testing.assert_allclose(
        position(orbit, np.array([0.0, quarter])), [[7e6, 0.0, 0.0], [0.0, 7e6, 0.0]], atol=1e-6
    )


@given(orbits, st.tuples(angles, angles))
def test_noon_is_the_point_nearest_to_the_sun(orbit: Orbit, sun: tuple[float, float]) -> None:
    across, up = sun
    direction = np.array(
        [math.cos(across) * math.cos(up), math.sin(across) * math.cos(up), math.sin(up)]
    )
    place = position(orbit, instant_at_angle(orbit, np.linspace(0.0, TURN, 721)))
    scanned = (place @ direction / np.linalg.norm(place, axis=1)).max()
    noon = true_anomaly_towards(orbit, direction)
    there = position(orbit, instant_at_angle(orbit, np.array([noon - orbit.start])))[0]
    found = there @ direction / np.linalg.norm(there)
    # The scan misses the best of its points by at most a quarter of a degree: 1e-5 of a cosine.
    assert scanned - 1e-12 <= found <= scanned + 1e-5


def test_a_sun_along_the_normal_is_as_far_from_every_point() -> None:
    assert true_anomaly_towards(low(), normal(low())) == 0.0


def node_and_periapsis(state: Floats) -> tuple[float, float]:
    """Angles of an osculating orbit, from its angular momentum and eccentricity vectors."""
    place, speed = state[:3], state[3:]
    momentum = np.cross(place, speed)
    to_node = np.cross([0.0, 0.0, 1.0], momentum)
    towards = np.cross(speed, momentum) / GRAVITY - place / np.linalg.norm(place)
    ahead = np.cross(momentum, to_node) / np.linalg.norm(momentum)
    return math.atan2(to_node[1], to_node[0]), math.atan2(towards @ ahead, towards @ to_node)


def test_node_and_periapsis_drift_as_in_the_field_of_an_oblate_body() -> None:
    # The potential's second zonal harmonic, integrated: -mu/r [1 - J2 (R/r)2 (3 z2/r2 - 1)/2].
    j2 = 1e-5  # small, so that the second order does not show
    orbit = low(start=0.0)

    def motion(_: float, state: Floats) -> Floats:
        place = state[:3]
        r = np.linalg.norm(place)
        bulge = 1.5 * j2 * (RADIUS / r) ** 2
        lift = 1.0 + bulge * (np.array([1.0, 1.0, 3.0]) - 5.0 * (place[2] / r) ** 2)
        return np.concatenate([state[3:], -GRAVITY * place / r**3 * lift])

    zero = np.array([0.0])
    state = np.concatenate([position(orbit, zero)[0], velocity(orbit, zero)[0]])
    # From periapsis to periapsis: what comes and goes within a revolution is then the same.
    turns = 20
    t = period(orbit) * turns
    solved = solve_ivp(motion, (0.0, t), state, "DOP853", [t], rtol=1e-12, atol=1e-6)
    node, periapsis = node_and_periapsis(solved.y[:, -1])
    after = drifted(orbit, j2, RADIUS, t)
    assert node - orbit.node == pytest.approx(after.node - orbit.node, rel=2e-3)
    assert periapsis - orbit.periapsis == pytest.approx(after.periapsis - orbit.periapsis, rel=2e-3)


def test_a_drifted_orbit_keeps_all_but_node_and_periapsis() -> None:
    after = drifted(low(), J2, RADIUS, 86400.0)
    assert replace(after, node=low().node, periapsis=low().periapsis) == low()
    node_rate, periapsis_rate = drift_rates(low(), J2, RADIUS)
    assert after.node - low().node == pytest.approx(node_rate * 86400.0)
    assert after.periapsis - low().periapsis == pytest.approx(periapsis_rate * 86400.0)


def test_the_node_of_a_polar_orbit_stays() -> None:
    node_rate, _ = drift_rates(low(inclination=math.pi / 2.0), J2, RADIUS)
    assert node_rate == pytest.approx(0.0, abs=1e-20)


def test_the_periapsis_stays_at_the_critical_inclination() -> None:
    # Derived: 5 cos2 i = 1, at 63.435 degrees.
    critical = math.acos(math.sqrt(0.2))
    assert math.degrees(critical) == pytest.approx(63.435, abs=5e-4)
    assert drift_rates(low(inclination=critical), J2, RADIUS)[1] == pytest.approx(0.0, abs=1e-20)


@given(st.floats(6.6e6, 1.2e7), st.floats(0.0, 0.3))
def test_a_sun_synchronous_node_goes_round_once_a_year(axis: float, eccentricity: float) -> None:
    inclination = sun_synchronous_inclination(
        GRAVITY, RADIUS, J2, axis, eccentricity, TROPICAL_YEAR
    )
    orbit = low(semi_major_axis=axis, eccentricity=eccentricity, inclination=inclination)
    node_rate, _ = drift_rates(orbit, J2, RADIUS)
    assert node_rate * TROPICAL_YEAR == pytest.approx(TURN, rel=1e-12)
    assert math.pi / 2.0 < inclination <= math.pi


def test_too_high_an_orbit_is_refused_with_the_highest_that_is_sun_synchronous() -> None:
    with pytest.raises(ValueError, match="choose a semi-major axis of at most 12352 km"):
        sun_synchronous_inclination(GRAVITY, RADIUS, 1.08263e-3, 1.5e7, 0.0, TROPICAL_YEAR)
    assert sun_synchronous_inclination(GRAVITY, RADIUS, 1.08263e-3, 1.2352e7, 0.0, TROPICAL_YEAR)
    with pytest.raises(ValueError, match="no inclination is Sun-synchronous"):
        sun_synchronous_inclination(GRAVITY, RADIUS, 1.08263e-3, 1.2353e7, 0.0, TROPICAL_YEAR)


def test_a_body_that_is_hardly_oblate_has_no_sun_synchronous_orbit() -> None:
    # Venus: gravity and radius of its body sheet (read), j2 and year from memory.
    with pytest.raises(ValueError, match="at any altitude; give the inclination and the node"):
        sun_synchronous_inclination(3.24858592e14, 6051893.0, 4.4e-6, 6.4e6, 0.0, 224.7 * 86400.0)


def test_a_body_that_is_not_oblate_has_no_sun_synchronous_orbit() -> None:
    with pytest.raises(ValueError, match="needs an oblate body"):
        sun_synchronous_inclination(GRAVITY, RADIUS, 0.0, 7e6, 0.0, TROPICAL_YEAR)


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"eccentricity": 1.0}, "choose one of at least 0 and below 1"),
        ({"eccentricity": -0.1}, "choose one of at least 0 and below 1"),
        ({"eccentricity": math.nan}, "choose one of at least 0 and below 1"),
        ({"semi_major_axis": 0.0}, "above zero"),
        ({"gravity": math.inf}, "above zero"),
        ({"node": math.nan}, "finite angles"),
    ],
)
def test_an_orbit_that_is_none_is_refused(wrong: dict[str, float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        low(**wrong)
