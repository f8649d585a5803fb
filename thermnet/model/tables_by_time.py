"""Whole tables by time: rows of one column as histories, and the keys beside such a table."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from thermnet.model.histories import FIT, Shape, Timing, joined, means, unrolled
from thermnet.network.parts import History
from thermnet.network.primitives import Floats, Indices
from thermnet.text.fields import fault, quantity
from thermnet.text.rows import Rows


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """Rows of a table that vary with the same instants, or not at all.

    `rows` picks one row for each of the m quantities, to look up their ends; `size` f8[m] is the
    value that `history` multiplies, and without a history the value itself.
    """

    rows: Indices | slice
    size: Floats
    history: History | None


ShapeByTime = Annotated[
    Shape,
    Field(
        description="of a table by time: `linear` joins the points, `steps` holds each value "
        "until the next instant"
    ),
]
PeriodByTime = Annotated[
    Annotated[float, quantity("s", above=0)] | Literal["orbit"] | None,
    Field(
        description="after which a table by time repeats, `orbit` for that of the case's orbit; "
        "without one the last value holds"
    ),
]
"""The keys beside a table by time, alike in every section that takes one."""


def pieces(
    table: Rows, head: str, *, shape: Shape, period: float | Literal["orbit"] | None, timing: Timing
) -> Iterator[Piece]:
    """The quantities of a column, constant and by time; by time they count by their mean.

    In a steady state means take the place of histories.
    """
    span, period = timing.span, timing.orbit if period == "orbit" else period
    values, runs = table.numbers[head], table.runs
    if runs is None:
        yield Piece(rows=slice(None), size=values, history=None)
        return
    if len(runs.constant):
        yield Piece(rows=runs.constant, size=values[runs.constant], history=None)
    for points in _with_the_same_instants(runs.points, runs.begin, table.numbers["time"]):
        time, value = table.numbers["time"][points[:, 0]], values[points]
        if span == 0.0:
            size = means(joined(time, value, shape, period), period or span)
            yield Piece(rows=points[0], size=size, history=None)
            continue
        # A size of its own keeps what has no heat at all apart, and links comparable.
        largest = np.abs(value).max(axis=0)
        share = value / np.where(largest > 0.0, largest, 1.0)
        course = unrolled(joined(time, share, shape, period), period, span)
        if timing.repeating:
            # The last instant, rounded beyond the case's period, is put at its end.
            course = History(time=np.minimum(course.time, span), value=course.value)
        yield Piece(rows=points[0], size=largest, history=course)


def _with_the_same_instants(points: Indices, begin: Indices, time: Floats) -> Iterator[Indices]:
    """The rows i4[k, m] of each m histories whose k instants are the same.

    `points` are the rows of all histories, one history after the other; history j is
    `points[begin[j]:begin[j + 1]]`.
    """
    sizes = np.diff(begin)
    for size in np.unique(sizes):
        chosen = np.flatnonzero(sizes == size)
        rows = points[begin[chosen][:, None] + np.arange(size)]
        instants = time[rows]
        if (instants == instants[0]).all():  # the usual case, at once
            yield np.ascontiguousarray(rows.T)
            continue
        _, group = np.unique(instants, axis=0, return_inverse=True)
        group = group.ravel()
        order = np.argsort(group, kind="stable")
        for alike in np.split(order, np.flatnonzero(np.diff(group[order])) + 1):
            yield np.ascontiguousarray(rows[alike].T)


def last_instant(table: Rows) -> float | None:
    """The last instant [s] of a table, None for one without instants."""
    if table.runs is None or not len(table.runs.points):
        return None
    return float(table.numbers["time"][table.runs.points].max())


def check_instants(table: Rows, shape: Shape, period: float | Literal["orbit"] | None) -> None:
    """Hold the keys beside a table against its instants; raises the fault of one of the keys."""
    last = last_instant(table)
    if last is None:
        for key, given in (("period", period is not None), ("shape", shape == "steps")):
            if given:
                raise fault(key, "is for a table by time, and this one has no instants")
        return
    if isinstance(period, float) and last > period + FIT:
        raise fault("period", f"the table goes on to {last:g} s, beyond the period of {period:g} s")
    if shape == "steps" and table.runs is not None:
        time = table.numbers["time"][table.runs.points]
        again = np.diff(time) == 0.0
        again[table.runs.begin[1:-1] - 1] = False
        if again.any():
            instant = time[int(np.argmax(again))]
            message = f"with steps an instant comes once only, and {instant:g} s comes twice"
            raise fault("shape", message)
