"""The state that the end of a case leads to, when everything stays as it is then."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from thermnet.errors import InputError, Problem
from thermnet.model.activity import Activity
from thermnet.model.kinds.atmosphere import Atmosphere, between
from thermnet.model.kinds.case import Case
from thermnet.model.kinds.gas import Gas
from thermnet.model.kinds.load import Loads
from thermnet.model.kinds.radiation import Couplings
from thermnet.model.kinds.schedule import Schedule
from thermnet.model.model import Model
from thermnet.model.plan import Plan
from thermnet.model.tables_by_time import last_instant
from thermnet.results import Result, solve
from thermnet.text.fields import Entry

NAME = "what follows '{}'"
"""Name of the case in memory; no case of a file is called so."""


def continued(result: Result) -> Result:
    """Solve the state that a transient case settles in after its end.

    The mode and pointing are those that it ends with, or its timeline again and again where that
    repeats; a schedule without a period keeps its value at the end, and gas between the layers of
    blankets its pressure. With an orbit, or with anything else that repeats, it is the state that
    repeats over the longest period, otherwise the steady state. Raises InputError where there is
    no such state to build.
    """
    how, model = result.plan, result.model
    if (path := _lasting(model)) is not None:
        message = "follows a table without a period, so that nothing says what comes after the case"
        raise InputError(model.located([Problem(message=message, path=path)]))
    name = NAME.format(result.case)
    cases: dict[str, Entry] = {
        # What a case changes stands in the sections already.
        each: entry.model_copy(update={"set": {}, "blankets": None})
        for each, entry in model.entries(Case, "cases").items()
    }
    cases[name] = _case(how)
    sections = {
        **model.sections,
        "schedules": _schedules(model, how),
        "atmospheres": _atmospheres(model, how),
        "cases": cases,
    }
    going_on = replace(model, sections=sections, overrides=(), written=None, case="")
    return solve(going_on, name, result.options)


def _case(how: Plan) -> Case:
    """The case that goes on: steady or repeating, in the last mode."""
    given: dict[str, object] = {"extends": how.name, "title": f"what follows {how.title}"}
    if how.activity is not None and how.activity.period is None:
        mode, pointing = _last(how.activity, how.span)
        given["mode"] = mode
        if pointing:
            given["pointing"] = pointing
    period = _period(how)
    given |= {"solve": "steady"} if period is None else {"solve": "repeating", "period": period}
    return Case.model_construct(**given)  # type: ignore[arg-type]


def _last(activity: Activity, span: float) -> tuple[str, str]:
    """Mode and pointing with which a case ends; what begins only then does not count."""
    k = max(int(np.searchsorted(activity.begin, span, side="left")) - 1, 0)
    return activity.modes[k], activity.pointings[k]


def _period(how: Plan) -> float | None:
    """The longest period [s] of all that repeats in a case, None where nothing does."""
    periods = [each.period for each in how.schedules.values() if np.ptp(each.once.value) > 0.0]
    periods.append(None if how.activity is None else how.activity.period)
    periods.append(None if how.sky is None else how.sky.period)
    return max((period for period in periods if period is not None), default=None)


def _schedules(model: Model, how: Plan) -> dict[str, Entry]:
    """The schedules; those without a period with the one value that they have at the end."""
    found: dict[str, Entry] = {}
    for name, entry in model.entries(Schedule, "schedules").items():
        found[name] = entry
        if entry.time and entry.period is None:
            history = how.schedules[name].once
            before = np.nextafter(how.span, 0.0)  # the earlier side of a jump
            value = float(np.interp(before, history.time, history.value))
            found[name] = entry.model_copy(
                update={"time": (0.0,), "value": (value,), "shape": "linear"}
            )
    return found


def _atmospheres(model: Model, how: Plan) -> dict[str, Entry]:
    """The atmospheres; that of the case at the one pressure that it has at the end."""
    entries, name = model.entries(Atmosphere, "atmospheres"), how.atmosphere
    found: dict[str, Entry] = {**entries}
    if name is not None:
        gas = between(name, entries, model.entries(Gas, "gases"), how.span)
        last = float(gas.pressure_at(np.array(how.span)))
        constant = {"pressure": last, "time": (), "pressures": ()}
        found[name] = entries[name].model_copy(update=constant)
    return found


def _lasting(model: Model) -> str | None:
    """The path of a table by time that does not repeat; None without one."""
    loads, couplings = model.entries(Loads, "loads"), model.entries(Couplings, "radiation")
    found = [(f"loads.{name}", each.period, each.table) for name, each in loads.items()]
    found += [(f"radiation.{name}", each.period, each.table) for name, each in couplings.items()]
    for path, period, table in found:
        if period is None and last_instant(table) is not None:
            return path
    return None
