"""How the benchmarks measure, and what they find: subjects side by side, and goals met or not."""

from __future__ import annotations

import gc
import os
import platform
import resource
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import numpy as np

from tests.benchmarks.models import PERIOD, Sketch, network, parts_of
from tests.benchmarks.plain import Plain, plain
from thermnet.network.network import Network
from thermnet.network.parts import Part
from thermnet.network.primitives import Floats
from thermnet.solve.solution import Options, Solution
from thermnet.solve.steady import steady
from thermnet.solve.transient import transient

TARGET = 0.01
"""K: the error that histories are compared at."""

TIGHT = 1e-4
"""K: the accuracy of references by our own method."""

ROUNDS = 5
LONG, LONGER = 10.0, 60.0
"""CPU s of one run from which on there are two rounds, or one."""

PACKAGES = "numpy", "scipy", "numba", "scikit-sundae", "PyYAML", "networkx"

SMALLER = {
    "p10k": "p1k", "p50k": "p1k", "r10k": "r1k", "r50k": "r1k", "e2k": "e500", "e5k": "e500",
    "p10k + slow": "p1k + slow",
}  # fmt: skip
"""What stands in for big models in a quick look."""


def spent() -> float:
    """CPU time [s] of this process and of those that it has waited for."""
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


@dataclass(frozen=True, slots=True, kw_only=True)
class Timed:
    """Best CPU time [s] of some runs, and what the last one returned."""

    seconds: float
    runs: int
    result: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """One way to solve a workload: CPU time [s], error [K] against the reference, counts."""

    name: str
    seconds: float
    runs: int = 1
    error: float | None = None
    counts: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """A measured number and the limit it should keep, from below or, `at_least`, from above."""

    what: str
    value: float
    limit: float
    at_least: bool = False

    @property
    def met(self) -> bool:
        return self.value >= self.limit if self.at_least else self.value <= self.limit

    def __str__(self) -> str:
        sign = "≥" if self.at_least else "≤"
        return f"{self.what} {self.value:.3g} ({sign} {self.limit:g})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What one benchmark found. Without goals it was not built or could not run, as `note` says."""

    name: str
    workload: str
    subjects: Sequence[Subject] = ()
    goals: Sequence[Goal] = ()
    note: str = ""

    @property
    def met(self) -> bool:
        return bool(self.goals) and all(goal.met for goal in self.goals)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """How thorough to be: `quick` takes small models and two rounds, and judges nothing."""

    quick: bool = False

    def case(self, name: str) -> Case:
        name = SMALLER.get(name, name) if self.quick else name
        return Case(name=name, parts=parts_of(name))

    def sketched(self, name: str, sketch: Sketch) -> Case:
        return Case(name=name, parts=sketch.parts())

    def orbits(self, count: int) -> int:
        return min(count, 2) if self.quick else count

    def once(self, run: Callable[[], Any]) -> Timed:
        """One run, where no ratio is wanted."""
        begin = spent()
        result = run()
        return Timed(seconds=spent() - begin, runs=1, result=result)

    def interleaved(self, subjects: Mapping[str, Callable[[], Any]]) -> dict[str, Timed]:
        """Run subjects in turns, A B A B, and keep the best CPU time of each.

        What is in memory before is no garbage of theirs: none of them has to look through it.
        """
        best: dict[str, Timed] = {}
        gc.collect()
        gc.freeze()
        for number in range(2 if self.quick else ROUNDS):
            for name, run in subjects.items():
                known = best.get(name)
                if known and (known.seconds > LONGER or (known.seconds > LONG and number > 1)):
                    continue
                gc.collect()
                begin = spent()
                result = run()
                seconds = spent() - begin
                best[name] = Timed(
                    seconds=min(seconds, known.seconds) if known else seconds,
                    runs=number + 1,
                    result=result,
                )
        gc.unfreeze()
        return best


@dataclass(frozen=True, kw_only=True)
class Case:
    """A model as parts, as our network, and as plain arrays for the others."""

    name: str
    parts: Sequence[Part]

    @cached_property
    def network(self) -> Network:
        return network(self.parts)

    @cached_property
    def plain(self) -> Plain:
        return plain(self.parts)

    @cached_property
    def start(self) -> Floats:
        """The steady state of the mean heat f8[n], of all nodes with cold space."""
        return steady(self.network).temperature[0]

    @property
    def free(self) -> Floats:
        """The same without cold space, as the others take it."""
        return self.start[self.network.free]

    def transient(self, orbits: int, options: Options) -> Solution:
        """Ours from the steady state, with 100 outputs an orbit."""
        solution = transient(self.network, orbits * PERIOD, options, start=self.start)
        if solution.failure:
            raise RuntimeError(solution.failure)
        return solution

    def reference(self, orbits: int) -> Floats:
        """By our own method at a far tighter accuracy, f8[outputs, n] of the free nodes.

        Orbit by orbit, since so many steps would not all fit into memory.
        """
        start, state, rows = self.start, None, []
        for number in range(orbits):
            solution = transient(
                self.network, PERIOD, options(1, accuracy=TIGHT), start=start, state=state
            )
            rows.append(self.outputs(solution)[min(number, 1) :])
            start, state = solution.record.temperature[-1], solution.record.duty[-1]
        return np.concatenate(rows)

    def outputs(self, solution: Solution) -> Floats:
        return solution.temperature[:, self.network.free]

    def error(self, found: Floats, reference: Floats) -> float:
        """Largest difference [K] over nodes with capacity."""
        heavy = self.network.capacity[self.network.free] > 0.0
        return float(np.abs(found - reference)[..., heavy].max())


def options(orbits: int, *, accuracy: float = TARGET, compiled: bool = True) -> Options:
    """With 100 outputs an orbit."""
    return Options(accuracy=accuracy, outputs=100 * orbits, compiled=compiled)


def subject(name: str, timed: Timed, *, error: float | None = None, counts: str = "") -> Subject:
    return Subject(name=name, seconds=timed.seconds, runs=timed.runs, error=error, counts=counts)


def faster(what: str, ratio: float, limit: float) -> Goal:
    """A goal for a time in units of ours."""
    return Goal(what=what, value=ratio, limit=limit, at_least=True)


def accurate(*subjects: Subject) -> Goal:
    """The goal that errors stay within the target."""
    worst = max(entry.error or 0.0 for entry in subjects)
    return Goal(what="error [K]", value=worst, limit=TARGET)


def work(solution: Solution) -> str:
    """The counts of one of our solutions."""
    stats = solution.stats
    passes = f"{stats.passes} orbits, " if solution.kind == "repeating" else ""
    iterations = f", {stats.iterations} iterations" if stats.iterations else ""
    return f"{passes}{stats.steps} steps, {stats.factorizations} LUs{iterations}"


def machine() -> str:
    """Processor, cores and versions, in one line."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return (
        f"{_processor()}, {cores} cores, {platform.system()}, "
        f"Python {platform.python_version()}, {', '.join(_versions())}"
    )


def _processor() -> str:
    information = Path("/proc/cpuinfo")
    if information.exists():
        for line in information.read_text(encoding="utf-8").splitlines():
            if line.startswith("model name"):
                return line.partition(":")[2].strip()
    return platform.processor() or platform.machine()


def _versions() -> list[str]:
    found = []
    for package in PACKAGES:
        try:
            found.append(f"{package} {version(package)}")
        except PackageNotFoundError:
            found.append(f"no {package}")
    return found
