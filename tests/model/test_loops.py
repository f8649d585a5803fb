"""Loops with a pump, and links that are lost: closed forms, and what a file may not say."""

from __future__ import annotations

import numpy as np
import pytest

from tests.model.doubted import doubts_of
from tests.model.small import SMALL, read
from tests.small_models import model_of, solved
from thermnet.account import account
from thermnet.errors import InputError
from thermnet.figures.from_results import diagram
from thermnet.model.kinds.material import of_library
from thermnet.model.paths import vary
from thermnet.network.graph import graph
from thermnet.physics.constants import ZERO_CELSIUS
from thermnet.results import Result, solve

HEAT = 60.0  # W
RATE = 12.0  # W/K
WALL = 4.0  # W/K

LOOP = """
thermnet: 1
temperatures: degC
nodes:
  cold plate: {capacity: 500 J/K, initial: 0}
  fluid in cold plate: {capacity: 50 J/K, initial: 0}
  fluid in radiator: {capacity: 50 J/K, initial: 0}
boundaries:
  sink: {temperature: 0}
links:
  cold plate wall: {from: cold plate, to: fluid in cold plate, conductance: 6 W/K}
  radiator wall: {from: fluid in radiator, to: sink, conductance: 4 W/K}
  leak: {from: cold plate, to: sink, conductance: 0.1 W/K}
loops:
  coolant: {through: [fluid in cold plate, fluid in radiator], capacity_rate: 12 W/K}
loads:
  cold plate: {node: cold plate, heat: 60 W}
cases:
  case: {solve: steady}
"""

OPEN_LINE = """
thermnet: 1
temperatures: degC
nodes:
  first: {massless: true}
  second: {massless: true}
boundaries:
  inlet: {temperature: 15}
  outlet: {temperature: 0}
loops:
  line: {through: [inlet, first, second, outlet], capacity_rate: 8 W/K, returns: false}
loads:
  first: {node: first, heat: 40 W}
  second: {node: second, heat: 24 W}
cases:
  case: {solve: steady}
"""


def steady(result: Result) -> dict[str, float]:
    """Steady temperatures [degC] by node."""
    values = result.solution.mean - ZERO_CELSIUS
    return dict(zip(result.network.names, values.tolist(), strict=True))


def test_a_fluid_warms_by_heat_over_capacity_rate_from_node_to_node() -> None:
    """Derived: each node gives the fluid its heat, so it leaves warmer by Q / W."""
    found = steady(solved(OPEN_LINE))
    assert found["first"] == pytest.approx(15.0 + 40.0 / 8.0, abs=1e-6)
    assert found["second"] == pytest.approx(15.0 + 64.0 / 8.0, abs=1e-6)


def test_a_pumped_loop_carries_heat_from_a_cold_plate_to_a_radiator() -> None:
    """Derived for a closed loop of rate W between walls, with a leak G_l to the sink.

    Radiator: W (T1 - T2) = 4 T2, so T1 - T2 = T2 / 3; the plate stands T1 + q / 6 high, where
    q = 4 T2 is what the loop carries; q + 0.1 T_plate = 60 W. So T_plate = (4/3 + 4/6) T2 = 2 T2
    and 4.2 T2 = 60 W.
    """
    found = steady(solved(LOOP))
    cool = HEAT / 4.2
    assert found["fluid in radiator"] == pytest.approx(cool, abs=1e-6)
    assert found["fluid in cold plate"] == pytest.approx(cool * (1.0 + WALL / RATE), abs=1e-6)
    assert found["cold plate"] == pytest.approx(2.0 * cool, abs=1e-6)


def test_the_account_says_what_each_stretch_of_a_loop_carries() -> None:
    """Rate times temperature difference: what enters the radiator comes back from it."""
    result = solved(LOOP)
    (there, back) = [e for e in account(result.network, result.solution).entries
                     if e.kind == "flow link"]  # fmt: skip
    carried = WALL * HEAT / 4.2
    assert there.origin == back.origin == "loops.coolant"
    assert there.amount == pytest.approx(carried, rel=1e-6)
    assert back.amount == pytest.approx(-carried, rel=1e-6)


def test_a_stopped_pump_leaves_the_plate_to_its_leak() -> None:
    """Derived: 60 W through 0.1 W/K; the fluid in the plate, with nowhere to go, is as warm."""
    found = steady(solved(LOOP, changes={"loops.coolant.stopped": True}))
    assert found["cold plate"] == pytest.approx(HEAT / 0.1, abs=1e-4)
    assert found["fluid in cold plate"] == pytest.approx(HEAT / 0.1, abs=1e-4)
    assert found["fluid in radiator"] == pytest.approx(0.0, abs=1e-6)


def test_a_loop_at_half_flow_warms_its_fluid_by_twice_as_much() -> None:
    """Derived: Q / W, of a steady case by the mean of the schedule, (1 + 0) / 2."""
    half = "schedules:\n  pump: {time: [0 s, 50 s], value: [1, 0], shape: steps, period: 100 s}\n"
    text = OPEN_LINE.replace("returns: false", "returns: false, schedule: pump")
    found = steady(solved(text.replace("cases:", half + "cases:")))
    assert found["first"] == pytest.approx(15.0 + 40.0 / 4.0, abs=1e-6)


def test_a_fluid_that_stands_still_and_moves_again_mixes_by_its_turnover() -> None:
    """Derived: a well-mixed volume flushed from a boundary decays as exp(-W t / C)."""
    text = """
thermnet: 1
temperatures: degC
nodes:
  tank: {capacity: 800 J/K, initial: 50}
boundaries:
  inlet: {temperature: 10}
  outlet: {temperature: 0}
loops:
  line:
    {through: [inlet, tank, outlet], capacity_rate: 8 W/K, returns: false, schedule: pump}
schedules:
  pump: {time: [0 s, 100 s], value: [0, 1], shape: steps}
cases:
  case: {solve: transient, duration: 300 s, initial: given}
"""
    result = solved(text)
    end = float(result.of("tank")[-1]) - ZERO_CELSIUS
    assert end == pytest.approx(10.0 + 40.0 * np.exp(-8.0 * 200.0 / 800.0), abs=0.01)


def test_two_loops_through_one_radiator_add_their_flows() -> None:
    """Derived by symmetry: two equal loops of half the rate are the one loop of the whole."""
    text = LOOP.replace(
        "capacity_rate: 12 W/K}",
        "capacity_rate: 6 W/K}\n"
        "  other: {through: [fluid in radiator, fluid in cold plate], capacity_rate: 6 W/K}",
    )
    assert steady(solved(text))["cold plate"] == pytest.approx(2.0 * HEAT / 4.2, abs=1e-6)


def test_a_lost_link_carries_nothing_and_stands_in_the_account() -> None:
    """Derived: without the leak all 60 W pass the radiator's wall, 60 W / 4 W/K."""
    result = solved(LOOP, changes={"links.leak.lost": True})
    assert steady(result)["fluid in radiator"] == pytest.approx(HEAT / WALL, abs=1e-6)
    assert account(result.network, result.solution).by_origin()["links.leak"] == 0.0


def test_a_lost_table_of_links_carries_nothing() -> None:
    text = LOOP.replace(
        "links:",
        "links:\n  straps:\n    table: |\n      from, to, conductance [W/K]\n"
        "      cold plate, sink, 0.4\n      cold plate, sink, 0.5\n",
    )
    kept = steady(solved(text))["cold plate"]
    lost = steady(solved(text, changes={"links.straps.lost": True}))["cold plate"]
    assert kept < lost - 1.0
    assert lost == pytest.approx(2.0 * HEAT / 4.2, abs=1e-6)


def test_a_part_that_loses_its_only_link_has_no_route_to_a_boundary() -> None:
    changes = {"loops.coolant.stopped": True, "links.leak.lost": True}
    with pytest.raises(InputError, match="no route to a boundary node for the heat on 'cold"):
        solve(vary(model_of(LOOP), changes), "case")


def test_a_loop_stands_in_the_graph_and_the_diagram() -> None:
    result = solved(LOOP)
    laws = [data["law"] for _, _, data in graph(result.network).edges(data=True)]
    assert laws.count("flow") == 2
    assert diagram(result).axes


def test_a_lost_link_does_not_hurt_the_diagram() -> None:
    assert diagram(solved(LOOP, changes={"links.leak.lost": True})).axes


def test_a_line_that_neither_returns_nor_ends_at_a_boundary_is_blamed_on_the_loop() -> None:
    text = LOOP.replace("capacity_rate: 12 W/K}", "capacity_rate: 12 W/K, returns: false}")
    with pytest.raises(InputError) as caught:
        solve(model_of(text), "case")
    (first, second) = caught.value.problems
    assert first.path == second.path == "loops.coolant"
    assert first.place is not None
    assert "12 W/K more leaves than enters" in first.message
    assert "12 W/K more enters than leaves" in second.message


@pytest.mark.parametrize(
    ("loop", "path", "words"),
    [
        ("{through: [box], capacity_rate: 1 W/K}", "through", "at least two nodes"),
        ("{through: [box, plate, box], capacity_rate: 1 W/K}", "through.2", "'box' comes twice"),
        ("{through: [box, plat], capacity_rate: 1 W/K}", "through.1", "'plate'"),
        ("{through: [box, plate], capacity_rate: 0 W/K}", "capacity_rate", "above 0"),
        ("{through: [box, plate], capacity_rate: 1 kg/s}", "capacity_rate", "W/K"),
        ("{through: [box, plate]}", "capacity_rate", "missing key 'capacity_rate'"),
        ("{through: [box, plate], fluid: water}", "mass_flow", "missing key 'mass_flow'"),
        ("{through: [box, plate], mass_flow: 1 kg/s}", "fluid", "missing key 'fluid'"),
        ("{through: [box, plate], fluid_at: 20}", "fluid", "goes with 'fluid_at'"),
        (
            "{through: [box, plate], capacity_rate: 1 W/K, mass_flow: 1 kg/s}",
            "mass_flow",
            "given beside 'capacity_rate'",
        ),
        ("{through: [box, plate], fluid: watr, mass_flow: 1 kg/s}", "fluid", "'water'"),
        ("{through: [box, plate], fluid: water, mass_flow: 0 kg/s}", "mass_flow", "above 0"),
    ],
)
def test_a_loop_that_cannot_flow_is_told_where_it_stands(loop: str, path: str, words: str) -> None:
    text = SMALL.replace("cases:", f"loops:\n  pump: {loop}\ncases:")
    with pytest.raises(InputError) as caught:
        read(text)
    (problem,) = caught.value.problems
    assert problem.path == f"loops.pump.{path}".rstrip(".")
    assert words in problem.message
    assert problem.place is not None


def test_a_flow_does_not_turn_round() -> None:
    schedule = "schedules:\n  pump: {time: [0 s, 50 s], value: [1, -0.5]}\n"
    text = LOOP.replace("12 W/K}", "12 W/K, schedule: pump}").replace("cases:", f"{schedule}cases:")
    text = text.replace("{solve: steady}", "{solve: transient, duration: 100 s, initial: given}")
    with pytest.raises(InputError, match=r"must be at least 0, got -0\.5"):
        model_of(text)


def test_a_node_that_loses_one_of_two_links_cools_through_the_other() -> None:
    """Derived: exp(-G t / C) with the 0.5 W/K that are left."""
    text = """
thermnet: 1
temperatures: degC
nodes:
  tank: {capacity: 1000 J/K, initial: 40}
boundaries:
  sink: {temperature: 0}
links:
  strap: {from: tank, to: sink, conductance: 3 W/K, lost: true}
  feet: {from: tank, to: sink, conductance: 0.5 W/K}
cases:
  case: {solve: transient, duration: 1000 s, initial: given}
"""
    end = float(solved(text).of("tank")[-1]) - ZERO_CELSIUS
    assert end == pytest.approx(40.0 * np.exp(-0.5), abs=0.01)


def by_fluid(keys: str, material: str = "{specific_heat: 3000 J/kg/K, lowest: -20}") -> str:
    """The loop with a fluid of its own."""
    text = LOOP.replace("capacity_rate: 12 W/K", f"fluid: coolant, {keys}")
    return text.replace("loops:", f"materials:\n  coolant: {material}\nloops:")


def test_mass_flow_times_specific_heat_is_the_capacity_rate() -> None:
    """Derived: 4 g/s of 3000 J/kg/K are 12 W/K."""
    by_rate, found = steady(solved(LOOP)), steady(solved(by_fluid("mass_flow: 4 g/s")))
    assert found == pytest.approx(by_rate, abs=1e-9)


def test_a_fluid_of_the_library_brings_its_specific_heat() -> None:
    text = LOOP.replace("capacity_rate: 12 W/K", "fluid: water, mass_flow: 3 g/s")
    rate = 3e-3 * of_library("water").specific_heat  # type: ignore[operator]
    found = steady(solved(text))
    lift = found["fluid in cold plate"] - found["fluid in radiator"]
    assert lift == pytest.approx(WALL * found["fluid in radiator"] / rate, rel=1e-6)


def test_a_fluid_known_over_temperature_is_taken_where_the_file_says() -> None:
    """Derived: at 250 K, half way from 2000 to 4000 J/kg/K, 4 g/s carry 12 W/K."""
    heat = "{temperature: [200 K, 300 K], value: [2000 J/kg/K, 4000 J/kg/K]}"
    text = by_fluid("mass_flow: 4 g/s, fluid_at: 250 K", f"{{specific_heat: {heat}, lowest: -20}}")
    assert steady(solved(text)) == pytest.approx(steady(solved(LOOP)), abs=1e-6)
    plain = by_fluid("mass_flow: 3 g/s", f"{{specific_heat: {heat}, lowest: -20}}")
    assert steady(solved(plain)) == pytest.approx(steady(solved(LOOP)), abs=1e-6)


def test_a_material_that_melts_flows_with_the_specific_heat_of_its_liquid() -> None:
    melts = "{specific_heat: 1000 J/kg/K, specific_heat_liquid: 3000 J/kg/K, melts_at: -20}"
    found = steady(solved(by_fluid("mass_flow: 4 g/s", melts)))
    assert found == pytest.approx(steady(solved(LOOP)), abs=1e-9)


@pytest.mark.parametrize(
    ("material", "keys", "words"),
    [
        ("{density: 900 kg/m3}", "", "the specific heat of 'coolant' is not known: state `spec"),
        (
            "{melts_at: -20, specific_heat: 900 J/kg/K}",
            "",
            "the specific heat when liquid of 'coolant' is not known: state `specific_heat_liquid`",
        ),
        (
            "{specific_heat: {temperature: [200 K, 300 K], value: [9 J/kg/K, 9 J/kg/K]}}",
            ", fluid_at: 310 K",
            "known from 200 to 300 K, not at 310 K",
        ),
    ],
)
def test_a_fluid_that_is_not_known_is_blamed_on_the_loop(
    material: str, keys: str, words: str
) -> None:
    with pytest.raises(InputError) as caught:
        solve(model_of(by_fluid(f"mass_flow: 4 g/s{keys}", material)), "case")
    (problem,) = caught.value.problems
    assert problem.path == "loops.coolant"
    assert words in problem.message


def test_a_fluid_that_would_freeze_is_doubted() -> None:
    """The radiator's fluid stands at 60 / 4.2 = 14.3 degC."""
    for material, word in (
        ("{specific_heat: 3000 J/kg/K, lowest: 15}", "may not be used below 288.15 K"),
        ("{specific_heat: 1 J/kg/K, specific_heat_liquid: 3000 J/kg/K, melts_at: 15}", "freezes"),
    ):
        result = solved(by_fluid("mass_flow: 4 g/s", material))
        ((path, message),) = doubts_of(result, "loops.coolant")
        assert path == "loops.coolant.fluid"
        assert word in message
        assert "'fluid in radiator' goes down to 287.4 K" in message


def test_a_fluid_within_its_temperatures_is_not_doubted() -> None:
    material = "{specific_heat: 3000 J/kg/K, lowest: 14, highest: 20}"
    assert doubts_of(solved(by_fluid("mass_flow: 4 g/s", material)), "loops.coolant") == []


def test_a_fluid_that_gets_too_hot_is_doubted() -> None:
    """The cold plate's fluid stands at 60 / 4.2 (1 + 4 / 12) = 19.05 degC."""
    material = "{specific_heat: 3000 J/kg/K, lowest: 0, highest: 19}"
    ((path, message),) = doubts_of(solved(by_fluid("mass_flow: 4 g/s", material)), "loops.coolant")
    assert path == "loops.coolant.fluid"
    assert "'fluid in cold plate' goes up to 292.2 K" in message


def test_a_fluid_of_unknown_freezing_is_doubted() -> None:
    result = solved(by_fluid("mass_flow: 4 g/s", "{specific_heat: 3000 J/kg/K}"))
    ((_, message),) = doubts_of(result, "loops.coolant")
    assert "it is not known where 'coolant' freezes" in message


def test_a_specific_heat_taken_far_from_the_temperatures_met_is_doubted() -> None:
    """At 19.05 degC, 292.2 K, the curve has 3844 J/kg/K, 92 % more than the 2000 taken."""
    heat = "{temperature: [200 K, 300 K], value: [2000 J/kg/K, 4000 J/kg/K]}"
    text = by_fluid("mass_flow: 6 g/s, fluid_at: 200 K", f"{{specific_heat: {heat}, lowest: -20}}")
    ((_, message),) = doubts_of(solved(text), "loops.coolant")
    assert "differs by up to 92 % from the 2000 J/kg/K that is taken" in message
    near = text.replace("fluid_at: 200 K", "fluid_at: 290 K")
    assert doubts_of(solved(near), "loops.coolant") == []


def test_a_loop_by_capacity_rate_has_no_fluid_to_doubt() -> None:
    assert doubts_of(solved(LOOP), "loops.coolant") == []
