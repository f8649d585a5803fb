"""The command `power`."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tests.powered import DEMAND, GIVEN, INTO, LIT, MODEL, OUT_OF, PERIOD
from tests.small_models import STEADY
from thermnet.cli.main import main

HOLDS, FAILS, BAD_INPUT = 0, 1, 2  # as `thermnet --help` documents them


@pytest.fixture
def model(tmp_path: Path) -> str:
    path = tmp_path / "model.yaml"
    path.write_text(MODEL, encoding="utf-8")
    return str(path)


def test_it_prints_what_is_given_and_all_that_it_becomes(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["power", model, "--case", "orbit"]) == HOLDS
    lines = capsys.readouterr().out.splitlines()
    # Derived: 80 W for 5700 s are 126.6667 Wh; what shadow takes passes both efficiencies.
    given = DEMAND * (LIT + (PERIOD - LIT) / (INTO * OUT_OF)) / 3600.0
    assert any(line.startswith("given by the cells") and f"{given:.2f}" in line for line in lines)
    assert any(line.split() == ["heat", "of", "units", "126.6667", "80.0000"] for line in lines)
    full = DEMAND * (PERIOD - LIT) / (INTO * OUT_OF) / (GIVEN - DEMAND)
    assert any(f"full at {full:.1f} s" in line for line in lines)


def test_it_says_why_a_battery_runs_down(model: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["power", model, "--case", "orbit", "--set", "units.bus.scale=1.5"]) == FAILS
    told = capsys.readouterr().out
    assert "battery 'pack' holds less after each period" in told
    assert "not enough power" in told


@pytest.mark.parametrize(
    ("case", "changes"),
    [
        pytest.param("mean", ["units.bus.scale=1.5"], id="lacking in the mean"),
        pytest.param("day", ["batteries.pack.begins=0.1", "units.bus.scale=1.5"], id="empty"),
    ],
)
def test_it_fails_where_power_is_lacking(model: str, case: str, changes: list[str]) -> None:
    # Derived: 120 W are more than the mean of the cells, 168 W x 3600 / 5700; and a tenth of 150 Wh
    # does not last through 2100 s of shadow, in which 120 W take 77.8 Wh of the battery.
    told = [word for change in changes for word in ("--set", change)]
    assert main(["power", model, "--case", case, *told]) == FAILS


def test_a_battery_that_only_ends_below_its_start_does_not_fail_a_transient(model: str) -> None:
    assert main(["power", model, "--case", "day"]) == HOLDS


def test_data_for_programs_are_joules_and_watts(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["power", model, "--json"]) == HOLDS
    found = {each["case"]: each for each in json.loads(capsys.readouterr().out)}
    assert found["orbit"]["units"] == pytest.approx(DEMAND * PERIOD)
    assert (found["mean"]["unit"], found["mean"]["units"]) == ("W", pytest.approx(DEMAND))
    assert found["mean"]["lowest"] is None
    assert found["day"]["span"] == 10800.0


def test_out_writes_powers_over_time_and_a_figure_whole(model: str, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    assert main(["power", model, "--case", "orbit", "--out", str(folder)]) == HOLDS
    assert sorted(path.name for path in folder.iterdir()) == ["power-orbit.csv", "power-orbit.png"]
    with (folder / "power-orbit.csv").open(encoding="utf-8") as file:
        head, *rows = csv.reader(file)
    assert head == ["time [s]", "available [W]", "drawn [W]", "demand [W]", "charge"]
    assert float(rows[0][1]) == pytest.approx(GIVEN, rel=1e-5)
    assert float(rows[-1][4]) == pytest.approx(float(rows[0][4]), abs=1e-5)


def test_a_model_without_solar_cells_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "plain.yaml"
    path.write_text(STEADY, encoding="utf-8")
    assert main(["power", str(path)]) == BAD_INPUT
    assert "no surface has solar cells" in capsys.readouterr().err
