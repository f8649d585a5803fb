"""Step through time: the one place that drives an integrator.

Between known instants (jumps of histories, edges of windows) and located switchings the heat
balance is smooth, and only there does the integrator step. A corner of a heat-content curve is
located like a switching. scipy's integrators see the massive nodes alone, with the massless ones
closed exactly at every evaluation; our own steps over both, and they are closed at its samples.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from thermnet.network.network import Network
from thermnet.network.primitives import Floats, Indices
from thermnet.solve.balance import prepare
from thermnet.solve.closure import Closure, close
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

ROSENBROCK_SHARE = 0.3
"""Local error tolerance as a share of the accuracy asked for: errors of many steps add up, though
the estimate is that of the lower order."""

LARGE_SHARE = 0.7
"""The same for the method of large networks at 0.01 K and below: there its error was measured to
stay below the tolerance. With 0.1 K it may be five times as much, and the usual share holds."""

USUAL_ACCURACY = 0.01
"""K. The heat balance of the interpolant gains less than the tolerance does, about its 3/4 power:
below this the tolerance goes with the 4/3 power of the accuracy, the balance then with itself."""

CLOSER = 1.02
"""A step in which something switches is taken again to this multiple of the time until then."""

TOGETHER, TOGETHER_BYTES = 64, 100_000_000
"""Most steps whose samples are closed together, and most memory that these samples may take."""

KEPT: dict[BackEnd, str] = {
    "dense": "dense factors",
    "sparse": "kept sparse factors",
    "preconditioned": "kept sparse factors of the strong links",
}
"""What the statistics of a solution say of the linear systems."""

MOST_SWITCHINGS = 200_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Machinery:
    """What marches through one network share: the pattern that is factored, and kept factors."""

    front: Front
    factors: Factors
    corners: tuple[Indices, Floats]

    def of(self, network: Network) -> Machinery:
        """The same for a network that differs in thermostats only."""
        return replace(self, front=replace(self.front, balance=prepare(network, None)))


def machinery(network: Network) -> Machinery:
    """Find it once for a network; later marches through it are the sooner under way."""
    return Machinery(
        front=front(prepare(network, None)), factors=Factors(), corners=curve_corners(network)
    )


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
    machines = machinery(network) if machines is None else machines
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
            stretch = _Stretch(closure=closure, segment=segment, number=number)
            now, y, crossed = yield from stretch.run(stepper, watched)
            width = getattr(stepper, "width", None)
            if crossed:
                state, pieces = watched.after(state, pieces, crossed)
                switchings += 1
                if switchings > MOST_SWITCHINGS:
                    raise MarchError(
                        f"more than {MOST_SWITCHINGS} switchings by {now + segment.offset:.6g} s: "
                        "a thermostat band is too narrow for its heater's power; widen the band"
                    )


@dataclass(slots=True, kw_only=True)
class _Stretch:
    """Steps in one state; their samples are closed together, some at a time."""

    closure: Closure
    segment: Segment
    number: int
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
            raise MarchError(_stuck(self.closure, stepper.y, instant, message))

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
            how=stepper.how,
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
    finer = min(options.accuracy / USUAL_ACCURACY, 1.0) ** (1.0 / 3.0)
    large = machines.front.kind != "dense" and options.accuracy <= USUAL_ACCURACY
    share = LARGE_SHARE if large else ROSENBROCK_SHARE
    inner = Rosenbrock(
        replace(machines.front, balance=closure.balance),
        machines.factors,
        capacity,
        segment,
        begin,
        closure.temperatures(begin, y),
        tolerance=options.accuracy * finer * share,
        width=width,
        corners=machines.corners,
        settle=closure.settled if len(closure.massless) else None,
    )
    return _OwnStepper(closure, inner)


def _stuck(closure: Closure, y: Floats, time: float, message: str | None) -> str:
    wild = int(np.argmax(np.where(np.isfinite(y), np.abs(y), np.inf)))
    name = closure.network.names[closure.massive[wild]]
    return (
        f"the integrator stopped at {time:.6g} s ({message or 'no finite temperature'}); "
        f"largest temperature {y[wild]:.4g} K at '{name}'; "
        "look for a jump without an instant or a very steep curve there"
    )
