"""Heat balance of a few nodes as bare arrays under scipy's implicit integrators.

The independent answer for the shipped models: no import of thermnet, dense matrices, every known
instant an end of an integration, every thermostat an event. Kelvin, watts, seconds.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any, Literal

import numpy as np
from scipy.integrate import solve_ivp
from scipy.linalg import expm

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
Indices = np.ndarray[tuple[int, ...], np.dtype[np.int_]]
Method = Literal["LSODA", "BDF", "Radau"]
History = tuple[Array, Array]  # time [s] and value, straight in between; a repeated instant jumps

SIGMA = 5.670374419e-8  # W m-2 K-4, CODATA 2018
ZERO_CELSIUS = 273.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrays:
    """capacity * dT/dt = heats + space + (conduction + linear) @ T + radiation @ T**4 + heaters.

    `powers` adds matrix @ T**exponent for other exponents. A node without capacity radiates, has no
    heat but from space, and no other one beside it. A history named "" is constant.
    """

    names: tuple[str, ...]
    capacity: Array
    conduction: Array
    radiation: Array
    space: Array  # W from space
    heats: list[tuple[int, float, str]]  # node, W, history
    histories: dict[str, History]
    heated: list[int]  # node that each heater heats and senses
    enabled: list[str]  # history of each heater, in steps
    power: Array
    on: Array  # on at or below
    off: Array  # off at or above
    linear: list[tuple[int, float, str]] = field(default_factory=list)  # node, W/K, history
    traced: tuple[str, ...] = ()  # nodes whose histories a run keeps
    powers: dict[float, Array] = field(default_factory=dict)  # exponent: matrix, W/K**exponent


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Extremes and means over the last window [K], and where it ended."""

    lowest: Array
    mean: Array
    highest: Array
    duty: Array  # mean power over installed power: share of the window on and enabled
    switchings: list[list[float]]  # instants [s] from the start of the run, heater by heater
    temperature: Array
    states: Array
    time: Array  # s from the start of the window, with the two below; an instant may be there twice
    trace: Array  # K, f8[traced, k]
    heating: Array  # W of all heaters together


@dataclass(frozen=True, slots=True, kw_only=True)
class Reduced:
    """What drives the nodes with capacity; `node[k]` is the place of row k in all nodes.

    `matrices` are those of all nodes by exponent, without the massless nodes that only radiate.
    The `balanced` massless nodes do more than that: their heat is brought to zero at every instant.
    """

    node: Indices
    capacity: Array
    matrices: dict[float, Array]
    rows: dict[float, Array]  # of the nodes with capacity
    balanced: list[int]
    space: Array  # W
    heated: Indices  # row of each heater's node


def connect(matrix: Array, a: int, b: int, strength: float) -> None:
    """Add a link between two nodes: what one gains the other loses."""
    matrix[a, a] -= strength
    matrix[a, b] += strength
    matrix[b, b] -= strength
    matrix[b, a] += strength


def steps(*edges: tuple[float, float], end: float) -> History:
    """A history that holds each value from its instant on."""
    stops = [time for time, _ in edges[1:]] + [end]
    time = [t for (begin, _), stop in zip(edges, stops, strict=True) for t in (begin, stop)]
    return np.array(time), np.array([v for _, value in edges for v in (value, value)])


def at(a: Arrays, name: str, time: float, *, after: bool) -> float:
    """Value of a history, at the later side of a jump with `after`, else at the earlier."""
    if name == "":
        return 1.0
    times, values = a.histories[name]
    k = int(np.searchsorted(times, time, side="right" if after else "left"))
    k = min(max(k, 1), len(times) - 1)
    begin, end = times[k - 1], times[k]
    share = 0.0 if begin == end else (time - begin) / (end - begin)
    return float(values[k - 1] + share * (values[k] - values[k - 1]))


def enabled_at(a: Arrays, begin: float) -> Array:
    """Factor on each heater's power over an interval that begins here."""
    return np.array([at(a, name, begin, after=True) for name in a.enabled])


def sources(a: Arrays, time: float, *, after: bool) -> Array:
    """Heat on every node [W] without heaters, with what space sends."""
    heat = a.space.copy()
    value = {h: at(a, h, time, after=after) for h in {h for _, _, h in a.heats}}
    for node, amplitude, history in a.heats:
        heat[node] += amplitude * value[history]
    return heat


def massless(a: Arrays) -> tuple[list[int], list[int]]:
    """The nodes without capacity: those that only radiate, and the others."""
    without = [int(i) for i in np.flatnonzero(a.capacity == 0.0)]
    further = [a.conduction, *a.powers.values()]
    radiating = [i for i in without if not any(matrix[i].any() for matrix in further)]
    return radiating, [i for i in without if i not in radiating]


def reduced(a: Arrays) -> Reduced:
    """The arrays with the massless nodes eliminated that only radiate.

    Their T**4 is linear in the others' T**4, so they leave the radiation matrix as an inner point
    leaves a star of resistances. What they receive from space goes the same way, see `shared`.
    """
    node = np.flatnonzero(a.capacity > 0.0)
    radiating, balanced = massless(a)
    radiation = a.radiation.copy()
    for i in radiating:
        radiation -= np.outer(radiation[:, i], radiation[i, :]) / radiation[i, i]
    matrices = {1.0: a.conduction, 4.0: radiation, **a.powers}
    return Reduced(
        node=node,
        capacity=a.capacity[node],
        matrices=matrices,
        rows={p: matrix[node] for p, matrix in matrices.items()},
        balanced=balanced,
        space=a.space,
        heated=np.searchsorted(node, a.heated),
    )


def shared(a: Arrays, heat: Array) -> Array:
    """Heat [W] with that of nodes that only radiate given to their neighbours by strength."""
    result = heat.copy()
    for i in massless(a)[0]:
        result -= a.radiation[:, i] / a.radiation[i, i] * result[i]
        result[i] = 0.0
    return result


def balance(matrices: dict[float, Array], space: Array, full: Array, i: int) -> Array:
    """Temperature [K] at which node i gains nothing, by those of all others, f8[n, k].

    What it gives away is rising and convex in its temperature. Newton's steps therefore fall onto
    the answer from above it, where radiation alone would give away all.
    """
    others = np.arange(len(full)) != i
    given = space[i] + sum(m[i, others] @ full[others] ** p for p, m in matrices.items())
    own = {p: -m[i, i] for p, m in matrices.items()}
    T = np.asarray((given / own[4.0]) ** 0.25)
    for _ in range(100):
        excess = sum(strength * T**p for p, strength in own.items()) - given
        step = excess / sum(p * strength * T ** (p - 1.0) for p, strength in own.items())
        T = T - step
        if np.abs(step).max() < 1e-10:
            return T
    raise ValueError(f"no balance of node {i}: last step {step} K")


def spread(r: Reduced, rows: Array) -> Array:
    """All temperatures, f8[n, k], from the rows with capacity; zero where a node only radiates."""
    full = np.zeros((len(r.space), rows.shape[1]))
    full[r.node] = rows
    for i in r.balanced:
        full[i] = balance(r.matrices, r.space, full, i)
    return full


def gained(r: Reduced, T: Array) -> Array:
    """Heat [W] that the nodes with capacity gain by all links."""
    full = spread(r, T[:, None])[:, 0]
    return np.asarray(sum(m @ full**p for p, m in r.rows.items()))


def slopes(r: Reduced, T: Array) -> Array:
    """Derivatives [W/K] of `gained`: balanced nodes follow the others."""
    full = spread(r, T[:, None])[:, 0]
    every = np.zeros((len(full), len(full)))
    for p, m in r.matrices.items():
        every += m * (p * full ** (p - 1.0))
    for i in r.balanced:
        every -= np.outer(every[:, i], every[i, :]) / every[i, i]
    return np.asarray(every[np.ix_(r.node, r.node)])


def closed(a: Arrays, r: Reduced, rows: Array) -> Array:
    """Temperatures of all nodes over time, f8[n, k], from those of the nodes with capacity."""
    full = spread(r, rows)
    for i in massless(a)[0]:
        full[i] = balance({4.0: a.radiation}, a.space, full, i)
    return full


def watch(row: int, limit: float, direction: float) -> Callable[[float, Array], float]:
    """An event: the temperature of a row crosses the limit."""

    def event(_: float, T: Array) -> float:
        return float(T[row] - limit)

    event.terminal = True  # type: ignore[attr-defined]
    event.direction = direction  # type: ignore[attr-defined]
    return event


def march(
    a: Arrays, r: Reduced, T: Array, states: Array, interval: tuple[float, float, float],
    how: tuple[float, Method],
) -> Any:  # fmt: skip
    """Integrate from `now` until a thermostat switches, at the latest to the interval's end.

    `interval` is (begin, now, end); between its ends all sources are straight lines of time.
    """
    begin, now, end = interval
    first = shared(a, sources(a, begin, after=True))[r.node]
    slope = (shared(a, sources(a, end, after=False))[r.node] - first) / (end - begin)
    np.add.at(first, r.heated, a.power * enabled_at(a, begin) * states)
    by_node = np.zeros((2, len(T)))  # W/K at the interval's ends
    for node, strength, history in a.linear:
        row = np.searchsorted(r.node, node)
        by_node[0, row] += strength * at(a, history, begin, after=True)
        by_node[1, row] += strength * at(a, history, end, after=False)
    events = [
        watch(int(row), off if on_now else on, 1.0 if on_now else -1.0)
        for row, on_now, on, off in zip(r.heated, states, a.on, a.off, strict=True)
    ]

    def of_node(t: float) -> Array:
        return np.asarray(by_node[0] + (by_node[1] - by_node[0]) * (t - begin) / (end - begin))

    def rate(t: float, T: Array) -> Array:
        heat = first + slope * (t - begin) + gained(r, T) + of_node(t) * T
        return np.asarray(heat / r.capacity)

    def jacobian(t: float, T: Array) -> Array:
        return np.asarray((slopes(r, T) + np.diag(of_node(t))) / r.capacity[:, None])

    rtol, method = how
    return solve_ivp(
        rate, (now, end), T, method=method, jac=jacobian, rtol=rtol, atol=1e-8, events=events
    )


def run(
    a: Arrays,
    *,
    temperature: Array,
    instants: Sequence[float],
    passes: int = 1,
    window: int = 1,
    states: Array | None = None,
    rtol: float = 1e-9,
    method: Method = "LSODA",
) -> Run:
    """Integrate over `instants` `passes` times; extremes, means, duties over the last `window`.

    Without `states` a heater is on at the start if its node is at or below its lower threshold.
    """
    r = reduced(a)
    T, length = temperature[r.node], instants[-1] - instants[0]
    states = (T[r.heated] <= a.on).astype(float) if states is None else states.copy()
    switchings: list[list[float]] = [[] for _ in states]
    lowest, highest = np.full(len(a.names), np.inf), np.full(len(a.names), -np.inf)
    integral, on_time = np.zeros(len(a.names)), np.zeros(len(states))
    traced = [a.names.index(name) for name in a.traced]
    kept: list[tuple[Array, Array, Array]] = []

    for number in range(passes):
        for begin, end in pairwise(instants):
            now = begin
            while now < end:
                piece = march(a, r, T, states, (begin, now, end), (rtol, method))
                if number >= passes - window:
                    history = closed(a, r, piece.y)
                    lowest = np.minimum(lowest, history.min(axis=1))
                    highest = np.maximum(highest, history.max(axis=1))
                    integral += 0.5 * (history[:, 1:] + history[:, :-1]) @ np.diff(piece.t)
                    on = states * enabled_at(a, begin)
                    on_time += on * (piece.t[-1] - now)
                    since = piece.t - instants[0] + (number - passes + window) * length
                    heating = np.full(len(since), float(a.power @ on))
                    kept.append((since, history[traced], heating))
                T, now = piece.y[:, -1], float(piece.t[-1])
                for heater, crossings in enumerate(piece.t_events):
                    if len(crossings) > 0:
                        states[heater] = 1.0 - states[heater]
                        switchings[heater].append(number * length + now)
    return Run(
        lowest=lowest,
        mean=integral / (window * length),
        highest=highest,
        duty=on_time / (window * length),
        switchings=switchings,
        temperature=closed(a, r, T[:, None])[:, 0],
        states=states,
        time=np.concatenate([time for time, _, _ in kept]),
        trace=np.concatenate([trace for _, trace, _ in kept], axis=1),
        heating=np.concatenate([heating for _, _, heating in kept]),
    )


def periodic(
    a: Arrays, *, guess: Array, instants: Sequence[float], states: Array | None = None,
    tolerance: float = 1e-6, rtol: float = 1e-9,
) -> Array:  # fmt: skip
    """Temperatures [K] that return after one pass, where no thermostat switches.

    Newton's method on the orbit map; its slope is approximated by exp(J * period) with the Jacobian
    at the orbit's mean temperatures, which is exact for a linear network.
    """
    r = reduced(a)
    states = np.zeros(len(a.heated)) if states is None else states
    T, length = guess, instants[-1] - instants[0]
    for _ in range(40):
        orbit = run(a, temperature=T, instants=instants, states=states, rtol=rtol)
        if any(orbit.switchings):
            raise ValueError("a thermostat switches: this orbit has no simple periodic state")
        step = (orbit.temperature - T)[r.node]
        fading = expm(slopes(r, orbit.mean[r.node]) / r.capacity[:, None] * length)
        correction = np.linalg.solve(np.eye(len(step)) - fading, step)
        T = closed(a, r, (T[r.node] + correction)[:, None])[:, 0]
        if np.abs(correction).max() < tolerance:
            return T
    raise ValueError(f"no periodic state within 40 orbits: last correction {correction} K")


def steady(a: Arrays, *, guess: Array, seconds: float = 1e10) -> tuple[Array, Array]:
    """Temperatures [K] and heater duties after a very long time at the sources of instant 0.

    A heater gives power * (off - T) / (off - on), limited to 0 and its power.
    """
    r = reduced(a)
    heat = shared(a, sources(a, 0.0, after=True))[r.node]

    def duty(T: Array) -> Array:
        return np.asarray(np.clip((a.off - T[r.heated]) / (a.off - a.on), 0.0, 1.0))

    def rate(_: float, T: Array) -> Array:
        total = heat + gained(r, T)
        np.add.at(total, r.heated, a.power * duty(T))
        return np.asarray(total / r.capacity)

    answer = solve_ivp(rate, (0.0, seconds), guess[r.node], method="Radau", rtol=1e-9, atol=1e-8)
    T = answer.y[:, -1]
    return closed(a, r, T[:, None])[:, 0], duty(T)
