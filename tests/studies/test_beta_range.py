"""Which beta angles an orbit meets."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from tests.small_models import model_of
from thermnet.errors import InputError
from thermnet.model.model import Model
from thermnet.studies.beta_range import BetaHistory, beta_history, orbit_of, reach


def flying(orbit: str) -> Model:
    """A bare node in an orbit."""
    around = "" if "none" in orbit else ", environment: mean"
    return model_of(f"""
thermnet: 1
nodes: {{plate: {{capacity: 1 J/K}}}}
boundaries: {{space: {{temperature: 3 K}}}}
surfaces: {{plate: {{node: plate, area: 1 m2, emittance: 0.8, shaded: true}}}}
orbits: {{one: {{{orbit}}}}}
cases:
  case: {{orbit: one{around}}}
  on the bench: {{extends: case, orbit: none}}
""")


DATED = "altitude: 500 km, inclination: 51.6 deg, node: 40 deg, date: 2026-03-04"


def extent(model: Model) -> tuple[float, float]:
    found = reach(model, "case")
    return found.low, found.high


@pytest.mark.parametrize(
    ("inclination", "most"), [(0.0, 24.0), (51.6, 76.0), (98.0, 90.0), (128.4, 76.0), (180.0, 24.0)]
)
def test_with_an_inclination_alone_the_sun_climbs_to_it_plus_the_tilt_of_the_equator(
    inclination: float, most: float
) -> None:
    """i (or 180 deg - i) plus 23.44: 51.6 gives 75.04 (closed form, table of beta angles), here in
    whole degrees, rounded outwards.
    """
    found = extent(flying(f"altitude: 500 km, inclination: {inclination} deg, beta: 0 deg"))
    assert found == (-most, most)


def test_without_an_inclination_every_angle_can_be_met() -> None:
    assert extent(flying("altitude: 500 km, beta: 0 deg")) == (-90.0, 90.0)


def test_about_another_body_every_angle_can_be_met() -> None:
    orbit = "body: Moon, altitude: 100 km, inclination: 20 deg, beta: 0 deg"
    assert extent(flying(orbit)) == (-90.0, 90.0)


def test_a_dated_orbit_reaches_what_it_meets_in_a_year() -> None:
    model = flying(DATED)
    low, high = extent(model)
    beta = beta_history(model, "case").beta
    assert low <= beta.min() < low + 1.0
    assert high - 1.0 < beta.max() <= high
    assert beta.min() >= -75.04
    assert beta.max() <= 75.04


def history(orbit: str, days: int = 365) -> BetaHistory:
    return beta_history(flying(orbit), "case", days)


def test_beta_of_an_equatorial_orbit_is_minus_the_suns_declination_or_that() -> None:
    """An orbit in the equator's plane has its normal along north: beta is the Sun's declination.

    Solstices of 2026 fall on 21 June and 21 December (common almanac knowledge, from memory).
    """
    found = history("altitude: 500 km, inclination: 0 deg, node: 0 deg, date: 2026-01-01")
    assert found.beta.max() == pytest.approx(23.44, abs=0.01)
    assert found.beta.min() == pytest.approx(-23.44, abs=0.01)
    assert found.first == date(2026, 1, 1)
    assert abs(found.days[found.beta.argmax()] - 171) <= 1
    assert abs(found.days[found.beta.argmin()] - 354) <= 1


def test_a_sun_synchronous_orbit_keeps_its_beta_within_the_seasons() -> None:
    """Its node keeps pace with the mean Sun. At a node of 6 h the Sun stands near the orbit's
    normal, within the tilt of the orbit and that of the Earth, 31 degrees and a little (derived).
    """
    found = history(
        "altitude: 500 km, inclination: sun-synchronous, local_time_of_node: 18 h, date: 2026-01-01"
    )
    assert np.abs(found.beta).min() > 90.0 - 23.5 - 8.0 - 1.0


def test_the_node_of_a_station_orbit_drifts_five_degrees_a_day_to_the_west() -> None:
    """At 51.6 degrees and 400 km it drifts by about -5 degrees a day (from memory: common value of
    station orbits), so that beta comes back after some 60 days: it crosses 0 about 12 times a year.
    """
    found = history(DATED.replace("500", "400"))
    crossings = np.count_nonzero(np.diff(np.sign(found.beta)))
    assert 10 <= crossings <= 14


def test_the_shadow_of_a_circular_orbit_is_the_closed_form_at_every_beta() -> None:
    """Critical angle 68.019 deg and, at 30 deg, 0.35773 of the orbit: closed forms, table of
    circular orbits at 500 km.
    """
    found = history(DATED)
    assert found.critical == pytest.approx(68.019, abs=1e-3)
    assert (found.shadow[np.abs(found.beta) > 68.02] == 0.0).all()
    near = int(np.abs(np.abs(found.beta) - 30.0).argmin())
    assert found.shadow[near] == pytest.approx(0.35773, abs=0.003)


def test_the_shadow_of_a_nearly_circular_ellipse_is_that_of_the_circle() -> None:
    axis = 6378.137 + 500.0
    circle = history(DATED, 80)
    ellipse = history(
        DATED.replace("altitude: 500 km", f"semi_major_axis: {axis} km, eccentricity: 1e-7"), 80
    )
    assert ellipse.critical is None
    assert ellipse.shadow == pytest.approx(circle.shadow, abs=1e-3)


def test_an_ellipse_lingers_in_a_shadow_at_its_highest_point() -> None:
    """With the highest point at midnight the share of time is larger than with it at noon."""
    shape = "lowest_altitude: 500 km, highest_altitude: 8000 km, inclination: 0 deg, node: 0 deg"
    day = "date: 2026-03-20"  # the Sun at the equinox, along the node
    far = history(f"{shape}, {day}, periapsis: 0 deg", 0)
    near = history(f"{shape}, {day}, periapsis: 180 deg", 0)
    assert far.shadow[0] > near.shadow[0] > 0.0


def test_a_beta_that_is_stated_besides_is_left_aside() -> None:
    stated = history(f"{DATED}, beta: 5 deg", 30)
    assert stated.beta == pytest.approx(history(DATED, 30).beta, abs=1e-12)


def test_a_history_needs_a_date() -> None:
    with pytest.raises(InputError, match="'inclination', 'node'"):
        history("altitude: 500 km, beta: 0 deg")


def test_a_history_needs_days() -> None:
    with pytest.raises(InputError, match="days from 0 on"):
        history(DATED, -1)


def test_a_case_that_leaves_the_orbit_of_the_one_it_extends_has_none() -> None:
    model = flying(DATED)
    assert orbit_of(model, "case") == "one"
    assert orbit_of(model, "on the bench") is None


def test_between_the_planets_there_is_no_beta() -> None:
    model = flying("body: none, sun_distance: 1 au")
    assert orbit_of(model, "case") is None
    with pytest.raises(InputError, match="no orbit around a body"):
        reach(model, "case")
