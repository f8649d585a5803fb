"""What is doubtful about solved cases reaches whoever solves them, once and with its place."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.small_models import solved
from thermnet.cli.main import main
from thermnet.doubts import seen

COLD = """
thermnet: 1
temperatures: K
uncertainty: {policy: none}
nodes:
  stage: {capacity: 10 J/K}
boundaries:
  sink: {temperature: 40}
conductors:
  strut: {from: stage, to: sink, material: epoxy resin, bar: {area: 1e-4 m2, length: 0.1 m}}
heat_pipes:
  pipe: {at: {stage: 5 W/K, sink: 5 W/K}, most: 3 W}
loads:
  stage: {node: stage, heat: 4 W}
components:
  stage: {at: stage, operating: [10, 400]}
cases:
  one: {}
  two: {}
"""


def test_doubts_are_warnings_at_the_place_of_their_entry() -> None:
    found = {problem.path: str(problem) for problem in solved(COLD, "one").problems}
    assert found.keys() == {"conductors.strut", "heat_pipes.pipe.most"}
    assert "model.yaml:10:3" in found["conductors.strut"]
    assert "one number known near 300 K" in found["conductors.strut"]


def test_a_case_within_all_ranges_has_none() -> None:
    text = COLD.replace("temperature: 40", "temperature: 290").replace("heat: 4 W", "heat: 1 W")
    assert solved(text, "one").problems == ()


def test_the_most_heat_through_a_path_is_half_the_sum_of_what_its_links_carry() -> None:
    result = solved(COLD, "one")
    went = seen(result.network, result.solution)
    strut = went.most("conductors.strut")
    assert went.most("heat_pipes.pipe") + 2.0 * strut == pytest.approx(4.0)
    assert went.steady


@pytest.mark.parametrize("command", ["solve", "margins", "couplings"])
def test_commands_tell_each_doubt_once_for_all_cases(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "cold.yaml"
    file.write_text(COLD, encoding="utf-8")
    main([command, str(file)])
    told = capsys.readouterr().err
    assert told.count("one number known near 300 K") == 1
    assert "cold.yaml:10:3" in told


def test_a_loop_over_failures_tells_a_doubt_once_whatever_its_numbers(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "cold.yaml"
    text = COLD.replace("two: {}", "two: {set: {loads.stage.heat: 5 W}}")
    text += "failures:\n  weak: {set: {conductors.strut.bar.area: 5e-5 m2}}\n"
    file.write_text(text, encoding="utf-8")
    main(["failures", str(file)])
    told = capsys.readouterr().err
    assert told.count("one number known near 300 K") == 1
    assert told.count("carries") <= 1
