"""Where a case flies, from what its file says: Sun, planet, period and environment."""

from __future__ import annotations

import math

import pytest

from tests.model.small import read
from thermnet.errors import InputError
from thermnet.model.paths import apply_case, vary
from thermnet.model.plan import Plan, plan
from thermnet.model.sky import Sky
from thermnet.physics.setting import Cruise, Flight, Stand

FILE = """
thermnet: 1
nodes: {{box: {{capacity: 900 J/K}}}}
boundaries: {{space: {{temperature: 2.7 K}}, soil: {{temperature: 250 K}}}}
surfaces:
  ball: {{node: box, area: 1 m2, emittance: 0.8, absorptance: 0.5, shape: sphere}}
orbits:
  it: {{{orbit}}}
sites:
  plain: {{body: Mars, latitude: 20 deg, ground: soil, transmittance: 0.5}}
pointings:
  nadir: {{axis: +z, to: nadir, second_axis: +x, second_to: velocity}}
environments:
  own: {{albedo: 0.2, infrared: 200 W/m2}}
  distant: {{sun_distance: 2 au}}
cases:
  it: {{orbit: it{case}}}
"""

MEAN = ", environment: mean"


def planned(orbit: str, case: str = "") -> Plan:
    """The plan of a case in this orbit, in the mean environment unless it names one."""
    if "environment" not in case and "none" not in orbit:
        case += MEAN
    model = read(FILE.format(orbit=orbit, case=case))
    return plan(apply_case(model, "it"), "it")


def sky(orbit: str, case: str = "") -> Sky:
    """The sky of a case in this orbit."""
    found = planned(orbit, case).sky
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("inclination", "node", "date", "beta"),
    [
        # check-values 3.2 (derived): the Sun at the March equinox (right ascension 0), and at the
        # June solstice (90 degrees, declination 23.44).
        (51.6, 90.0, "2026-03-20 14:46", 51.600),
        (51.6, 180.0, "2026-06-21 08:25", 75.040),
        (51.6, 0.0, "2026-06-21 08:25", -28.160),
        (98.0, 180.0, "2026-06-21 08:25", 58.560),
    ],
)
def test_beta_follows_from_inclination_node_and_date(
    inclination: float, node: float, date: str, beta: float
) -> None:
    found = sky(f"altitude: 500 km, inclination: {inclination}, node: {node}, date: {date}")
    assert found.beta == pytest.approx(beta, abs=0.03)


def test_a_node_at_noon_has_the_sun_above_it() -> None:
    # At a local time of 12 h the node lies under the mean Sun: in an equatorial orbit beta is the
    # declination, in a polar orbit the Sun lies in the plane but for the equation of time.
    found = sky("altitude: 500 km, inclination: 90, local_time_of_node: 12 h, date: 2026-03-20")
    assert found.beta == pytest.approx(0.0, abs=4.0)
    dawn = sky("altitude: 500 km, inclination: 90, local_time_of_node: 6 h, date: 2026-03-20")
    assert abs(dawn.beta or 0.0) == pytest.approx(90.0, abs=4.0)


def test_a_sun_synchronous_node_keeps_its_local_time_over_half_a_year() -> None:
    # Beta then changes by the Sun's declination and the equation of time only: some degrees.
    text = (
        "altitude: 500 km, inclination: sun-synchronous, local_time_of_node: 22.5 h, "
        "node_date: 2026-01-01, date: {date}"
    )
    found = [sky(text.format(date=date)).beta or 0.0 for date in ("2026-01-01", "2026-07-01")]
    assert abs(found[0] - found[1]) < 10.0
    fixed = [
        sky(text.format(date=date).replace("sun-synchronous", "90")).beta or 0.0
        for date in ("2026-01-01", "2026-07-01")
    ]
    assert abs(fixed[0] - fixed[1]) > 30.0


def test_the_period_of_a_repeating_case_is_that_of_its_orbit() -> None:
    # check-values 3.1 (derived): 5677.0 s at 500 km.
    how = planned("altitude: 500 km, beta: 0", ", solve: repeating")
    assert how.span == pytest.approx(5677.0, abs=0.05)


def test_a_case_may_last_several_orbits() -> None:
    how = planned("altitude: 35786 km, beta: 0", ", solve: repeating, revolutions: 2")
    assert how.span == pytest.approx(2 * 86164.0, abs=0.2)


@pytest.mark.parametrize(
    ("shape", "axis", "eccentricity"),
    [
        ("lowest_altitude: 500 km, highest_altitude: 1500 km", 7378.137e3, 500 / 7378.137),
        ("semi_major_axis: 7378.137 km, eccentricity: 0.06776887", 7378.137e3, 0.06776887),
        ("altitude: 500 km", 6878.137e3, 0.0),
    ],
)
def test_the_size_of_an_orbit_may_be_stated_in_three_ways(
    shape: str, axis: float, eccentricity: float
) -> None:
    setting = sky(f"{shape}, beta: 0").setting
    assert isinstance(setting, Flight)
    assert setting.orbit.semi_major_axis == pytest.approx(axis)
    assert setting.orbit.eccentricity == pytest.approx(eccentricity, abs=1e-8)


def test_sunlight_is_that_of_the_date_without_an_environment() -> None:
    # 1361 W/m2 over the square of the distance: perihelion 1407.65, aphelion 1316.63 (derived,
    # check-values 1.05).
    text = "altitude: 500 km, inclination: 50, node: 0, date: {date}"
    assert sky(text.format(date="2026-01-03")).sunlight == pytest.approx(1407.65, rel=2e-4)
    assert sky(text.format(date="2026-07-06")).sunlight == pytest.approx(1316.63, rel=2e-4)


def test_the_hot_environment_has_its_season_and_its_published_pair() -> None:
    # NASA/TM-2001-211221 (second-hand, check-values 2.01 and 2.05): 0.24 and 275 W/m2 at low
    # inclination over 90 min; +0.04 at beta 0.
    found = sky("altitude: 500 km, inclination: 20, beta: 0", ", environment: hot")
    assert found.albedo == pytest.approx(0.28)
    assert found.infrared == 275.0
    assert found.sunlight == pytest.approx(1407.65, rel=2e-4)


def test_an_environment_of_the_models_own_stands_as_it_is() -> None:
    found = sky("altitude: 500 km, beta: 60", ", environment: own")
    assert (found.albedo, found.infrared) == (0.2, 200.0)
    assert found.sunlight == pytest.approx(1361.0, rel=1e-3)


def test_the_orbits_distance_from_the_sun_stands_above_the_season() -> None:
    found = sky(
        "altitude: 500 km, inclination: 20, beta: 0, sun_distance: 0.5", ", environment: hot"
    )
    assert found.sunlight == pytest.approx(4.0 * 1361.0)


def test_the_moon_glows_by_the_cosine_of_the_suns_zenith_angle() -> None:
    # JPL Horizons body sheet, second-hand (check-values 2.30): 5.2 W/m2 at night, 1268 W/m2 below
    # the Sun at the mean distance, for a sunlight of 1367.6 W/m2 at 1 au.
    found = sky("body: Moon, altitude: 100 km, beta: 0")
    assert found.infrared == 5.2
    day = 1268.0 * 1361.0 / 1367.6
    assert found.infrared + found.day_infrared == pytest.approx(day, rel=1e-3)


def test_between_the_planets_sunlight_falls_with_the_square_of_the_distance() -> None:
    found = sky("body: none, sun_distance: 1.5")
    assert isinstance(found.setting, Cruise)
    assert found.sunlight == pytest.approx(1361.0 / 2.25)
    assert found.period is None


def test_a_site_has_the_day_of_its_body_and_the_light_that_its_air_lets_through() -> None:
    model = read(
        FILE.format(orbit="altitude: 500 km, beta: 0", case=MEAN).replace(
            "orbit: it", "site: plain"
        )
    )
    found = plan(apply_case(model, "it"), "it").sky
    assert found is not None
    assert isinstance(found.setting, Stand)
    assert found.period == pytest.approx(88775.2, abs=1.0)  # Mars solar day; common knowledge
    assert found.sunlight == pytest.approx(0.5 * 586.25, rel=2e-3)  # check-values 2.24, derived


def test_time_begins_where_the_orbit_says() -> None:
    noon, midnight = (
        sky(f"altitude: 500 km, beta: 10, start: {start}").setting for start in ("noon", "midnight")
    )
    assert isinstance(noon, Flight)
    assert isinstance(midnight, Flight)
    turned = abs(noon.orbit.start - midnight.orbit.start)
    assert turned == pytest.approx(math.pi)


def test_beta_stands_above_node_and_date_so_that_a_scan_can_set_it() -> None:
    text = "altitude: 500 km, inclination: 51.6, node: 90, date: 2026-03-20"
    model = vary(read(FILE.format(orbit=text, case=MEAN)), {"orbits.it.beta": 12.5})
    found = plan(apply_case(model, "it"), "it").sky
    assert found is not None
    assert found.beta == pytest.approx(12.5)


def test_an_altitude_under_a_sweep_is_refused_where_the_ground_begins() -> None:
    model = read(FILE.format(orbit="altitude: 500 km, beta: 0", case=MEAN))
    with pytest.raises(InputError, match="must be above 30 km"):
        plan(apply_case(vary(model, {"orbits.it.altitude": "20 km"}), "it"), "it")
