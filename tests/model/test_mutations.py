"""Nine mutations of every key of every shipped model: each shows where it was made, or is listed.

Mutants of different entries share a file, since all problems of a file are reported at once: a
problem counts only for the mutant on whose line and at whose path it stands. Those left without
one are read again in smaller company, and alone where even that leaves doubt.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import Any, Literal

import pytest

from tests.model.mutants import NINE, Mutant, Mutated, mutants_of, mutated, sources_of
from thermnet.errors import InputError, Problem
from thermnet.model.read import parse

Verdict = Literal["error", "elsewhere", "valid"]
ROOT = Path(__file__).parents[2]
MODELS = sorted(ROOT.glob("cases/*/model.yaml"))
IN_PLACE = {"wrong unit", "wrong type", "NaN", "dangling name", "null"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """Mutants that give no error where they stand, and the reason.

    `keys` are patterns of paths; `verdict` says whether the mutant is valid or shown elsewhere.
    With `some` the reason names what tells those in error apart from these.
    """

    mutations: tuple[str, ...]
    keys: tuple[str, ...]
    reason: str
    verdict: tuple[Verdict, ...] = ("valid",)
    some: bool = False

    def covers(self, mutant: Mutant) -> bool:
        return mutant.mutation in self.mutations and any(
            fnmatchcase(mutant.pattern, key) for key in self.keys
        )


TEXTS = ("name", "description", "*.note", "*.title", "*.life", "*.group")

LISTED = (
    Listed(
        mutations=("wrong unit", "dangling name", "sign"),
        keys=TEXTS,
        reason="free text may say anything",
    ),
    Listed(mutations=("drop",), keys=TEXTS, reason="text that may be left out"),
    Listed(
        mutations=("drop",),
        keys=("uncertainty", "uncertainty.balance_tested", "uncertainty.heater_duty"),
        reason="has a default, which the margins table states",
    ),
    Listed(
        mutations=("drop",),
        keys=("uncertainty.policy",),
        reason="the flat policy is the default; without an allowance it is an error",
        some=True,
    ),
    Listed(
        mutations=("drop",),
        keys=("temperatures",),
        reason="every bare temperature is then an error where it stands",
        verdict=("elsewhere",),
    ),
    Listed(
        mutations=("drop",),
        keys=("nodes", "nodes.table", "boundaries", "blankets", "loads", "schedules", "heaters"),
        reason="every reference to what is gone is an error where it stands",
        verdict=("elsewhere",),
    ),
    Listed(
        mutations=("drop",),
        keys=("surfaces", "components"),
        reason="the overrides that change what is gone are errors; without any, as sections below",
        verdict=("elsewhere", "valid"),
    ),
    Listed(
        mutations=("drop",),
        keys=("links", "radiation", "cases"),
        reason="a model may have none; the network is checked before it is solved",
    ),
    Listed(
        mutations=("drop",),
        keys=("blankets.*.low", "blankets.*.high"),
        reason="an error at the override that asks for the bound",
        verdict=("elsewhere",),
    ),
    Listed(
        mutations=("drop",),
        keys=("surfaces.*.absorbed",),
        reason="an error at the override that changes the heat",
        verdict=("elsewhere",),
    ),
    Listed(
        mutations=("drop",),
        keys=("surfaces.*.absorbed.*.schedule", "loads.*.schedule", "heaters.*.enabled"),
        reason="without a schedule the heat is constant and the heater always enabled",
    ),
    Listed(
        mutations=("drop",),
        keys=("surfaces.*.absorbed.planet_infrared.heat",),
        reason="an empty cell: a surface without planet infrared",
    ),
    Listed(mutations=("drop",), keys=("surfaces.*.view",), reason="a surface sees its sink fully"),
    Listed(
        mutations=("drop",),
        keys=("schedules.*.shape", "schedules.*.period"),
        reason="linear by default; without a period the last value holds",
    ),
    Listed(
        mutations=("drop",),
        keys=("heaters.*.rated_voltage",),
        reason="then the power does not go with the bus voltage",
    ),
    Listed(
        mutations=("drop",),
        keys=tuple(
            f"components.*.{key}"
            for key in ("operating", "non_operating", "switch_on", "on", "held_by", "uncertainty")
        ),
        reason="each has a default; a component without any band is listed as such",
    ),
    Listed(
        mutations=("drop",),
        keys=("components.*.rate", "components.*.states", "components.*.differences"),
        reason="demands that a component need not state",
    ),
    Listed(
        mutations=("drop",),
        keys=("components.*.windows",),
        reason="an error at the override of the window's band",
        verdict=("elsewhere",),
    ),
    Listed(
        mutations=("drop", "duplicate"),
        keys=("components.*.at.*",),
        reason="the worst of one node fewer, or of one counted twice",
    ),
    Listed(
        mutations=("misspell",),
        keys=("components.*.states.*", "components.*.differences.*", "components.*.windows.*"),
        reason="the user's own name for it; an override that holds it is an error",
        verdict=("valid", "elsewhere"),
        some=True,
    ),
    Listed(
        mutations=("drop",),
        keys=tuple(
            f"cases.*.{key}" for key in ("kind", "bus_voltage", "initial", "sunlit", "extends")
        ),
        reason="each has a default; without the case that it extends a case stands on the model",
    ),
    Listed(
        mutations=("drop",),
        keys=("cases.*.solve",),
        reason="steady by default; an error where a period, duration or start is stated",
        some=True,
    ),
    Listed(
        mutations=("drop",),
        keys=("cases.*.set", "cases.*.set.*"),
        reason="the model's own value holds; of two thresholds set, the other is blamed",
        verdict=("valid", "elsewhere"),
        some=True,
    ),
    Listed(
        mutations=("wrong type",),
        keys=("cases.*.set.*",),
        reason="a bare number in place of a scale is a new value",
        some=True,
    ),
    Listed(
        mutations=("sign",),
        keys=("loads.*.heat", "cases.*.set.loads.*.heat", "cases.*.set.loads.*.heat.scale"),
        reason="negative heat is taken out, as the reference says",
    ),
    Listed(
        mutations=("sign",),
        keys=("nodes.*.initial",),
        reason="a temperature in degC has either sign",
    ),
    Listed(
        mutations=("sign",),
        keys=(
            "components.*.operating.*",
            "components.*.non_operating.*",
            "components.*.switch_on.*",
            "components.*.band.*",
            "heaters.*.on_below",
            "heaters.*.off_above",
            "cases.*.set.components.*.band.*",
            "cases.*.set.heaters.*.o*",
        ),
        reason="a temperature in degC has either sign, while the pair stays in order",
        verdict=("valid", "elsewhere"),
        some=True,
    ),
    Listed(
        mutations=("sign",),
        keys=("schedules.*.time.*",),
        reason="minus zero is zero; any other negative instant is an error",
        some=True,
    ),
    Listed(
        mutations=("sign",),
        keys=("schedules.*.value.*",),
        reason="minus zero is zero, and loads and states may follow negative values",
        some=True,
    ),
    Listed(
        mutations=("duplicate",),
        keys=("links.*.from", "radiation.*.from"),
        reason="a row twice: two alike paths side by side; an entry's key twice is an error",
        some=True,
    ),
    Listed(
        mutations=("duplicate",),
        keys=("schedules.*.time.*",),
        reason="a row of a linear history twice is a jump of no height; in a list it is an error",
        some=True,
    ),
    Listed(
        mutations=("wrong unit",),
        keys=("* (head)",),
        reason="reported at the first cells below the head, whose numbers carry its unit",
        verdict=("elsewhere",),
    ),
)


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
    for batch in [*batches(rest, family), *([mutant] for mutant in whole)]:
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


def family(mutant: Mutant) -> tuple[str, str]:
    """One mutation, once in each entry of a section; of cases, one key or override at a time."""
    section = mutant.owner.partition(".")[0]
    if section == "cases":
        return f"{mutant.mutation} {mutant.pattern}", ".".join(mutant.place[:4])
    return f"{mutant.mutation} {section}", mutant.owner


@cache
def outcome(model: Path) -> Mapping[Mutant, Verdict]:
    """What becomes of every mutant of a model, but those of the names of entries."""
    sources = sources_of(model)
    mutants = [mutant for mutant in mutants_of(model, sources) if mutant.named is None]
    return verdicts(model, sources, mutants)


EACH_MODEL = pytest.mark.parametrize("model", MODELS, ids=lambda model: model.parent.name)


@EACH_MODEL
def test_every_mutant_is_an_error_on_its_line_or_is_listed_with_a_reason(model: Path) -> None:
    found = outcome(model)
    assert {mutant.mutation for mutant in found} == set(NINE)
    amiss = [
        f"{verdict}: {mutant}"
        for mutant, verdict in found.items()
        if verdict != "error"
        and not any(row.covers(mutant) and verdict in row.verdict for row in LISTED)
    ]
    assert not amiss, "\n".join(amiss)


@EACH_MODEL
def test_what_is_listed_without_exception_is_never_an_error(model: Path) -> None:
    amiss = [
        f"{mutant}: {row.reason}"
        for mutant, verdict in outcome(model).items()
        for row in LISTED
        if verdict == "error" and row.covers(mutant) and not row.some
    ]
    assert not amiss, "\n".join(amiss)


def test_every_reason_is_needed() -> None:
    excused = [
        (mutant, verdict)
        for model in MODELS
        for mutant, verdict in outcome(model).items()
        if verdict != "error"
    ]
    for row in LISTED:
        for key in row.keys:
            alone = replace(row, keys=(key,))
            assert any(
                alone.covers(mutant) and verdict in row.verdict for mutant, verdict in excused
            ), f"{row.mutations} {key}: {row.reason}"


REFERENCES = {
    **dict.fromkeys(("node", "at", "sensor", "from", "to"), ("nodes", "boundaries")),
    **dict.fromkeys(("schedule", "enabled", "on", "when", "sunlit"), ("schedules",)),
    "held_by": ("heaters",),
    "extends": ("cases",),
}
"""Sections of what is named under a key."""


def references(data: Any, key: str = "") -> Iterator[tuple[str, str]]:
    """Entries, as (section, name), that a value names, or an override changes."""
    if isinstance(data, dict) and key == "set":
        for path, value in data.items():
            section, name, below = path.split(".", 2)
            yield section, name
            yield from references(value, below.rpartition(".")[2])
    elif isinstance(data, dict):
        for inner, value in data.items():
            yield from references(value, inner)
    elif isinstance(data, list | tuple):
        for value in data:
            yield from references(value, key)
    elif isinstance(data, str):
        for section in REFERENCES.get(key, ()):
            yield section, data


@EACH_MODEL
def test_an_entry_that_is_gone_is_missed_wherever_it_is_named_and_nowhere_else(
    model: Path,
) -> None:
    sources = sources_of(model)
    mutants = [mutant for mutant in mutants_of(model, sources) if mutant.named is not None]
    sections = parse(sources, str(model), folder=model.parent).sections
    entries = [entry for section in sections.values() for entry in section.values()]
    used = {each for entry in entries for each in references(entry.model_dump(by_alias=True))}
    for batch in batches(mutants, lambda mutant: (mutant.mutation, str(mutant.named))):
        rest = batch
        while problems := problems_of((now := mutated(sources, rest)).texts, model):
            told = "\n".join(problem.message for problem in problems)
            # The only entry of a section leaves the section empty, an error in itself.
            found = flagged(now, model, rest, lambda mutant: mutant.owner, problems)
            missed = [m for m in rest if m in found or f"'{(m.named or rest)[1]}'" in told]
            assert missed
            assert all(mutant in found or mutant.named in used for mutant in missed)
            rest = [mutant for mutant in rest if mutant not in missed]
        assert not any(mutant.named in used for mutant in rest)
