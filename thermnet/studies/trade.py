"""The quality of a blanket against the heater power that it costs in the cold.

For each value of one number of the model: the heater power that holds a component at its lower
limit in the cold case, and the component's margin in the hot case. A swept effective emittance is
used itself in both cases, whatever bound a case asks for, so that the axis is what the cases are
solved with; all else is as each case has it, other blankets and the bounds of all other terms too.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from thermnet.errors import InputError, Problem, nearest
from thermnet.heaters import heater_duty
from thermnet.model.kinds.blanket_entry import Blanket
from thermnet.model.kinds.component import Component
from thermnet.model.kinds.heater import Heater
from thermnet.model.model import Model
from thermnet.model.paths import apply_case, unit, vary
from thermnet.results import Result, solve
from thermnet.solve.solution import Options
from thermnet.studies.holding import Held, hold
from thermnet.studies.trade_points import TradePoint, point_of
from thermnet.studies.trade_range import is_whole, refuse

EXCESS = 1e-6
"""W by which heat may come in excess and still count as rounding."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trade:
    """A trade, its points by rising value.

    `unit` is that of the values. The component is held at `limit` [K], which `band` names, "" where
    the caller stated it. `heater` is the circuit that holds it, "" for none; `installed` [W] its
    least power, at the cold case's bus voltage or the model's low one, None without one, and
    `allowed` the duty that the margin rule allows. `repeating` says whether needs vary over time.
    `whole` says that the values are whole numbers. `bounds` are the blankets that use each bound,
    "low", "nominal" or "high", by case; not among them is one all of whose bounds the values take
    the place of. `notes` are sentences for the reader.
    """

    model: Model
    component: str
    node: str
    blanket: str
    path: str
    unit: str
    cold: str
    hot: str
    limit: float
    band: str
    heater: str
    installed: float | None
    allowed: float
    repeating: bool
    points: tuple[TradePoint, ...]
    whole: bool
    bounds: Mapping[str, Mapping[str, tuple[str, ...]]]
    notes: tuple[str, ...] = ()

    @property
    def usable(self) -> float | None:
        """Power installed times the duty that the margin rule allows [W]."""
        return None if self.installed is None else self.installed * self.allowed

    def crossing(self) -> tuple[float, float] | None:
        """Value, and effective emittance, at which the power needed reaches what is usable.

        Between two points both are taken to go in a straight line. None where no two points lie on
        either side.
        """
        if self.usable is None:
            return None
        for one, other in zip(self.points[:-1], self.points[1:], strict=True):
            first, last = one.needed - self.usable, other.needed - self.usable
            if first * last < 0.0 or (first == 0.0) != (last == 0.0):
                share = first / (first - last)
                return (
                    one.value + share * (other.value - one.value),
                    one.emittance + share * (other.emittance - one.emittance),
                )
        return None

    def enough(self) -> int | None:
        """Of whole numbers the one next to the crossing at which what is usable is enough.

        None without a crossing, and where the values are not whole.
        """
        crossing = self.crossing() if self.whole else None
        if crossing is None:
            return None
        after = next(each for each in self.points if each.value >= crossing[0])
        least, most = math.floor(crossing[0]), math.ceil(crossing[0])
        return least if after.needed > (self.usable or 0.0) else most


def trade(
    model: Model,
    component: str,
    cold: str,
    hot: str,
    path: str,
    values: Sequence[float],
    options: Options = Options(),
    *,
    blanket: str = "",
    at: float | None = None,
    progress: Callable[[float, int], None] | None = None,
) -> Trade:
    """Solve a cold and a hot case for each value of the number at a path.

    `values` are in SI units. `at` [K] is held instead of the lower end of the component's operating
    band (its non-operating band where it is off throughout the cold case). `blanket` is that whose
    effective emittance is told, by default the one that the path leads to. `progress` is told each
    value, and how many are done, before it is solved.

    The cold case is steady, or repeats; then a need at some instants counts though heat is in
    excess at others, so that mean and peak are upper bounds. Raises InputError for anything that
    does not exist, a path that holds no number, and a cold case that is transient.
    """
    _known(model, component, (cold, hot), blanket)
    if not values:
        refuse("the trade needs at least one value")
    first, *more = (_varied(model, path, each) for each in sorted(set(values)))
    judged = apply_case(first, cold)
    entry = judged.entries(Component, "components")[component]
    node = _node_of(judged, component, entry)
    limit, band = (at, "") if at is not None else _lower_limit(judged, component, entry)
    swept = blanket or (path.split(".")[1] if path.startswith("blankets.") else "")
    off = () if entry.held_by is None else (entry.held_by,)
    points: list[TradePoint] = []
    notes: dict[str, None] = {}
    for each, varied in zip(sorted(set(values)), (first, *more), strict=True):
        if progress is not None:
            progress(each, len(points))
        held = hold(varied, cold, node, limit, options, off=off)
        needless = not held.solution.failure and held.peak == 0.0
        free = solve(held.model, cold, options) if needless else None
        warm = solve(varied, hot, options)
        points.append(
            point_of(each, held, free, warm, component=component, node=node, blanket=swept)
        )
        notes |= dict.fromkeys((*_notes(held, node, entry.held_by), *_of_hot(warm, entry.held_by)))
    return Trade(
        model=model,
        component=component,
        node=node,
        blanket=swept,
        path=path,
        unit=unit(model, path),
        cold=cold,
        hot=hot,
        limit=limit,
        band=band,
        heater=entry.held_by or "",
        installed=_installed(held, entry.held_by),
        allowed=judged.settings.uncertainty.heater_duty,
        repeating=held.solution.kind != "steady",
        points=tuple(points),
        whole=is_whole(model, path),
        bounds={case: _bounds(first, case, path) for case in dict.fromkeys((cold, hot))},
        notes=tuple(notes),
    )


def _known(model: Model, component: str, cases: Sequence[str], blanket: str) -> None:
    """Raises InputError for what the model does not have."""
    components, blankets = model.sections["components"], model.sections["blankets"]
    if component not in components:
        refuse(f"unknown component '{component}'{nearest(component, components)}")
    for case in cases:
        if case not in model.cases:
            refuse(f"unknown case '{case}'{nearest(case, model.cases)}")
    if blanket and blanket not in blankets:
        refuse(f"unknown blanket '{blanket}'{nearest(blanket, blankets)}")


def _bounds(model: Model, case: str, path: str) -> dict[str, tuple[str, ...]]:
    """The blankets that use each bound in a case, but one that has none beside the value."""
    found: dict[str, tuple[str, ...]] = {}
    for name, entry in apply_case(model, case).entries(Blanket, "blankets").items():
        if path != f"blankets.{name}.effective_emittance" or entry.bounds is not None:
            found[entry.use] = (*found.get(entry.use, ()), name)
    return found


def _varied(model: Model, path: str, new: float) -> Model:
    """The model with one value; both bounds of an effective emittance are put at it.

    So every case uses the value itself, and its `use` goes on choosing the bounds of other terms.
    """
    whole = is_whole(model, path)
    changes: dict[str, Any] = {path: int(new) if whole and float(new).is_integer() else new}
    section, name, key = path.split(".", 2)
    if section == "components":
        refuse(f"'{path}' is what the component is judged by: change a number of the spacecraft")
    if section == "blankets":
        if key in ("low", "high", "use") or key.startswith("bounds"):
            refuse(f"'{path}' is a bound: change what it bounds")
        if key == "effective_emittance":
            changes |= {f"blankets.{name}.low": new, f"blankets.{name}.high": new}
    return vary(model, changes)


def _node_of(model: Model, name: str, entry: Component) -> str:
    if len(entry.nodes) == 1:
        return entry.nodes[0]
    message = (
        f"component '{name}' is the worst of several nodes, and only one is held: make the one "
        "that is to be held a component of its own"
    )
    raise InputError(model.located([Problem(message=message, path=f"components.{name}.at")]))


def _lower_limit(model: Model, name: str, entry: Component) -> tuple[float, str]:
    """The temperature [K] that a component is held at, and the band whose lower end it is."""
    if entry.on is False and entry.non_operating is not None:
        return entry.non_operating[0], "non-operating"
    if entry.operating is not None:
        return entry.operating[0], "operating"
    message = f"component '{name}' has no operating band: say at what temperature it is held"
    raise InputError(model.located([Problem(message=message, path=f"components.{name}")]))


def _installed(held: Held, heater: str | None) -> float | None:
    """Least power [W] of a circuit, at the case's bus voltage or the model's low one."""
    if heater is None:
        return None
    entry, stated = held.model.entries(Heater, "heaters")[heater], held.model.settings.bus_voltage
    power = entry.power_at(held.plan.bus_voltage)
    return power if stated is None else min(power, entry.power_at(stated.low))


def _notes(held: Held, node: str, heater: str | None) -> Iterator[str]:
    """What the reader must know of how the power was found."""
    if held.off:
        named = ", ".join(f"'{name}'" for name in held.off)
        circuits = f"heater {named}" if len(held.off) == 1 else f"heaters {named}"
        yield f"the power needed takes the place of {circuits}"
    entries = held.model.entries(Heater, "heaters")
    for name in held.off:
        elsewhere = [each for each in entries[name].nodes if each != node]
        if elsewhere:
            yield (
                f"heater '{name}' heats {', '.join(elsewhere)}, and the power needed is what "
                f"'{node}' would have to be given alone: that circuit needs another power"
            )
    if heater is not None and _is_limited(held, entries[heater]):
        yield (
            f"heater '{heater}' may not heat all the time, which the power installed does not count"
        )
    if held.solution.failure:
        return
    if held.peak > 0.0 and held.power.min() < -EXCESS:
        yield (
            "at some instants heat is in excess, which is not stored: power needed and peak are "
            "upper bounds"
        )
    if held.model.sections["batteries"]:
        yield "the battery is not charged with the power needed"


def _of_hot(warm: Result, heater: str | None) -> Iterator[str]:
    """That a heater, and no blanket, may set the temperature in the hot case."""
    if heater is not None and not warm.solution.failure and heater_duty(warm, heater) > 0.0:
        yield (
            f"in case '{warm.case}' heater '{heater}' heats too, at some of the values: then its "
            "thresholds set the hot temperature"
        )


def _is_limited(held: Held, heater: Heater) -> bool:
    """Whether a circuit may heat for a part of the time only."""
    if heater.enabled is None:
        return bool(heater.modes)
    return held.plan.schedules[heater.enabled].mean(held.plan.span) < 1.0
