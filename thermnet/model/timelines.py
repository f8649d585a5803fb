"""From a case's timeline to its activity: when each step begins in the orbit that it flies."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from thermnet.errors import InputError, Problem
from thermnet.model.activity import Activity
from thermnet.model.histories import FIT
from thermnet.model.kinds.case import Case
from thermnet.model.kinds.timeline import Step, Timeline
from thermnet.model.model import Model
from thermnet.model.sky import Sky
from thermnet.physics.exposure import light
from thermnet.physics.orbit import instant_at_angle
from thermnet.physics.setting import Flight


def activity(model: Model, settings: Case, case: str, above: Sky | None) -> Activity | None:
    """What a case does; None where the model has no modes.

    Raises InputError, located, for a case that names neither a mode nor a timeline though the
    model has modes, and for steps that do not fit into the timeline's period or the case's orbit.
    """
    if settings.timeline is None:
        if settings.mode is not None:
            return Activity(begin=np.zeros(1), steps=("",), modes=(settings.mode,), pointings=("",))
        if model.sections["modes"]:
            message = "missing key 'mode' (or 'timeline'): the model has modes"
            raise InputError(model.located([Problem(message=message, path=f"cases.{case}")]))
        return None
    entry = model.entries(Timeline, "timelines")[settings.timeline]
    path = f"timelines.{settings.timeline}"
    try:
        return _resolved(entry, above, cyclic=settings.solve == "repeating")
    except _MisfitError as error:
        below = f"{path}.{error.below}" if error.below else path
        raise InputError(
            model.located([Problem(message=f"in case '{case}' {error}", path=below)])
        ) from None


def pointings_of(model: Model, settings: Case) -> tuple[str | None, ...]:
    """The pointing of each step of the case's timeline, None for that of the case."""
    if settings.timeline is None:
        return ()
    steps = model.entries(Timeline, "timelines")[settings.timeline].steps
    return tuple(step.pointing for step in steps.values())


class _MisfitError(ValueError):
    """A step that cannot begin, with the path below the timeline that is to blame."""

    def __init__(self, message: str, below: str = "") -> None:
        super().__init__(message)
        self.below = below


def _resolved(entry: Timeline, above: Sky | None, *, cyclic: bool) -> Activity:
    turn = None if above is None else above.period
    period = _period(entry, turn)
    found = list(_begins(entry, above, period))
    if not found:
        raise _MisfitError(
            "nothing of it happens in an orbit without shadow: let a step begin by time", "steps"
        )
    names, begins = [name for name, _ in found], np.array([begin for _, begin in found])
    ends = entry.steps[names[-1]].duration
    length = None if ends is None else float(begins[-1] - begins[0] + ends)
    for before, name, here in zip(names[:-1], names[1:], np.diff(begins), strict=True):
        if here <= 0.0:
            raise _MisfitError(f"'{name}' does not begin after '{before}'", f"steps.{name}")
    if period is not None:
        if begins[-1] - begins[0] >= period or (length or 0.0) > period + FIT:
            message = f"the steps do not fit into {period:.3f} s, after which it begins again"
            raise _MisfitError(message, f"steps.{names[-1]}")
        if ends is not None and length is not None and length < period - FIT:
            message = (
                f"'{names[-1]}' ends after {ends:g} s, {period - length:.3f} s before the timeline "
                "begins again, and nothing says what comes between: add a step, or drop this"
            )
            raise _MisfitError(message, f"steps.{names[-1]}.duration")
        turned = np.mod(begins, period)
        turned[turned > period - 1e-9] = 0.0
        first = int(np.argmin(turned))
        order = [*range(first, len(names)), *range(first)]
        names, begins = [names[k] for k in order], turned[order]
    if begins[0] > 0.0:
        if period is None and not cyclic:
            message = f"'{names[0]}' begins at {begins[0]:g} s, and nothing says what comes before"
            raise _MisfitError(message, f"steps.{names[0]}")
        # What goes on at the end goes on at the beginning.
        names, begins = [names[-1], *names], np.append(0.0, begins)
    steps = [entry.steps[name] for name in names]
    return Activity(
        begin=begins,
        steps=tuple(names),
        modes=tuple(entry.stuck or step.mode for step in steps),
        pointings=tuple(step.pointing or "" for step in steps),
        period=period,
        length=length if period is None else period,
    )


def _period(entry: Timeline, turn: float | None) -> float | None:
    if entry.repeats == "orbit":
        if turn is None:
            raise _MisfitError("there is no orbit to repeat with", "repeats")
        return turn
    if entry.repeats == "at its end":
        return sum(step.duration or 0.0 for step in entry.steps.values())
    return entry.repeats


def _begins(
    entry: Timeline, above: Sky | None, period: float | None
) -> Iterator[tuple[str, float]]:
    """Each step that happens, and when it begins [s], ever later."""
    now, known, length = -math.inf, True, 0.0
    for k, (name, step) in enumerate(entry.steps.items()):
        if step.anchored:
            begins, again = _anchors(name, step, above, period)
            known = bool(begins)
            if known:
                now = min(_after(begin, again, now) for begin in begins)
        elif k == 0:
            now = 0.0
        elif known:
            now += length
        if known:
            yield name, now
        length = step.duration or 0.0


def _after(begin: float, again: float | None, now: float) -> float:
    """The first instant [s] from 0 on, and later than `now`, at which what comes again happens.

    What does not come again happens when it does.
    """
    if again is None:
        return begin
    first = begin - again * math.floor(begin / again)
    return first if now < first else first + again * (math.floor((now - first) / again) + 1)


def _anchors(
    name: str, step: Step, above: Sky | None, period: float | None
) -> tuple[list[float], float | None]:
    """Instants [s] at which a step may begin, and after how long each comes again, if it does."""
    if step.time is not None:
        if period is not None and step.time >= period:
            message = f"'{name}' begins beyond the period of {period:g} s"
            raise _MisfitError(message, f"steps.{name}.time")
        return [step.time], period
    turn = None if above is None else above.period
    if above is None or turn is None:
        key = "angle" if step.angle is not None else "at"
        raise _MisfitError(f"there is no orbit that '{name}' could begin by", f"steps.{name}.{key}")
    if step.angle is not None:
        begin = _at_angle(above, turn, step.angle)
        if period is not None and begin >= period:
            message = f"'{name}' begins beyond the period of {period:g} s"
            raise _MisfitError(message, f"steps.{name}.angle")
        return [begin], period
    if period is not None and abs(max(1, round(period / turn)) * turn - period) > FIT:
        message = "an edge of the shadow needs a timeline that repeats with the orbit"
        raise _MisfitError(message, f"steps.{name}.at")
    return [edge + step.offset for edge in _edges(above, step.at or "")], turn


def _at_angle(above: Sky, turn: float, angle: float) -> float:
    turns, rest = divmod(angle, 360.0)
    share = rest / 360.0 * turn
    if isinstance(above.setting, Flight):
        share = float(instant_at_angle(above.setting.orbit, np.array([math.radians(rest)]))[0])
    return turns * turn + share


def _edges(above: Sky, edge: str) -> list[float]:
    """Instants [s] of one orbit or day at which half of the Sun is seen, going or coming."""
    time, seen = light(above.setting)
    over = seen - 0.5
    if (over < 0.0).all():
        raise _MisfitError(f"there is no {edge}: it is dark all along", "steps")
    sign = 1.0 if edge == "shadow entry" else -1.0
    found = []
    for k in np.flatnonzero((sign * over[:-1] >= 0.0) & (sign * over[1:] < 0.0)):
        share = over[k] / (over[k] - over[k + 1])
        found.append(float(time[k] + share * (time[k + 1] - time[k])))
    return found
