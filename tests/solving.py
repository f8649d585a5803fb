"""Solving in tests: a solve must succeed, and its energy account must close."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from thermnet.account import account
from thermnet.network.build import build
from thermnet.network.network import Network, jacobian
from thermnet.network.parts import Part
from thermnet.network.primitives import Floats
from thermnet.solve.cyclic import cyclic
from thermnet.solve.solution import Options, Solution
from thermnet.solve.steady import steady
from thermnet.solve.transient import transient


def closed(network: Network, solution: Solution) -> Solution:
    """The same solution, after it was seen that nothing failed and that the account closes."""
    assert solution.failure == ""
    drawn_up = account(network, solution)
    missing = float(np.abs(drawn_up.remainder).sum())
    assert drawn_up.closes or missing < _noise(network, solution), (
        f"{drawn_up.share:.3g} of {drawn_up.passing:.6g} {drawn_up.unit} is not accounted for, "
        f"most of it at '{drawn_up.worst}'"
    )
    return solution


def _noise(network: Network, solution: Solution) -> float:
    """What flows for 1e-5 K [J], all there is where nothing drives massless nodes."""
    record = solution.record
    slopes = jacobian(network, record.temperature[-1], float(record.local_time[-1]))
    return 1e-5 * float(np.abs(slopes.diagonal()).sum()) * solution.span


def solved_steady(
    network: Network, options: Options = Options(), *, start: Floats | None = None
) -> Solution:
    return closed(network, steady(network, options, start=start))


def solved_transient(
    network: Network,
    span: float,
    options: Options = Options(),
    *,
    start: Floats | None = None,
    state: Floats | None = None,
) -> Solution:
    return closed(network, transient(network, span, options, start=start, state=state))


def solved_cyclic(network: Network, options: Options = Options()) -> Solution:
    return closed(network, cyclic(network, options))


def uniform(network: Network, temperature: float) -> Floats:
    """A start with every node at one temperature [K] (solvers impose the boundaries)."""
    return np.full(len(network.names), temperature)


def start_at(network: Network, **temperatures: float) -> Floats:
    """A start from the temperature [K] of each node by name; 280 K where none is given."""
    return np.array([temperatures.get(name, 280.0) for name in network.names])


def steady_temperatures(parts: Sequence[Part], start: float | None = None) -> dict[str, float]:
    """Steady temperature [K] of every node by name."""
    network = build(parts)
    begin = None if start is None else uniform(network, start)
    solution = solved_steady(network, start=begin)
    return dict(zip(network.names, map(float, solution.temperature[0]), strict=True))


def history_of(network: Network, solution: Solution, name: str) -> Floats:
    """Temperatures [K] of one node at the output instants."""
    return np.asarray(solution.temperature[:, network.index(name)])


def lowest(network: Network, solution: Solution, name: str) -> float:
    """True lowest temperature [K] of a node over the whole history."""
    return float(solution.extremes.lowest[:, network.index(name)].min())


def highest(network: Network, solution: Solution, name: str) -> float:
    """True highest temperature [K] of a node over the whole history."""
    return float(solution.extremes.highest[:, network.index(name)].max())


def switchings(solution: Solution, heater: int = 0) -> tuple[Floats, Floats]:
    """Instants [s] at which a thermostat goes on, and at which it goes off."""
    change = np.diff(solution.record.duty[:, heater])
    instants = solution.record.time[1:]
    return instants[change > 0.0], instants[change < 0.0]


def at_instant(network: Network, solution: Solution, name: str, instant: float) -> float:
    """Temperature [K] of a node at an instant at which a step of the solver ends."""
    times = solution.record.time
    nearest = int(np.argmin(np.abs(times - instant)))
    assert abs(times[nearest] - instant) < 1e-6
    return float(solution.record.temperature[nearest, network.index(name)])
