"""The heater table of a solved case: power, duty, energy, switchings and margin of every circuit.

A circuit may heat several nodes; in the network it is then several thermostats, or heats, of one
origin. Duty is the share of its power that it gives while it may heat, so that a circuit that is
enabled half of the time, and is then always on, has a duty of 1 and not of one half.

The margin rule asks for the duty at the lowest bus voltage. What an item needs is a mean power;
of a resistor that is a larger share of what it gives at the lower voltage, by (V / V_low)^2, and
that is what counts here. It is exact for the mean power that was solved, though at the lower
voltage the same sensor is a little colder within its thresholds. A circuit that never goes off
lacks more than its duty of 1 can say.

Rule: SMC-S-016 (5 September 2014) 4.4.2.2, 25 % more heater power at the minimum bus voltage than
needed, that is a duty of at most 80 % (read in the standard); the model's `heater_duty` states it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from thermnet.model.kinds.component import Component
from thermnet.model.kinds.heater import Heater
from thermnet.network.primitives import Flags, Floats
from thermnet.results import Result
from thermnet.samples import heater_heat

Verdict = Literal[
    "not solved",
    "failed",
    "allowance not covered",
    "holds",
    "not needed",
    "not enabled",
    "no power",
]

DAY = 86400.0
"""Seconds of the day that switchings are counted by, and energy where there is no orbit."""

ALWAYS = 1.0 - 1e-9
"""Share of the time from which on it is all of it."""

NOTHING = float("nan")


@dataclass(frozen=True, slots=True, kw_only=True)
class HeaterRow:
    """One circuit in one case.

    `on` and `off` [K] are the thresholds used. `power` [W] is that at the case's bus voltage, `low`
    and `high` those at the model's, None where it states none. `enabled` is the share of the time
    in which it may heat, `duty` its share of power in that time, `duty_low` the same of the least
    power installed; `mean` [W] is over all the time. `energy` [J] and `in_shadow` [J] are those of
    one `HeatersTogether.turn`, and `switchings` says how often a day its heat begins or ends. These
    three are None for a steady case, `in_shadow` also where nothing says when it is dark. `holds`
    names the components that it, or the circuit that it is a spare of, holds. `margin` is the least
    power installed over what is needed, less 1: infinite where none is needed, not a number for a
    circuit that failed. `allowed` is the most that `duty_low` may be.
    """

    case: str
    name: str
    nodes: tuple[str, ...]
    sensor: str
    on: float
    off: float
    control: str
    failed: str
    power: float
    low: float | None
    high: float | None
    enabled: float
    duty: float
    duty_low: float
    mean: float
    energy: float | None
    in_shadow: float | None
    switchings: float | None
    holds: tuple[str, ...]
    margin: float
    allowed: float
    verdict: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatersTogether:
    """All circuits of a case.

    `peak` [W] is the most that they gave at one instant, as solved (None for a steady case): which
    thermostats are on together depends on how they happen to fall in with each other, so that only
    `installed` [W], the sum of all at the model's high bus voltage (at the case's, where the model
    states none), is a bound. `energy` and `in_shadow` [J] are those of `turn` [s], an orbit (or a
    day at a site), or 24 hours where there is neither, as `per` says.
    """

    case: str
    peak: float | None
    installed: float
    mean: float
    energy: float | None
    in_shadow: float | None
    turn: float
    per: Literal["orbit", "day"]


def heater_table(result: Result) -> tuple[HeaterRow, ...]:
    """One row for each heater circuit of a solved case, in the order of the file."""
    entries = result.model.entries(Heater, "heaters")
    held: dict[str, list[str]] = {}
    for name, component in result.model.entries(Component, "components").items():
        if component.held_by is not None:
            held.setdefault(component.held_by, []).append(name)
    dark = None if result.solution.failure else _dark(result)
    return tuple(
        _row(result, name, entry, dark, tuple(held.get(entry.spare_of or name, ())))
        for name, entry in entries.items()
    )


def heaters_together(result: Result) -> HeatersTogether:
    """What all circuits of a solved case take at once, and in all."""
    rows = heater_table(result)
    turn, per = _turn(result)
    peak = None
    if result.solution.kind != "steady" and not result.solution.failure:
        names = [row.name for row in rows]
        peak = float(heater_heat(result.network, names, result.solution.record).max())
    energies = [row.energy for row in rows if row.energy is not None]
    shadows = [row.in_shadow for row in rows if row.in_shadow is not None]
    return HeatersTogether(
        case=result.case,
        peak=peak,
        installed=sum(max(row.power, row.high or 0.0) for row in rows),
        mean=sum(row.mean for row in rows),
        energy=sum(energies) if len(energies) == len(rows) else None,
        in_shadow=sum(shadows) if len(shadows) == len(rows) else None,
        turn=turn,
        per=per,
    )


def heater_duty(result: Result, heater: str) -> float:
    """Mean power over power installed, at the case's bus voltage. Raises KeyError for no such."""
    entry = result.model.entries(Heater, "heaters")[heater]
    duty, enabled = _duty(result, heater, entry)
    return duty * enabled


def heater_duty_low(result: Result, heater: str) -> float:
    """The duty that the margin rule asks for: while it may heat, and of the least power installed.

    That is at the model's low bus voltage, or at the case's own where this is lower still or the
    model states none. It may exceed 1: then that voltage does not do. Raises KeyError for no such.
    """
    entry = result.model.entries(Heater, "heaters")[heater]
    duty, _ = _duty(result, heater, entry)
    return duty * _weakening(result, entry)


def heating(result: Result, heater: str) -> Flags:
    """Whether a circuit gives heat at each sample of the record."""
    return np.asarray(heater_heat(result.network, [heater], result.solution.record) > 0.0)


def _row(
    result: Result,
    name: str,
    entry: Heater,
    dark: Floats | None,
    holds: tuple[str, ...],
) -> HeaterRow:
    solved = not result.solution.failure
    power = entry.power_at(result.plan.bus_voltage)
    duty, enabled = _duty(result, name, entry) if solved else (NOTHING, NOTHING)
    duty_low = duty * (_weakening(result, entry) if entry.failed == "no" else 1.0)
    allowed = result.model.settings.uncertainty.heater_duty
    margin = float("inf") if duty_low == 0.0 else 1.0 / duty_low - 1.0
    mean = 0.0 if entry.failed == "off" else power * enabled * duty
    energy = in_shadow = switchings = None
    if solved and result.solution.kind != "steady":
        given = heater_heat(result.network, [name], result.solution.record)
        energy = mean * _turn(result)[0]
        if dark is not None:
            in_shadow = energy * _share(given * result.solution.record.weight, dark)
        switchings = _switchings(result, given) * DAY / result.solution.span
    stated = result.model.settings.bus_voltage
    on, off = entry.thresholds
    return HeaterRow(
        case=result.case,
        name=name,
        nodes=tuple(entry.nodes),
        sensor=entry.senses,
        on=on,
        off=off,
        control=entry.control,
        failed=entry.failed,
        power=power,
        low=None if stated is None else entry.power_at(stated.low),
        high=None if stated is None else entry.power_at(stated.high),
        enabled=enabled,
        duty=duty,
        duty_low=duty_low,
        mean=mean,
        energy=energy,
        in_shadow=in_shadow,
        switchings=switchings,
        holds=holds,
        margin=margin if entry.failed == "no" else NOTHING,
        allowed=allowed,
        verdict=_verdict(entry, power, enabled, duty, duty_low, allowed),
    )


def _verdict(
    entry: Heater, power: float, enabled: float, duty: float, duty_low: float, allowed: float
) -> Verdict:
    if entry.failed != "no":
        return "failed"
    if np.isnan(duty):
        return "not solved"
    if power == 0.0:
        return "no power"
    if enabled == 0.0:
        return "not enabled"
    if duty == 0.0:
        return "not needed"
    return "holds" if duty_low <= allowed else "allowance not covered"


def _weakening(result: Result, entry: Heater) -> float:
    """Power at the case's bus voltage over the least of it and that at the model's low one."""
    stated = result.model.settings.bus_voltage
    power = entry.power_at(result.plan.bus_voltage)
    if stated is None or power == 0.0:
        return 1.0
    return max(1.0, power / entry.power_at(stated.low))


def _duty(result: Result, name: str, entry: Heater) -> tuple[float, float]:
    """Duty while it may heat, and the share of the time in which it may."""
    network, record = result.network, result.solution.record
    weight = record.weight / record.weight.sum()
    power = entry.power_at(result.plan.bus_voltage)
    available = float(weight @ heater_heat(network, [name], record, full=True))
    if entry.failed == "off" or available == 0.0:
        return 0.0, 0.0
    enabled = min(available / power, 1.0)
    path, stats = f"heaters.{name}", network.thermostats
    own = [k for k, origin in enumerate(stats.origin) if network.origins[origin] == path]
    if not own:
        return float(weight @ heater_heat(network, [name], record)) / available, enabled
    # That of the solution is over whole cycles, where there are some.
    duty = float(result.solution.heater_duty[own[0]])
    return (duty if result.solution.kind == "steady" else duty / enabled), enabled


def _dark(result: Result) -> Floats | None:
    """Share f8[s] of each of the solution's steps that lies in shadow; None without a Sun."""
    if result.plan.sunlight is None or result.solution.kind == "steady":
        return None
    return dark_share(result)


def dark_share(result: Result) -> Floats:
    """Share f8[s] of each of the solution's steps that lies in shadow; zero without a Sun."""
    local = _by_steps(result.solution.record.local_time)
    begins, ends = local[:, 0], local[:, -1]
    inside = np.zeros(len(local))
    for enters, leaves in result.plan.shadows(result.plan.span):
        inside += np.clip(np.minimum(ends, leaves) - np.maximum(begins, enters), 0.0, None)
    # Where an edge of the shadow ends a step, as it does where heat follows it, nothing is split.
    share = inside / np.maximum(ends - begins, 1e-12)
    return np.where(share > 1.0 - 1e-6, 1.0, np.where(share < 1e-6, 0.0, share))


def _share(given: Floats, dark: Floats) -> float:
    """Share of an energy, f8[q] [J] by samples, that falls into the shadow."""
    # A thermostat keeps its state through a step, so that only what it lasts there matters.
    steps = _by_steps(given).sum(axis=1)
    total = steps.sum()
    return float(steps @ dark / total) if total > 0.0 else 0.0


def _switchings(result: Result, given: Floats) -> int:
    """How often heat begins or ends; at the end of a period that repeats by itself as well."""
    on = _by_steps(given)[:, 2] > 0.0
    changes = int((on[1:] != on[:-1]).sum())
    # Over a window of several periods nothing repeats exactly, nor would its end go on.
    alone = result.solution.kind == "repeating" and result.solution.span <= 1.5 * result.plan.span
    return changes + int(alone and on[0] != on[-1])


def _by_steps(values: Floats) -> Floats:
    from thermnet.solve.steps import LOBATTO

    return values.reshape(-1, len(LOBATTO))


def _turn(result: Result) -> tuple[float, Literal["orbit", "day"]]:
    """What energy is counted by [s], and what that is."""
    sky = result.plan.sky
    if sky is not None and sky.period is not None:
        return float(sky.period), "orbit" if sky.site is None else "day"
    return DAY, "day"
