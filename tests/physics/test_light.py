"""Light in and out of the shadow, against rays traced one by one."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.physics.cones import (
    ELLIPSES,
    RADIUS,
    TO_SUN,
    circular,
    contacts,
    half_angle,
    sun_at,
    traced,
)
from thermnet.physics.curves import Floats
from thermnet.physics.orbit import period, position
from thermnet.physics.shadow import SUN_RADIUS, lit_fraction, shadow_instants


@pytest.mark.parametrize("height", [300e3, 2e6, 35786e3])
@pytest.mark.parametrize("beta", [0.0, 0.6])
def test_light_in_the_penumbra_is_that_of_traced_rays(height: float, beta: float) -> None:
    orbit = circular(height)
    if half_angle(contacts(orbit)[1], beta) == 0.0:
        beta = 0.1
    sun = sun_at(beta)
    first, umbra = shadow_instants(orbit, sun, RADIUS, TO_SUN)[:2]
    t = np.linspace(first, umbra, 9)
    where = position(orbit, t)
    expected = [traced(point, sun, RADIUS, TO_SUN) for point in where]
    found = lit_fraction(where, sun, RADIUS, TO_SUN)
    np.testing.assert_allclose(found, expected, rtol=0, atol=1e-3)
    assert found[0] == pytest.approx(1.0, abs=1e-6)
    assert found[-1] == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("name", ELLIPSES)
def test_light_falls_without_a_turn_from_full_to_none_and_rises_again(name: str) -> None:
    orbit = replace(ELLIPSES[name], inclination=0.0, periapsis=0.0, start=0.0)  # from noon
    first, umbra, umbra_ends, last = shadow_instants(orbit, sun_at(0.05), RADIUS, TO_SUN)

    def light(begin: float, end: float) -> Floats:
        t = np.linspace(begin, end, 2001)
        return lit_fraction(position(orbit, t), sun_at(0.05), RADIUS, TO_SUN)

    assert (light(0.0, first - 1e-6) == 1.0).all()
    assert (np.diff(light(first, umbra)) <= 0.0).all()
    assert (light(umbra + 1e-6, umbra_ends - 1e-6) == 0.0).all()
    assert (np.diff(light(umbra_ends, last)) >= 0.0).all()
    assert (light(last + 1e-6, period(orbit)) == 1.0).all()


def test_beyond_the_tip_a_ring_of_the_sun_is_left() -> None:
    # Derived: the discs as seen from there, one inside the other.
    radius = 250.0
    far = np.array([[-1e5, 0.0, 0.0], [-1e5, 100.0, 0.0], [-1e6, 0.0, 0.0]])
    distance = np.linalg.norm(far, axis=1)
    seen = np.arcsin(SUN_RADIUS / np.linalg.norm(TO_SUN * sun_at(0.0) - far, axis=1))
    expected = 1.0 - (np.arcsin(radius / distance) / seen) ** 2
    found = lit_fraction(far, sun_at(0.0), radius, TO_SUN)
    np.testing.assert_allclose(found, expected, rtol=1e-12)
    assert (found > 0.0).all()


def test_a_body_seen_small_before_the_edge_of_the_sun_hides_half_of_itself() -> None:
    # Derived: with its centre on the Sun's limb a small disc hides half of its area, less the
    # curvature of the limb, of the order of the ratio of the radii.
    radius, away, far = 250.0, 1e8, TO_SUN
    angle = math.asin(SUN_RADIUS / far)
    body = away * np.array([math.cos(angle), math.sin(angle), 0.0])  # seen from the spacecraft
    to_sun = np.array([far, 0.0, 0.0]) - body
    distance = float(np.linalg.norm(to_sun))
    hidden = 1.0 - float(lit_fraction(-body[None], to_sun / distance, radius, distance)[0])
    seen = math.asin(radius / away) / angle
    assert hidden == pytest.approx(seen**2 / 2.0, rel=seen)


def test_in_a_cylinder_there_is_light_or_none() -> None:
    where = RADIUS * np.array(
        [[1.1, 0.0, 0.0], [-1.1, 0.0, 0.0], [-1.1, 0.999, 0.0], [-1.1, 1.001, 0.0], [0.0, 0.0, 1.2]]
    )
    found = lit_fraction(where, sun_at(0.0), RADIUS, None)
    assert found.tolist() == [1.0, 0.0, 0.0, 1.0, 1.0]
