"""The command `failures`: every case with one thing failed at a time."""

from __future__ import annotations

import argparse
import dataclasses
import json
import math
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from thermnet.cli.inputs import chosen_cases, loaded, solver_options
from thermnet.cli.outputs import tell
from thermnet.cli.status import FAILS, HOLDS, UNSOLVED
from thermnet.cli.tables import grid, margin_data, verdict_words
from thermnet.errors import once_a_path
from thermnet.files import write_rows
from thermnet.limits import READ
from thermnet.margins import Margin
from thermnet.model.model import Model
from thermnet.studies.failures import UNFAILED, FailureRow, gravest_first, judged

HEAD = ["failure", "case", "verdict", "gravest limit", "margin", "moved", "loses most", "loss"]
HEAD += ["failing", "newly failing"]

MOST_NAMED = 4
"""Components that newly fail which are named in the table; JSON and CSV have them all."""

INTERRUPTED = 130
"""Exit status of a command that was interrupted from the keyboard."""


def failures(options: argparse.Namespace) -> int:
    """Judge every failure in every case; the exit status says whether all margins hold."""
    model = loaded(options.model, options.changes)
    cases = chosen_cases(model, options.case)
    progress = _Progress()
    rows: list[FailureRow] = []
    interrupted = False
    try:
        for row in judged(
            model,
            cases,
            solver_options(options),
            only=options.failure,
            progress=progress.tell,
        ):
            rows.append(row)  # noqa: PERF402 what is done is kept when interrupted
    except KeyboardInterrupt:
        interrupted = True
    finally:
        progress.clear()
    if rows:
        found = gravest_first(rows)
        print(json.dumps(_data(model, found), indent=1) if options.json else _text(model, found))
        _warn(found)
    if interrupted:
        count = f"{len(rows)} of {progress.total} rows are done"
        print(f"interrupted: {count}, and nothing is written", file=sys.stderr)
        return INTERRUPTED
    if options.out:
        folder = Path(options.out)
        folder.mkdir(parents=True, exist_ok=True)
        tell(_write(found, folder / "failures.csv"))
    if any(row.not_solved for row in found):
        return UNSOLVED
    return HOLDS if all(row.holds for row in found) else FAILS


class _Progress:
    """One line on a terminal that says how far the study is."""

    shown = 0
    total = 0

    def tell(self, case: str, failure: str, done: int, total: int) -> None:
        self.total = total
        if sys.stderr.isatty():
            line = f"{done} of {total} done; {case}, {failure} ..."
            print(f"\r{line:{self.shown}}", end="", file=sys.stderr, flush=True)
            self.shown = len(line)

    def clear(self) -> None:
        if self.shown:
            print(f"\r{'':{self.shown}}\r", end="", file=sys.stderr, flush=True)
            self.shown = 0


def _text(model: Model, rows: Sequence[FailureRow]) -> str:
    """The table for people, worst first, and what was left out."""
    with_effect = [row for row in rows if not row.no_effect]
    lines = [f"{model.name}: one failure at a time, worst first", ""]
    lines.append(grid(HEAD, [_row(row) for row in with_effect]))
    idle = [[row.title, row.case, row.no_effect] for row in rows if row.no_effect]
    if idle:
        lines += ["", grid(["without effect", "case", "because"], idle)]
    failed = [row for row in rows if row.failure != UNFAILED]
    count = sum(1 for row in failed if row.holds)
    words = f"every limit holds in {count} of {len(failed)} failed cases"
    newly = sum(1 for row in failed if row.newly or row.not_solved)
    words += f"; in {newly} something fails that holds as long as nothing has failed"
    return "\n".join([*lines, "", words])


def _row(row: FailureRow) -> list[str]:
    cells = [row.title, row.case]
    if row.worst is None:
        cells.append(row.verdict)
        return [*cells, *["-"] * (len(HEAD) - len(cells))]
    cells.append(verdict_words(row.worst))
    moved = "-" if math.isnan(row.moved) else _size(row.worst, row.moved)
    cells += [_limit(row.worst), _size(row.worst, row.worst.margin), moved]
    cells += ["-", "-"] if row.hit is None else [_limit(row.hit), f"{row.lost:.1f} K"]
    return [*cells, str(len(row.failing)), _listed(row.newly)]


def _listed(names: Sequence[str]) -> str:
    more = len(names) - MOST_NAMED
    shown = ", ".join(names[:MOST_NAMED]) or "-"
    return f"{shown} and {more} more" if more > 0 else shown


def _limit(margin: Margin) -> str:
    side = margin.side if margin.quantity == "temperature" else ""
    return f"{margin.component}, {margin.band} {side}".rstrip()


def _size(margin: Margin, size: float) -> str:
    """A margin, or what it changes by, in the unit of its quantity."""
    scale, unit, digits = READ[margin.quantity]
    return f"{round(scale * size, digits) + 0.0:+.{digits}f} {unit}"  # no minus before a zero


def _data(model: Model, rows: Sequence[FailureRow]) -> dict[str, Any]:
    """The rows for programs, in SI and kelvin; what is not a number becomes null."""
    return {
        "model": model.name,
        "hash": model.hash(),
        "rows": [
            {
                "failure": row.failure,
                "title": row.title,
                "case": row.case,
                "verdict": row.verdict,
                "worst": None if row.worst is None else margin_data(row.worst),
                "moved": None if math.isnan(row.moved) else row.moved,
                "failing": list(row.failing),
                "newly_failing": list(row.newly),
                "hit": None if row.hit is None else margin_data(row.hit),
                "lost": row.lost,
                "no_effect": row.no_effect,
                "not_solved": row.not_solved,
                "account_closes": row.closes,
            }
            for row in rows
        ],
    }


def _write(rows: Sequence[FailureRow], path: Path) -> Path:
    """Every margin of every row as CSV, in SI and kelvin."""
    names = [each.name for each in dataclasses.fields(Margin) if each.name != "case"]
    lines: list[list[object]] = []
    for row in rows:
        start = [row.failure, row.case, row.no_effect, row.not_solved]
        cells = [[getattr(margin, name) for name in names] for margin in row.margins]
        lines += [[*start, *each] for each in cells or [[""] * len(names)]]
    return write_rows(path, ["failure", "case", "no effect", "not solved", *names], lines)


def _warn(rows: Sequence[FailureRow]) -> None:
    """Warnings, one a path; rows without a solution; accounts that do not close."""
    for problem in once_a_path(problem for row in rows for problem in row.problems):
        print(problem, file=sys.stderr)
    for row in rows:
        if row.not_solved:
            print(f"{row.case}, {row.title}: not solved: {row.not_solved}", file=sys.stderr)
        elif not row.closes:
            words = "the energy account DOES NOT CLOSE"
            print(f"warning: {row.case}, {row.title}: {words}", file=sys.stderr)
