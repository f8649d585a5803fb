"""The layer table of DEVELOPERS.md, enforced on every import of the package."""

from __future__ import annotations

import ast
import itertools
import re
import sys
import tomllib
from collections.abc import Iterator
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
VERSION = "thermnet.__version__"
Modules = dict[str, ast.Module]


def table(head: str) -> list[list[str]]:
    """Cells of the table of DEVELOPERS.md whose first heading is `head`, row by row."""
    lines = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").splitlines()
    first = next(k for k, line in enumerate(lines) if line.startswith(f"| {head} |"))
    rows = itertools.takewhile(lambda line: line.startswith("|"), lines[first + 2 :])
    return [[cell.strip() for cell in row.strip("|").split("|")] for row in rows]


def words(cell: str) -> list[str]:
    """The words of a cell that stand in backquotes."""
    return re.findall(r"`([^`]+)`", cell)


LAYER = {name: int(row[0]) for row in table("layer") for name in words(row[1])}
EXCLUSIVE = {name: words(row[1]) for row in table("import or call") for name in words(row[0])}


@cache
def shipped() -> Modules:
    """Every module of the package by its dotted name."""
    modules = {}
    for path in sorted((ROOT / "thermnet").rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        name = ".".join(parts).removesuffix(".__init__")
        modules[name] = ast.parse(path.read_text(encoding="utf-8"), filename=str(path))
    return modules


def imports(tree: ast.Module, modules: Modules) -> Iterator[str]:
    """Names of the modules that a module imports, wherever in it, also for types alone."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.module, "imports are absolute"
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                known = whole in modules and node.module != "thermnet"
                yield whole if known or whole == VERSION else node.module


def inside(name: str) -> str:
    """A module's dotted name within the package."""
    return name.removeprefix("thermnet.")


def layer(name: str) -> int | None:
    return LAYER.get(inside(name).split(".")[0])


def room(name: str) -> str:
    """The folder a module stands in; single files stand in the package's own."""
    head = inside(name).split(".")[0]
    return head if (ROOT / "thermnet" / head).is_dir() else ""


def wrong_ways(modules: Modules) -> list[str]:
    """Imports that point up, or sideways into another room."""
    wrong = []
    for name, tree in modules.items():
        own = layer(name)
        for target in imports(tree, modules):
            if name == "thermnet" or target == VERSION or target.split(".")[0] != "thermnet":
                continue  # the public face sees all; the version is a constant
            other = layer(target)
            if target == "thermnet":
                wrong.append(f"{name} -> thermnet: the public face is for the outside")
            elif own is None or other is None:
                wrong.append(f"{name} -> {target}: not in the layer table")
            elif other > own or (other == own and room(name) != room(target)):
                wrong.append(f"{name} (layer {own}) -> {target} (layer {other})")
    return wrong


def trespasses(modules: Modules) -> list[str]:
    """Imports and calls that the table keeps to another module or room."""
    found = []
    for name, tree in modules.items():
        used = {target.split(".")[0] for target in imports(tree, modules)}
        used |= {
            node.func.id
            for node in ast.walk(tree)
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        }
        for thing in sorted(used & EXCLUSIVE.keys()):
            homes = EXCLUSIVE[thing]
            if not any(f"{inside(name)}.".startswith(f"{home}.") for home in homes):
                found.append(f"{name} uses {thing}, which belongs to {' and '.join(homes)}")
    return found


def test_every_module_stands_in_the_layer_table() -> None:
    heads = {inside(name).split(".")[0] for name in shipped() if name != "thermnet"}
    assert not heads - LAYER.keys()


def test_imports_point_to_lower_layers_or_into_the_own_room() -> None:
    assert wrong_ways(shipped()) == []


def test_no_modules_import_each_other_in_a_circle() -> None:
    graph = {
        name: {target for target in imports(tree, shipped()) if target in shipped()}
        for name, tree in shipped().items()
        if name != "thermnet"
    }
    TopologicalSorter(graph).prepare()  # raises CycleError, which names the circle


def test_kept_imports_and_calls_stay_where_the_table_says() -> None:
    assert trespasses(shipped()) == []


def test_every_foreign_import_is_a_declared_dependency() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    listed = {re.split(r"[<>=~!\[ ]", entry)[0].lower() for entry in project["dependencies"]}
    listed = {"yaml" if name == "pyyaml" else name for name in listed}
    used = {
        target.split(".")[0] for tree in shipped().values() for target in imports(tree, shipped())
    } - {"thermnet"}
    others = {"pydantic_core", "numba"}  # part of pydantic; optional
    assert used - sys.stdlib_module_names - listed - others == set()


@pytest.mark.parametrize(
    ("name", "source", "complaint"),
    [
        ("thermnet.physics.flux", "from thermnet.cli import main", "thermnet.cli"),
        ("thermnet.solve.fast", "def f():\n    from thermnet.model import model", "thermnet.model"),
        ("thermnet.text.odd", "import thermnet.physics.constants", "thermnet.physics.constants"),
        ("thermnet.saved", "from thermnet import margins", "public face"),
        ("thermnet.cellar.new", "from thermnet.errors import Place", "not in the layer table"),
    ],
    ids=["upwards", "inside a function", "sideways", "through the package", "unknown room"],
)
def test_an_import_that_points_the_wrong_way_is_found(
    name: str, source: str, complaint: str
) -> None:
    planted = shipped() | {name: ast.parse(source)}
    found = wrong_ways(planted)
    assert any(name in line and complaint in line for line in found)


@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("thermnet.model.sly", "import yaml"),
        ("thermnet.solve.loud", "print('done')"),
        ("thermnet.results", "from matplotlib.figure import Figure"),
    ],
)
def test_a_trespass_is_found(name: str, source: str) -> None:
    assert any(name in line for line in trespasses({name: ast.parse(source)}))
