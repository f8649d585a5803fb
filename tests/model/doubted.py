"""What kinds of entries doubt about a solved case."""

from __future__ import annotations

from thermnet.doubts import seen
from thermnet.model.assemble import surroundings
from thermnet.model.kinds import KINDS
from thermnet.results import Result


def doubts_of(result: Result, path: str) -> list[tuple[str, str]]:
    """The warnings of one entry, its path as `section.name`."""
    section, name = path.split(".", 1)
    entry = result.model.sections[section][name]
    around = surroundings(result.model, result.plan)
    went = seen(result.network, result.solution)
    return list(KINDS[section].doubts(name, entry, path, around, went))
