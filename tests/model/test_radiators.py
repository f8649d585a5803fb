"""Radiators in a model: all that surfaces are, and fins."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from tests.model.doubted import doubts_of
from tests.small_models import model_of, solved
from thermnet.account import account
from thermnet.errors import InputError
from thermnet.heating import surface_heat
from thermnet.model.assemble import assemble
from thermnet.model.paths import vary
from thermnet.model.read import load
from thermnet.model.surfaces import path_of, surfaces_of
from thermnet.model.usable import sinks
from thermnet.network.network import Network, sources
from thermnet.physics.constants import STEFAN_BOLTZMANN, ZERO_CELSIUS

FLYING = """
thermnet: 1
temperatures: degC
nodes:
  panel: {capacity: 2000 J/K, initial: 10}
  mast: {capacity: 300 J/K, initial: 0}
boundaries:
  space: {temperature: 3 K}
loads:
  panel: {node: panel, heat: 40 W}
SECTION:
  north:
    node: panel
    area: 0.2 m2
    finish: white paint
    normal: -y
    sees: {space: 0.9, mast: 0.1}
pointings:
  mapping: {axis: +z, to: nadir, second_axis: +x, second_to: velocity}
orbits:
  low: {body: Earth, altitude: 600 km, beta: 30 deg}
environments:
  warm: {albedo: 0.3, infrared: 240 W/m2, season: hot}
plumes:
  thruster: {schedule: burn, surfaces: {north: 200 W/m2}}
schedules:
  burn: {time: [0 s, 100 s, 100 s, 5000 s], value: [1, 1, 0, 0]}
cases:
  case:
    {solve: transient, duration: 5000 s, orbit: low, environment: warm, pointing: mapping,
     life: end of life, initial: given}
"""
RADIATOR = FLYING.replace("SECTION", "radiators")

COOLING = """
thermnet: 1
temperatures: degC
nodes:
  panel: {capacity: 2000 J/K}
boundaries:
  space: {temperature: SINK K}
loads:
  panel: {node: panel, heat: 40 W}
radiators:
  north: {node: panel, area: 0.2 m2, emittance: 0.9, MORE}
cases:
  case: {solve: steady}
"""
FIN = "fin: {length: 0.2 m, thickness: 1 mm, conductivity: 150 W/m/K, at: 10}"


def cooling(more: str, sink: float = 0.001) -> str:
    return COOLING.replace("MORE", more).replace("SINK", str(sink))


def arrays(network: Network) -> list[np.ndarray]:
    links, heats, histories = network.links, network.heats, network.histories
    return [links.a, links.b, links.strength, heats.node, heats.amplitude, histories.start]


def test_a_radiator_without_a_fin_is_a_surface() -> None:
    """The same network, number for number: orbit, finish, node that it sees, plume."""
    one = assemble(model_of(RADIATOR), "case")
    other = assemble(model_of(FLYING.replace("SECTION", "surfaces")), "case")
    for found, expected in zip(arrays(one), arrays(other), strict=True):
        np.testing.assert_array_equal(found, expected)
    assert len(one.heats.node) >= 5  # a load, three causes of the orbit, the plume


def test_a_radiator_has_its_own_path_in_the_account() -> None:
    result = solved(RADIATOR)
    paths = account(result.network, result.solution).by_origin()
    for cause in ("solar", "albedo", "planet_infrared"):
        assert paths[f"radiators.north.absorbed.{cause}"] > 0.0
    assert paths["radiators.north"] > 0.0
    assert not any(path.startswith("surfaces") for path in paths)


def test_a_radiator_is_listed_with_what_surfaces_absorb() -> None:
    (found,) = surface_heat(model_of(RADIATOR), "case")
    assert found.name == "north"
    assert found.mean["solar"] > 0.0


def test_surfaces_and_radiators_are_all_surfaces() -> None:
    text = (
        RADIATOR + "surfaces:\n  mast: {node: mast, area: 0.1 m2, emittance: 0.5, shaded: true}\n"
    )
    model = model_of(text)
    assert list(surfaces_of(model)) == ["mast", "north"]
    assert [path_of(model, name) for name in surfaces_of(model)] == [
        "surfaces.mast",
        "radiators.north",
    ]


def test_one_name_in_both_sections_is_an_error() -> None:
    text = RADIATOR + "surfaces:\n  north: {node: mast, area: 0.1 m2, emittance: 0.5}\n"
    with pytest.raises(InputError, match=r"surfaces\.north: 'north' is a radiator already"):
        assemble(model_of(text), "case")


def test_an_efficiency_makes_a_radiator_smaller() -> None:
    """Derived: n e s A T^4 = Q at a sink of almost 0 K."""
    found = float(solved(cooling("efficiency: 0.8")).of("panel")[0])
    expected = (40.0 / (0.8 * 0.9 * STEFAN_BOLTZMANN * 0.2)) ** 0.25
    assert found == pytest.approx(expected, abs=1e-5)


def test_what_an_efficiency_leaves_neither_emits_nor_absorbs() -> None:
    """Derived: n (e s A T^4 - absorbed) = Q, a fin in a uniform environment."""
    more = "efficiency: 0.8, absorbed: {solar: {heat: 20 W}}"
    found = float(solved(cooling(more)).of("panel")[0])
    expected = ((40.0 / 0.8 + 20.0) / (0.9 * STEFAN_BOLTZMANN * 0.2)) ** 0.25
    assert found == pytest.approx(expected, abs=1e-5)


def test_a_linear_fin_has_the_textbook_efficiency() -> None:
    """tanh(mL) / (mL), m2 = 4 e s T^3 / (k t); closed form, any text of heat transfer."""
    slope = 0.2 * math.sqrt(4.0 * 0.9 * STEFAN_BOLTZMANN * (ZERO_CELSIUS + 10.0) ** 3 / 0.15)
    bare, with_fin = (
        float(assemble(model_of(cooling(more)), "case").links.strength[0])
        for more in ("efficiency: 1", FIN)
    )
    assert with_fin / bare == pytest.approx(math.tanh(slope) / slope, rel=1e-12)


def test_both_sides_of_a_fin_carry_twice_the_heat_along_it() -> None:
    both = FIN.replace("at: 10", "at: 10, both_sides: true")
    thin = FIN.replace("1 mm", "0.5 mm")
    one, other = (assemble(model_of(cooling(each)), "case").links.strength for each in (both, thin))
    assert one[0] == pytest.approx(other[0], rel=1e-12)


def test_a_fin_radiates_as_far_as_its_view_reaches() -> None:
    """Half of a view of 0.9 is the whole view of 0.45: of the same heat and the same efficiency."""
    half, dull = cooling(f"view: 0.5, {FIN}"), cooling(FIN).replace("0.9,", "0.45,")
    one, other = (assemble(model_of(each), "case").links.strength for each in (half, dull))
    assert one[0] == pytest.approx(other[0], rel=1e-12)


def test_a_fin_agrees_with_a_chain_of_nodes() -> None:
    """An independent model: the plate in 200 conducting strips that radiate by themselves, with
    heat put in at the root until it stands at the temperature that the efficiency was taken at.
    """
    width, count = 1.0, 200  # m; strips
    sink, root = 200.0, ZERO_CELSIUS + 10.0
    step = 0.2 / count
    parts = ["thermnet: 1", "nodes:"]
    parts += [f"  s{k}: {{capacity: 1 J/K}}" for k in range(count)]
    parts += ["boundaries:", f"  root: {{temperature: {root} K}}"]
    parts += [f"  space: {{temperature: {sink} K}}", "links:"]
    conductance = 150.0 * 1e-3 * width / step
    parts += [f"  first: {{from: root, to: s0, conductance: {2.0 * conductance} W/K}}"]
    parts += [
        f"  l{k}: {{from: s{k}, to: s{k + 1}, conductance: {conductance} W/K}}"
        for k in range(count - 1)
    ]
    parts += ["surfaces:"]
    parts += [f"  s{k}: {{node: s{k}, area: {step} m2, emittance: 0.9}}" for k in range(count)]
    result = solved("\n".join([*parts, "cases:", "  case: {solve: steady}", ""]))
    heat = account(result.network, result.solution).by_origin()["links.first"]
    text = cooling(FIN.replace("at: 10", f"at: 10, sink: {sink} K"), sink)
    network = assemble(model_of(text), "case")
    found = float(network.links.strength[0]) * (root**4 - sink**4)
    assert found == pytest.approx(heat, rel=1e-4)  # of second order in the width of a strip


def test_the_conductivity_of_a_fin_is_that_of_its_material() -> None:
    named = FIN.replace("conductivity: 150 W/m/K", "material: plate")
    text = cooling(named) + "materials:\n  plate: {conductivity: 150 W/m/K}\n"
    one, other = (assemble(model_of(each), "case").links.strength for each in (text, cooling(FIN)))
    assert one[0] == pytest.approx(other[0], rel=1e-12)


def test_a_fin_far_from_its_temperature_is_doubted() -> None:
    result = solved(cooling(FIN.replace("at: 10", "at: -60")))
    ((path, message),) = doubts_of(result, "radiators.north")
    assert path == "radiators.north.fin.at"
    slope = 0.4 * math.sqrt(0.9 * STEFAN_BOLTZMANN * (ZERO_CELSIUS - 60.0) ** 3 / 0.15)
    assert f"the efficiency is {math.tanh(slope) / slope:.3f} at 213.1 K" in message


def test_a_fin_near_its_temperature_is_not_doubted() -> None:
    result = solved(cooling(FIN))
    here = float(result.of("panel")[0]) - ZERO_CELSIUS
    result = solved(cooling(FIN.replace("at: 10", f"at: {here + 3.0:.3f}")))
    assert doubts_of(result, "radiators.north") == []


def test_convection_counts_by_the_efficiency_too() -> None:
    text = cooling("efficiency: 0.8, convection: 2 W/m2/K, convection_to: air").replace(
        "boundaries:", "boundaries:\n  air: {temperature: 0}"
    )
    network = assemble(model_of(text), "case")
    assert float(network.links.strength.min()) < 1e-8  # the radiative one [W/K4]
    assert float(network.links.strength.max()) == pytest.approx(0.8 * 2.0 * 0.2, rel=1e-12)


def test_heat_of_the_orbit_and_of_a_plume_counts_by_the_efficiency() -> None:
    whole = assemble(model_of(RADIATOR), "case")
    text = RADIATOR.replace("normal: -y", "normal: -y\n    efficiency: 0.8")
    part = assemble(model_of(text), "case")
    own = np.array([path.startswith(("radiators", "plumes")) for path in whole.origins])
    assert own[whole.heats.origin].sum() >= 4
    times = np.array([50.0, 2000.0, 4000.0])
    warm = np.full((len(times), len(whole.names)), 280.0)
    expected = sources(whole, warm, times) * np.where(own[whole.heats.origin], 0.8, 1.0)
    np.testing.assert_allclose(sources(part, warm, times), expected, rtol=1e-12)


def test_a_finish_that_ages_changes_what_a_radiator_absorbs() -> None:
    (old,) = surface_heat(model_of(RADIATOR), "case")
    (new,) = surface_heat(model_of(RADIATOR.replace("end of life", "beginning of life")), "case")
    assert new.absorptance < old.absorptance
    ratio = new.mean["albedo"] / old.mean["albedo"]
    assert ratio == pytest.approx(new.absorptance / old.absorptance, rel=1e-9)


def test_a_value_of_a_fin_is_changed_by_its_path() -> None:
    changed = vary(model_of(cooling(FIN)), {"radiators.north.fin.thickness": 0.002})
    other = model_of(cooling(FIN.replace("1 mm", "2 mm")))
    one, two = (assemble(each, "case").links.strength for each in (changed, other))
    assert one[0] == pytest.approx(two[0], rel=1e-12)


def test_a_radiator_of_a_part_comes_under_its_longer_name(tmp_path: Path) -> None:
    named = FIN.replace("conductivity: 150 W/m/K", "material: plate")
    part = cooling(named) + "materials:\n  plate: {conductivity: 150 W/m/K}\n"
    (tmp_path / "part.yaml").write_text(part, encoding="utf-8")
    host = "thermnet: 1\nparts:\n  tail: {file: part.yaml}\n"
    host += "boundaries:\n  space: {temperature: 0.001 K}\ncases:\n  case: {solve: steady}\n"
    (tmp_path / "host.yaml").write_text(host, encoding="utf-8")
    model = load(str(tmp_path / "host.yaml"))
    assert path_of(model, "tail/north") == "radiators.tail/north"
    one, other = assemble(model, "case"), assemble(model_of(cooling(FIN)), "case")
    assert "radiators.tail/north" in one.origins
    np.testing.assert_allclose(one.links.strength, other.links.strength, rtol=1e-12)


def test_what_radiators_alone_see_is_a_sink() -> None:
    text = cooling("sees: {space: 0.5, shroud: 0.5}").replace(
        "boundaries:", "boundaries:\n  shroud: {temperature: -170}\n  deck: {temperature: 20}"
    )
    assert sinks(model_of(text)) == {"space", "shroud"}
