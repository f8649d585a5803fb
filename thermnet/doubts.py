"""What is doubtful about a solved case: numbers used beyond where they are known to be good."""

from __future__ import annotations

import numpy as np

from thermnet.errors import Problem
from thermnet.model.assemble import surroundings
from thermnet.model.kinds import KINDS
from thermnet.model.kinds.kind import Seen, no_doubts
from thermnet.model.model import Model
from thermnet.model.plan import Plan
from thermnet.network.network import Network, flows
from thermnet.network.subset import blocks, subset
from thermnet.solve.solution import Solution
from thermnet.solve.steady import recorded
from thermnet.text.rows import rows_of


def doubtful(model: Model, how: Plan, network: Network, solution: Solution) -> tuple[Problem, ...]:
    """Warnings about the entries of a model with a case applied and solved, located.

    Each kind says for its single entries what to doubt. None for a case that is not solved.
    """
    asked = [
        (section, kind) for section, kind in KINDS.items()
        if kind.doubts is not no_doubts and model.sections[section]
    ]  # fmt: skip
    if solution.failure or not asked:
        return ()
    around, went = surroundings(model, how), seen(network, solution)
    problems = [
        Problem(message=message, path=path, severity="warning")
        for section, kind in asked
        for name, entry in model.sections[section].items()
        if rows_of(entry) is None
        for path, message in kind.doubts(name, entry, f"{section}.{name}", around, went)
    ]
    return model.located(problems)


def seen(network: Network, solution: Solution) -> Seen:
    """What a solved case went through. The heat of a path is worked out when it is asked for."""
    extremes = solution.extremes
    lowest, highest = extremes.lowest.min(axis=0), extremes.highest.max(axis=0)
    return Seen(
        lowest=dict(zip(network.names, lowest.tolist(), strict=True)),
        highest=dict(zip(network.names, highest.tolist(), strict=True)),
        most=lambda path: _most(network, solution, path),
        steady=solution.kind == "steady",
    )


def _most(network: Network, solution: Solution, path: str) -> float:
    """The most heat [W] through all links of a path: half the sum of what each carries."""
    network = recorded(network, solution)
    own = np.array([origin == path for origin in network.origins])
    few = subset(
        network,
        links=own[network.links.origin],
        flow_links=own[network.flow_links.origin],
    )
    record, found = solution.record, 0.0
    numbers = few.histories.start.shape[-1] + len(few.links.a) + len(few.flow_links.a)
    for part in blocks(len(record.time), numbers):
        carried = np.abs(flows(few, record.temperature[part], record.local_time[part]))
        found = max(found, float(carried.sum(axis=1).max()) / 2.0)
    return found
