"""The command `couplings`: what everything that joins nodes carries, and what it stands on."""

from __future__ import annotations

import argparse
import dataclasses
import json
import math
from collections.abc import Iterator, Sequence
from itertools import groupby
from pathlib import Path
from typing import Any

from thermnet.cli.inputs import chosen_cases, loaded, solver_options
from thermnet.cli.outputs import tell, warn, warn_of_accounts
from thermnet.cli.status import HOLDS, UNSOLVED
from thermnet.cli.tables import celsius, grid, instant, title
from thermnet.couplings import CouplingRow, coupling_table
from thermnet.files import write_rows
from thermnet.results import Result, solve_cases

Found = tuple[Result, tuple[CouplingRow, ...]]

MOST_PAIRS = 8
"""Pairs of one entry that are all shown; of more the strongest are, and a count of the others."""

STEADY = ["coupling", "from", "to", "degC", "degC", "heat in W", "W/K"]
MOVING = ["coupling", "from", "to", "mean degC", "mean degC", "mean W", "W/K"]
MOVING += ["least W", "at", "most W", "at"]

MEANING = (
    "heat counts as positive from the first node to the second; W/K: mean heat over the difference "
    "of\nmeans, of what conducts; a fluid brings heat by being warmer than the node it flows to"
)


def couplings(options: argparse.Namespace) -> int:
    """Solve cases and print what couplings carry; status 3 for an unsolved one."""
    model = loaded(options.model, options.changes)
    results = solve_cases(model, chosen_cases(model, options.case), solver_options(options))
    found = [(result, coupling_table(result)) for result in results]
    if options.json:
        print(json.dumps([_data(*each) for each in found], indent=1))
    else:
        print("\n\n".join(_text(*each) for each in found))
        print(f"\n{MEANING}")
        for line in _stands_on(found):
            print(line)
    if options.out:
        folder = Path(options.out)
        folder.mkdir(parents=True, exist_ok=True)
        tell(_write([row for _, rows in found for row in rows], folder / "couplings.csv"))
    warn(results)
    warn_of_accounts(results)
    return UNSOLVED if any(result.solution.failure for result in results) else HOLDS


def _text(result: Result, rows: Sequence[CouplingRow]) -> str:
    if result.solution.failure:
        return f"{title(result)}\nNOT SOLVED: {result.solution.failure}"
    steady = result.solution.kind == "steady"
    lines, more = [], []
    for entry, group in groupby(rows, key=lambda row: row.entry):
        of_entry = list(group)
        shown = _strongest(of_entry)
        lines += [_line(row, steady) for row in shown]
        if left := len(of_entry) - len(shown):
            rest = sum(row.heat for row in of_entry) - sum(row.heat for row in shown)
            more.append(f"{entry}: {left} weaker pairs are left out, which carry {_watts(rest)} W")
    return "\n".join([title(result), grid(STEADY if steady else MOVING, lines), *more])


def _strongest(rows: Sequence[CouplingRow]) -> list[CouplingRow]:
    if len(rows) <= MOST_PAIRS:
        return list(rows)
    least = sorted((abs(row.heat) for row in rows), reverse=True)[MOST_PAIRS - 1]
    return [row for row in rows if abs(row.heat) >= least][:MOST_PAIRS]


def _line(row: CouplingRow, steady: bool) -> list[str]:
    cells = [row.entry, row.of, row.to, celsius(row.from_temperature), celsius(row.to_temperature)]
    cells += [_watts(row.heat), "-" if math.isnan(row.conductance) else f"{row.conductance:.4g}"]
    if steady:
        return cells
    return [
        *cells, _watts(row.least), instant(row.least_at), _watts(row.most), instant(row.most_at)
    ]  # fmt: skip


def _watts(heat: float) -> str:
    return f"{round(heat, 3) + 0.0:.3f}"  # no minus before a zero


def _stands_on(found: Sequence[Found]) -> Iterator[str]:
    """A line for each entry that stands on rows of the library."""
    rows = {row.entry: row.rows for _, table in found for row in table if row.rows}
    if rows:
        yield "rows of the library that they stand on (`thermnet library` has their sources):"
    for entry, names in rows.items():
        yield f"  {entry}: {'; '.join(names)}"


def _data(result: Result, rows: Sequence[CouplingRow]) -> dict[str, Any]:
    """The couplings of a case for programs: SI and kelvin."""
    return {
        "model": result.model.name,
        "hash": result.model.hash(),
        "case": result.case,
        "kind": result.solution.kind,
        "failure": result.solution.failure,
        "couplings": [
            {
                key: None if isinstance(value, float) and math.isnan(value) else value
                for key, value in dataclasses.asdict(row).items()
            }
            for row in rows
        ],
    }


def _write(rows: Sequence[CouplingRow], path: Path) -> Path:
    """Write every coupling in every case as CSV, in SI and kelvin; whole or not at all."""
    names = [field.name for field in dataclasses.fields(CouplingRow)]
    return write_rows(
        path,
        names,
        (
            ["; ".join(row.rows) if name == "rows" else getattr(row, name) for name in names]
            for row in rows
        ),
    )
