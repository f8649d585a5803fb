"""The command `modes`: units by mode against the budget, and what each case does."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tests.model.operated import OPERATED
from thermnet.cli.main import main


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "operated.yaml"
    path.write_text(OPERATED, encoding="utf-8")
    return path


def test_it_prints_what_each_unit_gives_and_what_is_left_of_the_budget(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["modes", str(file)]) == 0
    words = [line.split() for line in capsys.readouterr().out.splitlines()]
    assert ["camera", "box,", "plate", "-", "12.00", "+", "2.00"] in words
    # By hand: 7 + 12 + 2 W of 21 W, and 5 W of 10 W.
    assert ["all", "units", "5.00", "21.00"] in words
    assert ["left", "5.00", "0.00"] in words


def test_it_prints_when_each_step_begins_and_how_long_it_lasts(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["modes", str(file), "--json"]) == 0
    steps = json.loads(capsys.readouterr().out)["cases"]["day"]["steps"]
    assert [step["mode"] for step in steps] == ["idle", "imaging", "idle"]
    assert steps[1]["lasts"] == pytest.approx(600.0)
    # The orbit is circular: its angle goes with time.
    period = steps[2]["begins"] + steps[2]["lasts"]
    assert steps[1]["orbit_angle"] == pytest.approx(360.0 * steps[1]["begins"] / period)


def test_a_mode_over_its_budget_fails(file: Path) -> None:
    assert main(["modes", str(file), "--set", "modes.imaging.budget=20.9"]) == 1


def test_check_warns_of_a_mode_over_its_budget(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", str(file), "--set", "modes.imaging.budget=20"]) == 0
    assert "1 W more than the budget of 20 W" in capsys.readouterr().err


def test_tables_are_written_on_request(file: Path, tmp_path: Path) -> None:
    assert main(["modes", str(file), "--out", str(tmp_path / "out")]) == 0
    with (tmp_path / "out" / "units.csv").open(encoding="utf-8") as table:
        assert list(csv.reader(table))[2] == ["camera", "0.0", "12.0"]
    with (tmp_path / "out" / "steps.csv").open(encoding="utf-8") as table:
        assert [row[2] for row in csv.reader(table)] == ["mode", "idle", "imaging", "idle"]


def test_a_model_without_modes_is_told_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "plain.yaml"
    path.write_text(
        "thermnet: 1\nnodes: {a: {capacity: 1 J/K}}\nboundaries: {b: {temperature: 3 K}}\n"
        "links: {c: {from: a, to: b, conductance: 1 W/K}}\ncases: {d: {solve: steady}}\n",
        encoding="utf-8",
    )
    assert main(["modes", str(path)]) == 2
    assert "the model has no modes" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("solve", "steps"),
    [
        # By hand: 500 s and 2000 s of a step at 0 s and one at 1000 s; a steady case has no end.
        ("solve: steady", [("wait", None)]),
        ("solve: transient, duration: 500 s", [("wait", 500.0)]),
        ("solve: transient, duration: 2000 s", [("wait", 1000.0), ("pass", 1000.0)]),
    ],
)
def test_steps_that_a_case_never_comes_to_are_not_printed(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    solve: str,
    steps: list[tuple[str, float | None]],
) -> None:
    begin, end = OPERATED.index("timelines:"), OPERATED.index("components:")
    once = "timelines:\n  day:\n    steps:\n      wait: {mode: idle, time: 0 s}\n"
    once += "      pass: {mode: imaging, time: 1000 s}\n"
    text = f"{OPERATED[:begin]}{once}{OPERATED[end:]}".replace("solve: repeating", solve)
    path = tmp_path / "once.yaml"
    path.write_text(text, encoding="utf-8")
    assert main(["modes", str(path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["cases"]["day"]["steps"]
    assert [(step["step"], step["lasts"]) for step in found] == steps
