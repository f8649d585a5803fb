"""Links and loads that follow the temperature of a node, against independent solutions."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from tests.model.small import SMALL, network, read
from tests.small_models import solved
from thermnet.account import account
from thermnet.errors import InputError
from thermnet.physics.constants import ZERO_CELSIUS
from thermnet.results import Result

LINKED = """
thermnet: 1
temperatures: degC
nodes:
  box: {capacity: 800 J/K, initial: 60}
boundaries:
  deck: {temperature: 0}
links:
  strap:
    from: box
    to: deck
    conductance: 2 W/K
    by_temperature: {node: box, temperature: [10, 30, 50], factor: [0.5, 1, 3]}
loads:
  box: {node: box, heat: 40 W}
cases:
  case: {solve: steady}
"""

LOADED = """
thermnet: 1
temperatures: degC
nodes:
  amplifier: {capacity: 800 J/K, initial: 0}
boundaries:
  deck: {temperature: 0}
links:
  feet: {from: amplifier, to: deck, conductance: 1 W/K}
loads:
  amplifier:
    node: amplifier
    heat: 30 W
    by_temperature: {node: amplifier, temperature: [0, 40], factor: [1, 1.4]}
cases:
  case: {solve: steady}
"""


def at(result: Result, node: str) -> float:
    """Last temperature [degC] of a node."""
    return float(result.of(node)[-1]) - ZERO_CELSIUS


def conductance(celsius: float) -> float:
    """That of the strap, by hand [W/K]."""
    return 2.0 * float(np.interp(celsius, [10.0, 30.0, 50.0], [0.5, 1.0, 3.0]))


@pytest.mark.parametrize("heat", [5.0, 10.0, 40.0, 60.0, 180.0, 300.0, 480.0])
def test_a_strap_conducts_by_the_temperature_of_the_node_that_it_names(heat: float) -> None:
    """Derived: G(T) T = Q above a deck at 0 degC, G straight between points, held outside."""
    expected = brentq(lambda t: conductance(t) * t - heat, 0.0, 500.0, xtol=1e-10)
    found = at(solved(LINKED, changes={"loads.box.heat": heat}), "box")
    assert found == pytest.approx(expected, abs=1e-5)


def test_a_cooling_box_follows_its_strap() -> None:
    """Against an independent integration of C dT/dt = -G(T) T from 60 degC."""
    text = LINKED.replace("heat: 40 W", "heat: 0 W")
    text = text.replace("{solve: steady}", "{solve: transient, duration: 30 min, initial: given}")
    independent = solve_ivp(
        lambda _, y: [-conductance(y[0]) * y[0] / 800.0],
        (0.0, 1800.0),
        [60.0],
        rtol=1e-10,
        atol=1e-10,
        max_step=2.0,
    )
    assert at(solved(text), "box") == pytest.approx(float(independent.y[0, -1]), abs=0.01)


def test_a_strap_may_follow_a_third_node() -> None:
    """Derived: a probe held at 40 degC doubles the 2 W/K, so 40 W make 10 K."""
    text = LINKED.replace("by_temperature: {node: box", "by_temperature: {node: probe").replace(
        "boundaries:", "boundaries:\n  probe: {temperature: 40}"
    )
    assert at(solved(text), "box") == pytest.approx(10.0, abs=1e-6)


def test_a_lost_strap_carries_nothing_whatever_it_follows() -> None:
    """Derived: 40 W through the other strap of 1 W/K."""
    text = LINKED.replace("loads:", "  spare: {from: box, to: deck, conductance: 1 W/K}\nloads:")
    result = solved(text, changes={"links.strap.lost": True})
    assert at(result, "box") == pytest.approx(40.0, abs=1e-6)
    assert account(result.network, result.solution).by_origin()["links.strap"] == 0.0


def test_the_points_of_a_factor_have_paths_of_their_own() -> None:
    """Derived: with factors of 1 throughout, 40 W through 2 W/K."""
    changes = {"links.strap.by_temperature.factor": (1.0, 1.0, 1.0)}
    assert at(solved(LINKED, changes=changes), "box") == pytest.approx(20.0, abs=1e-6)


def test_dissipation_that_rises_with_temperature_warms_its_unit_more() -> None:
    """Derived: T = 20 (1 + T / 100) W over 1 W/K, so T = 20 / 0.8; 30 W reach the held end."""
    assert at(solved(LOADED), "amplifier") == pytest.approx(30.0 * 1.4, abs=1e-5)
    cooler = at(solved(LOADED, changes={"loads.amplifier.heat": 20.0}), "amplifier")
    assert cooler == pytest.approx(20.0 / (1.0 - 0.2), abs=1e-5)


def test_dissipation_that_falls_with_temperature_holds_its_unit_back() -> None:
    """Derived: T = 30 (1 - T / 100), so T = 30 / 1.3."""
    text = LOADED.replace("factor: [1, 1.4]", "factor: [1, 0.6]")
    assert at(solved(text), "amplifier") == pytest.approx(30.0 / 1.3, abs=1e-5)


def test_a_load_follows_a_temperature_and_a_schedule_at_once() -> None:
    """Against an independent integration: 30 W (1 + T / 100), on for 600 s of 1200 s."""
    text = LOADED.replace("heat: 30 W", "heat: 30 W\n    schedule: half")
    text = text.replace(
        "cases:", "schedules:\n  half: {time: [0 s, 600 s], value: [1, 0], shape: steps}\ncases:"
    )
    text = text.replace("{solve: steady}", "{solve: transient, duration: 20 min, initial: given}")

    def warming(on: float, begin: float) -> float:
        run = solve_ivp(
            lambda _, y: [(on * 30.0 * (1.0 + y[0] / 100.0) - y[0]) / 800.0],
            (0.0, 600.0),
            [begin],
            rtol=1e-11,
            atol=1e-11,
        )
        return float(run.y[0, -1])

    assert at(solved(text), "amplifier") == pytest.approx(warming(0.0, warming(1.0, 0.0)), abs=0.01)


def test_the_account_counts_the_heat_that_a_load_gives() -> None:
    result = solved(LOADED)
    given = account(result.network, result.solution).by_origin()["loads.amplifier"]
    assert given == pytest.approx(42.0, rel=1e-6)


def test_a_link_says_whose_temperature_it_follows_and_a_load_follows_its_own_node() -> None:
    factor = "by_temperature: {temperature: [1, 2], factor: [1, 1]}"
    line = f"  more: {{from: box, to: plate, conductance: 1 W/K, {factor}}}\n"
    with pytest.raises(InputError, match="missing key 'node': whose temperature"):
        read(SMALL.replace("links:\n", f"links:\n{line}"))
    line = f"  more: {{node: box, heat: 1 W, {factor}}}\n"
    found = network("mean", SMALL.replace("loads:\n", f"loads:\n{line}"))
    (sensor,) = found.heats.sensor[found.heats.curve >= 0]
    assert found.names[sensor] == "box"


@pytest.mark.parametrize(
    ("factor", "path", "words"),
    [
        ("{node: box, temperature: [1], factor: [1]}", "temperature", "two or more"),
        ("{node: box, temperature: [1, 2], factor: [1]}", "factor", "one for each temperature: 2"),
        ("{node: box, temperature: [2, 1], factor: [1, 1]}", "temperature.1", "must increase"),
        ("{node: box, temperature: [1, 2], factor: [1, -1]}", "factor.1", "at least 0"),
        ("{node: bx, temperature: [1, 2], factor: [1, 1]}", "node", "did you mean 'box'"),
    ],
)
@pytest.mark.parametrize("section", ["links", "loads"])
def test_a_factor_that_makes_no_curve_is_told_where_it_stands(
    section: str, factor: str, path: str, words: str
) -> None:
    line = {
        "links": "  more: {from: box, to: plate, conductance: 1 W/K, by_temperature: FACTOR}\n",
        "loads": "  more: {node: box, heat: 1 W, by_temperature: FACTOR}\n",
    }[section].replace("FACTOR", factor)
    with pytest.raises(InputError) as caught:
        read(SMALL.replace(f"{section}:\n", f"{section}:\n{line}"))
    (problem,) = caught.value.problems
    assert problem.path == f"{section}.more.by_temperature.{path}".rstrip(".")
    assert words in problem.message
    assert problem.place is not None
