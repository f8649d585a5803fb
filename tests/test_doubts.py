"""What is doubtful about solved cases reaches whoever solves them, once and with its place."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.small_models import model_of, solved
from thermnet.cli.main import main
from thermnet.doubts import seen
from thermnet.model.kinds import KINDS
from thermnet.model.kinds.kind import no_doubts
from thermnet.network.network import flows
from thermnet.results import solve
from thermnet.saved import open_result, save

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


DOUBTED = """
thermnet: 1
temperatures: K
uncertainty: {policy: none}
nodes:
  wax: {material: n-octadecane, mass: 1 g, initial: 290}
  stage: {capacity: 10 J/K, initial: 290}
boundaries:
  sink: {temperature: 40}
  warm: {temperature: 310}
  space: {temperature: 3}
links:
  wax: {from: wax, to: warm, conductance: 1}
  stage: {from: stage, to: sink, conductance: 1}
conductors:
  strut: {from: stage, to: sink, material: epoxy resin, bar: {area: 1e-4 m2, length: 0.1 m}}
joints:
  lid: {from: stage, to: warm, contact: {of: bare copper at 100 kPa, area: 1e-6, pressure: 1e6}}
panels:
  deck:
    from: stage
    to: warm
    direction: through
    area: 1e-3
    faces: {material: aluminium 2024-T6, thickness: 0.3 mm}
    core: {material: aluminium 5052, foil: 25 um, cell: 6 mm, height: 20 mm}
heat_pipes:
  pipe: {at: {stage: 5 W/K, sink: 5 W/K}, most: 1 mW}
loops:
  coolant: {through: [stage, sink], fluid: water, mass_flow: 1 mg/s}
radiators:
  fin:
    node: stage
    area: 0.01
    emittance: 0.85
    fin: {length: 0.3, thickness: 1 mm, material: aluminium 6061-T6, at: 300}
cases:
  day: {solve: transient, duration: 100 s, initial: given}
"""


def test_every_kind_that_doubts_is_heard() -> None:
    result = solved(DOUBTED, "day")
    heard = {problem.path.split(".")[0] for problem in result.problems}
    assert heard == {section for section, kind in KINDS.items() if kind.doubts is not no_doubts}
    assert {problem.severity for problem in result.problems} == {"warning"}


def test_the_most_heat_over_a_history_is_that_of_its_worst_instant() -> None:
    result = solved(DOUBTED, "day")
    network, record = result.network, result.solution.record
    (k,) = [
        k for k, origin in enumerate(network.links.origin)
        if network.origins[origin] == "conductors.strut"
    ]  # fmt: skip
    each = [
        abs(flows(network, temperature, time)[k]) / 2.0
        for temperature, time in zip(record.temperature, record.local_time, strict=True)
    ]
    went = seen(network, result.solution)
    assert max(each) > 1.01 * min(each)
    assert went.most("conductors.strut") == pytest.approx(max(each))
    assert went.most("conductors.of no such name") == 0.0


def test_nothing_is_doubted_about_a_case_that_is_not_solved() -> None:
    result = solve(model_of(COLD.replace("heat: 4 W", "heat: 1e7 W")), "one")
    assert result.solution.failure
    assert result.problems == ()


def test_the_heat_of_a_path_is_worked_out_for_whom_it_matters_only(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[str] = []

    def most(*of: object) -> float:
        asked.append(str(of[-1]))
        return 0.0

    monkeypatch.setattr("thermnet.doubts._most", most)
    solved(COLD, "one")
    assert asked == ["heat_pipes.pipe"]


def test_saved_results_keep_their_doubts(tmp_path: Path) -> None:
    result = solved(COLD, "one")
    opened = open_result(save(result, tmp_path / "one.nc"))
    assert [problem.message for problem in opened.problems] == [
        problem.message for problem in result.problems
    ]
