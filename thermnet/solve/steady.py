"""The steady state: Newton on the heat balance, with the exact Jacobian."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thermnet.network.network import (
    Network,
    boundary_temperatures,
    duties,
    flows,
    heater_powers,
    sources,
)
from thermnet.network.primitives import Floats
from thermnet.solve.balance import Balance, prepare
from thermnet.solve.control import COLDEST, HOTTEST, moved
from thermnet.solve.failure import reason
from thermnet.solve.front import BACK_ENDS, Front, front
from thermnet.solve.linear import Factor
from thermnet.solve.solution import Extremes, Options, Record, Solution, Stats
from thermnet.solve.thermostat import hold

START = 280.0
"""K at which the first linearised solve is made; a start near every spacecraft temperature."""

ROUGH, FINE = 1e-2, 1e-4
"""Largest and smallest residual that a linear solve may leave, as a share of what was there."""

CURVATURE = 1e-3
"""1/K: times the last change, the share of a step's error that Newton's method leaves anyway."""

MORE_ITERATIONS = 6
"""Iterations of a linear solve, beyond those with a factor of its own, that call for a new one."""

RELATIVE_RESIDUAL = 1e-11
"""Unbalanced heat at a node, as a share of the heat through it, that is as good as rounding."""


@dataclass(slots=True)
class _Progress:
    """Temperatures f8[n], what is unbalanced at free nodes [W], and the work so far.

    `through` is the heat that passes through each free node [W], once somebody asked for it.
    """

    temperature: Floats
    residual: Floats
    through: Floats | None = None
    steps: int = 0
    factorizations: int = 0
    evaluations: int = 0
    iterations: int = 0


@dataclass(slots=True)
class _Newton:
    """The linear systems of one solve; a factor is kept while it makes a good preconditioner."""

    front: Front
    factor: Factor | None = None
    brake: float = 0.0
    least: int = 0
    share: float = ROUGH

    @property
    def balance(self) -> Balance:
        return self.front.balance


def steady(
    network: Network, options: Options = Options(), *, start: Floats | None = None
) -> Solution:
    """Find the temperatures at which every free node is in balance.

    Histories count by their time means and thermostats by the proportional law over their own
    band. `start` f8[n] [K] is where the iteration begins; by default one linearised solve at
    280 K decides, whatever the start. Newton's step is applied to T where it is small and to T^4
    where it is large; a step that makes the balance worse is damped by added capacity. Where that
    is not enough, as with a curve that lets several states exist, the nodes are followed through
    pseudo-time to a state that they would stay in.

    Returns a Solution of one instant; `failure` names the worst nodes, their residual in watts
    and the likely cause. Method: Newton's with pseudo-transient continuation (Kelley and Keyes,
    SIAM J. Numer. Anal. 35, 1998, from memory).
    """
    network = averaged(network)
    newton = _Newton(front=front(prepare(network, None)))
    initial = _start(network, start)
    progress = _evaluate(newton, _Progress(initial, initial), initial)
    failure = ""
    try:
        if options.linearised_start:
            progress = _linearised(newton, progress)
            if newton.balance.ruled:
                progress = _held(newton, progress)
        progress = _anyhow(newton, progress)
    except ZeroDivisionError:
        failure = reason(network, progress.temperature, progress.residual)
    if not failure and not _balanced(newton, progress):
        failure = reason(network, progress.temperature, progress.residual)
    return _solution(newton, progress, failure)


def _anyhow(newton: _Newton, progress: _Progress) -> _Progress:
    """The state in balance, by Newton's steps or, where they fail, through pseudo-time.

    They fail where the system is singular at temperatures on the way, as where a switch that lets
    nothing through cuts off nodes that heat would warm until it closes.
    """
    try:
        found = _iterate(newton, progress)
        if _balanced(newton, found):
            return found
    except ZeroDivisionError:
        found = progress
    newton.factor = None
    return _iterate(newton, _relaxed(newton, found))


def averaged(network: Network) -> Network:
    """The network with every history replaced by its time mean."""
    histories = network.histories
    mean = histories.mean()[None, :]
    grid = np.array([histories.instants[0], histories.instants[-1]])
    return replace(network, histories=replace(histories, instants=grid, start=mean, stop=mean))


def recorded(network: Network, solution: Solution) -> Network:
    """The network that the samples of a solution are of: for a steady state that of the means."""
    return averaged(network) if solution.kind == "steady" else network


def _start(network: Network, start: Floats | None) -> Floats:
    temperature = np.full(len(network.names), START) if start is None else start.astype(float)
    temperature[network.boundary] = boundary_temperatures(network, 0.0)
    return temperature


def _evaluate(newton: _Newton, before: _Progress, temperature: Floats) -> _Progress:
    """The state at a new temperature."""
    return replace(
        before,
        temperature=temperature,
        residual=newton.balance.heat(temperature, 0.0)[newton.front.free],
        through=None,
        evaluations=before.evaluations + 1,
    )


def throughput(network: Network, temperature: Floats, time: float = 0.0) -> Floats:
    """Heat that passes through every node [W]: half the sum of all flows, by amount."""
    links, carried, n = network.links, network.flow_links, len(network.names)
    flow = np.abs(flows(network, temperature, time))
    ends = np.concatenate([links.a, carried.a]), np.concatenate([links.b, carried.b])
    powers = heater_powers(network, duties(network, temperature), time)
    total = np.zeros(n)  # of no entries at all, bincount returns integers
    total += np.bincount(ends[0], flow, n) + np.bincount(ends[1], flow, n)
    total += np.bincount(network.heats.node, np.abs(sources(network, temperature, time)), n)
    total += np.bincount(network.thermostats.node, np.abs(powers), n)
    return np.asarray(total / 2.0)


def _newton_step(newton: _Newton, progress: _Progress, brake: float) -> Floats:
    """Newton's step of the free nodes, each diagonal enlarged by the share `brake`.

    Large systems are solved by iteration; the factor that helps it may be of an earlier step, as
    long as few iterations do.
    """
    front, temperature = newton.front, progress.temperature
    weight = np.zeros(len(temperature))
    if brake > 0.0:
        diagonal = front.diagonal_values(weight, temperature, 0.0)
        # A node that is cut off has no slope; the heat that waits at it says how fast it may move.
        least = np.full(len(temperature), 1e-12)
        least[front.free] += np.abs(progress.residual) / START
        weight = brake * np.maximum(np.abs(diagonal), least)
    right = np.zeros(len(temperature))
    right[front.free] = progress.residual
    fresh = front.kind == "dense" or newton.factor is None or newton.brake != brake
    if fresh or newton.factor is None:
        newton.factor, newton.brake = front.factor(weight, temperature, 0.0), brake
        progress.factorizations += 1
    step, iterations = front.solve(
        newton.factor, weight, temperature, 0.0, right, exact=newton.share, own=fresh
    )
    progress.iterations += iterations
    newton.least = iterations if fresh else newton.least
    if iterations > newton.least + MORE_ITERATIONS:
        newton.factor = None
    return step[front.free]


def _linearised(newton: _Newton, progress: _Progress) -> _Progress:
    """One plain Newton step from a uniform 280 K, so that a wild start does not matter."""
    network, free = newton.balance.network, newton.front.free
    uniform = _start(network, None)
    at_start = _evaluate(newton, progress, uniform)
    try:
        step = _newton_step(newton, at_start, 0.0)
    except ZeroDivisionError:
        return at_start
    newton.factor = None
    first = uniform.copy()
    first[free] = np.clip(uniform[free] + step, COLDEST, HOTTEST)
    return _evaluate(newton, at_start, first)


def _held(newton: _Newton, progress: _Progress) -> _Progress:
    """Newton's steps in which thermostats answer at once, each by its whole law.

    Steps by the law's slope alone would jump to and fro across narrow bands.
    """
    try:
        found = hold(newton.front, progress.temperature)
    except ZeroDivisionError:
        return progress
    progress = replace(
        progress,
        steps=progress.steps + found.steps,
        factorizations=progress.factorizations + found.factorizations,
        iterations=progress.iterations + found.iterations,
    )
    return _evaluate(newton, progress, found.temperature)


def _moved(
    newton: _Newton, progress: _Progress, step: Floats, *, plainly: bool = False
) -> _Progress:
    """The state after a step, applied as `moved` does or, plainly, to T alone."""
    free = newton.front.free
    old = progress.temperature[free]
    temperature = progress.temperature.copy()
    plain = np.minimum(np.maximum(old + step, COLDEST), HOTTEST)
    temperature[free] = plain if plainly else moved(old, step)
    return _evaluate(newton, progress, temperature)


def _size(progress: _Progress) -> float:
    return float(np.abs(progress.residual).sum())


def _iterate(newton: _Newton, progress: _Progress, most: int = 400) -> _Progress:
    """Newton steps; where the total residual grows, repeat with a brake on the diagonal."""
    brake = 0.0
    polished = 0
    for _ in range(most if len(newton.front.free) else 0):
        step = _newton_step(newton, progress, brake)
        candidate = _moved(newton, progress, step)
        worse = not _size(candidate) <= _size(progress)
        if worse:
            # Strong conduction between nodes is kept by equal steps of T, not of T^4.
            other = _moved(newton, progress, step, plainly=True)
            candidate = candidate if _size(candidate) <= _size(other) else other
            worse = not _size(candidate) <= _size(progress)
        change = np.abs(candidate.temperature - progress.temperature).max()
        newton.share = float(np.clip(CURVATURE * change, FINE, ROUGH))
        if worse and _balanced(newton, progress):
            break
        # A first bad full step may still be the short way (T^4 from far below); judge by two.
        if worse and brake < 1e6 and progress.steps > 3:
            brake = max(4.0 * brake, 0.5)
            progress.evaluations = candidate.evaluations
            progress.factorizations = candidate.factorizations
            continue
        brake = brake / 8.0 if brake > 1e-3 else 0.0
        candidate.steps = progress.steps + 1
        progress = candidate
        # Two more steps after convergence bring the balance down to rounding.
        polished = polished + 1 if change < 1e-6 and brake == 0.0 else 0
        if polished >= 2 or (polished and _settled(newton, progress)):
            break
    return progress


def _relaxed(newton: _Newton, progress: _Progress, most: int = 400) -> _Progress:
    """Follow the nodes through pseudo-time: a step counts where the linear balance foretold it.

    The total residual may grow on the way, which gets past places where it is smallest but not
    zero. The brake is one over the step of pseudo-time, in units of each node's time constant.
    """
    brake = 3.0  # with no power of two is a falling slope of one node cancelled exactly
    for _ in range(most):
        step = _newton_step(newton, progress, brake)
        candidate = _moved(newton, progress, step, plainly=True)
        before = progress.temperature
        slopes = newton.front.product(np.zeros(len(before)), before, 0.0)
        taken = (candidate.temperature - before)[newton.front.free]
        missed = np.abs(candidate.residual - progress.residual + slopes(taken)).sum()
        forward = float(taken @ progress.residual) > 0.0
        if forward and missed <= 0.5 * _size(progress):
            brake *= 0.5 if missed > 0.1 * _size(progress) else 0.25
            candidate.steps = progress.steps + 1
            progress = candidate
        else:
            brake *= 4.0
            progress.evaluations = candidate.evaluations
        if brake < 1e-6 or brake > 1e9 or _balanced(newton, progress):
            break
    return progress


def _through(newton: _Newton, progress: _Progress) -> Floats:
    if progress.through is None:
        whole = throughput(newton.balance.network, progress.temperature)
        progress.through = whole[newton.front.free]
    return progress.through


def _settled(newton: _Newton, progress: _Progress) -> bool:
    through = _through(newton, progress)
    scale = through + 1e-9 * through.max(initial=0.0) + 1e-12
    return bool((np.abs(progress.residual) <= RELATIVE_RESIDUAL * scale).all())


def _balanced(newton: _Newton, progress: _Progress) -> bool:
    """True when what is unbalanced is below 1e-8 of the heat passing and moves nothing 1e-6 K."""
    if len(progress.residual) == 0:
        return True
    if not np.isfinite(progress.residual).all():
        return False
    front, through = newton.front, _through(newton, progress)
    nothing = np.zeros(len(progress.temperature))
    slopes = np.abs(front.diagonal_values(nothing, progress.temperature, 0.0))[front.free]
    rounding = 2e-14 * slopes * progress.temperature.max()
    small = np.abs(progress.residual) <= 1e-8 * through + 1e-11 * through.max() + rounding
    return bool(small.all())


def _solution(newton: _Newton, progress: _Progress, failure: str) -> Solution:
    network = newton.balance.network
    temperature = progress.temperature[None, :]
    zero = np.zeros_like(temperature)
    duty = duties(network, progress.temperature)[None, :]
    through = float(_through(newton, progress).max(initial=0.0))
    residual = float(np.abs(progress.residual).max(initial=0.0))
    instant = np.zeros(1)
    return Solution(
        kind="steady",
        t=instant,
        temperature=temperature,
        duty=duty,
        mean=progress.temperature,
        heater_duty=duty[0],
        switchings=np.zeros(duty.shape[1], dtype=np.int64),
        extremes=Extremes(
            edges=np.zeros((1, 2)),
            lowest=temperature,
            lowest_at=zero,
            highest=temperature,
            highest_at=zero,
        ),
        record=Record(
            time=instant,
            local_time=instant,
            temperature=temperature,
            duty=duty,
            weight=np.ones(1),
        ),
        stats=Stats(
            method=f"Newton with exact Jacobian, {BACK_ENDS[newton.front.kind]}",
            steps=progress.steps,
            evaluations=progress.evaluations,
            factorizations=progress.factorizations,
            iterations=progress.iterations,
            residual=residual / through if through > 0.0 else residual,
        ),
        failure=failure,
    )
