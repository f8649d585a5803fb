"""Step through time: the one place that drives an integrator.

Between known instants (jumps of histories, edges of windows) and located switchings the heat
balance is smooth, and only there does the integrator step. Massless nodes are closed exactly at
every evaluation. A corner of a heat-content curve is located like a switching.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.integrate import BDF, LSODA, Radau
from scipy.optimize import brentq
from scipy.sparse import csc_array, diags_array

from thermnet.network.network import (
    Floats,
    Histories,
    Indices,
    Network,
    boundary_temperatures,
    heat,
    jacobian_data,
)
from thermnet.solve.linear import DENSE_UP_TO, Block, block, factorized, solver
from thermnet.solve.solution import Options
from thermnet.solve.steady import moved

INTEGRATORS: dict[str, Any] = {"scipy-bdf": BDF, "scipy-radau": Radau, "scipy-lsoda": LSODA}
"""scipy.integrate's steppers, the ones behind `solve_ivp`."""

TOLERANCE_SHARE = 0.05
"""Local error tolerance as a share of the accuracy asked for: errors of many steps add up."""

LOBATTO = np.array([-1.0, -np.sqrt(3.0 / 7.0), 0.0, np.sqrt(3.0 / 7.0), 1.0]) / 2.0 + 0.5
LOBATTO_WEIGHTS = np.array([1 / 10, 49 / 90, 32 / 45, 49 / 90, 1 / 10]) / 2.0
"""Five-point Lobatto rule on 0..1, exact for degree 7 (Abramowitz and Stegun 25.4.32)."""

SHARP = 0.1
"""Change of slope over the shorter piece, as a share of a history's largest value, at which to
stop and start again."""

MERGE = 1e-6
"""s within which two instants are one."""

CLOSED = 1e-4
"""K; a smaller Newton step is the last one of the massless nodes. Its own error is of second
order, or smaller by the contraction of a kept inverse: below 1e-5 K either way."""

Tangent = tuple[Callable[[Floats], Floats], Any]

MOST_SWITCHINGS = 200_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One accepted step, `begin` to `end` in local time [s]; `offset` leads to the solve's time.

    `state` f8[h] are the thermostat states during the step, None for the proportional law.
    `massive(t)` gives f8[massive, len(t)], `full(t)` f8[len(t), n] with every node.
    `switched` says that the state changes, at the end of this step.
    """

    offset: float
    begin: float
    end: float
    state: Floats | None
    massive: Callable[[Floats], Floats]
    full: Callable[[Floats], Floats]
    segment: int
    evaluations: int
    switched: bool


class MarchError(Exception):
    """The integrator cannot go on; the message is a sentence for the reader."""


@dataclass(slots=True)
class Closure:
    """A network with its massless nodes closed; remembers only what speeds up the next call.

    Between calls it keeps the last massless temperatures as a guess and the last tangent of their
    balance, refreshed as soon as it converges slowly; neither changes the answer. `last` is the
    last local time before the end of the segment, where histories may jump.
    """

    network: Network
    massive: Indices
    massless: Indices
    guess: Floats
    inner: Block
    columns: Block
    mixed: tuple[Block, Block, Block]
    last: float = float("inf")
    evaluations: int = 0
    tangent: Tangent | None = None

    def full(
        self, time: float | Floats, massive: Floats, state: Floats | None
    ) -> tuple[Floats, Floats]:
        """Temperatures and heat into every node at local times f8[...]: massive nodes given as
        f8[..., massive], boundaries imposed, massless nodes in balance.

        Newton on the massless rows. Raises MarchError without a balance.
        """
        network, massless = self.network, self.massless
        time = np.minimum(time, self.last)
        temperature = np.empty((*time.shape, len(network.names)))
        temperature[..., self.massive] = massive
        temperature[..., massless] = self.guess
        temperature[..., network.boundary] = boundary_temperatures(network, time)
        before = np.inf
        for _ in range(100):
            net = heat(network, temperature, time, state)
            self.evaluations += 1
            if len(massless) == 0:
                return temperature, net
            if self.tangent is None:
                self.tangent = self._tangent(temperature, time, state)
            inverse, columns = self.tangent
            step = inverse(net[..., massless].T).T
            size = float(np.abs(step).max())
            if size < CLOSED:
                # So small a last step changes the heat by the tangent.
                temperature[..., massless] += step
                self.guess = temperature.reshape(-1, temperature.shape[-1])[-1, massless]
                return temperature, net + (columns @ step.T).T
            temperature[..., massless] = moved(temperature[..., massless], step)
            if not size < 0.1 * before:
                self.tangent = None
            before = size
        raise self._open()

    def _tangent(self, temperature: Floats, time: Floats, state: Floats | None) -> Tangent:
        """Inverse of the massless rows of the Jacobian, and its massless columns."""
        one = temperature.reshape(-1, temperature.shape[-1])[-1]
        data = jacobian_data(self.network, one, float(time.reshape(-1)[-1]), state)
        try:
            return solver(self.inner.matrix(-data)), self.columns.sparse(data).tocsr()
        except ZeroDivisionError:
            raise self._open() from None

    def _open(self) -> MarchError:
        names = ", ".join(f"'{self.network.names[k]}'" for k in self.massless[:3])
        return MarchError(f"the massless nodes {names} find no balance; look at their links")

    def reduced_jacobian(self, time: float, massive: Floats, state: Floats | None) -> Any:
        """Derivative of the heat into massive nodes by their temperatures, the rest closed.

        The Schur complement J_mm - J_ma J_aa^-1 J_am [W/K], dense where small, else sparse.
        """
        temperature, _ = self.full(time, massive, state)
        data = jacobian_data(self.network, temperature, min(time, self.last), state)
        whole, outward, inward = self.mixed
        matrix = whole.matrix(data)
        if len(self.massless) == 0:
            return matrix
        response = factorized(self.inner.matrix(data))(inward.dense(data))
        if isinstance(matrix, np.ndarray):
            return matrix - outward.dense(data) @ response
        return csc_array(matrix - csc_array(outward.sparse(data) @ csc_array(response)))


def close(network: Network, start: Floats) -> Closure:
    """Prepare a network for stepping; `start` f8[n] are first temperatures [K]."""
    massive, massless = partition(network)
    pattern = network.pattern
    return Closure(
        network=network,
        massive=massive,
        massless=massless,
        guess=start[massless],
        inner=block(pattern, massless, massless),
        columns=block(pattern, np.arange(len(network.names), dtype=np.int32), massless),
        mixed=(
            block(pattern, massive, massive),
            block(pattern, massive, massless),
            block(pattern, massless, massive),
        ),
    )


def partition(network: Network) -> tuple[Indices, Indices]:
    """Free nodes with heat capacity or content, and free nodes without."""
    has = network.capacity > 0.0
    has[[node for node, _ in network.content]] = True
    free = network.free
    return free[has[free]], free[~has[free]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """A stretch between known instants, `begin` to `end` [s] in local time.

    `offset` leads to the time of the solve; no step may be longer than `longest`, the shortest
    straight piece of any history inside.
    """

    offset: float
    begin: float
    end: float
    longest: float


def segments(network: Network, span: float) -> list[Segment]:
    """The stretches to integrate one by one: their ends are jumps, sharp bends and marks."""
    histories, period = network.histories, network.histories.period
    last = min(span, period)
    known = histories.instants[_sharp(histories)]
    edges = np.concatenate([known, network.instants, [0.0, last]])
    edges = np.unique(edges[(edges >= 0.0) & (edges <= last)])
    edges = edges[np.append(True, np.diff(edges) > MERGE)]
    inner = np.unique(np.concatenate([edges, histories.instants]))
    result = []
    for k in range(int(np.ceil(span / period - 1e-12)) if np.isfinite(period) else 1):
        offset = k * period if k else 0.0
        for begin, end in zip(edges[:-1], edges[1:], strict=True):
            stop = min(float(end), span - offset)
            if stop - begin > MERGE:
                pieces = np.diff(inner[(inner >= begin) & (inner <= end)])
                longest = float(pieces[pieces > MERGE].min(initial=end - begin))
                result.append(Segment(offset=offset, begin=float(begin), end=stop, longest=longest))
    return result


def _sharp(histories: Histories) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Instants at which a history jumps, or bends by more than a share of its whole range.

    Weaker bends, those of a tabulated smooth curve, only bound the step.
    """
    width = np.diff(histories.instants)[:, None]
    reach = np.maximum(np.abs(histories.start).max(axis=0), np.abs(histories.stop).max(axis=0))
    jump = np.abs(histories.start[1:] - histories.stop[:-1])
    slope = (histories.stop - histories.start) / np.where(width > 0.0, width, 1.0)
    bend = np.abs(np.diff(slope, axis=0)) * np.minimum(width[1:], width[:-1])
    inside = ((jump > 1e-12 * reach) | (bend > SHARP * reach)).any(axis=1)
    return np.concatenate([[True], inside, [True]])


def first_state(network: Network, temperature: Floats, state: Floats | None = None) -> Floats:
    """Thermostat states at given temperatures: on at or below `on`, off at or above `off`.

    Between the two a state is kept, and off where none is given.
    """
    stats = network.thermostats
    kept = np.zeros(len(stats.node)) if state is None else state
    sensed = temperature[stats.sensor]
    return np.where(sensed <= stats.on, 1.0, np.where(sensed >= stats.off, 0.0, kept))


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
    closure = close(network, start)
    massive = closure.massive
    y = start[massive].copy()
    pieces = _content_pieces(network, start)
    switchings = 0
    for number, segment in enumerate(segments(network, span)):
        offset, begin, end = segment.offset, segment.begin, segment.end
        closure.last = float(np.nextafter(end, -np.inf))
        now = begin
        if state is not None:
            state = first_state(network, closure.full(now, y, state)[0], state)
        while now < end:
            capacity = _capacities(network, massive, pieces)
            integrator = _integrator(closure, capacity, now, segment, y, state, options)
            event = None
            while integrator.status == "running" and event is None:
                step_begin = integrator.t
                message = integrator.step()
                if integrator.status == "failed" or not np.isfinite(integrator.y).all():
                    raise MarchError(
                        _stuck(network, massive, integrator.y, integrator.t + offset, message)
                    )
                interpolant = integrator.dense_output()
                event = _first_event(
                    network, massive, interpolant, step_begin, integrator.t, state, pieces
                )
                stop = integrator.t if event is None else event[0]
                yield Step(
                    offset=offset,
                    begin=step_begin,
                    end=stop,
                    state=state,
                    massive=interpolant,
                    full=_full_samples(closure, interpolant, state),
                    segment=number,
                    evaluations=closure.evaluations,
                    switched=event is not None,
                )
            now, y = integrator.t, integrator.y.copy()
            if event is not None:
                now, y = event[0], np.asarray(interpolant(event[0]))
                state, pieces = event[1], event[2]
                switchings += 1
                if switchings > MOST_SWITCHINGS:
                    raise MarchError(
                        f"more than {MOST_SWITCHINGS} switchings by {now + offset:.6g} s: a "
                        "thermostat band is too narrow for its heater's power; widen the band"
                    )


def _integrator(
    closure: Closure,
    capacity: Floats,
    begin: float,
    segment: Segment,
    y: Floats,
    state: Floats | None,
    options: Options,
) -> Any:
    dense = len(closure.massive) <= DENSE_UP_TO or options.method == "scipy-lsoda"

    def rate(time: float, values: Floats) -> Floats:
        return np.asarray(closure.full(time, values, state)[1][closure.massive] / capacity)

    def slope(time: float, values: Floats) -> Any:
        reduced = closure.reduced_jacobian(time, values, state)
        if isinstance(reduced, np.ndarray):
            return reduced / capacity[:, None]
        scaled = csc_array(diags_array(1.0 / capacity) @ reduced)
        return scaled.toarray() if dense else scaled

    closure.tangent = None  # the last factor belongs to another state
    tolerance = options.accuracy * TOLERANCE_SHARE
    stepper: Any = INTEGRATORS[options.method]
    limits = {"rtol": 1e-10, "atol": tolerance, "max_step": segment.longest}
    return stepper(rate, begin, y, segment.end, jac=slope, **limits)


def _full_samples(
    closure: Closure, interpolant: Callable[[Floats], Floats], state: Floats | None
) -> Callable[[Floats], Floats]:
    def full(times: Floats) -> Floats:
        return closure.full(times, interpolant(times).T, state)[0]

    return full


def _first_event(
    network: Network,
    massive: Indices,
    interpolant: Callable[[Any], Floats],
    begin: float,
    end: float,
    state: Floats | None,
    pieces: Indices,
) -> tuple[float, Floats | None, Indices] | None:
    """The first switching or corner within a step: instant, new states, new content pieces."""
    watched = _thresholds(network, massive, state, pieces)
    if not watched:
        return None
    times = np.linspace(begin, end, 9)
    values = interpolant(times)
    found: list[tuple[float, int]] = []
    for number, (row, sign, level, boundary) in enumerate(watched):
        sensed = (
            np.array([_imposed(network, boundary, t, end) for t in times])
            if row < 0
            else values[row]
        )
        beyond = np.flatnonzero(sign * (sensed - level) >= 0.0)
        # A step that begins exactly on a level just left it: only a later return counts.
        beyond = beyond[beyond > 0]
        if len(beyond) == 0:
            continue
        before, after = times[beyond[0] - 1], times[beyond[0]]

        def distance(
            t: float, row: int = row, level: float = level, boundary: int = boundary
        ) -> float:
            value = _imposed(network, boundary, t, end) if row < 0 else interpolant(t)[row]
            return float(value - level)

        if sign * distance(before) >= 0.0:
            instant = before
        else:
            instant = brentq(distance, before, after, xtol=1e-9, rtol=1e-14)
        found.append((max(instant, np.nextafter(begin, np.inf)), number))
    if not found:
        return None
    first = min(found)[0]
    # Two heaters on one sensor switch as one: what comes together is taken together.
    together = [number for instant, number in found if instant <= first + MERGE]
    return first, *_after(network, state, pieces, together)


def _thresholds(
    network: Network, massive: Indices, state: Floats | None, pieces: Indices
) -> list[tuple[int, float, float, int]]:
    """(row of massive or -1, sign, level, boundary position) of all that may switch next.

    One per thermostat, then two per content curve; sign +1 switches above the level, -1 below.
    """
    stats = network.thermostats
    row_of = {int(node): row for row, node in enumerate(massive)}
    boundary_of = {int(node): k for k, node in enumerate(network.boundary)}
    result: list[tuple[int, float, float, int]] = []
    for k in range(len(stats.node) if state is not None else 0):
        sensor = int(stats.sensor[k])
        if sensor not in row_of and sensor not in boundary_of:
            raise MarchError(
                f"the sensor of a thermostat is the massless node '{network.names[sensor]}', "
                "which would switch without end; give it a heat capacity or move the sensor"
            )
        rising = state is not None and state[k] > 0.5
        level = float(stats.off[k] if rising else stats.on[k])
        sign = 1.0 if rising else -1.0
        result.append((row_of.get(sensor, -1), sign, level, boundary_of.get(sensor, -1)))
    for k, (node, curve) in enumerate(network.content):
        last = len(curve.x) - 2
        lower = float(curve.x[pieces[k]]) if pieces[k] > 0 else -np.inf
        upper = float(curve.x[pieces[k] + 1]) if pieces[k] < last else np.inf
        result.append((row_of[node], -1.0, lower, -1))
        result.append((row_of[node], 1.0, upper, -1))
    return result


def _after(
    network: Network, state: Floats | None, pieces: Indices, numbers: list[int]
) -> tuple[Floats | None, Indices]:
    count = len(network.thermostats.node) if state is not None else 0
    changed = None if state is None else state.copy()
    pieces = pieces.copy()
    for number in numbers:
        if changed is not None and number < count:
            changed[number] = 1.0 - changed[number]
        else:
            pieces[(number - count) // 2] += 1 if (number - count) % 2 else -1
    return changed, pieces


def _imposed(network: Network, boundary: int, time: float, end: float) -> float:
    inner = min(time, np.nextafter(end, -np.inf))
    return float(boundary_temperatures(network, inner)[boundary])


def _content_pieces(network: Network, temperature: Floats) -> Indices:
    pieces = [
        int(np.clip(np.searchsorted(curve.x, temperature[node], side="right") - 1, 0, None))
        for node, curve in network.content
    ]
    limits = [len(curve.x) - 2 for _, curve in network.content]
    return np.minimum(np.array(pieces, dtype=np.int32), np.array(limits, dtype=np.int32))


def _capacities(network: Network, massive: Indices, pieces: Indices) -> Floats:
    capacity = network.capacity.copy()
    for (node, curve), piece in zip(network.content, pieces, strict=True):
        rise = curve.y[piece + 1] - curve.y[piece]
        capacity[node] = rise / (curve.x[piece + 1] - curve.x[piece])
    return np.asarray(capacity[massive])


def _stuck(network: Network, massive: Indices, y: Floats, time: float, message: str | None) -> str:
    wild = int(np.argmax(np.where(np.isfinite(y), np.abs(y), np.inf)))
    return (
        f"the integrator stopped at {time:.6g} s ({message or 'no finite temperature'}); "
        f"largest temperature {y[wild]:.4g} K at '{network.names[massive[wild]]}'; "
        "look for a jump without an instant or a very steep curve there"
    )
