"""Texts with mutants in them, and the lines on which each must be reported."""

from __future__ import annotations

import bisect
import itertools
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from tests.model.mutants import Edit, Mutant


@dataclass(frozen=True, slots=True)
class Mutated:
    """Texts with mutants in them; `moved` maps offsets of the old texts to those of the new."""

    texts: dict[str, str]
    moves: dict[str, tuple[list[int], list[int]]]
    starts: dict[str, list[int]]

    def line(self, file: str, offset: int) -> int:
        """The line, from 1, of an offset of the new text."""
        return bisect.bisect_right(self.starts[file], offset)

    def moved(self, file: str, offset: int) -> int:
        """Where the text before an offset now ends."""
        edges, shifts = self.moves[file]
        return offset + shifts[bisect.bisect_left(edges, offset)]

    def lines_for(self, mutant: Mutant) -> range:
        """The lines on which a mutant must be reported."""
        file = mutant.edit.file
        first = last = self.line(file, self.moved(file, mutant.since))
        if mutant.mutation != "drop":
            last = self.line(file, self.moved(file, mutant.edit.start) + len(mutant.edit.text))
        return range(first, last + 1)


def mutated(sources: dict[str, str], mutants: Sequence[Mutant]) -> Mutated:
    """The texts with all of these mutants in them, which must not overlap.

    What is taken out leaves its line ends, so that the lines below keep their numbers.
    """
    texts, moves, starts = dict(sources), {}, {}
    by_file: dict[str, list[Edit]] = defaultdict(list)
    for mutant in mutants:
        by_file[mutant.edit.file].append(mutant.edit)
    for file, edits in by_file.items():
        text, pieces, end, shift = sources[file], [], 0, 0
        edges, shifts = [], [0]
        for edit in sorted(edits, key=lambda edit: edit.start):
            assert edit.start >= end, f"two mutants overlap at {file}[{edit.start}]"
            new = edit.text or "\n" * text.count("\n", edit.start, edit.end)
            pieces += [text[end : edit.start], new]
            end = edit.end
            shift += len(new) - (edit.end - edit.start)
            edges.append(edit.start)
            shifts.append(shift)
        texts[file] = "".join([*pieces, text[end:]])
        moves[file] = (edges, shifts)
        lines = texts[file].split("\n")
        starts[file] = list(itertools.accumulate((len(line) + 1 for line in lines), initial=0))
    return Mutated(texts, moves, starts)
