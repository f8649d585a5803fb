"""Enclosures of many faces, from tables: the network they make, and what is refused."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
from scipy.sparse import csr_array

from tests.enclosed import closed_enclosure, couplings
from tests.full import only_in_full
from tests.small_models import model_of
from tests.solving import solved_steady
from thermnet.errors import InputError
from thermnet.model.assemble import assemble
from thermnet.model.checks import problems_of_network
from thermnet.model.model import Model
from thermnet.model.paths import vary
from thermnet.model.read import load
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.physics.exchange import exchange_areas, repaired

HEAD = """\
thermnet: 1
temperatures: K
nodes:
  deck: {table: deck.csv, initial: 290}
boundaries: {hot: {temperature: 400}, cold: {temperature: 200}}
"""
CASES = """
cases: {case: {solve: steady}}
"""
DECK = "capacity\n10\n20\n"

BY_HAND = """
enclosures:
  cavity:
    faces:
      one: {node: hot, area: 1 m2, emittance: 0.8}
      two: {node: cold, area: 1 m2, emittance: 0.4}
      three: {node: deck 0, area: 2 m2, emittance: 0.3}
      four: {node: deck 1, area: 2 m2, emittance: 0.9}
    views:
      a: {from: one, to: two, factor: 0.2}
      b: {from: one, to: three, factor: 0.5}
      c: {from: one, to: four, factor: 0.3}
      d: {from: two, to: three, factor: 0.4}
      e: {from: two, to: four, factor: 0.4}
      f: {from: three, to: four, factor: 0.55}
      g: {from: four, to: four, factor: 0.1}
"""
NAMED = """
faces:
  cavity:
    table: |
      name, node, area [cm2], emittance
      one, hot, 10000, 0.8
      two, cold, 10000, 0.4
      three, deck 0, 2 m2, 0.3
      four, deck 1, 2 m2, 0.9
enclosures:
  cavity:
    faces: cavity
    table: |
      from, to, factor
      one, two, 0.2
      one, three, 0.5
      one, four, 0.3
      two, three, 0.4
      two, four, 0.4
      three, four, 0.55
      four, four, 0.1
"""
COUNTED = """
faces:
  cavity: {table: faces.csv, nodes: deck}
enclosures:
  cavity: {table: factors.csv, faces: cavity}
"""
FACES = """\
node,area,emittance
hot,1,0.8
cold,1,0.4
deck 0,2,0.3
deck 1,2,0.9
"""
FACTORS = "from,to,factor\n0,1,0.2\n0,2,0.5\n0,3,0.3\n1,2,0.4\n1,3,0.4\n2,3,0.55\n3,3,0.1\n"
ARRAYS: Mapping[str, dict[str, object]] = {
    "faces.npz": {"node": [0, 1, 1], "area": [2.0, 1.5, 0.6], "emittance": [0.3, 0.9, 0.9]},
    "factors.npz": {
        "from": np.array([0, 0, 1]),
        "to": np.array([1, 2, 2]),
        "factor": np.array([0.6, 0.2, 0.1]),
    },
}
FROM_ARRAYS = COUNTED.replace(".csv", ".npz")


def written(folder: Path, body: str, **files: str) -> Model:
    """A model of a body, beside tables of text and of arrays."""
    texts = {"deck": DECK, "faces": FACES, "factors": FACTORS} | files
    for name, content in texts.items():
        (folder / f"{name}.csv").write_text(content, encoding="utf-8")
    for name, arrays in ARRAYS.items():
        np.savez(folder / name, **{key: np.asarray(each) for key, each in arrays.items()})
    path = folder / "model.yaml"
    path.write_text(HEAD + body + CASES, encoding="utf-8")
    return load(path)


def refused(folder: Path, body: str, **files: str) -> list[str]:
    """What is said of a model whose faces or views cannot be."""
    with pytest.raises(InputError) as caught:
        assemble(written(folder, body, **files), "case")
    return [f"{each.path}: {each.message}" for each in caught.value.problems]


def test_both_ways_to_state_an_enclosure_make_one_network(tmp_path: Path) -> None:
    by_hand = couplings(written(tmp_path, BY_HAND))
    assert len(by_hand) == 6
    assert couplings(written(tmp_path, NAMED)) == pytest.approx(by_hand, rel=1e-14)
    assert couplings(written(tmp_path, COUNTED)) == pytest.approx(by_hand, rel=1e-14)


def test_all_couplings_of_a_table_have_the_path_of_their_enclosure(tmp_path: Path) -> None:
    network = assemble(written(tmp_path, COUNTED), "case")
    assert {network.origins[k] for k in network.links.origin} == {"enclosures.cavity"}


def test_arrays_count_nodes_and_faces(tmp_path: Path) -> None:
    """Faces 1 and 2 stand for one node: what both exchange with face 0 adds up."""
    found = couplings(written(tmp_path, FROM_ARRAYS))
    direct = np.array([[0.0, 1.2, 0.4], [1.2, 0.0, 0.15], [0.4, 0.15, 0.0]])
    area, emittance = np.array([2.0, 1.5, 0.6]), np.array([0.3, 0.9, 0.9])
    exchange = exchange_areas(area, direct, emittance)
    expected = exchange[0, 1] + exchange[0, 2]
    assert found == pytest.approx({("deck 0", "deck 1"): expected}, rel=1e-13)


def by_name(factors: str) -> str:
    """The same table with names in place of the numbers of rows."""
    head, *rows = factors.splitlines()
    cells = (row.split(",") for row in rows)
    return "\n".join([head, *(f"cavity {a},cavity {b},{f}" for a, b, f in cells), ""])


def test_faces_without_names_are_called_by_their_table_and_number(tmp_path: Path) -> None:
    named = by_name(FACTORS)
    assert couplings(written(tmp_path, COUNTED, factors=named)) == couplings(
        written(tmp_path, COUNTED)
    )


def test_rows_in_another_order_make_the_same_network(tmp_path: Path) -> None:
    head, *rows = FACTORS.splitlines()
    turned = [f"{b},{a},{f}" if a != b else row for row in reversed(rows)
              for a, b, f in [row.split(",")]]  # fmt: skip
    there = {"0": 1.0, "1": 1.0, "2": 2.0, "3": 2.0}
    scaled = []
    for row in turned:  # a view turned round is that of the other face
        a, b, factor = row.split(",")
        scaled.append(f"{a},{b},{float(factor) * there[b] / there[a]:.17g}")
    found = couplings(written(tmp_path, COUNTED, factors="\n".join([head, *scaled, ""])))
    assert found == pytest.approx(couplings(written(tmp_path, COUNTED)), rel=1e-13)


def test_a_name_may_be_that_of_a_face_and_of_a_node(tmp_path: Path) -> None:
    body = NAMED.replace("one", "hot").replace("three", "deck 0")
    assert couplings(written(tmp_path, body)) == couplings(written(tmp_path, NAMED))


def test_two_enclosures_may_share_a_table_of_faces(tmp_path: Path) -> None:
    """Inside and outside of sheets: both exchange."""
    twice = COUNTED + "  behind: {table: factors.csv, faces: cavity}\n"
    once = couplings(written(tmp_path, COUNTED))
    found = couplings(written(tmp_path, twice))
    assert found == pytest.approx({pair: 2.0 * area for pair, area in once.items()}, rel=1e-14)


def test_a_table_of_views_is_repaired_when_it_says_so(tmp_path: Path) -> None:
    rough = FACTORS.replace("0,1,0.2", "0,1,0.22")
    body = COUNTED.replace("faces: cavity}", "faces: cavity, repair: true}")
    model = written(tmp_path, body, factors=rough)
    assert not problems_of_network(model, assemble(model, "case"))
    area, emittance = np.array([1.0, 1.0, 2.0, 2.0]), np.array([0.8, 0.4, 0.3, 0.9])
    direct = np.zeros((4, 4))
    for row in rough.splitlines()[1:]:
        looks, sees, factor = row.split(",")
        direct[int(looks), int(sees)] = direct[int(sees), int(looks)] = (
            float(factor) * area[int(looks)]
        )
    exchange = exchange_areas(area, repaired(area, csr_array(direct)).toarray(), emittance)
    assert couplings(model)["cold", "hot"] == pytest.approx(exchange[0, 1], rel=1e-12)


def test_a_caller_asks_for_a_repair_by_its_path(tmp_path: Path) -> None:
    rough = FACTORS.replace("0,1,0.2", "0,1,0.1999")
    model = written(tmp_path, COUNTED, factors=rough)
    mended = couplings(vary(model, {"enclosures.cavity.repair": True}))
    body = COUNTED.replace("faces: cavity}", "faces: cavity, repair: true}")
    assert mended == couplings(written(tmp_path, body, factors=rough))
    assert mended != couplings(model)


def test_views_of_a_table_that_leave_much_are_warned_of_once(tmp_path: Path) -> None:
    model = written(tmp_path, COUNTED, factors=FACTORS.replace("0,1,0.2\n", ""))
    (found,) = problems_of_network(model, assemble(model, "case"))
    assert (found.path, found.severity) == ("enclosures.cavity", "warning")
    assert found.message.startswith("face 'cavity 0' looks at nothing with 0.2000 of its view")


def test_views_of_a_table_that_are_too_much_are_refused(tmp_path: Path) -> None:
    (message,) = refused(tmp_path, COUNTED, factors=FACTORS.replace("0,1,0.2", "0,1,0.3"))
    assert message.startswith("enclosures.cavity: the view factors of face 'cavity 0' sum to 1.1")


def test_a_pair_that_is_stated_twice_is_refused(tmp_path: Path) -> None:
    assert refused(tmp_path, COUNTED, factors=FACTORS + "0,1,0.2\n") == [
        "enclosures.cavity: how 'cavity 0' sees 'cavity 1' is stated twice"
    ]


def test_a_face_of_another_table_is_refused(tmp_path: Path) -> None:
    other = COUNTED.replace("enclosures:", "  cave: {table: faces.csv}\nenclosures:")
    factors = by_name(FACTORS).replace("cavity 0,cavity 1,", "cave 0,cavity 1,")
    assert refused(tmp_path, other, factors=factors) == [
        "enclosures.cavity: 'cave 0' is no face of the table 'cavity'"
    ]


def test_a_face_that_emits_nothing_is_refused(tmp_path: Path) -> None:
    assert refused(tmp_path, COUNTED, faces=FACES.replace("0.3", "0")) == [
        "faces.cavity: the emittance of face 'cavity 2' must be above 0"
    ]


def test_faces_alone_make_nothing(tmp_path: Path) -> None:
    body = COUNTED.partition("enclosures:")[0]
    assert couplings(written(tmp_path, body)) == {}


PART = """\
thermnet: 1
temperatures: K
nodes: {shell: {capacity: 10 J/K, initial: 290}, core: {capacity: 10 J/K, initial: 290}}
interfaces: {mount: {temperature: 280}}
links: {foot: {from: core, to: mount, conductance: 1 W/K}}
finishes: {own black: {absorptance: 0.9, emittance: 0.85}}
faces:
  inside:
    table: |
      name, node, area, emittance
      wall, shell, 2, 0.6
      box, core, 1, 0.8
enclosures:
  inside:
    faces: inside
    table: |
      from, to, factor
      box, wall, 1
      wall, wall, 0.5
  gap:
    faces:
      upper: {node: shell, area: 0.1 m2, finish: own black}
      lower: {node: core, area: 0.1 m2, emittance: 0.3}
    views: {both: {from: upper, to: lower, parallel_plates: {area: 0.1 m2}}}
"""
HOST = """\
thermnet: 1
temperatures: K
boundaries: {wall: {temperature: 300}}
nodes: {box: {capacity: 10 J/K, initial: 290}}
links:
  one: {from: box, to: wall, conductance: 1 W/K}
  two: {from: one/mount, to: box, conductance: 1 W/K}
  three: {from: two/mount, to: box, conductance: 1 W/K}
finishes: {own black: {absorptance: 0.9, emittance: 0.1}}
parts: {one: {file: part.yaml}, two: {file: part.yaml}}
cases: {case: {solve: steady}}
"""


def test_a_part_brings_its_faces_and_enclosures_under_longer_names(tmp_path: Path) -> None:
    """Names of its faces, nodes and finishes are its own, also where the host has them too."""
    (tmp_path / "part.yaml").write_text(PART, encoding="utf-8")
    (tmp_path / "host.yaml").write_text(HOST, encoding="utf-8")
    alone = couplings(model_of(f"{PART}cases: {{case: {{solve: steady}}}}\n"))
    model = load(tmp_path / "host.yaml")
    found = couplings(model)
    expected = {
        (f"{part}/{a}", f"{part}/{b}"): area
        for part in ("one", "two")
        for (a, b), area in alone.items()
    }
    assert expected
    assert found == pytest.approx(expected, rel=1e-14)
    assert sorted(model.tables("faces")["one/inside"]) == ["one/box", "one/wall"]


def big(folder: Path, size: int) -> Path:
    """A model of `size` faces, each a node of its own, that all see each other."""
    area, direct = closed_enclosure(size, 5)
    direct = direct + 1e-3  # no pair is left out
    area = direct.sum(axis=1)
    first, second = np.triu_indices(size)
    np.savez(
        folder / "faces.npz",
        node=np.arange(size, dtype=np.int32),
        area=area,
        emittance=np.linspace(0.05, 0.95, size),
    )
    np.savez(
        folder / "factors.npz",
        **{"from": first, "to": second, "factor": direct[first, second] / area[first]},
    )
    np.savez(folder / "deck.npz", capacity=np.full(size, 10.0))
    text = HEAD.replace("deck.csv", "deck.npz") + FROM_ARRAYS + CASES
    links = "links: {foot: {from: deck 0, to: hot, conductance: 1 W/K}}\n"
    path = folder / "model.yaml"
    path.write_text(text + links, encoding="utf-8")
    return path


@pytest.mark.parametrize("size", [60, pytest.param(1500, marks=only_in_full)])
def test_faces_that_all_see_each_other_couple_all_their_nodes(tmp_path: Path, size: int) -> None:
    """1,500 of them make 1.1 million couplings, and all come to the temperature of the one end."""
    network = assemble(load(big(tmp_path, size)), "case")
    assert len(network.links.a) == size * (size - 1) // 2 + 1
    radiating = network.links.strength[network.links.groups[1] :]
    emitted = 0.05 * 400.0**4 * STEFAN_BOLTZMANN  # by the dullest of them, for a square metre
    assert (radiating >= 0.0).all()
    assert radiating.sum() * 400.0**4 > emitted
    solution = solved_steady(network)
    assert solution.temperature[0][: size - 1] == pytest.approx(np.full(size - 1, 400.0), rel=1e-7)
