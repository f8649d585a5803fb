"""Louvers: closed, open and between, at rest and over time, and stuck."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.model.small import SMALL, read
from tests.small_models import model_of, solved
from thermnet.account import account
from thermnet.errors import InputError
from thermnet.physics.constants import STEFAN_BOLTZMANN, ZERO_CELSIUS
from thermnet.results import Result
from thermnet.studies.failures import failures

LOUVERED = """
thermnet: 1
temperatures: degC
nodes:
  radiator: {capacity: 2000 J/K, initial: 10}
boundaries:
  space: {temperature: 3 K}
louvers:
  louver:
    node: radiator
    area: 0.2 m2
    emittance_closed: 0.14
    emittance_open: 0.7
    closed_below: 10
    open_above: 24
loads:
  radiator: {node: radiator, heat: 30 W}
cases:
  case: {solve: steady}
"""
AREA = 0.2  # m2


def at(result: Result, node: str = "radiator") -> float:
    """Last temperature [K] of a node."""
    return float(result.of(node)[-1])


def given_off(kelvin: float) -> float:
    """Heat that it gives off, by hand [W]."""
    celsius = kelvin - ZERO_CELSIUS
    emittance = float(np.interp(celsius, [10.0, 24.0], [0.14, 0.7]))
    return emittance * STEFAN_BOLTZMANN * AREA * (kelvin**4 - 3.0**4)


@pytest.mark.parametrize("heat", [2.0, 10.0, 12.0, 30.0, 50.0, 61.0, 63.0, 120.0])
def test_a_radiator_stands_where_its_blades_let_its_heat_out(heat: float) -> None:
    """Derived: e(T) sigma A (T^4 - Ts^4) = Q, e straight between two temperatures, bracketed."""
    expected = brentq(lambda t: given_off(t) - heat, 50.0, 600.0, xtol=1e-10)
    found = at(solved(LOUVERED, changes={"loads.radiator.heat": heat}))
    assert found == pytest.approx(expected, abs=1e-5)


def test_louvers_hold_a_radiator_that_a_bare_one_would_let_swing() -> None:
    """From 12 to 60 W the blades hold it within their 14 K; bare at 0.7 it swings by 5^(1/4)."""
    low, high = (
        at(solved(LOUVERED, changes={"loads.radiator.heat": heat})) for heat in (12.0, 60.0)
    )
    bare = [
        at(solved(LOUVERED, changes={"loads.radiator.heat": heat, "louvers.louver.stuck": "open"}))
        for heat in (12.0, 60.0)
    ]
    assert 0.0 < high - low < 14.0
    assert bare[1] / bare[0] == pytest.approx(5.0**0.25, rel=1e-6)


@pytest.mark.parametrize(("stuck", "emittance"), [("closed", 0.14), ("open", 0.7)])
def test_stuck_louvers_emit_as_they_stand_whatever_the_temperature(
    stuck: str, emittance: float
) -> None:
    """Derived: T^4 = Q / (e sigma A) + Ts^4."""
    found = at(solved(LOUVERED, changes={"louvers.louver.stuck": stuck}))
    fourth = 30.0 / (emittance * STEFAN_BOLTZMANN * AREA) + 3.0**4
    assert found == pytest.approx(fourth**0.25, abs=1e-5)


def test_louvers_stuck_open_are_one_failure_among_others() -> None:
    text = LOUVERED + "components:\n  radiator: {at: radiator, operating: [-20, 40]}\n"
    text += "failures:\n  open: {set: {louvers.louver.stuck: open}}\n"
    text += "  closed: {set: {louvers.louver.stuck: closed}}\n"
    rows = {row.failure: row for row in failures(model_of(text))}
    assert rows["nothing failed"].holds
    assert rows["open"].newly == rows["closed"].newly == ("radiator",)


def test_the_view_and_the_sink_count_for_louvers() -> None:
    """Derived: half the view to a sink at 200 K doubles T^4 - Ts^4, blades open."""
    text = LOUVERED.replace("node: radiator\n", "node: radiator\n    to: deck\n    view: 0.5\n", 1)
    text = text.replace("boundaries:", "boundaries:\n  deck: {temperature: 200 K}")
    text = text.replace("  space: {temperature: 3 K}\n", "")
    found = at(solved(text, changes={"louvers.louver.stuck": "open"}))
    fourth = 30.0 / (0.7 * 0.5 * STEFAN_BOLTZMANN * AREA) + 200.0**4
    assert found == pytest.approx(fourth**0.25, abs=1e-5)


def test_blades_follow_another_node_where_their_sensor_is() -> None:
    """Derived: a unit held at 17 degC opens them half: e = 0.42 at whatever the radiator has."""
    text = LOUVERED.replace("node: radiator\n", "node: radiator\n    sensor: unit\n", 1)
    text = text.replace("boundaries:", "boundaries:\n  unit: {temperature: 17}")
    fourth = 30.0 / (0.42 * STEFAN_BOLTZMANN * AREA) + 3.0**4
    assert at(solved(text)) == pytest.approx(fourth**0.25, abs=1e-5)


def test_closed_louvers_cool_down_by_the_law_of_a_constant_emittance() -> None:
    """Derived, check value 10.01: t = C / (3 k) (T^-3 - T0^-3), k = e sigma A, sink at 0 K."""
    text = LOUVERED.replace("temperature: 3 K", "temperature: 0.001 K").replace("30 W", "0 W")
    start = 10.0 + ZERO_CELSIUS  # closed from here on down
    k = 0.14 * STEFAN_BOLTZMANN * AREA
    duration = 2000.0 / (3.0 * k) * (250.0**-3 - start**-3)
    case = f"{{solve: transient, duration: {duration!r} s, initial: given}}"
    assert at(solved(text.replace("{solve: steady}", case))) == pytest.approx(250.0, abs=0.005)


def test_louvers_stand_in_the_account_by_their_own_path() -> None:
    result = solved(LOUVERED)
    carried = account(result.network, result.solution).by_origin()["louvers.louver"]
    assert abs(carried) == pytest.approx(30.0, rel=1e-6)


@pytest.mark.parametrize(
    ("change", "path", "words"),
    [
        (("open: 0.7", "open: 0.1"), "emittance_open", "above 'emittance_closed'"),
        (("open: 0.7", "open: 1.2"), "emittance_open", "at most 1"),
        (("open_above: 24", "open_above: 10"), "open_above", "above 'closed_below'"),
        (("stuck: no", "stuck: half"), "stuck", "'half'"),
        (("to: wall", "to: box"), "to", "to itself"),
        (("to: wall", "to: spce"), "to", "did you mean 'space'"),
        (("area: 1 m2", "area: 0 m2"), "area", "above 0"),
    ],
)
def test_louvers_that_cannot_be_are_told_where_they_stand(
    change: tuple[str, str], path: str, words: str
) -> None:
    sound = (
        "{node: box, to: wall, area: 1 m2, emittance_closed: 0.14, emittance_open: 0.7, "
        "closed_below: 10, open_above: 24, stuck: no}"
    )
    read(SMALL.replace("cases:", f"louvers:\n  louver: {sound}\ncases:"))  # nothing is wrong
    broken = sound.replace(*change)
    with pytest.raises(InputError) as caught:
        read(SMALL.replace("cases:", f"louvers:\n  louver: {broken}\ncases:"))
    (problem,) = caught.value.problems
    assert problem.path == f"louvers.louver.{path}"
    assert words in problem.message
    assert problem.place is not None
