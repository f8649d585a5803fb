"""The steady state: Newton on the heat balance, with the exact Jacobian."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csc_array, diags_array
from scipy.sparse.csgraph import connected_components

from thermnet.network.network import (
    Network,
    boundary_temperatures,
    duties,
    flows,
    heat,
    heater_powers,
    jacobian_data,
    sources,
)
from thermnet.network.primitives import Floats, Indices
from thermnet.solve.linear import Block, block, factorized
from thermnet.solve.solution import Extremes, Options, Record, Solution, Stats

START = 280.0
"""K at which the first linearised solve is made; a start near every spacecraft temperature."""

COLDEST, HOTTEST = 0.01, 5000.0
"""K between which iterates are kept."""

RELATIVE_RESIDUAL = 1e-11
"""Unbalanced heat at a node, as a share of the heat through it, that is as good as rounding."""


@dataclass(slots=True)
class _Progress:
    temperature: Floats
    residual: Floats
    through: Floats
    steps: int = 0
    factorizations: int = 0
    evaluations: int = 0


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
    part = block(network.pattern, network.free, network.free)
    initial = _start(network, start)
    progress = _evaluate(network, _Progress(initial, initial, initial), initial)
    failure = ""
    try:
        if options.linearised_start:
            progress = _linearised(network, part, progress)
        progress = _iterate(network, part, progress)
        if not _balanced(network, progress):
            progress = _iterate(network, part, _relaxed(network, part, progress))
    except ZeroDivisionError:
        failure = _reason(network, progress)
    if not failure and not _balanced(network, progress):
        failure = _reason(network, progress)
    return _solution(network, progress, failure)


def averaged(network: Network) -> Network:
    """The network with every history replaced by its time mean."""
    histories = network.histories
    mean = histories.mean()[None, :]
    grid = np.array([histories.instants[0], histories.instants[-1]])
    return replace(network, histories=replace(histories, instants=grid, start=mean, stop=mean))


def _start(network: Network, start: Floats | None) -> Floats:
    temperature = np.full(len(network.names), START) if start is None else start.astype(float)
    temperature[network.boundary] = boundary_temperatures(network, 0.0)
    return temperature


def _evaluate(network: Network, before: _Progress, temperature: Floats) -> _Progress:
    """The state at a new temperature: residual of free nodes [W] and heat through each node."""
    free = network.free
    return _Progress(
        temperature=temperature,
        residual=heat(network, temperature, 0.0)[free],
        through=throughput(network, temperature)[free],
        steps=before.steps,
        factorizations=before.factorizations,
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


def _newton_step(network: Network, part: Block, progress: _Progress, brake: float) -> Floats:
    """Newton's step of the free nodes, each diagonal enlarged by the share `brake`."""
    matrix = part.matrix(-jacobian_data(network, progress.temperature, 0.0))
    if brake > 0.0:
        added = brake * np.maximum(np.abs(matrix.diagonal()), 1e-12)
        dense = isinstance(matrix, np.ndarray)
        matrix = matrix + np.diag(added) if dense else csc_array(matrix + diags_array(added))
    progress.factorizations += 1
    return factorized(matrix)(progress.residual)


def _linearised(network: Network, part: Block, progress: _Progress) -> _Progress:
    """One plain Newton step from a uniform 280 K, so that a wild start does not matter."""
    uniform = _start(network, None)
    at_start = _evaluate(network, progress, uniform)
    step = _newton_step(network, part, at_start, 0.0)
    moved = uniform.copy()
    moved[network.free] = np.clip(uniform[network.free] + step, COLDEST, HOTTEST)
    return _evaluate(network, at_start, moved)


def moved(old: Floats, step: Floats) -> Floats:
    """Apply a Newton step to T where it is small, to T^4 where it is large (same linear system)."""
    by_power = old * np.maximum(1.0 + 4.0 * step / old, 1e-4) ** 0.25
    new = np.where(np.abs(step) < 0.1 * old, old + step, by_power)
    return np.asarray(np.minimum(np.maximum(new, COLDEST), HOTTEST))


def _moved(
    network: Network, progress: _Progress, step: Floats, *, plainly: bool = False
) -> _Progress:
    """The state after a step, applied as `moved` does or, plainly, to T alone."""
    old = progress.temperature[network.free]
    temperature = progress.temperature.copy()
    plain = np.minimum(np.maximum(old + step, COLDEST), HOTTEST)
    temperature[network.free] = plain if plainly else moved(old, step)
    return _evaluate(network, progress, temperature)


def _size(progress: _Progress) -> float:
    return float(np.abs(progress.residual).sum())


def _iterate(network: Network, part: Block, progress: _Progress, most: int = 400) -> _Progress:
    """Newton steps; where the total residual grows, repeat with a brake on the diagonal."""
    brake = 0.0
    polished = 0
    for _ in range(most if len(network.free) else 0):
        step = _newton_step(network, part, progress, brake)
        candidate = _moved(network, progress, step)
        worse = not _size(candidate) <= _size(progress)
        if worse:
            # Strong conduction between nodes is kept by equal steps of T, not of T^4.
            other = _moved(network, progress, step, plainly=True)
            candidate = candidate if _size(candidate) <= _size(other) else other
            worse = not _size(candidate) <= _size(progress)
        change = np.abs(candidate.temperature - progress.temperature).max()
        if worse and _balanced(network, progress):
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
        if polished >= 2 or (polished and _settled(progress)):
            break
    return progress


def _relaxed(network: Network, part: Block, progress: _Progress, most: int = 400) -> _Progress:
    """Follow the nodes through pseudo-time: a step counts where the linear balance foretold it.

    The total residual may grow on the way, which gets past places where it is smallest but not
    zero. The brake is one over the step of pseudo-time, in units of each node's time constant.
    """
    brake = 3.0  # with no power of two is a falling slope of one node cancelled exactly
    for _ in range(most):
        step = _newton_step(network, part, progress, brake)
        candidate = _moved(network, progress, step, plainly=True)
        slopes = part.matrix(jacobian_data(network, progress.temperature, 0.0))
        taken = (candidate.temperature - progress.temperature)[network.free]
        missed = np.abs(candidate.residual - progress.residual - slopes @ taken).sum()
        forward = float(taken @ progress.residual) > 0.0
        if forward and missed <= 0.5 * _size(progress):
            brake *= 0.5 if missed > 0.1 * _size(progress) else 0.25
            candidate.steps = progress.steps + 1
            progress = candidate
        else:
            brake *= 4.0
            progress.evaluations = candidate.evaluations
        if brake < 1e-6 or brake > 1e9 or _balanced(network, progress):
            break
    return progress


def _settled(progress: _Progress) -> bool:
    scale = progress.through + 1e-9 * progress.through.max(initial=0.0) + 1e-12
    return bool((np.abs(progress.residual) <= RELATIVE_RESIDUAL * scale).all())


def _balanced(network: Network, progress: _Progress) -> bool:
    """True when what is unbalanced is below 1e-8 of the heat passing and moves nothing 1e-6 K."""
    if len(progress.residual) == 0:
        return True
    if not np.isfinite(progress.residual).all():
        return False
    total = progress.through.max()
    slopes = np.abs(jacobian_data(network, progress.temperature, 0.0))
    rows = np.bincount(network.pattern.indices, slopes, len(network.names))
    rounding = 1e-14 * (rows * progress.temperature.max())[network.free]
    small = np.abs(progress.residual) <= 1e-8 * progress.through + 1e-11 * total + rounding
    return bool(small.all())


def _cut_off(network: Network) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Which free nodes no link joins to a boundary node, however indirectly."""
    links, carried, n = network.links, network.flow_links, len(network.names)
    factor = np.append(network.histories.at(0.0), 1.0)
    strength = links.strength * factor[links.history], carried.rate * factor[carried.history]
    weight = np.concatenate(strength)
    ends = np.concatenate([links.a, carried.a]), np.concatenate([links.b, carried.b])
    graph = csc_array((weight, ends), shape=(n, n))
    graph.eliminate_zeros()
    _, island = connected_components(graph, directed=False)
    return np.asarray(~np.isin(island[network.free], island[network.boundary]))


def _reason(network: Network, progress: _Progress) -> str:
    cut_off = _cut_off(network)
    order = np.lexsort((-np.abs(progress.residual), ~cut_off))[:3]
    free = network.free
    worst = ", ".join(
        f"'{network.names[free[k]]}' ({progress.residual[k]:+.3g} W at "
        f"{progress.temperature[free[k]]:.1f} K)"
        for k in order
    )
    if cut_off.any():
        cause = (
            f"no link joins {_named(network, free[cut_off])} to a boundary node, so that nothing "
            "fixes its temperature"
        )
    elif (progress.temperature[free] >= HOTTEST).any():
        cause = "heat has no sufficient way out of the hottest nodes: look for a missing link"
    elif (progress.temperature[free] <= COLDEST).any():
        cause = "more heat is taken out than is there: look for negative heat or a curve at zero"
    elif network.thermostats.node.size or (network.links.curve >= 0).any():
        cause = "a thermostat band or a curve may be too steep: widen the band or smooth the curve"
    else:
        cause = "strengths of the links at these nodes may differ too much: see `check`"
    return f"no steady state found; worst balance at {worst}; likely cause: {cause}"


def _named(network: Network, nodes: Indices, most: int = 3) -> str:
    names = ", ".join(f"'{network.names[k]}'" for k in nodes[:most])
    return names if len(nodes) <= most else f"{names} and {len(nodes) - most} more"


def _solution(network: Network, progress: _Progress, failure: str) -> Solution:
    temperature = progress.temperature[None, :]
    zero = np.zeros_like(temperature)
    duty = duties(network, progress.temperature)[None, :]
    through = float(progress.through.max(initial=0.0))
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
            method="Newton with exact Jacobian",
            steps=progress.steps,
            evaluations=progress.evaluations,
            factorizations=progress.factorizations,
            residual=residual / through if through > 0.0 else residual,
        ),
        failure=failure,
    )
