"""Sandwich panels: numbers that can be worked by hand, and what is refused."""

from __future__ import annotations

import pytest

from tests.model.doubted import doubts_of
from tests.model.small import SMALL, network, read
from tests.small_models import solved
from thermnet.errors import InputError

CORE = "core: {conductivity: 150 W/m/K, foil: 25.4 um, cell: 6.35 mm, height: 20 mm}"


def strength(body: str) -> float:
    """Conductance of a panel between the box and the plate [W/K]."""
    text = SMALL.replace("links:\n", f"panels:\n  own: {{from: box, to: plate, {body}}}\nlinks:\n")
    found = network("mean", text)
    (place,) = [k for k, origin in enumerate(found.origins) if origin == "panels.own"]
    (value,) = found.links.strength[found.links.origin == place]
    return float(value)


def test_through_a_core_alone() -> None:
    """1.6 W/m/K x 0.5 m2 / 20 mm = 40 W/K by hand."""
    assert strength(f"direction: through, area: 0.5 m2, {CORE}") == pytest.approx(40.0)


def test_through_faces_bond_and_core() -> None:
    """0.0125 of the core, 2 x 0.001 / 2 of faces and 1/2000 of the bond: 0.5 / 0.014 W/K."""
    body = (
        f"direction: through, area: 0.5 m2, {CORE}, bond: 2000 W/m2/K, "
        "faces: {conductivity: 2 W/m/K, thickness: 1 mm}"
    )
    assert strength(body) == pytest.approx(0.5 / (0.0125 + 0.001 + 0.0005))


def test_along_the_ribbon_and_across_it() -> None:
    """(2 x 150 x 0.5 mm + 20 mm x 0.9 or 0.6) x 0.4 / 0.5 by hand."""
    body = f"width: 0.4 m, length: 0.5 m, {CORE}, faces: {{conductivity: 150, thickness: 0.5 mm}}"
    assert strength(f"direction: ribbon, {body}") == pytest.approx(0.168 * 0.8)
    assert strength(f"direction: across, {body}") == pytest.approx(0.162 * 0.8)


def test_another_face_counts_with_its_own_thickness() -> None:
    body = (
        "direction: ribbon, width: 1 m, length: 1 m, core: {conductivity: 1e-9, height: 20 mm}, "
        "faces: {conductivity: 100, thickness: 1 mm}, "
        "other_face: {conductivity: 50, thickness: 2 mm}"
    )
    assert strength(body) == pytest.approx(0.2)


def test_a_solid_core_conducts_as_a_block() -> None:
    """0.03 W/m/K x 0.5 m2 / 30 mm = 0.5 W/K by hand."""
    body = "direction: through, area: 0.5 m2, core: {conductivity: 0.03, height: 30 mm}"
    assert strength(body) == pytest.approx(0.5)


def test_a_material_conducts_as_at_the_stated_temperature() -> None:
    """Aluminium 2024-T6: 65 W/m/K at 100 K and 177 at 300 K (Incropera, table A.1: read)."""
    body = (
        "direction: ribbon, width: 1 m, length: 1 m, core: {conductivity: 1e-9, height: 20 mm}, "
        "faces: {material: aluminium 2024-T6, thickness: 1 mm}"
    )
    assert strength(f"{body}, at: 100 K") == pytest.approx(2 * 65e-3)
    assert strength(f"{body}, at: 300 K") == pytest.approx(2 * 177e-3)


COLD = """
thermnet: 1
temperatures: K
uncertainty: {policy: none}
nodes:
  plate: {capacity: 1000 J/K}
boundaries:
  sink: {temperature: 100}
panels:
  own:
    from: plate
    to: sink
    direction: ribbon
    width: 1 m
    length: 1 m
    core: {conductivity: 1e-9, height: 20 mm}
    faces: {material: aluminium 2024-T6, thickness: 1 mm}
loads:
  plate: {node: plate, heat: 1 W}
cases:
  case: {}
"""


def test_a_panel_far_from_the_temperature_of_its_conductivities_is_doubted() -> None:
    result = solved(COLD)
    ((path, message),) = doubts_of(result, "panels.own")
    assert path == "panels.own"
    assert "by the conductivities at 293.1 K" in message
    assert any("panels.own" in str(problem) for problem in result.problems)


def test_a_panel_near_it_is_not() -> None:
    text = COLD.replace("    width: 1 m\n", "    width: 1 m\n    at: 102 K\n")
    assert doubts_of(solved(text), "panels.own") == []


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (f"direction: through, {CORE}", "missing key 'area'"),
        (f"direction: ribbon, width: 1 m, {CORE}", "missing key 'length'"),
        (f"direction: ribbon, width: 1 m, length: 1 m, area: 1 m2, {CORE}", "no meaning for"),
        ("direction: through, area: 1 m2, core: {height: 1 mm}", "missing key 'material'"),
        (
            "direction: through, area: 1 m2, core: {conductivity: 1, foil: 1 mm, height: 1 mm}",
            "foil and cell go together",
        ),
        (
            "direction: through, area: 1, core: {conductivity: 1, foil: 1, cell: 2, height: 2}",
            "is its unit right?",
        ),
    ],
)
def test_a_panel_that_cannot_be_is_refused(body: str, words: str) -> None:
    text = SMALL.replace("links:\n", f"panels:\n  own: {{from: box, to: plate, {body}}}\nlinks:\n")
    with pytest.raises(InputError, match=words):
        read(text)


def test_a_material_without_conductivity_is_told_at_the_panel() -> None:
    text = COLD.replace("aluminium 2024-T6", "fluorinated polymer film")
    with pytest.raises(InputError, match="conductivity of 'fluorinated polymer film' is not known"):
        solved(text)
