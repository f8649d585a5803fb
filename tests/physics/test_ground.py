"""On the surface of a body: sky and ground by tilt, and where the Sun stands through the day."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import dblquad

from thermnet.physics.ground import (
    day_length,
    ground_reflected,
    ground_view,
    local_sun,
    sky_view,
    sunset_hour_angle,
)

NOON = np.array([0.0])
SOLSTICE = math.radians(23.44)
latitudes = st.floats(-89.0, 89.0).map(math.radians)
declinations = st.floats(-SOLSTICE, SOLSTICE)
tilts = st.floats(0.0, math.pi)


@given(tilts)
def test_sky_and_ground_fill_the_view(tilt: float) -> None:
    assert sky_view(tilt) + ground_view(tilt) == pytest.approx(1.0, abs=1e-15)


def test_a_face_looks_up_at_sky_alone_and_down_at_ground_alone_and_upright_at_halves() -> None:
    np.testing.assert_allclose(sky_view(np.array([0.0, np.pi / 2, np.pi])), [1, 0.5, 0], atol=1e-15)


@pytest.mark.parametrize("degrees", [0.0, 25.0, 90.0, 140.0])
def test_the_ground_takes_the_share_of_view_that_quadrature_finds(degrees: float) -> None:
    """Mean of cosine over pi, over the directions below the horizon (definition of view)."""
    tilt = math.radians(degrees)

    def element(down: float, azimuth: float) -> float:
        cosine = math.sin(tilt) * math.sin(down) * math.cos(azimuth) - math.cos(tilt) * math.cos(
            down
        )
        return max(0.0, cosine) * math.sin(down) / math.pi

    found, _ = dblquad(element, 0.0, 2.0 * math.pi, 0.0, math.pi / 2, epsabs=1e-6)
    assert ground_view(tilt) == pytest.approx(found, abs=1e-5)


def test_a_face_that_looks_down_receives_what_the_ground_reflects_of_the_sun() -> None:
    # By hand: 0.2 x sin 30 deg x 1; upright: half of it; nothing from below the horizon.
    elevation = np.radians([30.0, 30.0, -10.0])
    found = ground_reflected(np.array([np.pi, np.pi / 2, np.pi]), elevation, 0.2)
    np.testing.assert_allclose(found, [0.1, 0.05, 0.0], atol=1e-15)


def test_a_ground_that_reflects_more_than_it_gets_is_refused() -> None:
    with pytest.raises(ValueError, match="from 0 to 1"):
        ground_reflected(0.0, NOON, 1.2)


@given(latitudes, declinations, st.floats(-10.0, 10.0))
def test_the_direction_of_the_sun_has_length_one(lat: float, dec: float, hour: float) -> None:
    assert np.linalg.norm(local_sun(lat, dec, np.array([hour]))) == pytest.approx(1.0, abs=1e-14)


@given(latitudes, declinations)
def test_at_noon_the_sun_stands_as_far_from_the_zenith_as_latitude_from_declination(
    lat: float, dec: float
) -> None:
    east, north, up = local_sun(lat, dec, NOON)[0]
    assert math.atan2(up, math.hypot(east, north)) == pytest.approx(
        math.pi / 2 - abs(lat - dec), abs=1e-7
    )
    assert east == 0.0
    assert north == pytest.approx(
        math.sin(dec - lat), abs=1e-14
    )  # north of the zenith if dec > lat


@given(latitudes)
def test_at_an_equinox_the_sun_rises_due_east_and_sets_due_west(lat: float) -> None:
    rise, sunset = local_sun(lat, 0.0, np.array([-np.pi / 2, np.pi / 2]))
    np.testing.assert_allclose(rise, [1.0, 0.0, 0.0], atol=1e-15)
    np.testing.assert_allclose(sunset, [-1.0, 0.0, 0.0], atol=1e-15)


def test_at_a_pole_the_sun_goes_round_at_the_height_of_its_declination() -> None:
    up = local_sun(np.pi / 2, 0.3, np.linspace(0.0, 6.0, 7))[:, 2]
    np.testing.assert_allclose(up, math.sin(0.3), rtol=1e-14)


@given(st.floats(-65.0, 65.0).map(math.radians), declinations)
def test_the_sun_sets_where_the_sunrise_equation_says(lat: float, dec: float) -> None:
    # cos h0 = -tan(latitude) tan(declination), textbook.
    h0 = float(sunset_hour_angle(lat, dec))
    assert math.cos(h0) == pytest.approx(-math.tan(lat) * math.tan(dec), abs=1e-12)
    assert local_sun(lat, dec, np.array([h0]))[0, 2] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("latitude", "declination", "share"),
    [
        (80.0, 20.0, 1.0),  # midsummer beyond the polar circle
        (80.0, -20.0, 0.0),  # polar night
        (-80.0, -20.0, 1.0),
        (90.0, 10.0, 1.0),
        (90.0, -10.0, 0.0),
        (0.0, 20.0, 0.5),  # the equator
        (45.0, 0.0, 0.5),  # an equinox
        (90.0, 0.0, 0.5),  # on the horizon all day
    ],
)
def test_days_of_the_poles_the_equator_and_the_equinox(
    latitude: float, declination: float, share: float
) -> None:
    found = day_length(math.radians(latitude), math.radians(declination), 88775.0)
    assert found == pytest.approx(share * 88775.0, abs=1e-6)


@given(latitudes, declinations)
def test_the_mean_sunlight_of_a_day_on_flat_ground_is_the_closed_form(
    lat: float, dec: float
) -> None:
    """(h0 sin lat sin dec + cos lat cos dec sin h0) / pi, textbook (daily insolation)."""
    h0 = float(sunset_hour_angle(lat, dec))
    expected = h0 * math.sin(lat) * math.sin(dec) + math.cos(lat) * math.cos(dec) * math.sin(h0)
    hour = (np.arange(20000) + 0.5) / 20000 * 2.0 * np.pi
    found = np.maximum(local_sun(lat, dec, hour)[:, 2], 0.0).mean()
    assert found == pytest.approx(expected / math.pi, abs=1e-7)
