"""Many cases of a small model, and gradients by every number of a large one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from importlib import import_module
from importlib.util import find_spec
from typing import Any

import numpy as np
from scipy.optimize import root
from scipy.sparse import coo_array

from tests.benchmarks.measure import Bench, Case, Goal, Row, faster, options, subject, work
from tests.benchmarks.models import PERIOD, SKETCHES, Sketch, network
from thermnet.network.network import Network
from thermnet.network.primitives import Floats
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.solve.cyclic import cyclic
from thermnet.solve.solution import Options, Solution
from thermnet.solve.steady import steady
from thermnet.solve.transient import transient

ONE_BY_ONE = 3
"""Cases of a repeating orbit that the Python integrator solves; its time is scaled up."""


def missing(name: str) -> bool:
    """Whether a part of the package is not there yet."""
    return find_spec(name) is None


def sweeps(bench: Bench) -> Row:
    """A thousand cases: radiative couplings within 30 %, loads within 20 %."""
    workload = "1,000 cases of sat30: steady states, repeating orbits"
    if missing("thermnet.solve.many"):
        return Row(name="sweeps", workload=workload, note="not built")
    many: Any = import_module("thermnet.solve.many")
    variants_of: Any = import_module("thermnet.solve.variants")
    name = "sat30 without thermostats"
    case, sketch, count = bench.case(name), SKETCHES[name](), 100 if bench.quick else 1000
    random = np.random.default_rng(0)
    exchange = random.uniform(0.7, 1.3, (count, len(sketch.radiation[0])))
    loads = random.uniform(0.8, 1.2, (count, 1))
    links, heats = case.network.links, case.network.heats
    strength = np.tile(links.strength, (count, 1))
    strength[:, links.groups[1] :] *= exchange
    variants = variants_of.Variants(strength=strength, amplitude=loads * heats.amplitude)
    systems = _systems(case, sketch, exchange, loads)
    many.steady_many(case.network, variants)  # compiles
    found = bench.interleaved({
        "steady, compiled": lambda: many.steady_many(case.network, variants),
        "steady, arrays": lambda: many.steady_many(case.network, variants, Options(compiled=False)),
        "steady, loop over optimize.root": lambda: np.array([_solved(*one) for one in systems]),
    })  # fmt: skip
    reference = found["steady, loop over optimize.root"].result
    right = np.array([_is_steady(*one, y) for one, y in zip(systems, reference, strict=True)])
    free = case.network.free
    errors = {
        key: float(np.abs(found[key].result.temperature[:, free] - reference)[right].max())
        for key in ("steady, compiled", "steady, arrays")
    }
    few = [variants_of.variant(case.network, variants, k) for k in range(ONE_BY_ONE)]
    many.cyclic_many(case.network, variants)  # compiles
    orbits = bench.interleaved({
        "repeating, compiled": lambda: many.cyclic_many(case.network, variants),
        "repeating, one by one": lambda: [cyclic(one, Options(compiled=False)) for one in few],
    })  # fmt: skip
    orbit, singles = orbits["repeating, compiled"], orbits["repeating, one by one"]
    wanted = np.array([solution.mean for solution in singles.result])
    off = float(np.abs(orbit.result.mean[:ONE_BY_ONE] - wanted).max())
    alone = found["steady, loop over optimize.root"].seconds
    return Row(
        name="sweeps",
        workload=workload,
        subjects=[
            *(subject(key, timed, error=errors.get(key)) for key, timed in found.items()),
            subject(
                "repeating, compiled",
                orbit,
                error=off,
                counts=f"{orbit.result.passes.mean():.1f} orbits each",
            ),
            subject("repeating, one by one", singles, counts=f"{ONE_BY_ONE} cases"),
        ],
        goals=[
            faster("root / compiled", alone / found["steady, compiled"].seconds, 40.0),
            faster("root / arrays", alone / found["steady, arrays"].seconds, 4.0),
            faster(
                "repeating: one by one / compiled",
                singles.seconds / ONE_BY_ONE / (orbit.seconds / count),
                60.0,
            ),
            Goal(what="error [K]", value=max(*errors.values(), off), limit=0.01),
        ],
        note=f"CPU time of all threads; root fails in {int((~right).sum())} cases",
    )


System = tuple[Floats, Floats, Floats]
"""Dense matrices of conduction and radiation, and heat."""


def _systems(case: Case, sketch: Sketch, exchange: Floats, loads: Floats) -> list[System]:
    """Every case as it is handed to scipy's root finder: dense arrays, made before."""
    model, n = case.plain, len(sketch.names)
    conduction = model.conduction.toarray()
    a, b, area = sketch.radiation
    rows, columns = np.concatenate([a, b, a, b]), np.concatenate([b, a, a, b])
    warm = model.mean() - STEFAN_BOLTZMANN * 3.0**4 * np.bincount(a[b == n], area[b == n], n)
    systems = []
    for share, load in zip(exchange, loads, strict=True):
        link = STEFAN_BOLTZMANN * area * share
        values = np.concatenate([link, link, -link, -link])
        radiation = coo_array((values, (rows, columns)), shape=(n + 1, n + 1)).toarray()
        heat = load * warm + radiation[:n, n] * 3.0**4
        systems.append((conduction, radiation[:n, :n], heat))
    return systems


def _solved(conduction: Floats, radiation: Floats, heat: Floats) -> Floats:
    def net(y: Floats) -> Floats:
        return heat + conduction @ y + radiation @ y**4

    def slopes(y: Floats) -> Floats:
        return conduction + radiation * (4.0 * y**3)

    return root(net, np.full(len(heat), 293.0), jac=slopes, tol=1e-10).x


def _is_steady(conduction: Floats, radiation: Floats, heat: Floats, y: Floats) -> bool:
    net = heat + conduction @ y + radiation @ y**4
    return bool((y > 0.0).all() and np.abs(net).max() < 1e-6)


FURTHER = 10
"""Outputs more, to find what one costs with the factor at hand."""

STEP = 5e-3
"""Relative change for differences."""


def gradients(bench: Bench) -> Row:
    """One solve backwards for every load, conductance and area of ten thousand nodes."""
    workload = "gradients of one node by every number of p10k: steady, and its peak in 2 orbits"
    if missing("thermnet.solve.adjoint"):
        return Row(name="gradients", workload=workload, note="not built")
    adjoint: Any = import_module("thermnet.solve.adjoint")
    case = bench.case("p10k")
    net, name = case.network, f"node {len(case.free) // 2 + 7}"
    mean, highest = (adjoint.of_node(net, name, kind) for kind in ("mean", "highest"))
    others = [adjoint.of_node(net, f"node {k}", "mean") for k in range(FURTHER)]
    state = steady(net)
    forward = partial(transient, net, 2 * PERIOD, options(2))
    history = forward()
    found = bench.interleaved({
        "steady": partial(steady, net),
        "its gradients": partial(adjoint.gradients, net, state, [mean]),
        f"and of {FURTHER} nodes more": partial(adjoint.gradients, net, state, [mean, *others]),
        "2 orbits": forward,
        "gradients of a peak": partial(adjoint.gradients, net, history, [highest]),
    })  # fmt: skip
    node = net.index(name)

    def steadily(network: Network) -> float:
        return float(steady(network).temperature[0, node])

    def peak(network: Network) -> float:
        solution: Solution = transient(network, 2 * PERIOD, Options(accuracy=1e-3))
        return float(solution.extremes.highest[:, node].max())

    sketch = SKETCHES[case.name]()
    errors = [
        _off(net, sketch, found[key].result[0], value)
        for key, value in (("its gradients", steadily), ("gradients of a peak", peak))
    ]
    seconds = {key: timed.seconds for key, timed in found.items()}
    more = f"and of {FURTHER} nodes more"
    each = (seconds[more] - seconds["its gradients"]) / FURTHER
    count = len(net.links.a) + len(net.heats.node)
    return Row(
        name="gradients",
        workload=workload,
        subjects=[
            subject("steady", found["steady"], counts=work(state)),
            subject("its gradients", found["its gradients"], counts=f"{count:,} numbers"),
            subject(more, found[more]),
            subject("2 orbits", found["2 orbits"], counts=work(history)),
            subject("gradients of a peak", found["gradients of a peak"]),
        ],
        goals=[
            Goal(
                what="gradients of one node more / steady",
                value=each / seconds["steady"],
                limit=0.02,
            ),
            Goal(
                what="gradients / 2 orbits",
                value=seconds["gradients of a peak"] / seconds["2 orbits"],
                limit=1.2,
            ),
            Goal(what="steady off differences, share", value=errors[0], limit=1e-3),
            Goal(what="peak off differences, share", value=errors[1], limit=1e-3),
        ],
        note="one node more shares the factor; differences are of whole solves, with all "
        "conduction, radiation or heat scaled together",
    )


def _off(net: Network, sketch: Sketch, gradient: Any, value: Callable[[Network], float]) -> float:
    """Largest relative difference between gradients and central differences."""
    edge = net.links.groups[1]
    by_strength = gradient.strength * net.links.strength
    sums = {
        "conduction": float(by_strength[:edge].sum()),
        "radiation": float(by_strength[edge:].sum()),
        "heat": float((gradient.amplitude * net.heats.amplitude).sum()),
    }
    return max(abs(total / _difference(sketch, what, value) - 1.0) for what, total in sums.items())


def _difference(sketch: Sketch, what: str, value: Callable[[Network], float]) -> float:
    """Change of a value when everything of one kind changes, by its relative change."""
    values = [value(network(_scaled(sketch, what, 1.0 + e).parts())) for e in (STEP, -STEP)]
    return (values[0] - values[1]) / (2.0 * STEP)


def _scaled(sketch: Sketch, what: str, factor: float) -> Sketch:
    if what == "heat":
        return replace(sketch, heat=factor * sketch.heat, lit=factor * sketch.lit)
    a, b, strength = getattr(sketch, what)
    return replace(sketch, **{what: (a, b, factor * strength)})
