"""What a kind of entry is: its section, its fields, and how it expands into primitives."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from thermnet.model.activity import Activity
from thermnet.model.between import Between
from thermnet.model.driven import Driven, product
from thermnet.model.histories import FIT, Repeated, Timing, mean
from thermnet.model.shelf import Shelf
from thermnet.model.surrounded import Surrounded
from thermnet.network.parts import History, Part
from thermnet.network.primitives import Indices
from thermnet.physics.blanket import SeparatorFacts
from thermnet.text.fields import Entry
from thermnet.text.rows import Rows, rows_of


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Exterior:
    """What a surface is in a case: its node, its area [m2], its optics.

    Of a radiator the area counts as far as its `efficiency` goes, which multiplies stated heat too.

    `fractions` are what it sees, by the name of a node or boundary; `heat` [W] what it absorbs in
    the case's orbit, by cause; `drawn_from` [W] the share of its sunlight that its solar cells draw
    from, where a schedule says so.
    """

    node: str
    area: float
    absorptance: float
    emittance: float
    fractions: Mapping[str, Driven]
    heat: Mapping[str, Driven]
    drawn_from: Driven | None = None
    efficiency: float = 1.0

    @property
    def effective_emittance(self) -> float:
        """The emittance times the share of its view that exchanges anything, the mean of it."""
        return effective_emittance(self.emittance, self.fractions)


def effective_emittance(emittance: float, fractions: Mapping[str, Driven]) -> float:
    """An emittance times the sum of fractions of a view, in the mean of their time."""
    return emittance * sum(fraction.mean for fraction in fractions.values())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawn:
    """What is drawn from the solar cells of a surface, or from all that charge a battery.

    Over the time that is solved: `charging` is 1 while the cells give all that they can and 0 while
    they give the demand alone, their part of which is `demand` [W]; `losses` [W] is the heat of
    charging and discharging, 0 for cells. For a steady state they hold one value each.
    """

    charging: History
    demand: History
    losses: History


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What an entry may look up while it expands.

    `histories` are the schedules over the time that is solved; for a steady state they are empty
    and `means` takes their place. `bus_voltage` [V] is the case's, None where it states none.
    `rows` are the names of the nodes of each table of nodes, `exterior` what each surface is.
    `activity` are the modes of the case, None where it names none; `drawn` is what is
    drawn, by the path of solar cells or of a battery, empty where nothing is known of it yet.
    `atmosphere` is the gas between the layers of blankets, None in a vacuum; `separators` are
    those of the library and of the model; `shelf` is what else may be looked up by name.
    `faces` are those of each table of faces.
    """

    histories: Mapping[str, History]
    means: Mapping[str, float]
    bus_voltage: float | None
    rows: Mapping[str, Sequence[str]] = field(default_factory=dict)
    exterior: Mapping[str, Exterior] = field(default_factory=dict)
    timing: Timing = field(default_factory=Timing)
    repeated: Mapping[str, Repeated] = field(default_factory=dict)
    activity: Activity | None = None
    drawn: Mapping[str, Drawn] = field(default_factory=dict)
    atmosphere: Between | None = None
    separators: Mapping[str, SeparatorFacts] = field(default_factory=dict)
    shelf: Shelf = field(default_factory=Shelf)
    faces: Mapping[str, Surrounded] = field(default_factory=dict)

    def factor(self, schedule: str | None) -> tuple[float, History | None]:
        """Constant factor and history that a schedule stands for; (1, None) for no schedule."""
        if schedule is None:
            return 1.0, None
        if schedule in self.means:
            return self.means[schedule], None
        return 1.0, self.histories[schedule]

    def by_mode(self, values: Mapping[str, float], schedule: str | None = None) -> Driven:
        """What has a value in each mode, 0 in those left out, times a schedule; without modes 0."""
        if self.activity is None:
            return Driven(amplitude=0.0)
        repeated = self.activity.following(values)
        factor, history = self.factor(schedule)
        if (repeated.once.value == repeated.once.value[0]).all():
            return Driven(amplitude=factor * float(repeated.once.value[0]), history=history)
        if self.timing.span == 0.0:
            return Driven(amplitude=self._mean_by_mode(repeated, schedule))
        own = Driven(amplitude=1.0, history=repeated.history(self.timing.span))
        return product(own, Driven(amplitude=1.0, history=history))

    def _mean_by_mode(self, modes: Repeated, schedule: str | None) -> float:
        """The mean of modes times a schedule: multiplied as they come where both repeat together,
        else one mean times the other.
        """
        other = None if schedule is None else self.repeated[schedule]
        if other is None:
            return modes.mean(0.0)
        if modes.period is not None and other.period is not None:
            end, least = max(modes.period, other.period), min(modes.period, other.period)
            if abs(round(end / least) * least - end) <= FIT:
                joint = product(
                    Driven(amplitude=1.0, history=modes.history(end)),
                    Driven(amplitude=1.0, history=other.history(end)),
                )
                if joint.history is not None:
                    return mean(joint.history, end)
        return modes.mean(0.0) * other.mean(0.0)

    def ends(self, table: Rows, counted: str | None) -> tuple[Sequence[str], dict[str, Indices]]:
        """The nodes that a table leads to, and for each of its columns the places in them.

        `counted` is the table of nodes whose rows whole numbers count.
        """
        nodes = self.rows[counted] if counted is not None else ()
        if not table.labels:
            return nodes, {head: end.at for head, end in table.ends.items()}
        position = {name: k for k, name in enumerate(nodes)}
        labels = [position.setdefault(label, len(position)) for label in table.labels]
        of_label = np.array(labels, dtype=np.int32)
        places = {
            head: end.at if end.counted else of_label[end.at] for head, end in table.ends.items()
        }
        return tuple(position), places


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What a solved case went through: `lowest` and `highest` temperature [K] of each node, and by
    path the most heat [W] that went through: half the sum of what each of its links carried.
    `steady` says that it was a steady state, in which heat capacities have no part.
    """

    lowest: Mapping[str, float]
    highest: Mapping[str, float]
    most: Callable[[str], float]
    steady: bool = False


Expand = Callable[[str, Any, str, Surroundings], tuple[Part, ...]]
"""(name, entry, path, surroundings) -> primitives."""

Makes = Callable[[str, Any], tuple[str, ...]]
"""(name, entry) -> names of the nodes that it makes."""

Doubts = Callable[[str, Any, str, Surroundings, Seen], Iterable[tuple[str, str]]]
"""(name, entry, path, surroundings, seen) -> paths, each with a warning about the solution."""


def nothing(name: str, entry: Any, path: str, around: Surroundings) -> tuple[Part, ...]:
    """The expansion of an entry that is looked up by others and makes no primitive itself."""
    return ()


def makes_none(name: str, entry: Any) -> tuple[str, ...]:
    """The nodes of an entry that makes none."""
    return ()


def no_doubts(
    name: str, entry: Any, path: str, around: Surroundings, seen: Seen
) -> tuple[tuple[str, str], ...]:
    """The warnings about an entry that stays within what it is good for, whatever happens."""
    return ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of entry: a section of the model file.

    `table` is the class of an entry that holds a whole table of them under one path, if there is.
    `makes` says which nodes an entry makes of its own; `doubts` what is doubtful about an entry
    once a case is solved, such as temperatures at which its numbers are not known.
    """

    section: str
    entry: type[Entry]
    expand: Expand = nothing
    table: type[Entry] | None = None
    expand_table: Expand = nothing
    makes: Makes = makes_none
    doubts: Doubts = no_doubts

    def expansion(self, entry: Entry) -> Expand:
        """How an entry expands: by itself, or as the rows of a whole table."""
        return self.expand if rows_of(entry) is None else self.expand_table
