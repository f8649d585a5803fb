"""The command `interfaces`: temperature and heat flow at every interface, case by case."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from thermnet.cli.by_case import print_by_case
from thermnet.cli.inputs import loaded
from thermnet.cli.tables import celsius, grid, instant
from thermnet.errors import InputError, Problem
from thermnet.interfaces import InterfaceRow, interface_table
from thermnet.results import Result

STEADY = ["interface", "of", "degC", "heat in W"]
MOVING = ["interface", "of", "lowest degC", "at", "mean degC", "highest degC", "at"]
MOVING += ["least heat in W", "at", "mean W", "most W", "at"]

SIGN = "heat counts as positive into the part, or into this model at an interface of its own"


def interfaces(options: argparse.Namespace) -> int:
    """Solve cases and print what goes through their interfaces; status 3 for an unsolved one."""
    model = loaded(options.model, options.changes)
    if not model.sections["interfaces"]:
        raise InputError([Problem(message=f"{model.file}: the model has no interfaces")])
    return print_by_case(
        options,
        model,
        name="interfaces",
        kind=InterfaceRow,
        table=interface_table,
        text=_text,
        foot=lambda _: [SIGN],
    )


def _text(result: Result, rows: Sequence[InterfaceRow]) -> str:
    if result.solution.kind == "steady":
        lines = [[*_named(row), celsius(row.mean), _watts(row.mean_heat)] for row in rows]
        return grid(STEADY, lines)
    return grid(MOVING, [_moving(row) for row in rows])


def _named(row: InterfaceRow) -> list[str]:
    return [row.interface, row.part or "this model"]


def _moving(row: InterfaceRow) -> list[str]:
    return [
        *_named(row),
        celsius(row.lowest),
        instant(row.lowest_at),
        celsius(row.mean),
        celsius(row.highest),
        instant(row.highest_at),
        _watts(row.least),
        instant(row.least_at),
        _watts(row.mean_heat),
        _watts(row.most),
        instant(row.most_at),
    ]


def _watts(heat: float) -> str:
    return f"{round(heat, 3) + 0.0:.3f}"  # no minus before a zero
