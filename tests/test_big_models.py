"""Whole tables from file to result: starts, results on disk, and what the commands show."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from tests.model.test_whole_tables import ENTRY_BY_ENTRY, MODEL, written
from thermnet.account import account
from thermnet.cli.main import main
from thermnet.margins import margins
from thermnet.model.read import load, parse
from thermnet.results import solve
from thermnet.saved import open_result, save


@pytest.mark.parametrize("case", ["mean", "cooling"])
def test_tables_and_entries_have_one_solution(case: str, tmp_path: Path) -> None:
    text = ENTRY_BY_ENTRY + MODEL[MODEL.index("  cooling:") :]
    tables = solve(load(written(tmp_path)), case)
    entries = solve(parse({"m.yaml": text}, "m.yaml"), case)
    assert account(tables.network, tables.solution).closes
    for name in tables.network.names:
        np.testing.assert_allclose(tables.of(name), entries.of(name), rtol=1e-12)


def test_a_component_at_a_node_of_a_table_is_judged(tmp_path: Path) -> None:
    found = margins([solve(load(written(tmp_path)), "mean")])
    assert {margin.node for margin in found if margin.component == "hinge"} == {"deck 1"}


def test_a_saved_result_needs_no_arrays_beside_it(tmp_path: Path) -> None:
    path = written(tmp_path)
    result = solve(load(path), "mean")
    saved = save(result, tmp_path / "mean.nc")
    for file in tmp_path.glob("*.npz"):
        file.unlink()
    again = open_result(saved)
    assert again.model.hash() == result.model.hash()
    np.testing.assert_array_equal(again.of("deck 2"), result.of("deck 2"))


def test_check_counts_the_rows(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(written(tmp_path)), "--json"]) == 0
    counts = json.loads(capsys.readouterr().out)["counts"]
    assert (counts["nodes"], counts["links"], counts["radiation"], counts["loads"]) == (4, 3, 3, 2)


def test_the_heat_of_a_node_of_a_table_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = written(tmp_path)
    assert main(["solve", str(path), "--case", "mean", "--heat", "deck 1"]) == 0
    assert "radiation.sky" in capsys.readouterr().out


def test_of_very_many_nodes_only_the_coldest_and_the_hottest_are_shown(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    arrays = {
        "mesh.npz": {"capacity": np.ones(600)},
        "sky.npz": {"from": np.arange(600), "to": "space", "area": np.linspace(0.1, 0.2, 600)},
        "loads.npz": {"node": np.arange(600), "heat": 1.0},
    }
    text = "".join(
        line
        for line in MODEL.splitlines(keepends=True)
        if "deck mesh" not in line and "dim:" not in line and "cooling:" not in line
    )
    path = written(tmp_path, text, dict(arrays))
    assert main(["solve", str(path)]) == 0
    out = capsys.readouterr().out
    assert "602 nodes: the 10 coldest and the 10 hottest are shown" in out
    assert "deck 599" in out
    assert "deck 300" not in out
