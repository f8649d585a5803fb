"""How a case is solved, under which sky, and what its schedules are over its time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from thermnet.errors import InputError, Problem
from thermnet.model.activity import Activity
from thermnet.model.histories import FIT, Repeated, joined
from thermnet.model.kinds.case import Case
from thermnet.model.kinds.schedule import Schedule
from thermnet.model.kinds.unit import Unit
from thermnet.model.model import Model
from thermnet.model.paths import case_of, lineage
from thermnet.model.sky import Sky, sky
from thermnet.model.starts import starts
from thermnet.model.timelines import activity, pointings_of
from thermnet.network.parts import History
from thermnet.physics.exposure import light

NEVER = Repeated(once=History(time=np.zeros(1), value=np.zeros(1)))
"""What is off all along, as the Sun is where there is no orbit, in a test."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How a case is solved: its own settings, with those of the cases that it extends below.

    `span` [s] is its period or duration, zero when steady; `sky` is None without orbit or site;
    `schedules` are the model's, as they are in this case, and `units` say when each unit is on.
    `activity` is None without modes; `skies` are those of the pointings that it names. `after` is
    the case at whose end it starts, if there is one. `voltage` says which of the model's bus
    voltages `bus_voltage` [V] is, "" where it is none of them. `atmosphere` is the gas between the
    layers of blankets, None in a vacuum.
    """

    name: str
    title: str
    solve: Literal["steady", "transient", "repeating"]
    span: float
    initial: Literal["steady", "given"]
    after: str | None
    kind: Literal["hot", "cold", "survival", "other"]
    life: Literal["beginning of life", "end of life"] | None
    bus_voltage: float | None
    voltage: str
    atmosphere: str | None
    sunlit: str | None
    sky: Sky | None
    activity: Activity | None
    skies: Mapping[str, Sky]
    schedules: Mapping[str, Repeated]
    units: Mapping[str, Repeated]

    @property
    def sunlight(self) -> Repeated | None:
        """Share of the Sun that is seen; None where no orbit says so, nor a schedule."""
        if self.sky is not None:
            return _light(self.sky)
        return None if self.sunlit is None else self.schedules[self.sunlit]

    def shadows(self, span: float) -> tuple[tuple[float, float], ...]:
        """The stretches [s] from 0 to `span` in which less than half of the Sun is seen."""
        if self.sunlight is None:
            return ()
        history = self.sunlight.history(span)
        time = np.append(history.time, span)
        above = np.append(history.value, history.value[-1]) - 0.5
        edges = [] if above[0] >= 0.0 else [0.0]
        for k in np.flatnonzero((above[:-1] >= 0.0) != (above[1:] >= 0.0)):
            share = above[k] / (above[k] - above[k + 1])
            edges.append(float(time[k] + share * (time[k + 1] - time[k])))
        if len(edges) % 2:
            edges.append(span)
        pairs = zip(edges[::2], edges[1::2], strict=True)
        return tuple((begin, min(end, span)) for begin, end in pairs if begin < span)


def plan(model: Model, case: str) -> Plan:
    """How a model, with a case applied, is solved in it.

    Raises InputError when a period or duration is missing, or stated for a steady case, and for
    what is wrong with the case's orbit, environment, pointing or schedules.
    """
    settings = settings_in(model, case)
    starts(model, case)  # refuses cases that start at each other's end
    solve = settings.solve or "steady"
    pointings = pointings_of(model, settings)
    if settings.pointing is None and pointings and None not in pointings:
        settings = settings.model_copy(update={"pointing": pointings[0]})
    above = sky(model, settings, case)
    done = activity(model, settings, case, above)
    span = _span(model, case, settings, solve, None if above is None else above.period, done)
    if done is not None:
        _refuse_beyond(model, case, settings, done, span)
        done = done.reached(span)
    turn = None if done is None or solve != "repeating" else done.period
    if turn is not None and (why := misfit(turn, span, f"case '{case}'")):
        path = f"timelines.{settings.timeline}.repeats"
        raise InputError(model.located([Problem(message=f"a {why}", path=path)]))
    skies = {} if above is None else _skies(model, settings, case, done)
    if solve == "steady" and len(skies) > 1 and above is not None and above.period is not None:
        turn = None if done is None else done.period
        if turn is not None and (why := misfit(above.period, turn, "the timeline")):
            path = f"timelines.{settings.timeline}.repeats"
            message = f"a steady case takes the mean of whole orbits: the orbit's {why}"
            raise InputError(model.located([Problem(message=message, path=path)]))
    voltage = _voltage(model, settings, case)
    how = Plan(
        name=case,
        title=case_of(model, case).title or case,
        solve=solve,
        span=span,
        initial=settings.initial or "steady",
        after=settings.after,
        kind=settings.kind or "other",
        life=settings.life,
        bus_voltage=voltage,
        voltage=settings.bus_voltage if isinstance(settings.bus_voltage, str) else "",
        atmosphere=None if settings.atmosphere == "none" else settings.atmosphere,
        sunlit=settings.sunlit,
        sky=above,
        activity=done,
        skies=skies,
        schedules={},
        units={},
    )
    found: dict[str, Repeated] = {}
    problems: list[Problem] = []
    for name, entry in model.entries(Schedule, "schedules").items():
        try:
            found[name] = _repeated(entry, how)
        except ValueError as error:
            problems.append(Problem(message=str(error), path=f"schedules.{name}.period"))
    if problems:
        raise InputError(model.located(problems))
    units = {}
    for name, unit in model.entries(Unit, "units").items():
        modes = [mode for mode in model.sections["modes"] if unit.is_on(mode)]
        units[name] = NEVER if done is None else done.within(modes)
    return replace(how, schedules=found, units=units)


def _voltage(model: Model, settings: Case, case: str) -> float | None:
    """The bus voltage [V] of a case, that of the model where it names one of those."""
    named = settings.bus_voltage
    if not isinstance(named, str):
        return named
    if model.settings.bus_voltage is None:
        message = f"the model states no 'bus_voltage' at its top, and so none that is {named}"
        problem = Problem(message=message, path=f"cases.{case}.bus_voltage")
        raise InputError(model.located([problem]))
    return float(getattr(model.settings.bus_voltage, named))


def _skies(model: Model, settings: Case, case: str, done: Activity | None) -> dict[str, Sky]:
    """The sky of each pointing that the activity names; "" is that of the case."""
    names = dict.fromkeys(("",) if done is None else done.pointings)
    found = {}
    for name in names:
        own = settings if not name else settings.model_copy(update={"pointing": name})
        above = sky(model, own, case)
        if above is not None:
            found[name] = above
    return found


INSTEAD = {
    "orbit": ["site"],
    "site": ["orbit"],
    "mode": ["timeline"],
    "timeline": ["mode"],
    "period": ["revolutions"],
    "revolutions": ["period"],
    "initial": ["after"],
    "after": ["initial"],
}
"""Keys of a case that take the place of others in the cases that it extends."""


def settings_in(model: Model, case: str) -> Case:
    """The case's own keys, with those of the cases that it extends below."""
    given: dict[str, object] = {}
    for name in lineage(model, case):
        entry = case_of(model, name)
        for key in Case.model_fields:
            if key not in ("set", "extends", "title") and getattr(entry, key) is not None:
                given[key] = getattr(entry, key)
                # One place at a time: what is stated last counts.
                for other in INSTEAD.get(key, []):
                    given.pop(other, None)
    return Case.model_construct(**given)  # type: ignore[arg-type]


def _span(
    model: Model,
    case: str,
    settings: Case,
    solve: str,
    period: float | None,
    done: Activity | None,
) -> float:
    """Seconds of a case: its period or duration; 0 when steady.

    By default the period is that of the orbit, and both are those of the timeline.
    """
    own = case_of(model, case)
    of_histories = ("period", "duration", "initial", "after", "revolutions")
    for key in of_histories if solve == "steady" else ():
        if getattr(own, key) is not None:
            message = f"missing key 'solve': a case with '{key}' is not steady"
            if own.solve is not None:
                message = f"a steady case has no '{key}'"
            path = f"cases.{case}" if own.solve is None else f"cases.{case}.{key}"
            raise InputError(model.located([Problem(message=message, path=path)]))
    if solve == "steady":
        return 0.0
    key = {"transient": "duration", "repeating": "period"}[solve]
    span: float | None = getattr(settings, key)
    if span is None and solve == "repeating" and period is not None:
        span = period * (settings.revolutions or 1)
    elif span is None and done is not None:
        span = done.length
    if span is None:
        message = f"missing key '{key}' [s]: a {solve} case needs one"
        raise InputError(model.located([Problem(message=message, path=f"cases.{case}")]))
    if solve == "repeating" and period is not None and (why := misfit(period, span)):
        message = f"the orbit's {why}; leave the period out, or state 'revolutions'"
        raise InputError(model.located([Problem(message=message, path=f"cases.{case}.period")]))
    if solve == "repeating" and period is not None:
        return period * round(span / period)  # what is written may miss it by rounding
    return span


def _refuse_beyond(model: Model, case: str, settings: Case, done: Activity, span: float) -> None:
    """Refuse steps that a repeating case never comes to: its timeline is meant to fit into it."""
    if settings.solve != "repeating" or done.period is not None or done.begin[-1] < span:
        return
    step, begins = done.steps[-1], float(done.begin[-1])
    message = f"begins at {begins:g} s, which case '{case}' with its {span:g} s never comes to"
    path = f"timelines.{settings.timeline}.steps.{step}"
    raise InputError(model.located([Problem(message=message, path=path)]))


def misfit(period: float, span: float, of: str = "the case") -> str:
    """Why a period [s] cannot repeat within a case's own [s], "" when it can."""
    turns = span / period
    if abs(turns - round(turns)) * period > FIT or round(turns) < 1:
        return (
            f"period of {period:g} s does not fit a whole number of times into that of {of} "
            f"({span:g} s)"
        )
    return ""


def _repeated(entry: Schedule, how: Plan) -> Repeated:
    """A schedule in a case. Raises ValueError where it cannot repeat with the case."""
    if entry.modes:
        return NEVER if how.activity is None else how.activity.within(entry.modes)
    if entry.follows is not None:
        shine = NEVER if how.sky is None else _light(how.sky)
        if entry.follows == "sunlight":
            return shine
        dark = History(time=shine.once.time, value=1.0 - shine.once.value)
        return Repeated(once=dark, period=shine.period)
    period = period_in(entry.period, entry.time[-1] if len(entry.time) > 1 else 0.0, how)
    once = joined(np.array(entry.time), np.array(entry.value), entry.shape, period)
    return Repeated(once=once, period=period)


def period_in(period: float | Literal["orbit"] | None, last: float, how: Plan) -> float | None:
    """The period [s] of points that end at `last` [s], in a case; None for none.

    Raises ValueError where they cannot repeat with the case.
    """
    if period == "orbit":
        period = None if how.sky is None else how.sky.period
        if period is None:
            raise ValueError(
                f"case '{how.name}' has no orbit to repeat with: state a period in its 'set'"
            )
        if last > period + FIT:
            raise ValueError(
                f"the last instant of {last:g} s lies beyond the orbit's period of {period:.3f} s"
            )
    if how.solve == "repeating":
        if period is None and last > how.span:
            raise ValueError(f"goes on beyond the period of case '{how.name}' ({how.span:g} s)")
        if period is not None and (why := misfit(period, how.span, f"case '{how.name}'")):
            raise ValueError(f"a {why}")
    return period


def _light(above: Sky) -> Repeated:
    time, value = light(above.setting)
    return Repeated(once=History(time=time, value=value), period=above.period)
