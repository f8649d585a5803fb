"""Repeating orbits against plain integration, and how their cost grows with size."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path

import numpy as np

from tests.benchmarks import peers
from tests.benchmarks.measure import (
    TARGET,
    TIGHT,
    Bench,
    Case,
    Goal,
    Row,
    Subject,
    faster,
    options,
    subject,
    work,
)
from tests.benchmarks.models import PERIOD, SLOW, panels
from thermnet.network.primitives import Floats
from thermnet.solve.cyclic import cyclic
from thermnet.solve.march import march
from thermnet.solve.solution import Options, Solution
from thermnet.solve.transient import Passed, passed

ROOT = Path(__file__).parents[2]
MICROSATELLITE = ROOT / "cases" / "microsatellite" / "model.yaml"

MOST_PLAIN_ORBITS = 1500
CHECKED_ORBITS = 300
"""Orbits that an independent integrator follows a repeating one, or a tenth in a quick look."""

AT_ONCE = 20
"""Orbits of a long run that are integrated in one call."""

SLOW_FROM = 5.0
"""Time constant in orbits from which on a node counts as slow."""


def plain_orbits(case: Case, closed: Floats) -> int:
    """Orbits that plain integration takes from the steady state of the mean heat.

    Kindly it is told when it is as near as the target to the first temperatures of the answer.
    """
    temperature = case.start
    for number in range(1, MOST_PLAIN_ORBITS + 1):
        temperature = integrated(case, 1, temperature).temperature
        if np.abs(temperature - closed).max() <= TARGET:
            return number
    return MOST_PLAIN_ORBITS


def integrated(
    case: Case,
    orbits: int,
    start: Floats,
    state: Floats | None = None,
    *,
    how: Options = Options(),
) -> Passed:
    """So many orbits from temperatures f8[n] and thermostat states f8[h], without a record."""
    rows = march(case.network, orbits * PERIOD, start, state, how)
    return passed(case.network, rows, start, state)


def moved_by_itself(case: Case, closed: Floats, orbits: int) -> float:
    """K by which LSODA leads away from a repeating state in so many orbits.

    A slow node that was wrong would come back to what is right.
    """
    times = np.array([0.0, orbits * PERIOD])
    followed = peers.by_scipy(case.plain, closed, times, method="LSODA", rtol=1e-7, atol=1e-6)
    return case.error(followed.temperature[-1], closed)


def orbit_slow_node(bench: Bench) -> Row:
    """A node of five days among panels of minutes."""
    subjects, goals = [], []
    for name in ("p96 + slow", "p1k + slow", "p10k + slow"):
        case = bench.case(name)
        right = cyclic(case.network, options(1, accuracy=TIGHT))
        timed = bench.interleaved({name: partial(cyclic, case.network, options(1))})[name]
        error = case.error(case.outputs(timed.result), case.outputs(right))
        subjects.append(subject(name, timed, error=error, counts=work(timed.result)))
        goals += [
            Goal(what=f"{name}: orbits", value=timed.result.stats.passes, limit=6),
            Goal(what=f"{name}: error [K]", value=error, limit=TARGET),
        ]
    plainly, ratios = _against_plain(bench)
    return Row(
        name="orbit-slow-node",
        workload="repeating, p96, p1k and p10k with a 5-day node, 0.01 K",
        subjects=[*subjects, *plainly],
        goals=[*goals, *ratios],
        note="orbits include the one that is recorded; plain integration is told how many it needs",
    )


def _against_plain(bench: Bench) -> tuple[list[Subject], list[Goal]]:
    """The smallest of these against plain integration by the same integrator, with arrays.

    Compiled it would be the same, were it not for what is done once an orbit in Python.
    """
    case = bench.case("p96 + slow")
    arrays, compiled = options(1, compiled=False), options(1)
    closed = cyclic(case.network, options(1, accuracy=TIGHT)).record.temperature[0]
    count = plain_orbits(case, closed)
    times = bench.interleaved({
        "p96 + slow, arrays": partial(cyclic, case.network, arrays),
        "plain, arrays": partial(integrated, case, count, case.start, how=arrays),
        "plain, compiled": partial(integrated, case, count, case.start, how=compiled),
    })  # fmt: skip
    ours = times["p96 + slow, arrays"]
    subjects = [subject("p96 + slow, arrays", ours, counts=work(ours.result))]
    for name in ("plain, arrays", "plain, compiled"):
        error = float(np.abs(times[name].result.temperature - closed).max())
        subjects.append(subject(name, times[name], error=error, counts=f"{count} orbits"))
    orbits = CHECKED_ORBITS // 10 if bench.quick else CHECKED_ORBITS
    first = ours.result.record.temperature[0, case.network.free]
    goals = [
        faster("plain / ours, arrays", times["plain, arrays"].seconds / ours.seconds, 60.0),
        Goal(
            what=f"drift in {orbits} orbits by LSODA [K]",
            value=moved_by_itself(case, first, orbits),
            limit=TARGET,
        ),
    ]
    return subjects, goals


def orbit_thermostats(bench: Bench) -> Row:
    """Thermostats whose cycles never fit the orbit, and a 5-day node that none of them holds."""
    case = bench.case("sat31")
    network, free = case.network, case.network.free
    own = np.arange(len(free))
    constants = case.plain.capacity / -case.plain.jacobian(case.free).toarray()[own, own]
    slow = free[constants > SLOW_FROM * PERIOD]
    timed = bench.once(partial(cyclic, network, options(1)))
    solution: Solution = timed.result
    window = round(solution.span / PERIOD)
    settle, watch = (300, 60) if bench.quick else (3000, 1000)
    truth = long_mean(case, settle, watch)
    errors = np.abs(solution.mean - truth)[slow]
    names = ", ".join(network.names[k] for k in slow)
    return Row(
        name="orbit-thermostats",
        workload="repeating, sat31: 5 thermostats and an uncontrolled 5-day node",
        subjects=[
            subject(
                "ours",
                timed,
                error=float(errors.max()),
                counts=f"{solution.stats.passes - window} orbits + window of {window}",
            )
        ],
        goals=[
            Goal(
                what="orbits before the window",
                value=solution.stats.passes - window,
                limit=30,
            ),
            Goal(what="error of slow means [K]", value=float(errors.max()), limit=0.05),
            Goal(
                what="error of the 5-day node [K]",
                value=float(np.abs(solution.mean - truth)[network.index(SLOW)]),
                limit=0.05,
            ),
        ],
        note=f"against the means of {watch} orbits after {settle}; slow are {names}",
    )


def long_mean(case: Case, settle: int, watch: int) -> Floats:
    """Means [K] of all nodes over many orbits after many others, switchings located."""
    state: Floats | None = np.zeros(len(case.network.thermostats.node))
    start: Floats = np.full(len(case.network.names), 293.0)
    means = []
    for _ in range((settle + watch) // AT_ONCE):
        run = integrated(case, AT_ONCE, start, state)
        start, state = run.temperature, run.state
        means.append(run.mean)
    return np.asarray(np.mean(means[settle // AT_ONCE :], axis=0))


def orbit_microsatellite(bench: Bench) -> Row:
    """A real small model, from inside a process and from the shell."""
    from thermnet.model.read import load
    from thermnet.results import solve

    model = load(MICROSATELLITE)
    solve(model, "hot")  # compiles
    command = [sys.executable, "-m", "thermnet", "solve", "--case", "hot", str(MICROSATELLITE)]
    times = bench.interleaved({
        "inside a process": lambda: solve(model, "hot"),
        "from the shell": lambda: peers.called(command, ROOT),
    })  # fmt: skip
    inside, shell = times["inside a process"], times["from the shell"]
    solution = inside.result.solution
    tight = solve(model, "hot", Options(accuracy=TIGHT)).solution
    error = float(np.abs(solution.mean - tight.mean).max())
    return Row(
        name="orbit-microsatellite",
        workload="repeating, cases/microsatellite, case hot, with its thermostats",
        subjects=[
            subject("inside a process", inside, error=error, counts=work(solution)),
            subject("from the shell", shell),
        ],
        goals=[
            Goal(what="inside a process [s]", value=inside.seconds, limit=0.02),
            Goal(what="from the shell [s]", value=shell.seconds, limit=0.6),
        ],
        note="error of means against an accuracy of 1e-4 K",
    )


GROWTH_ORBITS = 2

SIZES = {"p1k": 13, "p3k": 23, "p10k": 41, "p22k": 60, "p50k": 91}
"""Models of `growth`, and the number of nodes along an edge."""


def growth_measured(bench: Bench) -> tuple[Floats, Floats, Sequence[Subject]]:
    """Nodes, CPU time of one orbit [s], and the subjects, over meshes of rising size."""
    sizes, seconds, subjects = [], [], []
    for name, edge in list(SIZES.items())[: 2 if bench.quick else None]:
        case = bench.sketched(name, panels(edge))
        orbits = GROWTH_ORBITS
        timed = bench.interleaved({name: partial(case.transient, orbits, options(orbits))})[name]
        sizes.append(float(len(case.free)))
        seconds.append(timed.seconds / orbits)
        subjects.append(subject(name, timed, counts=work(timed.result)))
    return np.array(sizes), np.array(seconds), subjects


def exponent(sizes: Floats, seconds: Floats) -> float:
    """The slope of the straight line through the logarithms."""
    return float(np.polyfit(np.log(sizes), np.log(seconds), 1)[0])


def growth(bench: Bench) -> Row:
    """How the cost of an orbit grows from a thousand nodes to fifty thousand."""
    sizes, seconds, subjects = growth_measured(bench)
    return Row(
        name="growth",
        workload="transient, meshes of 1,000 to 50,000 nodes, 2 orbits",
        subjects=subjects,
        goals=[Goal(what="exponent", value=exponent(sizes, seconds), limit=1.2)],
    )
