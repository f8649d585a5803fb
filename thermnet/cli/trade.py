"""The command `trade`: heater power in the cold against the quality of a blanket."""

from __future__ import annotations

import argparse
import dataclasses
import json
import math
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NoReturn

from thermnet.cli.inputs import chosen_cases, loaded, solver_options
from thermnet.cli.outputs import save_figures, tell
from thermnet.cli.status import HOLDS, UNSOLVED
from thermnet.cli.tables import celsius, grid, margin_data
from thermnet.errors import InputError, Problem
from thermnet.files import write_rows
from thermnet.model.kinds.component import Component
from thermnet.model.model import Model
from thermnet.model.paths import apply_case
from thermnet.model.plan import plan
from thermnet.studies.trade import Trade
from thermnet.studies.trade import trade as trade_over
from thermnet.studies.trade_points import TradePoint
from thermnet.studies.trade_range import around, between, blanket_over, quality
from thermnet.text.tree import resolve
from thermnet.units import to_kelvin


def trade(options: argparse.Namespace) -> int:
    """Solve a cold and a hot case for several values of a blanket; status 3 for an unsolved one."""
    model = loaded(options.model, options.changes)
    blanket = options.blanket or ""
    path = options.path
    if path is None:
        blanket = blanket or blanket_over(model, options.component)
        path = quality(model, blanket)
    values = _values(options, model, path)
    progress = _Progress(path, len(values))
    try:
        found = trade_over(
            model,
            options.component,
            _case(model, options.cold, "cold"),
            _case(model, options.hot, "hot"),
            path,
            values,
            solver_options(options),
            blanket=blanket,
            at=None if options.at is None else _temperature(options.at),
            progress=progress.tell if sys.stderr.isatty() else None,
        )
    finally:
        progress.clear()
    print(json.dumps(_data(found), indent=1) if options.json else _text(found))
    if options.out:
        from thermnet.figures.trade_plot import trade_plot

        folder = Path(options.out)
        folder.mkdir(parents=True, exist_ok=True)
        tell(_write(found, folder / "trade.csv"))
        save_figures([trade_plot(found)], folder / "trade.png")
    _warn(found)
    return UNSOLVED if any(point.failure for point in found.points) else HOLDS


class _Progress:
    """One line on the terminal that says how far the trade is."""

    def __init__(self, path: str, count: int) -> None:
        self.path, self.count, self.shown = path, count, 0

    def tell(self, value: float, done: int) -> None:
        line = f"{done} of {self.count} solved; {self.path} = {value:.4g} ..."
        print(f"\r{line:{self.shown}}", end="", file=sys.stderr, flush=True)
        self.shown = len(line)

    def clear(self) -> None:
        if self.shown:
            print(f"\r{'':{self.shown}}\r", end="", file=sys.stderr, flush=True)


def _values(options: argparse.Namespace, model: Model, path: str) -> tuple[float, ...]:
    """The values asked for. Raises InputError for text that is no number, and for half a range."""
    if options.values is not None:
        if options.low is not None or options.high is not None:
            _refuse("--values takes the place of --from and --to: drop one of the two")
        try:
            values = tuple(float(each) for each in options.values.split(","))
        except ValueError:
            _refuse(f"--values takes numbers with commas between them, got '{options.values}'")
        if not all(map(math.isfinite, values)):
            _refuse(f"--values takes finite numbers, got '{options.values}'")
        return tuple(dict.fromkeys(values))
    if options.low is None and options.high is None:
        return around(model, path, options.points)
    if options.low is None or options.high is None:
        _refuse("a range needs both its ends: --from and --to")
    return between(model, path, options.low, options.high, options.points)


def _case(model: Model, name: str | None, kind: str) -> str:
    """The case asked for, or the first of its kind that does: a transient one holds nothing.

    Of the two of a case that is solved at both bounds, cold takes the high and hot the low one.
    """
    which = -1 if kind == "cold" else 0
    if name is not None:
        return chosen_cases(model, [name])[which]
    plans = (plan(apply_case(model, each), each) for each in chosen_cases(model, []))
    fits = [each for each in plans if each.kind == kind]
    chosen = next((each for each in fits if kind == "hot" or each.solve != "transient"), None)
    if chosen is None:
        rest = ", only a transient one" if fits else ""
        _refuse(f"{model.file}: the model has no {kind} case{rest}: name one with --{kind}")
    both = (each for each in model.paired if chosen.name in model.solved_as([each]))
    return model.solved_as([next(both, chosen.name)])[which]


def _temperature(text: str) -> float:
    if isinstance(resolve(text), int | float):
        _refuse(f"--at: give it a unit: '{text} degC' or '{text} K'")
    try:
        return to_kelvin(text, None)
    except ValueError as error:
        raise InputError([Problem(message=f"--at: {error}")]) from None


def _text(found: Trade) -> str:
    where = f"the lower end of its {found.band} band" if found.band else "as asked for"
    kind = "repeating" if found.repeating else "steady"
    held = f"holds {found.component} at {celsius(found.limit)} °C, {where}"
    unit = f" [{found.unit}]" if found.unit else ""
    lines = [f"{found.model.name}: heater power that {held}"]
    lines.append(f"cold: {found.cold} ({kind}); hot: {found.hot}; value: {found.path}{unit}")
    lines += [*_bounds(found), _table(found), *_sums(found), *found.notes]
    note = found.model.entries(Component, "components")[found.component].note
    return "\n".join([*lines, f"{found.component}: {note}"] if note else lines)


def _bounds(found: Trade) -> Iterator[str]:
    """Which bound the blankets use in each case, and of which the value takes the place."""
    if found.path.startswith("blankets.") and found.path.endswith(".effective_emittance"):
        swept = found.path.split(".")[1]
        yield f"the value is the effective emittance of '{swept}' in both cases, whatever the bound"
    if found.bounds[found.cold]:
        cases = [f"{_used(found, case)} in '{case}'" for case in found.bounds]
        yield f"blankets {', '.join(cases)}"


def _used(found: Trade, case: str) -> str:
    """One bound for all, or which blankets use which: "high", or "nominal ('a'), high ('b')"."""
    bounds = found.bounds[case]
    if len(bounds) == 1:
        return next(iter(bounds))
    listed = ((bound, ", ".join(f"'{name}'" for name in names)) for bound, names in bounds.items())
    return " and ".join(f"{bound} ({names})" for bound, names in listed)


def _table(found: Trade) -> str:
    """Columns that say nothing in this trade are left out."""
    points = found.points
    columns: list[tuple[str, list[str]]] = [("value", [f"{each.value:.4g}" for each in points])]
    if found.blanket:
        head = "effective emittance"
        columns.append((head, [_number(each.emittance, 4) for each in points]))
    columns.append(("heater power needed W", [_number(each.needed, 2) for each in points]))
    if found.repeating:
        columns.append(("peak W", [_number(each.peak, 2) for each in points]))
    if found.installed:
        of = [_number(100.0 * each.needed / found.installed, 1, " %") for each in points]
        columns.append(("of installed", of))
    if any(each.by_itself is not None for each in points):
        free = ["-" if each.by_itself is None else celsius(each.by_itself) for each in points]
        columns.append(("without heater degC", free))
    columns.append(("hot calculated degC", [celsius(each.hottest) for each in points]))
    columns.append(("hot margin K", [_margin(each) for each in points]))
    rows = zip(*(cells for _, cells in columns), strict=True)
    return grid([head for head, _ in columns], [list(row) for row in rows])


def _number(value: float, digits: int, unit: str = "") -> str:
    return "-" if math.isnan(value) else f"{value:.{digits}f}{unit}"


def _margin(point: TradePoint) -> str:
    known = point.margin is not None and math.isfinite(point.margin.margin)
    return f"{point.margin.margin:+.1f}" if known and point.margin is not None else "-"


def _sums(found: Trade) -> Iterator[str]:
    if found.installed is None or found.usable is None:
        yield f"no heater is named that holds {found.component} ('held_by')"
        return
    yield (
        f"installed: {found.installed:.2f} W of '{found.heater}' at the lowest bus voltage, of "
        f"which {found.usable:.2f} W at a duty of {100 * found.allowed:.0f} %"
    )
    crossing = found.crossing()
    if crossing is not None:
        value, emittance = crossing
        enough = found.enough()
        if enough is not None and enough != value:
            least, most = math.floor(value), math.ceil(value)
            yield (
                f"that is needed between {least} and {most}, and enough at {enough} (straight "
                "between two points)"
            )
            return
        told = "" if math.isnan(emittance) else f", an effective emittance of {emittance:.4f}"
        yield f"that is needed at {value:.4g}{told} (straight between two points)"
        return
    solved = [each for each in found.points if math.isfinite(each.needed)]
    if solved:
        enough = solved[0].needed <= found.usable
        yield f"that is enough at {'every' if enough else 'no'} value"


def _data(found: Trade) -> dict[str, Any]:
    """The trade for programs: SI and kelvin, null for what is not a number."""
    crossing = found.crossing()
    return {
        "model": found.model.name,
        "hash": found.model.hash(),
        "component": found.component,
        "node": found.node,
        "blanket": found.blanket or None,
        "path": found.path,
        "unit": found.unit,
        "cold": found.cold,
        "hot": found.hot,
        "limit": found.limit,
        "band": found.band or None,
        "heater": found.heater or None,
        "installed": found.installed,
        "allowed_duty": found.allowed,
        "usable": found.usable,
        "reached_at": None if crossing is None else crossing[0],
        "enough_at": found.enough(),
        "bounds": {
            case: {each: list(of) for each, of in bounds.items()}
            for case, bounds in found.bounds.items()
        },
        "points": [_point_data(each) for each in found.points],
        "notes": list(found.notes),
    }


def _point_data(point: TradePoint) -> dict[str, Any]:
    data = {field.name: getattr(point, field.name) for field in dataclasses.fields(TradePoint)}
    data["margin"] = None if point.margin is None else margin_data(point.margin)
    return {
        key: None if isinstance(value, float) and not math.isfinite(value) else value
        for key, value in data.items()
    }


def _write(found: Trade, path: Path) -> Path:
    """Every point as CSV, in SI and kelvin; whole or not at all."""
    head = [f"{found.path} [{found.unit}]" if found.unit else found.path]
    head += ["effective emittance", "needed [W]", "peak [W]", "without heater [K]"]
    head += ["hot calculated [K]", "hot margin [K]", "hot band", "failure"]
    return write_rows(
        path,
        head,
        (
            [
                each.value,
                each.emittance,
                each.needed,
                each.peak,
                "" if each.by_itself is None else each.by_itself,
                each.hottest,
                "" if each.margin is None else each.margin.margin,
                "" if each.margin is None else each.margin.band,
                each.failure,
            ]
            for each in found.points
        ),
    )


def _warn(found: Trade) -> None:
    """Values without a solution, and accounts that do not close."""
    for point in found.points:
        where = f"{found.path} = {point.value:.4g}"
        if point.failure:
            print(f"{where}: not solved: {point.failure}", file=sys.stderr)
        for case in point.open_accounts:
            print(f"warning: {where}, {case}: energy account DOES NOT CLOSE", file=sys.stderr)


def _refuse(message: str) -> NoReturn:
    raise InputError([Problem(message=message)])
