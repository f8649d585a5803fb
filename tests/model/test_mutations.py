"""Nine mutations of every key of every shipped model: each shows where it was made, or is listed.

Mutants of different entries share a file, since all problems of a file are reported at once: a
problem counts only for the mutant on whose line and at whose path it stands. Those left without
one are read again in smaller company, and alone where even that leaves doubt.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from _pytest.mark.structures import ParameterSet

from tests.full import FULL, only_in_full
from tests.model.listed import LISTED, Verdict
from tests.model.mutants import NINE, Mutant, mutants_of, sources_of
from tests.model.mutated import Mutated, mutated
from thermnet.errors import InputError, Problem
from thermnet.model.kinds.environment import NAMES as KNOWN
from thermnet.model.kinds.finish import FINISHES
from thermnet.model.read import parse

ROOT = Path(__file__).parents[2]
# The lander uses every kind there is: what may be left out of it is not sorted yet.
EVERY = [path for path in sorted(ROOT.glob("cases/*/model.yaml")) if "lander" not in str(path)]
# The orbiters are much like the microsatellite: their mutants wait for a full run.
MODELS = [path for path in EVERY if FULL or not path.parent.name.endswith("orbiter")]
IN_PLACE = {"wrong unit", "wrong type", "NaN", "dangling name", "null"}


def problems_of(texts: dict[str, str], model: Path) -> tuple[Problem, ...]:
    try:
        parse(texts, str(model), folder=model.parent)
    except InputError as error:
        return error.problems
    return ()


def verdicts(
    model: Path, sources: dict[str, str], mutants: Sequence[Mutant]
) -> dict[Mutant, Verdict]:
    """What becomes of each mutant.

    First as many as possible share a file, to find those that are in error; whatever one mutant
    may hide or heal in another is then judged in smaller company.
    """
    found: dict[Mutant, Verdict] = {}
    within = [mutant for mutant in mutants if not is_whole(mutant)]
    for batch in batches(within, crowd):
        found |= flagged(mutated(sources, batch), model, batch, narrow)
    rest = [mutant for mutant in within if mutant not in found]
    whole = [mutant for mutant in mutants if is_whole(mutant)]
    for batch in [*batches(rest, family), *batches(whole, tables)]:
        found |= judged(sources, model, batch)
    return found


def judged(sources: dict[str, str], model: Path, batch: Sequence[Mutant]) -> dict[Mutant, Verdict]:
    """What becomes of each mutant of a batch, down to one at a time where that is unclear."""
    if not batch:
        return {}
    now = mutated(sources, batch)
    problems = problems_of(now.texts, model)
    if not problems:
        return dict.fromkeys(batch, "valid")
    found = flagged(now, model, batch, lambda mutant: mutant.owner, problems)
    rest = [mutant for mutant in batch if mutant not in found]
    if found:
        return found | judged(sources, model, rest)
    if len(rest) == 1:
        return {rest[0]: "elsewhere"}
    half = len(rest) // 2
    return judged(sources, model, rest[:half]) | judged(sources, model, rest[half:])


def flagged(
    now: Mutated,
    model: Path,
    batch: Sequence[Mutant],
    at: Callable[[Mutant], str],
    problems: Sequence[Problem] | None = None,
) -> dict[Mutant, Verdict]:
    """The mutants of a batch with a problem on their line and at their path."""
    by_line: dict[tuple[str, int], list[str]] = defaultdict(list)
    for problem in problems_of(now.texts, model) if problems is None else problems:
        if problem.place is not None:
            by_line[problem.place.file, problem.place.line].append(problem.path)
    found: dict[Mutant, Verdict] = {}
    for mutant in batch:
        owner = at(mutant)
        for line in now.lines_for(mutant):
            paths = by_line[mutant.edit.file, line]
            if any(not owner or f"{path}.".startswith(f"{owner}.") for path in paths):
                found[mutant] = "error"
    return found


def batches(
    mutants: Sequence[Mutant], company: Callable[[Mutant], tuple[str, str]]
) -> Iterator[list[Mutant]]:
    """Mutants of a kind together, but one at a time of those that keep apart."""
    rounds: dict[tuple[str, int], list[Mutant]] = defaultdict(list)
    seen: Counter[tuple[str, str]] = Counter()
    for mutant in mutants:
        kind, apart = company(mutant)
        rounds[kind, seen[kind, apart]].append(mutant)
        seen[kind, apart] += 1
    yield from rounds.values()


def is_whole(mutant: Mutant) -> bool:
    """Whether it changes a key at the top, or the table of a section, its head or a name in it."""
    of_table = mutant.pattern.endswith((" (head)", ".table", ".name"))
    return not mutant.owner or (of_table and "." not in mutant.owner)


def tables(mutant: Mutant) -> tuple[str, str]:
    """Tables of several sections, their heads likewise; keys at the top one by one."""
    if mutant.owner:
        return ("heads" if mutant.pattern.endswith(" (head)") else "tables"), mutant.owner
    return "top", ""


def crowd(mutant: Mutant) -> tuple[str, str]:
    """Values of one depth do not touch, and their problems have paths of their own.

    A sign is apart: it may only show against another key of the entry.
    """
    if mutant.mutation in IN_PLACE and mutant.place:
        return f"values {len(mutant.place)}", ".".join(mutant.place)
    return "entries", mutant.owner


def narrow(mutant: Mutant) -> str:
    """The path at which a mutant must be reported when others change the same entry."""
    return ".".join(mutant.place) if mutant.mutation in IN_PLACE and mutant.place else mutant.owner


def each_of_a_section(mutant: Mutant) -> tuple[str, str]:
    """One mutation of every entry of a section; entries of two sections may share a name."""
    section, name = mutant.named or ("", "")
    return f"{mutant.mutation} {section}", name


def family(mutant: Mutant) -> tuple[str, str]:
    """One mutation, once in each entry of a section; of cases, one key or override at a time."""
    section = mutant.owner.partition(".")[0]
    if section == "cases":
        return f"{mutant.mutation} {mutant.pattern}", ".".join(mutant.place[:4])
    return f"{mutant.mutation} {section}", mutant.owner


def outcome(model: Path) -> dict[Mutant, Verdict]:
    """What becomes of every mutant of a model, but those of the names of entries."""
    sources = sources_of(model)
    mutants = [mutant for mutant in mutants_of(model, sources) if mutant.named is None]
    assert {mutant.mutation for mutant in mutants} == set(NINE)
    # Of the larger models a few: the others wait for a full run.
    few = {"microsatellite": 75, "deep_space_probe": 10}
    some = mutants if FULL else mutants[:: few.get(model.parent.name, 1)]
    return verdicts(model, sources, some)


def test_every_mutant_is_an_error_on_its_line_or_is_listed_with_a_reason_that_is_needed() -> None:
    # One test, since workers would each read thousands of mutants for what they share.
    found = {mutant: verdict for model in MODELS for mutant, verdict in outcome(model).items()}
    excused = {mutant: verdict for mutant, verdict in found.items() if verdict != "error"}
    amiss = [
        f"{verdict}, and not listed: {mutant}"
        for mutant, verdict in excused.items()
        if not any(row.covers(mutant) and verdict in row.verdict for row in LISTED)
    ]
    amiss += [
        f"listed without exception, but an error: {mutant}"
        for mutant in found.keys() - excused.keys()
        if any(row.covers(mutant) and not row.some for row in LISTED)
    ]
    amiss += [
        f"listed, and never met: {row.mutations} {key}"
        for row in LISTED
        for key in row.keys
        if FULL  # with every model
        and not row.company
        and not any(
            replace(row, keys=(key,)).covers(mutant) and verdict in row.verdict
            for mutant, verdict in excused.items()
        )
    ]
    assert not amiss, "\n".join(amiss)


REFERENCES = {
    **dict.fromkeys(("node", "at", "sensor", "from", "to"), ("nodes", "boundaries")),
    **dict.fromkeys(("schedule", "enabled", "on", "when", "sunlit"), ("schedules",)),
    **dict.fromkeys(("mode", "modes"), ("modes",)),
    "timeline": ("timelines",),
    "unit": ("units",),
    "cells": ("surfaces",),
    "after": ("cases",),
    "cases": ("cases",),
    **dict.fromkeys(("links", "through"), ("links",)),
    "held_by": ("heaters",),
    "orbit": ("orbits",),
    "pointing": ("pointings",),
    "environment": ("environments",),
    "finish": ("finishes",),
    "extends": ("cases",),
}
"""Sections of what is named under a key."""

BY_MODE = ("heat", "sent")
"""Keys whose value has a key of its own for each mode."""


def references(data: Any, key: str = "") -> Iterator[tuple[str, str]]:
    """Entries, as (section, name), that a value names, or an override changes."""
    if isinstance(data, dict) and key == "set":
        for path, value in data.items():
            section, name, below = path.split(".", 2)
            yield section, name
            yield from references(value, below.rpartition(".")[2])
    elif isinstance(data, dict):
        for inner, value in data.items():
            if key in BY_MODE:
                yield "modes", inner
            yield from references(value, inner)
    elif isinstance(data, list | tuple):
        for value in data:
            yield from references(value, key)
    elif isinstance(data, str):
        for section in REFERENCES.get(key, ()):
            yield section, data


def named(model: Path) -> ParameterSet:
    """A model as a parameter; the largest waits for a full run."""
    marks = [only_in_full] if model.parent.name == "microsatellite" else []
    return pytest.param(model, marks=marks, id=model.parent.name)


@pytest.mark.parametrize("model", [named(model) for model in MODELS])
def test_an_entry_that_is_gone_is_missed_wherever_it_is_named_and_nowhere_else(
    model: Path,
) -> None:
    sources = sources_of(model)
    mutants = [mutant for mutant in mutants_of(model, sources) if mutant.named is not None]
    sections = parse(sources, str(model), folder=model.parent).sections
    entries = [entry for section in sections.values() for entry in section.values()]
    used = {each for entry in entries for each in references(entry.model_dump(by_alias=True))}
    # The library may step in for what the model changes of it.
    known = {("finishes", name) for name in FINISHES} | {("environments", name) for name in KNOWN}
    for batch in batches(mutants, each_of_a_section):
        rest = batch
        while problems := problems_of((now := mutated(sources, rest)).texts, model):
            told = "\n".join(problem.message for problem in problems)
            # The only entry of a section leaves the section empty, an error in itself.
            found = flagged(now, model, rest, lambda mutant: mutant.owner, problems)
            missed = [m for m in rest if m in found or f"'{(m.named or rest)[1]}'" in told]
            assert missed
            assert not [m for m in missed if m not in found and m.named not in used]
            rest = [mutant for mutant in rest if mutant not in missed]
        assert not any(mutant.named in used - known for mutant in rest)
