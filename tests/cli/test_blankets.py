"""The command `blankets`: what it prints and writes, and its exit status."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.test_blankets import BETWEEN, FREE, HELD, SPOILT, STACK, STATED
from thermnet.cli.main import main
from thermnet.results import Result, solve_cases


def written(folder: Path, blanket: str) -> str:
    file = folder / "box.yaml"
    cases = "  day: {solve: transient, duration: 7200 s, initial: steady}\n"
    file.write_text(HELD.replace("BLANKET\n", blanket) + cases, encoding="utf-8")
    return str(file)


@pytest.fixture
def box(tmp_path: Path) -> str:
    return written(tmp_path, SPOILT)


def test_a_blanket_has_a_line_for_each_term_and_one_for_all(
    box: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["blankets", box, "--case", "case"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "box, case (steady)"
    assert lines[2] == "blanket tank, 2 m2: plate at 20.0 degC, face at -100.0 degC"
    assert lines[3].split()[:3] == ["term", "heat", "W"]
    assert len([line for line in lines if "box.yaml:" in line]) == 5
    # derived: 3 m times 0.002 W/m/K over 120 K
    (seam,) = [line for line in lines if "edge" in line]
    assert "0.7200" in seam
    assert [line.split()[0] for line in lines if line.startswith("all")] == ["all"]


def test_without_a_difference_nothing_has_a_share(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    box = written(tmp_path, STATED)
    level = ["--set", "boundaries.face.temperature=20 degC"]
    assert main(["blankets", box, "--case", "case", *level]) == 0
    lines = capsys.readouterr().out.splitlines()
    (row,) = [line for line in lines if line.startswith("effective emittance")]
    (total,) = [line for line in lines if line.startswith("all")]
    assert row.split()[2:5] == ["0.0000", "-", "-"]
    assert total.split()[1:] == ["0.0000", "-", "-"]


def test_no_zero_has_a_minus(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    little = STATED + "    fixings:\n      thread: {conductance: 1e-8 W/K, to: mast}\n"
    warm = ["--set", "boundaries.mast.temperature=30 degC"]
    assert main(["blankets", written(tmp_path, little), "--case", "case", *warm]) == 0
    (row,) = [line for line in capsys.readouterr().out.splitlines() if "thread" in line]
    assert row.split()[5:9] == ["0.0000", "0.0", "%", "0.00000"]


def test_that_temperatures_and_heat_are_means_over_time_is_said(
    box: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["blankets", box]) == 0
    assert "Heat and temperatures are means over time" in capsys.readouterr().out


def test_every_term_says_its_line_or_that_no_source_is_stated(
    box: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["blankets", box, "--case", "case"]) == 0
    (seam,) = [line for line in capsys.readouterr().out.splitlines() if "edge" in line]
    text = Path(box).read_text(encoding="utf-8").splitlines()
    (number,) = [k for k, line in enumerate(text, start=1) if "edge:" in line]
    assert f"box.yaml:{number}, no source stated" in seam


def test_that_a_blanket_is_known_from_test_only_is_said(
    box: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["blankets", box]) == 0
    assert "known from test only" in capsys.readouterr().out


def test_programs_get_watts_and_kelvin(box: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["blankets", box, "--json", "--case", "case"]) == 0
    (case,) = json.loads(capsys.readouterr().out)
    (blanket,) = case["blankets"]
    terms = {term["term"]: term["heat"] for term in blanket["terms"]}
    assert terms["blankets.tank"] > 0.0
    assert terms["blankets.tank.fixings.mast"] == pytest.approx(1.0, rel=1e-12)
    assert blanket["heat"] == pytest.approx(sum(terms.values()), rel=1e-12)
    assert blanket["outer_mean"] == pytest.approx(173.15)


def test_all_cases_are_written_as_one_table_with_sums(box: str, tmp_path: Path) -> None:
    assert main(["blankets", box, "--out", str(tmp_path / "out")]) == 0
    assert [each.name for each in (tmp_path / "out").iterdir()] == ["blankets.csv"]
    with (tmp_path / "out" / "blankets.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["what"] for row in rows].count("all") == 2
    steady = [row for row in rows if row["case"] == "case"]
    heat = sum(float(row["heat"]) for row in steady if row["term"])
    assert float(steady[-1]["heat"]) == pytest.approx(heat, rel=1e-12)


def test_a_blanket_of_known_layers_is_drawn_over_pressure(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["blankets", written(tmp_path, STACK), "--out", str(tmp_path / "out")]) == 0
    names = sorted(each.name for each in (tmp_path / "out").iterdir())
    assert names == ["blanket-pressure.png", "blankets.csv"]
    assert "wrote" in capsys.readouterr().err


def test_a_value_of_a_blanket_is_set_from_the_command_line(
    box: str, capsys: pytest.CaptureFixture[str]
) -> None:
    change = "blankets.tank.effective_emittance=0.02"
    assert main(["blankets", box, "--case", "case", "--json", "--set", change]) == 0
    (case,) = json.loads(capsys.readouterr().out)
    stated = case["blankets"][0]["terms"][0]
    assert stated["heat"] == pytest.approx(0.02 * 2.0 * BETWEEN, rel=1e-3)


VENTED = STACK + "    venting: {volume: 10 l, vents: 60 mm2, steepest_fall: 5000 Pa/s}\n"


def test_venting_is_told_once_where_it_is_the_same_in_all_cases(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["blankets", written(tmp_path, VENTED)]) == 0
    text = capsys.readouterr().out
    assert text.count("venting during ascent") == 1
    (row,) = [line for line in text.splitlines() if "case, day" in line]
    # derived: 60 mm2 to 10 litres are 6 mm2/l, above the rule's 5.7; 10 litres to 60 mm2 are 167 m
    assert " 6 " in row
    assert "167 (not kept)" in row
    assert "qualified" in text


def test_materials_of_blankets_have_their_margins(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "box.yaml"
    text = FREE.replace("BLANKET\n", STATED + "    made_of: {outer: polyimide film}\n")
    file.write_text(text, encoding="utf-8")
    assert main(["blankets", str(file), "--case", "case"]) == 0
    told = capsys.readouterr().out
    assert "tank blanket, outer layer" in told[told.index("materials of blankets") :]


def test_a_long_source_is_told_once_and_referred_to_by_its_number(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["blankets", written(tmp_path, STACK)]) == 0
    text = capsys.readouterr().out
    assert text.count("CR-134477") == 1
    assert text.count("[1]") == 5  # two terms in each of two cases, and the source itself


def test_a_case_that_is_not_solved_is_told_by_the_status_and_has_no_numbers(
    box: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def given_up(*arguments: Any) -> tuple[Result, ...]:
        found = solve_cases(*arguments)
        return tuple(replace(r, solution=replace(r.solution, failure="gave up")) for r in found)

    monkeypatch.setattr("thermnet.cli.blankets.solve_cases", given_up)
    assert main(["blankets", box, "--case", "case", "--out", str(tmp_path / "out")]) == 3
    assert "NOT SOLVED: gave up" in capsys.readouterr().out
    assert main(["blankets", box, "--case", "case", "--json"]) == 3
    (case,) = json.loads(capsys.readouterr().out)
    assert case["blankets"][0]["heat"] is None
    with (tmp_path / "out" / "blankets.csv").open(encoding="utf-8", newline="") as file:
        assert {row["heat"] for row in csv.DictReader(file)} == {""}


def test_a_model_without_blankets_is_told_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "bare.yaml"
    file.write_text(
        "thermnet: 1\nboundaries:\n  wall: {temperature: 20 degC}\ncases:\n  case: {}\n",
        encoding="utf-8",
    )
    assert main(["blankets", str(file)]) == 2
    assert "the model has no blankets" in capsys.readouterr().err
