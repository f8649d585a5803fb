"""The tables of the library: how strictly they are read, and how bodies and finishes use them."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pytest

from thermnet.model.kinds import body as bodies
from thermnet.model.kinds import contact as contacts
from thermnet.model.kinds import environment as environments
from thermnet.model.kinds import fastener as fasteners
from thermnet.model.kinds import finish as finishes
from thermnet.model.kinds import gas as gases
from thermnet.model.kinds import material as materials
from thermnet.model.kinds import separator as separators
from thermnet.model.kinds.body import Body, body
from thermnet.model.kinds.finish import Finish, absorptance, emittance, finish
from thermnet.model.library.rows import HOW_KNOWN, Column, Row, by_name, packaged, read_rows

COLUMNS = {"radius": Column(unit="m", needed=True, least=1.0), "albedo": Column(greatest=1.0)}
HEAD = "name,radius [m],albedo,source\n"
EARTH = body("Earth", {})
MOON = body("Moon", {})


def rows(text: str) -> tuple[Row, ...]:
    return read_rows(text, "made.csv", COLUMNS)


# How strictly a table is read


def test_an_empty_cell_is_no_number() -> None:
    (row,) = rows(HEAD + "Rock,1000,,invented: from memory\n")
    assert row.numbers == {"radius": 1000.0}
    assert row.number("albedo") is None
    assert (row.name, row.source, row.line) == ("Rock", "invented: from memory", 2)


def test_columns_stand_in_any_order() -> None:
    (row,) = rows("source,albedo,name,radius [m]\nread,0.1,Rock,1000\n")
    assert row.numbers == {"radius": 1000.0, "albedo": 0.1}


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("name,radius [km],albedo,source\n", "made.csv, line 1: unknown column 'radius [km]'"),
        ("name,radius [m],colour,source\n", "made.csv, line 1: unknown column 'colour'"),
        ("name,radius [m],source\n", "made.csv, line 1: missing column 'albedo'"),
        ("name,radius [m],albedo,albedo,source\n", "line 1: column 'albedo' is there twice"),
        ("", "made.csv, line 1: missing column"),
        (HEAD + "Rock,1000,0.1\n", "made.csv, line 2: 3 cells under 4 columns"),
        (HEAD + "Rock,1000,0.1,\n", "line 2, row 'Rock', column 'source': every row says where"),
        (HEAD + "Rock,1000,0.1,a book\n", "row 'Rock', column 'source': says not how"),
        (HEAD + ",1000,0.1,read\n", "line 2, row '', column 'name': every row needs a name"),
        (HEAD + "Rock,,0.1,read\n", "row 'Rock', column 'radius': a number is needed here"),
        (HEAD + "Rock,big,0.1,read\n", "column 'radius': expected a number, got 'big'"),
        (HEAD + "Rock,0,0.1,read\n", "column 'radius': expected a number from 1 to inf, got '0'"),
        (HEAD + "Rock,1000,1.2,read\n", "'albedo': expected a number from -inf to 1, got '1.2'"),
        (HEAD + "Rock,nan,0.1,read\n", "column 'radius': expected a number from 1 to inf"),
        (HEAD + 'Rock,"1000,0.1,read\n', "made.csv, line 2: unexpected end of data"),
    ],
)
def test_a_faulty_table_is_refused_with_row_and_column(text: str, message: str) -> None:
    with pytest.raises(ValueError, match=r"made\.csv") as caught:
        rows(text)
    assert message in str(caught.value)


def test_a_name_comes_once() -> None:
    with pytest.raises(ValueError, match=r"made\.csv, line 3: 'Rock' is there already"):
        by_name(rows(HEAD + "Rock,1000,,read\nRock,2000,,read\n"), "made.csv")


TABLES: dict[str, tuple[Mapping[str, Column], tuple[str, ...]]] = {
    bodies.FILE: (bodies.COLUMNS, ()),
    contacts.FILE: (contacts.COLUMNS, ()),
    environments.FILE: (environments.COLUMNS, environments.WORDS),
    fasteners.FILE: (fasteners.COLUMNS, ()),
    finishes.FILE: (finishes.COLUMNS, ()),
    gases.FILE: (gases.COLUMNS, ()),
    materials.FILE: (materials.COLUMNS, materials.WORDS),
    separators.FILE: (separators.COLUMNS, ("divisor",)),
}


@pytest.mark.parametrize("file", TABLES)
def test_every_row_of_the_library_says_where_it_comes_from_and_how_that_is_known(
    file: str,
) -> None:
    columns, words = TABLES[file]
    found = read_rows(packaged(file), file, columns, words)
    assert found
    for row in found:
        assert any(tag in row.source for tag in HOW_KNOWN)


@pytest.mark.parametrize("file", TABLES)
def test_every_row_has_a_name_that_a_path_can_hold(file: str) -> None:
    # a model changes a row by its name; '.' and '/' part names, and '*' stands for any
    columns, words = TABLES[file]
    for row in read_rows(packaged(file), file, columns, words):
        assert not set("./*") & set(row.name)


# Bodies


def test_the_library_holds_the_bodies_that_are_flown_around() -> None:
    known = ("Sun", "Mercury", "Venus", "Earth", "Moon", "Mars", "Jupiter", "Saturn")
    assert known == bodies.BODIES
    for name in bodies.BODIES:
        facts = body(name, {})
        assert facts.radius > 0.0
        assert facts.gravity > 0.0
        if name != "Sun":
            least, greatest = (
                facts.stated("least_sun_distance"),
                facts.stated("greatest_sun_distance"),
            )
            assert least < facts.stated("sun_distance") < greatest
            assert 0.0 < facts.stated("albedo") < 1.0
            assert facts.infrared_at(facts.stated("sun_distance"))[0] > 0.0


def test_a_model_changes_only_the_keys_it_gives() -> None:
    changed = body("Earth", {"Earth": Body(albedo=0.35, note="measured")})
    assert changed.albedo == 0.35
    assert changed.radius == EARTH.radius
    assert changed.source.startswith("the model states albedo; measured; ")
    assert EARTH.source in changed.source


def test_an_entry_for_another_body_changes_nothing() -> None:
    assert body("Earth", {"Moon": Body(albedo=0.35)}) == EARTH


def test_uniform_infrared_takes_the_place_of_day_and_night() -> None:
    changed = body("Moon", {"Moon": Body(infrared=400.0)})
    assert changed.infrared_at(0.5) == (400.0, 400.0)


def test_day_and_night_take_the_place_of_uniform_infrared() -> None:
    changed = body("Venus", {"Venus": Body(day_infrared=200.0, night_infrared=100.0)})
    mean = changed.stated("sun_distance")
    assert changed.infrared_at(mean) == (200.0, 100.0)
    assert changed.infrared_at(mean / math.sqrt(2.0)) == pytest.approx((400.0, 100.0))


def test_the_day_side_never_emits_less_than_the_night_side() -> None:
    assert MOON.infrared_at(100.0) == (5.2, 5.2)


def test_a_new_body_needs_radius_and_gravity() -> None:
    with pytest.raises(ValueError, match="'Ceres' is not in the library and needs `radius`"):
        body("Ceres", {"Ceres": Body(gravity=6.3e10)})
    with pytest.raises(ValueError, match="needs `gravity`"):
        body("Ceres", {"Ceres": Body(radius=4.7e5)})


def test_a_new_body_keeps_its_mean_distance_in_all_seasons() -> None:
    facts = body("Ceres", {"Ceres": Body(radius=4.7e5, gravity=6.3e10, sun_distance=2.77)})
    assert facts.least_sun_distance == facts.greatest_sun_distance == 2.77
    with pytest.raises(ValueError, match="nothing states `albedo` of the body 'Ceres'"):
        facts.stated("albedo")


def test_an_unknown_body_is_named_with_the_nearest() -> None:
    with pytest.raises(ValueError, match="unknown body 'Erth'; did you mean 'Earth'"):
        body("Erth", {})


@pytest.mark.parametrize(
    ("keys", "message"),
    [
        ({"infrared": 200.0, "day_infrared": 300.0}, "give either `infrared`"),
        ({"day_infrared": 10.0, "night_infrared": 300.0}, "must not emit more than the day"),
        ({"sun_distance": 1.0, "least_sun_distance": 1.1}, "must not exceed the mean distance"),
        ({"sun_distance": 1.0, "greatest_sun_distance": 0.9}, "must not be less than the mean"),
        ({"least_sun_distance": 1.0, "greatest_sun_distance": 0.9}, "less than `least_sun_"),
        ({"radius": 0.0}, "must be above 0 m"),
        ({"albedo": 1.1}, "must be at most 1"),
    ],
)
def test_keys_of_a_body_that_contradict_each_other_are_refused(
    keys: Mapping[str, float], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        Body.model_validate(keys)


@pytest.mark.parametrize(
    ("name", "keys", "message"),
    [
        ("Venus", {"night_infrared": 10.0}, "emits alike everywhere"),
        ("Venus", {"day_infrared": 200.0}, "needs both `day_infrared` and `night_infrared`"),
        ("Earth", {"sun_distance": 2.0}, "do not go together"),
    ],
)
def test_keys_that_contradict_the_library_are_refused(
    name: str, keys: Mapping[str, float], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        body(name, {name: Body.model_validate(keys)})


# Finishes


def test_a_finish_ages() -> None:
    facts = finish("white paint", {})
    assert absorptance(facts, "beginning of life") < absorptance(facts, "end of life")
    assert emittance(facts, None) == emittance(facts, "end of life")


def test_a_finish_that_ages_needs_a_life() -> None:
    with pytest.raises(ValueError, match="say `life` in the case"):
        absorptance(finish("white paint", {}), None)


def test_a_finish_whose_ageing_is_not_known_has_no_end_of_life() -> None:
    facts = finish("polished aluminium", {})
    assert absorptance(facts, None) == absorptance(facts, "beginning of life") == 0.24
    with pytest.raises(ValueError, match="not known to the library; give `absorptance_end`"):
        absorptance(facts, "end of life")


def test_a_finish_of_the_model_holds_all_life_unless_it_says_otherwise() -> None:
    own = {"white paint": Finish(absorptance=0.18, note="sample 3")}
    facts = finish("white paint", own)
    assert absorptance(facts, "end of life") == absorptance(facts, None) == 0.18
    assert emittance(facts, None) == emittance(finish("white paint", {}), None)
    assert facts.source.startswith("the model states absorptance; sample 3; ")


def test_a_finish_of_the_model_may_change_the_end_of_life_alone() -> None:
    facts = finish("polished aluminium", {"polished aluminium": Finish(absorptance_end=0.3)})
    assert absorptance(facts, "beginning of life") == 0.24
    assert absorptance(facts, "end of life") == 0.3


def test_a_new_finish_needs_both_properties() -> None:
    with pytest.raises(ValueError, match="'red' is not in the library and needs `emittance`"):
        finish("red", {"red": Finish(absorptance=0.5)})
    with pytest.raises(ValueError, match="a finish states `absorptance` or `emittance`"):
        Finish(note="red")


def test_unknown_finishes_and_lives_are_named() -> None:
    with pytest.raises(ValueError, match="unknown finish 'whit paint'; did you mean 'white paint'"):
        finish("whit paint", {})
    with pytest.raises(ValueError, match="unknown life 'old'; expected 'beginning of life'"):
        absorptance(finish("white paint", {}), "old")


def test_no_finish_of_the_library_absorbs_less_as_it_ages() -> None:
    for name in finishes.FINISHES:
        facts = finish(name, {})
        assert facts.absorptance_end is None or facts.absorptance_end >= facts.absorptance


def test_names_of_the_library_need_no_quotes_in_a_file() -> None:
    assert not [name for name in finishes.FINISHES + bodies.BODIES if set(name) & set(",:#{}[]'\"")]


def test_a_finish_of_a_part_changes_that_of_the_library_in_the_keys_given() -> None:
    """Within its host it is called `part/name`; what it does not state is the library's."""
    name = "white paint"
    found = finish(f"camera/{name}", {f"camera/{name}": Finish(absorptance=0.5)})
    assert (found.absorptance, found.emittance) == (0.5, finish(name, {}).emittance)
    with pytest.raises(ValueError, match="unknown finish"):
        finish(f"camera/{name}", {})
