"""Materials: what the library holds, what a model changes, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from tests.small_models import model_of
from thermnet.errors import InputError
from thermnet.model.kinds.material import (
    COLUMNS,
    CURVES,
    MATERIALS,
    Material,
    facts_of,
    library,
    material,
)
from thermnet.model.kinds.properties import cell, near_room, reaches_room
from thermnet.model.library.rows import HOW_KNOWN, Row
from thermnet.model.usable import components

BLANKET = """
thermnet: 1
temperatures: degC
nodes: {tank: {capacity: 1 kJ/K}, face: {massless: true}}
boundaries: {space: {temperature: -270}}
blankets:
  tank: {from: tank, to: face, area: 1 m2, effective_emittance: 0.02, made_of: {outer: NAME}}
surfaces: {face: {node: face, area: 1 m2, emittance: 0.8}}
cases: {cold: {solve: steady}}
"""


def entry(**keys: str) -> Material:
    return Material.model_validate(keys)


@pytest.mark.parametrize("name", MATERIALS)
def test_every_material_has_its_temperatures_in_order(name: str) -> None:
    facts = library()[name]
    known = [at for at in (facts.lowest, facts.highest, facts.highest_short) if at is not None]
    assert known == sorted(set(known))
    assert (
        facts.highest is None or facts.lowest is not None
    )  # of a liquid it may be the lowest alone


@pytest.mark.parametrize("name", MATERIALS)
def test_every_material_says_something(name: str) -> None:
    facts = library()[name]
    assert any(getattr(facts, key) is not None for key in (*COLUMNS, "conductivity_curve"))


@pytest.mark.parametrize("name", MATERIALS)
@pytest.mark.parametrize("key", CURVES)
def test_the_number_near_300_kelvin_is_that_of_the_curve(name: str, key: str) -> None:
    curve, number = (getattr(library()[name], each) for each in (f"{key}_curve", key))
    if curve is not None and reaches_room(curve):
        assert number == pytest.approx(near_room(curve), rel=5e-3)


def test_no_name_has_a_stroke_which_would_be_taken_for_that_of_a_part() -> None:
    assert not [name for name in MATERIALS if "/" in name]


def test_every_material_that_melts_has_all_that_melting_needs() -> None:
    melting = [facts for facts in library().values() if facts.melts_at is not None]
    assert len(melting) >= 4
    for facts in melting:
        assert None not in (facts.latent_heat, facts.specific_heat, facts.specific_heat_liquid)


@pytest.mark.parametrize("name", MATERIALS)
def test_every_material_says_how_it_is_known(name: str) -> None:
    assert any(tag in library()[name].source for tag in HOW_KNOWN)


def test_polyimide_bears_more_for_a_short_time() -> None:
    # 400 degC: second-hand, the abstract that the row cites; 250 degC for long: from memory
    facts = material("polyimide film", {})
    assert facts.highest == pytest.approx(250.0 + 273.15)
    assert facts.highest_short == pytest.approx(400.0 + 273.15)


def test_fluorinated_film_has_the_range_of_the_list_of_preferred_materials() -> None:
    # read: -185 to 150 degC for long (ESA list of preferred materials, sheet A.17.17)
    facts = material("fluorinated polymer film", {})
    assert (facts.lowest, facts.highest) == pytest.approx((88.15, 423.15))


def test_a_model_changes_one_key_of_the_library_and_keeps_the_others() -> None:
    entries = {"polyester film": entry(lowest="-100 degC", note="supplier")}
    facts = material("polyester film", entries)
    assert facts.lowest == pytest.approx(173.15)
    assert facts.highest == library()["polyester film"].highest
    assert facts.source.startswith("the model states lowest; supplier; ")


def test_a_highest_temperature_of_the_model_holds_for_a_short_time_too() -> None:
    entries = {"polyimide film": entry(highest="200 degC")}
    assert material("polyimide film", entries).highest_short is None


def test_a_part_changes_the_material_of_the_library_by_its_own_name() -> None:
    entries = {"engine/titanium foil": entry(highest="400 degC")}
    facts = material("engine/titanium foil", entries)
    assert facts.highest == pytest.approx(673.15)
    assert facts.lowest == library()["titanium foil"].lowest


def test_a_new_material_may_have_one_property_alone() -> None:
    facts = material("paper", {"paper": entry(conductivity="0.05 W/m/K")})
    assert (facts.conductivity, facts.density, facts.lowest) == (0.05, None, None)
    assert facts.stated == ("conductivity",)


def test_a_number_of_the_model_replaces_the_curve_of_the_library() -> None:
    facts = material("lead", {"lead": entry(conductivity="34 W/m/K")})
    assert (facts.conductivity, facts.conductivity_curve) == (34.0, None)
    assert facts.conductivity_by_temperature is None
    assert facts.specific_heat_curve is library()["lead"].specific_heat_curve


POINTS = {"temperature": ("100 K", "300 K"), "value": ("10 W/m/K", "30 W/m/K")}


def test_points_of_the_model_replace_the_curve_of_the_library() -> None:
    facts = material("lead", {"lead": Material.model_validate({"conductivity": POINTS})})
    assert facts.conductivity_curve is not None
    assert facts.conductivity_curve.value(np.array([200.0])) == pytest.approx([20.0])
    assert facts.conductivity == 30.0
    assert facts.conductivity_by_temperature == "straight lines 100:10 300:30"


def test_equal_points_are_one_curve_so_that_their_links_are_summed_together() -> None:
    first = material("a", {"a": Material.model_validate({"conductivity": POINTS})})
    second = material("b", {"b": Material.model_validate({"conductivity": POINTS})})
    assert first.conductivity_curve is second.conductivity_curve


def test_a_material_of_the_library_is_made_once() -> None:
    assert material("lead", {}) is material("lead", {})


def test_a_blanket_needs_a_material_that_says_where_it_may_be_used() -> None:
    with pytest.raises(InputError) as caught:
        components(model_of(BLANKET.replace("NAME", "epoxy resin")))
    (problem,) = caught.value.problems
    assert problem.path == "blankets.tank.made_of.outer"
    assert "'epoxy resin' needs `lowest` and `highest`" in problem.message


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("poly 4 300: 1", "expected fit, ratio or table, got 'poly'"),
        ("fit 300 4: 1", "expected two rising temperatures before the colon, got '300 4'"),
        ("fit 4 300 1 2", "expected two rising temperatures before the colon"),
        ("fit 4 300:", "expected one or more coefficients, got 0"),
        ("fit 4 300: 1 x", "expected a number, got 'x'"),
        ("fit 4 300: inf", "expected a number, got 'inf'"),
        ("ratio 4 300: 1 2", "expected 9 coefficients, got 2"),
        ("table 100", "expected a temperature and a value as '100:302', got '100'"),
        ("table 100:5", "two or more points"),
        ("table 200:5 100:6", "must increase"),
        ("fit 4 300: 1; fit 200 400: 1", "must follow each other"),
    ],
)
def test_a_cell_that_makes_no_curve_is_told(text: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        cell(text)


def test_a_wrong_cell_of_the_table_is_told_with_its_place() -> None:
    words = {"conductivity_by_temperature": "table 1:2", "specific_heat_by_temperature": ""}
    row = Row(name="tin", source="from memory", words=words, numbers={}, line=7)
    place = "materials.csv, line 7, row 'tin', column 'conductivity_by_temperature'"
    with pytest.raises(ValueError, match=place):
        facts_of(row)


def test_a_change_must_not_turn_the_temperatures_round() -> None:
    with pytest.raises(ValueError, match=r"not in their order: lowest 23\.15 K, highest 20 K"):
        material("polyester film", {"polyester film": entry(highest="20 K")})


def test_an_unknown_name_is_told_with_the_nearest_one() -> None:
    with pytest.raises(ValueError, match="did you mean 'polyimide film'"):
        material("polyimid film", {})


def test_an_unknown_material_of_a_blanket_is_told_at_its_place() -> None:
    with pytest.raises(InputError) as caught:
        model_of(BLANKET.replace("NAME", "polyimid film"))
    (problem,) = caught.value.problems
    assert problem.path == "blankets.tank.made_of.outer"
    assert "polyimide film" in problem.message
