"""The command `radiators`: what it prints and writes, and its exit status."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from thermnet.cli.main import main
from thermnet.results import Result, solve_cases

PLAIN = """
thermnet: 1
temperatures: degC
nodes:
  panel: {capacity: 2000 J/K}
boundaries:
  space: {temperature: 0.001 K}
loads:
  panel: {node: panel, heat: 100 W}
radiators:
  north: {node: panel, area: 0.3 m2, emittance: 0.85, hottest: 40}
cases:
  case: {solve: steady}
"""

FLYING = """
thermnet: 1
temperatures: degC
nodes:
  panel: {capacity: 2000 J/K}
boundaries:
  space: {temperature: 2.7 K}
loads:
  panel: {node: panel, heat: 15 W}
radiators:
  north: {node: panel, area: 0.2 m2, finish: white paint, normal: -y, hottest: 20}
  down: {node: panel, area: 0.1 m2, finish: black paint, normal: +z}
pointings:
  mapping: {axis: +z, to: nadir, second_axis: +x, second_to: velocity}
orbits:
  low: {body: Earth, altitude: 600 km, beta: 30 deg}
environments:
  warm: {albedo: 0.3, infrared: 240 W/m2, season: hot}
cases:
  case:
    {solve: repeating, orbit: low, environment: warm, pointing: mapping, life: end of life}
  mean: {extends: case, solve: steady}
"""

Read = pytest.CaptureFixture[str]


@pytest.fixture
def plain(tmp_path: Path) -> str:
    file = tmp_path / "plain.yaml"
    file.write_text(PLAIN, encoding="utf-8")
    return str(file)


def test_the_table_has_a_row_for_each_radiator(plain: str, capsys: Read) -> None:
    """Derived: T = (100 / (0.85 s 0.3))^(1/4) = 288.4 K, and (313.15 / T)^4 - 1 = 39.0 %."""
    assert main(["radiators", plain]) == 0
    printed = capsys.readouterr().out
    lines = printed.splitlines()
    assert lines[0] == "plain, case (steady)"
    row = lines[3].split()
    assert row[:6] == ["north", "0.3", "1.000", "0.85", "-", "1.00"]
    assert row[6] == "15.2"
    assert row[8:11] == ["100.00", "0.00", "100.00"]
    assert row[11:] == ["40.0", "39.0", "%"]
    assert "note" not in printed


def test_less_than_ten_percent_over_is_noted(plain: str, capsys: Read) -> None:
    assert main(["radiators", plain, "--set", "radiators.north.hottest=20 degC"]) == 0
    printed = capsys.readouterr().out
    assert "'north' in case 'case' has 6.8 % of area over; 10 % over are kept" in printed
    assert "where the project asks for it" in printed


def test_a_radiator_that_is_too_small_is_told_by_how_much(plain: str, capsys: Read) -> None:
    assert main(["radiators", plain, "--set", "radiators.north.hottest=10 degC"]) == 0
    printed = capsys.readouterr().out
    assert "-7.1 %" in printed
    assert "is too small: at the allowed temperature it rejects\n  7.1 % less" in printed


def test_a_fin_with_another_sink_than_the_one_found_is_noted(tmp_path: Path, capsys: Read) -> None:
    fin = "fin: {length: 0.3 m, thickness: 1 mm, conductivity: 150 W/m/K, at: 20, sink: SINK K}"
    text = PLAIN.replace("0.001 K", "240 K").replace("emittance: 0.85", f"emittance: 0.85, {fin}")
    file = tmp_path / "fin.yaml"
    file.write_text(text.replace("SINK", "2.7"))
    assert main(["radiators", str(file)]) == 0
    assert (
        "to the sink found, -33.1 degC,\n  the efficiency of its fin is" in capsys.readouterr().out
    )
    file.write_text(text.replace("SINK", "235"))
    assert main(["radiators", str(file)]) == 0
    assert "sink found" not in capsys.readouterr().out


def test_a_radiator_that_no_area_would_help_is_noted(tmp_path: Path, capsys: Read) -> None:
    file = tmp_path / "hot.yaml"
    text = PLAIN.replace("hottest: 40", "hottest: -60, absorbed: {solar: {heat: 90 W}}")
    file.write_text(text, encoding="utf-8")
    assert main(["radiators", str(file)]) == 0
    printed = capsys.readouterr().out
    assert printed.splitlines()[3].split()[-2:] == ["-60.0", "-"]
    assert "'north' in case 'case' needs another place" in printed


def test_cases_over_time_have_peaks_and_programs_get_kelvin(tmp_path: Path, capsys: Read) -> None:
    file = tmp_path / "flying.yaml"
    file.write_text(FLYING, encoding="utf-8")
    assert main(["radiators", str(file), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [each["case"] for each in found] == ["case", "mean"]
    north, down = found[0]["radiators"]
    assert north["allowed"] == pytest.approx(293.15)
    assert north["most"] > north["rejected"]
    assert down["excess"] is None


def test_all_cases_are_written_as_one_table(plain: str, tmp_path: Path) -> None:
    assert main(["radiators", plain, "--out", str(tmp_path / "out")]) == 0
    with (tmp_path / "out" / "radiators.csv").open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert (row["case"], row["radiator"], row["node"]) == ("case", "north", "panel")
    assert float(row["rejected"]) == pytest.approx(100.0, abs=1e-6)


def test_a_history_is_printed_with_its_peak(tmp_path: Path, capsys: Read) -> None:
    file = tmp_path / "flying.yaml"
    file.write_text(FLYING, encoding="utf-8")
    assert main(["radiators", str(file), "--case", "case"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert "most" in lines[1].split()
    assert lines[3].split()[-4:][1::2] == ["%", "%"]
    assert lines[4].split()[-3:] == ["-", "-", "-"]  # nothing is allowed it


def test_a_case_that_is_not_solved_says_so(
    plain: str, capsys: Read, monkeypatch: pytest.MonkeyPatch
) -> None:
    def gave_up(*given: Any) -> tuple[Result, ...]:
        found = solve_cases(*given)
        return tuple(replace(r, solution=replace(r.solution, failure="gave up")) for r in found)

    monkeypatch.setattr("thermnet.cli.by_case.solve_cases", gave_up)
    assert main(["radiators", plain]) == 3
    assert "NOT SOLVED: gave up" in capsys.readouterr().out


def test_a_model_without_radiators_is_told_so(tmp_path: Path, capsys: Read) -> None:
    file = tmp_path / "bare.yaml"
    file.write_text(
        "thermnet: 1\nboundaries:\n  wall: {temperature: 20 degC}\ncases:\n  case: {}\n",
        encoding="utf-8",
    )
    assert main(["radiators", str(file)]) == 2
    assert "the model has no radiators" in capsys.readouterr().err
