"""What one writes by hand with general libraries, given the same arrays and the same restarts.

scipy's integrators and root finders here; `sundials.py` and `circuit.py` hold two more. Integrators
begin again at every jump and kink, as ours does: they would else step over the edges of the shadow.
Each takes the exact Jacobian, sparse or dense as suits it.
"""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Literal

import numpy as np
from scipy.integrate import solve_ivp
from scipy.linalg import lu_factor, lu_solve
from scipy.optimize import newton_krylov, root
from scipy.sparse import csc_array
from scipy.sparse.linalg import LinearOperator, splu

from tests.benchmarks.models import PERIOD
from tests.benchmarks.plain import Plain, Stretch
from thermnet.network.primitives import Floats

ORDERED: dict[str, Any] = {
    "permc_spec": "MMD_AT_PLUS_A",
    "diag_pivot_thresh": 0.0,
    "relax": 1,
    "options": {"SymmetricMode": True},
}
"""The best order that SuperLU has for these matrices, measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """Temperatures f8[k, n] [K] at the outputs, and the counts to tell."""

    temperature: Floats
    counts: str
    evaluations: int = 0
    factorizations: int = 0
    switchings: int = 0


def outputs(orbits: int, *, each: int = 100) -> Floats:
    """Instants [s] at which temperatures are compared, from the begin on."""
    return np.linspace(0.0, orbits * PERIOD, orbits * each + 1)


def by_scipy(
    model: Plain,
    start: Floats,
    times: Floats,
    *,
    method: Literal["BDF", "Radau", "LSODA"] = "BDF",
    rtol: float,
    atol: float = 1e-4,
    exact: bool = True,
) -> Course:
    """`solve_ivp` with the `exact` Jacobian, from stretch to stretch, and to every switching.

    Thermostats are terminal events in the direction that matters to each; one that begins below
    its lower limit is on at once.
    """
    heaters, y = model.heaters, start
    on = y[heaters.sensor] <= heaters.on
    rows, evaluations, factors, switchings = [start[None]], 0, 0, 0
    # LSODA takes no sparse Jacobian, and a large dense one is slower than its own differences.
    given = exact and (method != "LSODA" or model.dense is not None)
    slopes: dict[str, Any] = {"jac": lambda _t, y: model.rates(y)} if given else {}
    for stretch in model.stretches(0.0, float(times[-1]), PERIOD):
        now = stretch.begin
        while now < stretch.end - 1e-9:
            heated = np.bincount(heaters.node, heaters.power * on, len(start)).astype(float)
            reported = times[(times > now) & (times <= stretch.end)]
            run: Any = solve_ivp(
                _rate(model, stretch, heated),
                (now, stretch.end),
                y,
                method=method,
                t_eval=np.unique(np.append(reported, stretch.end)),
                rtol=rtol,
                atol=atol,
                **slopes,
                events=_events(model, on),
            )
            evaluations, factors = evaluations + run.nfev, factors + run.nlu
            if run.status == 1:
                fired = np.array([len(found) > 0 for found in run.t_events])
                now = float(min(found[0] for found in run.t_events if len(found)))
                y = next(found[0] for found in run.y_events if len(found))
                on, switchings = on ^ fired, switchings + int(fired.sum())
                if len(run.t):
                    rows.append(run.y.T)
            else:
                now, y = stretch.end, run.y[:, -1]
                rows.append(run.y[:, : len(reported)].T)
    return Course(
        temperature=np.concatenate(rows),
        counts=f"{evaluations} evaluations, {factors} LUs",
        evaluations=evaluations,
        factorizations=factors,
        switchings=switchings,
    )


def _rate(model: Plain, stretch: Stretch, heated: Floats) -> Callable[[float, Floats], Floats]:
    return lambda t, y: model.net(y, stretch.heat(t) + heated) / model.capacity


def _events(model: Plain, on: np.ndarray[Any, Any]) -> list[Callable[[float, Floats], float]]:
    heaters = model.heaters
    levels = np.where(on, heaters.off, heaters.on)
    events = []
    for sensor, level, rising in zip(heaters.sensor, levels, on, strict=True):

        def event(_t: float, y: Floats, sensor: int = sensor, level: float = level) -> float:
            return float(y[sensor] - level)

        event.terminal = True  # type: ignore[attr-defined]
        event.direction = 1.0 if rising else -1.0  # type: ignore[attr-defined]
        events.append(event)
    return events


def by_root(model: Plain, begin: float) -> Any:
    """`scipy.optimize.root`, method hybr, with the exact Jacobian, from one temperature [K]."""
    heat = model.mean()

    def net(y: Floats) -> Floats:
        return model.net(y, heat)

    def slopes(y: Floats) -> Floats:
        return np.asarray(model.jacobian(y).toarray())

    return root(net, np.full(len(heat), begin), jac=slopes, tol=1e-10)


def by_newton_krylov(model: Plain, *, factors: bool = True, tolerance: float = 1e-6) -> Floats:
    """`scipy.optimize.newton_krylov` from 293 K, preconditioned.

    With the `factors` of what our preconditioner holds, or with the diagonal. The tolerance is a
    share of the largest heat into a node.
    """
    heat, begin = model.mean(), np.full(len(model.capacity), 293.0)
    if factors:
        solve = factored(model.strong().shifted(begin, np.zeros(len(begin))))
    else:
        own = -model.jacobian(begin).diagonal()
        solve = partial(np.multiply, 1.0 / own)
    inner = LinearOperator(
        (len(begin), len(begin)), matvec=lambda right: -solve(right), dtype=np.float64
    )
    found = newton_krylov(
        lambda y: model.net(y, heat),
        begin,
        inner_M=inner,
        f_tol=tolerance * float(np.abs(heat).max()),
    )
    return np.asarray(found)


def by_newton(model: Plain, *, dense: bool) -> tuple[Floats, int]:
    """Newton's method as ours takes it, each matrix factored whole; and the number of steps.

    Dense by LAPACK, or sparse by SuperLU in its best order.
    """
    heat, uniform = model.mean(), np.full(len(model.capacity), 280.0)
    factor = _lapack_factor if dense else best_factor
    y = np.clip(uniform + factor(model, uniform)(model.net(uniform, heat)), 3.0, 2000.0)
    steps, step = 0, y
    while np.abs(step).max() >= 1e-6:
        steps += 1
        step = factor(model, y)(model.net(y, heat))
        by_power = y * np.maximum(1.0 + 4.0 * step / y, 1e-4) ** 0.25
        y = np.where(np.abs(step) < 0.1 * y, y + step, by_power)
    return y, steps


def _lapack_factor(model: Plain, y: Floats) -> Callable[[Floats], Floats]:
    matrix = (-model.jacobian(y)).toarray(order="F")
    factors = lu_factor(matrix, overwrite_a=True, check_finite=False)
    return lambda right: np.asarray(lu_solve(factors, right, check_finite=False))


def best_factor(model: Plain, y: Floats) -> Callable[[Floats], Floats]:
    """One `splu` of the Jacobian in its best order: the yardstick of steady solves."""
    return factored(-model.jacobian(y))


def factored(matrix: csc_array) -> Callable[[Floats], Floats]:
    solve: Callable[[Floats], Floats] = splu(matrix, **ORDERED).solve
    return solve


def called(command: list[str], folder: Path) -> str:
    """Run a program and return what it printed. Raises CalledProcessError when it fails.

    It keeps its bytecode as it would by default, whatever the caller does.
    """
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    run = subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, text=True, check=True
    )
    return run.stdout
