"""The command `heaters`."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tests.small_models import STEADY
from thermnet.cli.main import main

HOLDS, FAILS, BAD_INPUT, UNSOLVED = 0, 1, 2, 3  # as `thermnet --help` documents them

# Without its load the plate needs as many watts as it has degrees: at 28 V the duty of 14 W is
# 12 / (14 + 2) = 0.75, and at the low voltage of 27 V 0.75 (28 / 27)^2 = 0.807 (closed forms).
FILE = (
    STEADY.replace("heat: 20 W", "heat: 0 W").replace(
        "{solve: steady}", "{title: cold, solve: steady, bus_voltage: nominal}"
    )
    + """
  day: {solve: transient, duration: 2 h, initial: given, bus_voltage: 28 V, sunlit: sun}
  spare: {solve: steady, bus_voltage: low, set: {heaters.main.failed: off}}
bus_voltage: {low: 27 V, nominal: 28 V, high: 32 V}
schedules:
  sun: {time: [0 s, 1800 s], value: [1, 0], shape: steps, period: 1 h}
heaters:
  main:
    {node: plate, power: 14 W, rated_voltage: 28 V, on_below: 10, off_above: 12}
  spare:
    {shares: {plate: 0.9, mirror: 0.1}, sensor: plate, power: 14 W, on_below: 4, off_above: 6}
components:
  unit: {at: plate, operating: [0, 40], held_by: main}
"""
)


@pytest.fixture
def model(tmp_path: Path) -> str:
    path = tmp_path / "model.yaml"
    path.write_text(FILE, encoding="utf-8")
    return str(path)


def test_a_table_for_each_case_names_its_bus_voltage(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["heaters", model])
    told = capsys.readouterr().out
    assert "model, cold (steady) at 28 V (nominal)" in told
    assert "model, day (transient) at 28 V\n" in told
    assert "model, spare (steady) at 27 V (low)" in told


def test_a_row_says_power_duty_and_margin_at_the_low_voltage(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """14 (27 / 28)^2 = 13.02 W, 14 (32 / 28)^2 = 18.29 W; 1 / 0.8066 - 1 = 24 %."""
    assert main(["heaters", model, "--case", "case"]) == FAILS
    told = capsys.readouterr().out.splitlines()
    (line,) = [line for line in told if line.startswith("main")]
    cells = "main allowance not covered plate plate 10.0 12.0 14.00 13.02 18.29 75.0 % 80.7 %"
    assert " ".join(line.split()) == f"{cells} +24 % 10.50 unit"
    assert "together: 32.29 W installed at 32 V (high), mean 10.50 W" in told
    assert (
        "0 of 1 heaters in use hold: duty at most 80 % at the low bus voltage, "
        "that is a margin of 25 %"
    ) in told


def test_a_failed_circuit_and_the_spare_one_that_takes_its_place(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """0.9 of 14 W on the plate: 12.6 d = 6 - 2 d, d = 41 %."""
    assert main(["heaters", model, "--case", "spare"]) == HOLDS
    told = capsys.readouterr().out.splitlines()
    (failed,) = [line for line in told if line.startswith("main")]
    assert "plate (failed off)" in failed
    (spare,) = [line for line in told if line.startswith("spare")]
    assert "plate, mirror" in spare
    assert " 41.1 %" in spare


def test_a_history_says_energy_shadow_and_switchings(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["heaters", model, "--case", "day"])
    told = capsys.readouterr().out
    for head in ("Wh per day", "in shadow Wh", "switchings per day"):
        assert head in told
    assert "energy per day of 86400.0 s: " in told


def test_for_programs_it_is_in_si_and_what_is_infinite_is_null(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["heaters", model, "--case", "case", "--json"])
    (found,) = json.loads(capsys.readouterr().out)
    assert (found["bus_voltage"], found["voltage"], found["case"]) == (28.0, "nominal", "case")
    held, spare = found["heaters"]
    assert held["on"] == pytest.approx(283.15)
    assert held["duty"] == pytest.approx(0.75)
    assert held["duty_low"] == pytest.approx(0.75 * (28.0 / 27.0) ** 2)
    assert spare["margin"] is None
    assert found["together"]["energy"] is None


def test_the_table_is_written_as_it_stands(model: str, tmp_path: Path) -> None:
    main(["heaters", model, "--out", str(tmp_path / "out")])
    (path,) = (tmp_path / "out").iterdir()
    with path.open(encoding="utf-8") as file:
        lines = list(csv.DictReader(file))
    assert path.name == "heaters.csv"
    assert [(line["case"], line["name"]) for line in lines] == [
        (case, name) for case in ("case", "day", "spare") for name in ("main", "spare")
    ]
    assert lines[1]["nodes"] == "plate; mirror"
    assert float(lines[0]["power [W]"]) == 14.0


def test_a_model_without_heaters_is_bad_input(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "model.yaml"
    path.write_text(STEADY, encoding="utf-8")
    assert main(["heaters", str(path)]) == BAD_INPUT
    assert "has no heaters" in capsys.readouterr().err


def test_solve_prints_a_shared_circuit_once(model: str, capsys: pytest.CaptureFixture[str]) -> None:
    main(["solve", model, "--case", "spare"])
    told = capsys.readouterr().out.splitlines()
    spare = [line for line in told if line.startswith("spare ")]
    assert len(spare) == 1
    assert spare[0].split()[:2] == ["spare", "14.00"]
