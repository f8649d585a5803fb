"""The command `scan`: which beta angle governs each component."""

from __future__ import annotations

import argparse
import dataclasses
import json
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from thermnet.cli.inputs import chosen_cases, loaded, solver_options
from thermnet.cli.outputs import tell
from thermnet.cli.status import FAILS, HOLDS, UNSOLVED
from thermnet.cli.tables import celsius, grid, margin_data
from thermnet.files import write_rows
from thermnet.margins import Margin, gravity
from thermnet.margins import holds as all_hold
from thermnet.studies.beta import Found, Governing, governing
from thermnet.studies.beta import scan as scan_cases
from thermnet.studies.beta_points import Point, Scan, temperature

HEAD = ["component", "verdict", "band", "side", "margin", "calculated", "limit", "beta", "case"]


def scan(options: argparse.Namespace) -> int:
    """Solve cases over beta; the exit status says whether all margins hold at all angles."""
    model = loaded(options.model, options.changes)
    chosen = chosen_cases(model, options.case) if options.case else None
    progress = _Progress()
    try:
        found = scan_cases(
            model,
            chosen,
            solver_options(options),
            low=options.low,
            high=options.high,
            step=options.step,
            components=options.component,
            progress=progress.tell if sys.stderr.isatty() else None,
        )
    finally:
        progress.clear()
    rows = governing(found)
    print(json.dumps(_data(found, rows), indent=1) if options.json else _text(found, rows))
    if options.out:
        folder = Path(options.out)
        folder.mkdir(parents=True, exist_ok=True)
        tell(_write(found, folder / "scan.csv"))
    _warn(found)
    if any(point.failure for point in found.points):
        return UNSOLVED
    every = (margin for point in found.points for margin in point.margins.values())
    return HOLDS if all_hold(every) else FAILS


class _Progress:
    """One line on the terminal that says how far the scan is."""

    shown = 0

    def tell(self, case: str, beta: float, solved: int) -> None:
        line = f"{solved} solved; {case} at {_degrees(beta)} ..."
        print(f"\r{line:{self.shown}}", end="", file=sys.stderr, flush=True)
        self.shown = len(line)

    def clear(self) -> None:
        if self.shown:
            print(f"\r{'':{self.shown}}\r", end="", file=sys.stderr, flush=True)


def _text(found: Scan, rows: Sequence[Governing]) -> str:
    lines = [f"{found.model.name}: margins over the beta angle, by {found.step:g}°", ""]
    sides = sorted((each for row in rows for each in row.sides), key=lambda each: gravity(each[0]))
    if sides:
        lines += [grid(HEAD, [_row(*each) for each in sides]), ""]
    head = ["component", "lowest", "at beta", "case", "highest", "at beta", "case"]
    lines += [grid(head, [_extremes(row) for row in rows]), ""]
    for case in found.cases:
        count = sum(1 for point in found.points if point.case == case.name)
        lines.append(
            f"{case.name}: beta {_degrees(case.low)} to {_degrees(case.high)}, {case.why}; "
            f"{count} of {case.angles} angles solved; the Sun at {case.sun_distance:.4g} au"
        )
        lines += [f"{case.name}: {note}" for note in case.notes]
    judged = [row for row in rows if row.sides]
    count = sum(1 for row in judged if all_hold(margin for margin, _ in row.sides))
    return "\n".join([*lines, "", f"{count} of {len(judged)} components hold at every angle"])


def _row(margin: Margin, where: Found) -> list[str]:
    if margin.quantity == "temperature":
        size = f"{margin.margin:+.1f} K"
        values = [f"{celsius(value)} °C" for value in (margin.calculated, margin.limit)]
    else:
        scale, unit = {"difference": (1.0, "K"), "rate": (60.0, "K/min"), "duty": (100.0, "%")}[
            margin.quantity
        ]
        size = f"{scale * margin.margin:+.2f} {unit}"
        values = [f"{scale * value:.2f} {unit}" for value in (margin.calculated, margin.limit)]
    side = margin.side if margin.quantity == "temperature" else margin.quantity
    named = [margin.component, margin.verdict, margin.band, side]
    return [*named, size, *values, _angle(where), where.case]


def _extremes(row: Governing) -> list[str]:
    cells = [row.component]
    for where in (row.lowest, row.highest):
        cells += [f"{celsius(where.value)} °C", _angle(where), where.case]
    return cells


def _degrees(beta: float) -> str:
    return f"{beta + 0.0:.4g}°"


def _angle(where: Found) -> str:
    return "any" if where.everywhere else _degrees(where.beta)


def _data(found: Scan, rows: Sequence[Governing]) -> dict[str, Any]:
    """The scan for programs: SI and kelvin, angles in degrees."""

    def judged(each: tuple[Margin, Found] | None) -> dict[str, Any] | None:
        if each is None:
            return None
        margin, where = each
        return margin_data(margin) | {"beta": where.beta, "everywhere": where.everywhere}

    return {
        "model": found.model.name,
        "hash": found.model.hash(),
        "step": found.step,
        "cases": [dataclasses.asdict(case) for case in found.cases],
        "components": [
            {
                "component": row.component,
                "group": row.group,
                "hot": judged(row.hot),
                "cold": judged(row.cold),
                "others": [judged(each) for each in row.others],
                "highest": dataclasses.asdict(row.highest),
                "lowest": dataclasses.asdict(row.lowest),
            }
            for row in rows
        ],
        "not_solved": [
            {"case": point.case, "beta": point.beta, "failure": point.failure}
            for point in found.points
            if point.failure
        ],
    }


def _write(found: Scan, path: Path) -> Path:
    """Every point as CSV, one line for each component, in kelvin and degrees of angle."""
    head = ["case", "beta [deg]", "component", "lowest [K]", "highest [K]"]
    head += [f"{side} {what}" for side in ("cold", "hot") for what in ("margin [K]", "band")]
    lines = (line for point in found.points for line in _lines(point))
    return write_rows(path, [*head, "failure"], lines)


def _lines(point: Point) -> Iterator[list[Any]]:
    if point.failure:
        yield [point.case, point.beta, *[""] * 7, point.failure]
    for name in dict.fromkeys(key[0] for key in point.weights):
        extremes = [(name, "extreme", end) for end in ("lowest", "highest")]
        line = [point.case, point.beta, name]
        line += [repr(temperature(key, point.weights[key])) for key in extremes]
        for side in ("cold", "hot"):
            margin = point.margins.get((name, "margin", side))
            line += ["", ""] if margin is None else [repr(margin.margin), margin.band]
        yield [*line, ""]


def _warn(found: Scan) -> None:
    """Warnings of the structure, points without a solution, accounts that do not close."""
    for problem in found.problems:
        print(problem, file=sys.stderr)
    for point in found.points:
        where = f"{point.case} at beta {_degrees(point.beta)}"
        if point.failure:
            print(f"{where}: not solved: {point.failure}", file=sys.stderr)
        elif not point.closes:
            print(f"warning: {where}: the energy account DOES NOT CLOSE", file=sys.stderr)
