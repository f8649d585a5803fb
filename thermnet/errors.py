"""Problems as values: where a mistake was made, what is wrong, and what was expected."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Severity = Literal["error", "warning"]


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """A position in a file. Line and column count from 1."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that is wrong, addressed by path and, once known, by place.

    `excerpt` is the offending line of the file. Layers below the model know only the path; the
    model adds place and excerpt.
    """

    message: str
    path: str = ""
    place: Place | None = None
    excerpt: str = ""
    severity: Severity = "error"

    def __str__(self) -> str:
        head = ": ".join(text for text in (str(self.place or ""), self.path) if text)
        kind = "warning: " if self.severity == "warning" else ""
        text = f"{head}: {kind}{self.message}" if head else f"{kind}{self.message}"
        if self.place is None or not self.excerpt:
            return text
        # A tab in the line is kept in the caret's indent, so that both lines up.
        before = self.excerpt[: self.place.column - 1]
        indent = "".join("\t" if character == "\t" else " " for character in before)
        return f"{text}\n    {self.excerpt}\n    {indent}^"


def once_a_path(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """The first problem of each path: a loop over many cases would tell each again and again, with
    other numbers.
    """
    first: dict[str, Problem] = {}
    for problem in problems:
        first.setdefault(problem.path or problem.message, problem)
    return tuple(first.values())


class InputError(Exception):
    """The input cannot be used. Carries every problem found, sorted by place."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(problems, key=_order))
        super().__init__(self.problems)

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)


def _order(problem: Problem) -> tuple[bool, Place, str, str]:
    place = problem.place or Place("", 0, 0)
    return problem.place is None, place, problem.path, problem.message


def nearest(name: str, valid: Iterable[str]) -> str:
    """Return "; did you mean 'x'?" for the closest valid name, or the choices when few, or ""."""
    names = [str(candidate) for candidate in valid]
    close = difflib.get_close_matches(name, names, n=1, cutoff=0.6)
    if close:
        return f"; did you mean '{close[0]}'?"
    if 0 < len(names) <= 8:
        between = "; " if any("," in each for each in names) else ", "
        return f"; expected one of: {between.join(names)}"
    return ""
