"""Nodes that entries make of their own: no other node may bear their names."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from thermnet.errors import Problem
from thermnet.model.kinds import KINDS
from thermnet.text.fields import Entry


def clashes(
    sections: Mapping[str, Mapping[str, Entry]], names: Collection[str]
) -> Iterator[Problem]:
    """A problem for each entry that makes a node whose name another node has already.

    `names` are those of the nodes and boundaries that the file states.
    """
    taken = set(names)
    for section, entries in sections.items():
        for name, entry in entries.items():
            for each in KINDS[section].makes(name, entry):
                if each in taken:
                    message = (
                        f"makes a node '{each}', but there is one of this name: rename one of two"
                    )
                    yield Problem(message=message, path=f"{section}.{name}")
                taken.add(each)
