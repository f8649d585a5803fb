"""What a kind of entry is: its section, its fields, and how it expands into primitives."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from thermnet.network.parts import History, Part
from thermnet.text.fields import Entry


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What an entry may look up while it expands.

    `histories` are the schedules over the time that is solved; for a steady state they are empty
    and `means` takes their place. `bus_voltage` [V] is the case's, None where it states none.
    """

    histories: Mapping[str, History]
    means: Mapping[str, float]
    bus_voltage: float | None

    def factor(self, schedule: str | None) -> tuple[float, History | None]:
        """Constant factor and history that a schedule stands for; (1, None) for no schedule."""
        if schedule is None:
            return 1.0, None
        if schedule in self.means:
            return self.means[schedule], None
        return 1.0, self.histories[schedule]


Expand = Callable[[str, Any, str, Surroundings], tuple[Part, ...]]
"""(name, entry, path, surroundings) -> primitives."""


def nothing(name: str, entry: Any, path: str, around: Surroundings) -> tuple[Part, ...]:
    """The expansion of an entry that is looked up by others and makes no primitive itself."""
    return ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of entry: a section of the model file."""

    section: str
    entry: type[Entry]
    expand: Expand = nothing
