"""The compiled way through time for small networks: the same answers as `march`, sooner.

It needs the optional extra `fast`, which brings numba; only the modules named `compiled_*` import
it, and they are imported here when first needed. Physics, step control and coefficients are the
plain functions and tables that the array path uses; compiled are the loops around them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

import numpy as np

from thermnet.network.network import Network
from thermnet.network.primitives import Floats
from thermnet.solve.closure import partition
from thermnet.solve.control import MOST_SWITCHINGS, restless, stuck, tolerance_for
from thermnet.solve.events import content_pieces, watch
from thermnet.solve.segments import Segment, segments
from thermnet.solve.solution import Options
from thermnet.solve.steps import LOBATTO, LOBATTO_WEIGHTS, MarchError, Steps

if TYPE_CHECKING:
    from thermnet.solve.compiled_slots import Flat

MOST_NODES = 200
"""Above it the arrays of the other path are long enough to be as fast."""

ROOM = 16_000_000
"""bytes of one row of records; a longer history is recorded in several."""


class NoBalanceError(Exception):
    """The massless nodes want the more careful search of the array path."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """A network as arrays for compiled code, to be used for any number of marches.

    `stretches` are those of marches over `span` [s].
    """

    network: Network
    flat: Flat
    span: float
    stretches: list[Segment]


def available() -> bool:
    """Whether the compiler is installed; it is not imported."""
    return find_spec("numba") is not None


def suits(network: Network) -> bool:
    """Whether a network is small enough for compiled code."""
    return len(network.names) <= MOST_NODES


def prepare_compiled(network: Network, span: float | None = None) -> Prepared:
    """Arrays for compiled code, above all for marches over one span [s], by default a period."""
    from thermnet.solve.compiled_arrays import flattened

    period = network.histories.period
    span = (period if np.isfinite(period) else 0.0) if span is None else span
    return Prepared(
        network=network,
        flat=flattened(network),
        span=span,
        stretches=segments(network, span) if span > 0.0 else [],
    )


def march_compiled(
    network: Network,
    span: float,
    start: Floats,
    state: Floats | None,
    options: Options,
    prepared: Prepared | None = None,
) -> Iterator[Steps]:
    """Like `march`, compiled.

    Raises NoBalanceError, before anything is yielded, where `march` itself has to be asked.
    """
    from thermnet.solve.compiled_kernels import arguments, kernels
    from thermnet.solve.compiled_march import ROW

    run = _run(network, span, start, state, options, prepared)
    heaters, n = len(network.thermostats.node), len(network.names)
    count = max(ROOM // (8 * (ROW + heaters + len(LOBATTO) * n)), 64)
    done: list[Steps] = []
    failure = ""
    while not (failure or run.finished):
        rows, temperature = np.empty((count, ROW + heaters)), np.empty((count, len(LOBATTO), n))
        before = run.work
        taken, outcome = kernels().record(*arguments(run.flat), state is None, rows, temperature)
        failure = run.failure(outcome)
        segment = rows[:taken, 2].astype(np.int64)
        steps = Steps(
            offset=run.offset[segment],
            begin=rows[:taken, 0],
            end=rows[:taken, 1],
            state=rows[:taken, ROW:],
            temperature=temperature[:taken],
            segment=segment,
            evaluations=run.work[0] - before[0],
            factorizations=run.work[1] - before[1],
            how="Rosenbrock of order 4, compiled",
        )
        done.append(steps)
    yield from (steps for steps in done if len(steps.begin))
    if failure:
        raise MarchError(failure)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """One march; `offset` leads from the local time of each stretch to that of the solve [s]."""

    network: Network
    flat: Flat
    offset: Floats

    @property
    def finished(self) -> bool:
        from thermnet.solve.compiled_march import SEGMENT
        from thermnet.solve.compiled_slots import NUMBERS, places

        return bool(places(self.flat, NUMBERS)[SEGMENT] >= len(self.offset))

    @property
    def work(self) -> tuple[int, int]:
        """Evaluations and factorizations so far."""
        from thermnet.solve.compiled_slots import COUNT, EVALUATIONS, FACTORIZATIONS, places

        count = places(self.flat, COUNT)
        return int(count[EVALUATIONS]), int(count[FACTORIZATIONS])

    def failure(self, outcome: int) -> str:
        """A sentence about what stopped the march, or nothing. Raises NoBalanceError for that."""
        from thermnet.solve.compiled_march import SEGMENT, TOO_MANY
        from thermnet.solve.compiled_slots import (
            NODE,
            NUMBERS,
            TEMPERATURE,
            TIMES,
            numbers,
            places,
        )
        from thermnet.solve.compiled_step import NO_BALANCE, NO_STEP, NOW, TAKEN

        if outcome == TAKEN:
            return ""
        if outcome == NO_BALANCE:
            raise NoBalanceError
        flat = self.flat
        offset = self.offset[places(flat, NUMBERS)[SEGMENT]]
        time = float(numbers(flat, TIMES)[NOW] + offset)
        if outcome == TOO_MANY:
            return restless(MOST_SWITCHINGS, time)
        massive = slice(flat.massless, flat.free)
        names = [self.network.names[k] for k in places(flat, NODE)[massive]]
        message = "no step is small enough" if outcome == NO_STEP else None
        return stuck(names, numbers(flat, TEMPERATURE)[massive], time, message)


def _run(
    network: Network,
    span: float,
    start: Floats,
    state: Floats | None,
    options: Options,
    prepared: Prepared | None,
) -> _Run:
    from thermnet.solve import compiled_slots as slot
    from thermnet.solve.compiled_slots import numbers, places

    prepared = prepare_compiled(network, span) if prepared is None else prepared
    stretches = prepared.stretches if span == prepared.span else segments(network, span)
    flat = slot.extended(prepared.flat, course_of(stretches, options.accuracy))
    pieces = content_pieces(network, start)
    if state is not None and (places(flat, slot.HEATER_SENSOR) < flat.massless).any():
        watch(network, partition(network)[0], state, pieces)  # says what is wrong
    places(flat, slot.PIECES)[:] = pieces
    numbers(flat, slot.CAPACITY)[:] = numbers(flat, slot.OWN_CAPACITY)
    numbers(flat, slot.TEMPERATURE)[:] = start[places(flat, slot.NODE)]
    if state is not None:
        numbers(flat, slot.STATE)[:] = state
    offset = np.array([stretch.offset for stretch in stretches])
    return _Run(network=network, flat=flat, offset=offset)


def course_of(stretches: list[Segment], accuracy: float) -> dict[int, Any]:
    """Slots that say through which stretches to march, and how exactly."""
    from thermnet.solve import compiled_slots as slot

    stops = [np.append(stretch.bends, stretch.end) for stretch in stretches]
    return {
        slot.BEGINS: np.array([stretch.begin for stretch in stretches]),
        slot.ENDS: np.array([stretch.end for stretch in stretches]),
        slot.STOPS: np.concatenate([np.zeros(0), *stops]),
        slot.FIRST_STOP: np.append(0, np.cumsum([len(stop) for stop in stops])).astype(int),
        slot.SAMPLES: LOBATTO,
        slot.WEIGHTS: LOBATTO_WEIGHTS,
        slot.TIMES: np.array([0.0, 0.0, 0.0, 0.0, 0.0, tolerance_for(accuracy)]),
        slot.NUMBERS: np.array([0, 0, 0, 0, MOST_SWITCHINGS]),
    }
