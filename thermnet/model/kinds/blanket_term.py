"""One term of a blanket: a way by which heat gets through it."""

from __future__ import annotations

from dataclasses import dataclass

from thermnet.network.parts import LinkPart


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Term:
    """One way by which heat gets through a blanket.

    `path` addresses it, and is the origin of all of its links; `what` says it in words. `source`
    is where its numbers come from, "" where nobody says so; `beyond` tells in sentences where they
    lie outside the range that the source is good for.
    """

    path: str
    what: str
    parts: tuple[LinkPart, ...]
    source: str = ""
    beyond: tuple[str, ...] = ()
