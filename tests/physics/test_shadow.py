"""Edges of the shadow, against cones drawn anew, closed forms and an astronomy library."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.physics.apparent import apparent_sun
from tests.physics.cones import (
    ELLIPSES,
    GRAVITY,
    RADIUS,
    TO_SUN,
    circular,
    contacts,
    depth,
    half_angle,
    scanned_edges,
    sun_at,
)
from thermnet.physics.orbit import (
    TURN,
    Orbit,
    instant_at_angle,
    period,
    position,
    sun_synchronous_inclination,
)
from thermnet.physics.shadow import SUN_RADIUS, circular_shadow_fraction, shadow_instants
from thermnet.physics.sun import (
    TROPICAL_YEAR,
    days_since_2000,
    node_of_local_time,
    sun_direction,
    sun_position,
)

J2 = 1.0826e-3  # Earth (from memory)


@pytest.mark.parametrize("sun_distance", [None, TO_SUN], ids=["cylinder", "cones"])
@pytest.mark.parametrize("name", ELLIPSES)
def test_edges_are_those_of_a_scan_in_small_steps(name: str, sun_distance: float | None) -> None:
    orbit = ELLIPSES[name]
    for sun in (sun_at(0.0), sun_at(0.12), np.array([-0.48, 0.6, 0.64])):
        before, after = scanned_edges(orbit, sun, sun_distance)
        found = shadow_instants(orbit, sun, RADIUS, sun_distance)
        assert len(found) == len(before)
        assert ((before <= found + 1e-6) & (found <= after + 1e-6)).all()


@settings(max_examples=40)
@given(
    perigee=st.floats(2e5, 3e7),
    eccentricity=st.floats(0.0, 0.9),
    inclination=st.floats(0.0, math.pi),
    turned=st.tuples(*[st.floats(-math.pi, math.pi)] * 3),
    beta=st.floats(-math.pi / 2.0, math.pi / 2.0),
    sun_distance=st.sampled_from([None, TO_SUN]),
)
def test_the_light_changes_course_at_the_edges_and_nowhere_else(
    perigee: float,
    eccentricity: float,
    inclination: float,
    turned: tuple[float, float, float],
    beta: float,
    sun_distance: float | None,
) -> None:
    node, periapsis, start = turned
    orbit = Orbit(
        gravity=GRAVITY,
        semi_major_axis=(RADIUS + perigee) / (1.0 - eccentricity),
        eccentricity=eccentricity,
        inclination=inclination,
        node=node,
        periapsis=periapsis,
        start=start,
    )
    sun = sun_at(beta)
    edges = shadow_instants(orbit, sun, RADIUS, sun_distance)
    assert (np.diff(edges) > 0.0).all()
    bounds = np.concatenate([[0.0], edges, [period(orbit)]])
    depths = []
    for first, last in zip(bounds[:-1], bounds[1:], strict=True):
        if last - first > 2e-3:
            t = np.linspace(first + 1e-3, last - 1e-3, 400)
            inside = depth(position(orbit, t), sun, RADIUS, sun_distance)
            assert (inside == inside[0]).all()
            depths.append(inside[0])
    if len(depths) == len(bounds) - 1:
        assert (np.diff(depths) != 0).all()


@given(
    st.floats(2e5, 4e7),
    st.floats(-math.pi / 2.0, math.pi / 2.0),
    st.floats(-math.pi, math.pi),
)
def test_edges_of_the_cones_round_a_circular_orbit_are_a_closed_form(
    height: float, beta: float, start: float
) -> None:
    orbit = circular(height, start)
    both = [half_angle(contact, beta) for contact in contacts(orbit)]
    # Where it only just touches, an edge takes off as a square root: not to rounding.
    assume(all(half == 0.0 or half > 1e-4 for half in both))
    angles = [math.pi + side * half - start for half in both if half > 0.0 for side in (-1, 1)]
    expected = np.sort(np.mod(angles, TURN)) / TURN * period(orbit)
    found = shadow_instants(orbit, sun_at(beta), RADIUS, TO_SUN)
    assert len(found) == len(expected)
    # An edge at time 0 may be found at the end of the period.
    apart = np.abs(found - expected) % period(orbit)
    assert np.minimum(apart, period(orbit) - apart).max(initial=0.0) < 1e-3


@given(st.floats(-math.pi, math.pi), st.floats(0.01, 5.0), st.sampled_from([-1.0, 1.0]))
def test_a_shadow_of_a_second_or_less_is_not_missed(
    start: float, seconds: float, side: float
) -> None:
    orbit = circular(500e3, start)
    half = math.pi * seconds / period(orbit)
    for sun_distance, contact in (
        (None, math.asin(RADIUS / orbit.semi_major_axis)),
        (TO_SUN, contacts(orbit)[0]),
    ):
        beta = side * math.acos(math.cos(contact) / math.cos(half))
        found = shadow_instants(orbit, sun_at(beta), RADIUS, sun_distance)
        assert len(found) == 2
        between = (found[1] - found[0]) % period(orbit)
        assert min(between, period(orbit) - between) == pytest.approx(seconds, abs=1e-3)


@given(st.floats(-math.pi, math.pi), st.floats(0.5, 5.0))
def test_an_umbra_of_a_second_inside_the_penumbra_is_not_missed(
    start: float, seconds: float
) -> None:
    orbit = circular(800e3, start)
    beta = math.acos(math.cos(contacts(orbit)[1]) / math.cos(math.pi * seconds / period(orbit)))
    found = shadow_instants(orbit, sun_at(beta), RADIUS, TO_SUN)
    assert len(found) == 4


@given(st.floats(2e5, 4e7), st.floats(-math.pi / 2.0, math.pi / 2.0))
def test_the_cylinder_s_shadow_fraction_is_the_closed_form(height: float, beta: float) -> None:
    orbit = circular(height)
    ratio = orbit.semi_major_axis / RADIUS
    expected = float(circular_shadow_fraction(np.array(ratio), np.array(beta)))
    assume(expected == 0.0 or expected > 1e-4)
    found = shadow_instants(orbit, sun_at(beta), RADIUS, None)
    share = float(np.diff(found).sum()) / period(orbit)
    assert share == pytest.approx(expected, abs=1e-9)


@given(st.floats(1.0, 10.0), st.floats(0.0, math.pi / 2.0))
def test_the_shadow_fraction_mirrors_in_beta(ratio: float, beta: float) -> None:
    above = circular_shadow_fraction(np.array(ratio), np.array(beta))
    below = circular_shadow_fraction(np.array(ratio), np.array(-beta))
    assert float(above) == float(below)
    assert 0.0 <= float(above) <= 0.5


def test_the_shadow_fraction_is_half_on_the_ground_and_zero_over_the_terminator() -> None:
    fractions = circular_shadow_fraction(np.array([1.0, 1.0, 1.1]), np.radians([0.0, 89.0, 90.0]))
    np.testing.assert_allclose(fractions, [0.5, 0.5, 0.0], atol=1e-15)


@given(st.floats(-1.5, 1.5), st.sampled_from(sorted(ELLIPSES)))
def test_shadows_mirror_in_beta(beta: float, name: str) -> None:
    orbit = replace(ELLIPSES[name], inclination=0.0)
    above = shadow_instants(orbit, sun_at(beta), RADIUS, TO_SUN)
    below = shadow_instants(orbit, sun_at(-beta), RADIUS, TO_SUN)
    np.testing.assert_allclose(above, below, rtol=0, atol=1e-4)


def test_the_penumbra_of_a_low_orbit_lasts_as_long_as_the_sun_takes_to_set() -> None:
    # Derived: in the plane of the Sun the limb turns with the orbit, 2 pi a period, over an
    # apparent diameter of twice asin(Sun's radius / distance): 8.40 s at 500 km.
    orbit = circular(500e3)
    expected = 2.0 * math.asin(SUN_RADIUS / TO_SUN) / TURN * period(orbit)
    assert expected == pytest.approx(8.40, abs=5e-3)
    first, umbra, umbra_ends, last = shadow_instants(orbit, sun_at(0.0), RADIUS, TO_SUN)
    assert umbra - first == pytest.approx(expected, rel=2e-4)
    assert last - umbra_ends == pytest.approx(expected, rel=2e-4)


def test_the_cones_of_a_sun_far_away_are_a_cylinder() -> None:
    orbit = ELLIPSES["low ellipse"]
    cylinder = shadow_instants(orbit, sun_at(0.2), RADIUS, None)
    cones = shadow_instants(orbit, sun_at(0.2), RADIUS, 1e6 * TO_SUN)
    np.testing.assert_allclose(cones, np.repeat(cylinder, 2), rtol=0, atol=1e-4)


def test_an_orbit_over_the_terminator_meets_no_shadow() -> None:
    for sun_distance in (None, TO_SUN):
        found = shadow_instants(circular(900e3), sun_at(math.pi / 2.0), RADIUS, sun_distance)
        assert found.shape == (0,)


def test_an_orbit_through_the_tip_of_the_umbra_meets_the_ring_too() -> None:
    # A small body of 250 m: the tip of its umbra lies 54 km behind it.
    radius = 250.0
    tip = radius / math.sin(math.asin((SUN_RADIUS - radius) / TO_SUN))
    # Derived: midnight comes at the apoapsis, beyond the tip; the orbit is wide, so that it
    # meets the cones far from their common point only at midnight.
    orbit = Orbit(gravity=1.0, semi_major_axis=0.7 * tip, eccentricity=0.6)
    found = shadow_instants(orbit, sun_at(0.0), radius, TO_SUN)
    around = np.array([-1e-2, 1e-2])
    steps = [
        depth(position(orbit, instant + around), sun_at(0.0), radius, TO_SUN).tolist()
        for instant in found
    ]
    assert steps == [[0, 1], [1, 3], [3, 1], [1, 0]]
    # And a nearer one the umbra.
    near = replace(orbit, semi_major_axis=0.5 * tip)
    found = shadow_instants(near, sun_at(0.0), radius, TO_SUN)
    steps = [
        depth(position(near, instant + around), sun_at(0.0), radius, TO_SUN).tolist()
        for instant in found
    ]
    assert steps == [[0, 1], [1, 2], [2, 1], [1, 0]]


@pytest.mark.parametrize("year", range(2020, 2036))
def test_edges_on_a_date_are_those_with_the_sun_of_the_reference(year: int) -> None:
    # A Sun-synchronous orbit that descends at half past ten, in every season of its years.
    axis = RADIUS + 700e3
    inclination = sun_synchronous_inclination(GRAVITY, RADIUS, J2, axis, 0.0, TROPICAL_YEAR)
    when = datetime(year, 1 + (5 * year) % 12, 17, 9, tzinfo=UTC)
    days = np.array([days_since_2000(when)])
    node = float(node_of_local_time(days, np.array(22.5))[0])
    orbit = Orbit(gravity=GRAVITY, semi_major_axis=axis, inclination=inclination, node=node)

    reference, far = apparent_sun(days)
    before, after = scanned_edges(orbit, reference[0], float(far[0]) * TO_SUN)
    distance = float(sun_position(days).distance[0]) * TO_SUN
    found = shadow_instants(orbit, sun_direction(days)[0], RADIUS, distance)
    assert len(found) == 4
    np.testing.assert_allclose(found, (before + after) / 2.0, rtol=0, atol=1.0)


def test_edges_lie_within_the_period_that_begins_at_the_start() -> None:
    whole = shadow_instants(circular(500e3), sun_at(0.3), RADIUS, TO_SUN)
    orbit = circular(500e3, start=math.pi)
    shifted = shadow_instants(orbit, sun_at(0.3), RADIUS, TO_SUN)
    # From midnight on: the two edges at which the shadow ends come first.
    half = float(instant_at_angle(orbit, np.array([math.pi]))[0])
    np.testing.assert_allclose(shifted, np.sort((whole + half) % period(orbit)), atol=1e-6)
