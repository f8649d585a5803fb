"""The public interface: every name is there, documented, and costs nothing before it is used."""

from __future__ import annotations

import ast
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

import thermnet

SOURCE = Path(thermnet.__file__)
HEAVY = ("matplotlib", "networkx", "numpy", "pint", "pydantic", "scipy", "yaml")
NAMES = [name for name in thermnet.__all__ if name != "__version__"]


def typed_names() -> dict[str, str]:
    """Names of the TYPE_CHECKING block and the modules they come from."""
    block = next(
        node
        for node in ast.parse(SOURCE.read_text(encoding="utf-8")).body
        if isinstance(node, ast.If)
    )
    return {
        alias.name: node.module
        for node in block.body
        if isinstance(node, ast.ImportFrom) and node.module
        for alias in node.names
    }


def loaded_after(statements: str) -> set[str]:
    """Foreign packages in a fresh interpreter after it ran the statements."""
    code = f"import sys\n{statements}\nprint(*sys.modules)"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return {name.split(".")[0] for name in run.stdout.splitlines()[-1].split()}


def test_type_checkers_and_the_interpreter_see_the_same_names() -> None:
    assert typed_names() == thermnet._HOME
    assert sorted(NAMES) == sorted(thermnet._HOME)


@pytest.mark.parametrize("name", NAMES)
def test_a_public_name_comes_from_its_module_and_is_documented(name: str) -> None:
    value = getattr(thermnet, name)
    assert value is getattr(import_module(thermnet._HOME[name]), name)
    assert callable(value)
    assert value.__doc__


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no public name 'marginz'"):
        _ = thermnet.marginz  # type: ignore[attr-defined]


def test_a_function_is_not_hidden_by_the_module_of_its_name() -> None:
    for module in set(thermnet._HOME.values()):
        import_module(module)
    hidden = [name for name in NAMES if not callable(getattr(thermnet, name))]
    assert hidden == []


def test_import_thermnet_brings_in_nothing_heavy() -> None:
    assert loaded_after("import thermnet").isdisjoint(HEAVY)


def test_help_brings_in_nothing_heavy() -> None:
    asked = (
        "from thermnet.cli.main import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass"
    )
    assert loaded_after(asked).isdisjoint(HEAVY)
