"""Nothing heavy is imported before it is used; told by module names, never by a clock."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

MODEL = """\
thermnet: 1
temperatures: degC
nodes:
  plate: {capacity: 450 J/K}
boundaries:
  space: {temperature: -270.45}
surfaces:
  radiator: {node: plate, area: 1000 cm2, emittance: 0.85}
loads:
  electronics: {node: plate, heat: 30 W}
cases:
  hot: {solve: steady}
"""

EVERYTHING = {"matplotlib", "networkx", "numba", "numpy", "pint", "pydantic", "scipy", "yaml"}
RARE = {
    "matplotlib",
    "networkx",
    "numba",
    "pint",
    "scipy.integrate",
    "scipy.io",
    "scipy.optimize",
    "thermnet.figures",
    "thermnet.saved",
}
OF_HISTORIES = {"thermnet.solve.cyclic", "thermnet.solve.march", "thermnet.solve.transient"}


def imported(code: str) -> set[str]:
    """The modules that are there after a program has run."""
    program = f"{code}\nimport sys\nprint('MODULES', *sys.modules)"
    run = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True
    )
    return set(run.stdout.rpartition("MODULES ")[2].split())


def after(tmp_path: Path, *arguments: str) -> set[str]:
    """The modules that are there after a command."""
    model = tmp_path / "plate.yaml"
    model.write_text(MODEL, encoding="utf-8")
    given = [str(model) if each == "MODEL" else each for each in arguments]
    return imported(
        "from thermnet.cli.main import main\n"
        f"try:\n    status = main({given!r})\nexcept SystemExit as end:\n    status = end.code\n"
        "assert status == 0, status"
    )


def test_importing_the_package_brings_in_nothing_heavy() -> None:
    assert imported("import thermnet") & EVERYTHING == set()


@pytest.mark.parametrize("option", ["--help", "--version"])
def test_help_brings_in_nothing_heavy(option: str, tmp_path: Path) -> None:
    assert after(tmp_path, option) & EVERYTHING == set()


@pytest.mark.parametrize("command", ["check", "solve"])
def test_a_steady_model_brings_in_neither_integrators_nor_drawing_nor_rare_units(
    command: str, tmp_path: Path
) -> None:
    found = after(tmp_path, command, "MODEL")
    assert {"numpy", "pydantic", "scipy", "yaml"} <= found
    assert found & (RARE | OF_HISTORIES) == set()
