"""The heat that holds one node at a temperature in a case: solved with that temperature imposed.

Nothing is searched for. The node is held, all else comes into balance around it, and what then has
to be given to the node is the power that a heater on it needs (an energy balance).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermnet.errors import InputError, Problem
from thermnet.model.checks import problems_of_network
from thermnet.model.kinds.heater import Heater
from thermnet.model.model import Model
from thermnet.model.paths import apply_case, vary
from thermnet.model.plan import Plan, plan
from thermnet.network.held import heat_to_hold, held
from thermnet.network.network import Network
from thermnet.network.primitives import Floats
from thermnet.power import settled
from thermnet.results import roughened
from thermnet.solve.solution import Options, Solution

LOOKED_AT = 200
"""Places within a step at which a power that changes its sign there is looked at."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Held:
    """A case solved with one node held at a temperature.

    `model` has the case applied, and no heat from the heaters `off`, whose place the power takes.
    `network` is that in which the node is imposed, a steady one with time means. `power` f8[q] [W]
    is what has to be given to the node at the samples of the record, below zero where it would be
    warmer by itself.
    """

    model: Model
    plan: Plan
    network: Network
    solution: Solution
    power: Floats
    off: tuple[str, ...]

    @property
    def mean(self) -> float:
        """Mean power needed [W]; instants at which heat would have to be taken away count 0."""
        weight = self.solution.record.weight
        if self.solution.kind == "steady":
            return self.peak
        return float(_positive(self.power, weight) / weight.sum())

    @property
    def peak(self) -> float:
        """Most power needed at one instant [W], 0 where none ever is."""
        return float(max(self.power.max(), 0.0))


def _positive(power: Floats, weight: Floats) -> float:
    """Integral [J] of what lies above zero of a power f8[q] [W] at the samples of a record.

    In steps within which it changes its sign, the quadrature of the record would see too little of
    the kink: there the polynomial through the samples is looked at in many places.
    """
    from thermnet.solve.steps import LOBATTO, lagrange

    steps, weights = power.reshape(-1, len(LOBATTO)), weight.reshape(-1, len(LOBATTO))
    bent = (steps.min(axis=1) < 0.0) & (steps.max(axis=1) > 0.0)
    found = float((weights[~bent] * np.maximum(steps[~bent], 0.0)).sum())
    looked = (np.arange(LOOKED_AT) + 0.5) / LOOKED_AT
    between = np.maximum(steps[bent] @ lagrange(looked).T, 0.0)
    return found + float(weights[bent].sum(axis=1) @ between.mean(axis=1))


def hold(
    model: Model,
    case: str,
    node: str,
    temperature: float,
    options: Options = Options(),
    *,
    off: tuple[str, ...] = (),
) -> Held:
    """Solve a steady or repeating case with a node held at a temperature [K].

    Every heater that heats the node is off, and those named in `off`; one that has failed on stays
    on. Other heaters work as the case has them. The heat needed takes nothing from a battery.

    Raises InputError for a transient case, for what the case or the network cannot be solved with,
    and for no such node; a solver that gives up is no exception but `solution.failure`.
    """
    applied = apply_case(model, case)
    how = plan(applied, case)
    if how.solve == "transient":
        message = (
            f"case '{case}' is transient: the power that holds a node is that of a steady case or "
            "of one that repeats"
        )
        raise InputError(applied.located([Problem(message=message, path=f"cases.{case}.solve")]))
    silent = _silent(applied, node, off)
    if silent:
        changes = {f"heaters.{name}.failed": "off" for name in silent}
        applied = apply_case(vary(model, changes), case)
    solved: list[Network] = []

    def solve(network: Network, rough: bool) -> Solution:
        imposed = _imposed(network, node, temperature)
        problems = problems_of_network(applied, imposed)
        errors = [problem for problem in problems if problem.severity == "error"]
        if errors:
            raise InputError(errors)
        solved[:] = [imposed]
        return _solve(imposed, how, roughened(options) if rough else options)

    _, solution, _ = settled(applied, how, solve)
    network = _as_solved(solved[-1], how)
    record, place = solution.record, network.index(node)
    power = heat_to_hold(network, place, record.temperature, record.local_time, record.duty)
    return Held(
        model=applied, plan=how, network=network, solution=solution, power=power, off=silent
    )


def _silent(applied: Model, node: str, off: tuple[str, ...]) -> tuple[str, ...]:
    """Heaters that the heat takes the place of, in the order of the file."""
    entries = applied.entries(Heater, "heaters")
    return tuple(
        name
        for name, entry in entries.items()
        if (name in off or node in entry.nodes) and entry.failed != "on"
    )


def _imposed(network: Network, node: str, temperature: float) -> Network:
    try:
        return held(network, network.index(node), temperature)
    except KeyError:
        raise InputError([Problem(message=f"unknown node '{node}'")]) from None
    except ValueError as error:
        raise InputError([Problem(message=str(error))]) from None


def _solve(network: Network, how: Plan, options: Options) -> Solution:
    # Integrators are slow to import, so each is fetched by the kind of solve that needs it.
    if how.solve == "steady":
        from thermnet.solve.steady import steady

        return steady(network, options)
    from thermnet.solve.cyclic import cyclic

    return cyclic(network, options)


def _as_solved(network: Network, how: Plan) -> Network:
    if how.solve != "steady":
        return network
    from thermnet.solve.steady import averaged

    return averaged(network)
