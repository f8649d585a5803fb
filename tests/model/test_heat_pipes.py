"""Heat pipes: one vapour for all nodes, a gas that shuts the condenser off, capability, failure."""

from __future__ import annotations

import numpy as np
import pytest

from tests.model.doubted import doubts_of
from tests.model.small import SMALL, read
from tests.small_models import model_of, solved
from thermnet.account import account
from thermnet.errors import InputError
from thermnet.model.paths import vary
from thermnet.network.network import flows
from thermnet.physics.constants import ZERO_CELSIUS
from thermnet.results import Result, solve
from thermnet.studies.failures import failures

PIPE = """
thermnet: 1
temperatures: degC
nodes:
  camera: {capacity: 2000 J/K, initial: 20}
  radio: {capacity: 1500 J/K, initial: 20}
  radiator: {capacity: 1000 J/K, initial: 0}
boundaries:
  sink: {temperature: -40}
heat_pipes:
  pipe: {at: {camera: 20 W/K, radio: 15 W/K, radiator: 10 W/K}}
links:
  radiator: {from: radiator, to: sink, conductance: 2 W/K}
  wall: {from: camera, to: radiator, conductance: 0.25 W/K}
loads:
  camera: {node: camera, heat: 30 W}
  radio: {node: radio, heat: 15 W}
cases:
  case: {solve: steady}
"""

VARIABLE = """
thermnet: 1
temperatures: degC
nodes:
  unit: {capacity: 2000 J/K, initial: 15}
  radiator: {capacity: 1000 J/K, initial: 0}
boundaries:
  sink: {temperature: -40}
heat_pipes:
  pipe:
    at: {unit: 20 W/K, radiator: 10 W/K}
    variable: {condenser: [radiator], sensor: unit, shut_below: 18, open_above: 22, shut: 0}
links:
  radiator: {from: radiator, to: sink, conductance: 2 W/K}
  feet: {from: unit, to: sink, conductance: 0.01 W/K}
loads:
  unit: {node: unit, heat: 20 W}
cases:
  case: {solve: steady}
"""


def steady(result: Result) -> dict[str, float]:
    """Steady temperatures [degC] by node."""
    values = result.solution.mean - ZERO_CELSIUS
    return dict(zip(result.network.names, values.tolist(), strict=True))


def without_wall(text: str = PIPE) -> str:
    """The model without its link beside the vapour."""
    return text.replace("  wall: {from: camera, to: radiator, conductance: 0.25 W/K}\n", "")


def test_heat_of_two_evaporators_meets_in_one_vapour_and_leaves_by_one_condenser() -> None:
    """Derived: 45 W through 2 W/K, then 10 W/K; each evaporator stands its own film above."""
    found = steady(solved(without_wall()))
    radiator = -40.0 + 45.0 / 2.0
    vapour = radiator + 45.0 / 10.0
    assert found["radiator"] == pytest.approx(radiator, abs=1e-6)
    assert found["pipe, vapour"] == pytest.approx(vapour, abs=1e-6)
    assert found["camera"] == pytest.approx(vapour + 30.0 / 20.0, abs=1e-6)
    assert found["radio"] == pytest.approx(vapour + 15.0 / 15.0, abs=1e-6)


def test_the_vapour_keeps_nothing_at_any_instant() -> None:
    """It has no mass: what enters leaves again, at every step of a transient as well."""
    text = PIPE.replace("{solve: steady}", "{solve: transient, duration: 20 min, initial: given}")
    result = solved(text)
    record = result.solution.record
    ours = [k for k, path in enumerate(result.network.origins) if path == "heat_pipes.pipe"]
    mine = np.isin(result.network.links.origin, ours)
    carried = flows(result.network, record.temperature, record.local_time)[:, : len(mine)][:, mine]
    assert len(record.time) > 10
    assert np.abs(carried).max() > 10.0
    assert carried.sum(axis=1) == pytest.approx(0.0, abs=1e-5)


def test_a_transient_with_a_pipe_ends_in_its_steady_state() -> None:
    text = PIPE.replace("{solve: steady}", "{solve: transient, duration: 40 h, initial: given}")
    at_rest, end = steady(solved(PIPE)), solved(text)
    for name in ("camera", "radio", "radiator", "pipe, vapour"):
        assert float(end.of(name)[-1]) - ZERO_CELSIUS == pytest.approx(at_rest[name], abs=0.02)


def test_a_lost_pipe_carries_nothing_and_leaves_heat_to_the_wall() -> None:
    """Derived: the camera's 30 W through the wall of 0.25 W/K, above the radiator at 30 W / 2 W/K.

    The radio, which had nothing but the pipe, stands without heat.
    """
    text = PIPE.replace("heat: 15 W", "heat: 0 W").replace(
        "  wall:", "  radio feet: {from: radio, to: sink, conductance: 0.1 W/K}\n  wall:"
    )
    result = solved(text, changes={"heat_pipes.pipe.lost": True})
    found = steady(result)
    assert found["radiator"] == pytest.approx(-25.0, abs=1e-6)
    assert found["camera"] == pytest.approx(-25.0 + 30.0 / 0.25, abs=1e-5)
    assert found["radio"] == pytest.approx(-40.0, abs=1e-6)
    assert account(result.network, result.solution).by_origin()["heat_pipes.pipe"] == pytest.approx(
        0.0, abs=1e-8
    )


def test_a_lost_pipe_of_variable_conductance_has_a_vapour_with_a_temperature() -> None:
    """The vapour keeps the link that no gas shuts off, whatever stands first in the file."""
    text = VARIABLE.replace("{unit: 20 W/K, radiator: 10 W/K}", "{radiator: 10 W/K, unit: 20 W/K}")
    found = steady(solved(text, changes={"heat_pipes.pipe.lost": True}))
    assert found["radiator"] == pytest.approx(-40.0, abs=1e-6)
    assert found["unit"] == pytest.approx(-40.0 + 20.0 / 0.01, rel=1e-6)
    assert found["pipe, vapour"] == pytest.approx(found["unit"], abs=1e-6)


@pytest.mark.parametrize("heat", [20.0, 40.0, 60.0, 80.0])
def test_a_variable_pipe_holds_its_evaporator_in_the_band_over_four_to_one_in_heat(
    heat: float,
) -> None:
    """Derived, with no feet: radiator -40 + Q/2, vapour Q/20 below the unit at T, and
    10 (T - 18)/4 (T - Q/20 - radiator) = Q, a quadratic equation in T.
    """
    text = VARIABLE.replace("shut: 0}", "shut: 0.0001}").replace("0.01 W/K", "0.000001 W/K")
    found = steady(solved(text, changes={"loads.unit.heat": heat}))
    radiator = -40.0 + heat / 2.0
    roots = np.roots([2.5, -2.5 * (18.0 + heat / 20.0 + radiator),
                      2.5 * 18.0 * (heat / 20.0 + radiator) - heat])  # fmt: skip
    warm = float(roots.real.max())
    assert found["unit"] == pytest.approx(warm, abs=2e-3)
    assert found["radiator"] == pytest.approx(radiator, abs=1e-3)
    assert 18.0 < found["unit"] < 22.0


def test_a_constant_pipe_lets_its_evaporator_follow_the_heat() -> None:
    """The counter-check: without gas, 60 W more warm the unit by 60 (1/20 + 1/10 + 1/2) K."""
    gas = "    variable: {condenser: [radiator], sensor: unit, shut_below: 18, open_above: 22, "
    text = VARIABLE.replace(gas + "shut: 0}\n", "").replace("0.01 W/K", "0.000001 W/K")
    cold, warm = (
        steady(solved(text, changes={"loads.unit.heat": q}))["unit"] for q in (20.0, 80.0)
    )
    assert warm - cold == pytest.approx(60.0 * 0.65, abs=1e-3)


def test_a_shut_condenser_lets_a_unit_cool_through_its_feet_alone() -> None:
    """Derived: below the band nothing passes; exp(-G t / C) with the feet of 0.5 W/K."""
    text = VARIABLE.replace("conductance: 0.01 W/K", "conductance: 0.5 W/K")
    text = text.replace("heat: 20 W", "heat: 0 W")
    case = "{solve: transient, duration: 2000 s, initial: given}"
    found = solved(text.replace("{solve: steady}", case))
    end = float(found.of("unit")[-1]) - ZERO_CELSIUS
    assert end == pytest.approx(-40.0 + 55.0 * np.exp(-0.5 * 2000.0 / 2000.0), abs=0.01)


def test_a_unit_that_cools_through_the_band_keeps_heat_that_a_constant_pipe_would_lose() -> None:
    case = "{solve: transient, duration: 1 h, initial: given}"
    text = VARIABLE.replace("{solve: steady}", case).replace("initial: 15", "initial: 25")
    with_gas = solved(text.replace("heat: 20 W", "heat: 0 W"))
    gas = "    variable: {condenser: [radiator], sensor: unit, shut_below: 18, open_above: 22, "
    without = solved(text.replace("heat: 20 W", "heat: 0 W").replace(gas + "shut: 0}\n", ""))
    assert 17.0 < float(with_gas.of("unit")[-1]) - ZERO_CELSIUS < 19.0
    assert float(without.of("unit")[-1]) - ZERO_CELSIUS < -20.0


def test_a_pipe_that_carries_more_than_it_can_is_told_so() -> None:
    """The heat that enters the vapour, 45 W, counts once, though two links bring it."""
    result = solved(without_wall(), changes={"heat_pipes.pipe.most": 44.0})
    ((path, message),) = doubts_of(result, "heat_pipes.pipe")
    assert path == "heat_pipes.pipe.most"
    assert "carries up to 45 W, but can carry 44 W" in message


def test_a_pipe_within_its_capability_is_not_doubted() -> None:
    result = solved(without_wall(), changes={"heat_pipes.pipe.most": 46.0})
    assert doubts_of(result, "heat_pipes.pipe") == []


def test_a_transport_capability_is_heat_times_effective_length() -> None:
    """Derived: 20 W m over 0.5 m are 40 W, less than the 45 W carried."""
    text = without_wall().replace(
        "radiator: 10 W/K}}", "radiator: 10 W/K}, most_transport: 20 W*m, length: 500 mm}"
    )
    ((path, message),) = doubts_of(solved(text), "heat_pipes.pipe")
    assert path == "heat_pipes.pipe.most_transport"
    assert "can carry 40 W over 0.5 m" in message
    assert doubts_of(solved(text.replace("20 W*m", "25 W*m")), "heat_pipes.pipe") == []


def test_a_dry_pipe_is_one_failure_among_others() -> None:
    """Its camera has 30 W / 0.25 W/K to climb above the radiator."""
    text = PIPE.replace(
        "  wall:", "  radio feet: {from: radio, to: sink, conductance: 1 W/K}\n  wall:"
    )
    text += "failures:\n  dry: {set: {heat_pipes.pipe.lost: true}}\n"
    text += "components:\n  camera: {at: camera, operating: [-60, 60]}\n"
    rows = {row.failure: row for row in failures(model_of(text))}
    assert rows["nothing failed"].holds
    assert rows["dry"].newly == ("camera",)
    worst = rows["dry"].worst
    assert worst is not None
    assert worst.calculated - ZERO_CELSIUS == pytest.approx(-25.0 + 30.0 / 0.25, abs=1e-4)


def test_two_pipes_of_one_vapour_name_clash_with_a_node_of_that_name() -> None:
    text = PIPE.replace("  radio: {cap", "  'pipe, vapour': {capacity: 1 J/K}\n  radio: {cap")
    with pytest.raises(InputError, match="makes a node 'pipe, vapour', but there is one"):
        model_of(text)


def test_a_lost_pipe_that_was_the_only_way_out_is_an_error() -> None:
    with pytest.raises(InputError, match="no route to a boundary node for the heat on 'camera'"):
        solve(vary(model_of(without_wall()), {"heat_pipes.pipe.lost": True}), "case")


@pytest.mark.parametrize(
    ("pipe", "path", "words"),
    [
        ("{at: {box: 1 W/K}}", "at", "at least two nodes"),
        ("{at: {box: 1 W/K, plat: 2 W/K}}", "at", "'plat'"),
        ("{at: {box: 1 W/K, plate: 0 W/K}}", "at.plate", "above 0"),
        ("{at: {box: 1 W/K, plate: 1 W/K}, length: 1 m}", "length", "goes with 'most_transport'"),
        (
            "{at: {box: 1 W/K, plate: 1 W/K}, most: 9 W, most_transport: 9 W*m, length: 1 m}",
            "most_transport",
            "given beside 'most'",
        ),
        (
            (
                "{at: {box: 1 W/K, plate: 1 W/K}, variable: {condenser: [box, plate], sensor: box, "
                "shut_below: 1, open_above: 2}}"
            ),
            "variable.condenser",
            "names every node",
        ),
        (
            (
                "{at: {box: 1 W/K, plate: 1 W/K}, variable: {condenser: [wall], sensor: box, "
                "shut_below: 1, open_above: 2}}"
            ),
            "variable.condenser.0",
            "'wall' is no node of 'at'",
        ),
        (
            (
                "{at: {box: 1 W/K, plate: 1 W/K}, variable: {condenser: [plate], sensor: box, "
                "shut_below: 2, open_above: 2}}"
            ),
            "variable.open_above",
            "above 'shut_below'",
        ),
    ],
)
def test_a_pipe_that_cannot_be_is_told_where_it_stands(pipe: str, path: str, words: str) -> None:
    with pytest.raises(InputError) as caught:
        read(SMALL.replace("cases:", f"heat_pipes:\n  pipe: {pipe}\ncases:"))
    (problem,) = caught.value.problems
    assert problem.path == f"heat_pipes.pipe.{path}"
    assert words in problem.message
    assert problem.place is not None
