"""The command `failures`."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from tests.studies.test_failures import FAILING
from thermnet.cli.main import main
from thermnet.results import solve
from thermnet.studies import failed_cases as study

HOLDS, FAILS, BAD_INPUT, UNSOLVED = 0, 1, 2, 3  # as `thermnet --help` documents them


@pytest.fixture
def model(tmp_path: Path) -> str:
    path = tmp_path / "model.yaml"
    path.write_text(FAILING, encoding="utf-8")
    return str(path)


def test_the_table_names_every_failure_worst_first(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["failures", model]) == FAILS
    lines = capsys.readouterr().out.splitlines()
    head = next(k for k, line in enumerate(lines) if line.startswith("failure "))
    assert [line.split("  ")[0] for line in lines[head + 2 : head + 5]] == [
        "nothing failed",
        "nothing failed",
        "dry pipe",
    ]
    dry = next(line for line in lines if line.startswith("dry pipe") and " cold " in line)
    # Derived: 90 degC of a box that may have 50 degC, and has 14.7 degC with its pipe.
    assert "outside band" in dry
    assert "-40.0 K" in dry
    assert "-75.3 K" in dry
    assert any("the heater does not come on" in line for line in lines)
    # By hand: the pipe fails both cases, the heater the cold one off and the warm one on.
    assert lines[-1].startswith("every limit holds in 5 of 9 failed cases; in 4 ")


def test_a_table_in_which_all_holds_has_status_zero(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    more = ["--case", "cold", "--failure", "heater tank failed on"]
    assert main(["failures", model, *more]) == HOLDS
    assert "every limit holds in 1 of 1 failed cases" in capsys.readouterr().out


def test_a_failure_without_a_solution_has_its_status_and_is_told(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = Path(model)
    text = path.read_text(encoding="utf-8")
    cut = text.replace("links: [heat pipe]", "links: [heat pipe, wall of the heat pipe]")
    path.write_text(cut, encoding="utf-8")
    assert main(["failures", model]) == UNSOLVED
    told = capsys.readouterr().err
    assert "not solved: 'dry pipe' leaves it without a solution: no route to a boundary" in told


@pytest.mark.parametrize(
    "more", [["--failure", "dry pip"], ["--case", "colder"], ["--set", "links.pipe.lost=true"]]
)
def test_what_is_unknown_is_bad_input(
    model: str, more: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["failures", model, *more]) == BAD_INPUT
    assert "unknown" in capsys.readouterr().err


def test_json_holds_the_rows_in_kelvin(model: str, capsys: pytest.CaptureFixture[str]) -> None:
    main(["failures", model, "--case", "cold", "--failure", "dry pipe", "--json"])
    found = json.loads(capsys.readouterr().out)
    as_it_is, dry = found["rows"]
    assert as_it_is["failure"] == "nothing failed"
    assert dry["newly_failing"] == ["box"]
    assert dry["worst"]["calculated"] == pytest.approx(363.15, abs=1e-6)  # 90 degC
    assert dry["lost"] == pytest.approx(80.0 - 40.0 / 8.5, abs=1e-6)


def test_out_writes_every_margin_of_every_row(model: str, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    main(["failures", model, "--out", str(folder)])
    assert [file.name for file in folder.iterdir()] == ["failures.csv"]
    with (folder / "failures.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["failure"] for row in rows} >= {"nothing failed", "dry pipe"}
    dry = [row for row in rows if (row["failure"], row["case"]) == ("dry pipe", "cold")]
    assert {row["component"] for row in dry} == {"box", "tank"}


def test_an_interrupted_table_shows_what_is_done_and_writes_nothing(
    model: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    solved: list[str] = []

    def until_the_third(*how: Any) -> Any:
        if len(solved) == 2:
            raise KeyboardInterrupt
        solved.append(how[1])
        return solve(*how)

    monkeypatch.setattr(study, "solve", until_the_third)
    assert main(["failures", model, "--out", str(tmp_path / "out")]) == 130
    told = capsys.readouterr()
    assert "dry pipe" in told.out
    assert "heater tank" not in told.out
    assert "interrupted: 2 of 11 rows are done, and nothing is written" in told.err
    assert not (tmp_path / "out").exists()


def test_many_components_that_newly_fail_are_counted_in_the_table(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Six boxes like the first fail together; four are named."""
    path = Path(model)
    more = "".join(f"  box {k}: {{at: box, operating: [-10, 50]}}\n" for k in range(5))
    text = path.read_text(encoding="utf-8").replace("components:\n", f"components:\n{more}")
    path.write_text(text, encoding="utf-8")
    main(["failures", model, "--case", "cold", "--failure", "dry pipe"])
    assert "box 0, box 1, box 2, box 3 and 2 more" in capsys.readouterr().out
