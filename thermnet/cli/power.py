"""The command `power`: what solar cells give, loads take and the battery holds."""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from thermnet.cli.inputs import chosen_cases, loaded, solver_options
from thermnet.cli.outputs import save_figures, tell, warn, warn_of_accounts
from thermnet.cli.status import FAILS, HOLDS, UNSOLVED
from thermnet.cli.tables import grid, title
from thermnet.energy import Energy, energy
from thermnet.errors import InputError, Problem
from thermnet.files import write_rows
from thermnet.model.kinds.surface import Surface
from thermnet.results import Result, solve_cases

WATT_HOUR = 3600.0
"""Joules."""

MOST_INSTANTS = 4
"""Instants of full charge that are printed; of more only the first ones."""

Found = tuple[Result, Energy | None]


def power(options: argparse.Namespace) -> int:
    """Solve cases and print the energy of the solar cells in each; write and draw on request.

    Status 1 where power is lacking, the battery runs down, or the energy does not close.
    """
    model = loaded(options.model, options.changes)
    if all(each.cells is None for each in model.entries(Surface, "surfaces").values()):
        message = f"{options.model}: no surface has solar cells: give one 'cells'"
        raise InputError([Problem(message=message)])
    cases = chosen_cases(model, options.case)

    def progress(case: str) -> None:
        if sys.stderr.isatty():
            print(f"solving {case} ...", file=sys.stderr)

    results = solve_cases(model, cases, solver_options(options), progress=progress)
    found = [(each, energy(each)) for each in results]
    if options.json:
        print(json.dumps([_data(*each) for each in found], indent=1))
    else:
        print("\n\n".join("\n".join(_text(*each)) for each in found))
    if options.out:
        _write(found, Path(options.out))
    warn(results)
    warn_of_accounts(results)
    if any(result.solution.failure for result in results):
        return UNSOLVED
    holds = all(each is None or (each.enough and each.closes) for _, each in found)
    return HOLDS if holds else FAILS


def _text(result: Result, found: Energy | None) -> Iterator[str]:
    yield title(result)
    if found is None:
        yield f"NOT SOLVED: {result.solution.failure}"
        return
    steady = found.unit == "W"
    rows = [
        [word, *([] if steady else [f"{amount / WATT_HOUR:.4f}"]), f"{amount / found.span:.4f}"]
        for word, amount in _rows(found)
    ]
    over = {"repeating": "in one period", "transient": "in all"}.get(result.solution.kind, "")
    yield grid(["energy", *([] if steady else [f"Wh {over}"]), "mean W"], rows)
    if found.battery:
        yield (
            f"what is given, less all that it becomes: {found.remainder / found.span:+.1e} W, "
            f"{found.share:.1e} of it; {'closes' if found.closes else 'DOES NOT CLOSE'}"
        )
        if not steady:
            yield _charge(found)
    else:
        yield "no battery: nothing says who takes it"
    if not math.isnan(found.efficiency):
        yield f"mean efficiency of the cells in sunlight {found.efficiency:.4f}"
    yield from (each for each in result.solution.stats.notes if each.startswith("battery"))


def _rows(found: Energy) -> list[tuple[str, float]]:
    rows = [("given by the cells", found.given)]
    if not found.battery:
        return rows
    rows += [
        ("heat of units", found.units),
        ("sent by units", found.sent),
        ("heat of heaters", found.heaters),
        ("lost in the battery", found.losses),
        ("change of the charge", found.stored),
    ]
    return [*rows, ("lacking", found.lacking)] if found.lacking > 0.0 else rows


def _charge(found: Energy) -> str:
    if math.isnan(found.lowest):
        return f"battery '{found.battery}' holds less after each period"
    # Adding zero turns a negative zero into a plain one.
    depth = 100.0 * (1.0 - found.lowest) + 0.0
    line = (
        f"battery '{found.battery}': lowest charge {100.0 * found.lowest:.2f} %, depth of "
        f"discharge {depth:.2f} %; "
    )
    if not found.full:
        return line + "never full"
    times = ", ".join(f"{each:.1f} s" for each in found.full[:MOST_INSTANTS])
    more = len(found.full) - MOST_INSTANTS
    return line + f"full at {times}" + (f" and {more} times more" if more > 0 else "")


def _data(result: Result, found: Energy | None) -> dict[str, Any]:
    """For programs: SI; amounts in joules, or in watts for a steady case."""
    data: dict[str, Any] = {
        "case": result.case,
        "kind": result.solution.kind,
        "failure": result.solution.failure,
    }
    if found is None:
        return data
    return data | {
        "unit": found.unit,
        "span": found.span,
        "battery": found.battery,
        "given": found.given,
        "units": found.units,
        "sent": found.sent,
        "heaters": found.heaters,
        "losses": found.losses,
        "stored": found.stored,
        "lacking": found.lacking,
        "enough": found.enough,
        "remainder": _number(found.remainder),
        "closes": found.closes,
        "lowest": _number(found.lowest),
        "full": list(found.full),
        "efficiency": _number(found.efficiency),
        "notes": list(result.solution.stats.notes),
    }


def _number(value: float) -> float | None:
    return None if math.isnan(value) else value


def _write(found: Sequence[Found], folder: Path) -> None:
    """Powers over time as CSV and a figure, for each case that has a history."""
    from thermnet.figures.power_plot import power_plot

    folder.mkdir(parents=True, exist_ok=True)
    for result, each in found:
        if each is None:
            continue
        tell(_write_csv(each, folder / f"power-{result.case}.csv"))
        figure = power_plot(result, each)
        if figure is not None:
            save_figures([figure], folder / f"power-{result.case}.png")


def _write_csv(found: Energy, path: Path) -> Path:
    course = found.course
    head = ["time [s]", "available [W]", "drawn [W]", "demand [W]", "charge"]
    columns = (course.time, course.available, course.drawn, course.demand, course.charge)
    return write_rows(
        path,
        head,
        (
            [
                f"{time:.6f}",
                *(f"{value + 0.0:.6g}" for value in watts),
                "" if math.isnan(charge) else f"{charge:.6f}",
            ]
            for time, *watts, charge in zip(*columns, strict=True)
        ),
    )
