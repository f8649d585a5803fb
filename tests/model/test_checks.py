"""Checks of a network that only the model can make: how parts are joined."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.test_interfaces import HOST, RADIATING, models
from thermnet.cli.main import main
from thermnet.model.assemble import assemble
from thermnet.model.checks import problems_of_network
from thermnet.model.paths import apply_case, vary
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
