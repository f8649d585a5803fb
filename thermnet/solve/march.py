"""Step through time: the one place that drives an integrator.

Between known instants (jumps of histories, edges of windows) and located switchings the heat
balance is smooth, and only there does the integrator step. A corner of a heat-content curve is
located like a switching. scipy's integrators see the massive nodes alone, with the massless ones
closed exactly at every evaluation; our own steps over both, and they are closed at its samples.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np

from thermnet.network.network import Network
from thermnet.network.primitives import Floats, Indices
from thermnet.solve.balance import prepare
from thermnet.solve.closure import Closure, close
from thermnet.solve.compiled import (
    NoBalanceError,
    Prepared,
    available,
    march_compiled,
    prepare_compiled,
    suits,
)
from thermnet.solve.control import (
    CLOSER,
    MOST_SWITCHINGS,
    ROSENBROCK_SHARE,
    USUAL_ACCURACY,
    restless,
    stuck,
    tolerance_for,
)
from thermnet.solve.events import (
    Course,
    Watch,
    content_pieces,
    first_state,
    piece_capacities,
    watch,
)
from thermnet.solve.factors import Factors
from thermnet.solve.front import BackEnd, Front, front
from thermnet.solve.rosenbrock import Between, Rosenbrock, curve_corners
from thermnet.solve.segments import Segment, segments
from thermnet.solve.solution import Options
from thermnet.solve.steps import LOBATTO, MarchError, Steps

LARGE_SHARE = 0.7
"""The same for the method of large networks at 0.01 K and below: there its error was measured to
stay below the tolerance. With 0.1 K it may be five times as much, and the usual share holds."""

TOGETHER, TOGETHER_BYTES = 64, 100_000_000
"""Most steps whose samples are closed together, and most memory that these samples may take."""

KEPT: dict[BackEnd, str] = {
    "dense": "dense factors",
    "sparse": "kept sparse factors",
    "preconditioned": "kept sparse factors of the strong links",
}
"""What the statistics of a solution say of the linear systems."""

NOT_COMPILED = " (the extra 'fast' would compile it)"
"""What is added where compiled code would do the same sooner, were it installed."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Machinery:
    """What marches through one network share; each thing is made when first asked for.

    Not slotted, since what is made is kept here.
    """

    network: Network
    factors: Factors = field(default_factory=Factors)
    compiled: dict[float, Prepared] = field(default_factory=dict)

    @cached_property
    def front(self) -> Front:
        """The pattern that is factored."""
        return front(prepare(self.network, None))

    @cached_property
    def corners(self) -> tuple[Indices, Floats]:
        """Where curves bend."""
        return curve_corners(self.network)

    def prepared(self, span: float) -> Prepared:
        """The network for compiled code, with the stretches of a span [s]."""
        if span not in self.compiled:
            self.compiled[span] = prepare_compiled(self.network, span)
        return self.compiled[span]


def march(
    network: Network,
    span: float,
    start: Floats,
    state: Floats | None,
    options: Options,
    machines: Machinery | None = None,
) -> Iterator[Steps]:
    """Integrate from `start` f8[n] [K] over `span` [s] and yield every accepted step, in rows.

    `state` f8[h] are the first thermostat states; None follows the proportional law. Raises
    MarchError when the integrator cannot go on.
    """
    machines = Machinery(network=network) if machines is None else machines
    compiled = options.compiled and options.method == "rosenbrock" and suits(network)
    if compiled and available():
        try:
            yield from march_compiled(network, span, start, state, options, machines.prepared(span))
        except NoBalanceError:
            pass  # the closure below looks for one more carefully
        else:
            return
    closure = close(machines.front.balance.switched(state), start)
    y = start[closure.massive].copy()
    pieces = content_pieces(network, start)
    switchings, width = 0, None
    for number, segment in enumerate(segments(network, span)):
        now = segment.begin
        closure.last = float(np.nextafter(segment.end, -np.inf))
        if state is not None:
            state = first_state(network, closure.filled(now, y), state)
        while now < segment.end:
            closure.switch(state)
            capacity = piece_capacities(network, pieces)
            stepper = _stepper(closure, machines, capacity, now, segment, y, options, width)
            watched = watch(network, closure.massive, state, pieces)
            hint = NOT_COMPILED if compiled and not available() else ""
            stretch = _Stretch(closure=closure, segment=segment, number=number, hint=hint)
            now, y, crossed = yield from stretch.run(stepper, watched)
            width = getattr(stepper, "width", None)
            if crossed:
                state, pieces = watched.after(state, pieces, crossed)
                switchings += 1
                if switchings > MOST_SWITCHINGS:
                    raise MarchError(restless(MOST_SWITCHINGS, now + segment.offset))


@dataclass(slots=True, kw_only=True)
class _Stretch:
    """Steps in one state; their samples are closed together, some at a time."""

    closure: Closure
    segment: Segment
    number: int
    hint: str = ""
    taken: list[tuple[float, float, Course]] | None = None
    counted: tuple[int, int] = (0, 0)

    def run(
        self, stepper: Any, watched: Watch
    ) -> Generator[Steps, None, tuple[float, Floats, list[int]]]:
        """Step to the end of the segment or to a crossing.

        Returns the instant, the temperatures of the massive nodes then, and what crossed.
        """
        self.taken, self.counted = [], (self.closure.evaluations, 0)
        crossing = None
        most = int(TOGETHER_BYTES / (8 * len(LOBATTO) * len(self.closure.network.names)))
        while stepper.status == "running" and crossing is None:
            begin = stepper.t
            try:
                self._advance(stepper)
            except MarchError:
                if self.taken:  # what was computed up to here is kept
                    yield self._steps(stepper)
                raise
            course = stepper.course()
            crossing = watched.first(course, begin, stepper.t)
            if crossing is not None and isinstance(stepper, _OwnStepper):
                # Close to the end of a step the interpolant is at its best.
                nearer = stepper.shorter(begin + CLOSER * (crossing[0] - begin))
                again = watched.first(nearer, begin, nearer.begin + nearer.width)
                if again is not None:
                    course, crossing = nearer, again
            end = stepper.t if crossing is None else crossing[0]
            self.taken.append((begin, end, course))
            if len(self.taken) >= min(max(most, 1), TOGETHER):
                yield self._steps(stepper)
        if self.taken:
            yield self._steps(stepper)
        if crossing is None:
            return stepper.t, stepper.y.copy(), []
        return crossing[0], course.at(crossing[0], self.closure.massive), crossing[1]

    def _advance(self, stepper: Any) -> None:
        """One step; raises MarchError when it fails."""
        message = stepper.step()
        if stepper.status == "failed" or not np.isfinite(stepper.y).all():
            instant = stepper.t + self.segment.offset
            names = [self.closure.network.names[k] for k in self.closure.massive]
            raise MarchError(stuck(names, stepper.y, instant, message))

    def _steps(self, stepper: Any) -> Steps:
        """The steps taken so far, sampled, with the massless nodes in balance."""
        closure, taken = self.closure, self.taken or []
        begin = np.array([row[0] for row in taken])
        end = np.array([row[1] for row in taken])
        times = begin[:, None] + LOBATTO * (end - begin)[:, None]
        massive = [
            course.at(row, closure.massive)
            for (_, _, course), row in zip(taken, times, strict=True)
        ]
        guess = [
            course.at(row, closure.massless)
            for (_, _, course), row in zip(taken, times, strict=True)
        ]
        temperature = closure.temperatures(
            times.ravel(), np.concatenate(massive, axis=1).T, np.concatenate(guess, axis=1).T
        )
        state, before = closure.balance.state, self.counted
        self.taken, self.counted = [], (closure.evaluations, stepper.factorizations)
        stats = closure.network.thermostats
        return Steps(
            offset=np.full(len(taken), self.segment.offset),
            begin=begin,
            end=end,
            state=np.tile(np.zeros(len(stats.node)) if state is None else state, (len(taken), 1)),
            temperature=temperature.reshape(len(taken), len(LOBATTO), -1),
            segment=np.full(len(taken), self.number),
            evaluations=self.counted[0] - before[0],
            factorizations=self.counted[1] - before[1],
            how=stepper.how + self.hint,
        )


class _OwnStepper:
    """Our integrator, which steps over every node, seen through the massive ones."""

    def __init__(self, closure: Closure, inner: Rosenbrock) -> None:
        self.closure, self.inner = closure, inner

    @property
    def t(self) -> float:
        return self.inner.t

    @property
    def y(self) -> Floats:
        return self.inner.temperature[self.closure.massive]

    @property
    def status(self) -> str:
        return self.inner.status

    @property
    def width(self) -> float:
        return self.inner.width

    @property
    def factorizations(self) -> int:
        return self.inner.factorizations

    @property
    def how(self) -> str:
        order = self.inner.tableau.order
        return f"Rosenbrock of order {order}, {KEPT[self.inner.front.kind]}"

    def step(self) -> str | None:
        before = self.inner.evaluations
        message = self.inner.step()
        self.closure.evaluations += self.inner.evaluations - before
        return message

    def course(self) -> Between:
        return self.inner.dense_output()

    def shorter(self, end: float) -> Between:
        """The last step once more to an earlier end, no later than it went."""
        return self.inner.shorter(min(end, self.inner.t))


def _stepper(  # noqa: PLR0917 -- all that a stretch starts from
    closure: Closure,
    machines: Machinery,
    capacity: Floats,
    begin: float,
    segment: Segment,
    y: Floats,
    options: Options,
    width: float | None,
) -> Any:
    if options.method != "rosenbrock":
        # Slow to import, and only a cross-check.
        from thermnet.solve.scipy_steppers import ScipyStepper

        return ScipyStepper(closure, capacity, begin, segment, y, options)
    tolerance = tolerance_for(options.accuracy)
    if machines.front.kind != "dense" and options.accuracy <= USUAL_ACCURACY:
        tolerance *= LARGE_SHARE / ROSENBROCK_SHARE
    inner = Rosenbrock(
        replace(machines.front, balance=closure.balance),
        machines.factors,
        capacity,
        segment,
        begin,
        closure.temperatures(begin, y),
        tolerance=tolerance,
        width=width,
        corners=machines.corners,
        settle=closure.settled if len(closure.massless) else None,
    )
    return _OwnStepper(closure, inner)
