"""The command `times`: when limits are reached after an event, and units may be switched on."""

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
from thermnet.cli.status import HOLDS, UNSOLVED
from thermnet.cli.tables import celsius, grid, instant
from thermnet.errors import InputError, Problem, nearest
from thermnet.files import write_rows
from thermnet.model.model import Model
from thermnet.model.paths import apply_case
from thermnet.model.plan import Plan, plan
from thermnet.results import solve_cases
from thermnet.studies.times import (
    Ever,
    Times,
    TimeToLimit,
    WarmUp,
    components_of,
    event_of,
)
from thermnet.studies.times import times as times_of
from thermnet.units import to_si

LEGEND = {
    "after the case": "after the case: extend its duration to see when",
    "never": "never: not within the case, and not where the end of the case leads to when all "
    "stays as it\nis then; what lies between the two is not followed",
}
"""What is said below a table of what is not within the case."""


def times(options: argparse.Namespace) -> int:
    """Solve transient cases and print the times of each, the shortest first."""
    model = loaded(options.model, options.changes)
    components_of(model, options.component)
    since, cases = _chosen(model, options)
    results = solve_cases(model, cases, solver_options(options))
    found = [times_of(result, since=since, components=options.component) for result in results]
    if options.json:
        print(json.dumps([_data(each) for each in found], indent=1))
    else:
        print("\n\n".join(_text(each) for each in found))
    if options.out:
        folder = Path(options.out)
        folder.mkdir(parents=True, exist_ok=True)
        tell(_write(found, folder / "times.csv"))
    warn(results)
    warn_of_accounts(results)
    return UNSOLVED if any(result.solution.failure for result in results) else HOLDS


def _chosen(model: Model, options: argparse.Namespace) -> tuple[float | str | None, list[str]]:
    """The event, and the cases asked for; by default all transient ones in which it happens."""
    plans = {
        case: plan(apply_case(model, case), case) for case in chosen_cases(model, options.case)
    }
    transient = {case: how for case, how in plans.items() if how.solve == "transient"}
    steps = list(dict.fromkeys(step for how in plans.values() for step in _steps(how)))
    since = _since(options.since, steps)
    chosen = transient
    if options.case:
        chosen = plans
    elif isinstance(since, str):
        chosen = {case: how for case, how in transient.items() if since in _steps(how)}
    if not chosen:
        message = f"{model.file}: no case is transient: make one that starts 'after' another"
        raise InputError([Problem(message=message)])
    for how in chosen.values():  # before anything is solved
        event_of(model, how, since)
    return since, list(chosen)


def _steps(how: Plan) -> tuple[str, ...]:
    return () if how.activity is None else tuple(step for step in how.activity.steps if step)


def _since(text: str, steps: Sequence[str]) -> float | str | None:
    """The name of a step, or a time [s]. Raises InputError for what is neither."""
    if not text:
        return None
    if text in steps:
        return text
    try:
        return float(text)
    except ValueError:
        pass
    try:
        return to_si(text, "s")
    except ValueError:
        hint = nearest(text, steps)
        message = f"--since: '{text}' is neither a step of the timeline nor a time{hint}"
        raise InputError([Problem(message=message)]) from None


def _text(found: Times) -> str:
    result = found.result
    event = f"step '{found.step}' at {instant(found.since)}" if found.step else "its start"
    if not found.step and found.since > 0.0:
        event = instant(found.since)
    length = instant(result.plan.span)
    lines = [f"{result.model.name}, {result.plan.title} ({length}): times from {event}"]
    if result.solution.failure:
        return "\n".join([*lines, f"NOT SOLVED: {result.solution.failure}"])
    lines += _limits(found) if found.limits else ["no band applies after the event"]
    if found.warm_ups:
        lines += ["", "until units may be switched on", *_warm_ups(found)]
    if found.reason:
        lines += ["", f"what follows the case was not solved: {found.reason}"]
    words = {row.ever for row in found.limits} | {row.ever_predicted for row in found.limits}
    words |= {row.ever for row in found.warm_ups} | {row.ever_predicted for row in found.warm_ups}
    legend = [line for word, line in LEGEND.items() if word in words]
    return "\n".join([*lines, *([""] if legend else []), *legend])


def _limits(found: Times) -> Iterator[str]:
    rows = [
        [
            row.component,
            f"{row.band}, {row.side}",
            row.node,
            celsius(row.at_event),
            celsius(row.limit),
            _when(row.calculated, row.ever),
            _when(row.predicted, row.ever_predicted),
            celsius(row.settles),
            "-" if math.isnan(row.margin) else f"{round(row.margin, 1) + 0.0:+.1f} K",
        ]
        for row in found.limits
    ]
    head = ["component", "band", "node", "at event °C", "limit °C"]
    head += ["calculated after", "predicted after", "settles at °C", "margin then"]
    yield grid(head, rows)


def _warm_ups(found: Times) -> Iterator[str]:
    rows = [
        [
            row.component,
            _range(row.at_event),
            _range(row.band),
            _when(row.calculated, row.ever, up=True),
            _when(row.predicted, row.ever_predicted, up=True),
            "-" if math.isinf(row.closed) else lapse(row.closed),
            _range(row.settles),
        ]
        for row in found.warm_ups
    ]
    head = ["component", "at event °C", "switch-on °C"]
    head += ["calculated after", "predicted after", "outside again after", "settles at °C"]
    yield grid(head, rows)


def _range(ends: tuple[float, float]) -> str:
    low, high = map(celsius, ends)
    return low if low == high else f"{low} to {high}"


def _when(seconds: float, ever: Ever, *, up: bool = False) -> str:
    return ever if math.isinf(seconds) else lapse(seconds, up=up)


def lapse(seconds: float, *, up: bool = False) -> str:
    """A length of time for people, rounded to the careful side: down, or up for a wait."""
    if seconds <= 0.0:
        return "at once"
    rounded = math.ceil if up else math.floor
    whole = rounded(seconds + (-1e-3 if up else 1e-3))  # a hair's breadth is no second more
    if whole < 120:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60:02d} s"
    minutes = rounded(whole / 60)
    if minutes < 2 * 24 * 60:
        return f"{minutes // 60} h {minutes % 60:02d} min"
    hours = rounded(minutes / 60)
    return f"{hours // 24} d {hours % 24:02d} h"


def _data(found: Times) -> dict[str, Any]:
    """For programs: seconds and kelvin; null for a time that is not within the case."""
    return {
        "model": found.result.model.name,
        "hash": found.result.model.hash(),
        "case": found.result.case,
        "since": found.since,
        "step": found.step,
        "limits": [_plain(row) for row in found.limits],
        "warm_ups": [_plain(row) for row in found.warm_ups],
        "not_continued": found.reason,
        "failure": found.result.solution.failure,
    }


def _plain(row: TimeToLimit | WarmUp) -> dict[str, Any]:
    return {key: _finite(value) for key, value in dataclasses.asdict(row).items()}


def _finite(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_finite(each) for each in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _write(found: Sequence[Times], path: Path) -> Path:
    """All rows as CSV, in seconds and kelvin; a time is empty where it is not within the case."""
    head = ["case", "since [s]", "component", "what", "side", "node", "at event [K]", "limit [K]"]
    head += ["calculated [s]", "predicted [s]", "ever calculated", "ever predicted"]
    head += ["outside again [s]", "settles at [K]", "margin then [K]"]
    return write_rows(path, head, (line for each in found for line in _lines(each)))


def _lines(found: Times) -> Iterator[list[Any]]:
    for row in found.limits:
        yield [
            row.case, found.since, row.component, row.band, row.side, row.node,
            *map(_cell, (row.at_event, row.limit, row.calculated, row.predicted)),
            row.ever, row.ever_predicted, "", _cell(row.settles), _cell(row.margin),
        ]  # fmt: skip
    for wait in found.warm_ups:
        for k, side in enumerate(("cold", "hot")):
            yield [
                wait.case, found.since, wait.component, "switch-on", side, "",
                *map(_cell, (wait.at_event[k], wait.band[k], wait.calculated, wait.predicted)),
                wait.ever, wait.ever_predicted, *map(_cell, (wait.closed, wait.settles[k])), "",
            ]  # fmt: skip


def _cell(value: float) -> str:
    return repr(value) if math.isfinite(value) else ""
