"""The command line: exit statuses, what is printed where, and what is written."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.small_models import STEADY
from thermnet.cli.main import main

HEAVY = {"numpy", "scipy", "pydantic", "matplotlib", "networkx", "pint", "yaml"}
HOLDS, FAILS, BAD_INPUT, UNSOLVED = 0, 1, 2, 3  # as `thermnet --help` documents them

MODEL = (
    STEADY
    + """
  warm: {title: warm, solve: steady, kind: hot, set: {loads.plate.heat: {scale: 1.5}}}
  history: {solve: transient, duration: 600 s, initial: given}
heaters:
  mirror: {node: mirror, power: 40 W, on_below: 13, off_above: 15}
components:
  unit: {at: plate, operating: [-10, 40]}
  optics: {at: mirror, operating: [-10, 40], held_by: mirror}
"""
)


@pytest.fixture
def model(tmp_path: Path) -> str:
    path = tmp_path / "model.yaml"
    path.write_text(MODEL, encoding="utf-8")
    return str(path)


def written(tmp_path: Path, text: str) -> str:
    path = tmp_path / "changed.yaml"
    path.write_text(text, encoding="utf-8")
    return str(path)


# ---------------------------------------------------------------- exit statuses


def test_status_0_when_all_margins_hold(model: str) -> None:
    """Warm: 30 degC + 5 K against 40."""
    assert main(["margins", model]) == HOLDS


def test_status_1_when_a_margin_fails(model: str) -> None:
    """36 degC + 5 K against 40."""
    assert main(["margins", model, "--case", "case", "--set", "loads.plate.heat=36"]) == FAILS


def test_status_2_for_bad_input(model: str) -> None:
    assert main(["margins", model, "--case", "nowhere"]) == BAD_INPUT


def test_status_3_when_a_case_has_no_solution(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    for command in ("margins", "solve"):
        arguments = [command, model, "--case", "case", "--set", "loads.plate.heat=1e6 W"]
        assert main(arguments) == UNSOLVED
        assert "case: not solved: " in capsys.readouterr().err


def test_an_unsolved_case_is_named_in_the_table_and_does_not_count(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["margins", model, "--case", "case", "--set", "loads.plate.heat=1e6 W"])
    out = capsys.readouterr().out
    assert "not solved" in out
    assert "holds" not in out
    assert "0 of 2 components hold" in out


@pytest.mark.parametrize("more", [[], ["--all"]])
def test_what_is_not_a_number_is_a_dash_in_tables(
    tmp_path: Path, more: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    limits = "operating: [-10, 40], rate: 1 K/min, differences: {focus: {to: sink, limit: 9 K}}"
    path = written(tmp_path, MODEL.replace("operating: [-10, 40]}", f"{limits}}}"))
    main(["margins", path, "--case", "case", "--set", "loads.plate.heat=1e6 W", *more])
    assert "nan" not in capsys.readouterr().out


def test_solving_says_nothing_about_margins(model: str) -> None:
    assert main(["solve", model, "--case", "case", "--set", "loads.plate.heat=36"]) == HOLDS


def test_usage_mistakes_have_the_status_of_bad_input() -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["margin"])
    assert stopped.value.code == BAD_INPUT


# ---------------------------------------------------------------- bad input


def test_a_mistake_in_the_file_goes_to_stderr_with_its_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = written(
        tmp_path, MODEL.replace("conductance: 1 W/K}\n  mirror", "conductance: 1 W}\n  mirror")
    )
    assert main(["check", path]) == BAD_INPUT
    captured = capsys.readouterr()
    assert captured.out == ""
    assert f"{path}:11:55: links.plate to sink.conductance:" in captured.err
    assert captured.err.rstrip().endswith("1 problem")


def test_all_mistakes_come_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = MODEL.replace("node: plate, heat: 20 W", "node: plait, heat: 20 K")
    assert main(["margins", written(tmp_path, text)]) == BAD_INPUT
    error = capsys.readouterr().err
    assert "plate" in error  # the nearest name
    assert error.rstrip().endswith("2 problems")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--case", "worm"], "unknown case 'worm'; did you mean 'warm'?"),
        (["--method", "rosenbrok"], "unknown method 'rosenbrok'"),
        (["--set", "loads.plait.heat=1"], "unknown entry 'plait' in loads; did you mean 'plate'?"),
        (["--set", "load.plate.heat=1"], "unknown section 'load'"),
        (["--set", "loads.plate.heet=1"], "heat"),
        (["--set", "loads.plate.heat"], "expected PATH=VALUE, got 'loads.plate.heat'"),
        (["--set", "loads.plate.heat=3 K"], "W"),
        (["--accuracy", "0"], "--accuracy must be from 1e-6 to 1 K, got 0"),
        (["--accuracy", "nan"], "--accuracy must be from 1e-6 to 1 K, got nan"),
    ],
)
def test_a_wrong_argument_is_named_with_what_was_meant(
    model: str, arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["margins", model, *arguments]) == BAD_INPUT
    captured = capsys.readouterr()
    assert captured.out == ""
    assert said in captured.err


def test_an_unknown_node_has_no_heat_account(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["solve", model, "--case", "case", "--heat", "plait"]) == BAD_INPUT
    assert "unknown node 'plait'; did you mean 'plate'?" in capsys.readouterr().err


def test_a_file_that_is_not_there_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "nowhere.yaml"]) == BAD_INPUT
    assert capsys.readouterr().err == "nowhere.yaml: No such file or directory\n"


def test_a_model_without_cases_cannot_be_solved(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = written(tmp_path, STEADY.replace("cases:\n  case: {solve: steady}\n", ""))
    assert main(["margins", path]) == BAD_INPUT
    assert "no cases" in capsys.readouterr().err


# ---------------------------------------------------------------- check and show


def test_check_prints_what_a_case_changes(model: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", model, "--case", "warm"]) == HOLDS
    out = capsys.readouterr().out
    assert "loads.plate.heat: 20.0 -> 30.0" in out
    assert "no errors" in out


def test_show_says_where_a_value_stands_and_what_it_is_in_each_case(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["show", model, "loads.plate.heat"]) == HOLDS
    out = capsys.readouterr().out
    assert f"stands at {model}:14:" in out
    assert "file: 20 W" in out
    assert "warm: 30 W" in out


def test_show_as_json(model: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["show", model, "links.plate to sink.conductance", "--json"]) == HOLDS
    shown = json.loads(capsys.readouterr().out)
    assert shown["unit"] == "W/K"
    assert shown["values"]["warm"] == 1.0


def test_a_number_changed_on_the_command_line_reaches_the_margin(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """20 W through 2 W/K: 10 degC, 5 K of allowance, 40 - 15."""
    conductance = "links.plate to sink.conductance"
    main(["show", model, conductance, "--set", f"{conductance}=2 W/K"])
    assert "file: 2 W/K" in capsys.readouterr().out
    main(["margins", model, "--case", "case", "--set", f"{conductance}=2 W/K", "--json"])
    (hot,) = [
        margin
        for margin in json.loads(capsys.readouterr().out)
        if (margin["component"], margin["side"]) == ("unit", "hot")
    ]
    assert hot["margin"] == pytest.approx(25.0)


# ---------------------------------------------------------------- solve and margins


def margins_json(capsys: pytest.CaptureFixture[str], *arguments: str) -> list[dict[str, Any]]:
    main(["margins", *arguments, "--json"])
    found: list[dict[str, Any]] = json.loads(capsys.readouterr().out)
    return found


def test_margins_as_json_are_in_kelvin_and_name_every_field(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    found = margins_json(capsys, model, "--case", "warm")
    (hot,) = [m for m in found if (m["component"], m["side"]) == ("unit", "hot")]
    assert hot["calculated"] == pytest.approx(303.15)
    assert hot["margin"] == pytest.approx(5.0)
    assert hot["verdict"] == "holds"
    assert hot["case"] == "warm"


def test_what_is_not_a_number_is_null_in_json(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    found = margins_json(capsys, model, "--case", "case", "--set", "loads.plate.heat=1e6 W")
    assert {m["verdict"] for m in found} == {"not solved"}
    assert {m["margin"] for m in found} == {None}


def test_only_the_chosen_cases_are_judged(model: str, capsys: pytest.CaptureFixture[str]) -> None:
    chosen = margins_json(capsys, model, "--case", "case", "--case", "warm")
    assert {m["case"] for m in chosen} == {"case", "warm"}
    assert {m["case"] for m in margins_json(capsys, model)} == {"case", "warm", "history"}


def test_all_bands_of_all_cases_are_listed_on_request(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["margins", model, "--all"])
    lines = capsys.readouterr().out.splitlines()
    assert sum(" operating " in line for line in lines) == 2 * 2 * 3  # items, sides, cases


def test_solve_prints_temperatures_duty_and_the_account(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The mirror has 12 W and 40 W of heater: 12 + 40 (15 - T)/2 = T, so T = 312/21 degC."""
    assert main(["solve", model, "--case", "case"]) == HOLDS
    out = capsys.readouterr().out
    assert f"{312 / 21:.1f}" in out
    assert f"{100 * (15 - 312 / 21) / 2:.1f} %" in out
    assert "closes" in out


def test_the_heat_of_a_node_is_listed_by_cause(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["solve", model, "--case", "case", "--heat", "plate"])
    out = capsys.readouterr().out
    assert "loads.plate" in out
    assert "+20.0000" in out
    assert "-20.0000" in out


def test_solutions_as_json(model: str, capsys: pytest.CaptureFixture[str]) -> None:
    main(["solve", model, "--case", "case", "--json"])
    (found,) = json.loads(capsys.readouterr().out)
    assert found["mean"]["plate"] == pytest.approx(293.15)
    assert found["account"]["closes"] is True


@pytest.mark.parametrize("more", [[], ["--all"], ["--json"]])
def test_an_account_that_does_not_close_is_told_beside_the_margins(
    model: str,
    more: list[str],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setitem(sys.modules["thermnet.account"].TOLERANCE, "transient", 1e-15)
    main(["margins", model, "--case", "history", *more])
    captured = capsys.readouterr()
    assert "DOES NOT CLOSE" in captured.out + captured.err


# ---------------------------------------------------------------- what is written


def test_out_writes_results_tables_and_the_plot_and_says_so(
    model: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "out"
    assert main(["margins", model, "--case", "case", "--out", str(folder)]) == HOLDS
    told = capsys.readouterr().err.splitlines()
    names = {"case.nc", "case.csv", "margins.csv", "margins.png"}
    assert {file.name for file in folder.iterdir()} == names
    assert {line for line in told if line.startswith("wrote ")} == {
        f"wrote {folder / name}" for name in names
    }
    with (folder / "margins.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["component"] for row in rows} == {"unit", "optics"}


def test_saved_results_are_judged_without_solving_again(
    model: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "out"
    main(["solve", model, "--out", str(folder)])
    capsys.readouterr()
    fresh = margins_json(capsys, model)
    files = sorted(str(file) for file in folder.glob("*.nc"))
    assert len(files) == 3
    saved = margins_json(capsys, *files)
    keys = ("component", "case", "band", "side")
    in_order = [
        sorted(found, key=lambda margin: [margin[key] for key in keys]) for found in (saved, fresh)
    ]
    assert in_order[0] == in_order[1]


def test_saved_results_cannot_be_changed(
    model: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["solve", model, "--case", "case", "--out", str(tmp_path)])
    saved = str(tmp_path / "case.nc")
    assert main(["margins", saved, "--set", "loads.plate.heat=3"]) == BAD_INPUT
    assert "solved already" in capsys.readouterr().err


def test_results_of_different_overrides_are_not_judged_together(
    model: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["solve", model, "--case", "case", "--out", str(tmp_path / "a")])
    more = ["--set", "loads.plate.heat=3", "--out", str(tmp_path / "b")]
    main(["solve", model, "--case", "case", *more])
    files = [str(tmp_path / folder / "case.nc") for folder in "ab"]
    assert main(["margins", *files]) == BAD_INPUT
    assert "different models or overrides" in capsys.readouterr().err


def test_plot_writes_the_figure_it_was_asked_for(model: str, tmp_path: Path) -> None:
    more = ["--case", "history", "--figure", "history", "--component", "unit", "--format", "svg"]
    assert main(["plot", model, *more, "--out", str(tmp_path / "figures")]) == HOLDS
    files = [file.name for file in (tmp_path / "figures").iterdir()]
    assert files == ["history-history.svg"]


# ---------------------------------------------------------------- start-up


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "thermnet", *arguments], capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize("argument", ["--help", "--version"])
def test_help_and_version_import_nothing_heavy(argument: str) -> None:
    code = (
        "import sys\nfrom thermnet.cli.main import main\n"
        f"try:\n    main(['{argument}'])\nexcept SystemExit:\n    pass\n"
        "print(*sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = {name.partition(".")[0] for name in done.stdout.splitlines()[-1].split()}
    assert loaded.isdisjoint(HEAVY)


def test_the_help_documents_the_exit_statuses() -> None:
    done = run("--help")
    assert done.returncode == 0
    text = " ".join(done.stdout.split())
    for status in ("0 done", "1 a margin fails", "2 bad input", "3 a case could not be solved"):
        assert status in text


def test_the_module_runs_as_a_command_with_its_status(model: str) -> None:
    done = run("show", model, "loads.plate.heat")
    assert done.returncode == HOLDS
    assert done.stderr == ""
    assert run("show", model, "loads.plate.heet").returncode == BAD_INPUT
