"""A case solved with something failed, or found not to need it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace

from thermnet.errors import InputError
from thermnet.heaters import heater_duty
from thermnet.model.assemble import assemble
from thermnet.model.failures import Fault, changes_in
from thermnet.model.kinds.blanket_entry import Blanket
from thermnet.model.kinds.heater import Heater
from thermnet.model.model import Change, Model
from thermnet.model.paths import apply_case, vary
from thermnet.model.starts import starts
from thermnet.results import Result, solve
from thermnet.solve.solution import Options


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FailedCase:
    """A case with a failure.

    `result` is None without a solution; then `not_solved` says why. `same`: its temperatures are
    those of the case as it is. `no_effect` says why nothing else changes either, "" otherwise.
    """

    result: Result | None
    same: bool = False
    no_effect: str = ""
    not_solved: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solved:
    """What is solved so far of a model: its cases as they are, and with failures.

    Of the latter only those `wanted` are kept, at whose ends others start.
    """

    model: Model
    options: Options
    wanted: Collection[str]
    as_they_are: dict[str, Result] = field(default_factory=dict)
    failed: dict[tuple[str, str], FailedCase] = field(default_factory=dict)


def as_it_is(solved: Solved, case: str) -> Result:
    """A case with nothing failed, solved once. Raises InputError as `results.solve` does."""
    for name in (*starts(solved.model, case), case):
        if name not in solved.as_they_are:
            solved.as_they_are[name] = solve(solved.model, name, solved.options, solved.as_they_are)
    return solved.as_they_are[case]


def with_failure(solved: Solved, fault: Fault, case: str) -> FailedCase:
    """A case with a failure, which the cases before it had as well.

    It is solved unless it cannot differ. Raises InputError for values that cannot be set.
    """
    key = fault.name, case
    if key not in solved.failed:
        found = _with_failure(solved, fault, case)
        if case not in solved.wanted:
            return found
        solved.failed[key] = found
    return solved.failed[key]


def _with_failure(solved: Solved, fault: Fault, case: str) -> FailedCase:
    reference = as_it_is(solved, case)
    before = {name: with_failure(solved, fault, name) for name in starts(solved.model, case)}
    for name, earlier in before.items():
        if earlier.result is None:
            why = f"case '{name}', after which it starts, is not solved: {earlier.not_solved}"
            return FailedCase(result=None, not_solved=why)
    changes = changes_in(reference.model, fault)
    failed = vary(solved.model, {change.path: change.after for change in changes})
    if all(earlier.same for earlier in before.values()):
        reason = _without_effect(reference, fault, changes)
        if reason:
            return FailedCase(result=reference, same=True, no_effect=reason)
        if _never_on(reference, fault):
            # The temperatures are the same; but nothing holds what this heater would have held.
            result = replace(reference, model=apply_case(failed, case))
            return FailedCase(result=result, same=True)
    known = {name: each.result for name, each in before.items() if each.result is not None}
    try:
        return FailedCase(result=solve(failed, case, solved.options, known))
    except InputError as error:
        assemble(failed, case)  # raises what is wrong with values, not with the network
        left = "; ".join(problem.message for problem in error.problems)
        why = f"'{fault.title}' leaves it without a solution: {left}"
        return FailedCase(result=None, not_solved=why)


def _without_effect(reference: Result, fault: Fault, changes: Sequence[Change]) -> str:
    """Why a failure changes nothing of the network in a case; "" where it may."""
    moving = [change for change in changes if change.before != change.after]
    if not moving:
        return "the case has it so already"
    activity = reference.plan.activity
    follows = activity is not None and any(activity.steps)  # a case of one mode has no named step
    if not follows and all(change.path in fault.timelines for change in moving):
        return "the case follows no timeline"
    unused = [_unused(reference.model, change.path) for change in moving]
    if all(unused):
        return "; ".join(dict.fromkeys(unused))
    if fault.heater:
        heater = reference.model.entries(Heater, "heaters")[fault.heater]
        if heater.failed == "no" and heater.power_at(reference.plan.bus_voltage) <= 0.0:
            return "the heater has no power"
    return ""


def _unused(model: Model, path: str) -> str:
    """Why a case does not use the number at a path, another bound of a blanket; "" else."""
    section, name, key = path.split(".", 2)
    if section != "blankets":
        return ""
    used = model.entries(Blanket, "blankets")[name].use
    others = {
        "effective_emittance": "nominal",
        "low": "low",
        "high": "high",
        "bounds.low": "low",
        "bounds.high": "high",
    }
    if others.get(key, used) == used:
        return ""
    which = "nominal number" if used == "nominal" else f"'{used}' bound"
    return f"the case uses the {which} of blanket '{name}'"


def _never_on(reference: Result, fault: Fault) -> bool:
    """Whether what failed off is a heater that gives no heat in the case as it is.

    A transient that starts from a state which a solver found may owe that state to the heater.
    """
    if fault.state != "off" or reference.solution.failure:
        return False
    how = reference.plan
    if how.solve == "transient" and how.initial != "given" and how.after is None:
        return False
    return heater_duty(reference, fault.heater) == 0.0
