"""The command `times`."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from thermnet.cli.main import main
from thermnet.cli.times import lapse

HOLDS, BAD_INPUT, UNSOLVED = 0, 2, 3  # as `thermnet --help` documents them

# From 50 degC to 0 degC with a time constant of 500 s, off after 600 s.
FILE = """\
thermnet: 1
name: Plover
temperatures: degC
uncertainty: {policy: flat, allowance: 5 K}
nodes: {plate: {capacity: 1000 J/K, initial: 50}}
boundaries: {sink: {temperature: 0}}
links: {out: {from: plate, to: sink, conductance: 2 W/K}}
modes: {work: {}, rest: {}}
units: {box: {node: plate, heat: {work: 100 W}}}
timelines:
  day: {steps: {work: {mode: work, duration: 600 s}, rest: {mode: rest}}}
components:
  box: {at: plate, unit: box, operating: [-10, 80], non_operating: [20, 90], switch_on: [-40, 40]}
  frame: {at: plate, operating: [-60, 70]}
cases:
  hot: {solve: steady, mode: work}
  cool: {solve: transient, duration: 2000 s, timeline: day, after: hot}
  idle: {solve: transient, duration: 50 s, mode: rest, after: hot}
"""


@pytest.fixture
def model(tmp_path: Path) -> str:
    path = tmp_path / "model.yaml"
    path.write_text(FILE, encoding="utf-8")
    return str(path)


def printed(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(["times", *arguments]) == HOLDS
    return capsys.readouterr().out


def refused(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(["times", *arguments]) == BAD_INPUT
    told = capsys.readouterr()
    assert told.out == ""
    return told.err


def row(told: str, start: str) -> str:
    return " ".join(next(line for line in told.splitlines() if line.startswith(start)).split())


def test_the_shortest_time_comes_first_rounded_down(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """500 ln(50/20) = 458.15 s and 500 ln(50/25) = 346.57 s (derived)."""
    told = printed(capsys, model, "--case", "cool")
    assert "Plover, cool (33.3 min): times from step 'rest' at 10.0 min" in told
    lines = told.splitlines()
    assert lines[3].startswith("box")
    assert row(told, "box") == (
        "box non-operating, cold plate 50.0 20.0 7 min 38 s 5 min 46 s 0.0 -25.0 K"
    )
    assert row(told, "frame") == "frame operating, cold plate 50.0 -60.0 never never 0.0 +55.0 K"
    assert "never: not within the case" in told


def test_a_wait_is_rounded_up(model: str, capsys: pytest.CaptureFixture[str]) -> None:
    """500 ln(50/40) = 111.57 s and 500 ln(50/35) = 178.34 s (derived)."""
    told = printed(capsys, model, "--case", "cool").partition("until units")[2]
    assert row(told, "box") == "box 50.0 -40.0 to 40.0 112 s 2 min 59 s - 0.0"


def test_an_event_may_be_a_step_or_a_time(model: str, capsys: pytest.CaptureFixture[str]) -> None:
    told = printed(capsys, model, "--case", "cool", "--since", "work")
    assert row(told, "box").endswith("17 min 38 s 15 min 46 s 0.0 -25.0 K")
    told = printed(capsys, model, "--case", "cool", "--since", "11 min")
    assert "times from 11.0 min" in told
    assert row(told, "box").endswith("6 min 38 s 4 min 46 s 0.0 -25.0 K")


def test_by_default_all_transient_cases_are_solved_in_which_the_event_happens(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    both = printed(capsys, model)
    assert "Plover, cool" in both
    assert "Plover, idle" in both
    assert "after the case: extend its duration" in both
    assert "Plover, idle" not in printed(capsys, model, "--since", "rest")


def test_only_the_components_asked_for_are_told(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    told = printed(capsys, model, "--component", "frame")
    assert "box" not in told
    assert "frame" in told


def test_programs_get_seconds_and_kelvin_and_null_for_what_never_comes(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (found,) = json.loads(printed(capsys, model, "--case", "cool", "--json"))
    assert (found["case"], found["since"], found["step"]) == ("cool", 600.0, "rest")
    cold = found["limits"][0]
    assert cold["predicted"] == pytest.approx(346.574, abs=0.3)
    assert cold["limit"] == pytest.approx(293.15)
    assert found["limits"][-1]["calculated"] is None
    assert found["warm_ups"][0]["band"] == pytest.approx([233.15, 313.15])


def test_the_table_is_written_whole(
    model: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "out"
    printed(capsys, model, "--case", "cool", "--out", str(folder))
    assert [path.name for path in folder.iterdir()] == ["times.csv"]
    with (folder / "times.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 6
    assert float(rows[0]["predicted [s]"]) == pytest.approx(346.574, abs=0.3)
    assert {each["what"] for each in rows} == {"operating", "non-operating", "switch-on"}


def test_a_steady_case_is_refused_before_anything_is_solved(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    told = refused(capsys, model, "--case", "hot")
    assert "model.yaml:16:3: cases.hot: times count from an event in a transient case" in told


def test_what_is_neither_step_nor_time_names_the_nearest(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    told = refused(capsys, model, "--since", "rset")
    assert "'rset' is neither a step of the timeline nor a time; did you mean 'rest'?" in told


def test_a_step_that_a_case_does_not_have_is_told(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = [model, "--case", "idle", "--case", "cool", "--since", "rest"]
    assert "no step 'rest' begins in this case" in refused(capsys, *arguments)


def test_an_unknown_component_is_told(model: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert "unknown component 'bos'; did you mean 'box'?" in refused(
        capsys, model, "--component", "bos"
    )


def test_a_model_without_a_transient_case_says_what_to_make(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "still.yaml"
    path.write_text(FILE.partition("  cool:")[0], encoding="utf-8")
    assert "no case is transient: make one that starts 'after' another" in refused(
        capsys, str(path)
    )


def test_a_case_that_cannot_be_solved_ends_with_its_status(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = ["times", model, "--case", "cool", "--set", "units.box.heat.work=1e7 W"]
    assert main(arguments) == UNSOLVED
    told = capsys.readouterr()
    assert "NOT SOLVED" in told.out
    assert "cool: not solved" in told.err


@pytest.mark.parametrize(
    ("seconds", "limit", "wait"),
    [
        (0.0, "at once", "at once"),
        (0.4, "0 s", "1 s"),
        (119.5, "119 s", "2 min 00 s"),
        (754.6, "12 min 34 s", "12 min 35 s"),
        (3599.5, "59 min 59 s", "1 h 00 min"),
        (7500.0, "2 h 05 min", "2 h 05 min"),
        (7501.0, "2 h 05 min", "2 h 06 min"),
        (172800.0, "2 d 00 h", "2 d 00 h"),
        (200000.0, "2 d 07 h", "2 d 08 h"),
    ],
)
def test_times_are_rounded_to_the_careful_side(seconds: float, limit: str, wait: str) -> None:
    assert lapse(seconds) == limit
    assert lapse(seconds, up=True) == wait


def test_a_margin_of_nothing_has_no_minus_sign(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """It settles at 0 degC, a hundredth of a kelvin outside of its limit."""
    path = Path(model)
    text = FILE.replace("allowance: 5 K", "allowance: 0 K").replace("[20, 90]", "[0.01, 90]")
    path.write_text(text, encoding="utf-8")
    assert row(printed(capsys, model, "--case", "idle"), "box").endswith("0.0 +0.0 K")
