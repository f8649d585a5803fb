"""The command `radiators`: what every radiator rejects, to what, and how much area it has over."""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator, Sequence

from thermnet.cli.by_case import print_by_case
from thermnet.cli.inputs import loaded
from thermnet.cli.tables import celsius, grid, instant
from thermnet.errors import InputError, Problem
from thermnet.model.kinds.radiator import CHANGED
from thermnet.radiators import EXCESS, RadiatorRow, radiator_table
from thermnet.results import Result

STEADY = ["radiator", "area m2", "fin", "emittance", "absorptance", "sky", "root degC", "sink degC"]
STEADY += ["emitted W", "absorbed W", "rejected W", "allowed degC", "excess area"]
MOVING = [
    "radiator",
    "area m2",
    "fin",
    "emittance",
    "absorptance",
    "sky",
    "root degC, lowest",
    "mean",
    "highest",
]
MOVING += ["sink degC, mean", "highest", "emitted W", "absorbed W", "rejected W", "most", "at"]
MOVING += ["allowed degC", "excess area, mean", "least"]

MEANING = (
    "emitted: net to all that it sees; rejected: emitted less absorbed, what comes to its root;\n"
    "excess area: how much more it would reject with its root at the allowed temperature"
)


def radiators(options: argparse.Namespace) -> int:
    """Solve cases and print what their radiators reject; status 3 for an unsolved one."""
    model = loaded(options.model, options.changes)
    if not model.sections["radiators"]:
        raise InputError([Problem(message=f"{model.file}: the model has no radiators")])
    return print_by_case(
        options,
        model,
        name="radiators",
        kind=RadiatorRow,
        table=radiator_table,
        text=_text,
        foot=lambda rows: [MEANING, *_short(rows)],
    )


def _text(result: Result, rows: Sequence[RadiatorRow]) -> str:
    if result.solution.kind == "steady":
        lines = [
            [*_first(row), celsius(row.mean), celsius(row.sink), *_heat(row)]
            + [celsius(row.allowed), _percent(row.excess)]
            for row in rows
        ]
        return grid(STEADY, lines)
    lines = [
        [*_first(row), celsius(row.lowest), celsius(row.mean), celsius(row.highest)]
        + [celsius(row.sink), celsius(row.hottest_sink), *_heat(row)]
        + [_watts(row.most), instant(row.most_at), celsius(row.allowed)]
        + [_percent(row.excess), _percent(row.least_excess)]
        for row in rows
    ]
    return grid(MOVING, lines)


def _first(row: RadiatorRow) -> list[str]:
    absorptance = "-" if math.isnan(row.absorptance) else f"{row.absorptance:.2f}"
    optics = [f"{row.emittance:.2f}", absorptance, f"{row.view:.2f}"]
    return [row.radiator, f"{row.area:.4g}", f"{row.efficiency:.3f}", *optics]


def _heat(row: RadiatorRow) -> list[str]:
    return [_watts(row.emitted), _watts(row.absorbed), _watts(row.rejected)]


def _watts(heat: float) -> str:
    return f"{round(heat, 2) + 0.0:.2f}"  # no minus before a zero


def _percent(share: float) -> str:
    return "-" if math.isnan(share) else f"{round(100.0 * share, 1) + 0.0:.1f} %"


def _short(rows: Sequence[RadiatorRow]) -> Iterator[str]:
    """A line for each radiator whose fin has another sink, or that has less area over than is kept
    until a test.
    """
    for row in rows:
        where = f"note: '{row.radiator}' in case '{row.case}'"
        if abs(row.efficiency_to_sink - row.efficiency) > CHANGED * row.efficiency:
            yield (
                f"{where}: to the sink found, {celsius(row.sink)} degC,\n"
                f"  the efficiency of its fin is {row.efficiency_to_sink:.3f}, not "
                f"{row.efficiency:.3f}: state a `sink` nearer to that"
            )
        if row.hopeless:
            yield f"{where} needs another place: at the allowed temperature it takes heat in"
        elif row.excess < EXCESS:
            over = f"has {_percent(row.excess)} of area over"
            if row.excess < 0.0:
                over = (
                    "is too small: at the allowed temperature it rejects\n  "
                    f"{_percent(-row.excess)} less than it has to"
                )
            yield (
                f"{where} {over}; {100.0 * EXCESS:.0f} % over are kept until the model is\n"
                "  correlated with a test (SMC-S-016, 4.4.2.1 a), where the project asks for it"
            )
