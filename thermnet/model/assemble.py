"""From a model with a case applied to a network: loop over the kinds and concatenate."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from thermnet.errors import InputError, Problem
from thermnet.model.kinds import KINDS
from thermnet.model.kinds.case import Case
from thermnet.model.kinds.component import Component
from thermnet.model.kinds.heater import Heater
from thermnet.model.kinds.kind import Surroundings
from thermnet.model.kinds.node import Node, Nodes, initial_of
from thermnet.model.kinds.schedule import Schedule
from thermnet.model.kinds.surface import Absorbed, Surface
from thermnet.model.model import Model
from thermnet.model.paths import apply_case, case_of, lineage
from thermnet.network.build import build
from thermnet.network.network import Network
from thermnet.network.parts import History, Part


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How a case is solved: its own settings, with those of the cases that it extends below."""

    name: str
    title: str
    solve: Literal["steady", "transient", "repeating"]
    span: float
    initial: Literal["steady", "given"]
    kind: Literal["hot", "cold", "survival", "other"]
    life: str
    bus_voltage: float | None
    sunlit: str | None


def plan(model: Model, case: str) -> Plan:
    """The settings of a case; `span` [s] is its period or duration, zero when steady.

    Raises InputError when a period or duration is missing, or stated for a steady case.
    """
    given: dict[str, object] = {}
    for name in lineage(model, case):
        entry = case_of(model, name)
        for key in Case.model_fields:
            if key not in ("set", "extends", "title") and getattr(entry, key) not in (None, ""):
                given[key] = getattr(entry, key)
    settings = Case.model_construct(**given)  # type: ignore[arg-type]
    solve = settings.solve or "steady"
    key = {"steady": "", "transient": "duration", "repeating": "period"}[solve]
    span = getattr(settings, key) if key else 0.0
    if span is None:
        message = f"missing key '{key}' [s]: a {solve} case needs one"
        raise InputError(model.located([Problem(message=message, path=f"cases.{case}")]))
    own = case_of(model, case)
    for key in ("period", "duration", "initial") if solve == "steady" else ():
        if getattr(own, key) is not None:
            message = f"missing key 'solve': a case with '{key}' is not steady"
            if own.solve is not None:
                message = f"a steady case has no '{key}'"
            path = f"cases.{case}" if own.solve is None else f"cases.{case}.{key}"
            raise InputError(model.located([Problem(message=message, path=path)]))
    return Plan(
        name=case,
        title=case_of(model, case).title or case,
        solve=solve,
        span=float(span),
        initial=settings.initial or "steady",
        kind=settings.kind or "other",
        life=settings.life,
        bus_voltage=settings.bus_voltage,
        sunlit=settings.sunlit,
    )


def assemble(model: Model, case: str | None = None) -> Network:
    """The network of a model in a case; the case is applied first unless it has been.

    Raises InputError for a schedule that does not fit the case's period or what follows it, and
    for nodes without an initial temperature where the case starts from given ones.
    """
    if case is not None and case != model.case:
        model = apply_case(model, case)
    if not model.case:
        raise ValueError("say which case to assemble")
    how = plan(model, model.case)
    around = surroundings(model, how)
    parts: list[Part] = []
    for section, kind in KINDS.items():
        for name, entry in model.sections[section].items():
            expand = kind.expansion(entry)
            parts.extend(expand(name, entry, f"{section}.{name}", around))
    period = how.span if how.solve == "repeating" else float("inf")
    return build(parts, period=period, instants=_instants(model, how))


def surroundings(model: Model, how: Plan) -> Surroundings:
    """What entries look up: histories over the case's span, or means for a steady case."""
    schedules = _schedules(model)
    problems = [*_misfits(schedules, how), *_out_of_range(model), *_without_start(model, how)]
    if problems:
        raise InputError(model.located(problems))
    if how.solve == "steady":
        means = {name: schedule.mean(how.span) for name, schedule in schedules.items()}
        rows = model.node_tables()
        return Surroundings(histories={}, means=means, bus_voltage=how.bus_voltage, rows=rows)
    histories = {name: schedule.history(how.span) for name, schedule in schedules.items()}
    if how.solve == "repeating":
        histories = {name: _within(history, how.span) for name, history in histories.items()}
    return Surroundings(
        histories=histories, means={}, bus_voltage=how.bus_voltage, rows=model.node_tables()
    )


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


def _schedules(model: Model) -> dict[str, Schedule]:
    return model.entries(Schedule, "schedules")


def _misfits(schedules: dict[str, Schedule], how: Plan) -> Iterator[Problem]:
    for name, schedule in schedules.items():
        fault = _misfit(schedule, how)
        if fault:
            yield Problem(message=fault, path=f"schedules.{name}.period")


def _misfit(schedule: Schedule, how: Plan) -> str:
    """Why a schedule cannot repeat with a case's period, "" when it can."""
    if how.solve != "repeating":
        return ""
    if schedule.period is None:
        if len(schedule.time) > 1 and schedule.time[-1] > how.span:
            return f"goes on beyond the period of case '{how.name}' ({how.span:g} s)"
        return ""
    turns = how.span / schedule.period
    if abs(turns - round(turns)) * schedule.period > 1e-3 or round(turns) < 1:
        return (
            f"a period of {schedule.period:g} s does not fit a whole number of times into that "
            f"of case '{how.name}' ({how.span:g} s)"
        )
    return ""


def _out_of_range(model: Model) -> Iterator[Problem]:
    """Values of schedules that would make absorbed heat negative, or a heater more than on."""
    schedules = _schedules(model)
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
    for name, surface in model.sections["surfaces"].items():
        if not isinstance(surface, Surface):
            continue
        for cause in Absorbed.model_fields:
            absorbed = getattr(surface.absorbed, cause)
            if absorbed is not None and absorbed.schedule is not None:
                path = f"surfaces.{name}.absorbed.{cause}"
                found.setdefault(absorbed.schedule, (path, float("inf")))
    return found


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
    schedules = _schedules(model)
    for component in model.entries(Component, "components").values():
        for window in component.windows.values():
            instants += [window.from_, window.to]
        for name in component.schedules:
            instants += schedules[name].history(how.span).time.tolist()
    if how.sunlit is not None:
        instants += schedules[how.sunlit].history(how.span).time.tolist()
    return [instant for instant in instants if 0.0 <= instant <= how.span]
