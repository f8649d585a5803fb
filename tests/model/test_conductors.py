"""Conductors by material and shape, solved and compared with closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.small_models import model_of, solved
from thermnet.errors import InputError
from thermnet.model.kinds.conductor import Conductor, doubts
from thermnet.model.kinds.kind import Seen, Surroundings
from thermnet.model.kinds.material import material
from thermnet.model.shelf import Shelf
from thermnet.results import Result, solve

MODEL = """
thermnet: 1
temperatures: K
nodes: {middle: {massless: true}, ballast: {capacity: 1 J/K}}
boundaries: {hot: {temperature: HOT}, cold: {temperature: COLD}}
links: {ballast: {from: ballast, to: hot, conductance: 1 W/K}}
conductors:
CONDUCTORS
cases: {case: {solve: steady}}
"""
BAR = "bar: {area: 20 mm2, length: 100 mm}"


def ends(conductors: str, hot: float = 300.0, cold: float = 20.0) -> Result:
    """A steady state of conductors, `middle` among them, between two imposed temperatures."""
    text = MODEL.replace("HOT", str(hot)).replace("COLD", str(cold))
    return solved(text.replace("CONDUCTORS", "  " + conductors.strip().replace("\n", "\n  ")))


def carried(result: Result, node: str = "cold") -> float:
    """Heat [W] that flows into an imposed node."""
    from thermnet.network.network import heat

    network, temperature = result.network, result.solution.temperature[0]
    return float(heat(network, temperature, 0.0)[network.index(node)])


def temperature(result: Result, node: str) -> float:
    return float(result.solution.temperature[0][result.network.index(node)])


TO_MIDDLE = f"first: {{from: hot, to: middle, material: stainless steel 304, {BAR}}}\n"


def test_a_bar_of_one_conductivity_carries_k_times_area_over_length() -> None:
    result = ends(
        f"one: {{from: hot, to: middle, conductivity: 15 W/m/K, {BAR}}}\n"
        f"two: {{from: middle, to: cold, conductivity: 15 W/m/K, {BAR}}}"
    )
    assert carried(result) == pytest.approx(15.0 * 20e-6 / 0.2 * 280.0, rel=1e-9)


def test_splitting_a_bar_by_a_massless_node_changes_nothing() -> None:
    half = BAR.replace("100", "50")
    split = ends(
        f"first: {{from: hot, to: middle, material: stainless steel 304, {half}}}\n"
        f"second: {{from: middle, to: cold, material: stainless steel 304, {half}}}"
    )
    curve = material("stainless steel 304", {}).conductivity_curve
    assert curve is not None
    integral = float(np.diff(curve.integral(np.array([20.0, 300.0])))[0])
    assert carried(split) == pytest.approx(20e-6 / 0.1 * integral, rel=1e-9)


def test_the_middle_of_a_bar_halves_the_integral_and_not_the_temperature() -> None:
    result = ends(TO_MIDDLE + TO_MIDDLE.replace("first", "second").replace("hot", "cold"))
    curve = material("stainless steel 304", {}).conductivity_curve
    assert curve is not None
    cold, middle, hot = curve.integral(np.array([20.0, temperature(result, "middle"), 300.0]))
    assert middle == pytest.approx((cold + hot) / 2.0, rel=1e-9)
    assert temperature(result, "middle") > 175.0


def test_two_bars_side_by_side_are_one_with_a_count_of_two() -> None:
    other = TO_MIDDLE.replace("first", "other")
    to_cold = f"cold: {{from: middle, to: cold, conductivity: 1 W/m/K, {BAR}}}\n"
    two = ends(TO_MIDDLE + other + to_cold)
    counted = ends(
        TO_MIDDLE.replace("20 mm2, ", "20 mm2, ").replace("}}", "}, count: 2}") + to_cold
    )
    assert temperature(counted, "middle") == pytest.approx(temperature(two, "middle"), abs=1e-9)


@pytest.mark.parametrize(
    ("shape", "factor"),
    [
        (
            "cylinder: {inner_radius: 10 mm, outer_radius: 30 mm, length: 50 mm}",
            2.0 * math.pi * 0.05 / math.log(3.0),
        ),
        (
            "sphere: {inner_radius: 10 mm, outer_radius: 30 mm}",
            4.0 * math.pi / (1.0 / 0.01 - 1.0 / 0.03),
        ),
        (
            "strap: {layers: 40, thickness: 0.1 mm, width: 30 mm, length: 150 mm, efficiency: 0.9}",
            0.9 * 40 * 1e-4 * 0.03 / 0.15,
        ),
    ],
)
def test_every_shape_has_its_closed_form(shape: str, factor: float) -> None:
    # derived: Fourier's law integrated over the shape
    entry = f"wall: {{from: hot, to: cold, conductivity: 2 W/m/K, {shape}}}\n"
    rest = f"rest: {{from: hot, to: middle, conductivity: 2 W/m/K, {BAR}}}"
    assert carried(ends(entry + rest)) == pytest.approx(2.0 * factor * 280.0, rel=1e-9)


STRAP = (
    "strap: {from: hot, to: cold, material: aluminium 1100, count: COUNT, strap: {layers: 40, "
    "thickness: 0.1 mm, width: 30 mm, length: 150 mm, ends: 2 W/K}}\n"
    f"rest: {{from: hot, to: middle, conductivity: 2 W/m/K, {BAR}}}"
)


def test_end_fittings_are_in_series_with_the_foils() -> None:
    text = STRAP.replace("material: aluminium 1100", "conductivity: 200 W/m/K")
    foils = 200.0 * 40 * 1e-4 * 0.03 / 0.15
    total = 1.0 / (1.0 / foils + 1.0 / 2.0)
    assert carried(ends(text.replace("COUNT", "1"))) == pytest.approx(total * 280.0, rel=1e-9)


def test_foils_between_fittings_carry_the_integral_between_their_own_ends() -> None:
    result = ends(STRAP.replace("COUNT", "3"))
    first, second = (temperature(result, f"strap, {end} end") for end in ("first", "second"))
    curve = material("aluminium 1100", {}).conductivity_curve
    assert curve is not None
    integral = float(np.diff(curve.integral(np.array([second, first])))[0])
    heat = 3 * 40 * 1e-4 * 0.03 / 0.15 * integral
    assert carried(result) == pytest.approx(heat, rel=1e-9)
    assert heat == pytest.approx(3 * 4.0 * (300.0 - first), rel=1e-9)


def test_a_strap_is_the_same_from_both_sides() -> None:
    turned = STRAP.replace("from: hot, to: cold", "from: cold, to: hot").replace("COUNT", "1")
    assert carried(ends(turned)) == pytest.approx(
        carried(ends(STRAP.replace("COUNT", "1"))), rel=1e-9
    )


def test_conductors_of_one_material_share_their_curve() -> None:
    result = ends(TO_MIDDLE + TO_MIDDLE.replace("first", "other").replace("hot", "cold"))
    assert sum(each.curve is not None for each in result.network.links.potentials) == 1


def seen(lowest: float, highest: float) -> Seen:
    return Seen(
        lowest={"a": lowest, "b": lowest + 1.0}, highest={"a": lowest, "b": highest}, most={}
    )


AROUND = Surroundings(
    histories={}, means={}, bus_voltage=None, shelf=Shelf(material=lambda name: material(name, {}))
)


def doubted(lowest: float, highest: float, **keys: object) -> list[str]:
    entry = Conductor.model_validate(
        {"from": "a", "to": "b", "bar": {"area": 1e-4, "length": 0.1}, **keys}
    )
    found = doubts("rod", entry, "conductors.rod", AROUND, seen(lowest, highest))
    return [message for _, message in found]


def test_temperatures_beyond_a_curve_are_doubted_with_both_ranges() -> None:
    (message,) = doubted(250.0, 350.0, material="stainless steel 304")
    assert "known from 4 to 300 K, and 250.0 to 350.0 K were met" in message


def test_a_little_beyond_a_curve_that_is_nearly_level_there_is_no_doubt() -> None:
    # derived: steel gains 0.027 W/m/K a kelvin near 300 K, 5 % of 15.3 W/m/K in 29 K
    assert doubted(250.0, 325.0, material="stainless steel 304") == []
    assert len(doubted(250.0, 335.0, material="stainless steel 304")) == 1


def test_far_beyond_a_curve_even_a_level_one_is_doubted() -> None:
    level = {"temperature": ("100 K", "300 K"), "value": ("2 W/m/K", "2 W/m/K")}
    assert doubted(100.0, 349.0, conductivity=level) == []
    assert len(doubted(100.0, 351.0, conductivity=level)) == 1


def test_a_lost_conductor_is_not_doubted() -> None:
    assert doubted(250.0, 350.0, material="stainless steel 304", lost=True) == []


def test_temperatures_within_a_curve_are_not_doubted() -> None:
    assert doubted(4.0, 300.0, material="stainless steel 304") == []


def test_a_number_near_300_kelvin_is_doubted_far_from_there() -> None:
    (message,) = doubted(80.0, 300.0, material="gold")
    assert "one number known near 300 K" in message
    assert doubted(250.0, 330.0, material="gold") == []


def test_a_number_of_the_model_itself_is_not_doubted() -> None:
    assert doubted(80.0, 300.0, conductivity=300.0) == []


def test_a_material_of_unknown_conductivity_is_told_at_the_conductor() -> None:
    text = MODEL.replace("HOT", "300").replace("COLD", "20")
    conductor = f"  one: {{from: hot, to: middle, material: lithium-ion cells, {BAR}}}"
    with pytest.raises(InputError) as caught:
        solve(model_of(text.replace("CONDUCTORS", conductor)), "case")
    (problem,) = caught.value.problems
    assert problem.path == "conductors.one"
    assert "conductivity of 'lithium-ion cells' is not known" in problem.message


def test_a_case_changes_a_length_by_its_path() -> None:
    text = MODEL.replace("HOT", "300").replace("COLD", "20").replace("CONDUCTORS", f"  {TO_MIDDLE}")
    cold = f"  two: {{from: middle, to: cold, conductivity: 1 W/m/K, {BAR}}}\n"
    text = text.replace("cases:", cold + "cases:")
    short = solved(text, changes={"conductors.first.bar.length": 0.05})
    assert temperature(short, "middle") > temperature(solved(text), "middle")
