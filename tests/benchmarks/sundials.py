"""SUNDIALS' CVODE through scikit-sundae, given the same restarts and the same preconditioner."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import Any, Literal

import numpy as np
from scipy.sparse.linalg import splu

from tests.benchmarks.models import PERIOD
from tests.benchmarks.peers import ORDERED, Course
from tests.benchmarks.plain import Plain, Stretch
from thermnet.network.primitives import Floats


def by_cvode(
    model: Plain,
    start: Floats,
    times: Floats,
    *,
    rtol: float,
    atol: float = 1e-4,
    linear: Literal["dense", "gmres"] = "gmres",
) -> Course:
    """SUNDIALS' CVODE, dense or GMRES over factors of what our preconditioner holds too."""
    cvode: Any = import_module("sksundae.cvode")
    rows, y, evaluations = [start[None]], start, 0
    preconditioner = _Preconditioned(model)
    options: dict[str, Any] = {"rtol": rtol, "atol": atol, "max_num_steps": 100_000}
    if linear == "gmres":
        options |= {
            "linsolver": "gmres",
            "krylov_dim": 10,
            "precond": cvode.CVODEPrecond(preconditioner.setup, preconditioner.solve, "right"),
            "jactimes": cvode.CVODEJacTimes(None, preconditioner.product),
        }
    else:

        def filled(_t: float, y: Floats, _yp: Floats, slopes: Floats) -> None:
            rates: Any = model.rates(y)
            slopes[:] = rates

        options |= {"linsolver": "dense", "jacfn": filled}
    for stretch in model.stretches(0.0, float(times[-1]), PERIOD):
        reported = times[(times > stretch.begin + 1e-9) & (times < stretch.end - 1e-9)]
        # With three instants or more it reports at these, with two at every step.
        middle = (stretch.begin + stretch.end) / 2.0
        asked = reported if len(reported) else np.array([middle])
        instants = np.concatenate([[stretch.begin], asked, [stretch.end]])
        run = cvode.CVODE(_rate(model, stretch), **options).solve(instants, y)
        if not run.success:
            raise RuntimeError(run.message)
        evaluations, y = evaluations + int(run.nfev), run.y[-1]
        rows.append(run.y[1 : 1 + len(reported)])
        if bool((np.abs(times - stretch.end) <= 1e-9).any()):
            rows.append(y[None])
    return Course(
        temperature=np.concatenate(rows),
        counts=f"{evaluations} evaluations, {preconditioner.made} LUs",
        evaluations=evaluations,
        factorizations=preconditioner.made,
    )


def _rate(model: Plain, stretch: Stretch) -> Callable[[float, Floats, Floats], None]:
    def rate(t: float, y: Floats, yp: Floats) -> None:
        yp[:] = model.net(y, stretch.heat(t)) / model.capacity

    return rate


class _Preconditioned:
    """The callbacks of CVODE's GMRES; keeps the last factor."""

    def __init__(self, model: Plain) -> None:
        self.model, self.part = model, model.strong()
        self.factor: Any = None
        self.made = 0

    def setup(
        self, _t: float, y: Floats, _yp: Floats, _ok: int, new: list[int], gamma: float
    ) -> None:
        matrix = self.part.shifted(np.array(y), self.model.capacity / gamma)
        self.factor = splu(matrix, **ORDERED)
        self.made += 1
        new[0] = 1

    def solve(
        self,
        _t: float,
        _y: Floats,
        _yp: Floats,
        right: Floats,
        solved: Floats,
        gamma: float,
        _delta: float,
        _side: int,
    ) -> None:
        solved[:] = self.factor.solve(self.model.capacity * right / gamma)

    def product(self, _t: float, y: Floats, _yp: Floats, v: Floats, result: Floats) -> None:
        model = self.model
        through = model.conduction @ v + model.radiation @ (4.0 * y**3 * v)
        result[:] = through / model.capacity
