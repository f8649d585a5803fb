"""Enclosures as a file states them: what they exchange, and what is said of their view factors."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from tests.enclosed import (
    EVEN,
    PLATES,
    REST,
    TRIANGLE,
    bay_of,
    by_resistances,
    closed_enclosure,
    couplings,
    exchanged,
    radiosities,
)
from tests.small_models import model_of, solved
from thermnet.account import account
from thermnet.errors import InputError
from thermnet.model.paths import apply_case, vary
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.physics.curves import Floats
from thermnet.physics.view_factors import parallel_rectangles, perpendicular_rectangles
from thermnet.results import Result


def flow(result: Result, node: str) -> float:
    """Heat [W] that leaves an imposed node into its enclosure."""
    drawn_up = account(result.network, result.solution)
    return -sum(each.amount for each in drawn_up.of_node(node) if each.origin == "enclosures.bay")


def test_two_plates_exchange_by_both_emittances() -> None:
    expected = 2.0 / (1.0 / 0.8 + 1.0 / 0.4 - 1.0)
    assert exchanged(PLATES) == pytest.approx({("cold", "hot"): expected}, rel=1e-14)


@pytest.mark.parametrize(
    ("shape", "inner", "outer"),
    [
        ("concentric_spheres: {inner_radius: 1 m, outer_radius: 2 m}", 4.0, 16.0),
        ("coaxial_cylinders: {inner_radius: 1 m, outer_radius: 3 m, length: 1 m}", 2.0, 6.0),
    ],
    ids=["spheres", "cylinders"],
)
def test_a_face_around_another_sees_itself_with_what_that_leaves(
    shape: str, inner: float, outer: float
) -> None:
    """1 / (1/e1 + (A1/A2) (1/e2 - 1)) of the inner area; derived: closed form."""
    found = exchanged(f"""
    faces:
      inner: {{node: hot, area: {inner * math.pi} m2, emittance: 0.8}}
      outer: {{node: cold, area: {outer * math.pi} m2, emittance: 0.4}}
    views:
      inner: {{from: inner, to: outer, {shape}}}
    """)
    expected = inner * math.pi / (1.0 / 0.8 + inner / outer * (1.0 / 0.4 - 1.0))
    assert found == pytest.approx({("cold", "hot"): expected}, rel=1e-12)


def test_three_gray_faces_give_the_heat_of_their_circuit() -> None:
    emission = STEFAN_BOLTZMANN * np.array([400.0, 200.0, 300.0]) ** 4
    heat = by_resistances(np.ones(3), EVEN, np.array([0.8, 0.4, 0.3]), emission)
    result = solved(bay_of(TRIANGLE))
    found = [flow(result, node) for node in ("hot", "cold", "mild")]
    assert found == pytest.approx(heat, rel=1e-10)


def test_a_re_radiating_wall_passes_on_what_it_receives() -> None:
    """The triangular duct of which one side is insulated, as a circuit."""
    bay = TRIANGLE.replace(
        "{node: mild, area: 1 m2, emittance: 0.3}", "{area: 1 m2, reradiating: true}"
    )
    emission = STEFAN_BOLTZMANN * np.array([400.0, 200.0, 0.0]) ** 4
    heat = by_resistances(np.ones(3), EVEN, np.array([0.8, 0.4, 0.0]), emission)
    result = solved(bay_of(bay))
    assert flow(result, "hot") == pytest.approx(heat[0], rel=1e-10)
    assert heat[2] == pytest.approx(0.0, abs=1e-9)


def test_a_re_radiating_wall_is_a_gray_one_that_stands_alone() -> None:
    """Whatever its emittance, a massless node that only radiates takes no heat; its own
    temperature is that of its radiosity.
    """
    alone = bay_of(TRIANGLE.replace("node: mild", "node: wall")).replace(
        "nodes: {", "nodes: {wall: {massless: true}, "
    )
    result = solved(alone)
    emission = STEFAN_BOLTZMANN * np.array([400.0, 200.0, 0.0]) ** 4
    light = radiosities(np.ones(3), EVEN, np.array([0.8, 0.4, 0.0]), emission)
    wall = (light[2] / STEFAN_BOLTZMANN) ** 0.25
    assert float(result.of("wall")[0]) == pytest.approx(wall, rel=1e-9)


def test_an_opening_is_black() -> None:
    bay = TRIANGLE.replace("{node: mild, area: 1 m2, emittance: 0.3}", "OPENING")
    opening = bay.replace("OPENING", "{node: mild, area: 1 m2, opening: true}")
    black = bay.replace("OPENING", "{node: mild, area: 1 m2, emittance: 1}")
    assert exchanged(opening) == exchanged(black)


def test_two_faces_of_one_node_count_for_it_together_and_not_for_each_other() -> None:
    found = exchanged(TRIANGLE.replace("node: mild", "node: hot"))
    apart = exchanged(TRIANGLE)
    assert list(found) == [("cold", "hot")]
    expected = apart["cold", "hot"] + apart["cold", "mild"]
    assert found["cold", "hot"] == pytest.approx(expected, rel=1e-14)


BOX = """
    box: {length: 2 m, width: 1 m, height: 0.5 m}
    faces:
      floor: {node: hot, emittance: 0.1}
      ceiling: {node: cold, emittance: 0.9}
      front: {node: mild, emittance: 0.5}
      back: {node: mild, emittance: 0.5}
      left: {node: mild, emittance: 0.7}
      right: {node: mild, emittance: 0.7}
"""


def box_views() -> Floats:
    """Direct areas [m2] of a box of 2 x 1 x 0.5 m, each pair by the shape of its two faces."""
    size = {"floor": (2.0, 1.0), "front": (2.0, 0.5), "left": (1.0, 0.5)}
    direct = np.zeros((6, 6))
    for k, (name, gap) in enumerate((("floor", 0.5), ("front", 1.0), ("left", 2.0))):
        area = size[name][0] * size[name][1]
        direct[2 * k, 2 * k + 1] = area * parallel_rectangles(*size[name], gap)
    floor_front = 2.0 * perpendicular_rectangles(2.0, 1.0, 0.5)
    floor_left = 2.0 * perpendicular_rectangles(1.0, 2.0, 0.5)
    front_left = 1.0 * perpendicular_rectangles(0.5, 2.0, 1.0)
    direct[0:2, 2:4], direct[0:2, 4:6], direct[2:4, 4:6] = floor_front, floor_left, front_left
    return direct + direct.T


def test_a_box_gives_the_heat_of_the_circuit_of_its_six_faces() -> None:
    area, emittance = np.repeat([2.0, 1.0, 0.5], 2), np.array([0.1, 0.9, 0.5, 0.5, 0.7, 0.7])
    emission = STEFAN_BOLTZMANN * np.array([400.0, 200.0, 300.0, 300.0, 300.0, 300.0]) ** 4
    heat = by_resistances(area, box_views(), emittance, emission)
    result = solved(bay_of(BOX))
    found = [flow(result, node) for node in ("hot", "cold")]
    assert found == pytest.approx(heat[:2], rel=1e-10)


def test_a_box_is_the_same_box_with_its_views_written_out() -> None:
    """In the order floor, ceiling, front, back, left, right."""
    faces, views = BOX.partition("faces:")[2], []
    names = ["floor", "ceiling", "front", "back", "left", "right"]
    areas = dict(zip(names, np.repeat([2.0, 1.0, 0.5], 2), strict=True))
    for name, area in areas.items():
        faces = faces.replace(f"{name}: {{", f"{name}: {{area: {area} m2, ")
    direct = box_views()
    for i, one in enumerate(names):
        for j, two in enumerate(names[:i]):
            factor = direct[i, j] / areas[one]
            views.append(f"      {one} {two}: {{from: {one}, to: {two}, factor: {factor}}}\n")
    written = f"    faces:{faces}    views:\n{''.join(views)}"
    assert exchanged(written) == pytest.approx(exchanged(BOX), rel=1e-10)


def test_a_grey_cube_with_one_warm_face_by_its_box() -> None:
    """Emittances 0.1, 0.9 and four of 0.5, 300 K among 250 K; derived: independent solver."""
    cube = BOX.replace("2 m", "1 m").replace("0.5 m}", "1 m}").replace("0.7", "0.5")
    at = bay_of(cube).replace("300", "250").replace("200", "250").replace("400", "300")
    assert flow(solved(at), "hot") == pytest.approx(23.447277, abs=1e-6)


AGED = TRIANGLE.replace("emittance: 0.8", "finish: own black")
LIVES = """\
finishes: {own black: {absorptance: 0.9, emittance: 0.8, emittance_end: 0.6}}
cases:
  new: {solve: steady, life: beginning of life}
  old: {solve: steady, life: end of life}
  given: {extends: new, set: {enclosures.bay.faces.cold.emittance: 0.2}}
"""


def test_a_finish_gives_the_emittance_of_the_life_of_a_case() -> None:
    model = model_of(bay_of(AGED, LIVES))
    fresh, stale = TRIANGLE, TRIANGLE.replace("emittance: 0.8", "emittance: 0.6")
    assert couplings(model, "new") == exchanged(fresh)
    assert couplings(model, "old") == exchanged(stale)


def test_a_case_and_a_caller_change_the_emittance_of_a_face_by_its_path() -> None:
    model = model_of(bay_of(TRIANGLE, LIVES))
    expected = exchanged(TRIANGLE.replace("emittance: 0.4", "emittance: 0.2"))
    assert couplings(apply_case(model, "given"), "given") == expected
    path = "enclosures.bay.faces.cold.emittance"
    assert couplings(vary(model, {path: 0.2}), "new") == expected
    half = couplings(vary(model, {path: {"scale": 0.5}}), "new")
    assert half == pytest.approx(expected, rel=1e-14)


def test_a_caller_changes_the_dimension_of_a_shape_by_its_path() -> None:
    near = vary(model_of(bay_of(REST)), {
        "enclosures.bay.views.base to lid.parallel_rectangles.gap": "0.1 m",
    })  # fmt: skip
    assert couplings(near) == exchanged(REST.replace("gap: 0.2", "gap: 0.1"))


def test_a_shape_is_as_large_as_its_faces_also_after_a_change() -> None:
    with pytest.raises(InputError, match=r"that of the shape is 0\.42 m2"):
        vary(model_of(bay_of(REST)), {
            "enclosures.bay.views.base to lid.parallel_rectangles.width": "0.7 m",
        })  # fmt: skip


@settings(max_examples=20)
@given(some.integers(2, 6), some.integers(0, 2**31))
def test_any_closed_enclosure_of_a_file_gives_the_heat_of_its_circuit(size: int, seed: int) -> None:
    area, direct = closed_enclosure(size, seed)
    dice = np.random.default_rng(seed)
    emittance, temperature = dice.uniform(0.05, 0.95, size), dice.uniform(100.0, 500.0, size)
    faces = "".join(
        f"      f{k}: {{node: n{k}, area: {area[k]:.17g} m2, emittance: {emittance[k]:.17g}}}\n"
        for k in range(size)
    )
    views = "".join(
        f"      {i} {j}: {{from: f{i}, to: f{j}, factor: {direct[i, j] / area[i]:.17g}}}\n"
        for i in range(size) for j in range(i + 1) if direct[i, j]
    )  # fmt: skip
    whole = bay_of(f"    faces:\n{faces}    views:\n{views}")
    nodes = "".join(f"n{k}: {{temperature: {temperature[k]}}}, " for k in range(size))
    found = couplings(model_of(whole.replace("boundaries: {", f"boundaries: {{{nodes}")))
    heat = np.zeros(size)
    for (a, b), exchange in found.items():
        i, j = int(a[1:]), int(b[1:])
        power = exchange * STEFAN_BOLTZMANN * (temperature[i] ** 4 - temperature[j] ** 4)
        heat[i] += power
        heat[j] -= power
    expected = by_resistances(area, direct, emittance, STEFAN_BOLTZMANN * temperature**4)
    assert heat == pytest.approx(expected, abs=1e-9 * area.sum() * STEFAN_BOLTZMANN * 500.0**4)
