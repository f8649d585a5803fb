"""The one result of every solver."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from thermnet.network.primitives import Floats

Kind = Literal["steady", "transient", "repeating"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stats:
    """What a solver did. Counts are of the whole solve; `notes` are sentences for the reader.

    `iterations` are those of linear solves, zero where every system was solved by its own factor.
    """

    method: str
    steps: int = 0
    evaluations: int = 0
    factorizations: int = 0
    iterations: int = 0
    passes: int = 0
    residual: float = 0.0
    error_estimate: float = 0.0
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """How to solve. `accuracy` [K] is the aim for every temperature of a history.

    `outputs` is the number of equal output intervals of a history; `method` one of the
    integrators; `largest_window` [periods] bounds how long a drifting heater cycle is followed.
    `compiled` says to use the compiled kernel where it is installed and suits the network.
    """

    accuracy: float = 0.01
    method: Literal["rosenbrock", "scipy-bdf", "scipy-radau", "scipy-lsoda"] = "rosenbrock"
    outputs: int = 120
    largest_window: int = 64
    linearised_start: bool = True
    compiled: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """Samples of the stored interpolant of every accepted step, with quadrature weights [s].

    Each step has the same number of samples, from its first to its last instant, so that the
    integral of any function of (time, temperature, duty) is the weighted sum over q samples.
    `time` is f8[q] counted from the start of the solve, `local_time` the time the histories see
    (the earlier side at the end of a step), `temperature` f8[q, n], `duty` f8[q, h].
    A steady state is one sample of weight 1: its integrals are watts instead of joules.
    """

    time: Floats
    local_time: Floats
    temperature: Floats
    duty: Floats
    weight: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Extremes:
    """True lowest and highest temperature [K] of every node in each of s segments.

    `edges` f8[s, 2] are the segments' first and last instant; the other arrays are f8[s, n].
    """

    edges: Floats
    lowest: Floats
    lowest_at: Floats
    highest: Floats
    highest_at: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """Temperatures of a network: one instant for a steady state, a history otherwise.

    `t` f8[k] [s] output instants from 0, `temperature` f8[k, n] [K], `duty` f8[k, h] state of each
    thermostat (0..1). `mean` f8[n] and `heater_duty` f8[h] are over the whole span (of a repeating
    window: over whole heater cycles where there are any), `switchings` i8[h] counts changes of
    state. `failure` is empty, or one sentence that says what went wrong and what to try.
    """

    kind: Kind
    t: Floats
    temperature: Floats
    duty: Floats
    mean: Floats
    heater_duty: Floats
    switchings: np.ndarray[tuple[int, ...], np.dtype[np.int64]]
    extremes: Extremes
    record: Record
    stats: Stats
    failure: str = field(default="")

    @property
    def span(self) -> float:
        """Length of the history [s]; zero for a steady state."""
        return float(self.t[-1] - self.t[0])
