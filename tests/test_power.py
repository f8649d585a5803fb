"""Cases that are solved with what they draw from solar cells, against sums by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.model.small import read
from tests.powered import (
    ABSORBED,
    ABSORPTANCE,
    CAPACITY,
    DEMAND,
    EFFICIENCY,
    GIVEN,
    INTO,
    LIT,
    MODEL,
    OUT_OF,
    PACKING,
    PERIOD,
    PLATE,
    energy_of,
    result_of,
)
from tests.small_models import solved
from thermnet.model.paths import apply_case
from thermnet.model.plan import plan
from thermnet.network.network import Network
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.power import settled
from thermnet.saved import open_result, save
from thermnet.solve.solution import Options, Solution


def test_a_battery_is_full_when_what_the_shadow_took_has_been_put_back() -> None:
    # Derived: D t_dark / (a b) is put in with P - D, from the beginning of sunlight.
    found = energy_of(result_of("orbit"))
    wanted = DEMAND * (PERIOD - LIT) / (INTO * OUT_OF) / (GIVEN - DEMAND)
    assert found.full == pytest.approx([wanted], abs=0.01)


def test_the_depth_of_discharge_is_what_the_shadow_takes_out_of_the_battery() -> None:
    # Derived: D t_dark / b.
    found = energy_of(result_of("orbit"))
    assert 1.0 - found.lowest == pytest.approx(DEMAND * (PERIOD - LIT) / OUT_OF / CAPACITY)


def test_what_cells_give_is_dissipated_lost_or_stored_by_hand() -> None:
    # Derived: D t_lit directly and D t_dark / (a b) by way of the battery.
    found = energy_of(result_of("orbit"))
    by_hand = DEMAND * LIT + DEMAND * (PERIOD - LIT) / (INTO * OUT_OF)
    assert found.given == pytest.approx(by_hand, rel=1e-6)
    assert found.units == pytest.approx(DEMAND * PERIOD, rel=1e-9)
    assert found.losses == pytest.approx(by_hand - DEMAND * PERIOD, rel=1e-5)
    assert found.stored == pytest.approx(0.0, abs=1e-6 * CAPACITY)
    assert found.share < 1e-6


def test_drawn_power_leaves_the_heat_of_the_surface() -> None:
    # Thermal absorptance of an operating cell, alpha - packing x efficiency (check value from
    # memory; an energy balance): radiated in a steady state as eps sigma T^4.
    result = result_of("case", text=PLATE.replace("efficiency_slope: -0.0006 1/K,", ""))
    alpha = ABSORPTANCE - PACKING * EFFICIENCY
    wanted = (alpha * 1361.0 / (0.85 * STEFAN_BOLTZMANN)) ** 0.25
    assert result.of("plate")[0] == pytest.approx(wanted, rel=1e-8)


def test_hotter_cells_give_less_and_so_the_plate_is_hotter_still() -> None:
    # Derived: eps sigma T^4 = (alpha - packing (eta + slope (T - 301.15 K))) S, its root by scipy.
    def balance(temperature: float) -> float:
        efficiency = EFFICIENCY - 0.0006 * (temperature - 301.15)
        absorbed = (ABSORPTANCE - PACKING * efficiency) * 1361.0
        return absorbed - 0.85 * STEFAN_BOLTZMANN * temperature**4

    result = result_of("case", text=PLATE)
    wanted = brentq(balance, 200.0, 500.0, xtol=1e-9)
    assert result.of("plate")[0] == pytest.approx(wanted, rel=1e-8)
    found = energy_of(result)
    # Derived: the efficiency at that temperature; nothing else says what becomes of the power.
    assert found.efficiency == pytest.approx(EFFICIENCY - 0.0006 * (wanted - 301.15), rel=1e-7)
    assert found.given == pytest.approx(found.efficiency * PACKING * 1361.0, rel=1e-7)
    assert np.isnan(found.remainder)


def test_a_full_battery_leaves_the_front_warmer_than_one_that_is_never_full() -> None:
    full = result_of("orbit")
    hungry = result_of("orbit", {"units.bus.scale": GIVEN / DEMAND})
    wing = full.network.index("wing")
    warmest = [float(each.solution.extremes.highest[:, wing].max()) for each in (full, hungry)]
    assert warmest[0] > warmest[1] + 5.0
    # Derived: both end in sunlight with C dT/dt = absorbed - drawn - G (T - sink), and the hungry
    # one has drawn all the time: a square wave of a linear node (check value 10.05).
    fade = [np.exp(-width * 5.0 / 5000.0) for width in (LIT, PERIOD - LIT)]
    top = (ABSORBED - GIVEN) / 5.0
    wanted = 223.15 + top * (1.0 - fade[0]) / (1.0 - fade[0] * fade[1])
    assert warmest[1] == pytest.approx(wanted, abs=0.02)


def test_the_steady_state_is_the_mean_of_the_orbit_where_nothing_bends() -> None:
    # Derived: all links are linear and the efficiency is constant, so that means obey the means.
    orbit, mean = result_of("orbit"), result_of("mean")
    assert mean.solution.mean == pytest.approx(orbit.solution.mean, abs=2e-3)
    assert energy_of(mean).given == pytest.approx(energy_of(orbit).given / PERIOD, rel=1e-6)
    assert energy_of(mean).share < 1e-12


def test_losses_of_the_battery_warm_its_node() -> None:
    # Derived, 2 W/K to the sink: the mean loss of an orbit is D t_dark (1 / (a b) - 1) / period.
    lost = DEMAND * (PERIOD - LIT) * (1.0 / (INTO * OUT_OF) - 1.0) / PERIOD
    result = result_of("mean")
    assert result.of("box")[0] == pytest.approx(223.15 + (DEMAND + lost) / 2.0, rel=1e-8)


def test_cells_that_give_too_little_are_said_to_lose_charge_in_each_period() -> None:
    # Derived: a (P - D) in light less D / b in shadow, with a demand of 120 W.
    result = result_of("orbit", {"units.bus.scale": 1.5})
    loss = 120.0 * (PERIOD - LIT) / OUT_OF - INTO * (GIVEN - 120.0) * LIT
    assert loss > 0.0
    (note,) = [each for each in result.solution.stats.notes if "battery" in each]
    assert f"battery 'pack' loses {loss / 3600.0:.4g} Wh in each period" in note
    found = energy_of(result)
    assert found.stored == pytest.approx(-loss, rel=1e-6)
    assert found.full == ()
    assert np.isnan(found.lowest)
    assert found.share < 1e-6


def test_a_steady_state_says_when_the_cells_give_too_little() -> None:
    result = result_of("mean", {"units.bus.scale": 1.5})
    (note,) = result.solution.stats.notes
    assert "not enough power" in note
    found = energy_of(result)
    # Derived: all that the cells give in the mean.
    assert found.given == pytest.approx(GIVEN * LIT / PERIOD)
    assert found.lacking > 0.0
    assert found.share < 1e-12


def test_an_empty_battery_is_told_with_its_instant_and_what_is_lacking() -> None:
    changes = {"batteries.pack.begins": 0.1, "surfaces.wing.absorbed.solar.heat": 0.0}
    result = result_of("day", changes)
    # Derived: 0.1 of the capacity at D / b; after it nobody gives the demand.
    instant = 0.1 * CAPACITY * OUT_OF / DEMAND
    lacking = DEMAND * (3.0 * 3600.0 - instant) / 3600.0
    (note,) = result.solution.stats.notes
    assert note == f"battery 'pack' is empty at {instant:.0f} s; {lacking:.4g} Wh are lacking"
    found = energy_of(result)
    assert found.lowest == 0.0
    assert found.share < 1e-6


def test_efficiency_by_temperature_settles_with_the_instant_at_which_the_battery_is_full() -> None:
    result = result_of("orbit", {"surfaces.wing.cells.efficiency_slope": -0.0006})
    found = energy_of(result)
    assert found.share < 2e-4
    begins = result.drawn["surfaces.wing.cells"].charging.time[1]
    assert found.full == pytest.approx([begins], abs=1.0)


# Published one-node satellites (Ivezic, Aeron. Aerosp. Open Access J. 5(2), 83-93, 2021, and its
# companion report; heat terms read, temperatures recomputed from the printed equation as check
# values 11.5 say). They store the share 0.2 of absorbed sunlight and albedo and release it evenly
# through the orbit: cells of 0.2 x absorptance, and a battery without losses.
PUBLISHED = """
thermnet: 1
temperatures: K
modes: {{on: {{}}}}
nodes: {{body: {{capacity: {capacity} J/K}}}}
boundaries: {{space: {{temperature: 0 K}}}}
surfaces:
  body:
    node: body
    area: 0.1 m2
    absorptance: 0.8
    emittance: {emittance}
    absorbed:
      solar: {{heat: {sunlight} W, schedule: sun}}
      planet_infrared: {{heat: {infrared} W}}
    cells: {{efficiency: 0.16}}
units: {{all: {{node: body, heat: {{on: {released} W}}}}}}
batteries:
  pack:
    node: body
    capacity: 1000 Wh
    charge_efficiency: 1.0
    discharge_efficiency: 1.0
    cells: [body]
schedules:
  sun: {{time: [0 s, {lit} s], value: [1, 0], shape: steps, period: {period} s}}
cases:
  orbit: {{solve: repeating, period: {period} s, mode: on, sunlit: sun}}
"""


@pytest.mark.parametrize(
    ("numbers", "lowest", "highest", "near"),
    [
        # Case 1: sunlit 40.08449805 W and eclipse 11.13701183 W; sunlight and albedo together
        # are (sunlit - infrared) / (1 - 0.33 x 0.2), and 0.2 x 0.67 of them is released.
        pytest.param(
            {
                "capacity": 2.0 * 921.0,
                "emittance": 0.86,
                "sunlight": (40.08449805 - 11.13701183) / (1.0 - 0.2),
                "infrared": 11.13701183 - 0.2 * 0.67 * (40.08449805 - 11.13701183) / 0.8,
                "released": 0.2 * 0.67 * (40.08449805 - 11.13701183) / 0.8,
                "lit": 5400.0 - 1782.0,
                "period": 5400.0,
            },
            271.378,
            289.605,
            2e-3,
            id="generic",
        ),
        pytest.param(
            {
                "capacity": 2.6 * 768.0,
                "emittance": 0.79266,
                "sunlight": 23.056341 + 5.19137980,
                "infrared": 5.31973056,
                "released": 3.53096510,
                "lit": 3600.0,
                "period": 5760.0,
            },
            259.47317,
            274.46603,
            1e-3,
            id="cold",
        ),
    ],
)
def test_a_published_satellite_that_stores_power_has_its_recomputed_temperatures(
    numbers: dict[str, float], lowest: float, highest: float, near: float
) -> None:
    # The source takes 5.6703e-8 for the constant of radiation.
    ours = numbers | {"emittance": numbers["emittance"] * 5.6703e-8 / STEFAN_BOLTZMANN}
    result = solved(PUBLISHED.format(**ours), "orbit", options=Options(accuracy=1e-4))
    body = result.network.index("body")
    extremes = result.solution.extremes
    assert float(extremes.lowest[:, body].min()) == pytest.approx(lowest, abs=near)
    assert float(extremes.highest[:, body].max()) == pytest.approx(highest, abs=near)
    assert energy_of(result).share < 1e-5


def test_a_model_without_a_battery_is_solved_once() -> None:
    model = apply_case(read(), "mean")
    solves: list[Network] = []

    def once(network: Network, rough: bool) -> Solution:
        assert not rough
        from thermnet.solve.steady import steady

        solves.append(network)
        return steady(network, Options())

    _, _, drawn = settled(model, plan(model, "mean"), once)
    assert len(solves) == 1
    assert not drawn


@pytest.mark.parametrize("case", ["orbit", "mean", "day"])
def test_a_saved_result_holds_what_was_drawn_to_the_last_bit(case: str, tmp_path: Path) -> None:
    result = result_of(case)
    again = open_result(save(result, tmp_path / "result.nc"))
    assert again.drawn.keys() == result.drawn.keys()
    for path, drawn in result.drawn.items():
        for name in ("charging", "demand", "losses"):
            one, other = getattr(drawn, name), getattr(again.drawn[path], name)
            np.testing.assert_array_equal(one.time, other.time)
            np.testing.assert_array_equal(one.value, other.value)
    np.testing.assert_array_equal(again.network.heats.amplitude, result.network.heats.amplitude)
    assert energy_of(again).given == energy_of(result).given


def test_where_nothing_says_when_it_is_dark_a_steady_state_tells_that_the_battery_is_not_used() -> (
    None
):
    text = MODEL.replace("{solve: steady, mode: on, sunlit: sun}", "{solve: steady, mode: on}")
    result = result_of("mean", text=text)
    (note,) = result.solution.stats.notes
    assert "nothing says when it is dark" in note
    # Derived: without shadow the cells give the demand as it is.
    assert energy_of(result).given == pytest.approx(DEMAND)
    assert energy_of(result).losses == pytest.approx(0.0)


def test_a_case_after_one_that_loses_charge_tells_with_what_it_begins_instead() -> None:
    text = MODEL + "  later: {solve: transient, duration: 100 s, after: orbit, mode: on}\n"
    result = result_of("later", {"units.bus.scale": 1.5, "batteries.pack.begins": 0.75}, text)
    (problem,) = [each for each in result.problems if each.path == "cases.later.after"]
    assert problem.severity == "warning"
    assert "does not say what the battery holds at its end" in problem.message
    assert energy_of(result).course.charge[0] == pytest.approx(0.75)
    known = result_of("later", text=text)
    assert [each for each in known.problems if each.path == "cases.later.after"] == []


# Two wheels of one clock: where the battery is full follows from its heater, which follows from
# what the battery loses. Alone, pass after pass, the instant swings about its end by -0.6 of
# what it missed before.
SWINGING = """
thermnet: 1
temperatures: degC
nodes:
  box: {capacity: 5000 J/K, initial: 20}
  wing: {capacity: 1500 J/K, initial: 0}
  pack: {capacity: 3000 J/K, initial: 20}
boundaries: {space: {temperature: -270}}
links:
  feet: {from: box, to: pack, conductance: 0.5 W/K}
  yoke: {from: box, to: wing, conductance: 0.1 W/K}
surfaces:
  radiator: {node: box, area: 0.2 m2, emittance: 0.85}
  wing:
    node: wing
    area: 0.5 m2
    emittance: 0.85
    absorptance: 0.9
    absorbed: {solar: {heat: 500 W, schedule: sun}}
    cells: {efficiency: 0.3, efficiency_slope: -0.001 1/K, packing: 0.9}
batteries:
  pack: {node: pack, capacity: 60 Wh, charge_efficiency: 0.9, discharge_efficiency: 0.9,
         cells: [wing]}
modes: {idle: {}, busy: {}}
units: {box: {node: box, heat: {idle: 40 W, busy: 90 W}, sent: {busy: 20 W}}}
heaters: {pack: {node: pack, power: 15 W, on_below: 15, off_above: 18}}
timelines:
  day:
    repeats: 6000 s
    steps:
      first: {mode: idle, time: 0 s}
      busy: {mode: busy, time: 1000 s}
      last: {mode: idle, time: 2000 s}
schedules: {sun: {time: [0 s, 4000 s], value: [1, 0], shape: steps, period: 6000 s}}
cases:
  case: {solve: repeating, period: 12000 s, timeline: day, sunlit: sun}
"""


def test_a_battery_whose_heater_answers_to_its_losses_settles() -> None:
    pytest.importorskip("numba", reason="takes some seconds without compiled code")
    result = solved(SWINGING)
    assert not [note for note in result.solution.stats.notes if note.startswith("battery")]
    assert energy_of(result).share < 1e-4
