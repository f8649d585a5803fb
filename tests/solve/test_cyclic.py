"""Repeating orbits: found without running hundreds, and honest where nothing repeats."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.solving import (
    highest,
    history_of,
    lowest,
    solved_cyclic,
    solved_transient,
    start_at,
    switchings,
    uniform,
)
from thermnet.account import account
from thermnet.network.build import build
from thermnet.network.network import Network
from thermnet.network.parts import (
    RADIATION,
    BoundaryPart,
    HeatPart,
    History,
    LinkPart,
    NodePart,
    Part,
    ThermostatPart,
)
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.physics.curves import Curve
from thermnet.solve.cyclic import cyclic
from thermnet.solve.solution import Options

PERIOD = 5400.0
FINE = Options(accuracy=1e-3)


def square(share: float) -> History:
    middle = share * PERIOD
    return History(
        time=np.array([0.0, middle, middle, PERIOD]), value=np.array([1.0, 1.0, 0.0, 0.0])
    )


def linear_node(*parts: Part, sink: float = 250.0) -> Network:
    """C 1000 J/K, G 2 W/K: a time constant of 500 s."""
    return build(
        [
            NodePart(name="plate", capacity=1000.0),
            BoundaryPart(name="sink", temperature=sink),
            LinkPart(a="plate", b="sink", strength=2.0),
            *parts,
        ],
        period=PERIOD,
    )


def spacecraft(*extra: Part, tank: float = 2e5, mount: float = 0.05) -> Network:
    """A tank with a time constant of about a month, a box, a radiator and a massless blanket."""
    radiation = [("radiator", "space", 0.2), ("tank", "blanket", 0.01), ("blanket", "space", 0.8)]
    return build(
        [
            NodePart(name="tank", capacity=tank),
            NodePart(name="box", capacity=4000.0),
            NodePart(name="radiator", capacity=1500.0),
            NodePart(name="blanket"),
            BoundaryPart(name="space", temperature=2.7),
            LinkPart(a="tank", b="box", strength=mount),
            LinkPart(a="box", b="radiator", strength=2.0),
            *(
                LinkPart(a=a, b=b, strength=STEFAN_BOLTZMANN * area, potential=RADIATION)
                for a, b, area in radiation
            ),
            HeatPart(node="box", amplitude=40.0),
            HeatPart(node="radiator", amplitude=30.0, history=square(0.6)),
            HeatPart(node="blanket", amplitude=400.0, history=square(0.6)),
            *extra,
        ],
        period=PERIOD,
    )


def test_a_square_wave_load_repeats_between_its_closed_form_limits() -> None:
    """20 W for 60 % of 5400 s: Tmax = Tm (1 - a) / (1 - a b), Tmin = b Tmax above the sink."""
    network = linear_node(HeatPart(node="plate", amplitude=20.0, history=square(0.6)))
    solution = solved_cyclic(network, FINE)
    assert lowest(network, solution, "plate") == pytest.approx(250.132798, abs=1e-3)
    assert highest(network, solution, "plate") == pytest.approx(259.984866, abs=1e-3)
    assert solution.mean[0] == pytest.approx(256.0, abs=1e-3)


def test_a_sinusoidal_load_repeats_with_its_closed_form_amplitude_and_lag() -> None:
    """4.321820 K and 452.8475 s for 10 W; chords of 240 pieces shrink the load by 6e-5."""
    time = np.linspace(0.0, PERIOD, 241)
    wave = History(time=time, value=np.sin(2.0 * np.pi * time / PERIOD))
    network = linear_node(HeatPart(node="plate", amplitude=10.0, history=wave), sink=293.0)
    solution = solved_cyclic(network, Options(accuracy=1e-3, outputs=60))
    expected = 293.0 + 4.321820 * np.sin(2.0 * np.pi * (solution.t - 452.8475) / PERIOD)
    np.testing.assert_allclose(history_of(network, solution, "plate"), expected, atol=2e-3)


def test_the_last_state_is_the_first() -> None:
    solution = solved_cyclic(spacecraft())
    np.testing.assert_allclose(solution.temperature[-1, :3], solution.temperature[0, :3], atol=0.01)
    assert solution.span == PERIOD
    assert any("repeats" in note for note in solution.stats.notes)


def test_a_tank_of_months_is_closed_in_a_few_orbits() -> None:
    """Its time constant is some 700 orbits; one more tenfold must not cost tenfold orbits."""
    few = solved_cyclic(spacecraft()).stats.passes
    heavier = solved_cyclic(spacecraft(tank=2e6)).stats.passes
    assert few <= 12
    assert heavier <= 12


def test_the_repeating_state_is_the_one_that_many_orbits_lead_to() -> None:
    """From the state found, ten orbits lead nowhere else; from 5 K beside it, many lead back."""
    network = spacecraft(tank=2e3)
    found = solved_cyclic(network, FINE)
    state = found.temperature[0]
    stays = solved_transient(network, 10 * PERIOD, FINE, start=state)
    np.testing.assert_allclose(stays.temperature[-1, :3], state[:3], atol=3e-3)
    beside = state + np.array([5.0, 5.0, 5.0, 0.0, 0.0])
    back = solved_transient(network, 80 * PERIOD, start=beside)
    np.testing.assert_allclose(back.temperature[-1, :3], state[:3], atol=0.02)


def test_the_start_does_not_matter() -> None:
    network = spacecraft()
    expected = solved_cyclic(network).temperature
    for start in (100.0, 400.0):
        found = cyclic(network, start=uniform(network, start))
        assert found.failure == ""
        np.testing.assert_allclose(found.temperature[:, :3], expected[:, :3], atol=0.02)


def test_what_comes_in_over_a_repeating_orbit_goes_out() -> None:
    """The stored heat of every node returns to what it was."""
    network = spacecraft()
    drawn_up = account(network, solved_cyclic(network, FINE))
    stored = [entry.amount for entry in drawn_up.entries if entry.kind == "stored"]
    through = 40.0 * PERIOD + 0.6 * 430.0 * PERIOD
    assert np.abs(stored).max(initial=0.0) < 1e-3 * through


def test_wax_that_melts_and_freezes_every_orbit() -> None:
    """It ends each orbit as it began, and its plate swings less than one without wax."""
    wax = Curve(
        x=np.array([200.0, 285.0, 286.0, 350.0]), y=np.array([0.0, 85e3, 125e3, 189e3]), extend=True
    )

    def swing(node: NodePart) -> float:
        parts: list[Part] = [
            node,
            BoundaryPart(name="sink", temperature=255.0),
            LinkPart(a="plate", b="sink", strength=0.5),
            HeatPart(node="plate", amplitude=25.0, history=square(0.6)),
        ]
        network = build(parts, period=PERIOD)
        solution = solved_cyclic(network)
        assert solution.temperature[-1, 0] == pytest.approx(solution.temperature[0, 0], abs=0.02)
        return highest(network, solution, "plate") - lowest(network, solution, "plate")

    with_wax = swing(NodePart(name="plate", content=wax))
    assert with_wax < 0.5 * swing(NodePart(name="plate", capacity=1000.0))


def test_a_node_colder_than_the_coldest_guess_repeats_too() -> None:
    """Nothing but space at 2.7 K, and 10 uW through 1 mW/K for 60 % of the orbit: 2.706 K."""
    parts: list[Part] = [
        NodePart(name="stage", capacity=1.0),
        BoundaryPart(name="space", temperature=2.7),
        LinkPart(a="stage", b="space", strength=1e-3),
        HeatPart(node="stage", amplitude=1e-5, history=square(0.6)),
    ]
    network = build(parts, period=PERIOD)
    solution = solved_cyclic(network, Options(accuracy=1e-4))
    assert solution.mean[0] == pytest.approx(2.706, abs=3e-4)


def test_a_repeating_orbit_needs_a_period() -> None:
    parts: list[Part] = [
        NodePart(name="plate", capacity=1.0),
        BoundaryPart(name="sink", temperature=250.0),
        LinkPart(a="plate", b="sink", strength=1.0),
    ]
    with pytest.raises(ValueError, match="period"):
        cyclic(build(parts))


def test_a_heater_that_never_switches_lets_the_orbit_repeat() -> None:
    """Too warm to come on: as without it. Too weak to go off: as a steady load."""
    calm = spacecraft()
    without = solved_cyclic(calm)
    warm = spacecraft(ThermostatPart(node="box", sensor="box", power=10.0, on=150.0, off=155.0))
    found = solved_cyclic(warm)
    assert found.heater_duty == [0.0]
    np.testing.assert_allclose(found.temperature[:, :3], without.temperature[:, :3], atol=0.02)
    weak = spacecraft(ThermostatPart(node="box", sensor="box", power=10.0, on=390.0, off=395.0))
    loaded = spacecraft(HeatPart(node="box", amplitude=10.0))
    found, expected = solved_cyclic(weak), solved_cyclic(loaded)
    assert found.heater_duty == [1.0]
    np.testing.assert_allclose(found.temperature[:, :3], expected.temperature[:, :3], atol=0.02)
    assert not found.switchings.any()


def test_a_heater_cycle_beside_a_constant_environment_has_its_closed_form_duty() -> None:
    """C 2000, G 0.5 to 250 K, 30 W, 273.15 to 278.15 K: duty 0.427155 over whole cycles."""
    parts: list[Part] = [
        NodePart(name="plate", capacity=2000.0),
        BoundaryPart(name="sink", temperature=250.0),
        LinkPart(a="plate", b="sink", strength=0.5),
        ThermostatPart(node="plate", sensor="plate", power=30.0, on=273.15, off=278.15),
    ]
    network = build(parts, period=PERIOD)
    solution = solved_cyclic(network)
    assert solution.heater_duty == pytest.approx([0.427155], rel=2e-4)
    assert lowest(network, solution, "plate") == pytest.approx(273.15, abs=0.01)
    assert highest(network, solution, "plate") == pytest.approx(278.15, abs=0.01)
    assert any("heaters switch" in note for note in solution.stats.notes)
    on, off = switchings(solution)
    assert min(len(on), len(off)) >= 2


TANK_HEATER = ThermostatPart(
    node="tank", sensor="tank", power=25.0, on=293.0, off=293.5, origin="tank heater"
)


def test_a_heated_tank_of_days_is_held_in_its_band_and_fed_what_it_loses() -> None:
    """A cycle of several orbits: the heater's mean power is the tank's mean loss."""
    network = spacecraft(TANK_HEATER, mount=0.5)
    solution = solved_cyclic(network)
    tank, box = network.index("tank"), network.index("box")
    assert lowest(network, solution, "tank") == pytest.approx(293.0, abs=0.05)
    assert highest(network, solution, "tank") == pytest.approx(293.5, abs=0.05)
    record = solution.record
    fourth = record.temperature[:, [tank, network.index("blanket")]] ** 4
    exchanged = record.weight @ (fourth[:, 0] - fourth[:, 1]) / record.weight.sum()
    loss = 0.5 * (solution.mean[tank] - solution.mean[box]) + 0.01 * STEFAN_BOLTZMANN * exchanged
    assert solution.heater_duty[0] * 25.0 == pytest.approx(loss, rel=0.05)
    assert solution.stats.passes < 150


def test_a_heater_whose_cycle_is_longer_than_the_largest_window_is_said_to_be_so() -> None:
    """It happens to be off all the time; that is no duty of zero without a word."""
    solution = solved_cyclic(spacecraft(TANK_HEATER, tank=1e6))
    assert solution.switchings[0] < 4
    assert any("fewer than" in note and "tank heater" in note for note in solution.stats.notes)


def test_means_with_switching_heaters_are_those_of_a_long_run() -> None:
    heater = ThermostatPart(node="box", sensor="box", power=30.0, on=280.0, off=283.0)
    network = spacecraft(heater, tank=2e3)
    found = solved_cyclic(network)
    begin = start_at(network, tank=275.0, box=281.0, radiator=260.0, blanket=250.0)
    settled = solved_transient(network, 40 * PERIOD, start=begin).temperature[-1]
    long = solved_transient(network, 48 * PERIOD, start=settled)
    np.testing.assert_allclose(found.mean[:3], long.mean[:3], atol=0.15)
    assert found.heater_duty[0] == pytest.approx(long.heater_duty[0], rel=0.02)


def test_a_period_that_is_shorter_than_any_cycle_still_covers_whole_cycles() -> None:
    """A heater cycle of two hours in a period of ten minutes."""
    parts: list[Part] = [
        NodePart(name="plate", capacity=10000.0),
        BoundaryPart(name="sink", temperature=250.0),
        LinkPart(a="plate", b="sink", strength=0.5),
        ThermostatPart(node="plate", sensor="plate", power=30.0, on=273.15, off=278.15),
    ]
    network = build(parts, period=600.0)
    solution = solved_cyclic(network)
    cycle = 20000.0 * (math.log(36.85 / 31.85) + math.log(28.15 / 23.15))
    assert solution.span > 2.0 * cycle
    assert solution.heater_duty == pytest.approx([0.427155], rel=1e-3)
