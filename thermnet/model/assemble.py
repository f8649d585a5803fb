"""From a model with a case applied to a network: loop over the kinds and concatenate."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from thermnet.errors import InputError, Problem
from thermnet.model.between import Between
from thermnet.model.exterior import exteriors
from thermnet.model.histories import Timing
from thermnet.model.kinds import KINDS
from thermnet.model.kinds.atmosphere import Atmosphere, between
from thermnet.model.kinds.battery import Battery, misuses
from thermnet.model.kinds.component import Component
from thermnet.model.kinds.contact import Contact, contact
from thermnet.model.kinds.face import Faces, surrounded
from thermnet.model.kinds.fastener import Fastener, fastener
from thermnet.model.kinds.finish import Finish, emittance, finish
from thermnet.model.kinds.gas import Gas
from thermnet.model.kinds.heater import Heater
from thermnet.model.kinds.kind import Drawn, Surroundings
from thermnet.model.kinds.limit import Limit
from thermnet.model.kinds.load import Loads
from thermnet.model.kinds.loop import Loop
from thermnet.model.kinds.material import Material, material
from thermnet.model.kinds.node import Node, Nodes, initial_of
from thermnet.model.kinds.plume import Plume
from thermnet.model.kinds.radiation import Couplings
from thermnet.model.kinds.schedule import Schedule
from thermnet.model.kinds.separator import Separator, separators
from thermnet.model.kinds.surface import Absorbed, BySchedule, Surface
from thermnet.model.kinds.unit import Unit
from thermnet.model.made import clashes
from thermnet.model.model import Model
from thermnet.model.paths import apply_case
from thermnet.model.plan import Plan, period_in, plan
from thermnet.model.shelf import Shelf
from thermnet.model.surfaces import path_of, surfaces_of
from thermnet.model.surrounded import Surrounded
from thermnet.model.tables_by_time import last_instant
from thermnet.model.usable import problems_of_materials
from thermnet.network.build import build
from thermnet.network.network import Network
from thermnet.network.parts import History, Part


def assemble(
    model: Model, case: str | None = None, drawn: Mapping[str, Drawn] = MappingProxyType({})
) -> Network:
    """The network of a model in a case; the case is applied first unless it has been.

    `drawn` is what is drawn from solar cells, by path, all that they can give unless known.

    Raises InputError for a schedule that does not fit the case's period or what follows it, and
    for nodes without an initial temperature where the case starts from given ones.
    """
    if case is not None and case != model.case:
        model = apply_case(model, case)
    if not model.case:
        raise ValueError("say which case to assemble")
    problems = list(_out_of_range(model))
    try:
        how = plan(model, model.case)
    except InputError as error:
        raise InputError([*model.located(problems), *error.problems]) from None
    problems += misuses(model.entries(Battery, "batteries"), model.entries(Surface, "surfaces"))
    taken = {*model.names()["nodes"], *model.names()["boundaries"]}
    problems += clashes(model.sections, taken)
    problems += problems_of_materials(model)
    problems += [*_without_start(model, how), *_misfits(model, how), *_without_voltage(model, how)]
    if problems:
        raise InputError(model.located(problems))
    around = replace(surroundings(model, how), drawn=drawn)
    parts: list[Part] = []
    for section, kind in KINDS.items():
        for name, entry in model.sections[section].items():
            path = f"{section}.{name}"
            try:
                parts.extend(kind.expansion(entry)(name, entry, path, around))
            except ValueError as error:
                problems.append(Problem(message=str(error), path=path))
    if problems:
        raise InputError(model.located(problems))
    period = how.span if how.solve == "repeating" else float("inf")
    end = how.span if how.solve == "transient" else None
    return build(parts, period=period, instants=_instants(model, how), end=end)


def surroundings(model: Model, how: Plan) -> Surroundings:
    """What entries look up: histories over the case's span, or means for a steady case."""
    around = Surroundings(
        histories={},
        means={},
        bus_voltage=how.bus_voltage,
        rows=model.tables("nodes"),
        exterior=exteriors(model, how, how.span),
        timing=Timing(
            span=how.span,
            repeating=how.solve == "repeating",
            orbit=None if how.sky is None else how.sky.period,
        ),
        repeated=how.schedules,
        activity=how.activity,
        atmosphere=_atmosphere(model, how),
        separators=separators(model.entries(Separator, "separators")),
        shelf=_shelf(model, how),
    )
    around = replace(around, faces=faces_of(model, around))
    if how.solve == "steady":
        means = {name: points.mean(how.span) for name, points in how.schedules.items()}
        return replace(around, means=means)
    histories = {name: points.history(how.span) for name, points in how.schedules.items()}
    if how.solve == "repeating":
        histories = {name: _within(history, how.span) for name, history in histories.items()}
    return replace(around, histories=histories)


def faces_of(model: Model, around: Surroundings) -> dict[str, Surrounded]:
    """The faces of each table of faces. Raises InputError for what is wrong with them."""
    found, problems = {}, []
    for name, entry in model.entries(Faces, "faces").items():
        try:
            found[name] = surrounded(entry, around)
        except ValueError as error:
            problems.append(Problem(message=str(error), path=f"faces.{name}"))
    if problems:
        raise InputError(model.located(problems))
    return found


def _shelf(model: Model, how: Plan) -> Shelf:
    """What entries may look up by name in a case."""
    finishes, materials = model.entries(Finish, "finishes"), model.entries(Material, "materials")
    fasteners, contacts = model.entries(Fastener, "fasteners"), model.entries(Contact, "contacts")
    return Shelf(
        emittance=lambda name: emittance(finish(name, finishes), how.life),
        material=lambda name: material(name, materials),
        fastener=lambda name: fastener(name, fasteners),
        contact=lambda name: contact(name, contacts),
    )


def _atmosphere(model: Model, how: Plan) -> Between | None:
    """The gas between the layers of blankets in a case. Raises InputError where it does not fit,
    and where its pressure changes and the case starts from a steady state, which has no pressure.
    """
    if how.atmosphere is None:
        return None
    entries, gases = model.entries(Atmosphere, "atmospheres"), model.entries(Gas, "gases")
    try:
        gas = between(how.atmosphere, entries, gases, how.span if how.solve == "transient" else 0)
    except ValueError as error:
        problem = Problem(message=str(error), path=f"atmospheres.{how.atmosphere}")
        raise InputError(model.located([problem])) from None
    if isinstance(gas.pressure, History) and how.initial == "steady" and how.after is None:
        message = (
            "the pressure changes: start at the end of a case at the first pressure (`after`), or "
            "from given temperatures (`initial: given`)"
        )
        problem = Problem(message=message, path=f"cases.{how.name}")
        raise InputError(model.located([problem]))
    return gas


def problems_of_cases(model: Model) -> list[Problem]:
    """Everything that is wrong with the cases of a model: their paths, values and schedules."""
    problems: dict[tuple[str, str], Problem] = {}
    for case in model.cases:
        try:
            assemble(model, case)
        except InputError as error:
            for problem in error.problems:
                problems.setdefault((problem.path, problem.message), problem)
        except ValueError as error:
            problem = Problem(message=str(error), path=f"cases.{case}")
            problems.setdefault((problem.path, problem.message), problem)
    return list(problems.values())


def _out_of_range(model: Model) -> Iterator[Problem]:
    """Values of schedules that would make absorbed heat negative, or a heater more than on."""
    schedules = model.entries(Schedule, "schedules")
    for name, (path, most) in _bounded(model).items():
        for k, value in enumerate(schedules[name].value):
            if not 0.0 <= value <= most:
                side = "at least 0" if value < 0.0 else f"at most {most:g}"
                message = f"must be {side}, got {value:g}: '{path}' follows this schedule"
                yield Problem(message=message, path=f"schedules.{name}.value.{k}")


def _bounded(model: Model) -> dict[str, tuple[str, float]]:
    """Schedules that must not be negative: what follows each, and the most that this allows."""
    found: dict[str, tuple[str, float]] = {}
    for name, heater in model.sections["heaters"].items():
        if isinstance(heater, Heater) and heater.enabled is not None:
            found.setdefault(heater.enabled, (f"heaters.{name}.enabled", 1.0))
    for name, surface in surfaces_of(model).items():
        for cause in Absorbed.model_fields:
            absorbed = getattr(surface.absorbed, cause)
            if absorbed is not None and absorbed.schedule is not None:
                path = f"{path_of(model, name)}.absorbed.{cause}"
                found.setdefault(absorbed.schedule, (path, float("inf")))
    found |= _shares(model)
    follow: dict[str, str | None] = {
        **{f"units.{name}": each.schedule for name, each in model.entries(Unit, "units").items()},
        **{f"loops.{name}": each.schedule for name, each in model.entries(Loop, "loops").items()},
    }
    for path, schedule in follow.items():
        if schedule is not None:
            found.setdefault(schedule, (f"{path}.schedule", float("inf")))
    return found


def _shares(model: Model) -> dict[str, tuple[str, float]]:
    """Schedules of fractions."""
    found = {
        plume.schedule: (f"plumes.{name}.schedule", 1.0)
        for name, plume in model.entries(Plume, "plumes").items()
    }
    for name, surface in surfaces_of(model).items():
        shares = {"sunlit": surface.sunlit} | {
            f"sees.{each}": s for each, s in surface.sees.items()
        }
        for key, share in shares.items():
            if isinstance(share, BySchedule):
                found[share.schedule] = (f"{path_of(model, name)}.{key}", 1.0)
    return found


def _misfits(model: Model, how: Plan) -> Iterator[Problem]:
    """Tables by time that cannot repeat with the case."""
    ends = [
        *((f"loads.{name}", each.period, each.table)
          for name, each in model.entries(Loads, "loads").items()),
        *((f"radiation.{name}", each.period, each.table)
          for name, each in model.entries(Couplings, "radiation").items()),
    ]  # fmt: skip
    for path, period, table in ends:
        last = last_instant(table)
        if last is None:
            continue
        try:
            period_in(period, last, how)
        except ValueError as error:
            yield Problem(message=str(error), path=f"{path}.period")


def _without_voltage(model: Model, how: Plan) -> Iterator[Problem]:
    """A case that states no bus voltage though the power of heaters goes with it."""
    for name, heater in model.entries(Heater, "heaters").items():
        if heater.resistive and how.bus_voltage is None:
            message = (
                "missing key 'bus_voltage' [V], or low, nominal or high: the power of heater "
                f"'{name}' goes with it"
            )
            yield Problem(message=message, path=f"cases.{how.name}")
            return


def _without_start(model: Model, how: Plan) -> Iterator[Problem]:
    """Nodes with heat capacity and no initial temperature, where a case starts from given ones."""
    if how.solve != "transient" or how.initial != "given":
        return
    for name, node in model.sections["nodes"].items():
        single = isinstance(node, Node) and node.initial is None and not node.massless
        if single or (isinstance(node, Nodes) and initial_of(node) is None):
            message = f"missing key 'initial': case '{how.name}' starts from given temperatures"
            yield Problem(message=message, path=f"nodes.{name}")


def initial_temperatures(model: Model) -> dict[str, float]:
    """The temperature [K] that each node starts at, by its name, for those that state one."""
    found: dict[str, float] = {}
    for name, node in model.sections["nodes"].items():
        if isinstance(node, Nodes):
            starts = initial_of(node)
            if starts is not None:
                found.update(zip(node.table.names, starts.tolist(), strict=True))
        elif isinstance(node, Node) and node.initial is not None:
            found[name] = node.initial
    return found


def _within(history: History, span: float) -> History:
    """A history whose last instants, rounded beyond the span, are put at the span."""
    return History(time=np.minimum(history.time, span), value=history.value)


def _instants(model: Model, how: Plan) -> list[float]:
    """Instants at which a state or a window of a component begins or ends."""
    if how.solve == "steady":
        return []
    instants: list[float] = []
    for component in model.entries(Component, "components").values():
        for window in component.windows.values():
            instants += [window.from_, window.to]
        for name in component.schedules:
            instants += how.schedules[name].history(how.span).time.tolist()
    for limit in model.entries(Limit, "limits").values():
        if limit.when is not None:
            instants += how.schedules[limit.when].history(how.span).time.tolist()
    if how.activity is not None:
        edges = how.activity.stepped(np.arange(len(how.activity.begin), dtype=np.float64))
        instants += edges.history(how.span).time.tolist()
    if how.sky is None and how.sunlight is not None:  # an orbit's heat has its own edges
        instants += how.sunlight.history(how.span).time.tolist()
    return [instant for instant in instants if 0.0 <= instant <= how.span]
