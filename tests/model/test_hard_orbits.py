"""Orbits and surfaces at which a plausible number would be wrong: each by hand or by a limit."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.model.small import read
from thermnet.errors import InputError
from thermnet.heating import SurfaceHeat, surface_heat
from thermnet.model.assemble import assemble
from thermnet.model.model import Model
from thermnet.model.paths import apply_case, vary
from thermnet.model.plan import plan

FILE = """
thermnet: 1
nodes: {{box: {{capacity: 900 J/K}}}}
boundaries: {{space: {{temperature: 2.7 K}}, soil: {{temperature: 250 K}}}}
schedules: {{it: {{{schedule}}}}}
surfaces:
  it: {{node: box, area: 1 m2, absorptance: 1, emittance: 1, {surface}}}
orbits:
  it: {{{orbit}}}
sites:
  plain: {{body: Mars, latitude: 0, ground: soil}}
pointings:
  nadir: {{axis: +z, to: nadir, second_axis: +x, second_to: velocity}}
  turned: {{axis: -z, to: zenith, second_axis: +x, second_to: north}}
  both: {{sequence: [turned, turned], angle: [0, 180]}}
environments:
  own: {{albedo: 0.3, infrared: 240 W/m2}}
cases:
  it: {{orbit: it, pointing: nadir, environment: own{case}}}
"""
LOW = "altitude: 500 km, beta: 0, shadow: cylinder"
STILL = "time: [0 s], value: [1]"


def model(
    surface: str = "normal: -z",
    orbit: str = LOW,
    case: str = "",
    schedule: str = "time: [0 s], value: [1]",
) -> Model:
    return read(FILE.format(surface=surface, orbit=orbit, case=case, schedule=schedule))


def heat(*arguments: str, **more: str) -> SurfaceHeat:
    (found,) = surface_heat(model(*arguments, **more), "it")
    return found


def refused(*arguments: str, **more: str) -> str:
    with pytest.raises(InputError) as caught:
        model(*arguments, **more)
    return str(caught.value)


def test_the_passage_of_the_lowest_point_of_a_long_ellipse_is_not_missed() -> None:
    # A zenith plate sees the Sun where the spacecraft is on the Sun's side: here, with orbit
    # midnight far away, only in a short passage near the lowest point. Expected: the mean of
    # max(0, up . sun) by anomaly, integrated here with time as weight.
    orbit = (
        "lowest_altitude: 500 km, highest_altitude: 400000 km, beta: 10 deg, periapsis: 20 deg, "
        "start: midnight, shadow: cylinder"
    )
    found = heat(orbit=orbit).mean["solar"]
    low, high = 6378.137e3 + 500e3, 6378.137e3 + 400000e3
    eccentricity = (high - low) / (high + low)
    true = np.linspace(-math.pi, math.pi, 2_000_001)
    weight = 1.0 / (1.0 + eccentricity * np.cos(true)) ** 2  # dt of equal areas
    cosine = math.cos(math.radians(10.0)) * np.cos(true + math.radians(20.0))
    share = (np.maximum(cosine, 0.0) * weight).sum() / weight.sum()
    assert found == pytest.approx(1361.0 * share, rel=2e-3)


def test_a_scanned_beta_keeps_the_suns_distance_of_the_date() -> None:
    orbit = "altitude: 500 km, inclination: 51.6, node: 0, date: 2026-01-03"
    dated = model(orbit=orbit)
    scanned = vary(dated, {"orbits.it.beta": 12.0})
    before, after = (plan(apply_case(each, "it"), "it").sky for each in (dated, scanned))
    assert before is not None
    assert after is not None
    assert after.sunlight == before.sunlight
    assert after.sunlight == pytest.approx(1407.6, abs=0.3)  # perihelion: derived, inverse square


def test_a_mean_is_taken_after_light_and_shutter_are_multiplied() -> None:
    # The shutter is open over just the half orbit in which the zenith plate is lit.
    period = 5676.98
    schedule = (
        f"time: [0 s, {period / 4:.2f} s, {3 * period / 4:.2f} s], value: [1, 0, 1], "
        "shape: steps, period: orbit"
    )
    shut = heat("normal: -z, sunlit: {schedule: it}", schedule=schedule).mean["solar"]
    assert shut == pytest.approx(heat("normal: -z").mean["solar"], rel=1e-3)


def test_shading_by_orbit_angle_is_straight_in_the_angle_on_an_ellipse() -> None:
    # Most of the time is spent far from periapsis, at angles about 180 degrees, where the share is
    # small: the mean by angle is the time-weighted one, integrated here.
    orbit = (
        "lowest_altitude: 300 km, highest_altitude: 20000 km, beta: 90 deg, start: periapsis, "
        "shadow: cylinder"
    )
    shade = "follows_sun: two axes, sunlit: {angle: [0, 180], fraction: [1, 0]}"
    found = heat(shade, orbit=orbit).mean["solar"]
    low, high = 6378.137e3 + 300e3, 6378.137e3 + 20000e3
    eccentricity = (high - low) / (high + low)
    true = np.linspace(0.0, math.pi, 100_001)
    weight = 1.0 / (1.0 + eccentricity * np.cos(true)) ** 2
    share = ((1.0 - true / math.pi) * weight).sum() / weight.sum()
    assert found == pytest.approx(1361.0 * share, rel=3e-3)


def test_a_wing_whose_axis_points_to_the_sun_all_along_is_refused() -> None:
    told = refused("follows_sun: one axis, about: +y", orbit="altitude: 500 km, beta: 90")
    assert "the Sun stands along the axis that this surface turns about" in told
    beside = heat("follows_sun: one axis, about: +y", orbit="altitude: 500 km, beta: 89.99")
    assert beside.mean["planet_infrared"] > 0.0


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"surface": "normal: -z, sunlit: {schedule: it}", "schedule": "time: [0 s], value: [3]"},
         "must be at most 1, got 3"),
        ({"surface": "normal: -z, sunlit: {angle: [0, 360], fraction: [0, 1]}"},
         "0 and 360 deg are the same point of the orbit"),
        ({"surface": "normal: -z, sunlit: {angle: [], fraction: []}"}, "at least one angle"),
        ({"case": ", revolutions: 3"}, "a case with 'revolutions' is not steady"),
        ({"case": ", solve: repeating, revolutions: 3, period: 5677 s"}, "drop one of the two"),
        ({"orbit": "body: Sun, altitude: 1e8 km, beta: 0"}, "`body: none`"),
        ({"orbit": "altitude: 500 km, inclination: 5, node: 0, date: 2061-01-01"}, "2050"),
        ({"orbit": "altitude: 500 km, inclination: 5, node: 0, date: '0001-01-01T00:00+05:00'"},
         "expected a date"),
        ({"orbit": "altitude: 149597870 km, beta: 0"}, "reaches too far from Earth"),
        ({"surface": "normal: -z, convection: 1 W/m2/K, convection_to: box"}, "to itself"),
    ],
)  # fmt: skip
def test_what_would_be_a_quiet_nonsense_is_refused(changes: dict[str, str], words: str) -> None:
    assert words in refused(**changes)


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ("pointing: nadir", "pointing: both", "goes by orbit angle"),
        ("normal: -z", "normal: -z, to: soil", "takes its share by the tilt"),
        ("normal: -z", "normal: -z, sees: {space: 0.6, soil: 0.4}", "takes its share by the tilt"),
    ],
)
def test_a_site_refuses_what_it_would_overrule(before: str, after: str, words: str) -> None:
    text = FILE.format(surface="normal: -z", orbit=LOW, case="", schedule=STILL)
    text = text.replace("orbit: it, pointing: nadir", "site: plain, pointing: nadir")
    text = text.replace(before, after).replace("pointing: nadir", "pointing: turned")
    with pytest.raises(InputError, match=words):
        read(text)


def test_air_that_would_be_thicker_than_any_is_blamed_on_the_environment() -> None:
    thin = "own: {albedo: 0.3, infrared: 240 W/m2, density: 1e-9 kg/m3, density_altitude: 3000 km"
    text = FILE.format(surface="normal: -z", orbit=LOW, case="", schedule=STILL)
    text = text.replace("own: {albedo: 0.3, infrared: 240 W/m2", f"{thin}, scale_height: 0.1 km")
    with pytest.raises(InputError, match=r"environments\.own: at the lowest point"):
        read(text)


def test_a_period_written_to_the_millisecond_is_that_of_the_orbit() -> None:
    found = model(case=", solve: repeating, period: 5676.978 s")
    how = plan(apply_case(found, "it"), "it")
    assert how.sky is not None
    assert how.span == how.sky.period
    assert assemble(found, "it").histories.period == how.span


@pytest.mark.parametrize(
    ("sky", "other", "has"), [("[0, 1]", "[1, 0]", True), ("[0, 0]", "[1, 1]", False)]
)
def test_a_surface_that_sees_no_sky_at_times_has_a_sink_from_the_rest(
    sky: str, other: str, has: bool
) -> None:
    by_angle = "{{angle: [0, 180], fraction: {}}}"
    sees = f"space: {by_angle.format(sky)}, wall: {by_angle.format(other)}"
    text = FILE.format(surface=f"normal: -z, sees: {{{sees}}}", orbit=LOW, case="", schedule=STILL)
    text = text.replace("nodes: {", "nodes: {wall: {capacity: 1 J/K}, ")
    (found,) = surface_heat(read(text), "it")
    assert (found.sink is not None) == has
    if found.sink is not None:
        assert math.isfinite(found.sink.highest)


def test_heat_that_a_schedule_opens_later_is_shown_too() -> None:
    schedule = "time: [0 s, 6000 s], value: [0, 1], shape: steps"
    case = ", solve: repeating, revolutions: 3"
    found = heat("normal: -z, sunlit: {schedule: it}", case=case, schedule=schedule)
    assert found.mean["solar"] > 100.0


def test_a_schedule_by_the_orbit_needs_one_or_a_period_set_by_the_case() -> None:
    schedule = "time: [0 s, 100 s], value: [1, 0], shape: steps, period: orbit"
    text = FILE.format(surface="normal: -z", orbit=LOW, case="", schedule=schedule)
    with pytest.raises(InputError, match="case 'bench' has no orbit to repeat with"):
        read(f"{text}  bench: {{orbit: none}}\n")
    found = read(f"{text}  bench: {{orbit: none, set: {{schedules.it.period: 200 s}}}}\n")
    assert plan(apply_case(found, "bench"), "bench").schedules["it"].mean(0.0) == 0.5


def test_what_is_shown_of_one_surface_does_not_hang_on_the_schedule_of_another() -> None:
    case, schedule = ", solve: transient, duration: 600 s", "time: [0 s, 9000 s], value: [1, 1]"
    alone = heat("normal: -z", case=case).mean["solar"]
    shut = heat("normal: -z, sunlit: {schedule: it}", case=case, schedule=schedule).mean["solar"]
    assert shut == pytest.approx(alone, rel=1e-9)


def test_the_sink_follows_a_boundary_through_all_orbits_of_a_case() -> None:
    # A wall at 200 K that rises in a straight line by 200 K over the three orbits of the case: the
    # mean of T^4 from 200 to 400 K is (400^5 - 200^5)/(5 x 200) K^4, by hand.
    case = ", solve: repeating, revolutions: 3"
    schedule = "time: [0 s, 17030.934 s], value: [0, 1]"
    text = FILE.format(surface="shaded: true, to: soil", orbit=LOW, case=case, schedule=schedule)
    text = text.replace("temperature: 250 K", "temperature: 200 K, swing: 200 K, schedule: it")
    (found,) = surface_heat(read(text), "it")
    assert found.sink is not None
    mean = ((400.0**5 - 200.0**5) / (5.0 * 200.0)) ** 0.25
    assert found.sink.mean == pytest.approx(mean, abs=0.5)
    assert found.sink.highest == pytest.approx(400.0, abs=0.5)
