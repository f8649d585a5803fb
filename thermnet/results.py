"""One case of a model, solved: everything that margins, figures and reports look at, together."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np

from thermnet.doubts import doubtful
from thermnet.errors import InputError, Problem
from thermnet.model.assemble import initial_temperatures
from thermnet.model.checks import problems_of_network
from thermnet.model.kinds.kind import Drawn
from thermnet.model.model import Model
from thermnet.model.paths import apply_case
from thermnet.model.plan import Plan, plan
from thermnet.model.starts import starts
from thermnet.network.network import Network, boundary_temperatures, storing
from thermnet.network.primitives import Floats
from thermnet.power import charge_at_end, settled
from thermnet.solve.solution import Options, Solution


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Result:
    """A solved case.

    `model` has the case applied; `problems` are warnings of the structural checks, and of entries
    used beyond what they are good for; a solve that failed says so in `solution.failure`. `drawn`
    is what is taken from solar cells, by path, with
    which the network was assembled; empty without a battery. `begins` is the share of charge with
    which the battery comes from another case, None where it does not.
    """

    model: Model
    plan: Plan
    network: Network
    solution: Solution
    options: Options
    problems: tuple[Problem, ...] = ()
    drawn: Mapping[str, Drawn] = field(default_factory=dict)
    begins: float | None = None

    @property
    def case(self) -> str:
        """Name of the case."""
        return self.plan.name

    def of(self, node: str) -> Floats:
        """Temperatures f8[k] [K] of a node at `solution.t`. Raises KeyError for no such node."""
        return np.asarray(self.solution.temperature[:, self.network.index(node)])


ROUGH = 10.0
"""Times as inaccurate as asked for that a solve may be that only shows the way."""

SAME_POINT = 1.0
"""s by which two points of an orbit may lie apart and still count as one."""


def solve(
    model: Model,
    case: str,
    options: Options = Options(),
    before: Mapping[str, Result] = MappingProxyType({}),
) -> Result:
    """Solve one case of a model as the case says: steady, transient or repeating.

    A case that starts at the end of another has that one solved first, with the same changes of
    the caller; `before` are results of this model, by case, that need not be solved again.

    Raises InputError when the case or the structure of the network cannot be solved, or when cases
    start at each other's end; a solver that gives up is no exception but
    `result.solution.failure`.
    """
    applied = apply_case(model, case)
    known = dict(before)
    for name in starts(model, case):
        if name not in known:
            known[name] = _solved(apply_case(model, name), options, known)
    return _solved(applied, options, known)


def solve_cases(
    model: Model,
    cases: Iterable[str] | None = None,
    options: Options = Options(),
    *,
    progress: Callable[[str], None] | None = None,
) -> tuple[Result, ...]:
    """Solve several cases, all unless named; `progress` is told the name of each before it.

    None is solved twice: a case that others start after is solved before the first of them.
    """
    chosen = model.cases if cases is None else model.solved_as(cases)
    known: dict[str, Result] = {}
    for case in chosen:
        applied = apply_case(model, case)
        for name in (*starts(applied, case), case):
            if name in known:
                continue
            if progress is not None:
                progress(name)
            known[name] = _solved(apply_case(model, name), options, known)
    return tuple(known[case] for case in chosen)


def _solved(applied: Model, options: Options, known: Mapping[str, Result]) -> Result:
    """One case, which has been applied; `known` holds the case at whose end it starts."""
    how = plan(applied, applied.case)
    earlier = known[how.after] if how.solve == "transient" and how.after is not None else None
    problems: list[Problem] = []

    last: list[Floats] = []  # where the solve before ended, from which the next one may start

    def solved(network: Network, rough: bool) -> Solution:
        problems[:] = problems_of_network(applied, network)
        errors = [problem for problem in problems if problem.severity == "error"]
        if errors:
            raise InputError(errors)
        precise = roughened(options) if rough else options
        found = _solve(applied, how, network, precise, earlier, last[-1] if last else None)
        if not found.failure:
            last[:] = [found.record.temperature[-1]]
        return found

    begins = None
    if earlier is not None:
        begins = charge_at_end(earlier.model, earlier.plan, earlier.solution, earlier.begins)
    network, solution, drawn = settled(applied, how, solved, begins)
    if earlier is not None:
        problems += applied.located(_elsewhere(how, earlier.plan))
        unknown = begins is None and earlier.solution.kind != "steady"
        if unknown and applied.sections["batteries"]:
            message = (
                f"case '{earlier.case}' does not say what the battery holds at its end: it begins "
                "with the share that it states itself, 'begins'"
            )
            path = f"cases.{how.name}.after"
            problems += applied.located([Problem(message=message, path=path, severity="warning")])
    problems += doubtful(applied, how, network, solution)
    return Result(
        model=applied,
        plan=how,
        network=network,
        solution=solution,
        options=options,
        problems=tuple(problems),
        drawn=drawn,
        begins=begins,
    )


def roughened(options: Options) -> Options:
    """Options for a solve that only shows the way to the next one."""
    return replace(options, accuracy=ROUGH * options.accuracy, largest_window=1)


def _solve(
    model: Model,
    how: Plan,
    network: Network,
    options: Options,
    earlier: Result | None,
    near: Floats | None,
) -> Solution:
    """`near` f8[n] [K] are temperatures near those at which a repeating case begins."""
    # Integrators are slow to import, so each is fetched by the kind of solve that needs it.
    if how.solve == "steady":
        from thermnet.solve.steady import steady

        return steady(network, options)
    if how.solve == "repeating":
        from thermnet.solve.cyclic import cyclic

        return cyclic(network, options, start=near)
    from thermnet.solve.transient import transient, unsolved

    if earlier is not None:
        if earlier.solution.failure:
            failure = f"case '{earlier.case}', after which it starts, is not solved: "
            return unsolved(network, "transient", failure + earlier.solution.failure)
        try:
            start, state = end_of(earlier, network)
        except ValueError as error:
            problem = Problem(message=str(error), path=f"cases.{how.name}.after")
            raise InputError(model.located([problem])) from None
        return transient(network, how.span, options, start=start, state=state)
    given = given_start(model, network) if how.initial == "given" else None
    return transient(network, how.span, options, start=given)


def end_of(earlier: Result, network: Network) -> tuple[Floats, Floats | None]:
    """Temperatures f8[n] [K] and thermostat states f8[h] of a network where another case ends.

    They are those of the nodes and heaters of the same names; boundaries are imposed as the
    network's own case has them, and massless nodes that the other case does not have are brought
    into balance anyway. A steady state has no thermostat states. Raises ValueError for nodes with
    heat capacity that the other case does not have.
    """
    record = earlier.solution.record
    known = dict(zip(earlier.network.names, record.temperature[-1].tolist(), strict=True))
    start = np.array([known.get(name, np.nan) for name in network.names])
    start[network.boundary] = boundary_temperatures(network, 0.0)
    lacking = np.isnan(start)
    if names := [f"'{network.names[k]}'" for k in np.flatnonzero(lacking & storing(network))]:
        raise ValueError(
            f"has other nodes than case '{earlier.case}', after which it starts: {', '.join(names)}"
        )
    start[lacking] = np.nanmean(start)
    if earlier.solution.kind == "steady":
        return start, None
    states = dict(zip(_thermostats(earlier.network), record.duty[-1].tolist(), strict=True))
    return start, np.array([states.get(each, 0.0) for each in _thermostats(network)])


def _thermostats(network: Network) -> list[tuple[str, str]]:
    """What tells thermostats apart in every case: the path of the heater, and the heated node."""
    stats = network.thermostats
    return [
        (network.origins[origin], network.names[node])
        for origin, node in zip(stats.origin, stats.node, strict=True)
    ]


def _elsewhere(how: Plan, earlier: Plan) -> Iterable[Problem]:
    """A warning where another case ends at another point of the orbit than this one starts at."""
    turn = None if earlier.sky is None else earlier.sky.period
    if turn is None or how.sky is None or how.sky.period is None or earlier.solve == "steady":
        return
    beyond = earlier.span % turn
    if min(beyond, turn - beyond) > SAME_POINT:
        message = (
            f"case '{earlier.name}' ends {beyond:.0f} s into its orbit of {turn:.0f} s, and this "
            f"case starts at the beginning of one: let '{earlier.name}' last {turn - beyond:.1f} s "
            f"longer, or {beyond:.1f} s less"
        )
        yield Problem(message=message, path=f"cases.{how.name}.after", severity="warning")


def given_start(model: Model, network: Network) -> Floats:
    """First temperatures f8[n] [K] as the nodes state them.

    A massless node starts in balance whatever is stated. Raises InputError for nodes with heat
    capacity that state none.
    """
    stated = initial_temperatures(model)
    start = np.array([stated.get(name, np.nan) for name in network.names])
    start[network.boundary] = network.boundary_mean
    lacking = np.isnan(start) & storing(network)
    if lacking.any():
        message = f"missing key 'initial': case '{model.case}' starts from given temperatures"
        paths = dict.fromkeys(network.node_origins[k] for k in np.flatnonzero(lacking))
        raise InputError(model.located(Problem(message=message, path=path) for path in paths))
    return np.where(np.isnan(start), np.nanmean(start), start)
