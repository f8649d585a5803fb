"""The command `interfaces`: temperature and heat flow at every interface, case by case."""

from __future__ import annotations

import argparse
import dataclasses
import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from thermnet.cli.inputs import chosen_cases, loaded, solver_options
from thermnet.cli.outputs import tell, warn, warn_of_accounts
from thermnet.cli.status import HOLDS, UNSOLVED
from thermnet.cli.tables import celsius, grid, instant, title
from thermnet.errors import InputError, Problem
from thermnet.files import write_rows
from thermnet.interfaces import InterfaceRow, interface_table
from thermnet.results import Result, solve_cases

Found = tuple[Result, tuple[InterfaceRow, ...]]

STEADY = ["interface", "of", "degC", "heat in W"]
MOVING = ["interface", "of", "lowest degC", "at", "mean degC", "highest degC", "at"]
MOVING += ["least heat in W", "at", "mean W", "most W", "at"]

SIGN = "heat counts as positive into the part, or into this model at an interface of its own"


def interfaces(options: argparse.Namespace) -> int:
    """Solve cases and print what goes through their interfaces; status 3 for an unsolved one."""
    model = loaded(options.model, options.changes)
    if not model.sections["interfaces"]:
        raise InputError([Problem(message=f"{model.file}: the model has no interfaces")])
    results = solve_cases(model, chosen_cases(model, options.case), solver_options(options))
    found = [(result, interface_table(result)) for result in results]
    if options.json:
        print(json.dumps([_data(*each) for each in found], indent=1))
    else:
        print("\n\n".join(_text(*each) for each in found))
        print(f"\n{SIGN}")
    if options.out:
        folder = Path(options.out)
        folder.mkdir(parents=True, exist_ok=True)
        tell(_write([row for _, rows in found for row in rows], folder / "interfaces.csv"))
    warn(results)
    warn_of_accounts(results)
    return UNSOLVED if any(result.solution.failure for result in results) else HOLDS


def _text(result: Result, rows: Sequence[InterfaceRow]) -> str:
    if result.solution.failure:
        return f"{title(result)}\nNOT SOLVED: {result.solution.failure}"
    if result.solution.kind == "steady":
        lines = [[*_named(row), celsius(row.mean), _watts(row.mean_heat)] for row in rows]
        return f"{title(result)}\n{grid(STEADY, lines)}"
    return f"{title(result)}\n{grid(MOVING, [_moving(row) for row in rows])}"


def _named(row: InterfaceRow) -> list[str]:
    return [row.interface, row.part or "this model"]


def _moving(row: InterfaceRow) -> list[str]:
    return [
        *_named(row),
        celsius(row.lowest),
        instant(row.lowest_at),
        celsius(row.mean),
        celsius(row.highest),
        instant(row.highest_at),
        _watts(row.least),
        instant(row.least_at),
        _watts(row.mean_heat),
        _watts(row.most),
        instant(row.most_at),
    ]


def _watts(heat: float) -> str:
    return f"{round(heat, 3) + 0.0:.3f}"  # no minus before a zero


def _data(result: Result, rows: Sequence[InterfaceRow]) -> dict[str, Any]:
    """The interfaces of a case for programs: SI and kelvin."""
    return {
        "model": result.model.name,
        "hash": result.model.hash(),
        "case": result.case,
        "kind": result.solution.kind,
        "failure": result.solution.failure,
        "interfaces": [
            {
                key: None if isinstance(value, float) and math.isnan(value) else value
                for key, value in dataclasses.asdict(row).items()
            }
            for row in rows
        ],
    }


def _write(rows: Sequence[InterfaceRow], path: Path) -> Path:
    """Write every interface in every case as CSV, in SI and kelvin; whole or not at all."""
    names = [field.name for field in dataclasses.fields(InterfaceRow)]
    return write_rows(path, names, ([getattr(row, name) for name in names] for row in rows))
