"""What a spacecraft does through a case: which mode it is in, and how it points, and when."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np

from thermnet.model.histories import Repeated
from thermnet.network.parts import History
from thermnet.network.primitives import Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Activity:
    """Stretches of time, one after another, each with its step of a timeline, mode and pointing.

    `begin` f8[k] [s], the first 0, are the instants at which the stretches begin; `steps`, `modes`
    and `pointings` are k names, a pointing "" for that of the case. After `period` [s], if there
    is one, everything repeats; otherwise the last stretch goes on, though the timeline says that
    its end comes after `length` [s].
    """

    begin: Floats
    steps: tuple[str, ...]
    modes: tuple[str, ...]
    pointings: tuple[str, ...]
    period: float | None = None
    length: float | None = None

    def reached(self, span: float) -> Activity:
        """Without the stretches that begin at `span` [s] or later, where nothing repeats; of a
        steady case, whose span is 0, the first one alone, which has no end.
        """
        if self.period is not None:
            return self
        count = max(1, int(np.searchsorted(self.begin, span)))
        return replace(
            self,
            begin=self.begin[:count],
            steps=self.steps[:count],
            modes=self.modes[:count],
            pointings=self.pointings[:count],
            length=self.length if span > 0.0 else None,
        )

    def following(self, values: Mapping[str, float]) -> Repeated:
        """The history that has the value of the mode of each stretch, 0 for modes left out."""
        value: Floats = np.array([values.get(mode, 0.0) for mode in self.modes])
        return self.stepped(value)

    def within(self, modes: Collection[str]) -> Repeated:
        """1 in some of the modes, 0 in the others."""
        return self.following(dict.fromkeys(modes, 1.0))

    def stretches(self, end: float) -> tuple[Floats, tuple[str, ...]]:
        """The edges f8[k + 1] [s] of all stretches from 0 to `end`, and the pointing of each."""
        history = self.stepped(np.arange(len(self.begin), dtype=np.float64)).history(end)
        begin = np.unique(history.time[history.time < end])
        number = history.value[np.searchsorted(history.time, begin, side="right") - 1]
        return np.append(begin, end), tuple(self.pointings[int(k)] for k in number)

    def stepped(self, value: Floats) -> Repeated:
        """The history that has one value f8[k] in each stretch."""
        changes = np.append(True, value[1:] != value[:-1])
        time, value = self.begin[changes], value[changes]
        time = np.concatenate([time[:1], np.repeat(time[1:], 2)])
        value = np.concatenate([np.repeat(value[:-1], 2), value[-1:]])
        if self.period is not None:
            time, value = np.append(time, self.period), np.append(value, value[-1])
        return Repeated(once=History(time=time, value=value), period=self.period)
