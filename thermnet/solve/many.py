"""The same network many times with other numbers: steady states and repeating orbits of studies.

Thermostats act in proportion over their bands. With the optional extra `fast` cases run compiled
on every core; without it steady states are found for many cases at once with arrays, and what is
left goes through `steady` and `cyclic` one by one, as does what the others do not solve.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermnet.network.network import Network
from thermnet.network.primitives import Flags, Floats
from thermnet.solve.compiled import available, course_of, prepare_compiled, suits
from thermnet.solve.cyclic import close_orbit
from thermnet.solve.many_arrays import batches, steady_together
from thermnet.solve.march import Machinery, march
from thermnet.solve.segments import segments
from thermnet.solve.solution import Options
from thermnet.solve.steady import steady
from thermnet.solve.steps import LOBATTO, MarchError
from thermnet.solve.transient import passed
from thermnet.solve.variants import Variants, columns_of, count_of, rows_of, variant

TOGETHER = 64_000_000
"""bytes that the matrices of the cases taken together may have."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ManySteady:
    """Steady temperatures f8[k, n] [K]; `failed` marks cases of which they are none."""

    temperature: Floats
    failed: Flags


@dataclass(frozen=True, slots=True, kw_only=True)
class ManyCyclic:
    """Repeating orbits of k cases.

    `temperature` f8[k, n] [K] are those at the end of the period, `mean`, `lowest` and `highest`
    those over it (extremes at the samples of the steps). `passes` i8[k] and `error_estimate` f8[k]
    [K] are as in `Stats`; `failed` marks cases whose orbit does not close.
    """

    temperature: Floats
    mean: Floats
    lowest: Floats
    highest: Floats
    passes: np.ndarray[tuple[int, ...], np.dtype[np.int64]]
    error_estimate: Floats
    failed: Flags


def steady_many(network: Network, variants: Variants, options: Options = Options()) -> ManySteady:
    """Steady states of the time means, for every case. Raises ValueError for wrong shapes."""
    count = count_of(network, variants)
    temperature, found = np.empty((count, len(network.names))), np.zeros(count, dtype=np.int64)
    if options.compiled and available() and suits(network):
        _steady_compiled(network, variants, temperature, found)
    elif batches(network):
        size = max(TOGETHER // (24 * len(network.names) ** 2), 1)
        for first in range(0, count, size):
            some = slice(first, min(first + size, count))
            temperature[some], found[some] = steady_together(network, rows_of(variants, some))
    for case in np.flatnonzero(found == 0):
        alone = steady(variant(network, variants, int(case)), options)
        temperature[case], found[case] = alone.temperature[0], not alone.failure
    return ManySteady(temperature=temperature, failed=found == 0)


def cyclic_many(network: Network, variants: Variants, options: Options = Options()) -> ManyCyclic:
    """Repeating orbits for every case, thermostats in proportion over their bands.

    Raises ValueError for wrong shapes and for an infinite period.
    """
    if not np.isfinite(network.histories.period):
        raise ValueError("a repeating solution needs a period")
    count, n = count_of(network, variants), len(network.names)
    temperature, ranges = np.empty((count, n)), np.empty((count, 3, n))
    passes, estimate = np.zeros(count, dtype=np.int64), np.full(count, np.inf)
    if options.compiled and available() and suits(network):
        _cyclic_compiled(network, variants, options, (temperature, ranges, passes, estimate))
    for case in np.flatnonzero(passes == 0):
        one = variant(network, variants, int(case))
        temperature[case], ranges[case], passes[case], estimate[case] = _cyclic_alone(one, options)
    return ManyCyclic(
        temperature=temperature,
        mean=ranges[:, 0],
        lowest=ranges[:, 1],
        highest=ranges[:, 2],
        passes=passes,
        error_estimate=estimate,
        failed=passes == 0,
    )


# -- compiled ------------------------------------------------------------------------------------


def _changes(network: Network, variants: Variants) -> list[Floats]:
    """What compiled code takes: arrays in a fixed order, without rows where nothing changes."""
    nothing = np.zeros((0, 0))
    values = [getattr(variants, name) for name in columns_of(network)]
    return [nothing if v is None else np.array(v, dtype=np.float64, order="C") for v in values]


def _on_every_core(run: Callable[[int, int], None], count: int) -> None:
    """Share cases among threads; compiled code runs without Python's lock."""
    cores = min(len(os.sched_getaffinity(0)), count)
    edges = np.linspace(0, count, cores + 1).astype(int).tolist()
    if cores == 1:
        run(0, count)
        return
    with ThreadPoolExecutor(cores) as pool:
        # What a thread raised is raised here.
        list(pool.map(run, edges[:-1], edges[1:]))


def _steady_compiled(network: Network, variants: Variants, temperature: Floats, found: Any) -> None:
    from thermnet.solve.compiled_case_kernels import case_kernels
    from thermnet.solve.compiled_kernels import arguments
    from thermnet.solve.compiled_slots import extended

    flat, changes = prepare_compiled(network).flat, _changes(network, variants)
    kernel = case_kernels().steady

    def run(first: int, last: int) -> None:
        own = extended(flat, {})  # each thread has room of its own
        kernel(*arguments(own), *changes, first, last, temperature, found)

    _on_every_core(run, len(found))


def _cyclic_compiled(
    network: Network, variants: Variants, options: Options, into: tuple[Any, ...]
) -> None:
    from thermnet.solve.compiled_case_kernels import case_kernels
    from thermnet.solve.compiled_cases import MEMORY_ROWS
    from thermnet.solve.compiled_kernels import arguments
    from thermnet.solve.compiled_slots import extended

    flat, changes = prepare_compiled(network).flat, _changes(network, variants)
    n, period = len(network.names), network.histories.period
    course = course_of(segments(network, period), options.accuracy)
    kernel = case_kernels().cyclic

    def run(first: int, last: int) -> None:
        own = extended(flat, course)
        memory, room = np.empty((MEMORY_ROWS, n)), np.empty((1, len(LOBATTO), n))
        how = period, options.accuracy
        sums = np.empty((3, n))
        kernel(*arguments(own), *changes, first, last, *how, memory, room, sums, *into)

    _on_every_core(run, len(into[0]))


# -- without the compiler ------------------------------------------------------------------------


def _cyclic_alone(network: Network, options: Options) -> tuple[Floats, Floats, int, float]:
    """One repeating orbit by arrays; no passes where it does not close."""
    nothing = np.full(len(network.names), np.nan)
    before = steady(network, options)
    try:
        if before.failure:
            return nothing, np.tile(nothing, (3, 1)), 0, np.inf
        machines = Machinery(network=network)
        closed = close_orbit(network, before.temperature[0], options, machines)
        if closed.failure:
            return nothing, np.tile(nothing, (3, 1)), 0, closed.estimate
        start = closed.temperature
        steps = march(network, network.histories.period, start, None, options, machines)
        last = passed(network, steps, start, None)
    except MarchError:
        return nothing, np.tile(nothing, (3, 1)), 0, np.inf
    ranges = np.array([last.mean, last.lowest, last.highest])
    return last.temperature, ranges, closed.passes + 1, closed.estimate
