"""Materials: what the library holds, what a model changes, and what is refused."""

from __future__ import annotations

import pytest

from tests.small_models import model_of
from thermnet.errors import InputError
from thermnet.model.kinds.material import MATERIALS, Material, library, material
from thermnet.model.library.rows import HOW_KNOWN

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
    assert 0.0 < facts.lowest < facts.highest
    assert facts.highest_short is None or facts.highest < facts.highest_short


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


def test_a_new_material_needs_both_ends() -> None:
    with pytest.raises(ValueError, match="'paper' is not in the library and needs `highest`"):
        material("paper", {"paper": entry(lowest="0 degC")})


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
