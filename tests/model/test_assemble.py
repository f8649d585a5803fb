"""Each kind of entry becomes the primitives it stands for, with the numbers of the small model.

Expected values are derived by hand from the numbers in `tests.model.small`.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.model.small import SMALL, network, read, with_case
from tests.small_models import celsius, solved
from thermnet.errors import InputError
from thermnet.model.assemble import assemble
from thermnet.model.plan import plan
from thermnet.network.network import Network, boundary_temperatures, sources

SIGMA = 5.670374419e-8  # W m-2 K-4, CODATA 2018 (exact since 2019)


def link(assembled: Network, path: str) -> int:
    """Position of the only link that comes from a path."""
    origins = [assembled.origins[origin] for origin in assembled.links.origin]
    assert origins.count(path) == 1
    return origins.index(path)


def ends(assembled: Network, path: str) -> tuple[str, str, float]:
    """From where to where the link of a path leads, and its exponent of temperature."""
    links, k = assembled.links, link(assembled, path)
    group = int(np.searchsorted(links.groups, k, side="right")) - 1
    names = assembled.names
    return names[links.a[k]], names[links.b[k]], links.potentials[group].exponent


def strength(assembled: Network, path: str) -> float:
    return float(assembled.links.strength[link(assembled, path)])


def heat_at(assembled: Network, path: str, time: float) -> float:
    """Heat [W] that comes from a path at a time [s]."""
    heats = assembled.heats
    (k,) = np.flatnonzero([assembled.origins[origin] == path for origin in heats.origin])
    return float(sources(assembled, np.full(len(assembled.names), 290.0), time)[k])


def heater(assembled: Network, path: str) -> int:
    """Position of the thermostat that comes from a path."""
    origins = assembled.thermostats.origin
    return next(k for k, origin in enumerate(origins) if assembled.origins[origin] == path)


def test_nodes_keep_their_order_and_capacity_and_boundaries_follow() -> None:
    assembled = network("mean")
    assert assembled.names == ("box", "plate", "face", "space", "wall")
    assert assembled.capacity.tolist() == [900.0, 450.0, 0.0, 0.0, 0.0]
    assert assembled.boundary.tolist() == [3, 4]
    assert assembled.node_origins[0] == "nodes.box"


def test_a_link_conducts_in_proportion_to_the_temperature_difference() -> None:
    assembled = network("mean")
    assert ends(assembled, "links.bolts") == ("box", "plate", 1.0)
    assert strength(assembled, "links.bolts") == 2.0


def test_a_radiative_coupling_is_sigma_times_its_area_on_the_fourth_power() -> None:
    assembled = network("mean")
    assert ends(assembled, "radiation.inside") == ("box", "wall", 4.0)
    assert strength(assembled, "radiation.inside") == pytest.approx(SIGMA * 0.02, rel=1e-12)


@pytest.mark.parametrize(("use", "emittance"), [("nominal", 0.02), ("low", 0.01), ("high", 0.04)])
def test_a_blanket_joins_covered_surface_and_outer_face_by_the_bound_in_use(
    use: str, emittance: float
) -> None:
    model = with_case(f"solve: steady, set: {{blankets.box.use: {use}}}")
    assembled = assemble(model, "more")
    assert ends(assembled, "blankets.box") == ("box", "face", 4.0)
    expected = SIGMA * 1.5 * emittance
    assert strength(assembled, "blankets.box") == pytest.approx(expected, rel=1e-12)


def test_a_surface_radiates_by_area_emittance_and_view_to_space() -> None:
    assembled = network("mean")
    assert ends(assembled, "surfaces.face") == ("face", "space", 4.0)
    assert ends(assembled, "surfaces.plate") == ("plate", "space", 4.0)
    full, half = SIGMA * 1.5 * 0.8, SIGMA * 0.1 * 0.8 * 0.5
    assert strength(assembled, "surfaces.face") == pytest.approx(full, rel=1e-12)
    assert strength(assembled, "surfaces.plate") == pytest.approx(half, rel=1e-12)


def test_absorbed_heat_is_kept_apart_by_cause() -> None:
    assembled = network("orbit")
    given = {assembled.origins[origin] for origin in assembled.heats.origin}
    assert given == {
        "loads.box",
        "loads.radio",
        "loads.cooler",
        "surfaces.plate.absorbed.solar",
        "surfaces.plate.absorbed.albedo",
        "surfaces.plate.absorbed.planet_infrared",
    }


def test_a_steady_case_takes_the_time_mean_of_every_schedule() -> None:
    assembled = network("mean")
    # half and ramp have a mean of 0.5, pass one of 0.1 (10 s in 100 s).
    assert heat_at(assembled, "surfaces.plate.absorbed.solar", 0.0) == pytest.approx(20.0)
    assert heat_at(assembled, "surfaces.plate.absorbed.albedo", 0.0) == pytest.approx(3.0)
    assert heat_at(assembled, "surfaces.plate.absorbed.planet_infrared", 0.0) == 8.0
    assert heat_at(assembled, "loads.radio", 0.0) == pytest.approx(1.0)
    assert heat_at(assembled, "loads.cooler", 0.0) == -1.0
    assert boundary_temperatures(assembled, 0.0).tolist() == pytest.approx([2.7, 285.15])


def test_a_heater_with_a_rated_voltage_goes_with_the_bus_voltage_squared() -> None:
    assembled = network("mean")
    box = heater(assembled, "heaters.box")
    assert assembled.thermostats.power[box] == pytest.approx(8.0 * (35.0 / 28.0) ** 2)


def test_a_heater_without_a_rated_voltage_needs_no_bus_voltage() -> None:
    assembled = network("orbit")
    assert assembled.thermostats.power[heater(assembled, "heaters.box")] == 8.0


def test_a_heater_without_a_rated_voltage_has_the_same_power_at_any_bus_voltage() -> None:
    assembled = network("mean")
    # 5 W, enabled half of the time
    assert assembled.thermostats.power[heater(assembled, "heaters.plate")] == pytest.approx(2.5)


def test_a_failed_heater_gives_no_heat() -> None:
    assembled = assemble(with_case("solve: steady, set: {heaters.box.failed: off}"), "more")
    assert assembled.thermostats.power[heater(assembled, "heaters.box")] == 0.0


def test_a_heater_switches_by_its_own_node_unless_it_names_a_sensor() -> None:
    stats = network("orbit").thermostats
    assert stats.node.tolist() == [0, 1]
    assert stats.sensor.tolist() == [0, 0]
    assert stats.on.tolist() == pytest.approx([283.15, 268.15])
    assert stats.off.tolist() == pytest.approx([286.15, 271.15])


@pytest.mark.parametrize(
    ("time", "solar"), [(0.0, 40.0), (49.0, 40.0), (50.0, 0.0), (99.0, 0.0), (100.0, 40.0)]
)
def test_steps_hold_each_value_until_the_next_instant(time: float, solar: float) -> None:
    assert heat_at(network("orbit"), "surfaces.plate.absorbed.solar", time) == solar


@pytest.mark.parametrize(("time", "albedo"), [(0.0, 0.0), (25.0, 1.5), (50.0, 3.0), (150.0, 3.0)])
def test_a_linear_schedule_joins_its_points_and_repeats(time: float, albedo: float) -> None:
    found = heat_at(network("orbit"), "surfaces.plate.absorbed.albedo", time)
    assert found == pytest.approx(albedo)


@pytest.mark.parametrize(
    ("time", "heat"), [(20.0, 5.0), (39.999, 9.99975), (40.0, 30.0), (240.0, 30.0)]
)
def test_a_repeated_instant_is_a_jump_and_the_last_value_holds(time: float, heat: float) -> None:
    text = SMALL.replace("heat: 10 W, schedule: pass", "heat: 10 W, schedule: jump")
    assert heat_at(network("cooling", text), "loads.radio", time) == pytest.approx(heat)


def test_a_schedule_is_unrolled_over_the_whole_span() -> None:
    assembled = network("cooling")
    assert heat_at(assembled, "surfaces.plate.absorbed.solar", 225.0) == 40.0
    assert heat_at(assembled, "surfaces.plate.absorbed.solar", 249.0) == 40.0
    assert heat_at(assembled, "loads.radio", 215.0) == 10.0


def test_a_boundary_swings_about_its_temperature() -> None:
    assembled = network("orbit")
    assert boundary_temperatures(assembled, 25.0).tolist() == pytest.approx([2.7, 287.15])
    assert boundary_temperatures(assembled, 75.0).tolist() == pytest.approx([2.7, 283.15])


def test_histories_repeat_with_the_period_of_the_case() -> None:
    assert network("orbit").histories.period == 200.0
    assert network("cooling").histories.period == np.inf


def test_solvers_stop_where_a_unit_is_switched() -> None:
    assert {10.0, 20.0, 110.0, 120.0} <= set(network("orbit").instants.tolist())


def test_solvers_stop_where_a_window_begins_and_ends() -> None:
    text = SMALL.replace("on: pass", "windows: {use: {band: [0, 9], from: 31 s, to: 3 min}}")
    assert network("orbit", text).instants.tolist() == [31.0, 180.0]


def test_a_case_takes_what_it_does_not_state_from_the_case_that_it_extends() -> None:
    how = plan(with_case("extends: orbit, kind: cold, life: end of life"), "more")
    assert (how.solve, how.span, how.kind, how.life) == ("repeating", 200.0, "cold", "end of life")
    assert (how.title, how.bus_voltage, how.initial) == ("more", None, "steady")


@pytest.mark.parametrize("period", ["150 s", "30 s"])
def test_a_case_whose_period_is_no_multiple_of_a_schedules_is_refused(period: str) -> None:
    with pytest.raises(InputError, match="does not fit a whole number of times"):
        with_case(f"solve: repeating, period: {period}")


def test_heat_and_network_of_a_model_do_not_depend_on_the_case_applied_before() -> None:
    model = read()
    assembled = assemble(model, "mean")
    assert assemble(model, "orbit").histories.period == 200.0
    again = assemble(model, "mean")
    assert again.heats.amplitude.tolist() == assembled.heats.amplitude.tolist()


@pytest.mark.parametrize(("duration", "start"), [(80000.0, -19.75), (2000.0, -20.0)])
def test_the_steady_start_of_a_transient_is_that_of_the_mean_over_its_own_duration(
    duration: float, start: float
) -> None:
    """By hand: 10 W for 1000 of 80 000 s are 0.125 W, and over 0.5 W/K 0.25 K; a case of 2000 s
    never comes to them."""
    text = f"""
thermnet: 1
temperatures: degC
nodes: {{box: {{capacity: 3000 J/K}}}}
boundaries: {{deck: {{temperature: -20}}}}
links: {{feet: {{from: box, to: deck, conductance: 0.5 W/K}}}}
modes: {{idle: {{}}, busy: {{}}}}
units: {{box: {{node: box, heat: {{busy: 10 W}}}}}}
timelines:
  once:
    steps:
      wait: {{mode: idle, time: 0 s}}
      pass: {{mode: busy, time: 3000 s, duration: 1000 s}}
      rest: {{mode: idle}}
cases: {{case: {{solve: transient, duration: {duration} s, timeline: once}}}}
"""
    found = solved(text).of("box")[0]
    assert celsius(found) == pytest.approx(start, abs=1e-6)
