"""The command `interfaces`: what it prints and writes, and its exit status."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tests.test_interfaces import HOST, PART
from thermnet.cli.main import main


@pytest.fixture
def host(tmp_path: Path) -> str:
    (tmp_path / "camera.yaml").write_text(PART, encoding="utf-8")
    cases = HOST + "  day: {solve: transient, duration: 7200 s, initial: steady}\n"
    (tmp_path / "host.yaml").write_text(cases, encoding="utf-8")
    return str(tmp_path / "host.yaml")


def test_the_table_has_a_row_for_each_interface(
    host: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["interfaces", host, "--case", "case"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "host, case (steady)"
    assert lines[1].split() == ["interface", "of", "degC", "heat", "in", "W"]
    # derived: 3 W through 0.4 W/K to a wall at 20 degC
    assert lines[3].split() == ["camera/mount", "camera", "27.5", "-3.000"]


def test_a_history_has_its_extremes_and_their_instants(
    host: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["interfaces", host, "--case", "day"]) == 0
    row = capsys.readouterr().out.splitlines()[3].split()
    assert row[0] == "camera/mount"
    assert [row[2], row[5], row[6]].count("27.5") >= 2


def test_programs_get_watts_and_kelvin(host: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["interfaces", host, "--json", "--case", "case"]) == 0
    (case,) = json.loads(capsys.readouterr().out)
    (row,) = case["interfaces"]
    assert row["mean_heat"] == pytest.approx(-3.0, abs=1e-9)
    assert row["mean"] == pytest.approx(300.65, abs=1e-7)


def test_all_cases_are_written_as_one_table(host: str, tmp_path: Path) -> None:
    assert main(["interfaces", host, "--out", str(tmp_path / "out")]) == 0
    assert [each.name for each in (tmp_path / "out").iterdir()] == ["interfaces.csv"]
    with (tmp_path / "out" / "interfaces.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [(row["case"], row["interface"]) for row in rows] == [
        ("case", "camera/mount"),
        ("day", "camera/mount"),
    ]


def test_a_value_of_a_part_is_set_from_the_command_line(
    host: str, capsys: pytest.CaptureFixture[str]
) -> None:
    change = "loads.camera/body.heat=4"
    assert main(["interfaces", host, "--case", "case", "--set", change]) == 0
    assert "-4.000" in capsys.readouterr().out


def test_a_model_without_interfaces_is_told_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "bare.yaml"
    file.write_text(
        "thermnet: 1\nboundaries:\n  wall: {temperature: 20 degC}\ncases:\n  case: {}\n",
        encoding="utf-8",
    )
    assert main(["interfaces", str(file)]) == 2
    assert "the model has no interfaces" in capsys.readouterr().err
