"""What the benchmarks print: rows as they are found, the tables of the documentation, a figure."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from tests.benchmarks.measure import Row, Subject
from tests.benchmarks.rows_orbit import GROWTH_ORBITS, SIZES, exponent

LIMITS = Path(__file__).parents[2] / "docs" / "limits.md"
HEADING = "Speed goals not reached"


def excused(text: str) -> dict[str, str]:
    """Rows that a page lists under the heading, with the reason: `- **name**: reason`."""
    found = re.search(rf"^#+ {HEADING}\n(.*?)(?=^#|\Z)", text, re.MULTILINE | re.DOTALL)
    items = re.findall(r"^- \*\*(.+?)\*\*:? *(.+)$", found[1], re.MULTILINE) if found else []
    return {name.rstrip(":"): reason for name, reason in items}


def verdict(row: Row, excuses: dict[str, str]) -> str:
    """One word for a row, or a few."""
    if row.met:
        return "met, though listed as not reached" if row.name in excuses else "met"
    return "not met, and listed so" if row.name in excuses else "NOT MET"


def plainly(row: Row, verdict: str) -> str:
    """A row for people at a terminal."""
    measured = [
        f"    {entry.name:34s} {'  '.join(_measures(entry))}".rstrip() for entry in row.subjects
    ]
    goals = [f"  {'+' if goal.met else '-'} {goal}" for goal in row.goals]
    head = [f"{row.name}: {verdict}".rstrip(": "), *([f"  {row.workload}"] if row.workload else [])]
    return "\n".join([*head, *measured, *goals, *([f"  {row.note}"] if row.note else [])])


def _measures(entry: Subject) -> Iterator[str]:
    yield f"{_time(entry.seconds):>9s}"
    yield f"{'' if entry.error is None else f'{entry.error:.1e} K':>10s}"
    yield f"best of {entry.runs}" if entry.runs > 1 else "1 run    "
    yield entry.counts


def _time(seconds: float) -> str:
    return f"{seconds:.3g} s" if seconds >= 1.0 else f"{1e3 * seconds:.3g} ms"


def markdown(rows: Sequence[Row]) -> str:
    """Two tables for the documentation: goals, and what was measured."""
    goals = [
        "| benchmark | workload | measured (goal) | |",
        "|---|---|---|---|",
        *(
            f"| {row.name} | {row.workload} | "
            f"{'; '.join(map(str, row.goals)) or row.note} | {'met' if row.met else 'not met'} |"
            for row in rows
        ),
    ]
    subjects = [
        "| benchmark | subject | CPU time | best of | error | counts |",
        "|---|---|---|---|---|---|",
        *(
            f"| {row.name} | {entry.name} | {_time(entry.seconds)} | {entry.runs} | "
            f"{'' if entry.error is None else f'{entry.error:.1e} K'} | {entry.counts} |"
            for row in rows
            for entry in row.subjects
        ),
    ]
    notes = [f"- {row.name}: {row.note}" for row in rows if row.note and row.goals]
    return "\n".join([*goals, "", *subjects, "", *notes])


def figure(row: Row, path: Path) -> None:
    """Cost of an orbit over the number of nodes, on two logarithmic axes, as PNG."""
    from matplotlib.figure import Figure
    from matplotlib.ticker import NullFormatter

    from thermnet.figures import style

    sizes = np.array([6.0 * SIZES[entry.name] ** 2 for entry in row.subjects])
    seconds = np.array([entry.seconds / GROWTH_ORBITS for entry in row.subjects])
    slope = exponent(sizes, seconds)
    line = np.exp(np.mean(np.log(seconds)) + slope * (np.log(sizes) - np.mean(np.log(sizes))))
    with style.look():
        drawing = Figure(figsize=(5.0, 3.4), layout="constrained", facecolor="white")
        axes = drawing.subplots()
        axes.loglog(sizes, line, "-", color=style.MIDDLE, label=f"n to the power {slope:.2f}")
        axes.loglog(sizes, seconds, "o", color=style.BLACK, markersize=4.0, label="measured")
        axes.set_xlabel("nodes")
        axes.set_ylabel("CPU time of one orbit [s]")
        axes.grid(visible=True)
        axes.xaxis.set_major_formatter(lambda x, _: f"{x:,.0f}")
        axes.yaxis.set_major_formatter(lambda y, _: f"{y:g}")
        for axis in (axes.xaxis, axes.yaxis):
            axis.set_minor_formatter(NullFormatter())
        axes.legend(frameon=False)
        style.save(drawing, path)
