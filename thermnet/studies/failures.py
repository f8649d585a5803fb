"""One failure at a time: each case solved with each thing failed, and judged like any case."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from thermnet.account import account
from thermnet.errors import InputError, Problem, nearest
from thermnet.margins import Margin, gravity, margins
from thermnet.model.failures import Fault, faults
from thermnet.model.model import Model
from thermnet.model.starts import starts
from thermnet.results import Result
from thermnet.solve.solution import Options
from thermnet.studies.failed_cases import Solved, as_it_is, with_failure

UNFAILED = "nothing failed"
"""What stands for the failure in the row of a case as it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FailureRow:
    """One case with one failure, judged.

    `failure` is the name of what failed, `UNFAILED` for the case as it is. `margins` are all, the
    gravest first. `failing` are the components with a limit that does not hold, `newly` those
    among them whose limits all hold in the case as it is. `moved` is how far the margin of the
    gravest limit lies from that of the same limit in the case as it is, negative where the
    failure takes margin; `hit` the temperature limit that loses most, `lost` [K] how much; None
    and zero where none loses more than the accuracy of the solve.

    `no_effect` says why nothing was solved and the margins are those of the case as it is;
    `not_solved` why there is no solution, "" otherwise. `closes`: whether the energy account does.
    """

    case: str
    failure: str
    title: str
    margins: tuple[Margin, ...]
    failing: tuple[str, ...] = ()
    newly: tuple[str, ...] = ()
    moved: float = math.nan
    hit: Margin | None = None
    lost: float = 0.0
    no_effect: str = ""
    not_solved: str = ""
    closes: bool = True
    problems: tuple[Problem, ...] = ()

    @property
    def worst(self) -> Margin | None:
        """The gravest margin; None without a solution, or without a limit to judge."""
        return self.margins[0] if self.margins and not self.not_solved else None

    @property
    def verdict(self) -> str:
        """That of the gravest margin, or "not solved", or "no limits"."""
        if self.not_solved:
            return "not solved"
        return "no limits" if self.worst is None else self.worst.verdict

    @property
    def holds(self) -> bool:
        """Whether it is solved and every margin holds."""
        return not self.not_solved and not self.failing


def failures(
    model: Model,
    cases: Iterable[str] | None = None,
    options: Options = Options(),
    *,
    only: Iterable[str] = (),
    progress: Callable[[str, str, int, int], None] | None = None,
) -> tuple[FailureRow, ...]:
    """Every failure in every case, all unless named, in the order of `gravest_first`.

    Arguments and errors are those of `judged`.
    """
    return gravest_first(judged(model, cases, options, only=only, progress=progress))


def judged(
    model: Model,
    cases: Iterable[str] | None = None,
    options: Options = Options(),
    *,
    only: Iterable[str] = (),
    progress: Callable[[str, str, int, int], None] | None = None,
) -> Iterator[FailureRow]:
    """The rows one by one as they are solved; of each case first that with nothing failed.

    `only` names failures; without it all entries of the file are judged, and every heater failed
    off and failed on. A failure that cannot make a difference is not solved: its row says why.
    `progress` is told case, failure, how many rows are done and how many there are, before each.

    Raises InputError for an unknown failure and for all that is wrong with the model or a case as
    it is. A failure that leaves a network without a solution gives a row that says so.
    """
    chosen = model.cases if cases is None else model.solved_as(cases)
    wanted = _wanted(model, tuple(only))
    todo = {case: [each for each in wanted if not each.cases or case in each.cases]
            for case in chosen}  # fmt: skip
    total = sum(1 + len(several) for several in todo.values())
    earlier = {name for case in chosen for name in starts(model, case)}
    solved = Solved(model=model, options=options, wanted=earlier)
    done = 0
    for case, several in todo.items():
        if progress is not None:
            progress(case, UNFAILED, done, total)
        healthy = _row(as_it_is(solved, case), UNFAILED, UNFAILED, None)
        yield healthy
        done += 1
        for fault in several:
            if progress is not None:
                progress(case, fault.name, done, total)
            yield _failed(solved, healthy, fault)
            done += 1


def gravest_first(rows: Iterable[FailureRow]) -> tuple[FailureRow, ...]:
    """The cases as they are in their order, then failures by gravity, last those without effect.

    Of failures with an equally grave limit, that comes first with which more components newly
    fail, then that which takes more of a margin.
    """

    def place(row: FailureRow) -> tuple[int, int, tuple[int, bool, float], int, float]:
        if row.failure == UNFAILED:
            return 0, 0, (0, False, 0.0), 0, 0.0
        rank = 2 if row.no_effect else 1
        if row.not_solved:
            return rank, 0, (0, False, 0.0), 0, 0.0
        grave = (9, True, 0.0) if row.worst is None else gravity(row.worst)
        return rank, 1, grave, -len(row.newly), -row.lost

    return tuple(sorted(rows, key=place))


def _wanted(model: Model, only: Sequence[str]) -> tuple[Fault, ...]:
    every = faults(model)
    problems = [
        Problem(message=f"unknown failure '{name}'{nearest(name, every)}")
        for name in only
        if name not in every
    ]
    if problems:
        raise InputError(problems)
    return tuple(every[name] for name in dict.fromkeys(only or every))


def _failed(solved: Solved, healthy: FailureRow, fault: Fault) -> FailureRow:
    """One failure in one case, judged."""
    found = with_failure(solved, fault, healthy.case)
    named = replace(healthy, failure=fault.name, title=fault.title)
    if found.no_effect:
        return replace(named, moved=0.0, no_effect=found.no_effect)
    if found.result is None:
        return replace(named, margins=(), failing=(), problems=(), not_solved=found.not_solved)
    row = _row(found.result, fault.name, fault.title, healthy)
    if found.same and _same(row, healthy):
        return replace(row, no_effect="the heater does not come on")
    return row


def _limit(margin: Margin) -> tuple[str, str, str, str]:
    """What tells a margin from all others of its case."""
    return margin.component, margin.band, margin.quantity, margin.side


def _same(row: FailureRow, healthy: FailureRow) -> bool:
    """Whether every limit has the same margin and verdict; that on a heater's duty may be gone."""
    before = {_limit(margin): (margin.margin, margin.verdict) for margin in healthy.margins}
    return all(
        before.get(_limit(margin)) == (margin.margin, margin.verdict) for margin in row.margins
    )


def _row(result: Result, name: str, title: str, healthy: FailureRow | None) -> FailureRow:
    """A solved case judged, beside the same case with nothing failed."""
    found = margins(result)
    failing = tuple(dict.fromkeys(each.component for each in found if each.verdict != "holds"))
    row = FailureRow(
        case=result.case,
        failure=name,
        title=title,
        margins=found,
        failing=failing,
        not_solved=result.solution.failure,
        closes=bool(result.solution.failure) or account(result.network, result.solution).closes,
        problems=result.problems,
    )
    if healthy is None or result.solution.failure or healthy.not_solved:
        return row
    before = {_limit(margin): margin for margin in healthy.margins}
    losses = [
        (before[key].margin - margin.margin, -place)
        for place, margin in enumerate(found)
        if margin.quantity == "temperature" and (key := _limit(margin)) in before
    ]
    lost, place = max(losses, default=(0.0, 0))
    hit = found[-place] if lost > result.options.accuracy else None
    moved = math.nan
    if found and _limit(found[0]) in before:
        moved = found[0].margin - before[_limit(found[0])].margin
    return replace(
        row,
        newly=tuple(each for each in failing if each not in healthy.failing),
        moved=moved,
        hit=hit,
        lost=lost if hit is not None else 0.0,
    )
