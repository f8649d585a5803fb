"""Histories against solve_ivp and SUNDIALS, each at the loosest tolerance that reaches 0.01 K."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from tests.benchmarks import peers
from tests.benchmarks.circuit import by_circuit, has_circuit_simulator
from tests.benchmarks.measure import (
    TARGET,
    Bench,
    Case,
    Goal,
    Row,
    Subject,
    accurate,
    faster,
    options,
    subject,
    work,
)  # fmt: skip
from tests.benchmarks.models import SKETCHES, with_thermostats
from tests.benchmarks.sundials import by_cvode
from thermnet.account import account
from thermnet.network.primitives import Floats
from thermnet.solve.solution import Solution

TOLERANCES = 1e-4, 3e-5, 1e-5, 3e-6, 1e-6, 3e-7
"""Relative tolerances tried, loosest first; absolute ones are 1e-4 K."""

CHOSEN_OVER = 2
"""Orbits over which a tolerance is chosen."""

Peer = Callable[..., peers.Course]


def tolerance(case: Case, peer: Peer, reference: Floats) -> float:
    """The loosest with which a peer's error over the first orbits is within the target."""
    orbits = min(CHOSEN_OVER, (len(reference) - 1) // 100)
    times, wanted = peers.outputs(orbits), reference[: orbits * 100 + 1]
    for rtol in TOLERANCES[:-1]:
        found = peer(case.plain, case.free, times, rtol=rtol)
        if case.error(found.temperature, wanted) <= TARGET:
            return rtol
    return TOLERANCES[-1]


def fitting(case: Case, peer: Peer, reference: Floats) -> Callable[[], peers.Course]:
    """A peer at that tolerance, over all of the reference."""
    times = peers.outputs((len(reference) - 1) // 100)
    rtol = tolerance(case, peer, reference)
    return partial(peer, case.plain, case.free, times, rtol=rtol)


def against(
    bench: Bench,
    case: Case,
    orbits: int,
    contenders: dict[str, Peer],
) -> tuple[list[Subject], dict[str, float], Solution]:
    """Ours and some peers over some orbits: subjects, CPU times, and our solution."""
    reference = case.reference(orbits)
    runs: dict[str, Callable[[], Any]] = {"ours": partial(case.transient, orbits, options(orbits))}
    for name, peer in contenders.items():
        runs[name] = fitting(case, peer, reference)
    found = bench.interleaved(runs)
    solution = found["ours"].result
    subjects = [
        subject(
            "ours",
            found["ours"],
            error=case.error(case.outputs(solution), reference),
            counts=work(solution),
        )
    ]
    for name in contenders:
        course = found[name].result
        error = case.error(course.temperature, reference)
        subjects.append(subject(name, found[name], error=error, counts=course.counts))
    return subjects, {name: timed.seconds for name, timed in found.items()}, solution


def transient_mesh(bench: Bench) -> Row:
    """Ten orbits of a mesh: kept factors pay with each orbit."""
    case, orbits = bench.case("p10k"), bench.orbits(10)
    subjects, seconds, solution = against(
        bench, case, orbits, {"solve_ivp BDF": peers.by_scipy, "CVODE, GMRES": by_cvode}
    )
    stats, (factor, solve, evaluate) = solution.stats, _unit_costs(bench, case)
    # Four solves and evaluations a tried step, and one evaluation more a step that is taken.
    solves = stats.evaluations - stats.steps
    floor = stats.factorizations * factor + solves * solve + stats.evaluations * evaluate
    return Row(
        name="transient-mesh",
        workload=f"transient, p10k, {orbits} orbits, 0.01 K",
        subjects=[*subjects, Subject(name="floor: LUs, solves, evaluations", seconds=floor)],
        goals=[
            faster("BDF / ours", seconds["solve_ivp BDF"] / seconds["ours"], 6.0),
            faster("CVODE / ours", seconds["CVODE, GMRES"] / seconds["ours"], 2.5),
            Goal(what="LUs", value=stats.factorizations, limit=20),
            Goal(what="ours / floor", value=seconds["ours"] / floor, limit=1.5),
            accurate(subjects[0]),
        ],
    )


def _unit_costs(bench: Bench, case: Case) -> tuple[float, float, float]:
    """CPU time of one LU, one solve and one heat balance [s], each alone."""
    model, y = case.plain, case.free
    heat, matrix = model.mean(), model.strong().shifted(y, model.capacity / 50.0)
    factor = peers.factored(matrix)
    found = bench.interleaved({
        "factor": lambda: peers.factored(matrix),
        "solves": lambda: [factor(heat) for _ in range(20)],
        "evaluations": lambda: [model.net(y, heat) for _ in range(20)],
    })  # fmt: skip
    return (
        found["factor"].seconds,
        found["solves"].seconds / 20.0,
        found["evaluations"].seconds / 20.0,
    )


def transient_long_range(bench: Bench) -> Row:
    """Long-range radiation fills the factors of everyone who needs the exact Jacobian."""
    case, orbits = bench.case("r1k"), 2
    subjects, seconds, _ = against(
        bench, case, orbits, {"solve_ivp BDF": peers.by_scipy, "CVODE, GMRES": by_cvode}
    )
    with_links, without = bench.case("r50k"), bench.case("p50k")
    large = bench.interleaved({
        "r50k": lambda: with_links.transient(orbits, options(orbits)),
        "p50k": lambda: without.transient(orbits, options(orbits)),
    })  # fmt: skip
    independent = against_cvode(with_links, large["r50k"].result, orbits)
    return Row(
        name="transient-long-range",
        workload="transient, r1k and r50k / p50k, 2 orbits, 0.01 K",
        subjects=[
            *subjects,
            subject("r50k", large["r50k"], error=independent, counts=work(large["r50k"].result)),
            subject("p50k", large["p50k"], counts=work(large["p50k"].result)),
        ],
        goals=[
            faster("r1k: BDF / ours", seconds["solve_ivp BDF"] / seconds["ours"], 50.0),
            Goal(
                what="r50k / p50k",
                value=large["r50k"].seconds / large["p50k"].seconds,
                limit=1.3,
            ),
            accurate(subjects[0]),
            Goal(what="r50k error [K]", value=independent, limit=TARGET),
        ],
        note="the error of r50k is against CVODE at a relative tolerance of 1e-6",
    )


def against_cvode(case: Case, solution: Solution, orbits: int) -> float:
    """Error [K] of ours against CVODE at a tight tolerance."""
    tight = by_cvode(case.plain, case.free, peers.outputs(orbits), rtol=1e-6, atol=1e-5)
    return case.error(case.outputs(solution), tight.temperature)


def small_switching(bench: Bench) -> Row:
    """Thirty nodes and five thermostats, where the interpreter is everything."""
    case, orbits = bench.case("sat30"), 10
    lsoda: Peer = partial(peers.by_scipy, method="LSODA")
    without: Peer = partial(lsoda, exact=False)
    plainly = partial(case.transient, orbits, options(orbits, compiled=False))
    case.transient(1, options(1))  # compiles
    reference = case.reference(orbits)
    found = bench.interleaved({
        "compiled": lambda: case.transient(orbits, options(orbits)),
        "arrays": plainly,
        "solve_ivp LSODA": fitting(case, lsoda, reference),
        "LSODA, own differences": fitting(case, without, reference),
    })  # fmt: skip
    compiled, by_hand = found["compiled"], found["solve_ivp LSODA"]
    subjects = []
    for name, timed in found.items():
        result, ours = timed.result, isinstance(timed.result, Solution)
        counts = work(result) if ours else result.counts
        switchings = int(np.sum(result.switchings))
        rows = case.outputs(result) if ours else result.temperature
        error = case.error(rows, reference)
        subjects.append(
            subject(name, timed, error=error, counts=f"{counts}, {switchings} switchings")
        )
    arrays = found["arrays"].seconds / by_hand.seconds
    kindly = found["arrays"].seconds / found["LSODA, own differences"].seconds
    return Row(
        name="small-switching",
        workload="transient, sat30 with 5 thermostats, 10 orbits, 0.01 K",
        subjects=subjects,
        goals=[
            faster("LSODA / compiled", by_hand.seconds / compiled.seconds, 25.0),
            Goal(what="arrays / LSODA", value=arrays, limit=1.3),
            accurate(*subjects[:2]),
        ],
        note=f"compiled: {compiled.result.stats.method}; arrays / LSODA with its own differences "
        f"{kindly:.3g}",
    )


def switching_mesh(bench: Bench) -> Row:
    """Ten thousand nodes and fifty thermostats, every switching located.

    A sensor that only just reaches its limit makes every instant after it uncertain: errors are
    those of mean temperatures. The tolerance of the other is the one that it needs without
    thermostats.
    """
    bare, orbits = bench.case("p10k"), bench.orbits(10)
    sketch = with_thermostats(SKETCHES[bare.name](), bare.free, unit=2000.0)
    case = bench.sketched(bare.name, sketch)
    rtol = tolerance(bare, peers.by_scipy, bare.reference(CHOSEN_OVER))
    reference = case.reference(orbits).mean(axis=0)
    found = bench.interleaved({
        "ours": partial(case.transient, orbits, options(orbits)),
        "solve_ivp BDF": partial(
            peers.by_scipy, case.plain, case.free, peers.outputs(orbits), rtol=rtol
        ),
    })  # fmt: skip
    ours, by_hand = found["ours"], found["solve_ivp BDF"]
    solution, course = ours.result, by_hand.result
    errors = [
        case.error(rows.mean(axis=0), reference)
        for rows in (case.outputs(solution), course.temperature)
    ]
    switchings = int(solution.switchings.sum())
    return Row(
        name="switching-mesh",
        workload=f"transient, p10k with 50 thermostats, {orbits} orbits",
        subjects=[
            subject(
                "ours",
                ours,
                error=errors[0],
                counts=f"{work(solution)}, {switchings} switchings",
            ),
            subject(
                "solve_ivp BDF, events",
                by_hand,
                error=errors[1],
                counts=f"{course.counts}, {course.switchings} switchings",
            ),
        ],
        goals=[
            faster("BDF with events / ours", by_hand.seconds / ours.seconds, 4.0),
            Goal(
                what="account left open, share",
                value=account(case.network, solution).share,
                limit=1e-3,
            ),
        ],
        note="errors of mean temperatures",
    )


def agreement(bench: Bench) -> Row:
    """One orbit of the small satellite by everyone, the circuit simulator included."""
    case, orbits = bench.case("sat30 without thermostats"), 1
    times, model, start = peers.outputs(orbits), case.plain, case.free
    tight = {"rtol": 1e-8, "atol": 1e-6}
    runs: dict[str, Callable[..., Floats]] = {
        "compiled": lambda: case.outputs(case.transient(orbits, options(orbits))),
        "arrays": lambda: case.outputs(case.transient(orbits, options(orbits, compiled=False))),
        "CVODE, dense": lambda: by_cvode(model, start, times, linear="dense", **tight).temperature,
        "CVODE, GMRES": lambda: by_cvode(model, start, times, **tight).temperature,
    }
    for method in ("BDF", "Radau", "LSODA"):
        by_scipy = partial(peers.by_scipy, model, start, times, method=method, **tight)
        runs[f"solve_ivp {method}"] = lambda run=by_scipy: run().temperature
    if has_circuit_simulator():
        runs["ngspice"] = lambda: by_circuit(model, start, times, reltol=1e-6).temperature
    found = {name: bench.once(run) for name, run in runs.items()}
    reference = found["solve_ivp Radau"].result
    subjects = [
        # The circuit has no value at the very begin.
        subject(name, timed, error=case.error(timed.result[1:], reference[1:]))
        for name, timed in found.items()
    ]
    errors = {entry.name: entry.error or 0.0 for entry in subjects}
    circuit = errors.pop("ngspice", np.inf)
    return Row(
        name="agreement",
        workload="transient, sat30 without thermostats, one orbit, by everyone",
        subjects=subjects,
        goals=[
            Goal(what="error [K]", value=max(errors.values()), limit=TARGET),
            Goal(what="circuit [K]", value=circuit, limit=0.05),
        ],
        note="errors against Radau at 1e-8; the circuit's is with jumps that take a microsecond",
    )
