"""The command `scan`."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tests.studies.test_beta import CLOSED_FORMS
from thermnet.cli.main import main

HOLDS, FAILS, BAD_INPUT, UNSOLVED = 0, 1, 2, 3  # as `thermnet --help` documents them
FEW = ["--from", "-10", "--to", "10", "--step", "5"]


@pytest.fixture
def model(tmp_path: Path) -> str:
    path = tmp_path / "model.yaml"
    path.write_text(CLOSED_FORMS, encoding="utf-8")
    return str(path)


def test_the_table_names_the_governing_angle_and_case_worst_first(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["scan", model, *FEW]) == HOLDS
    out = capsys.readouterr().out
    lines = out.splitlines()
    head = next(k for k, line in enumerate(lines) if line.startswith("component"))
    sizes = [float(line.split(" K ")[0].split()[-1]) for line in lines[head + 2 : head + 10]]
    assert sizes == sorted(sizes)
    roof = next(line for line in lines if line.startswith("roof") and " hot " in line)
    assert roof.split()[-2:] == ["0°", "case"]
    assert "any" in next(line for line in lines if line.startswith("inside"))
    assert "4 of 4 components hold at every angle" in out
    assert "the Sun at 1 au" in out


def test_a_margin_that_fails_at_any_angle_fails(model: str) -> None:
    changes = ["--set", "components.roof.operating.1=-50 degC"]
    assert main(["scan", model, *FEW, *changes]) == FAILS


def test_a_point_without_a_solution_has_its_status_and_is_told(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    changes = ["--set", "surfaces.roof.emittance=1e-9"]
    assert main(["scan", model, *FEW, *changes]) == UNSOLVED
    assert "case at beta -10°: not solved: " in capsys.readouterr().err


@pytest.mark.parametrize(
    "more",
    [
        ["--from", "80", "--to", "70"],
        ["--step", "0"],
        ["--component", "rof"],
        ["--case", "on the ground"],
        ["--case", "nowhere"],
    ],
)
def test_what_cannot_be_scanned_is_bad_input(model: str, more: list[str]) -> None:
    assert main(["scan", model, *more]) == BAD_INPUT


def test_json_holds_the_governing_margins_with_their_angles(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["scan", model, *FEW, "--component", "roof", "--json"])
    found = json.loads(capsys.readouterr().out)
    (roof,) = found["components"]
    assert roof["hot"]["beta"] == roof["highest"]["beta"] == 0.0
    assert roof["hot"]["everywhere"] is False
    assert found["cases"][0]["low"] == -10.0


def test_out_writes_every_point_of_every_component(
    model: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "out"
    main(["scan", model, *FEW, "--out", str(folder)])
    assert "wrote " in capsys.readouterr().err
    assert [file.name for file in folder.iterdir()] == ["scan.csv"]
    with (folder / "scan.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["component"] for row in rows} == {"roof", "wing", "ball", "inside"}
    assert {float(row["beta [deg]"]) for row in rows} >= {-10.0, 0.0, 10.0}
    assert all(float(row["lowest [K]"]) <= float(row["highest [K]"]) for row in rows)


def test_an_interrupted_scan_writes_nothing(
    model: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("thermnet.studies.beta.point_of", interrupted)
    assert main(["scan", model, *FEW, "--out", str(tmp_path / "out")]) == 130
    assert not (tmp_path / "out").exists()
