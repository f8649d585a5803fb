"""What commands share that solve cases and print one table of each: text, JSON, CSV, warnings."""

from __future__ import annotations

import argparse
import dataclasses
import json
import math
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any, TypeVar

from thermnet.cli.inputs import chosen_cases, solver_options
from thermnet.cli.outputs import tell, warn, warn_of_accounts
from thermnet.cli.status import HOLDS, UNSOLVED
from thermnet.cli.tables import title
from thermnet.files import write_rows
from thermnet.model.model import Model
from thermnet.results import Result, solve_cases

Row = TypeVar("Row")


def print_by_case(
    options: argparse.Namespace,
    model: Model,
    *,
    name: str,
    kind: type[Row],
    table: Callable[[Result], tuple[Row, ...]],
    text: Callable[[Result, Sequence[Row]], str],
    foot: Callable[[Sequence[Row]], Iterable[str]],
) -> int:
    """Solve the cases that are asked for and print the table of each; status 3 for an unsolved one.

    `name` is the key of the rows in JSON, and that of the CSV file; `kind` the dataclass of a row,
    `text` the table of one case for people, and `foot` what stands below all of them.
    """
    results = solve_cases(model, chosen_cases(model, options.case), solver_options(options))
    found = [(result, table(result)) for result in results]
    every = [row for _, rows in found for row in rows]
    if options.json:
        print(json.dumps([_data(result, name, rows) for result, rows in found], indent=1))
    else:
        print("\n\n".join(_text(result, rows, text) for result, rows in found) + "\n")
        for line in foot(every):
            print(line)
    if options.out:
        folder = Path(options.out)
        folder.mkdir(parents=True, exist_ok=True)
        tell(_write(every, kind, folder / f"{name}.csv"))
    warn(results)
    warn_of_accounts(results)
    return UNSOLVED if any(result.solution.failure for result in results) else HOLDS


def _text(result: Result, rows: Sequence[Row], text: Callable[[Result, Sequence[Row]], str]) -> str:
    if result.solution.failure:
        return f"{title(result)}\nNOT SOLVED: {result.solution.failure}"
    return f"{title(result)}\n{text(result, rows)}"


def _data(result: Result, name: str, rows: Sequence[Any]) -> dict[str, Any]:
    """The rows of a case for programs: SI and kelvin, null for a number that there is not."""
    return {
        "model": result.model.name,
        "hash": result.model.hash(),
        "case": result.case,
        "kind": result.solution.kind,
        "failure": result.solution.failure,
        name: [
            {
                key: None if isinstance(value, float) and math.isnan(value) else value
                for key, value in dataclasses.asdict(row).items()
            }
            for row in rows
        ],
    }


def _write(rows: Sequence[Row], kind: type[Any], path: Path) -> Path:
    """Write all rows in all cases as CSV, in SI and kelvin; whole or not at all."""
    names = [field.name for field in dataclasses.fields(kind)]
    return write_rows(path, names, ([_cell(getattr(row, key)) for key in names] for row in rows))


def _cell(value: Any) -> Any:
    return "; ".join(value) if isinstance(value, tuple) else value
