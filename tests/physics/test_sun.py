"""The Sun's direction, against an astronomy library; beta angle, local time and elevation."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.physics.apparent import apparent_sun
from thermnet.physics.sun import (
    beta,
    days_since_2000,
    mean_sun_right_ascension,
    node_of_local_time,
    sun_direction,
    sun_elevation,
    sun_position,
)

FIRST, LAST = datetime(2020, 1, 1, tzinfo=UTC), datetime(2035, 12, 31, tzinfo=UTC)
DAYS = np.arange(days_since_2000(FIRST), days_since_2000(LAST), 0.93)

angles = st.floats(-math.pi, math.pi)
halves = st.floats(-math.pi / 2.0, math.pi / 2.0)


def test_the_sun_stands_within_a_fiftieth_of_a_degree_of_the_reference() -> None:
    expected, _ = apparent_sun(DAYS)
    found = sun_direction(DAYS)
    np.testing.assert_allclose(np.linalg.norm(found, axis=1), 1.0, rtol=1e-14)
    apart = np.degrees(np.linalg.norm(found - expected, axis=1))
    assert apart.max() < 0.02


def test_the_distance_of_the_sun_is_that_of_the_reference() -> None:
    # 1e-4 in distance is 2e-4 of the irradiance.
    _, expected = apparent_sun(DAYS)
    np.testing.assert_allclose(sun_position(DAYS).distance, expected, rtol=0, atol=1e-4)


def test_right_ascension_and_declination_are_those_of_the_direction() -> None:
    sun = sun_position(DAYS)
    x = np.cos(sun.declination) * np.cos(sun.right_ascension)
    y = np.cos(sun.declination) * np.sin(sun.right_ascension)
    found = np.stack([x, y, np.sin(sun.declination)], axis=1)
    np.testing.assert_allclose(found, sun_direction(DAYS), rtol=0, atol=1e-14)
    assert sun.right_ascension.min() >= 0.0
    assert sun.right_ascension.max() < 2.0 * math.pi


def test_days_count_from_noon_of_the_first_of_january_2000() -> None:
    assert days_since_2000(datetime(2000, 1, 1, 12, tzinfo=UTC)) == 0.0
    # Derived: Julian date 2459580.5, less 2451545.
    assert days_since_2000(datetime(2022, 1, 1, tzinfo=UTC)) == 8035.5


def test_a_time_without_a_zone_is_universal_time() -> None:
    east = timezone(timedelta(hours=9))
    expected = days_since_2000(datetime(2026, 3, 1, 3, tzinfo=UTC))
    assert days_since_2000(datetime(2026, 3, 1, 3)) == expected  # noqa: DTZ001
    assert days_since_2000(datetime(2026, 3, 1, 12, tzinfo=east)) == expected


def test_the_sun_stands_over_the_tropic_at_the_solstice() -> None:
    # Solstice of 2020-06-20 21:44 UTC, equinox of 2020-03-20 03:50 UTC (from memory).
    solstice = sun_position(np.array(days_since_2000(datetime(2020, 6, 20, 21, 44, tzinfo=UTC))))
    equinox = sun_position(np.array(days_since_2000(datetime(2020, 3, 20, 3, 50, tzinfo=UTC))))
    assert math.degrees(solstice.right_ascension) == pytest.approx(90.0, abs=0.02)
    assert math.degrees(solstice.declination) == pytest.approx(23.44, abs=0.01)
    assert math.degrees(equinox.declination) == pytest.approx(0.0, abs=0.01)


def test_the_equation_of_time_has_its_known_extremes() -> None:
    # About +16.4 min early in November and -14.2 min in the middle of February (from memory).
    days = days_since_2000(datetime(2025, 1, 1, tzinfo=UTC)) + np.arange(365.0)
    ahead = mean_sun_right_ascension(days) - sun_position(days).right_ascension
    minutes = np.degrees((ahead + math.pi) % (2.0 * math.pi) - math.pi) * 4.0
    assert minutes.max() == pytest.approx(16.4, abs=0.1)
    assert minutes.min() == pytest.approx(-14.2, abs=0.1)
    assert 300 < np.argmax(minutes) < 312
    assert 38 < np.argmin(minutes) < 46


def test_a_node_at_noon_stands_below_the_mean_sun() -> None:
    np.testing.assert_allclose(
        node_of_local_time(DAYS, np.array(12.0)), mean_sun_right_ascension(DAYS), atol=1e-12
    )


def test_local_time_grows_to_the_east_by_an_hour_each_fifteen_degrees() -> None:
    day = np.array(8000.0)
    east = node_of_local_time(day, np.array(18.0)) - mean_sun_right_ascension(day)
    assert math.degrees(east) % 360.0 == pytest.approx(90.0, abs=1e-9)


def test_an_orbit_over_the_terminator_has_the_sun_along_its_normal() -> None:
    # Derived: at the equinox, in a polar orbit that climbs at 18 h, the normal points to the Sun.
    day = np.array(days_since_2000(datetime(2020, 3, 20, 3, 50, tzinfo=UTC)))
    node = sun_position(day).right_ascension + math.pi / 2.0
    normal = np.array([math.sin(node), -math.cos(node), 0.0])
    assert math.degrees(beta(sun_direction(day), normal)) == pytest.approx(90.0, abs=0.01)


@given(angles, halves)
def test_beta_is_the_angle_out_of_the_plane(noon: float, above: float) -> None:
    sun = np.array([math.cos(noon) * math.cos(above), math.sin(noon) * math.cos(above), 0.0])
    sun[2] = math.sin(above)
    north = np.array([0.0, 0.0, 1.0])
    assert float(beta(sun, north)) == pytest.approx(above, abs=1e-15, rel=1e-14)
    assert float(beta(sun, -north)) == pytest.approx(-above, abs=1e-15, rel=1e-14)


@given(halves, st.floats(-0.5, 0.5), angles)
def test_the_elevation_is_that_of_spherical_astronomy(
    latitude: float, declination: float, hour_angle: float
) -> None:
    # Sine of the elevation, as every text has it.
    sine = math.sin(latitude) * math.sin(declination) + math.cos(latitude) * math.cos(
        declination
    ) * math.cos(hour_angle)
    found = sun_elevation(np.array(latitude), np.array(declination), np.array(hour_angle))
    assert math.sin(found) == pytest.approx(sine, abs=1e-14)


def test_the_sun_culminates_at_noon() -> None:
    latitude, declination = np.radians([50.0, -23.44])
    noon = sun_elevation(latitude, declination, np.array(0.0))
    assert math.degrees(noon) == pytest.approx(90.0 - 50.0 - 23.44, abs=1e-12)


def test_the_sun_sets_where_the_sunset_equation_says() -> None:
    # cos h = -tan(latitude) tan(declination), from any text.
    latitude, declination = np.radians([35.0, 20.0])
    sunset = math.acos(-math.tan(latitude) * math.tan(declination))
    assert float(sun_elevation(latitude, declination, np.array(sunset))) == pytest.approx(0.0)


def test_the_sun_circles_at_one_height_round_the_pole() -> None:
    height = sun_elevation(np.array(math.pi / 2.0), np.array(0.3), np.linspace(0.0, 6.0, 7))
    np.testing.assert_allclose(height, 0.3, rtol=1e-14)
