"""What commands write and warn of."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from thermnet.account import account
from thermnet.cli import tables
from thermnet.results import Result


def write_results(results: Sequence[Result], folder: Path) -> None:
    """Results as NetCDF and temperatures as CSV, for each case."""
    from thermnet.saved import save, write_csv

    folder.mkdir(parents=True, exist_ok=True)
    for result in results:
        tell(save(result, folder / f"{result.case}.nc"))
        tell(write_csv(result, folder / f"{result.case}.csv"))


def save_figures(figures: Sequence[Any], path: Path) -> None:
    """Figures under a path, numbered where they are several."""
    from thermnet.figures import style

    for number, figure in enumerate(figures, start=1):
        name = path if len(figures) == 1 else path.with_stem(f"{path.stem}-{number}")
        tell(style.save(figure, name))


def tell(path: Path) -> None:
    """Say on the error stream what was written."""
    print(f"wrote {path}", file=sys.stderr)


def warn_of_accounts(results: Sequence[Result]) -> None:
    """Energy accounts that do not close, for outputs that have no line for them."""
    for result in results:
        if not result.solution.failure:
            drawn_up = account(result.network, result.solution)
            if not drawn_up.closes:
                print(f"warning: {tables.account_line(result, drawn_up)}", file=sys.stderr)


def warn(results: Sequence[Result]) -> None:
    """Warnings and failures of all results, each once."""
    told: set[str] = set()
    for result in results:
        lines = [str(problem) for problem in result.problems]
        if result.solution.failure:
            lines.append(f"{result.case}: not solved: {result.solution.failure}")
        for line in lines:
            if line not in told:
                print(line, file=sys.stderr)
                told.add(line)
