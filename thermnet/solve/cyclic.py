"""The repeating orbit: the state that comes back after one period, without running hundreds.

A pass is one integration over the period. The change over a pass is corrected for the slow modes
by the mean heat balance, and passes are mixed by Anderson's method. The stop rule is the
corrected change, an estimate of the error; the plain change per pass says nothing where a node
has a time constant of days.

Thermostats that switch have a cycle of their own, so in general nothing repeats with the orbit.
Then the orbit is first closed with each thermostat acting proportionally about the middle of its
band, and from there real switching is followed through windows of whole periods until their
means stop drifting; the last window is the result.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thermnet.network.network import Network, boundary_temperatures, capacities, duties
from thermnet.network.primitives import Flags, Floats, Indices
from thermnet.solve.closure import partition
from thermnet.solve.control import COLDEST
from thermnet.solve.drift import Gain, gain_of
from thermnet.solve.events import first_state
from thermnet.solve.march import Machinery, march
from thermnet.solve.solution import Options, Solution
from thermnet.solve.steady import steady
from thermnet.solve.steps import MarchError
from thermnet.solve.transient import Work, collect, passed

MEMORY = 5
"""Earlier passes that Anderson's method mixes."""

MOST_PASSES = 60

FIRST_PASSES = 10.0
"""Accuracy of the first passes, as a multiple of that of the last."""

AIM = 0.5
"""Share of the accuracy for the estimated error that ends the passes; the step that is then taken
leaves about a third of it, and integration has errors of its own."""

NEW_GAINS = 2
"""Passes after which the mean Jacobian is taken anew; then it is known well enough."""

FINE_BELOW = 10.0
"""Estimated error, as a multiple of the accuracy of the first passes, that calls for fine ones."""

NARROW = 0.1
"""Share of a thermostat's band over which it acts proportionally while the orbit is closed."""

SETTLING = 2
"""Periods of real switching before the first window."""

FIRST_WINDOW = 4
"""Periods in the first window; each further one is twice as long."""

CYCLES = 2
"""Whole cycles that a window must hold of every heater that cycles."""

DRIFT_SHARE = 5.0
"""Remaining drift of the slowest node, as a multiple of the accuracy, that counts as none: the
phases of the heaters move means by about as much."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Closed:
    """The closed orbit's first temperatures f8[n], the range of each node in it, and the work."""

    temperature: Floats
    passes: int
    estimate: float
    lowest: Floats
    highest: Floats
    work: Work
    failure: str = ""


def cyclic(
    network: Network, options: Options = Options(), *, start: Floats | None = None
) -> Solution:
    """Find the repeating history of a network whose histories have a finite period.

    `start` f8[n] [K] is by default the steady state of the mean heat. `stats.passes` counts the
    integrations over one period, `stats.error_estimate` [K] is the last corrected change (without
    switching thermostats) or the remaining drift of the slowest node (with them), and
    `stats.notes` say which of the two it was. Raises ValueError for an infinite period.

    Sources: Anderson, J. ACM 12 (1965) 547 for the mixing (from memory); the slow-mode correction
    (I - M)^-1 ~ I - X^-1 with M = exp(X), X = P C^-1 J, is derived in the documentation.
    """
    period = network.histories.period
    if not np.isfinite(period):
        raise ValueError("a repeating solution needs a period")
    middle = _middled(network)
    if start is None:
        before = steady(middle, options)
        if before.failure:
            return replace(before, kind="repeating")
        start = before.temperature[0]
    try:
        closing = Machinery(network=middle)
        closed = close_orbit(middle, start, options, closing)
        machines = Machinery(network=network, factors=closing.factors)
        if closed.failure:
            return _record(network, closed, None, options, machines)
        if not _switches(network, middle, closed):
            state = np.round(duties(middle, closed.temperature))
            return _record(network, closed, state, options, machines)
        return _windows(network, middle, closed, options, machines)
    except MarchError as error:
        return replace(steady(middle, options), kind="repeating", failure=str(error))


def _middled(network: Network) -> Network:
    """The network with every thermostat's band narrowed about its middle."""
    stats = network.thermostats
    half = NARROW * (stats.off - stats.on) / 2.0
    middle = (stats.off + stats.on) / 2.0
    return replace(network, thermostats=replace(stats, on=middle - half, off=middle + half))


def close_orbit(network: Network, start: Floats, options: Options, machines: Machinery) -> _Closed:
    """Accelerated fixed point of the one-period map, thermostats proportional."""
    massive, _ = partition(network)
    period = network.histories.period
    aim = AIM * options.accuracy
    rough = replace(options, accuracy=FIRST_PASSES * options.accuracy)
    temperature, work = start.copy(), Work()
    points: list[Floats] = []
    changes: list[Floats] = []
    estimate, failure, gain = np.inf, "", None
    for number in range(1, MOST_PASSES + 1):
        fine = estimate < FINE_BELOW * rough.accuracy
        how = options if fine else rough
        steps = march(network, period, temperature, None, how, machines)
        orbit = passed(network, steps, temperature, None)
        work = work.plus(orbit.work)
        if gain is None or number <= NEW_GAINS:
            gain = gain_of(network, orbit.mean, machines.front)
        before = temperature[massive]
        corrected = gain.corrected(orbit.temperature - temperature, period)[massive]
        estimate = float(np.abs(corrected).max(initial=0.0))
        if fine and estimate < aim:
            following = before + corrected
        else:
            points, changes = [*points, before][-MEMORY:], [*changes, corrected][-MEMORY:]
            capacity = capacities(network, temperature)[massive]
            following = before + corrected - _mixed(points, changes, capacity)
        temperature = _with(orbit.temperature, massive, np.maximum(following, COLDEST))
        if fine and estimate < aim:
            break
    else:
        worst = network.names[massive[int(np.argmax(np.abs(changes[-1])))]]
        failure = (
            f"the orbit does not close: after {MOST_PASSES} passes '{worst}' is still "
            f"{estimate:.3g} K away; look for a link or a curve that lets two states exist"
        )
    return _Closed(
        temperature=temperature,
        passes=number,
        estimate=estimate,
        lowest=orbit.lowest,
        highest=orbit.highest,
        work=work,
        failure=failure,
    )


def _mixed(points: list[Floats], changes: list[Floats], capacity: Floats) -> Floats:
    """Anderson's correction from the passes so far; large capacities [J/K] weigh more."""
    if len(points) < 2:
        return np.zeros_like(points[-1])
    steps = np.diff(np.array(points), axis=0).T
    turns = np.diff(np.array(changes), axis=0).T
    weight = np.sqrt(capacity + 1e-3 * capacity.max())[:, None]
    share = np.linalg.lstsq(weight * turns, weight[:, 0] * changes[-1], rcond=1e-8)[0]
    return np.asarray((steps + turns) @ share)


def _with(temperature: Floats, massive: Indices, values: Floats) -> Floats:
    changed = temperature.copy()
    changed[massive] = values
    return changed


def _switches(network: Network, middle: Network, closed: _Closed) -> bool:
    """Whether any sensor enters its true band in the closed orbit, so that a heater may switch."""
    stats = network.thermostats
    if len(stats.node) == 0:
        return False
    lowest, highest = closed.lowest.copy(), closed.highest.copy()
    instants = np.append(network.histories.instants, network.instants)
    before = np.nextafter(instants, -np.inf)  # the earlier side of a jump
    imposed = boundary_temperatures(network, np.append(instants, before))
    lowest[network.boundary], highest[network.boundary] = imposed.min(axis=0), imposed.max(axis=0)
    lowest, highest = lowest[stats.sensor], highest[stats.sensor]
    always_off = lowest > stats.on
    always_off &= lowest > middle.thermostats.off  # no heat while closing, so none is missing
    always_on = highest < middle.thermostats.on
    return bool((~(always_off | always_on)).any())


def _record(
    network: Network,
    closed: _Closed,
    state: Floats | None,
    options: Options,
    machines: Machinery,
) -> Solution:
    """One period from the closed state, recorded."""
    period = network.histories.period
    first = first_state(network, closed.temperature, state)
    steps = march(network, period, closed.temperature, first, options, machines)
    solution = collect(
        network,
        "repeating",
        steps,
        options,
        notes=("repeats with the period",),
        passes=closed.passes + 1,
        error_estimate=closed.estimate,
        before=closed.work,
    )
    return replace(solution, failure=closed.failure) if closed.failure else solution


def _windows(
    network: Network, middle: Network, closed: _Closed, options: Options, machines: Machinery
) -> Solution:
    """Follow real switching, window by window, until one holds whole cycles and does not drift."""
    stats, period = network.thermostats, network.histories.period
    gain = gain_of(middle, closed.temperature, machines.front)
    free = gain.time_constants() > period
    free[stats.sensor] = False
    state: Floats | None = first_state(
        network, closed.temperature, np.round(duties(middle, closed.temperature))
    )
    settling = march(network, SETTLING * period, closed.temperature, state, options, machines)
    settled = passed(network, settling, closed.temperature, state)
    temperature, state = settled.temperature, settled.state
    passes, width, drift = closed.passes + SETTLING, FIRST_WINDOW, np.inf
    work = closed.work.plus(settled.work)
    while True:
        steps = march(network, width * period, temperature, state, options, machines)
        solution = collect(network, "repeating", steps, options, before=work)
        work = Work.so_far(solution.stats)
        passes += width
        remaining = np.where(free, _remaining(solution, gain, free), 0.0)
        before, drift = drift, float(np.abs(remaining).max(initial=0.0))
        cycling = (solution.switchings > 0) | _waiting(network, solution, options)
        short = cycling & (solution.switchings <= 2 * CYCLES)  # the last cycle must end
        steadied = drift < DRIFT_SHARE * options.accuracy
        if solution.failure or (steadied and not short.any()) or width >= options.largest_window:
            break
        temperature, state = solution.record.temperature[-1], solution.record.duty[-1]
        # A correction is taken only while it helps; a heater's phase can look like drift.
        if not steadied and drift < before:
            temperature = np.where(free, np.maximum(temperature + remaining, COLDEST), temperature)
        width = min(2 * width, options.largest_window)
    return _described(network, solution, width, drift, steadied, short, passes)


def _waiting(network: Network, solution: Solution, options: Options) -> Flags:
    """Which heaters did not switch but would: the sensor inside its band and under way.

    Under way is what moves by half the band within the largest window.
    """
    stats, record = network.thermostats, solution.record
    first = record.time < solution.span / 2.0
    means = [
        record.weight[half] @ record.temperature[half][:, stats.sensor] / record.weight[half].sum()
        for half in (first, ~first)
    ]
    rate = np.abs(means[1] - means[0]) / (solution.span / 2.0)
    reach = rate * options.largest_window * network.histories.period
    inside = (means[1] > stats.on) & (means[1] < stats.off)
    still = solution.switchings == 0
    return np.asarray(still & inside & (reach > 0.5 * (stats.off - stats.on)))


def _remaining(solution: Solution, gain: Gain, free: Flags) -> Floats:
    """What the slow nodes still have to move [K], from the means of both halves of a window."""
    record = solution.record
    first = record.time < solution.span / 2.0
    means = [
        record.weight[half] @ record.temperature[half] / record.weight[half].sum()
        for half in (first, ~first)
    ]
    rate = np.where(free, (means[1] - means[0]) / (solution.span / 2.0), 0.0)
    return gain.remaining(rate, ~free)


def _described(
    network: Network,
    solution: Solution,
    width: int,
    drift: float,
    steadied: bool,
    short: Flags,
    passes: int,
) -> Solution:
    """The solution with duties over whole heater cycles and notes on what was done."""
    duty, whole = _whole_cycles(network, solution)
    notes = [f"heaters switch, so nothing repeats exactly; means and extremes over {width} periods"]
    if short.any():
        origins = [network.origins[k] for k in network.thermostats.origin[short]]
        notes.append(f"fewer than {CYCLES} whole cycles in the window: {', '.join(origins)}")
    if not steadied:
        notes.append(f"means still drift; the slowest node may move {drift:.2g} K more")
    return replace(
        solution,
        heater_duty=np.where(whole, duty, solution.heater_duty),
        stats=replace(solution.stats, passes=passes, error_estimate=drift, notes=tuple(notes)),
    )


def _whole_cycles(network: Network, solution: Solution) -> tuple[Floats, Flags]:
    """Duty of each heater over whole cycles, and whether there are two.

    From its first switching on to its last, or off to off, whichever comes more often.
    """
    record = solution.record
    count = record.duty.shape[1]
    duty, whole = np.zeros(count), np.zeros(count, dtype=bool)
    for k in range(count):
        change = np.diff(record.duty[:, k])
        edges = max((np.flatnonzero(sign * change > 0.0) + 1 for sign in (1.0, -1.0)), key=len)
        if len(edges) > CYCLES and network.thermostats.enabled[k] < 0:
            inside = slice(edges[0], edges[-1])
            weight = record.weight[inside]
            duty[k] = weight @ record.duty[inside, k] / weight.sum()
            whole[k] = True
    return duty, whole
