"""Checks of a network that only the model can make: how parts are joined."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.model import blanketed
from tests.test_interfaces import HOST, RADIATING, models
from thermnet.cli.main import main
from thermnet.model.assemble import assemble
from thermnet.model.checks import problems_of_network
from thermnet.model.paths import apply_case, vary
from thermnet.model.read import parse
from thermnet.results import solve

LINK = "links:\n  mount: {from: wall, to: camera/mount, conductance: 0.4 W/K}\n"
ALONE = HOST.replace(LINK, "")
"""A host that brings the part in and forgets it: it radiates to space, and so is solved."""

FORGOTTEN = "nothing but its own part 'camera' is joined to this interface"


def told(host: str) -> list[str]:
    model = apply_case(models(host, RADIATING), "case")
    found = problems_of_network(model, assemble(model))
    return [each.message for each in found if each.path == "interfaces.camera/mount"]


def test_an_interface_that_the_host_joins_to_nothing_is_told() -> None:
    (message,) = told(ALONE)
    assert message.startswith(FORGOTTEN)
    assert told(HOST) == []


def test_a_load_of_the_host_on_an_interface_joins_it() -> None:
    load = "loads:\n  lamp: {node: camera/mount, heat: 2 W}\ncases:"
    assert told(ALONE.replace("cases:", load)) == []


def test_an_interface_held_at_a_temperature_needs_no_link() -> None:
    model = vary(models(ALONE, RADIATING), {"interfaces.camera/mount.temperature": 300.0})
    model = apply_case(model, "case")
    found = [each.path for each in problems_of_network(model, assemble(model))]
    assert "interfaces.camera/mount" not in found


def test_check_and_solve_tell_the_same(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name, text in (("host.yaml", ALONE), ("camera.yaml", RADIATING)):
        (tmp_path / name).write_text(text, encoding="utf-8")
    assert main(["check", str(tmp_path / "host.yaml")]) == 0
    checked = capsys.readouterr().err
    assert FORGOTTEN in checked
    problems = solve(models(ALONE, RADIATING), "case").problems
    assert [each.message for each in problems if FORGOTTEN in each.message] != []


def said_of_blankets(body: str, bound: str = "nominal", **changes: object) -> list[tuple[str, str]]:
    """What is said, and at what path, of a blanket in a case that uses one of its bounds."""
    varied = {f"blankets.tank.{key}": value for key, value in changes.items()}
    made = vary(blanketed.model(body, bound), varied) if varied else blanketed.model(body, bound)
    model = apply_case(made, "case")
    found = problems_of_network(model, assemble(model))
    assert {each.severity for each in found} <= {"warning"}
    return [(each.path, each.message) for each in found if each.path.startswith("blankets.")]


def test_a_formula_beyond_its_range_is_told_where_the_number_stands() -> None:
    assert said_of_blankets(blanketed.FOLDED) == []
    crowded = blanketed.FOLDED.replace("4000", "6000").replace("count: 20", "count: 8")
    found = said_of_blankets(crowded)
    assert [path for path, _ in found] == [
        "blankets.tank.layers.count",
        "blankets.tank.layers.compressed.folds.density",
    ]
    assert "10 layers or more, not for 8" in found[0][1]
    assert "6000 layers/m lie outside the 200 to 5000" in found[1][1]


def test_layers_as_thick_as_a_door_are_told_as_a_slip_of_units() -> None:
    ((path, message),) = said_of_blankets("layers: {count: 20, emittance: 0.03, density: 20 1/m}")
    assert path == "blankets.tank.layers.density"
    assert "the layers together are 1 m thick: is the unit right?" in message


STATED = "effective_emittance: 0.02, low: 0.01, high: 0.04"


def test_a_changed_emittance_that_the_case_does_not_use_is_told() -> None:
    ((path, message),) = said_of_blankets(STATED, "high", effective_emittance=0.03)
    assert path == "blankets.tank.effective_emittance"
    assert message == (
        "effective_emittance is changed, but case 'case' uses the 'high' bound, which stays at 0.04"
    )
    ((_, other),) = said_of_blankets(STATED, high=0.05)
    assert other.endswith("uses the nominal value, which stays at 0.02")


def test_a_changed_emittance_that_the_case_uses_is_not_told() -> None:
    assert said_of_blankets(STATED, effective_emittance=0.03) == []
    assert said_of_blankets(STATED, "high", high=0.05) == []
    assert said_of_blankets(STATED, "high", high=0.05, effective_emittance=0.03) == []
    assert said_of_blankets(STATED, "high", effective_emittance=0.02) == []


def test_of_two_cases_at_both_bounds_one_uses_a_changed_bound() -> None:
    made = vary(blanketed.model(STATED, "both"), {"blankets.tank.high": 0.05})
    for case in ("case, blankets low", "case, blankets high"):
        model = apply_case(made, case)
        assert problems_of_network(model, assemble(model)) == ()


def test_a_case_that_changes_an_emittance_and_uses_a_bound_is_told_where_it_does() -> None:
    text = blanketed.MODEL.replace("BODY", STATED).replace("OWN\n", "").replace("HEAT", "20")
    text = text.replace("blankets: BOUND, atmosphere: AROUND", "blankets: high, set: {PATH: 0.03}")
    text = text.replace("PATH", "blankets.tank.effective_emittance")
    model = apply_case(parse({"model.yaml": text}, "model.yaml"), "case")
    (problem,) = problems_of_network(model, assemble(model))
    assert problem.path == "cases.case.set.blankets.tank.effective_emittance"
    assert problem.place is not None
