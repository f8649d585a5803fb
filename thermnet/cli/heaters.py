"""The command `heaters`: what every heater circuit gives in each case, against the margin rule."""

from __future__ import annotations

import argparse
import dataclasses
import json
import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from thermnet.cli.inputs import chosen_cases, loaded, solver_options
from thermnet.cli.outputs import tell, warn, warn_of_accounts
from thermnet.cli.status import FAILS, HOLDS, UNSOLVED
from thermnet.cli.tables import celsius, grid, title
from thermnet.errors import InputError, Problem
from thermnet.files import write_rows
from thermnet.heaters import (
    ALWAYS,
    HeaterRow,
    HeatersTogether,
    heater_table,
    heaters_together,
)
from thermnet.results import Result, solve_cases

WATT_HOUR = 3600.0
"""Joules of a watt hour."""

Found = tuple[Result, tuple[HeaterRow, ...], HeatersTogether]


def heaters(options: argparse.Namespace) -> int:
    """Solve cases and print their heaters; status 1 where the margin rule fails."""
    model = loaded(options.model, options.changes)
    if not model.sections["heaters"]:
        raise InputError([Problem(message=f"{model.file}: the model has no heaters")])
    results = solve_cases(model, chosen_cases(model, options.case), solver_options(options))
    found = [(result, heater_table(result), heaters_together(result)) for result in results]
    if options.json:
        print(json.dumps([_data(*each) for each in found], indent=1))
    else:
        print("\n\n".join(_text(*each) for each in found))
    if options.out:
        folder = Path(options.out)
        folder.mkdir(parents=True, exist_ok=True)
        tell(_write([row for _, rows, _ in found for row in rows], folder / "heaters.csv"))
    warn(results)
    warn_of_accounts(results)
    if any(result.solution.failure for result in results):
        return UNSOLVED
    verdicts = [row.verdict for _, rows, _ in found for row in rows]
    return FAILS if "allowance not covered" in verdicts else HOLDS


def _text(result: Result, rows: Sequence[HeaterRow], total: HeatersTogether) -> str:
    if result.solution.failure:
        return f"{title(result)}\nNOT SOLVED: {result.solution.failure}"
    return "\n".join([title(result), _table(rows, total), *_sums(result, rows, total)])


def _table(rows: Sequence[HeaterRow], total: HeatersTogether) -> str:
    """Columns that say nothing in this case are left out."""
    columns: list[tuple[str, list[str]]] = [
        ("heater", [row.name for row in rows]),
        ("verdict", [row.verdict for row in rows]),
        ("nodes", [_nodes(row) for row in rows]),
        ("sensor", [row.sensor for row in rows]),
        ("on degC", [celsius(row.on) for row in rows]),
        ("off degC", [celsius(row.off) for row in rows]),
        ("power W", [f"{row.power:.2f}" for row in rows]),
    ]
    if any(row.low is not None for row in rows):
        columns += [
            ("at low W", [_number(row.low, 1.0, 2) for row in rows]),
            ("at high W", [_number(row.high, 1.0, 2) for row in rows]),
        ]
    if any(row.enabled < ALWAYS and row.failed == "no" for row in rows):
        columns.append(("enabled", [f"{100 * row.enabled:.1f} %" for row in rows]))
    columns.append(("duty", [f"{100 * row.duty:.1f} %" for row in rows]))
    if any(row.low is not None for row in rows):
        columns.append(("duty at low", [f"{100 * row.duty_low:.1f} %" for row in rows]))
    columns += [
        ("margin", [_margin(row) for row in rows]),
        ("mean W", [f"{row.mean:.2f}" for row in rows]),
    ]
    if total.energy is not None:
        columns.append((f"Wh per {total.per}", [_number(row.energy, WATT_HOUR, 2) for row in rows]))
    if any(row.in_shadow is not None for row in rows):
        columns.append(("in shadow Wh", [_number(row.in_shadow, WATT_HOUR, 2) for row in rows]))
    if any(row.switchings is not None for row in rows):
        columns.append(("switchings per day", [_number(row.switchings, 1.0, 1) for row in rows]))
    columns.append(("holds", [", ".join(row.holds) or "-" for row in rows]))
    return grid(
        [head for head, _ in columns],
        [list(cells) for cells in zip(*(cells for _, cells in columns), strict=True)],
    )


def _nodes(row: HeaterRow) -> str:
    how = {"thermostat": "", "proportional": " (in proportion)"}[row.control]
    failed = "" if row.failed == "no" else f" (failed {row.failed})"
    return ", ".join(row.nodes) + how + failed


def _margin(row: HeaterRow) -> str:
    return f"{100 * row.margin:+.0f} %" if math.isfinite(row.margin) else "-"


def _number(value: float | None, size: float, digits: int) -> str:
    return "-" if value is None else f"{value / size:.{digits}f}"


def _sums(result: Result, rows: Sequence[HeaterRow], total: HeatersTogether) -> Iterator[str]:
    stated = result.model.settings.bus_voltage
    where = "" if stated is None else f" at {stated.high:g} V (high)"
    peak = "" if total.peak is None else f"peak {total.peak:.2f} W as solved, "
    yield f"together: {peak}{total.installed:.2f} W installed{where}, mean {total.mean:.2f} W"
    if total.energy is not None:
        dark = (
            "" if total.in_shadow is None else f", {total.in_shadow / WATT_HOUR:.2f} Wh in shadow"
        )
        span = f"{total.per} of {total.turn:.1f} s"
        yield f"energy per {span}: {total.energy / WATT_HOUR:.2f} Wh{dark}"
    allowed = result.model.settings.uncertainty.heater_duty
    low = "" if stated is None else " at the low bus voltage"
    judged = [row for row in rows if row.verdict in ("holds", "allowance not covered")]
    count = sum(1 for row in judged if row.verdict == "holds")
    yield (
        f"{count} of {len(judged)} heaters in use hold: duty at most {100 * allowed:.0f} %{low}, "
        f"that is a margin of {100 * (1.0 / allowed - 1.0):.0f} %"
    )


def _data(result: Result, rows: Sequence[HeaterRow], total: HeatersTogether) -> dict[str, Any]:
    """For programs: SI and kelvin; what is not a number, or infinite, becomes null."""
    return {
        "model": result.model.name,
        "hash": result.model.hash(),
        "case": result.case,
        "kind": result.solution.kind,
        "failure": result.solution.failure,
        "bus_voltage": result.plan.bus_voltage,
        "voltage": result.plan.voltage,
        "heaters": [_finite(dataclasses.asdict(row)) for row in rows],
        "together": _finite(dataclasses.asdict(total)),
    }


def _finite(data: dict[str, Any]) -> dict[str, Any]:
    return {
        key: None if isinstance(value, float) and not math.isfinite(value) else value
        for key, value in data.items()
    }


UNITS = {
    "on": "K",
    "off": "K",
    "power": "W",
    "low": "W",
    "high": "W",
    "mean": "W",
    "energy": "J",
    "in_shadow": "J",
    "switchings": "1/day",
}
"""Units of the columns that have one."""


def _write(rows: Sequence[HeaterRow], path: Path) -> Path:
    """Every circuit in every case as CSV, in SI and kelvin; the file appears whole or not."""
    names = [field.name for field in dataclasses.fields(HeaterRow)]
    head = [f"{name} [{UNITS[name]}]" if name in UNITS else name for name in names]
    cells = ([getattr(row, name) for name in names] for row in rows)
    return write_rows(
        path,
        head,
        (["; ".join(each) if isinstance(each, tuple) else each for each in row] for row in cells),
    )
