"""The command `couplings`: what everything that joins nodes carries, and what it stands on."""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator, Sequence
from itertools import groupby

from thermnet.cli.by_case import print_by_case
from thermnet.cli.inputs import loaded
from thermnet.cli.tables import celsius, grid, instant
from thermnet.couplings import CouplingRow, coupling_table
from thermnet.results import Result

MOST_PAIRS = 8
"""Pairs of one entry that are all shown; of more the strongest are, and a count of the others."""

STEADY = ["coupling", "from", "to", "degC", "degC", "heat in W", "W/K"]
MOVING = ["coupling", "from", "to", "mean degC", "mean degC", "mean W", "W/K"]
MOVING += ["least W", "at", "most W", "at"]

MEANING = (
    "heat counts as positive from the first node to the second; W/K: mean heat over the difference "
    "of\nmeans, of what conducts; a fluid brings heat by being warmer than the node it flows to"
)


def couplings(options: argparse.Namespace) -> int:
    """Solve cases and print what couplings carry; status 3 for an unsolved one."""
    model = loaded(options.model, options.changes)
    return print_by_case(
        options,
        model,
        name="couplings",
        kind=CouplingRow,
        table=coupling_table,
        text=_text,
        foot=lambda rows: [MEANING, *_stands_on(rows)],
    )


def _text(result: Result, rows: Sequence[CouplingRow]) -> str:
    steady = result.solution.kind == "steady"
    lines, more = [], []
    for entry, group in groupby(rows, key=lambda row: row.entry):
        of_entry = list(group)
        shown = _strongest(of_entry)
        lines += [_line(row, steady) for row in shown]
        if left := len(of_entry) - len(shown):
            most = min(abs(row.heat) for row in shown)  # a sum would depend on which is named first
            more.append(f"{entry}: {left} weaker pairs are left out, up to {_watts(most)} W each")
    return "\n".join([grid(STEADY if steady else MOVING, lines), *more])


def _strongest(rows: Sequence[CouplingRow]) -> list[CouplingRow]:
    by_heat = sorted(range(len(rows)), key=lambda k: -abs(rows[k].heat))
    return [rows[k] for k in sorted(by_heat[:MOST_PAIRS])]


def _line(row: CouplingRow, steady: bool) -> list[str]:
    cells = [row.entry, row.of, row.to, celsius(row.from_temperature), celsius(row.to_temperature)]
    cells += [_watts(row.heat), "-" if math.isnan(row.conductance) else f"{row.conductance:.4g}"]
    if steady:
        return cells
    return [
        *cells, _watts(row.least), instant(row.least_at), _watts(row.most), instant(row.most_at)
    ]  # fmt: skip


def _watts(heat: float) -> str:
    return f"{round(heat, 3) + 0.0:.3f}"  # no minus before a zero


def _stands_on(rows: Sequence[CouplingRow]) -> Iterator[str]:
    """A line for each entry that stands on rows of the library, or the model's own among them."""
    used: dict[str, dict[str, None]] = {}
    for row in rows:
        if row.rows:  # cases may stand on other rows
            used.setdefault(row.entry, {}).update(dict.fromkeys(row.rows))
    if used:
        yield "rows that they stand on (`thermnet library --used` has their sources):"
    for entry, names in used.items():
        yield f"  {entry}: {'; '.join(names)}"
