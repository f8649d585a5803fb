"""The energy account: every watt by node and by cause, drawn up apart from the integrator."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.solving import solved_cyclic, solved_steady, solved_transient, start_at, uniform
from thermnet.account import account
from thermnet.network.build import build
from thermnet.network.network import Network
from thermnet.network.parts import (
    RADIATION,
    BoundaryPart,
    FlowLinkPart,
    HeatPart,
    History,
    LinkPart,
    NodePart,
    Part,
    ThermostatPart,
)
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.solve.solution import Options, Solution
from thermnet.solve.steady import steady

PERIOD = 5400.0


def day_and_night() -> History:
    return History(time=np.array([0.0, 3000.0, 3000.0, PERIOD]), value=np.array([1.0, 1, 0, 0]))


def spacecraft(*extra: Part) -> Network:
    return build(
        [
            NodePart(name="box", capacity=4000.0),
            NodePart(name="radiator", capacity=1500.0),
            NodePart(name="blanket"),
            BoundaryPart(name="space", temperature=2.7),
            LinkPart(a="box", b="radiator", strength=2.0, origin="links.strap"),
            *(
                LinkPart(
                    a=a,
                    b=b,
                    strength=STEFAN_BOLTZMANN * area,
                    potential=RADIATION,
                    origin=f"radiation.{a}",
                )
                for a, b, area in (
                    ("radiator", "space", 0.2),
                    ("box", "blanket", 0.02),
                    ("blanket", "space", 0.8),
                )
            ),
            HeatPart(node="box", amplitude=30.0, origin="loads.computer"),
            HeatPart(
                node="blanket", amplitude=400.0, history=day_and_night(), origin="surfaces.sun"
            ),
            *extra,
        ],
        period=PERIOD,
    )


HEATER = ThermostatPart(
    node="box", sensor="box", power=40.0, on=280.0, off=283.0, origin="heaters.box"
)


def test_a_steady_account_in_watts_by_hand() -> None:
    """12 W from a plate through 0.5 W/K to a wall: 12 W in, 12 W through, nothing left."""
    network = build(
        [
            NodePart(name="plate", capacity=10.0),
            BoundaryPart(name="wall", temperature=250.0),
            LinkPart(a="plate", b="wall", strength=0.5, origin="strap"),
            HeatPart(node="plate", amplitude=12.0, origin="load"),
        ]
    )
    found = account(network, solved_steady(network))
    assert found.unit == "W"
    assert found.by_origin() == pytest.approx({"strap": 12.0, "load": 12.0})
    assert found.passing == pytest.approx(12.0)
    assert found.share < 1e-12
    assert {entry.kind for entry in found.entries} == {"link", "heat"}


def test_an_account_of_a_history_in_joules_by_hand() -> None:
    """10 W for 100 s into 100 J/K: 1000 J given, 1000 J stored, 10 K."""
    network = build(
        [
            NodePart(name="plate", capacity=100.0, origin="nodes.plate"),
            HeatPart(node="plate", amplitude=10.0, origin="load"),
        ]
    )
    solution = solved_transient(network, 100.0, start=np.array([280.0]))
    found = account(network, solution)
    assert found.unit == "J"
    assert found.by_origin() == pytest.approx({"load": 1000.0, "nodes.plate": 1000.0})
    assert solution.temperature[-1, 0] == pytest.approx(290.0)


def test_the_entries_of_a_node_add_up_to_its_remainder() -> None:
    """Into the node positive, stored heat negative: zero for every free node."""
    network = spacecraft(HEATER)
    for solution in (
        solved_steady(network),
        solved_transient(network, 2 * PERIOD, start=uniform(network, 290.0)),
    ):
        found = account(network, solution)
        for k, name in enumerate(network.names):
            total = sum(entry.amount for entry in found.of_node(name))
            if name != "space":
                assert total == pytest.approx(found.remainder[k], abs=1e-9 * found.passing)


def test_each_end_of_a_link_sees_the_same_heat_with_opposite_signs() -> None:
    network = spacecraft()
    found = account(network, solved_steady(network))

    def strap(name: str) -> float:
        return sum(e.amount for e in found.of_node(name) if e.origin == "links.strap")

    assert strap("box") == -strap("radiator") != 0.0


def test_a_boundary_takes_up_what_the_others_give_away() -> None:
    network = spacecraft(HEATER)
    found = account(network, solved_steady(network))
    given = sum(entry.amount for entry in found.entries if entry.kind in ("heat", "heater"))
    taken = sum(entry.amount for entry in found.of_node("space"))
    assert taken == pytest.approx(given, rel=1e-9)


def test_causes_with_one_origin_add_up() -> None:
    """A table of couplings from one path is one line of the account."""
    network = spacecraft(
        HeatPart(node="radiator", amplitude=5.0, origin="loads.computer"),
    )
    found = account(network, solved_steady(network))
    assert found.by_origin()["loads.computer"] == pytest.approx(35.0)


def test_a_steady_account_counts_histories_by_their_means() -> None:
    network = spacecraft()
    found = account(network, solved_steady(network))
    assert found.by_origin()["surfaces.sun"] == pytest.approx(400.0 * 3000.0 / PERIOD)


def test_a_heater_appears_with_the_heat_of_its_on_times() -> None:
    network = spacecraft(HEATER)
    solution = solved_transient(network, 3 * PERIOD, start=start_at(network, box=281.0))
    joules = account(network, solution).by_origin()["heaters.box"]
    assert joules == pytest.approx(solution.heater_duty[0] * 40.0 * 3 * PERIOD, rel=1e-9)
    assert joules > 0.0


def test_heat_of_a_fluid_is_stated_by_temperature_difference() -> None:
    """A loop of 2 W/K that carries 5 W between two plates: 5 W one way, 5 W the other."""
    network = build(
        [
            NodePart(name="hot", capacity=10.0),
            NodePart(name="cold", capacity=10.0),
            BoundaryPart(name="sink", temperature=270.0),
            FlowLinkPart(a="hot", b="cold", rate=2.0, origin="to cold"),
            FlowLinkPart(a="cold", b="hot", rate=2.0, origin="to hot"),
            LinkPart(a="cold", b="sink", strength=1.0, origin="mount"),
            HeatPart(node="hot", amplitude=5.0, origin="load"),
        ]
    )
    found = account(network, solved_steady(network))
    expected = {"to cold": 5.0, "to hot": -5.0, "mount": 5.0, "load": 5.0}
    assert found.by_origin() == pytest.approx(expected)
    for name in ("hot", "cold"):
        assert sum(entry.amount for entry in found.of_node(name)) == pytest.approx(0.0, abs=1e-9)


def broken(solution: Solution, node: int, kelvin: float) -> Solution:
    """The solution with one temperature changed after the fact."""
    temperature = solution.record.temperature.copy()
    temperature[-1, node] += kelvin
    return replace(solution, record=replace(solution.record, temperature=temperature))


@pytest.mark.parametrize("kelvin", [0.01, -0.01])
def test_a_steady_state_that_is_off_by_a_hundredth_of_a_kelvin_does_not_close(
    kelvin: float,
) -> None:
    network = spacecraft()
    solution = solved_steady(network)
    found = account(network, broken(solution, network.index("box"), kelvin))
    assert not found.closes
    assert found.worst in ("box", "radiator")


def test_a_history_whose_end_is_wrong_does_not_close() -> None:
    network = spacecraft()
    solution = solved_transient(network, PERIOD, start=uniform(network, 290.0))
    found = account(network, broken(solution, network.index("box"), 2.0))
    assert not found.closes
    assert found.worst == "box"
    assert found.remainder[network.index("box")] == pytest.approx(-8000.0, abs=500.0)


def test_the_wrong_network_does_not_close() -> None:
    """Solved with one strap, accounted for with another of 1 % more."""
    network = spacecraft()
    links = replace(network.links, strength=network.links.strength * 1.01)
    assert not account(replace(network, links=links), solved_steady(network)).closes


def test_a_failed_solve_has_an_account_that_does_not_close() -> None:
    network = spacecraft(HeatPart(node="radiator", amplitude=-200.0))
    solution = steady(network)
    assert solution.failure
    assert not account(network, solution).closes


@pytest.mark.parametrize("method", ["rosenbrock", "scipy-bdf", "scipy-radau", "scipy-lsoda"])
def test_a_tenth_of_the_tolerance_leaves_a_fifth_of_the_remainder_or_less(method: str) -> None:
    """To 1e-3 of the heat passing through at the default accuracy, and better with it."""
    network = spacecraft(HEATER)
    shares = []
    for accuracy in (0.01, 0.001):
        options = Options(method=method, accuracy=accuracy)
        solution = solved_transient(network, 3 * PERIOD, options, start=uniform(network, 290.0))
        shares.append(account(network, solution).share)
    assert shares[0] <= 1e-3
    assert shares[1] <= max(shares[0] / 5.0, 1e-6)


def test_a_repeating_orbit_is_accounted_for_over_its_window() -> None:
    network = spacecraft(HEATER)
    solution = solved_cyclic(network)
    found = account(network, solution)
    assert found.tolerance == 1e-3
    computer = found.by_origin()["loads.computer"]
    assert computer == pytest.approx(30.0 * solution.span)
