"""Nine mutations of every key of every shipped model: each shows where it was made, or is listed.

Mutants of different entries share a file, since all problems of a file are reported at once: a
problem counts only for the mutant on whose line and at whose path it stands. What is left without
a problem is read again without the others, until every mutant is judged.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from pathlib import Path

from tests.model.mutants import Mutant, lines_for, mutants_of, mutated, sources_of
from thermnet.errors import InputError, Problem
from thermnet.model.read import parse

ROOT = Path(__file__).parents[2]
MODELS = sorted(ROOT.glob("cases/*/model.yaml"))

def problems_of(texts: dict[str, str], model: Path) -> tuple[Problem, ...]:
    try:
        parse(texts, str(model), folder=model.parent)
    except InputError as error:
        return error.problems
    return ()


def judge(sources: dict[str, str], model: Path, batch: Sequence[Mutant]) -> dict[Mutant, str]:
    """"error" on the mutated line, "elsewhere", or "valid", for each of a batch."""
    if not batch:
        return {}
    texts, shift = mutated(sources, batch)
    problems = problems_of(texts, model)
    if not problems:
        return dict.fromkeys(batch, "valid")
    flagged = {m: "error" for m in batch if any(about(p, m, lines_for(m, texts, shift)) for p in problems)}
    rest = [m for m in batch if m not in flagged]
    if flagged:
        return flagged | judge(sources, model, rest)
    if len(rest) == 1:
        return {rest[0]: "elsewhere"}
    half = len(rest) // 2
    return judge(sources, model, rest[:half]) | judge(sources, model, rest[half:])


def about(problem: Problem, mutant: Mutant, lines: range) -> bool:
    place = problem.place
    inside = problem.path == mutant.owner or problem.path.startswith(f"{mutant.owner}.")
    return (
        place is not None
        and place.file == mutant.edit.file
        and place.line in lines
        and (inside or not mutant.owner)
    )


def batches(mutants: Sequence[Mutant]) -> Iterator[list[Mutant]]:
    rounds: dict[tuple[str, int], list[Mutant]] = defaultdict(list)
    seen: dict[tuple[str, str], int] = defaultdict(int)
    for m in mutants:
        n = seen[m.mutation, m.owner]
        seen[m.mutation, m.owner] += 1
        rounds[m.mutation, n].append(m)
    yield from rounds.values()
