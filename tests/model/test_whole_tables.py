"""Whole tables as entries: the network they make, how cases change them, and what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from thermnet.errors import InputError
from thermnet.model.assemble import assemble, initial_temperatures
from thermnet.model.model import Model
from thermnet.model.paths import apply_case, value, vary
from thermnet.model.read import load, parse
from thermnet.network.network import Network
from thermnet.physics.constants import STEFAN_BOLTZMANN

MODEL = """\
thermnet: 1
temperatures: degC
nodes:
  deck: {table: mesh.npz, initial: 20, group: structure}
  box: {capacity: 900 J/K, initial: 30}
boundaries:
  space: {temperature: 3 K}
links:
  deck mesh: {table: mesh.npz, nodes: deck}
  bolts: {from: box, to: deck 2, conductance: 2 W/K}
radiation:
  sky: {table: sky.npz, nodes: deck}
loads:
  sunlight: {table: loads.npz, nodes: deck, schedule: half}
schedules:
  half: {time: [0 s, 50 s], value: [1, 0], shape: steps, period: 100 s}
heaters:
  rim: {node: deck 0, sensor: box, power: 8 W, on_below: 10, off_above: 13}
components:
  hinge: {at: deck 1, operating: [-10, 40]}
cases:
  mean: {solve: steady}
  dim: {solve: steady, set: {loads.sunlight.scale: {scale: 0.5}, "radiation.*.scale": 2}}
  cooling: {solve: transient, duration: 10 s, initial: given}
"""

ARRAYS: dict[str, dict[str, object]] = {
    "mesh.npz": {
        "capacity": [10.0, 20.0, 0.0],
        "from": [0, 1],
        "to": [1, 2],
        "conductance": [0.5, 0.25],
    },
    "sky.npz": {"from": [0, 1, 2], "to": "space", "area": [0.1, 0.2, 0.3]},
    "loads.npz": {"node": [2, 0], "heat": [4.0, 6.0]},
}

# The same by hand, entry by entry: what tables make must not differ from it.
ENTRY_BY_ENTRY = (
    MODEL.replace(
        "  deck: {table: mesh.npz, initial: 20, group: structure}\n",
        "  deck 0: {capacity: 10, initial: 20}\n"
        "  deck 1: {capacity: 20, initial: 20}\n"
        "  deck 2: {massless: true, initial: 20}\n",
    )
    .replace(
        "  deck mesh: {table: mesh.npz, nodes: deck}\n",
        "  a: {from: deck 0, to: deck 1, conductance: 0.5}\n"
        "  b: {from: deck 1, to: deck 2, conductance: 0.25}\n",
    )
    .replace(
        "  sky: {table: sky.npz, nodes: deck}\n",
        "  a: {from: deck 0, to: space, area: 0.1}\n"
        "  b: {from: deck 1, to: space, area: 0.2}\n"
        "  c: {from: deck 2, to: space, area: 0.3}\n",
    )
    .replace(
        "  sunlight: {table: loads.npz, nodes: deck, schedule: half}\n",
        "  a: {node: deck 2, heat: 4 W, schedule: half}\n"
        "  b: {node: deck 0, heat: 6 W, schedule: half}\n",
    )
    .partition("  dim:")[0]
)

TEXT = """\
thermnet: 1
temperatures: degC
nodes:
  strip:
    table: |
      name, capacity [kJ/K], initial
      # from the root outwards
      root, 0.012, 20

      tip, 9 J/K, 293.15 K
boundaries:
  wall: {temperature: 20}
links:
  strip:
    table: |
      from, to, conductance [mW/K]
      wall, root, 800
      "root", tip, 350
cases:
  warm: {solve: steady}
"""


def written(
    folder: Path, text: str = MODEL, arrays: dict[str, dict[str, object]] | None = None
) -> Path:
    """A model file with its arrays beside it."""
    for name, content in (ARRAYS if arrays is None else arrays).items():
        np.savez(folder / name, **{key: np.asarray(each) for key, each in content.items()})
    path = folder / "model.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def with_array(file: str, /, **arrays: object) -> dict[str, dict[str, object]]:
    """The arrays with others in one file; a `from_` is a `from`, None takes an array away."""
    content = ARRAYS[file] | {key.rstrip("_"): each for key, each in arrays.items()}
    return ARRAYS | {file: {key: each for key, each in content.items() if each is not None}}


def messages(error: InputError) -> list[str]:
    """Path and message of every problem."""
    return [f"{problem.path}: {problem.message}" for problem in error.problems]


def refused(folder: Path, text: str = MODEL, **arrays: object) -> list[str]:
    """What is wrong with the model when some arrays of one file, `file`, are others."""
    name = str(arrays.pop("file", "mesh.npz"))
    with pytest.raises(InputError) as caught:
        load(written(folder, text, with_array(name, **arrays)))
    return messages(caught.value)


def refused_text(old: str, new: str) -> list[str]:
    """What is wrong with the model of text when it says something else, with the places."""
    assert old in TEXT
    with pytest.raises(InputError) as caught:
        parse({"strip.yaml": TEXT.replace(old, new)}, "strip.yaml")
    return [f"{problem.place}: {problem.message}" for problem in caught.value.problems]


def same(one: Network, other: Network) -> None:
    """Assert that two networks are the same but for what their parts come from."""
    assert sorted(one.names) == sorted(other.names)
    place = [other.names.index(name) for name in one.names]
    np.testing.assert_array_equal(one.capacity, other.capacity[place])
    for ours, theirs, ends, size in (
        (one.links, other.links, ("a", "b"), "strength"),
        (one.heats, other.heats, ("node",), "amplitude"),
    ):
        rows = []
        for network, group in ((one, ours), (other, theirs)):
            names = [[network.names[k] for k in getattr(group, end)] for end in ends]
            rows.append(sorted(zip(*names, getattr(group, size).tolist(), strict=True)))
        assert rows[0] == rows[1]


def test_tables_make_the_network_that_entries_make(tmp_path: Path) -> None:
    same(
        assemble(load(written(tmp_path)), "mean"),
        assemble(parse({"m.yaml": ENTRY_BY_ENTRY}, "m.yaml"), "mean"),
    )


def test_all_rows_of_a_table_have_the_path_of_their_entry(tmp_path: Path) -> None:
    network = assemble(load(written(tmp_path)), "mean")
    origins = {network.origins[k] for k in network.links.origin}
    assert origins == {"links.deck mesh", "links.bolts", "radiation.sky"}
    assert network.node_origins[:3] == ("nodes.deck",) * 3


def test_a_case_changes_the_scale_of_a_table(tmp_path: Path) -> None:
    model = load(written(tmp_path))
    dim = apply_case(model, "dim")
    assert value(dim, "loads.sunlight.scale") == 0.5
    before, after = assemble(model, "mean"), assemble(dim)
    np.testing.assert_allclose(after.heats.amplitude, before.heats.amplitude * 0.5, rtol=1e-15)
    radiating = after.links.strength[after.links.groups[1] :]
    expected = 2.0 * STEFAN_BOLTZMANN * np.array([0.1, 0.2, 0.3])
    np.testing.assert_allclose(radiating, expected, rtol=1e-15)


def test_an_override_changes_the_scale_and_shares_the_arrays(tmp_path: Path) -> None:
    model = load(written(tmp_path))
    stiff = vary(model, {"links.deck mesh.scale": 3.0})
    np.testing.assert_allclose(assemble(stiff, "mean").links.strength[:2], [1.5, 0.75])
    assert value(stiff, "links.deck mesh.table") is value(model, "links.deck mesh.table")


def test_nodes_of_a_table_start_where_it_says(tmp_path: Path) -> None:
    start = initial_temperatures(load(written(tmp_path)))
    assert start == {"deck 0": 293.15, "deck 1": 293.15, "deck 2": 293.15, "box": 303.15}
    text = MODEL.replace("initial: 20, group", "group")
    arrays = with_array("mesh.npz", initial=[280.0, 281.0, 282.0])
    start = initial_temperatures(load(written(tmp_path, text, arrays)))
    assert [start[f"deck {k}"] for k in range(3)] == [280.0, 281.0, 282.0]


def test_a_start_is_asked_for_where_a_case_needs_one(tmp_path: Path) -> None:
    text = MODEL.replace("initial: 20, group", "group")
    message = "missing key 'initial': case 'cooling' starts from given temperatures"
    assert refused(tmp_path, text) == [f"nodes.deck: {message}"]


def test_names_counts_and_groups_include_the_rows(tmp_path: Path) -> None:
    model = load(written(tmp_path))
    assert sorted(model.names()["nodes"]) == ["box", "deck 0", "deck 1", "deck 2"]
    assert model.counts()["nodes"] == 4
    assert model.counts()["links"] == 3
    assert model.node_groups() == {f"deck {k}": "structure" for k in range(3)}


def test_an_array_of_names_names_the_nodes(tmp_path: Path) -> None:
    text = MODEL.replace("deck 0", "rim").replace("deck 1", "mid").replace("deck 2", "hub")
    arrays = with_array("mesh.npz", name=["rim", "mid", "hub"])
    arrays["sky.npz"] = {"from": ["hub", "mid", "rim"], "to": "space", "area": 0.1}
    network = assemble(load(written(tmp_path, text, arrays)), "mean")
    assert network.names[:3] == ("rim", "mid", "hub")
    assert [network.names[k] for k in network.links.a[-3:]] == ["hub", "mid", "rim"]


def test_a_model_with_arrays_is_texts_that_give_it_again(tmp_path: Path) -> None:
    model = load(written(tmp_path))
    again = parse(model.sources, model.file)
    assert again.hash() == model.hash()
    same(assemble(again, "mean"), assemble(model, "mean"))


def test_other_arrays_give_another_hash(tmp_path: Path) -> None:
    first = load(written(tmp_path)).hash()
    arrays = with_array("loads.npz", heat=[4.0, 6.5])
    assert load(written(tmp_path, arrays=arrays)).hash() != first


def test_rows_of_text_make_nodes_and_links() -> None:
    model: Model = parse({"strip.yaml": TEXT}, "strip.yaml")
    network = assemble(model, "warm")
    assert network.names == ("root", "tip", "wall")
    np.testing.assert_allclose(network.capacity, [12.0, 9.0, 0.0], rtol=1e-15)
    np.testing.assert_allclose(network.links.strength, [0.8, 0.35], rtol=1e-15)
    assert initial_temperatures(model) == {"root": 293.15, "tip": 293.15}


def test_rows_of_a_csv_file_count_as_those_of_a_block(tmp_path: Path) -> None:
    text = TEXT.partition("links:")[0] + (
        "links:\n  strip: {table: links.csv, nodes: strip}\ncases:\n  warm: {solve: steady}\n"
    )
    (tmp_path / "links.csv").write_text("from,to,conductance [mW/K]\nwall,root,800\nroot,tip,350\n")
    by_name = assemble(load(written(tmp_path, text, {})), "warm")
    same(by_name, assemble(parse({"strip.yaml": TEXT}, "strip.yaml"), "warm"))
    (tmp_path / "links.csv").write_text("from,to,conductance [mW/K]\nwall,0,800\nroot,1,350\n")
    same(assemble(load(tmp_path / "model.yaml"), "warm"), by_name)
    (tmp_path / "links.csv").write_text("from,to,conductance\nwall,0,0.8\nroot,tip,0.35\n")
    with pytest.raises(InputError, match=r"csv:2:6: links.strip: expected the name of a node"):
        load(tmp_path / "model.yaml")


@pytest.mark.parametrize(
    ("arrays", "message"),
    [
        (
            {"capacity": [10.0, -1.0, np.nan]},
            ["nodes.deck: mesh.npz, row 1, capacity: must be at least 0 J/K, got -1.0 J/K",
             "nodes.deck: mesh.npz, row 2, capacity: expected a finite number, got nan"],
        ),
        (
            {"capacity": [[1.0], [2.0], [3.0]]},
            ["nodes.deck: mesh.npz: array 'capacity': expected 3 values in a row"],
        ),
        (
            {"capacity": ["1", "2", "3"]},
            ["nodes.deck: mesh.npz: array 'capacity': expected numbers, got <U1"],
        ),
        (
            {"initial": [280.0, 281.0]},
            ["nodes.deck: mesh.npz: array 'initial': expected 3 values in a row"],
        ),
        ({"name": ["a", "b.c", "a"]},
         ["nodes.deck: mesh.npz, row 1, name: a name cannot hold '.', which paths need",
          "nodes.deck: mesh.npz, row 2, name: 'a' is given twice"]),
        ({"name": ["box", "mid", "hub"]}, ["nodes.deck: 'box' is given twice; first at "]),
        ({"capacity": None}, ["nodes.deck: mesh.npz: no array 'capacity' [J/K]"]),
        ({"initail": [1.0, 1.0, 1.0]},
         ["nodes.deck: mesh.npz: unknown array 'initail'; did you mean 'initial'?"]),
        ({"conductance": None},
         ["links.deck mesh: mesh.npz: no array 'conductance' [W/K]; expected one of: from, to"]),
        ({"to": [1, 3]},
         ["links.deck mesh: mesh.npz, row 1, to: no row 3: 'deck' ends with row 2"]),
        ({"to": [1, -1]},
         ["links.deck mesh: mesh.npz, row 1, to: no row -1: 'deck' ends with row 2"]),
        ({"to": [1, 1]}, ["links.deck mesh: mesh.npz, row 1, to: joins row 1 to itself"]),
        ({"to": ["deck 1", "deck 1"]},
         ["cases.mean: link 'links.deck mesh' joins 'deck 1' to itself"]),
        ({"to": ["deck 1", "dekc 2"]},
         ["links.deck mesh: mesh.npz, row 1, to: unknown node or boundary 'dekc 2'; did you"]),
        ({"to": [1.0, 2.0]},
         ["links.deck mesh: mesh.npz: array 'to': expected text, or whole numbers"]),
    ],
    ids=["values", "shape", "type", "length", "names", "taken", "missing", "misspelt", "left out",
         "beyond", "negative", "itself", "itself by name", "unknown", "floats"],
)  # fmt: skip
def test_every_bad_row_is_told(
    arrays: dict[str, object], message: list[str], tmp_path: Path
) -> None:
    found = refused(tmp_path, **arrays)
    for each in message:
        assert any(line.startswith(each) for line in found), found


def test_of_many_alike_rows_three_are_shown(tmp_path: Path) -> None:
    found = refused(tmp_path, file="sky.npz", from_=np.arange(9) % 3, area=np.full(9, -1.0))
    begin = "radiation.sky: sky.npz, row"
    assert found == [
        "radiation.sky: 6 more such problems in the column 'area'",
        *(f"{begin} {k}, area: must be above 0 m^2, got -1.0 m^2" for k in range(3)),
    ]


def test_whole_numbers_need_the_table_that_they_count(tmp_path: Path) -> None:
    sky = "radiation.sky: missing key 'nodes': whole numbers in 'from' count rows; of which?"
    assert refused(tmp_path, MODEL.replace("sky.npz, nodes: deck", "sky.npz")) == [sky]
    found = refused(tmp_path, MODEL.replace("sky.npz, nodes: deck", "sky.npz, nodes: dekc"))
    assert found == ["radiation.sky.nodes: unknown node table 'dekc'; did you mean 'deck'?"]


def test_a_table_of_nodes_is_no_node(tmp_path: Path) -> None:
    found = refused(tmp_path, MODEL.replace("at: deck 1", "at: deck"))
    assert found[0].startswith("components.hinge.at: unknown node 'deck'; did you mean 'deck ")


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 broken", b"\x93NUMPY"])
def test_a_file_that_is_no_npz_is_told(content: bytes, tmp_path: Path) -> None:
    path = written(tmp_path)
    (tmp_path / "sky.npz").write_bytes(content)
    with pytest.raises(InputError, match=r"sky.npz: not an NPZ file of plain arrays"):
        load(path)


def test_pickled_objects_are_never_read(tmp_path: Path) -> None:
    path = written(tmp_path)
    np.savez(tmp_path / "sky.npz", **{"from": np.array([{"a": 1}], dtype=object)})
    with pytest.raises(InputError, match="not an NPZ file of plain arrays"):
        load(path)


@pytest.mark.parametrize("name", ["../sky.npz", "/sky.npz", "skies.npz"])
def test_arrays_come_from_the_models_own_folder(name: str, tmp_path: Path) -> None:
    found = refused(tmp_path, MODEL.replace("table: sky.npz", f"table: {name}"))
    assert name in found[0]


def test_arrays_directly_under_a_section_are_sent_below_an_entry(tmp_path: Path) -> None:
    text = MODEL.replace("  sky: {table: sky.npz, nodes: deck}", "  table: sky.npz")
    assert "need an entry of their own" in refused(tmp_path, text)[0]


@pytest.mark.parametrize(
    ("old", "new", "problems"),
    [
        ("wall, root, 800", "wall, root, -800",
         ["strip.yaml:17:19: must be above 0 W/K, got '-800 mW/K'"]),
        ("wall, root, 800", "wall, roof, 800",
         ["strip.yaml:17:13: unknown node or boundary 'roof'; did you mean 'root'?"]),
        ("wall, root, 800", "wall, root", ["strip.yaml:17:13: 2 cells under 3 heads"]),
        ("wall, root, 800", "root, root, 800", ["strip.yaml:17:13: joins 'root' to itself"]),
        ("wall, root, 800", "wall, root,",
         ["strip.yaml:17:18: expected a number in W/K, got nothing"]),
        ("wall, root, 800", "wall, 5, 800",
         ["strip.yaml:17:13: expected the name of a node or boundary, got 5; put it in quotes"]),
        ("root, 0.012, 20", "root, 1_000, 20",
         ["strip.yaml:8:13: '1_000' is not in J/K or a unit"]),
        ("root, 0.012, 20", "root, 0.012, -300",
         ["strip.yaml:8:20: -300 is below absolute zero"]),
        ("conductance [mW/K]", "conductanc [mW/K]",
         ["strip.yaml:16:17: unknown column 'conductanc'; did you mean 'conductance'?"]),
        ("conductance [mW/K]", "note",
         ["strip.yaml:15:5: missing key 'conductance' [W/K]: the table has no such column",
          "strip.yaml:16:17: unknown column 'note'; expected one of: conductance"]),
        ("conductance [mW/K]", "conductance [kg]",
         ["strip.yaml:17:19: '800 kg' is not in W/K or a unit that converts to it"]),
    ],
    ids=["bound", "name", "cells", "itself", "empty", "number", "digits", "cold", "misspelt",
         "missing", "unit"],
)  # fmt: skip
def test_a_bad_cell_of_text_is_told_at_its_place(old: str, new: str, problems: list[str]) -> None:
    found = refused_text(old, new)
    for each in problems:
        assert any(line.startswith(each) for line in found), found
