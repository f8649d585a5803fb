"""Which cases are solved before one that starts at the end of another."""

from __future__ import annotations

from thermnet.errors import InputError, Problem
from thermnet.model.model import Model
from thermnet.model.paths import case_of, lineage


def starts(model: Model, case: str) -> tuple[str, ...]:
    """The cases at whose ends a case starts, directly or through others, the first one first.

    Raises InputError, located, where that leads back to a case itself.
    """
    names = [case]
    while (before := _after(model, names[0])) is not None:
        if before in names:
            ring = " -> ".join([before, *names[: names.index(before) + 1]])
            message = f"cases start at each other's end: {ring}"
            raise InputError(model.located([Problem(message=message, path=f"cases.{case}.after")]))
        names.insert(0, before)
    return tuple(names[:-1])


def _after(model: Model, case: str) -> str | None:
    """The case at whose end a case starts, None unless it is a transient with such a start."""
    after, solve = None, None
    for name in lineage(model, case):
        entry = case_of(model, name)
        solve = entry.solve or solve
        if entry.after is not None or entry.initial is not None:
            after = entry.after  # what is stated last counts
    return after if solve == "transient" else None
