"""Rows of a whole table with instants: which are the points of one history, and what is wrong."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from thermnet.text.rows import Ends, Floats, Indices, Rows, Runs
from thermnet.text.table_files import Fault


def runs_of(ends: Sequence[Ends], time: Floats) -> Runs:
    """Rows with the same ends, put together in the order of the file; NaN is no instant."""
    order, begin = _together(ends)
    timed = ~np.isnan(time[order])
    before = np.concatenate([[0], np.cumsum(timed)])[begin]
    # A history of no point at all is a constant.
    return Runs(
        points=order[timed],
        begin=np.unique(before).astype(np.int32),
        constant=np.flatnonzero(np.isnan(time)).astype(np.int32),
    )


def faults_of_instants(rows: Rows, ends: Sequence[Ends], time: Floats) -> Iterator[Fault]:
    """Instants that decrease or come three times, and ends with and without them."""
    order, begin = _together(ends)
    instant = time[order]
    inner = np.ones(max(len(order) - 1, 0), dtype=bool)
    inner[begin[1:-1] - 1] = False
    blank = np.isnan(instant)
    for k in np.flatnonzero(inner & (blank[1:] != blank[:-1])) + 1:
        what = f"{_called(rows, ends, int(order[k]))} has rows with and without an instant"
        yield Fault(row=int(order[k]), message=what)
    step = np.diff(instant)  # NaN beside a row without an instant, which is neither case
    for k in np.flatnonzero(inner & (step < 0.0)) + 1:
        what = f"instants must not decrease: {instant[k]:g} s comes after {instant[k - 1]:g} s for"
        yield Fault(row=int(order[k]), message=f"{what} {_called(rows, ends, int(order[k]))}")
    again = inner & (step == 0.0)
    for k in np.flatnonzero(again[1:] & again[:-1]) + 2:
        what = f"an instant comes once too often: {instant[k]:g} s for"
        yield Fault(row=int(order[k]), message=f"{what} {_called(rows, ends, int(order[k]))}")


def faults_of_order(rows: Rows, one: Ends, other: Ends, time: Floats) -> Iterator[Fault]:
    """Histories between two ends that are also written from the other to the one.

    Each would be a history by itself and both would count: a coupling of twice its size, or one
    that lacks half of its points.
    """
    if one.counted != other.counted:
        return
    size = int(max(one.at.max(initial=0), other.at.max(initial=0))) + 1
    forth = one.at.astype(np.int64) * size + other.at
    back = other.at.astype(np.int64) * size + one.at
    keys, first = np.unique(forth, return_index=True)
    at = np.minimum(np.searchsorted(keys, back[first]), max(len(keys) - 1, 0))
    mirrored = first[at]
    timed = ~np.isnan(time)
    wrong = (keys[at] == back[first]) & (timed[first] | timed[mirrored]) & (first > mirrored)
    for row in np.sort(first[wrong]).tolist():
        what = f"joins {_called(rows, [one, other], row)}, and a row before it the other way round"
        yield Fault(row=row, message=f"{what}; write a coupling by time in one order")


def _together(ends: Sequence[Ends]) -> tuple[Indices, Indices]:
    """The rows with those of the same ends together, and where each group begins and ends."""
    key = np.zeros(len(ends[0].at), dtype=np.int64)
    for end in ends:
        key = key * (int(end.at.max(initial=0)) + 1) + end.at
    order = np.argsort(key, kind="stable")
    cuts = np.flatnonzero(np.diff(key[order])) + 1
    begin = np.concatenate([[0], cuts, [len(key)]]) if len(key) else np.zeros(1)
    return order.astype(np.int32), begin.astype(np.int32)


def _called(rows: Rows, ends: Sequence[Ends], row: int) -> str:
    """What the ends of a row are called in messages: 'plate', or row 3 – row 5."""
    each = [f"row {end.at[row]}" if end.counted else f"'{rows.labels[end.at[row]]}'"
            for end in ends]  # fmt: skip
    return " – ".join(each)
