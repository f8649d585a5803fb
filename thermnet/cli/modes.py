"""The command `modes`: what units give in each mode, against the budget, and what cases do."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from thermnet.cli.inputs import chosen_cases, loaded
from thermnet.cli.outputs import tell
from thermnet.cli.status import FAILS, HOLDS
from thermnet.cli.tables import at_voltage, grid
from thermnet.errors import InputError, Problem
from thermnet.files import write_rows
from thermnet.model.budgets import ModeTotal, mode_totals
from thermnet.model.kinds.unit import Unit
from thermnet.model.model import Model
from thermnet.model.paths import apply_case
from thermnet.model.plan import Plan, plan
from thermnet.physics.orbit import orbit_angle
from thermnet.physics.setting import Flight

Case = tuple[Model, Plan]


def modes(options: argparse.Namespace) -> int:
    """Print the units by mode and the activity of each case; status 1 where a budget fails."""
    model = loaded(options.model, options.changes)
    if not model.sections["modes"]:
        message = f"{model.file}: the model has no modes: see docs/how-to/describe-operation.md"
        raise InputError([Problem(message=message)])
    cases = [_case(model, case) for case in chosen_cases(model, options.case)]
    if options.json:
        print(json.dumps(_data(model, cases), indent=1))
    else:
        parts = [f"{model.name}: heat by mode, W, as the file states it", _by_mode(model)]
        parts += [_of_case(applied, how) for applied, how in cases]
        print("\n\n".join(parts))
    if options.out:
        _write(model, cases, Path(options.out))
    totals = [total for applied, how in cases for total in _due(applied, how)]
    return FAILS if any((total.left or 0.0) < -1e-9 for total in totals) else HOLDS


def _case(model: Model, case: str) -> Case:
    applied = apply_case(model, case)
    return applied, plan(applied, case)


def _by_mode(model: Model) -> str:
    names = list(model.sections["modes"])
    rows = []
    for name, unit in model.entries(Unit, "units").items():
        cells = [_watts(unit, mode) for mode in names]
        rows.append([name, ", ".join(unit.nodes), *cells])
    totals = mode_totals(model)
    rows.append(["all units", "", *(f"{total.heat + total.sent:.2f}" for total in totals)])
    rows.append(["budget", "", *(_or_dash(total.budget) for total in totals)])
    rows.append(["left", "", *(_or_dash(total.left) for total in totals)])
    return grid(["unit", "nodes", *names], rows)


def _watts(unit: Unit, mode: str) -> str:
    """Heat, and what is sent besides; a dash where the unit is off."""
    if not unit.is_on(mode):
        return "-"
    sent = unit.sent.get(mode, 0.0)
    heat = f"{unit.heat.get(mode, 0.0):.2f}"
    return f"{heat} + {sent:.2f}" if sent else heat


def _or_dash(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"


def _due(applied: Model, how: Plan) -> list[ModeTotal]:
    """The totals of the modes that a case goes through."""
    due = () if how.activity is None else how.activity.modes
    return [total for total in mode_totals(applied, how.bus_voltage) if total.mode in due]


def _of_case(applied: Model, how: Plan) -> str:
    """What a case does, and what its units take in it."""
    lines = [f"{applied.name}, {how.title}{at_voltage(how)}"]
    steps = _steps(how)
    head = ["step", "mode", "pointing", "begins s", "orbit angle deg", "lasts s"]
    rows = [
        [
            step["step"] or "all along",
            step["mode"],
            step["pointing"] or "-",
            f"{step['begins']:.1f}",
            "-" if step["orbit_angle"] is None else f"{step['orbit_angle']:.1f}",
            "-" if step["lasts"] is None else f"{step['lasts']:.1f}",
        ]
        for step in steps
    ]
    if how.activity is not None and how.activity.period is not None:
        lines.append(f"repeats after {how.activity.period:.1f} s")
    lines += [grid(head, rows), ""]
    head = ["mode", "units take W", "of it sent W", "budget W", "left W"]
    rows = [
        [
            total.mode,
            f"{total.heat + total.sent:.2f}",
            f"{total.sent:.2f}",
            _or_dash(total.budget),
            _or_dash(total.left),
        ]
        for total in _due(applied, how)
    ]
    return "\n".join([*lines, grid(head, rows)])


def _steps(how: Plan) -> list[dict[str, Any]]:
    """Each stretch of a case's activity: what it is, and when it begins and how long it lasts."""
    done = how.activity
    if done is None:
        return []
    end = done.period or how.span or done.length
    ends = [*done.begin[1:].tolist(), end]
    setting = None if how.sky is None else how.sky.setting
    named = "" if how.sky is None else how.sky.pointing
    usual = named.removeprefix("pointings.") if named.startswith("pointings.") else ""
    angles: list[float | None] = [None] * len(done.begin)
    if isinstance(setting, Flight):
        turns = np.floor_divide(done.begin, setting.period)
        angle = orbit_angle(setting.orbit, done.begin - turns * setting.period)
        angles = (np.degrees(angle) + 360.0 * turns).tolist()
    return [
        {
            "step": step,
            "mode": mode,
            "pointing": pointing or usual,
            "begins": float(begins),
            "orbit_angle": angle,
            "lasts": None if ends is None else float(ends - begins),
        }
        for step, mode, pointing, begins, angle, ends in zip(
            done.steps, done.modes, done.pointings, done.begin, angles, ends, strict=True
        )
    ]


def _data(model: Model, cases: Sequence[Case]) -> dict[str, Any]:
    units = {
        name: {"nodes": unit.nodes, "heat": unit.heat, "sent": unit.sent}
        for name, unit in model.entries(Unit, "units").items()
    }
    return {
        "model": model.name,
        "hash": model.hash(),
        "units": units,
        "cases": {
            how.name: {
                "bus_voltage": how.bus_voltage,
                "steps": _steps(how),
                "modes": {
                    total.mode: {
                        "heat": total.heat,
                        "sent": total.sent,
                        "budget": total.budget,
                        "left": total.left,
                    }
                    for total in _due(applied, how)
                },
            }
            for applied, how in cases
        },
    }


def _write(model: Model, cases: Sequence[Case], folder: Path) -> None:
    """`units.csv`, heat by mode [W], and `steps.csv`, the steps of every case."""
    folder.mkdir(parents=True, exist_ok=True)
    names = list(model.sections["modes"])
    rows = [
        [name, *(unit.heat.get(mode, 0.0) for mode in names)]
        for name, unit in model.entries(Unit, "units").items()
    ]
    tell(write_rows(folder / "units.csv", ["unit", *(f"{mode} [W]" for mode in names)], rows))
    head = ["case", "step", "mode", "pointing", "begins [s]", "orbit angle [deg]", "lasts [s]"]
    steps = [[how.name, *step.values()] for _, how in cases for step in _steps(how)]
    tell(write_rows(folder / "steps.csv", head, steps))
