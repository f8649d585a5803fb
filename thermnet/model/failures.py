"""All that may fail in a model, one at a time, and what each failure changes in a case."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from thermnet.errors import InputError, Problem
from thermnet.model.kinds.case import Case
from thermnet.model.kinds.failure import Failure
from thermnet.model.kinds.heater import Heater
from thermnet.model.model import Change, Model
from thermnet.model.paths import apply_case


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that fails.

    `changes` are what it changes, by path, as the file writes it. `cases` are those in which it
    is judged, all where there are none. `heater` is the heater of a failure that is known without
    an entry, `state` how that one fails, "off" or "on"; `timelines` are the paths among the
    changes that matter only where a case has a timeline.
    """

    name: str
    title: str
    changes: Mapping[str, Any]
    cases: tuple[str, ...] = ()
    heater: str = ""
    state: str = ""
    timelines: frozenset[str] = field(default=frozenset())


def faults(model: Model) -> dict[str, Fault]:
    """All that may fail, by name: the entries of the file, then each heater off and on.

    Raises InputError for an entry that bears the name of a failure known without one.
    """
    found: dict[str, Fault] = {}
    timelines = tuple(model.sections["timelines"])
    for name, entry in model.entries(Failure, "failures").items():
        changes = entry.changes(timelines)
        stuck = {f"timelines.{each}.stuck" for each in timelines} if entry.mode else set()
        found[name] = Fault(
            name=name,
            title=entry.title or name,
            changes=changes,
            cases=model.solved_as(entry.cases),
            timelines=frozenset(stuck - entry.set.keys()),
        )
    problems = []
    for heater in model.entries(Heater, "heaters"):
        for state in ("off", "on"):
            name = f"heater {heater} failed {state}"
            if name in found:
                message = f"heater '{heater}' fails {state} without an entry: give another name"
                problems.append(Problem(message=message, path=f"failures.{name}"))
            found[name] = Fault(
                name=name,
                title=name,
                changes={f"heaters.{heater}.failed": state},
                heater=heater,
                state=state,
            )
    if problems:
        raise InputError(model.located(problems))
    return found


def changes_in(applied: Model, fault: Fault) -> tuple[Change, ...]:
    """What a failure changes in a model with a case applied, path by path, in SI and kelvin.

    Raises InputError, located in the entry of the failure, for a path that leads nowhere or a
    value that its key does not take.
    """
    # To the reader of values a failure is a case with nothing but a `set`.
    alone = {fault.name: Case.model_construct(set=dict(fault.changes))}
    settings, path = applied.settings, f"failures.{fault.name}"
    if path in applied.scales:  # bare temperatures are on the scale of the part's own file
        settings = settings.model_copy(update={"temperatures": applied.scales[path]})
    probe = replace(
        applied,
        settings=settings,
        sections={**applied.sections, "cases": alone},
        written=None,
        overrides=(),
    )
    try:
        return apply_case(probe, fault.name).changes
    except InputError as error:
        written = f"cases.{fault.name}.set"
        problems = [
            replace(
                problem,
                path=f"failures.{fault.name}.set{problem.path.removeprefix(written)}",
                place=None,
                excerpt="",
            )
            for problem in error.problems
        ]
        raise InputError(applied.located(problems)) from None


def problems_of_failures(model: Model) -> list[Problem]:
    """Everything that is wrong with the failures of a model: their names, paths and values."""
    problems: dict[tuple[str, str], Problem] = {}
    try:
        every = faults(model)
    except InputError as error:
        return list(error.problems)
    stated = [fault for fault in every.values() if not fault.heater]
    for case in model.cases if stated else ():
        try:
            applied = apply_case(model, case)
        except InputError:
            continue  # what is wrong with a case is told by itself
        for fault in stated:
            if fault.cases and case not in fault.cases:
                continue
            try:
                changes_in(applied, fault)
            except InputError as error:
                for problem in error.problems:
                    problems.setdefault((problem.path, problem.message), problem)
    return list(problems.values())
