"""Heat switches: open, closed and between, at rest and over time, and stuck."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from tests.model.small import SMALL, read
from tests.small_models import model_of, solved
from thermnet.account import account
from thermnet.errors import InputError
from thermnet.model.kinds.heat_switch import KIND, HeatSwitch
from thermnet.physics.constants import ZERO_CELSIUS
from thermnet.results import Result
from thermnet.studies.failures import failures

COOLED = """
thermnet: 1
temperatures: degC
nodes:
  battery: {capacity: 1500 J/K, initial: 10}
boundaries:
  radiator: {temperature: -30}
heat_switches:
  switch: {from: battery, to: radiator, on: 1 W/K, off: 0.02 W/K, closes_above: 10, over: 4 K}
loads:
  battery: {node: battery, heat: 20 W}
cases:
  case: {solve: steady}
"""
"""A battery that a switch cools: open at 8 degC and below, closed at 12 degC and above."""


def at(result: Result, node: str = "battery") -> float:
    """Last temperature [degC] of a node."""
    return float(result.of(node)[-1]) - ZERO_CELSIUS


def conductance(celsius: float) -> float:
    """The same by hand [W/K]."""
    return float(np.interp(celsius, [8.0, 12.0], [0.02, 1.0]))


@pytest.mark.parametrize("heat", [0.2, 0.7, 2.0, 20.0, 30.0, 41.0, 42.0, 60.0])
def test_a_battery_stands_where_the_switch_lets_its_heat_through(heat: float) -> None:
    """Derived: G(T) (T + 30) = Q with G straight between 8 and 12 degC, by a bracketing solver."""
    expected = brentq(lambda t: conductance(t) * (t + 30.0) - heat, -30.0, 90.0, xtol=1e-10)
    found = at(solved(COOLED, changes={"loads.battery.heat": heat}))
    assert found == pytest.approx(expected, abs=1e-5)


def test_a_switch_holds_what_a_plain_strap_would_let_swing() -> None:
    """From 1 to 40 W a strap of 1 W/K would swing by 39 K; the switch by less than its width."""
    low, high = (at(solved(COOLED, changes={"loads.battery.heat": heat})) for heat in (1.0, 40.0))
    assert 8.0 < low < high < 12.0


def test_a_switch_that_closes_in_the_cold_warms_what_is_cold() -> None:
    """Derived: the other way round, a tank at a warm deck, with a leak to the cold of 0.5 W/K.

    G(T) (30 - T) = 0.5 (T + 50) with G from 2 W/K at 4 degC to 0.05 W/K at 6 degC.
    """
    text = """
thermnet: 1
temperatures: degC
nodes:
  tank: {capacity: 1500 J/K}
boundaries:
  deck: {temperature: 30}
  outside: {temperature: -50}
heat_switches:
  switch: {from: tank, to: deck, on: 2 W/K, off: 0.05 W/K, closes_below: 5, over: 2 K}
links:
  leak: {from: tank, to: outside, conductance: 0.5 W/K}
cases:
  case: {solve: steady}
"""

    def lost(t: float) -> float:
        return float(np.interp(t, [4.0, 6.0], [2.0, 0.05])) * (30.0 - t) - 0.5 * (t + 50.0)

    assert at(solved(text), "tank") == pytest.approx(brentq(lost, -50.0, 30.0), abs=1e-5)
    assert 4.0 < at(solved(text), "tank") < 6.0


@pytest.mark.parametrize(
    ("celsius", "expected"),
    [(-80.0, 0.02), (8.0, 0.02), (9.0, 0.265), (10.0, 0.51), (12.0, 1.0), (80.0, 1.0)],
)
def test_a_switch_goes_straight_from_off_to_on_about_its_temperature(
    celsius: float, expected: float
) -> None:
    entry = model_of(COOLED).sections["heat_switches"]["switch"]
    assert isinstance(entry, HeatSwitch)
    share = entry.curve.value(np.array([celsius + ZERO_CELSIUS]))[0]
    assert entry.on * share == pytest.approx(expected, rel=1e-12)


def test_a_cooling_battery_follows_its_switch_as_it_opens() -> None:
    """Against an independent integration of C dT/dt = -G(T) (T + 30), from 15 degC."""
    text = COOLED.replace("initial: 10", "initial: 15").replace("heat: 20 W", "heat: 0 W")
    text = text.replace("{solve: steady}", "{solve: transient, duration: 2 h, initial: given}")
    independent = solve_ivp(
        lambda _, y: [-conductance(y[0]) * (y[0] + 30.0) / 1500.0],
        (0.0, 7200.0),
        [15.0],
        method="LSODA",
        rtol=1e-10,
        atol=1e-10,
        max_step=5.0,
    )
    assert at(solved(text)) == pytest.approx(float(independent.y[0, -1]), abs=0.01)


def test_another_node_may_move_a_switch() -> None:
    """Derived: a probe of imposed 20 degC keeps it closed: 20 W through 1 W/K above -30 degC."""
    text = COOLED.replace("over: 4 K", "over: 4 K, sensor: probe")
    text = text.replace("boundaries:", "boundaries:\n  probe: {temperature: 20}")
    assert at(solved(text)) == pytest.approx(-10.0, abs=1e-6)


@pytest.mark.parametrize(("stuck", "expected"), [("on", -30.0 + 20.0), ("off", -30.0 + 1000.0)])
def test_a_stuck_switch_conducts_as_it_stands_whatever_the_temperature(
    stuck: str, expected: float
) -> None:
    """Derived: 20 W through 1 W/K or through 0.02 W/K."""
    found = at(solved(COOLED, changes={"heat_switches.switch.stuck": stuck}))
    assert found == pytest.approx(expected, abs=1e-4)


def test_a_switch_stuck_open_is_one_failure_among_others() -> None:
    text = COOLED + "components:\n  battery: {at: battery, operating: [-20, 40]}\n"
    text += "failures:\n  open: {set: {heat_switches.switch.stuck: off}}\n"
    text += "  closed: {set: {heat_switches.switch.stuck: on}}\n"
    rows = {row.failure: row for row in failures(model_of(text))}
    assert rows["nothing failed"].holds
    assert rows["open"].newly == ("battery",)
    assert rows["closed"].holds
    worst = rows["open"].worst
    assert worst is not None
    assert worst.calculated - ZERO_CELSIUS == pytest.approx(970.0, abs=0.01)


def test_a_switch_stands_in_the_account_by_its_own_path() -> None:
    result = solved(COOLED)
    carried = account(result.network, result.solution).by_origin()["heat_switches.switch"]
    assert abs(carried) == pytest.approx(20.0, rel=1e-6)


def test_heat_flows_from_warm_to_cold_whatever_the_switch_does() -> None:
    """The second law: a battery colder than the radiator takes heat through it, open or closed."""
    text = COOLED.replace("temperature: -30", "temperature: 30").replace("heat: 20 W", "heat: 0 W")
    text = text.replace("{solve: steady}", "{solve: transient, duration: 4 h, initial: given}")
    history = solved(text).of("battery") - ZERO_CELSIUS
    assert (np.diff(history) >= -1e-9).all()
    assert 10.0 <= history.min() <= history.max() <= 30.0 + 1e-6


def test_an_open_switch_without_conductance_lets_nothing_through() -> None:
    """Derived: below 8 degC the battery keeps its temperature for as long as one likes."""
    text = COOLED.replace("off: 0.02", "off: 0").replace("heat: 20 W", "heat: 0 W")
    text = text.replace("initial: 10", "initial: 5")
    text = text.replace("{solve: steady}", "{solve: transient, duration: 10 h, initial: given}")
    assert at(solved(text)) == pytest.approx(5.0, abs=1e-6)


def test_a_switch_makes_no_node() -> None:
    entry = model_of(COOLED).sections["heat_switches"]["switch"]
    assert KIND.makes("switch", entry) == ()


@pytest.mark.parametrize(
    ("keys", "path", "words"),
    [
        ("to: box, on: 1 W/K, off: 0 W/K, closes_above: 1, over: 1 K", "to", "to itself"),
        ("to: plate, on: 1 W/K, off: 1 W/K, closes_above: 1, over: 1 K", "off", "below 'on'"),
        ("to: plate, on: 1 W/K, off: 0 W/K, over: 1 K", "closes_above", "missing key"),
        (
            "to: plate, on: 1 W/K, off: 0 W/K, closes_above: 1, closes_below: 2, over: 1 K",
            "closes_below",
            "given beside 'closes_above'",
        ),
        ("to: plate, on: 1 W/K, off: 0 W/K, closes_above: 1, over: 0 K", "over", "above 0"),
        ("to: plate, on: 1 W/K, off: 0 W/K, closes_above: 1", "", "missing key 'over'"),
        (
            "to: plate, on: 1 W/K, off: 0 W/K, closes_above: 1, over: 1 K, sensor: bx",
            "sensor",
            "did you mean 'box'",
        ),
        (
            "to: plate, on: 1 W/K, off: 0 W/K, closes_above: 1, over: 1 K, stuck: open",
            "stuck",
            "'open'",
        ),
    ],
)
def test_a_switch_that_cannot_be_is_told_where_it_stands(keys: str, path: str, words: str) -> None:
    with pytest.raises(InputError) as caught:
        read(SMALL.replace("cases:", f"heat_switches:\n  switch: {{from: box, {keys}}}\ncases:"))
    (problem,) = caught.value.problems
    assert problem.path == f"heat_switches.switch.{path}".rstrip(".")
    assert words in problem.message
    assert problem.place is not None


def test_a_switch_that_cuts_a_node_off_at_first_is_closed_by_its_heat() -> None:
    """Derived: 20.4 W = 1 W/K x (T - 18) / 4 x (T + 30), at 19.6 degC.

    Open it carries nothing, so that the node has no temperature while it is cold.
    """
    text = """
thermnet: 1
temperatures: degC
uncertainty: {policy: none}
nodes: {box: {capacity: 500 J/K}}
boundaries: {sink: {temperature: -30}}
heat_switches: {own: {from: box, to: sink, on: 1 W/K, off: 0 W/K, closes_above: 20, over: 4 K}}
loads: {box: {node: box, heat: 20.4 W}}
cases: {case: {}}
"""
    result = solved(text)
    T = float(result.of("box")[0]) - ZERO_CELSIUS
    assert pytest.approx(20.4, rel=1e-9) == (T - 18.0) / 4.0 * (T + 30.0)
    assert 19.5 < T < 19.7
