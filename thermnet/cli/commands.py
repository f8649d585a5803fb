"""What each command does: load, solve, judge, then print and write."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from thermnet.account import account
from thermnet.cli import tables
from thermnet.cli.inputs import chosen_cases, loaded, solver_options
from thermnet.cli.outputs import save_figures, tell, warn, warn_of_accounts, write_results
from thermnet.cli.status import FAILS, HOLDS, UNSOLVED
from thermnet.errors import InputError, Problem, nearest
from thermnet.margins import holds, summaries
from thermnet.margins import margins as all_margins
from thermnet.model.assemble import assemble
from thermnet.model.budgets import over_budget
from thermnet.model.checks import problems_of_network
from thermnet.model.kinds.sunshield import Sunshield
from thermnet.model.kinds.sunshield import made as made_by
from thermnet.model.model import Model
from thermnet.model.paths import apply_case, unit, value
from thermnet.model.plan import plan
from thermnet.results import Result, solve_cases


def check(options: argparse.Namespace) -> int:
    """Report on a model without solving it."""
    model = loaded(options.model, options.changes)
    cases = chosen_cases(model, options.case)
    report: dict[str, Any] = {"model": model.name, "hash": model.hash(), "cases": {}}
    counts = model.counts()
    report["counts"] = counts
    warnings: list[Problem] = []
    errors: list[Problem] = []
    for case in cases:
        applied = apply_case(model, case)
        changes = [
            change
            for change in applied.changes
            if change.by != "override" and change.before != change.after
        ]
        report["cases"][case] = [
            {"path": change.path, "before": change.before, "after": change.after}
            for change in changes
        ]
        how = plan(applied, case)
        found = problems_of_network(applied, assemble(applied))
        for problem in (*found, *applied.located(over_budget(applied, how))):
            kind = errors if problem.severity == "error" else warnings
            if problem not in kind:
                kind.append(problem)
        if not options.json:
            print(tables.changes(case, changes), end="")
    if errors:
        raise InputError([*errors, *warnings])
    for problem in warnings:
        print(problem, file=sys.stderr)
    if options.json:
        print(json.dumps(report, indent=1, default=str))
    else:
        listed = ", ".join(f"{section} {count}" for section, count in counts.items())
        print(f"{model.name} ({model.hash()}): {listed}\nno errors")
    return HOLDS


def show(options: argparse.Namespace) -> int:
    """Show one value, its place, and what it is in each case."""
    model = loaded(options.model, options.changes)
    path = options.path
    now = value(model, path)
    rows = {"file": now} | {
        case: value(apply_case(model, case), path) for case in chosen_cases(model, options.case)
    }
    place = model.places.get(path, "default")
    if options.json:
        report = {"path": path, "unit": unit(model, path), "place": str(place), "values": rows}
        print(json.dumps(report, default=str))
        return HOLDS
    print(f"{path}\n  stands at {place}")
    for name, found in rows.items():
        print(f"  {name}: {tables.with_unit(found, unit(model, path))}")
    return HOLDS


def solve(options: argparse.Namespace) -> int:
    """Solve cases and print temperatures, duties and the account of each."""
    model = loaded(options.model, options.changes)
    made = [
        each
        for name, entry in model.entries(Sunshield, "sunshields").items()
        for each in made_by(name, entry)
    ]
    known = [*model.names()["nodes"], *model.names()["boundaries"], *made]
    if options.heat and options.heat not in known:
        message = f"unknown node '{options.heat}'{nearest(options.heat, known)}"
        raise InputError([Problem(message=message)])
    results = _solve(model, options)
    if options.json:
        print(json.dumps([tables.result_data(result) for result in results], indent=1))
    else:
        for result in results:
            print(tables.solution(result, account(result.network, result.solution)))
            if options.heat:
                print(tables.heat_of_node(result, options.heat))
    if options.out:
        write_results(results, Path(options.out))
    warn(results)
    return UNSOLVED if any(result.solution.failure for result in results) else HOLDS


def margins(options: argparse.Namespace) -> int:
    """Judge every component; the exit status says whether all margins hold."""
    results = _results(options)
    found = all_margins(results)
    if options.json:
        print(json.dumps([tables.margin_data(margin) for margin in found], indent=1))
    elif options.all:
        print(tables.margins(found))
    else:
        print(tables.summary(summaries(results), results))
    if options.out:
        from thermnet.figures.from_results import margin_plot

        folder = Path(options.out)
        folder.mkdir(parents=True, exist_ok=True)
        if not any(Path(name).suffix == ".nc" for name in options.inputs):
            write_results(results, folder)
        tell(tables.write_margins(found, folder / "margins.csv"))
        if summaries(results):
            save_figures(margin_plot(results), folder / "margins.png")
    warn(results)
    if options.json or options.all:
        warn_of_accounts(results)
    if any(result.solution.failure for result in results):
        return UNSOLVED
    return HOLDS if holds(found) else FAILS


def plot(options: argparse.Namespace) -> int:
    """Draw figures into a folder."""
    from thermnet.figures import from_results
    from thermnet.model.usable import components

    results = _results(options)
    folder = Path(options.out)
    folder.mkdir(parents=True, exist_ok=True)
    suffix = f".{options.format}"
    if options.figure in ("margins", "slides"):
        figures = from_results.margin_plot(
            results, compact=options.figure == "slides", by_group=options.by_group
        )
        save_figures(figures, folder / f"{options.figure}{suffix}")
    for result in results if options.figure in ("history", "network") else ():
        if options.figure == "network":
            figures = [from_results.diagram(result)]
        elif result.solution.kind == "steady" or result.solution.failure:
            continue
        else:
            known = list(components(result.model))
            for name in options.component:
                if name not in known:
                    message = f"unknown component '{name}'{nearest(name, known)}"
                    raise InputError([Problem(message=message)])
            figures = from_results.history_plot(result, options.component)
        save_figures(figures, folder / f"{options.figure}-{result.case}{suffix}")
    warn(results)
    return UNSOLVED if any(result.solution.failure for result in results) else HOLDS


def _solve(model: Model, options: argparse.Namespace) -> tuple[Result, ...]:
    def progress(case: str) -> None:
        if sys.stderr.isatty():
            print(f"solving {case} ...", file=sys.stderr)

    cases = chosen_cases(model, options.case)
    return solve_cases(model, cases, solver_options(options), progress=progress)


def _results(options: argparse.Namespace) -> tuple[Result, ...]:
    """Results from a model file, or those saved before."""
    if all(Path(name).suffix == ".nc" for name in options.inputs):
        from thermnet.saved import open_result

        if options.changes or options.case:
            message = "--case and --set change what is solved; saved results are solved already"
            raise InputError([Problem(message=message)])
        results = tuple(open_result(name) for name in options.inputs)
        if len({result.model.hash() for result in results}) > 1:
            message = "the saved results are of different models or overrides; judge them apart"
            raise InputError([Problem(message=message)])
        return results
    if len(options.inputs) > 1:
        raise InputError([Problem(message="expected one model file, or saved results (.nc) only")])
    return _solve(loaded(options.inputs[0], options.changes), options)
