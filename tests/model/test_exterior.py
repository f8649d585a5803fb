"""What surfaces absorb and see in a case, by hand and by published equilibrium temperatures."""

from __future__ import annotations

import math

import numpy as np
import pytest

import thermnet
from tests.model.small import read
from thermnet.errors import InputError
from thermnet.heating import SurfaceHeat, surface_heat
from thermnet.model.assemble import assemble
from thermnet.network.network import Network
from thermnet.network.network import heat as heat_into

FILE = """
thermnet: 1
nodes: {{box: {{capacity: 900 J/K}}, wall: {{capacity: 900 J/K}}}}
boundaries: {{space: {{temperature: 1e-3 K}}, soil: {{temperature: 250 K}}}}
links: {{bolts: {{from: box, to: wall, conductance: 5 W/K}}}}
finishes:
  paint: {{absorptance: 0.2, absorptance_end: 0.4, emittance: 0.9}}
surfaces:
  it: {{node: box, area: 2 m2, {surface}}}
orbits:
  cruise: {{body: none, sun_distance: 1}}
  low: {{altitude: 500 km, beta: 0, shadow: cylinder}}
  dusk: {{altitude: 500 km, beta: 90}}
sites:
  plain: {{body: Mars, latitude: 0, ground: soil, ground_emittance: 1}}
pointings:
  sunward: {{axis: +z, to: sun}}
  nadir: {{axis: +z, to: nadir, second_axis: +x, second_to: velocity}}
environments:
  own: {{albedo: 0.3, infrared: 237 W/m2, sunlight: 1361 W/m2, infrared_height: 0 m}}
  air: {{albedo: 0, infrared: 0, density: 1e-10 kg/m3, accommodation: 0.9, infrared_height: 0 m}}
cases:
  cruise: {{orbit: cruise, pointing: sunward, life: end of life}}
  low: {{solve: repeating, orbit: low, pointing: nadir, environment: own, life: beginning of life}}
  mean: {{orbit: low, pointing: nadir, environment: own, life: beginning of life}}
  dusk: {{solve: transient, duration: 3 h, orbit: dusk, pointing: nadir, environment: air,
          life: end of life}}
  day: {{solve: repeating, site: plain, environment: mean, life: end of life}}
  lamp: {{orbit: none, life: end of life}}
"""
BLACK = "absorptance: 1, emittance: 1"


def heat(surface: str, case: str) -> SurfaceHeat:
    """The heat of the surface in a case."""
    (found,) = surface_heat(read(FILE.format(surface=surface)), case)
    return found


def network(surface: str, case: str) -> Network:
    """The network in a case."""
    return assemble(read(FILE.format(surface=surface)), case)


@pytest.mark.parametrize(
    ("surface", "temperature"),
    [
        # check-values 3.20 to 3.22 (derived): at 1361 W/m2, without a planet.
        (f"shape: sphere, {BLACK}", 278.321),
        (f"normal: +z, {BLACK}", 393.606),
        ("normal: +z, absorptance: 0.2, emittance: 0.9", 270.245),
        (f"follows_sun: two axes, {BLACK}", 393.606),
        # A cylinder across the Sun: 1/pi of its side is seen. Derived: (1361 / (pi sigma))^(1/4).
        (f"shape: cylinder, along: +z, {BLACK}", 0.0),
    ],
)
def test_a_lone_surface_reaches_its_published_equilibrium_in_sunlight(
    surface: str, temperature: float
) -> None:
    result = thermnet.solve(read(FILE.format(surface=surface)), "cruise")
    # The cylinder's axis points to the Sun: its side stays dark and cold.
    assert result.of("box")[0] == pytest.approx(temperature, abs=0.01)


def test_a_sunlit_sphere_below_the_sun_has_the_loads_worked_out_for_it() -> None:
    # check-values 3.25 (derived): 500 km, subsolar, per m2 of sphere: solar 340.25, albedo
    # 127.736 by F cos(0), infrared 74.145 W/m2. The lit cap gives a little less albedo: within 2 %.
    found = heat(f"shape: sphere, {BLACK}", "low").heat
    assert found["solar"].value[0] / 2.0 == pytest.approx(340.25, rel=1e-3)
    assert found["albedo"].value[0] / 2.0 == pytest.approx(127.736, rel=0.02)
    assert found["planet_infrared"].value[0] / 2.0 == pytest.approx(74.145, rel=1e-3)


def test_a_nadir_plate_takes_the_mean_of_the_published_closed_form() -> None:
    # check-values 3.4: a S F / pi and F x infrared at 500 km, F = 0.85990; 0.5 % off by the cap.
    found = heat(f"normal: +z, {BLACK}", "low").mean
    assert found["albedo"] / 2.0 == pytest.approx(0.3 * 1361 * 0.85990 / math.pi, rel=0.01)
    assert found["planet_infrared"] / 2.0 == pytest.approx(0.85990 * 237.0, rel=1e-3)


def test_infrared_goes_by_the_emittance_and_sunlight_by_the_absorptance() -> None:
    # As check-values 3.25 with absorptance 0.2 and emittance 0.9, 2 m2, at noon.
    found = heat("shape: sphere, absorptance: 0.2, emittance: 0.9", "low").heat
    assert found["solar"].value[0] == pytest.approx(2.0 * 0.2 * 340.25, rel=1e-3)
    assert found["planet_infrared"].value[0] == pytest.approx(2.0 * 0.9 * 74.145, rel=1e-3)


def test_no_sunlight_comes_through_the_planet() -> None:
    # check-values 3.1 (derived): 0.37788 of the orbit at 500 km and beta 0 is dark.
    found = heat(f"follows_sun: two axes, {BLACK}", "low").mean["solar"]
    assert found == pytest.approx(2.0 * 1361.0 * (1.0 - 0.37788), rel=1e-3)


def test_a_finish_ages_with_the_life_of_the_case() -> None:
    young = heat("normal: -z, finish: paint", "low")
    old = heat("normal: -z, finish: paint", "cruise")
    assert (young.absorptance, old.absorptance) == (0.2, 0.4)
    assert young.emittance == 0.9


def test_a_surfaces_own_number_stands_above_its_finish() -> None:
    found = heat("normal: -z, finish: paint, absorptance: 0.33", "low")
    assert (found.absorptance, found.emittance) == (0.33, 0.9)


def test_a_steady_case_takes_the_mean_of_the_orbit() -> None:
    text = f"normal: -z, {BLACK}"
    steady, through = network(text, "mean"), heat(text, "low")
    taken = heat_into(steady, np.zeros(len(steady.names)), 0.0)[steady.index("box")]
    assert taken == pytest.approx(sum(through.mean.values()), rel=1e-9)


def test_a_transient_goes_through_as_many_orbits_as_it_lasts() -> None:
    found = network(f"shape: sphere, {BLACK}", "dusk")
    # Three hours at 500 km are two orbits of 5677 s, in the Sun all along at a beta of 90 degrees.
    assert found.histories.instants[-1] <= 2 * 5677.0
    low = network(f"normal: -z, {BLACK}", "low")
    assert low.histories.period == pytest.approx(5677.0, abs=0.05)


def test_air_heats_the_face_ahead_by_its_accommodation() -> None:
    # 0.9 x 1/2 rho v^3 x area, v = 7612.6 m/s: by hand 39.71 W for 2 m2.
    found = heat(f"normal: +x, {BLACK}", "dusk").mean
    assert found["free_molecular"] == pytest.approx(0.9 * 0.5e-10 * 7612.6**3 * 2.0, rel=1e-3)


def test_what_blocks_the_sky_takes_its_share_of_planet_and_radiation() -> None:
    open_sky = heat(f"normal: +z, {BLACK}", "low").mean
    half = heat(f"normal: +z, {BLACK}, sees: {{space: 0.75, wall: 0.25}}", "low").mean
    for cause in ("albedo", "planet_infrared"):
        assert half[cause] == pytest.approx(0.75 * open_sky[cause])
    assert half["solar"] == pytest.approx(open_sky["solar"])  # which `sunlit` scales
    found = network(f"normal: +z, {BLACK}, sees: {{space: 0.75, wall: 0.25}}", "low")
    radiating = found.links.strength < 1e-3  # sigma comes with it
    between = {
        tuple(sorted((found.names[a], found.names[b]))): strength
        for a, b, strength in zip(
            found.links.a[radiating],
            found.links.b[radiating],
            found.links.strength[radiating],
            strict=True,
        )
    }
    sigma = 5.670374419e-8
    assert between["box", "space"] == pytest.approx(sigma * 2.0 * 0.75)
    assert between["box", "wall"] == pytest.approx(sigma * 2.0 * 0.25)


def test_shading_that_changes_through_the_orbit_scales_light_when_it_comes() -> None:
    # All of the light before 90 degrees from noon, none after, in a straight line at 45 degrees.
    shade = "sunlit: {angle: [0, 90, 270, 360], fraction: [1, 0, 0, 1]}"
    found = heat(f"follows_sun: two axes, {BLACK}, {shade}", "low").heat["solar"]
    at = np.interp([0.0, 5677.0 / 8.0, 5677.0 / 4.0], found.time, found.value)
    np.testing.assert_allclose(at, 2.0 * 1361.0 * np.array([1.0, 0.5, 0.0]), rtol=1e-3, atol=1e-3)


def test_a_changing_view_of_the_sky_changes_the_link_to_it() -> None:
    view = (
        "sees: {space: {angle: [0, 180], fraction: [1, 0.5]}, "
        "wall: {angle: [0, 180], fraction: [0, 0.5]}}"
    )
    result = thermnet.solve(read(FILE.format(surface=f"normal: +z, {BLACK}, {view}")), "low")
    assert not result.solution.failure
    assert thermnet.account(result.network, result.solution).closes


def test_a_plate_on_the_ground_settles_between_sky_and_ground() -> None:
    # A dark vertical plate sees half of each: T^4 = (T_sky^4 + T_ground^4)/2 without sunlight.
    found = heat("normal: +y, absorptance: 0, emittance: 1", "day")
    assert found.sink is not None
    assert found.sink.mean == pytest.approx(250.0 * 0.5**0.25, abs=0.01)
    level = heat("normal: -z, absorptance: 0, emittance: 1", "day")
    assert level.sink is not None
    assert level.sink.mean == pytest.approx(250.0, abs=0.01)


def test_a_lone_surface_settles_at_its_sink_temperature() -> None:
    # The definition of the sink temperature (SMC-S-016, read): no net exchange with it.
    text = FILE.format(surface="normal: +x, absorptance: 0.3, emittance: 0.8")
    model = read(text)
    (found,) = surface_heat(model, "mean")
    assert found.sink is not None
    assert thermnet.solve(model, "mean").of("box")[0] == pytest.approx(found.sink.mean, abs=1e-3)
    assert found.sink.lowest < found.sink.mean < found.sink.highest


def test_without_a_sun_a_surface_absorbs_nothing_and_radiates() -> None:
    found = heat("normal: +x, finish: paint", "lamp")
    assert not found.heat
    assert found.emittance == 0.9


def test_heat_is_not_computed_again_for_a_change_that_does_not_touch_it() -> None:
    from thermnet.physics.exposure import exposure

    model = read(FILE.format(surface="normal: +x, finish: paint"))
    exposure.cache_clear()
    assemble(model, "low")
    before = exposure.cache_info().misses
    for changes in (
        {"links.bolts.conductance": 7.0},
        {"finishes.paint.absorptance": 0.25},
        {"environments.own.albedo": 0.4},
        {"surfaces.it.area": 3.0},
    ):
        assemble(thermnet.vary(model, changes), "low")
    assert exposure.cache_info().misses == before
    assemble(thermnet.vary(model, {"orbits.low.beta": 30.0}), "low")
    assert exposure.cache_info().misses == before + 1


LAUNCH = """
thermnet: 1
nodes: {lid: {capacity: 500 J/K, initial: 290 K}}
boundaries:
  space: {temperature: 1e-3 K}
  fairing: {temperature: 320 K, swing: 80 K, schedule: hot}
schedules:
  hot: {time: [0 s, 100 s, 3600 s], value: [0, 1, 1]}
  open: {time: [0 s, 200 s], value: [0, 1], shape: steps}
  closed: {time: [0 s, 200 s], value: [1, 0], shape: steps}
surfaces:
  lid:
    node: lid
    area: 1 m2
    absorptance: 0.4
    emittance: 0.8
    normal: +x
    sees: {space: {schedule: open}, fairing: {schedule: closed}}
    sunlit: {schedule: open}
orbits: {parking: {lowest_altitude: 120 km, highest_altitude: 200 km, beta: 0}}
pointings: {ahead: {axis: +x, to: velocity, second_axis: +z, second_to: nadir}}
environments:
  thin air: {albedo: 0.3, infrared: 240 W/m2, sunlight: 1361 W/m2, density: 2e-8 kg/m3,
             density_altitude: 120 km, scale_height: 10 km, accommodation: 0.9}
cases:
  ascent: {solve: transient, duration: 1 h, initial: given, orbit: parking, pointing: ahead,
           environment: thin air}
"""


def test_before_the_fairing_is_released_a_face_has_its_wall_alone_and_then_air_and_sun() -> None:
    # Nothing from the sky before 200 s; then at most 0.9 x 1/2 rho v^3 at the lowest point, with
    # v^2 = mu (2/r - 1/a), by hand.
    (lid,) = surface_heat(read(LAUNCH), "ascent")
    for cause, history in lid.heat.items():
        at = np.interp([100.0, 199.0], history.time, history.value)
        np.testing.assert_allclose(at, 0.0, atol=1e-9, err_msg=cause)
    air = lid.heat["free_molecular"]
    lowest, highest = 6378.137e3 + 120e3, 6378.137e3 + 200e3
    axis = (lowest + highest) / 2.0
    speed = math.sqrt(3.986004418e14 * (2.0 / lowest - 1.0 / axis))
    assert air.value.max() == pytest.approx(0.9 * 0.5 * 2e-8 * speed**3, rel=0.05)
    result = thermnet.solve(read(LAUNCH), "ascent")
    assert thermnet.account(result.network, result.solution).closes
    assert result.of("lid").max() > 300.0  # the wall has warmed it


def test_convection_to_a_thin_atmosphere_is_a_link_to_its_temperature() -> None:
    # The balance h A (T_air - T) = eps sigma A T^4, by hand; A = 2 m2.
    text = "shaded: true, emittance: 0.5, convection: 2 W/m2/K, convection_to: soil"
    result = thermnet.solve(read(FILE.format(surface=text)), "lamp")
    (temperature,) = result.of("box")
    given = 2.0 * 2.0 * (250.0 - temperature)
    assert given == pytest.approx(0.5 * 2.0 * 5.670374419e-8 * temperature**4, rel=1e-6)


def test_the_order_in_which_it_is_said_what_a_surface_sees_does_not_matter() -> None:
    one = heat(f"normal: +z, {BLACK}, sees: {{space: 0.75, wall: 0.25}}", "low").mean
    other = heat(f"normal: +z, {BLACK}, sees: {{wall: 0.25, space: 0.75}}", "low").mean
    assert one == other


def test_the_sky_may_have_another_name() -> None:
    named = f"normal: +z, {BLACK}, to: wall, sees: {{space: 0.75, wall: 0.25}}"
    sky = heat(f"normal: +z, {BLACK}, sees: {{space: 0.25, wall: 0.75}}", "low").mean
    assert heat(named, "low").mean == sky
    with pytest.raises(InputError, match="states no fraction of the sky 'space'"):
        heat(f"normal: +z, {BLACK}, sees: {{wall: 1}}", "low")
