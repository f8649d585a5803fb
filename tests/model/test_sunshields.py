"""Sunshields: the law of many shields, open edges, and the nodes that an entry makes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.physics.test_shield import given_off
from tests.solving import closed, history_of, solved_steady
from thermnet.model.assemble import assemble
from thermnet.model.kinds.sunshield import Sunshield
from thermnet.model.made import clashes
from thermnet.model.model import Model
from thermnet.model.paths import vary
from thermnet.model.read import load, parse
from thermnet.network.network import Network
from thermnet.network.primitives import Floats
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.results import Result, end_of, solve
from thermnet.saved import open_result, save

CLOSED = "emittance: 0.05, behind_emittance: 0.05, sideways: 0"

HEATED = """\
thermnet: 1
nodes:
  front: {massless: true}
boundaries:
  bay: {temperature: 200 K}
  space: {temperature: 2.7 K}
sunshields:
  shade: {sunward: front, behind: bay, area: 2 m2, sheets: SHEETS, KEYS}
loads:
  front: {node: front, heat: 40 W}
cases:
  case: {}
"""
"""A sheet that is heated, before a bay of imposed temperature."""

FLOWN = """\
thermnet: 1
nodes:
  front: {massless: true}
  bay: {capacity: 2000 J/K, initial: 250 K}
boundaries:
  space: {temperature: 2.7 K}
surfaces:
  front: {node: front, area: 2 m2, emittance: 0.8, absorbed: {solar: {heat: 900 W, schedule: day}}}
  bay: {node: bay, area: 1 m2, emittance: 0.8, shaded: true}
sunshields:
  shade: {sunward: front, behind: bay, area: 2 m2, sheets: 3, emittance: 0.05,
          sunward_back: 0.3, behind_emittance: 0.8, gap: 70 mm}
loads:
  bay: {node: bay, heat: 5 W}
schedules:
  day: {time: [0 s, 900 s], value: [1, 0], shape: steps, period: 1800 s}
cases:
  steady: {}
  history: {solve: transient, duration: 1800 s, initial: given}
  orbit: {solve: repeating, period: 1800 s}
"""


def read(text: str) -> Model:
    return parse({"shaded.yaml": text}, "shaded.yaml")


def heated(sheets: int, keys: str) -> Network:
    text = HEATED.replace("SHEETS", str(sheets)).replace("KEYS", keys)
    return assemble(read(text), "case")


def temperatures(network: Network) -> dict[str, float]:
    found = solved_steady(network).temperature[0]
    return dict(zip(network.names, found.tolist(), strict=True))


def solved(case: str, **changes: object) -> Result:
    model = read(FLOWN)
    result = solve(vary(model, changes) if changes else model, case)
    closed(result.network, result.solution)
    return result


def history(result: Result, name: str) -> Floats:
    """Temperatures [K] of one node at the output instants."""
    return history_of(result.network, result.solution, name)


# What a sunshield lets through


@pytest.mark.parametrize("sheets", [1, 2, 5, 20])
def test_closed_gaps_are_shields_in_series(sheets: int) -> None:
    # derived: each gap between equal faces has 2/e - 1, and as many gaps as sheets carry 40 W
    found = temperatures(heated(sheets, CLOSED))
    fourth = 200.0**4 + 40.0 / (STEFAN_BOLTZMANN * 2.0) * sheets * (2.0 / 0.05 - 1.0)
    assert found["front"] == pytest.approx(fourth**0.25, rel=1e-9)


def test_wide_open_gaps_leave_the_covered_face_with_the_sink_alone() -> None:
    # derived: 5 W = (0.8 x 1 + 0.8 x 2) sigma (T^4 - 2.7^4), whatever the Sun does to the front
    text = FLOWN.replace("gap: 70 mm", "sideways: 1")
    found = temperatures(assemble(read(text), "steady"))
    fourth = 2.7**4 + 5.0 / (STEFAN_BOLTZMANN * 2.4)
    assert found["bay"] == pytest.approx(fourth**0.25, rel=1e-9)


def test_sheets_are_in_balance_between_enclosures_solved_in_general() -> None:
    found = temperatures(assemble(read(FLOWN), "steady"))
    row = [found[name] for name in ("front", "shade, sheet 2", "shade, sheet 3", "bay")]
    entry = read(FLOWN).entries(Sunshield, "sunshields")["shade"]
    out, sink = entry.out, STEFAN_BOLTZMANN * 2.7**4
    view = np.array([[0.0, 1.0 - out, out], [1.0 - out, 0.0, out], [0.0, 0.0, 1.0]])
    faces = [(0.3, 0.05), (0.05, 0.05), (0.05, 0.8)]
    into = np.zeros(4)
    for k, (back, front) in enumerate(faces):
        emission = [STEFAN_BOLTZMANN * row[k] ** 4, STEFAN_BOLTZMANN * row[k + 1] ** 4, sink]
        into[k : k + 2] -= 2.0 * given_off([back, front, 1.0], view, emission)[:2]
    assert into[1:3] == pytest.approx([0.0, 0.0], abs=1e-7)  # W: the sheets that are made
    own = STEFAN_BOLTZMANN * 0.8 * (row[3] ** 4 - 2.7**4)
    assert into[3] + 5.0 == pytest.approx(own, abs=1e-7)


def test_one_metallised_sheet_alone_hardly_insulates() -> None:
    # derived, by hand: a film with metal to the Sun (absorbs 0.14, emits 0.05) and bare behind
    # (emits 0.72), before a black bay at 250 K: 0.14 x 1361 = 0.05 sT^4 + 0.72 s(T^4 - 250^4)
    # gives T^4 = (190.54 + 159.48) / (0.77 s) = (299.2 K)^4, and 167.8 W/m2 of the 190.5 W/m2
    # that the sheet absorbs go on to the bay.
    text = HEATED.replace("SHEETS", "1").replace("heat: 40 W", "heat: 381.08 W")
    text = text.replace("KEYS", "emittance: 0.72, behind_emittance: 1, sideways: 0")
    text = text.replace("200 K", "250 K")
    text += "surfaces:\n  front: {node: front, area: 2 m2, emittance: 0.05, shaded: true}\n"
    found = temperatures(assemble(read(text), "case"))
    assert found["front"] == pytest.approx(299.2, abs=0.05)
    passed = 0.72 * STEFAN_BOLTZMANN * (found["front"] ** 4 - 250.0**4)
    assert passed == pytest.approx(167.8, abs=0.05)


def test_more_sheets_leave_the_covered_node_colder() -> None:
    found = [
        history(solved("steady", **{"sunshields.shade.sheets": k}), "bay")[0] for k in (1, 2, 3, 5)
    ]
    assert np.all(np.diff(found) < 0.0)


@settings(max_examples=25, deadline=None)
@given(
    sheets=st.integers(1, 6),
    emittance=st.floats(0.02, 1.0),
    behind=st.floats(0.02, 1.0),
    sideways=st.floats(0.0, 0.9),
)
def test_no_sheet_is_hotter_than_its_hotter_neighbour_and_none_colder_than_the_sink(
    sheets: int, emittance: float, behind: float, sideways: float
) -> None:
    keys = f"emittance: {emittance}, behind_emittance: {behind}, sideways: {sideways}"
    found = temperatures(heated(sheets, keys))
    row = [found["front"], *(found[f"shade, sheet {k}"] for k in range(2, sheets + 1)), 200.0]
    for k in range(1, sheets):
        assert 2.7 <= row[k] <= max(row[k - 1], row[k + 1]) + 1e-6


# The nodes that it makes


def test_the_sheets_behind_the_first_are_massless_nodes_of_its_path() -> None:
    network = heated(3, CLOSED)
    for name in ("shade, sheet 2", "shade, sheet 3"):
        node = network.index(name)
        assert network.capacity[node] == 0.0
        assert network.node_origins[node] == "sunshields.shade"
    assert set(network.origins) == {"sunshields.shade", "loads.front"}


@pytest.mark.parametrize("case", ["steady", "history", "orbit"])
def test_results_with_sheets_are_saved_and_opened_again(case: str, tmp_path: Path) -> None:
    result = solved(case)
    again = open_result(save(result, tmp_path / "result.nc"))
    np.testing.assert_array_equal(
        history(again, "shade, sheet 2"), history(result, "shade, sheet 2")
    )


def test_the_sheets_of_a_part_are_named_after_the_part(tmp_path: Path) -> None:
    part = FLOWN.replace("loads:", "interfaces:\n  mount: {}\nloads:")
    (tmp_path / "shaded.yaml").write_text(part, encoding="utf-8")
    host = """\
thermnet: 1
nodes:
  panel: {capacity: 500 J/K}
boundaries:
  space: {temperature: 2.7 K}
parts:
  cold: {file: shaded.yaml}
links:
  legs: {from: panel, to: cold/mount, conductance: 0.1 W/K}
  feet: {from: cold/mount, to: cold/bay, conductance: 0.1 W/K}
surfaces:
  panel: {node: panel, area: 0.1 m2, emittance: 0.8, shaded: true}
cases:
  case: {}
"""
    (tmp_path / "host.yaml").write_text(host, encoding="utf-8")
    network = assemble(load(tmp_path / "host.yaml"), "case")
    assert "cold/shade, sheet 3" in network.names


def test_a_case_with_more_sheets_starts_after_one_with_fewer() -> None:
    """The new sheet has no mass: whatever it starts from, it is in balance at once."""
    text = (
        FLOWN
        + """\
  then: {solve: transient, duration: 900 s, after: steady, set: {sunshields.shade.sheets: 4}}
"""
    )
    model = read(text)
    result = solve(model, "then")
    closed(result.network, result.solution)
    bay = solve(model, "steady").of("bay")[-1]
    assert history(result, "bay")[0] == pytest.approx(bay, abs=1e-9)
    row = [
        history(result, name)[0] for name in ("front", *(f"shade, sheet {k}" for k in (2, 3, 4)))
    ]
    assert row == sorted(row, reverse=True)  # it is day, and the front is the hottest


def test_nodes_with_heat_capacity_that_a_case_does_not_know_have_no_start() -> None:
    other = read(
        FLOWN.replace("nodes:\n", "nodes:\n  box: {capacity: 1 J/K, initial: 250 K}\n").replace(
            "loads:\n", "links: {box: {from: box, to: bay, conductance: 1 W/K}}\nloads:\n"
        )
    )
    with pytest.raises(ValueError, match=r"other nodes than case 'steady', .* starts: 'box'"):
        end_of(solved("steady"), assemble(other, "steady"))


def test_a_name_that_is_taken_is_told_at_the_sunshield() -> None:
    entries = {"sunshields": read(FLOWN).entries(Sunshield, "sunshields")}
    (problem,) = clashes(entries, ("front", "shade, sheet 3"))
    assert problem.path == "sunshields.shade"
    assert "'shade, sheet 3'" in problem.message
    assert not list(clashes(entries, ("shade, sheet 1", "shade, sheet 4")))
