"""Cases that are solved at both bounds of their blankets: two cases in place of each."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from typing import Literal

from thermnet.errors import InputError, Problem
from thermnet.model.kinds.case import Case
from thermnet.model.model import Model
from thermnet.model.paths import ALL_BOUNDS, case_of, lineage
from thermnet.model.starts import starts
from thermnet.text.fields import Entry

BOUNDS: Sequence[Literal["low", "high"]] = ("low", "high")


def with_bounds(model: Model) -> Model:
    """The model with two cases, `NAME, blankets low` and `NAME, blankets high`, for each that says
    `blankets: both`, itself or by what it extends.

    One of them that starts after another such case starts after that one's case of the same bound.
    Raises InputError, located, where a name is taken already, and for a case at neither bound that
    starts after one at both.
    """
    paired: dict[str, dict[Literal["low", "high"], str]] = {
        name: {bound: f"{name}, blankets {bound}" for bound in BOUNDS}
        for name in model.cases
        if _stated(model, name) == "both"
    }
    cases: dict[str, Entry] = {}
    problems = [*_without_blankets(model), *_overruled(model, paired)]
    places = dict(model.places)
    for name in model.sections["cases"]:
        try:
            after = next(iter(starts(model, name)[-1:]), None)
        except InputError:
            after = None  # a ring, which is reported where cases are planned
        entry = case_of(model, name)
        cases[name] = entry
        if name not in paired and after in paired:
            own = next((each for each in BOUNDS if each == _stated(model, name)), None)
            if own is not None:
                cases[name] = entry.model_copy(update={"after": paired[after][own]})
            else:
                problems.append(_undecided(name, after))
        for bound, each in paired.get(name, {}).items():
            if each in model.sections["cases"]:
                message = f"'{name}' makes a case of this name, as it says `blankets: both`"
                problems.append(Problem(message=message, path=f"cases.{each}"))
            cases[each] = Case(
                extends=name,
                blankets=bound,
                title=f"{entry.title or name}, blankets {bound}",
                after=paired[after][bound] if after in paired else None,
            )
            places |= dict(_of_pair(model, name, each))
    if problems:
        raise InputError(model.located(problems))
    sections = {**model.sections, "cases": cases}
    return replace(model, sections=sections, places=places, paired=paired)


def _stated(model: Model, case: str) -> str | None:
    """What a case says of its blankets, itself or by what it extends."""
    try:
        names = lineage(model, case)
    except InputError:
        return None  # a ring, which is reported where cases are planned
    said = [case_of(model, name).blankets for name in names]
    return next((each for each in reversed(said) if each is not None), None)


def _without_blankets(model: Model) -> Iterator[Problem]:
    for name in model.cases if not model.sections["blankets"] else ():
        if case_of(model, name).blankets is not None:
            message = "the model has no blankets"
            yield Problem(message=message, path=f"cases.{name}.blankets")


def _overruled(model: Model, paired: Collection[str]) -> Iterator[Problem]:
    """Cases at both bounds that say themselves which bound of all blankets counts."""
    for name in paired:
        if ALL_BOUNDS in case_of(model, name).set:
            message = (
                "the case extends one at both bounds of its blankets, of which this makes two that "
                "are alike: say `blankets` instead"
            )
            yield Problem(message=message, path=f"cases.{name}.set.{ALL_BOUNDS}")


def _undecided(name: str, after: str) -> Problem:
    return Problem(
        message=f"'{after}' is solved at both bounds of its blankets: say of this case too whether "
        "its `blankets` are low, high or both",
        path=f"cases.{name}",
    )


def _of_pair(model: Model, name: str, each: str) -> Iterator[tuple[str, object]]:
    """The places of a case for one that stands in its place."""
    own = f"cases.{name}"
    for path, place in model.places.items():
        if path == own or path.startswith(f"{own}."):
            yield f"cases.{each}{path.removeprefix(own)}", place
