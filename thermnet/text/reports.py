"""The problems found while a file is read: each once for a place, and of many alike only a few."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from thermnet.errors import InputError, Place, Problem
from thermnet.text import tree
from thermnet.text.explain import Complaint
from thermnet.text.tables import FEW
from thermnet.text.tree import Broken, Node, Scalar


@dataclass(slots=True, kw_only=True)
class Reports:
    """Collects problems. `alike` counts those of one sort: by table, column and what about."""

    problems: dict[tuple[str, Place | None], Problem] = field(default_factory=dict)
    alike: Counter[tuple[Place, str, str]] = field(default_factory=Counter)

    def add(self, problem: Problem) -> None:
        """Note a problem, once for each place."""
        self.problems.setdefault((problem.message, problem.place), problem)

    def add_form(self, wanted: str, node: Node, path: str, place: Place) -> None:
        """Note a node that is not of the form expected, unless that is reported already."""
        if not (isinstance(node, Scalar) and isinstance(node.value, Broken)):
            message = f"expected {wanted}, got {tree.described(node)}"
            self.add(Problem(message=message, path=path, place=pointed_at(place, node)))

    def known(self, message: str, place: Place) -> bool:
        """Whether this is noted for the place."""
        return (message, place) in self.problems

    def is_new(self, head: tree.Head, complaint: Complaint) -> bool:
        """Whether a table has shown fewer than a few problems of this sort in this column."""
        column = complaint.keys[0] if complaint.keys else complaint.key
        sort = (head.place, column, complaint.about)
        self.alike[sort] += 1
        return self.alike[sort] <= FEW

    def sorted(self, texts: Mapping[str, str]) -> tuple[Problem, ...]:
        """All problems by place, with the lines they are in, from the texts by file."""
        for (place, column, _), number in self.alike.items():
            if number > FEW:
                message = f"{number - FEW} more such problems in the column '{column}'"
                self.add(Problem(message=message, place=place))
        blamed = {problem.place.file for problem in self.problems.values() if problem.place}
        lines = {file: tree.lines_of(texts[file]) for file in blamed & texts.keys()}
        return InputError(tree.finished(each, lines) for each in self.problems.values()).problems


def pointed_at(key: Place, node: Node) -> Place:
    """The place of a value; of its key when there is none or when more keys follow."""
    if isinstance(node, tree.Mapping) or (isinstance(node, Scalar) and not node.text):
        return key
    return node.place
