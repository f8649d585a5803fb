"""Steady states against Newton's method by hand, scipy's root finders and one factorization."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from tests.benchmarks import peers
from tests.benchmarks.measure import Bench, Case, Goal, Row, faster, subject, work
from tests.benchmarks.models import SKETCHES, with_thermostats
from thermnet.network.primitives import Floats
from thermnet.solve.solution import Options, Solution
from thermnet.solve.steady import steady

RIGHT = 1e-3
"""K within which a steady state is right; Newton's last step leaves far less."""


def _from(case: Case, begin: float | Floats) -> Callable[[], Solution]:
    start = np.full(len(case.network.names), begin) if isinstance(begin, float) else begin
    return lambda: steady(case.network, Options(), start=start)


def _ours(case: Case, solution: Solution) -> Floats:
    return solution.temperature[0, case.network.free]


def steady_starts(bench: Bench) -> Row:
    """Newton steps from any start, and the time in units of one factorization."""
    subjects, goals = [], []
    for name in ("p10k", "p50k"):
        case = bench.case(name)
        n = len(case.network.names)
        wild = np.exp(np.random.default_rng(0).uniform(np.log(3.0), np.log(1000.0), n))
        starts: dict[str, float | Floats] = {
            "3 K": 3.0, "293 K": 293.0, "1000 K": 1000.0, "random": wild,
        }  # fmt: skip
        runs: dict[str, Callable[[], Any]] = {key: _from(case, at) for key, at in starts.items()}
        runs["one splu"] = partial(peers.best_factor, case.plain, case.free)
        times = bench.interleaved(runs)
        reference = peers.by_newton(case.plain, dense=False)[0]
        unit = times.pop("one splu")
        for key, timed in times.items():
            error = case.error(_ours(case, timed.result), reference)
            subjects.append(
                subject(f"{name} from {key}", timed, error=error, counts=work(timed.result))
            )
        subjects.append(subject(f"{name} one splu", unit))
        slowest = max(timed.seconds for timed in times.values())
        most = max(timed.result.stats.steps for timed in times.values())
        worst = max(entry.error or 0.0 for entry in subjects)
        goals += [
            Goal(what=f"{name} steps", value=most, limit=6),
            Goal(what=f"{name} time / one splu", value=slowest / unit.seconds, limit=6.0),
            Goal(what=f"{name} error [K]", value=worst, limit=RIGHT),
        ]
    return Row(
        name="steady-starts",
        workload="steady, p10k and p50k from 3, 293, 1000 K and random starts",
        subjects=subjects,
        goals=goals,
    )


def steady_enclosure(bench: Bench) -> Row:
    """A dense enclosure: GMRES over strong links against dense factors."""
    case = bench.case("e5k")
    model = case.plain
    times = bench.interleaved({
        "ours": lambda: steady(case.network),
        "Newton, LAPACK LU": lambda: peers.by_newton(model, dense=True),
        "newton_krylov": lambda: peers.by_newton_krylov(model, factors=False),
        "newton_krylov, our factors": lambda: peers.by_newton_krylov(model, tolerance=1e-8),
    })  # fmt: skip
    reference, steps = times["Newton, LAPACK LU"].result
    ours, krylov = times["ours"], times["newton_krylov"]
    aided = times["newton_krylov, our factors"]
    error = case.error(_ours(case, ours.result), reference)
    by_hand = times["Newton, LAPACK LU"].seconds / ours.seconds
    return Row(
        name="steady-enclosure",
        workload="steady, e5k with a million couplings",
        subjects=[
            subject("ours", ours, error=error, counts=work(ours.result)),
            subject("Newton, LAPACK LU", times["Newton, LAPACK LU"], counts=f"{steps} steps"),
            subject("newton_krylov", krylov, error=case.error(krylov.result, reference)),
            subject("newton_krylov, our factors", aided, error=case.error(aided.result, reference)),
        ],
        goals=[
            faster("LAPACK / ours", by_hand, 25.0),
            faster("newton_krylov / ours", krylov.seconds / ours.seconds, 2.0),
            Goal(what="error [K]", value=error, limit=RIGHT),
        ],
        note="newton_krylov has the diagonal; given our preconditioner it takes "
        f"{aided.seconds / ours.seconds:.3g} times ours",
    )


def steady_long_range(bench: Bench) -> Row:
    """Long-range radiation, which would fill the factors, against none."""
    with_links, without = bench.case("r50k"), bench.case("p50k")
    times = bench.interleaved({
        "r50k": lambda: steady(with_links.network),
        "p50k": lambda: steady(without.network),
    })  # fmt: skip
    reference = peers.by_newton_krylov(with_links.plain, tolerance=1e-9)
    error = with_links.error(_ours(with_links, times["r50k"].result), reference)
    ratio = times["r50k"].seconds / times["p50k"].seconds
    return Row(
        name="steady-long-range",
        workload="steady, r50k against p50k",
        subjects=[
            subject("r50k", times["r50k"], error=error, counts=work(times["r50k"].result)),
            subject("p50k", times["p50k"], counts=work(times["p50k"].result)),
        ],
        goals=[
            Goal(what="r50k / p50k", value=ratio, limit=1.5),
            Goal(what="error [K]", value=error, limit=RIGHT),
        ],
    )


def steady_root(bench: Bench) -> Row:
    """`scipy.optimize.root`, with its exact Jacobian; and both from a start at 3 K."""
    case, small = bench.case("p1k"), bench.case("sat30 without thermostats")
    times = bench.interleaved({
        "ours": _from(case, 293.0),
        "root": lambda: peers.by_root(case.plain, 293.0),
    })  # fmt: skip
    reference = peers.by_newton(case.plain, dense=False)[0]
    error = case.error(_ours(case, times["ours"].result), reference)
    right = peers.by_newton(small.plain, dense=True)[0]
    ours_small = small.error(_ours(small, _from(small, 3.0)()), right)
    ours_cold = case.error(_ours(case, _from(case, 3.0)()), reference)
    root_small = small.error(peers.by_root(small.plain, 3.0).x, right)
    found = times["root"].result
    return Row(
        name="steady-root",
        workload="steady, p1k against optimize.root(hybr) from 293 K; p1k and sat30 from 3 K",
        subjects=[
            subject("ours", times["ours"], error=error, counts=work(times["ours"].result)),
            subject(
                "optimize.root",
                times["root"],
                error=case.error(found.x, reference),
                counts=f"{found.nfev} evaluations",
            ),
        ],
        goals=[
            faster("root / ours", times["root"].seconds / times["ours"].seconds, 50.0),
            Goal(what="error from 3 K [K]", value=max(ours_small, ours_cold), limit=RIGHT),
        ],
        note=f"sat30 from 3 K: root ends {root_small:.3g} K off",
    )


def steady_thermostats(bench: Bench) -> Row:
    """Fifty thermostats: some off, some on, some between."""
    bare = bench.case("p10k")
    name = bare.name
    case = bench.sketched(name, with_thermostats(SKETCHES[name](), bare.free))
    times = bench.interleaved({
        "50 thermostats": lambda: steady(case.network),
        "none": lambda: steady(bare.network),
    })  # fmt: skip
    heated, plain = times["50 thermostats"], times["none"]
    heaters, found = case.plain.heaters, _ours(case, heated.result)
    share = (heaters.off - found[heaters.sensor]) / (heaters.off - heaters.on)
    duty = np.clip(share, 0.0, 1.0)
    given = np.bincount(heaters.node, heaters.power * duty, len(found))
    residual = float(np.abs(case.plain.net(found, case.plain.mean() + given)).max())
    between = int(((duty > 0.0) & (duty < 1.0)).sum())
    return Row(
        name="steady-thermostats",
        workload="steady, p10k with 50 thermostats",
        subjects=[
            subject("50 thermostats", heated, counts=work(heated.result)),
            subject("none", plain, counts=work(plain.result)),
        ],
        goals=[
            Goal(what="steps", value=heated.result.stats.steps, limit=8),
            Goal(what="with / without", value=heated.seconds / plain.seconds, limit=2.5),
            Goal(what="residual [W]", value=residual, limit=1e-6),
        ],
        note=f"off {int((duty == 0.0).sum())}, on {int((duty == 1.0).sum())}, between {between}",
    )
