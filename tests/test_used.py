"""Rows of the library that a model uses, wherever an entry names them."""

from __future__ import annotations

from tests.small_models import model_of
from thermnet.model.kinds import SECTIONS, TABLES
from thermnet.model.read import parse
from thermnet.text.fields import Words
from thermnet.text.rows import columns_of
from thermnet.text.shapes import ByName, Either, Fixed, Leaf, Many, Record, Shape, keys_of
from thermnet.used import inclinations_used, names, rows_of_entries, rows_used, tables

TEXT = """
thermnet: 1
temperatures: degC
nodes:
  box: {material: copper, mass: 1 kg}
  plate: {capacity: 100 J/K, melting: {material: n-octadecane, mass: 0.1 kg}}
boundaries:
  sink: {temperature: 0}
  space: {temperature: 3 K}
conductors:
  strut: {from: box, to: plate, material: titanium 6Al-4V, bar: {area: 1e-4, length: 0.1}}
joints:
  feet:
    from: plate
    to: sink
    fasteners: {size: screw M4, count: 2}
    contact: {of: rubber, area: 0.01}
contacts:
  rubber: {nominal: 100, note: own}
surfaces:
  plate: {node: plate, area: 0.1, finish: white paint}
blankets:
  box:
    from: box
    to: space
    area: 0.1
    layers: {count: 10, density: 2000, separator: silk net}
    made_of: {outer: polyimide film}
cases:
  one: {life: beginning of life}
  two: {extends: one, set: {surfaces.plate.finish: black paint}}
"""


def test_rows_are_found_in_keys_below_keys_and_in_what_cases_change() -> None:
    used = rows_used(model_of(TEXT))
    assert {table: set(rows) for table, rows in used.items()} == {
        "materials": {"copper", "n-octadecane", "titanium 6Al-4V", "polyimide film"},
        "fasteners": {"screw M4"},
        "contacts": {"rubber"},
        "finishes": {"white paint", "black paint"},
        "separators": {"silk net"},
    }


def test_a_case_alone_has_only_the_rows_that_it_uses() -> None:
    assert set(rows_used(model_of(TEXT), ["one"])["finishes"]) == {"white paint"}
    assert set(rows_used(model_of(TEXT), ["two"])["finishes"]) == {"black paint"}


FLOWN = """
thermnet: 1
temperatures: K
nodes:
  box: {capacity: 100 J/K}
boundaries:
  space: {temperature: 3}
surfaces:
  box: {node: box, area: 0.1, finish: white paint, shaded: true}
orbits:
  low: {body: Earth, altitude: 500 km, inclination: 51.6 deg, beta: 20 deg}
cases:
  base: {orbit: low, environment: mean, life: beginning of life}
  warm: {extends: base, environment: hot}
"""


def test_an_environment_counts_of_a_case_that_has_its_orbit_from_another() -> None:
    used = rows_used(model_of(FLOWN))
    assert used["environments"]["hot"] == ("cases.warm.environment",)


def test_a_row_knows_the_paths_that_name_it() -> None:
    used = rows_used(model_of(TEXT))
    assert used["materials"]["n-octadecane"] == ("nodes.plate.melting.material",)
    assert used["fasteners"]["screw M4"] == ("joints.feet.fasteners.size",)


def test_an_entry_knows_the_rows_that_it_stands_on() -> None:
    of = rows_of_entries(rows_used(model_of(TEXT)))
    assert of["joints.feet"] == ("rubber", "screw M4") or of["joints.feet"] == (
        "screw M4",
        "rubber",
    )


def references(shape: Shape, path: str) -> list[tuple[str, tuple[str, ...]]]:
    """The paths at which a row of the library may be named, by the annotations of an entry."""
    if isinstance(shape, Leaf):
        kind = shape.kind
        return [(path, kind.sections)] if isinstance(kind, Words) and kind.also else []
    if isinstance(shape, Record):
        return [
            each for key, known in keys_of(shape.entry).items()
            for each in references(known.shape, f"{path}.{key}")
        ]  # fmt: skip
    if isinstance(shape, Many | ByName):
        return references(shape.item, f"{path}.*")
    if isinstance(shape, Either | Fixed):
        parts = shape.members if isinstance(shape, Either) else shape.items
        return [each for part in parts for each in references(part, path)]
    return []


def test_every_table_of_the_library_is_named_by_some_key() -> None:
    """So that nothing of the library can be used without being told."""
    named = {
        section
        for name, entry in SECTIONS.items()
        for _, sections in references(Record(entry), name)
        for section in sections
    }
    assert set(tables()) - named == set()


def test_no_column_of_a_whole_table_names_rows_of_the_library() -> None:
    """They are looked for in single entries only."""
    for section, table in TABLES.items():
        assert not columns_of(table).leads_to & set(tables()), section


def test_lists_mappings_parts_and_defaults_are_looked_into() -> None:
    text = """
thermnet: 1
temperatures: degC
nodes:
  box: {capacity: 900 J/K}
boundaries:
  sink: {temperature: 0}
  space: {temperature: 3 K}
links:
  box: {from: box, to: sink, conductance: 1 W/K}
  camera: {from: box, to: camera/mount, conductance: 1 W/K}
parts:
  camera: {file: camera.yaml}
orbits:
  low: {altitude: 500 km, beta: 0}
enclosures:
  bay:
    faces:
      box: {node: box, area: 0.1, finish: black paint}
      wall: {node: sink, area: 0.1, finish: white paint}
    views:
      across: {from: box, to: wall, factor: 0.5}
    rest: wall
cases:
  one: {life: end of life}
"""
    part = """
thermnet: 1
temperatures: degC
nodes:
  body: {material: our copper, mass: 1 kg}
  lens: {material: copper, mass: 1 kg}
materials:
  our copper: {density: 8900, specific_heat: 385}
links:
  body: {from: body, to: lens, conductance: 1 W/K}
  mount: {from: body, to: mount, conductance: 1 W/K}
interfaces:
  mount: {temperature: 0}
"""
    used = rows_used(parse({"model.yaml": text, "camera.yaml": part}, "model.yaml"))
    assert set(used["materials"]) == {"camera/our copper", "copper"}
    assert used["materials"]["copper"] == ("nodes.camera/lens.material",)
    assert used["finishes"]["black paint"] == ("enclosures.bay.faces.box.finish",)
    assert used["bodies"] == {"Earth": ("orbits.low.body",)}


AROUND = """
thermnet: 1
temperatures: K
boundaries:
  space: {temperature: 3}
orbits:
  around Earth: {altitude: 500 km, beta: 0, inclination: 51 deg}
  around Mars: {body: Mars, altitude: 500 km, beta: 0, inclination: 51 deg}
  cruise: {body: none, sun_distance: 1.2}
environments:
  bright: {albedo: 0.5, infrared: 250}
cases:
  one: {orbit: around Mars, environment: hot}
"""


def test_a_published_environment_counts_where_its_numbers_are_taken() -> None:
    on_mars = rows_used(model_of(AROUND))
    assert "environments" not in on_mars
    text = AROUND + "  two: {orbit: around Earth, environment: hot}\n"
    used = rows_used(model_of(text))
    assert used["environments"] == {"hot": ("cases.two.environment",)}
    assert inclinations_used(model_of(text)) == {"hot": {"two": ("medium",)}}


def test_an_environment_of_the_model_counts_about_any_body() -> None:
    text = AROUND.replace("environment: hot", "environment: bright")
    assert rows_used(model_of(text))["environments"] == {"bright": ("cases.one.environment",)}
    of_both = AROUND.replace("bright: {", "hot: {").replace("around Mars, e", "around Earth, e")
    assert rows_used(model_of(of_both))["environments"] == {"hot": ("cases.one.environment",)}
    assert inclinations_used(model_of(of_both)) == {}


def test_words_that_stand_for_no_row_are_none() -> None:
    used = rows_used(model_of(AROUND))
    assert set(used["bodies"]) == {"Earth", "Mars"} <= names("bodies")
