"""What goes through interfaces: closed forms of a part on a plate, and the part alone.

The part gives 3 W in `body`, which stands on `mount` by 0.2 W/K; the host joins the mount by
0.4 W/K to a wall at 20 degC. Everything else is derived by hand from that.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from thermnet.account import account
from thermnet.interfaces import InterfaceRow, interface_heat, interface_table
from thermnet.model.model import Model
from thermnet.model.paths import vary
from thermnet.model.read import parse
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.results import Result, solve
from thermnet.solve.solution import Options

PART = """
thermnet: 1
temperatures: degC
interfaces:
  mount: {temperature: 20}
nodes:
  body: {capacity: 100 J/K, initial: 20}
links:
  bracket: {from: mount, to: body, conductance: 0.2 W/K}
loads:
  body: {node: body, heat: 3 W}
cases:
  alone: {}
"""

HOST = """
thermnet: 1
temperatures: degC
parts:
  camera: {file: camera.yaml}
boundaries:
  wall: {temperature: 20}
links:
  mount: {from: wall, to: camera/mount, conductance: 0.4 W/K}
cases:
  case: {}
"""

RADIATING = PART.replace(
    "cases:",
    """
  mount: {node: mount, heat: 1 W}
boundaries:
  space: {temperature: -270}
surfaces:
  body: {node: body, area: 0.04 m2, emittance: 0.9}
  mount: {node: mount, area: 0.03 m2, emittance: 0.8}
heaters:
  body: {node: body, power: 20 W, on_below: 0, off_above: 10}
  mount: {node: mount, sensor: body, power: 8 W, on_below: 0, off_above: 30}
cases:""",
)


def models(host: str = HOST, part: str = PART) -> Model:
    return parse({"host.yaml": host, "camera.yaml": part}, "host.yaml")


def solved(model: Model, case: str = "case") -> Result:
    result = solve(model, case, Options(accuracy=1e-4))
    assert result.solution.failure == ""
    assert account(result.network, result.solution).closes
    return result


def only(result: Result) -> InterfaceRow:
    (row,) = interface_table(result)
    return row


def test_all_heat_of_a_part_leaves_by_its_only_interface() -> None:
    row = only(solved(models()))
    assert row.mean_heat == pytest.approx(-3.0, abs=1e-9)
    # derived: 20 degC + 3 W / 0.4 W/K
    assert row.mean == pytest.approx(273.15 + 27.5, abs=1e-7)
    assert (row.part, row.interface) == ("camera", "camera/mount")


@pytest.mark.parametrize("part", [PART, RADIATING], ids=["conducting", "radiating"])
def test_a_part_alone_at_the_temperature_found_is_the_part_within_its_host(part: str) -> None:
    within = solved(models(part=part))
    found = only(within)
    alone = solved(
        vary(
            parse({"camera.yaml": part}, "camera.yaml"),
            {"interfaces.mount.temperature": found.mean},
        ),
        "alone",
    )
    row = only(alone)
    assert row.mean == found.mean
    assert alone.of("body")[0] == pytest.approx(within.of("camera/body")[0], abs=1e-6)
    assert row.mean_heat == pytest.approx(found.mean_heat, abs=1e-6)


def test_heat_into_a_part_is_what_the_links_of_the_host_carry() -> None:
    # The mount also radiates to space and has a load and a heater, all of them of the part.
    result = solved(models(part=RADIATING))
    wall, mount = 293.15, only(result).mean
    assert only(result).mean_heat == pytest.approx(0.4 * (wall - mount), abs=1e-9)


def test_a_load_of_the_host_on_an_interface_goes_into_the_part() -> None:
    host = HOST.replace("cases:", "loads:\n  lamp: {node: camera/mount, heat: 2 W}\ncases:")
    # derived: of 3 W and 2 W all 5 W leave by the link of 0.4 W/K; the part gives off its 3 W
    row = only(solved(models(host)))
    assert row.mean == pytest.approx(273.15 + 20.0 + 5.0 / 0.4, abs=1e-7)
    assert row.mean_heat == pytest.approx(-3.0, abs=1e-9)


def test_heat_into_an_interface_held_at_a_temperature_is_what_its_part_draws() -> None:
    model = vary(models(), {"interfaces.camera/mount.temperature": 300.0})
    row = only(solved(model))
    assert row.mean == 300.0
    assert row.mean_heat == pytest.approx(-3.0, abs=1e-9)


def test_a_fluid_of_the_host_brings_heat_by_its_temperature_above_the_mount() -> None:
    link = "links:\n  mount: {from: wall, to: camera/mount, conductance: 0.4 W/K}\n"
    loop = "loops:\n  coolant: {through: [wall, camera/mount], capacity_rate: 2 W/K}\n"
    row = only(solved(models(HOST.replace(link, loop))))
    # derived: 2 W/K (20 degC - T) = -3 W
    assert row.mean == pytest.approx(273.15 + 21.5, abs=1e-6)
    assert row.mean_heat == pytest.approx(-3.0, abs=1e-6)


def test_a_model_has_interfaces_of_its_own() -> None:
    # To a fixture at 50 degC by 0.3 W/K, while a wall at 20 degC takes heat by 0.6 W/K.
    text = """
thermnet: 1
temperatures: degC
interfaces:
  fixture: {temperature: 50}
nodes:
  plate: {capacity: 10 J/K}
boundaries:
  wall: {temperature: 20}
links:
  fixture: {from: fixture, to: plate, conductance: 0.3 W/K}
  wall: {from: plate, to: wall, conductance: 0.6 W/K}
cases:
  case: {}
"""
    row = only(solved(parse({"plate.yaml": text}, "plate.yaml")))
    # derived: two conductances in series, 0.3 * 0.6 / (0.3 + 0.6) W/K over 30 K
    assert row.mean_heat == pytest.approx(0.2 * 30.0, abs=1e-9)
    assert row.part == ""


def test_heat_and_temperature_follow_a_square_wave_where_nothing_is_stored() -> None:
    part = PART.replace("capacity: 100 J/K, initial: 20", "massless: true")
    part = part.replace("heat: 3 W", "heat: 3 W, schedule: half").replace(
        "cases:",
        "schedules:\n  half: {time: [0 s, 30 s], value: [1, 0], shape: steps, period: 100 s}\n"
        "cases:",
    )
    host = (
        HOST.replace("case: {}", "case: {solve: repeating, period: 100 s}")
        .replace("boundaries:", "nodes:\n  ballast: {capacity: 10 J/K}\nboundaries:")
        .replace("links:", "links:\n  ballast: {from: ballast, to: wall, conductance: 1 W/K}")
    )
    row = only(solved(models(host, part)))
    # derived: 3 W for 30 s of 100 s, each moment by 0.4 W/K to the wall at 20 degC
    assert (row.least, row.most) == pytest.approx((-3.0, 0.0), abs=1e-6)
    assert row.mean_heat == pytest.approx(-0.9, abs=1e-6)
    assert (row.lowest, row.highest) == pytest.approx((293.15, 300.65), abs=1e-6)
    assert row.mean == pytest.approx(293.15 + 0.3 * 7.5, abs=1e-6)
    assert row.least_at <= 30.0 <= row.most_at


def test_heat_flows_through_a_part_into_its_own_part() -> None:
    lens = PART.replace("body", "glass").replace("3 W", "0.5 W")
    part = PART.replace("interfaces:", "parts:\n  lens: {file: lens.yaml}\ninterfaces:").replace(
        "links:", "links:\n  seat: {from: body, to: lens/mount, conductance: 0.1 W/K}"
    )
    sources = {"host.yaml": HOST, "camera.yaml": part, "lens.yaml": lens}
    rows = interface_table(solved(parse(sources, "host.yaml")))
    found = {row.interface: (row.part, round(row.mean_heat, 6)) for row in rows}
    assert found == {
        "camera/mount": ("camera", -3.5),
        "camera/lens/mount": ("camera/lens", -0.5),
    }


def test_a_transient_ends_where_its_heat_no_longer_changes() -> None:
    host = HOST.replace("case: {}", "case: {solve: transient, duration: 20000 s, initial: given}")
    result = solved(models(host))
    heat = interface_heat(result, ["camera/mount"])[:, 0]
    # derived: body at 20 degC as the wall, so no heat at first; 2/15 W/K in series, 100 J/K
    record = result.solution.record
    expected = -3.0 * (1.0 - np.exp(-record.time * (0.2 * 0.4 / 0.6) / 100.0))
    np.testing.assert_allclose(heat, expected, atol=1e-4)
    assert only(result).least == pytest.approx(-3.0, abs=1e-4)


def test_radiation_of_the_host_into_an_interface_counts() -> None:
    link = "links:\n  mount: {from: wall, to: camera/mount, conductance: 0.4 W/K}\n"
    view = "radiation:\n  mount: {from: wall, to: camera/mount, area: 0.1 m2}\n"
    row = only(solved(models(HOST.replace(link, view))))
    # derived: sigma 0.1 m2 (T^4 - 293.15^4) = 3 W
    assert row.mean == pytest.approx((3.0 / (STEFAN_BOLTZMANN * 0.1) + 293.15**4) ** 0.25, abs=1e-6)
    assert row.mean_heat == pytest.approx(-3.0, abs=1e-6)


def test_a_case_that_could_not_be_solved_has_no_numbers() -> None:
    result = solved(models())
    failed = replace(result, solution=replace(result.solution, failure="gave up"))
    row = only(failed)
    assert np.isnan([row.mean, row.lowest, row.mean_heat, row.most]).all()
    assert row.interface == "camera/mount"
