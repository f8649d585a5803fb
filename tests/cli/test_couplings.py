"""The command `couplings`: what it prints and writes, and its exit status."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from thermnet.cli.main import main

TEXT = """\
thermnet: 1
temperatures: degC
uncertainty: {policy: none}
nodes:
  box: {capacity: 500 J/K}
boundaries:
  sink: {temperature: 20}
joints:
  feet: {from: box, to: sink, fasteners: {size: screw M4, count: 2}, use: nominal}
links:
  strap: {from: box, to: sink, conductance: 4 W/K}
loads:
  box: {node: box, heat: 8 W, schedule: half}
schedules:
  half: {time: [0 s, 50 s], value: [1.5, 0.5], shape: steps, period: 100 s}
cases:
  one: {}
  two: {set: {joints.feet.fasteners.size: screw M3}}
  turn: {solve: repeating, period: 100 s}
"""

STAR = """\
thermnet: 1
temperatures: K
nodes:
  hub: {capacity: 500 J/K}
  points:
    table: |
      name, capacity [J/K]
%(nodes)s
boundaries:
  sink: {temperature: 250}
links:
  hub: {from: hub, to: sink, conductance: 1 W/K}
radiation:
  star:
    table: |
      from, to, area [m2]
%(pairs)s
loads:
  hub: {node: hub, heat: 50 W}
cases:
  case: {}
"""


@pytest.fixture
def model(tmp_path: Path) -> str:
    (tmp_path / "box.yaml").write_text(TEXT, encoding="utf-8")
    return str(tmp_path / "box.yaml")


def test_a_line_has_nodes_temperatures_heat_and_conductance(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["couplings", model, "--case", "one"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "box, one (steady)"
    strap = next(line.split() for line in lines if line.startswith("links.strap"))
    assert strap[1:3] == ["box", "sink"]
    assert strap[4] == "20.0"
    assert strap[6] == "4"


def test_a_history_has_least_and_most_with_their_instants(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["couplings", model, "--case", "turn"]) == 0
    head = capsys.readouterr().out.splitlines()[1]
    assert "least W" in head
    assert "most W" in head


def test_what_entries_stand_on_in_any_case_is_listed_below(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["couplings", model, "--case", "one", "--case", "two"]) == 0
    assert "  joints.feet: screw M4; screw M3" in capsys.readouterr().out.splitlines()


def test_programs_get_kelvin_watts_and_null_where_there_is_no_conductance(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    idle = ["--set", "loads.box.heat=0 W"]
    assert main(["couplings", model, "--json", "--case", "one", *idle]) == 0
    (case,) = json.loads(capsys.readouterr().out)
    row = next(row for row in case["couplings"] if row["entry"] == "links.strap")
    assert row["to_temperature"] == pytest.approx(293.15)
    assert row["conductance"] is None


def test_of_many_pairs_the_strongest_are_shown_and_all_are_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    nodes = "\n".join(f"      n{k}, 10" for k in range(20))
    pairs = "\n".join(f"      n{k}, sink, 0.01\n      hub, n{k}, 0.0{k + 10}" for k in range(20))
    (tmp_path / "star.yaml").write_text(STAR % {"nodes": nodes, "pairs": pairs}, encoding="utf-8")
    out = tmp_path / "out"
    assert main(["couplings", str(tmp_path / "star.yaml"), "--out", str(out)]) == 0
    printed = capsys.readouterr().out
    assert printed.count("radiation.star ") == 8
    assert "radiation.star: 32 weaker pairs are left out" in printed
    with (out / "couplings.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert sum(row["entry"] == "radiation.star" for row in rows) == 40
