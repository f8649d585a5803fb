"""Tables for people, in degrees Celsius, and the same data for programs, in SI and kelvin."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence, Set
from pathlib import Path
from typing import Any

from thermnet.account import Account, account
from thermnet.files import write_rows
from thermnet.heaters import ALWAYS, DAY, heater_table
from thermnet.limits import READ
from thermnet.margins import Margin, Summary
from thermnet.model.model import Change
from thermnet.model.plan import Plan
from thermnet.physics.constants import ZERO_CELSIUS
from thermnet.results import Result

MOST_NODES = 500
"""Nodes of a network that are all shown; of a larger one only the coldest and the hottest."""

TELLING = 10
"""How many of the coldest, and of the hottest."""


def grid(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Columns of text; those of numbers (with their units) are aligned right."""
    widths = [max(len(row[k]) for row in (head, *rows)) for k in range(len(head))]
    number = [all(_numeric(row[k]) for row in rows) for k in range(len(head))]

    def line(cells: Sequence[str]) -> str:
        padded = [
            cell.rjust(width) if right else cell.ljust(width)
            for cell, width, right in zip(cells, widths, number, strict=True)
        ]
        return "  ".join(padded).rstrip()

    return "\n".join([line(head), line(["-" * width for width in widths]), *map(line, rows)])


def _numeric(cell: str) -> bool:
    return cell in ("", "-") or cell.lstrip("+-")[:1].isdigit()


def celsius(kelvin: float) -> str:
    """A temperature for people."""
    if math.isnan(kelvin):
        return "-"
    return f"{round(kelvin - ZERO_CELSIUS, 1) + 0.0:.1f}"  # no minus before a zero


def instant(seconds: float, result_is_steady: bool = False) -> str:
    """An instant for people: seconds, minutes or hours by size."""
    if result_is_steady or math.isnan(seconds):
        return "-"
    for size, unit in ((86400.0, "d"), (3600.0, "h"), (60.0, "min")):
        if seconds >= 2.0 * size:
            return f"{seconds / size:.1f} {unit}"
    return f"{seconds:.0f} s"


def with_unit(value: Any, unit: str) -> str:
    """A value for people; a temperature in kelvin also in degrees Celsius."""
    if isinstance(value, tuple):
        return "[" + ", ".join(with_unit(each, unit) for each in value) + "]"
    if isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    return f"{value:.6g} {unit}".rstrip()


def changes(case: str, made: Sequence[Change]) -> str:
    """What a case changes, a line for each value."""
    count = f"{len(made)} value{'s' if len(made) != 1 else ''} changed"
    lines = [f"case {case}: " + (count if made else "as the file says")]
    lines += [f"  {change.path}: {change.before} -> {change.after}" for change in made]
    return "\n".join(lines) + "\n"


def title(result: Result) -> str:
    """Model, case, kind of solve, and the bus voltage where the case states one."""
    plan = result.plan
    return f"{result.model.name}, {plan.title} ({result.solution.kind}){at_voltage(plan)}"


def at_voltage(plan: Plan) -> str:
    """The bus voltage of a case, with its name where the model gives it one; "" without one."""
    if plan.bus_voltage is None:
        return ""
    return f" at {plan.bus_voltage:g} V" + (f" ({plan.voltage})" if plan.voltage else "")


def _voltages(results: Sequence[Result]) -> list[str]:
    """The bus voltages of some cases in one line; none where no case states one."""
    found: dict[str, list[str]] = {}
    for result in results:
        if words := at_voltage(result.plan):
            found.setdefault(words.removeprefix(" at "), []).append(result.case)
    if not found:
        return []
    told = [f"{words} in {', '.join(cases)}" for words, cases in found.items()]
    return [f"bus voltage: {'; '.join(told)}"]


def solution(result: Result, energy: Account) -> str:
    """Temperatures of every node, heater duties, and the account of one case."""
    found, network = result.solution, result.network
    lines = [title(result)]
    if found.failure:
        return "\n".join([*lines, f"NOT SOLVED: {found.failure}"])
    lowest, highest = found.extremes.lowest.min(axis=0), found.extremes.highest.max(axis=0)
    names = network.names
    shown: Sequence[int] = range(len(names))
    if len(names) > MOST_NODES:
        shown = [*lowest.argsort()[:TELLING], *highest.argsort()[-TELLING:]]
        lines.append(
            f"{len(names)} nodes: the {TELLING} coldest and the {TELLING} hottest are shown; "
            "--out writes all"
        )
    if found.kind == "steady":
        rows = [[names[k], celsius(found.mean[k])] for k in shown]
        lines.append(grid(["node", "degC"], rows))
    else:
        rows = [
            [names[k], celsius(lowest[k]), celsius(found.mean[k]), celsius(highest[k])]
            for k in shown
        ]
        lines.append(grid(["node", "lowest degC", "mean degC", "highest degC"], rows))
    if result.model.sections["heaters"]:
        lines += ["", heaters(result)]
    lines += ["", account_line(result, energy), f"solved by {found.stats.method}"]
    lines += list(found.stats.notes)
    return "\n".join(lines) + "\n"


def heaters(result: Result) -> str:
    """Power, duty and switchings of every heater circuit in one case."""
    found = heater_table(result)
    sometimes = any(row.enabled < ALWAYS and row.failed == "no" for row in found)
    rows = []
    for row in found:
        cells = [row.name, f"{row.power:.2f}", f"{100 * row.duty:.1f} %", f"{row.mean:.2f}"]
        count = "-"
        if row.switchings is not None:
            count = f"{row.switchings * result.solution.span / DAY:.0f}"
        rows.append([*cells, count, *([f"{100 * row.enabled:.1f} %"] if sometimes else [])])
    head = ["heater", "power W", "duty", "mean W", "switchings"]
    return grid([*head, *(["enabled"] if sometimes else [])], rows)


def account_line(result: Result, energy: Account) -> str:
    """The energy account of a case in one line."""
    verdict = "closes" if energy.closes else "DOES NOT CLOSE"
    worst = "" if energy.closes else f"; worst at '{energy.worst}'"
    return (
        f"energy account of {result.case}: {energy.passing:.6g} {energy.unit} passing, "
        f"unbalanced {energy.share:.1e} of it; {verdict}{worst}"
    )


def heat_of_node(result: Result, node: str) -> str:
    """Where the heat of one node comes from and goes."""
    energy = account(result.network, result.solution)
    span = 1.0 if energy.unit == "W" else max(result.solution.span, 1e-30)
    rows = [
        [entry.origin, entry.kind, entry.b, f"{entry.amount / span:+.4f}"]
        for entry in energy.of_node(node)
    ]
    total = sum(entry.amount for entry in energy.of_node(node)) / span
    rows.append(["remainder", "", "", f"{total:+.1e}"])
    return f"heat into '{node}', {result.case}\n" + grid(
        ["cause", "kind", "other end", "mean W"], rows
    )


def summary(rows: Sequence[Summary], results: Sequence[Result]) -> str:
    """One line for each component: the governing margin of each side, the gravest first."""
    steady = {result.case for result in results if result.solution.kind == "steady"}
    lines, of_limits = [], []
    for row in rows:
        judged = [side for side in (row.hot, row.cold, *row.others) if side is not None]
        order = ("not solved", "outside band", "allowance not covered", "holds")
        gravest = min(judged, key=lambda margin: order.index(margin.verdict), default=None)
        verdict = "no band" if gravest is None else verdict_words(gravest)
        if row.is_limit:
            of_limits += [verdict] if judged else []
        else:
            sides = [*_side(row.cold, steady), *_side(row.hot, steady)]
            lines.append([row.component, verdict, *sides])
    head = ["component", "verdict"]
    head += ["cold margin", "calculated", "limit", "of band, case, time"]
    head += ["hot margin", "calculated", "limit", "of band, case, time"]
    text = [grid(head, lines)] if lines or not of_limits else []
    others = [
        margin
        for row in rows
        for margin in row.others
        if margin.quantity != "duty" or margin.calculated > 0.0
    ]
    if others:
        text += [*([""] if text else []), _others(others, steady)]
    text += ["", *(account_line(result, account(result.network, result.solution))
                   for result in results if not result.solution.failure)]  # fmt: skip
    for result in results:
        text += [f"{result.case}: {note}" for note in result.solution.stats.notes]
    text += _voltages(results)
    count = sum(1 for line in lines if line[1] == "holds")
    with_bands = sum(1 for line in lines if line[1] != "no band")
    words = f"{count} of {with_bands} components hold"
    if of_limits:
        words += f", {of_limits.count('holds')} of {len(of_limits)} further limits"
    if unjudged := [row.component for row in rows if row.is_limit and not row.others]:
        words += f"; judged in none of these cases: {', '.join(unjudged)}"
    return "\n".join([*text, "", words])


def verdict_words(margin: Margin) -> str:
    """The verdict for people: what is no temperature has no band to be outside of."""
    if margin.quantity != "temperature" and margin.verdict == "outside band":
        return "outside limit"
    return margin.verdict


def margins(found: Sequence[Margin]) -> str:
    """Every margin of every band in every case."""
    rows = [
        [
            margin.component,
            verdict_words(margin),
            margin.band,
            margin.side,
            margin.case,
            margin.node,
            *_numbers(margin),
        ]
        for margin in found
    ]
    head = ["component", "verdict", "band", "side", "case", "node"]
    return grid([*head, "calculated", "allowance", "limit", "margin", "time"], rows)


def write_margins(found: Sequence[Margin], path: Path) -> Path:
    """Write every margin as CSV, in SI and kelvin."""
    names = [field.name for field in dataclasses.fields(Margin)]
    return write_rows(path, names, ([getattr(margin, name) for name in names] for margin in found))


def margin_data(margin: Margin) -> dict[str, Any]:
    """A margin for programs; what is not a number becomes null."""
    data = dataclasses.asdict(margin)
    return {
        key: None if isinstance(value, float) and math.isnan(value) else value
        for key, value in data.items()
    }


def result_data(result: Result) -> dict[str, Any]:
    """A solved case for programs."""
    found, network = result.solution, result.network
    energy = account(network, found)
    return {
        "model": result.model.name,
        "hash": result.model.hash(),
        "case": result.case,
        "kind": found.kind,
        "failure": found.failure,
        "lowest": dict(zip(network.names, found.extremes.lowest.min(axis=0).tolist(), strict=True)),
        "highest": dict(
            zip(network.names, found.extremes.highest.max(axis=0).tolist(), strict=True)
        ),
        "mean": dict(zip(network.names, found.mean.tolist(), strict=True)),
        "heater_duty": {
            f"heaters.{row.name}": row.duty * row.enabled for row in heater_table(result)
        },
        "account": {
            "unit": energy.unit,
            "passing": energy.passing,
            "unbalanced": energy.share,
            "closes": energy.closes,
        },
        "notes": list(found.stats.notes),
    }


def _side(margin: Margin | None, steady: set[str]) -> list[str]:
    if margin is None:
        return ["-", "-", "-", ""]
    where = f"{margin.band}, {margin.case}"
    if margin.case not in steady and not math.isnan(margin.instant):
        where += f", {instant(margin.instant)}"
    if margin.held_by:
        where += f", held {100 * margin.duty:.0f} %"
    size = "-" if math.isnan(margin.margin) else f"{margin.margin:+.1f} K"
    return [size, f"{celsius(margin.calculated)} °C", f"{celsius(margin.limit)} °C", where]


def _numbers(margin: Margin) -> list[str]:
    if margin.quantity == "temperature":
        if margin.verdict == "not solved":
            return ["-", "-", celsius(margin.limit), "-", "-"]
        held = f"held {100 * margin.duty:.0f} %" if margin.held_by else f"{margin.allowance:.1f} K"
        values = [
            celsius(margin.calculated),
            held,
            celsius(margin.limit),
            f"{margin.margin:+.1f} K",
        ]
        return [*values, instant(margin.instant)]
    scale, word, _ = READ[margin.quantity]
    shown = [
        "-" if math.isnan(value) else f"{scale * value:.2f} {word}"
        for value in (margin.calculated, margin.limit, margin.margin)
    ]
    when = "-" if margin.quantity == "duty" else instant(margin.instant)
    return [shown[0], "-", shown[1], shown[2], when]


def _others(found: Sequence[Margin], steady: Set[str]) -> str:
    """Limits on other quantities than temperature; what is limited from below says so."""
    rows = []
    for margin in found:
        what = f"{margin.band}, at least" if margin.side == "cold" else margin.band
        calculated, _, limit, left, when = _numbers(margin)
        when = "-" if margin.case in steady else when
        rows.append(
            [
                margin.component,
                verdict_words(margin),
                what,
                margin.case,
                calculated,
                limit,
                left,
                when,
            ]
        )
    head = ["component", "verdict", "limit on", "case"]
    return grid([*head, "calculated", "limit", "left", "time"], rows)
