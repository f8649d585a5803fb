"""Step through time: the one place that drives an integrator.

Between known instants (jumps of histories, edges of windows) and located switchings the heat
balance is smooth, and only there does the integrator step. A corner of a heat-content curve is
located like a switching. scipy's integrators see the massive nodes alone, with the massless ones
closed exactly at every evaluation; our own steps over both, and they are closed at its samples.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.integrate import BDF, LSODA, Radau
from scipy.sparse import csc_array, diags_array

from thermnet.network.network import Network
from thermnet.network.primitives import Floats, Indices
from thermnet.solve.closure import Closure, close
from thermnet.solve.events import Watch, content_pieces, first_state, piece_capacities, watch
from thermnet.solve.linear import DENSE_UP_TO
from thermnet.solve.rosenbrock import Between, Rosenbrock
from thermnet.solve.segments import Segment, segments
from thermnet.solve.solution import Options
from thermnet.solve.steps import MarchError

INTEGRATORS: dict[str, Any] = {"scipy-bdf": BDF, "scipy-radau": Radau, "scipy-lsoda": LSODA}
"""scipy.integrate's steppers, the ones behind `solve_ivp`."""

TOLERANCE_SHARE = 0.05
"""Local error tolerance as a share of the accuracy asked for: errors of many steps add up."""

ROSENBROCK_SHARE = 0.3
"""The same for our own method at 0.01 K, whose estimate is that of the lower order."""

USUAL_ACCURACY = 0.01
"""K. The heat balance of the interpolant gains less than the tolerance does, about its 3/4 power:
below this the tolerance goes with the 4/3 power of the accuracy, the balance then with itself."""

LOBATTO = np.array([-1.0, -np.sqrt(3.0 / 7.0), 0.0, np.sqrt(3.0 / 7.0), 1.0]) / 2.0 + 0.5
LOBATTO_WEIGHTS = np.array([1 / 10, 49 / 90, 32 / 45, 49 / 90, 1 / 10]) / 2.0
"""Five-point Lobatto rule on 0..1, exact for degree 7 (Abramowitz and Stegun 25.4.32)."""

CLOSER = 1.02
"""A step in which something switches is taken again to this multiple of the time until then."""

TOGETHER = 64
"""Most steps whose samples are closed together."""

MOST_SWITCHINGS = 200_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One accepted step, `begin` to `end` in local time [s]; `offset` leads to the solve's time.

    `state` f8[h] are the thermostat states during the step, None for the proportional law.
    `massive(t)` gives f8[massive, len(t)]. `switched` says that the state changes, at the end of
    this step.
    """

    offset: float
    begin: float
    end: float
    state: Floats | None
    massive: Callable[[Floats], Floats]
    segment: int
    evaluations: int
    switched: bool
    group: _Group
    place: int

    def samples(self) -> Floats:
        """Every node's temperature f8[5, n] at the Lobatto points, massless nodes in balance.

        Only until the next step is asked for: the balance may be another one then.
        """
        return np.asarray(self.group.samples()[self.place])


@dataclass(slots=True)
class _Group:
    """Steps of one stretch, whose samples are closed together when the first is asked for."""

    closure: Closure
    steps: list[Step]
    closed: Floats | None = None

    def samples(self) -> Floats:
        if self.closed is None:
            begin = np.array([step.begin for step in self.steps])
            end = np.array([step.end for step in self.steps])
            times = begin[:, None] + LOBATTO * (end - begin)[:, None]
            parts = [
                _values(step.massive, row, self.closure)
                for step, row in zip(self.steps, times, strict=True)
            ]
            massive = np.concatenate([part[0] for part in parts])
            guess = np.concatenate([part[1] for part in parts])
            closed = self.closure.temperatures(times.ravel(), massive, guess)
            self.closed = closed.reshape(len(begin), len(LOBATTO), -1)
        return self.closed


def march(
    network: Network,
    span: float,
    start: Floats,
    state: Floats | None,
    options: Options,
) -> Iterator[Step]:
    """Integrate from `start` f8[n] [K] over `span` [s] and yield every accepted step.

    `state` f8[h] are the first thermostat states; None follows the proportional law. Raises
    MarchError when the integrator cannot go on.
    """
    closure = close(network, start, state)
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
            stepper = _stepper(closure, capacity, now, segment, y, options, width)
            watched = watch(network, closure.massive, state, pieces)
            last, crossed = yield from _stretch(closure, stepper, watched, segment, number)
            width = getattr(stepper, "width", None)
            now, y = last.end, stepper.y.copy()
            if crossed:
                y = np.asarray(last.massive(last.end))  # type: ignore[arg-type]
                state, pieces = watched.after(state, pieces, crossed)
                switchings += 1
                if switchings > MOST_SWITCHINGS:
                    raise MarchError(
                        f"more than {MOST_SWITCHINGS} switchings by {now + segment.offset:.6g} s: "
                        "a thermostat band is too narrow for its heater's power; widen the band"
                    )


def _stretch(
    closure: Closure, stepper: Any, watched: Watch, segment: Segment, number: int
) -> Generator[Step, None, tuple[Step, list[int]]]:
    """Step to the end of a segment or to a crossing; returns the last step and what crossed."""
    group = _Group(closure=closure, steps=[])
    state = closure.balance.state
    crossing = None
    while stepper.status == "running" and crossing is None:
        begin = stepper.t
        try:
            _advance(closure, stepper, segment)
        except MarchError:
            yield from group.steps  # what was computed up to here is kept
            raise
        interpolant = stepper.dense_output()
        crossing = watched.first(interpolant, begin, stepper.t)
        if crossing is not None and isinstance(stepper, _OwnStepper):
            # Close to the end of a step the interpolant is at its best.
            nearer = stepper.shorter(begin + CLOSER * (crossing[0] - begin))
            again = watched.first(nearer, begin, nearer.end)
            if again is not None:
                interpolant, crossing = nearer, again
        step = Step(
            offset=segment.offset,
            begin=begin,
            end=stepper.t if crossing is None else crossing[0],
            state=state,
            massive=interpolant,
            segment=number,
            evaluations=closure.evaluations,
            switched=crossing is not None,
            group=group,
            place=len(group.steps),
        )
        group.steps.append(step)
        if len(group.steps) == TOGETHER:
            yield from group.steps
            group = _Group(closure=closure, steps=[])
    yield from group.steps
    return step, [] if crossing is None else crossing[1]


def _advance(closure: Closure, stepper: Any, segment: Segment) -> None:
    """One step; raises MarchError when it fails."""
    message = stepper.step()
    if stepper.status == "failed" or not np.isfinite(stepper.y).all():
        instant = stepper.t + segment.offset
        raise MarchError(_stuck(closure, stepper.y, instant, message))


@dataclass(frozen=True, slots=True, kw_only=True)
class _MassiveRows:
    """An interpolant of every node, seen through the massive ones."""

    whole: Between
    massive: Indices

    @property
    def end(self) -> float:
        return self.whole.begin + self.whole.width

    def __call__(self, time: float | Floats) -> Floats:
        return self.whole(time)[self.massive]


class _OwnStepper:
    """Our integrator over every node, with scipy's look at the massive ones."""

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

    def step(self) -> str | None:
        before = self.inner.evaluations
        message = self.inner.step()
        self.closure.evaluations += self.inner.evaluations - before
        return message

    def dense_output(self) -> _MassiveRows:
        return _MassiveRows(whole=self.inner.dense_output(), massive=self.closure.massive)

    def shorter(self, end: float) -> _MassiveRows:
        """The last step once more to an earlier end, no later than it went."""
        whole = self.inner.shorter(min(end, self.inner.t))
        return _MassiveRows(whole=whole, massive=self.closure.massive)


def _stepper(
    closure: Closure,
    capacity: Floats,
    begin: float,
    segment: Segment,
    y: Floats,
    options: Options,
    width: float | None,
) -> Any:
    if options.method == "rosenbrock":
        start = closure.temperatures(begin, y)
        finer = min(options.accuracy / USUAL_ACCURACY, 1.0) ** (1.0 / 3.0)
        tolerance = options.accuracy * finer * ROSENBROCK_SHARE
        inner = Rosenbrock(
            closure.balance,
            capacity,
            segment,
            begin,
            start,
            tolerance=tolerance,
            width=width,
            settle=closure.settled if len(closure.massless) else None,
        )
        return _OwnStepper(closure, inner)
    capacity = capacity[closure.massive]
    dense = len(closure.massive) <= DENSE_UP_TO or options.method == "scipy-lsoda"

    def rate(time: float, values: Floats) -> Floats:
        return np.asarray(closure.full(time, values)[1][closure.massive] / capacity)

    def slope(time: float, values: Floats) -> Any:
        reduced = closure.reduced_jacobian(time, values)
        if isinstance(reduced, np.ndarray):
            return reduced / capacity[:, None]
        scaled = csc_array(diags_array(1.0 / capacity) @ reduced)
        return scaled.toarray() if dense else scaled

    tolerance = options.accuracy * TOLERANCE_SHARE
    stepper: Any = INTEGRATORS[options.method]
    limits = {"rtol": 1e-10, "atol": tolerance, "max_step": segment.longest}
    return stepper(rate, begin, y, segment.end, jac=slope, **limits)


def _values(interpolant: Any, times: Floats, closure: Closure) -> tuple[Floats, Floats]:
    """Temperatures of the massive nodes, and a guess for those of the massless ones."""
    if isinstance(interpolant, _MassiveRows):
        whole = interpolant.whole(times).T
        return whole[:, closure.massive], whole[:, closure.massless]
    return interpolant(times).T, np.broadcast_to(closure.guess, (len(times), len(closure.guess)))


def _stuck(closure: Closure, y: Floats, time: float, message: str | None) -> str:
    wild = int(np.argmax(np.where(np.isfinite(y), np.abs(y), np.inf)))
    name = closure.network.names[closure.massive[wild]]
    return (
        f"the integrator stopped at {time:.6g} s ({message or 'no finite temperature'}); "
        f"largest temperature {y[wild]:.4g} K at '{name}'; "
        "look for a jump without an instant or a very steep curve there"
    )
