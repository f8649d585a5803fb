"""Multilayer blankets, which expand into a link for each term."""

from __future__ import annotations

from thermnet.model.kinds.blanket_entry import Blanket
from thermnet.model.kinds.blanket_terms import terms
from thermnet.model.kinds.kind import Kind, Surroundings
from thermnet.network.parts import Part


def expand(name: str, entry: Blanket, path: str, around: Surroundings) -> tuple[Part, ...]:
    return tuple(part for term in terms(entry, path, around) for part in term.parts)


KIND = Kind(section="blankets", entry=Blanket, expand=expand)
