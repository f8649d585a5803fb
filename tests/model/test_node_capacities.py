"""Heat capacities by material, over temperature, and with something that melts."""

from __future__ import annotations

import numpy as np
import pytest

from tests.small_models import model_of, solved
from thermnet.errors import InputError
from thermnet.model.kinds.kind import Seen, Surroundings
from thermnet.model.kinds.material import material
from thermnet.model.kinds.node import Node, doubts, expand, melted
from thermnet.model.shelf import Shelf
from thermnet.network.parts import NodePart
from thermnet.results import solve

MODEL = """
thermnet: 1
temperatures: K
nodes: {block: {NODE, initial: START}}
boundaries: {sink: {temperature: 20}}
links: {block: {from: block, to: sink, conductance: 0.1 W/K}}
cases: {case: {solve: transient, duration: 2 h, initial: given}}
"""
ALUMINIUM = "material: aluminium 6061-T6, mass: 1 kg"

AROUND = Surroundings(
    histories={}, means={}, bus_voltage=None, shelf=Shelf(material=lambda name: material(name, {}))
)


def part(**keys: object) -> NodePart:
    (found,) = expand("block", Node.model_validate(keys), "nodes.block", AROUND)
    assert isinstance(found, NodePart)
    return found


def last(text: str) -> float:
    result = solved(text)
    return float(result.solution.temperature[-1][result.network.index("block")])


def test_capacity_by_mass_adds_to_the_stated_one() -> None:
    assert part(material="copper", mass=2.0).capacity == pytest.approx(770.0)
    assert part(material="copper", mass=2.0, capacity=30.0).capacity == pytest.approx(800.0)


def test_capacity_by_volume_takes_the_density() -> None:
    found = part(material="copper", volume=1e-3).capacity
    assert found == pytest.approx(8933.0 * 1e-3 * 385.0)


def test_cooling_of_a_block_takes_the_integral_of_its_specific_heat() -> None:
    # derived: dt = m c(T) dT / (G (T - T sink)), by quadrature
    curve = material("aluminium 6061-T6", {}).specific_heat_curve
    assert curve is not None
    end = last(MODEL.replace("NODE", f"{ALUMINIUM}, by_temperature: true").replace("START", "290"))
    assert end < 150.0

    at = np.linspace(end, 290.0, 20_001)
    slowness = curve.value(at) / (0.1 * (at - 20.0))
    taken = float(((slowness[1:] + slowness[:-1]) / 2.0 * np.diff(at)).sum())
    assert taken == pytest.approx(2 * 3600.0, rel=1e-3)


def test_a_specific_heat_taken_near_300_kelvin_cools_too_slowly() -> None:
    constant = last(MODEL.replace("NODE", ALUMINIUM).replace("START", "290"))
    followed = last(
        MODEL.replace("NODE", f"{ALUMINIUM}, by_temperature: true").replace("START", "290")
    )
    assert constant > followed + 10.0


def test_a_change_of_mass_in_a_case_changes_the_heat_content() -> None:
    text = MODEL.replace("NODE", f"{ALUMINIUM}, by_temperature: true").replace("START", "290")
    doubled = solved(text, changes={"nodes.block.mass": 2.0})
    end = float(doubled.solution.temperature[-1][doubled.network.index("block")])
    assert end > last(text) + 20.0


STORE = "capacity: 1 J/K, melting: {material: n-octadecane, mass: 0.5 kg}"
COOLED = MODEL.replace("NODE", STORE).replace("{temperature: 20}", "{temperature: 251.3}")


def reached(text: str, level: float, duration: str) -> float:
    """The instant [s] at which the block falls or rises to a temperature."""
    result = solved(text.replace("2 h", duration))
    record, at = result.solution.record, result.network.index("block")
    values = record.temperature[:, at]
    order = np.argsort(values)
    return float(np.interp(level, values[order], record.time[order]))


def test_freezing_takes_the_latent_heat_over_the_power() -> None:
    # derived: 0.5 kg of 243 kJ/kg by 0.1 W/K over 50 K
    text = COOLED.replace("START", "301.4")
    taken = reached(text, 301.2, "8 h")
    assert taken == pytest.approx(0.5 * 243e3 / (0.1 * 50.0), rel=5e-3)


def test_melting_takes_as_long_as_freezing() -> None:
    text = COOLED.replace("START", "301.2").replace("251.3", "351.3")
    assert reached(text, 301.4, "8 h") == pytest.approx(0.5 * 243e3 / 5.0, rel=5e-3)


def test_a_store_melts_wholly_and_warms_up_by_the_heat_that_is_left() -> None:
    # derived: the heat taken up is the sensible heat of solid and liquid and the latent one
    content = part(melting={"material": "n-octadecane", "mass": 0.5}).content
    assert content is not None
    heat = np.diff(content.value(np.array([291.3, 311.3])))
    assert heat == pytest.approx(0.5 * (243e3 + 10.0 * 1950.0 + 10.0 * 2250.0))


def test_a_steady_state_knows_nothing_of_melting() -> None:
    steady = "cases: {case: {solve: steady}}"
    load = "loads: {block: {node: block, heat: 4.9995 W}}\n"
    with_store = COOLED.replace("START", "301.3")
    head = with_store[: with_store.index("cases:")]
    assert last(head + load + steady) == pytest.approx(301.295, abs=1e-4)


def test_the_share_that_is_melted_follows_the_temperature() -> None:
    node = Node.model_validate({"melting": {"material": "n-octadecane", "mass": 0.5, "over": 1.0}})
    shares = [melted(node, AROUND, at) for at in (300.0, 301.05, 301.3, 302.0)]
    assert shares == pytest.approx([0.0, 0.25, 0.5, 1.0])
    assert melted(Node.model_validate({"capacity": 1.0}), AROUND, 300.0) == 0.0


def test_numbers_beside_a_material_that_melts_overrule_it() -> None:
    own = {"material": "n-octadecane", "mass": 1.0, "latent_heat": 1e5}
    content = part(melting=own).content
    assert content is not None
    heat = np.diff(content.value(np.array([301.2, 301.4])))
    assert heat == pytest.approx(1e5 + 0.1 * (1950.0 + 2250.0))


def doubted(lowest: float, highest: float, **keys: object) -> list[str]:
    node = Node.model_validate(keys)
    seen = Seen(lowest={"block": lowest}, highest={"block": highest}, most={})
    return [message for _, message in doubts("block", node, "nodes.block", AROUND, seen)]


def test_a_constant_specific_heat_far_from_300_kelvin_is_doubted() -> None:
    (message,) = doubted(100.0, 300.0, material="aluminium 6061-T6", mass=1.0)
    # derived: 492.2 J/kg/K at 100 K (second-hand) against 953.9 near 300 K
    assert "differs by -48 %" in message
    assert "by_temperature: true" in message
    assert doubted(250.0, 300.0, material="aluminium 6061-T6", mass=1.0) == []


def test_temperatures_beyond_the_specific_heat_are_doubted() -> None:
    (message,) = doubted(250.0, 350.0, material="aluminium 6061-T6", mass=1.0, by_temperature=True)
    assert "known from 4 to 300 K, and 250.0 to 350.0 K were met" in message


def test_a_material_that_melts_unseen_is_doubted() -> None:
    (message,) = doubted(290.0, 310.0, material="n-octadecane", mass=1.0)
    assert "melts at 301.3 K" in message


def test_a_stated_capacity_is_never_doubted() -> None:
    assert doubted(4.0, 900.0, capacity=1.0) == []


@pytest.mark.parametrize(
    ("node", "message"),
    [
        ("material: gold, mass: 1 kg, by_temperature: true", "not known over temperature"),
        ("material: 'circuit board laminate with copper, in its plane', volume: 1 l", "density"),
        ("material: lead, mass: 1 kg, melting: {material: lead, mass: 1 kg}", "`melts_at`"),
    ],
)
def test_what_is_not_known_of_a_material_is_told_at_its_node(node: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        solve(model_of(MODEL.replace("NODE", node).replace("START", "290")), "case")
    (problem,) = caught.value.problems
    assert problem.path == "nodes.block"
    assert message in problem.message
