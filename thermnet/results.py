"""One case of a model, solved: everything that margins, figures and reports look at, together."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from thermnet.errors import InputError, Problem
from thermnet.model.assemble import assemble, initial_temperatures
from thermnet.model.model import Model
from thermnet.model.paths import apply_case
from thermnet.model.plan import Plan, plan
from thermnet.network.checks import check
from thermnet.network.network import Network
from thermnet.network.primitives import Floats
from thermnet.solve.solution import Options, Solution


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Result:
    """A solved case.

    `model` has the case applied; `problems` are warnings of the structural checks; a solve that
    failed says so in `solution.failure`.
    """

    model: Model
    plan: Plan
    network: Network
    solution: Solution
    options: Options
    problems: tuple[Problem, ...] = ()

    @property
    def case(self) -> str:
        """Name of the case."""
        return self.plan.name

    def of(self, node: str) -> Floats:
        """Temperatures f8[k] [K] of a node at `solution.t`. Raises KeyError for no such node."""
        return np.asarray(self.solution.temperature[:, self.network.index(node)])


def solve(model: Model, case: str, options: Options = Options()) -> Result:
    """Solve one case of a model as the case says: steady, transient or repeating.

    Raises InputError when the case or the structure of the network cannot be solved; a solver
    that gives up is no exception but `result.solution.failure`.
    """
    applied = apply_case(model, case)
    how = plan(applied, case)
    network = assemble(applied)
    problems = applied.located(check(network))
    errors = [problem for problem in problems if problem.severity == "error"]
    if errors:
        raise InputError(errors)
    solution = _solve(applied, how, network, options)
    return Result(
        model=applied,
        plan=how,
        network=network,
        solution=solution,
        options=options,
        problems=problems,
    )


def solve_cases(
    model: Model,
    cases: Iterable[str] | None = None,
    options: Options = Options(),
    *,
    progress: Callable[[str], None] | None = None,
) -> tuple[Result, ...]:
    """Solve several cases, all unless named; `progress` is told the name of each before it."""
    results = []
    for case in model.cases if cases is None else cases:
        if progress is not None:
            progress(case)
        results.append(solve(model, case, options))
    return tuple(results)


def _solve(model: Model, how: Plan, network: Network, options: Options) -> Solution:
    # Integrators are slow to import, so each is fetched by the kind of solve that needs it.
    if how.solve == "steady":
        from thermnet.solve.steady import steady

        return steady(network, options)
    if how.solve == "repeating":
        from thermnet.solve.cyclic import cyclic

        return cyclic(network, options)
    from thermnet.solve.transient import transient

    start = given_start(model, network) if how.initial == "given" else None
    return transient(network, how.span, options, start=start)


def given_start(model: Model, network: Network) -> Floats:
    """First temperatures f8[n] [K] as the nodes state them.

    A massless node starts in balance whatever is stated. Raises InputError for nodes with heat
    capacity that state none.
    """
    stated = initial_temperatures(model)
    start = np.array([stated.get(name, np.nan) for name in network.names])
    start[network.boundary] = network.boundary_mean
    lacking = np.isnan(start) & (network.capacity > 0.0)
    if lacking.any():
        message = f"missing key 'initial': case '{model.case}' starts from given temperatures"
        paths = dict.fromkeys(network.node_origins[k] for k in np.flatnonzero(lacking))
        raise InputError(model.located(Problem(message=message, path=path) for path in paths))
    return np.where(np.isnan(start), np.nanmean(start), start)
