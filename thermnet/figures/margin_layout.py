"""Where everything of the margin plot stands, in mm from the upper left corner of its page."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from thermnet.figures import style
from thermnet.figures.margin_rows import Row, Section, axis_words, cells, excess

EDGE = 2.0
GAP = 2.0
"""Free space at the edge of the page, and between columns."""
AXIS_GAP = 1.5
"""Between the words beside an axis and the axis."""
CASE_GAP = 1.2
"""Between a value and its case."""
HEAD_WIDTH = (22.0, 36.0)
"""Least and greatest width of a column whose usual case stands in its head, on two lines."""
LONG_CASE = 14.0
"""A case wider than this is not repeated in every row."""
FIRST_HEAD, LATER_HEAD = 10.6, 5.4
"""Above an axis with the usual cases in the heads of the columns, and above any other."""
HEADING = 4.5
PANEL_GAP = 3.0
MOST_ROWS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Format:
    """Sizes of a page: portrait for a report, landscape for a slide."""

    width: float
    height: float
    body: float
    small: float
    title: float
    row: float
    names: float
    case: float


PORTRAIT = Format(
    width=style.PAGE_WIDTH,
    height=style.PAGE_HEIGHT,
    body=style.BODY,
    small=style.SMALLEST,
    title=style.TITLE,
    row=4.4,
    names=36.0,
    case=20.0,
)
SLIDE = Format(
    width=style.SLIDE_WIDTH,
    height=style.SLIDE_HEIGHT,
    body=style.SLIDE_BODY,
    small=8.5,
    title=style.SLIDE_TITLE,
    row=5.6,
    names=55.0,
    case=26.0,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """Horizontal places [mm]: left edge of each column; values end at `*_value`, cases follow.

    `usual` are the cases that stand in the heads of the cold and the hot column, because they are
    too long to be repeated in every row; a row then names its case only where it is another.
    """

    names: float
    names_width: float
    chart: float
    chart_width: float
    cold: float
    cold_value: float
    hot: float
    hot_value: float
    right: float
    usual: tuple[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A heading or a row at its height on the page."""

    top: float
    height: float
    heading: str = ""
    row: Row | None = None
    number: int = 0

    lines: float = 0.0
    """Height of the marks' own line; words on a violation stand in the line under it."""

    @property
    def middle(self) -> float:
        return self.top + (self.lines or self.height) / 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """Headings and rows that share one temperature axis on a page, from `top` to `bottom`."""

    axis: str
    top: float
    bottom: float
    placed: tuple[Placed, ...]


Entry = tuple[Section, Row]


def foot_height(form: Format, lines: int) -> float:
    """Height [mm] of so many lines of text, and of the stamp under them."""
    return 1.2 + lines * style.line_height(form.small) + 5.0


def columns(sections: Sequence[Section], form: Format) -> Columns:
    """Widths from the texts that the columns must hold, within the limits of the format."""
    rows = [row for section in sections for row in section.rows]
    axes = {axis_words(section.axis) for section in sections}
    # The words beside an axis end in the gap before it.
    beside = max((style.text_width(words, form.small) for words in axes), default=0.0)
    names = (style.text_width(row.name, form.body, bold=True) for row in rows)
    usual = tuple(_usual([cells(row)[k].case for row in rows], form) for k in (0, 1))
    values = [
        style.text_width(cell.value, form.body, bold=True)
        for row in rows
        for cell in cells(row)
        if cell.case
    ]
    value_width = max(values, default=10.0)
    # The usual case and the name of the column stand in its head.
    least = style.text_width("cold side ", form.body, bold=True)
    widths = []
    for k in (0, 1):
        cases = [cells(row)[k].case for row in rows]
        room = max((_case_width(case, form) for case in cases if case != usual[k]), default=0.0)
        head = _head_width(usual[k], form) if usual[k] else least
        widths.append(max(value_width + CASE_GAP + room, head))
    names_width = min(max([*names, beside + AXIS_GAP - GAP + 0.1]), form.names)
    right = form.width - EDGE
    hot = right - widths[1]
    cold = hot - GAP - widths[0]
    chart = EDGE + names_width + GAP
    return Columns(
        names=EDGE,
        names_width=names_width,
        chart=chart,
        chart_width=cold - GAP - chart,
        cold=cold,
        cold_value=cold + value_width,
        hot=hot,
        hot_value=hot + value_width,
        right=right,
        usual=(usual[0], usual[1]),
    )


def _head_width(usual: str, form: Format) -> float:
    """The least width at which a case stands on two lines with all its words."""
    least, most = HEAD_WIDTH
    width = least
    while width < most and "…" in style.wrap(usual, width, form.small)[-1]:
        width += 1.0
    return width


def _case_width(case: str, form: Format) -> float:
    return min(style.text_width(case, form.small), form.case)


def _usual(cases: Sequence[str], form: Format) -> str:
    """The most frequent case of a column if it is too long to be repeated, or ""."""
    named = [case for case in cases if case]
    most = max(sorted(set(named)), key=named.count, default="")
    return most if style.text_width(most, form.small) > LONG_CASE else ""


def name_lines(row: Row, place: Columns, form: Format) -> list[str]:
    return style.wrap(row.name, place.names_width + 0.01, form.body, bold=True, lines=3)


def case_lines(row: Row, place: Columns, form: Format) -> tuple[list[str], list[str]]:
    """Lines of the governing case of the cold and the hot side, none where it is the usual one."""
    ends = (place.hot - GAP - place.cold_value, place.right - place.hot_value)
    cold, hot = (
        style.wrap(
            cell.case if cell.case != usual else "", end - CASE_GAP + 0.01, form.small, lines=3
        )
        for cell, usual, end in zip(cells(row), place.usual, ends, strict=True)
    )
    return cold, hot


def marks_height(row: Row, place: Columns, form: Format) -> float:
    """Height [mm] of a row with its longest text, without words on a violation."""
    cases = max(len(lines) for lines in case_lines(row, place, form))
    tallest = max(
        len(name_lines(row, place, form)) * style.line_height(form.body),
        cases * style.line_height(form.small),
    )
    return max(form.row, tallest + 0.9)


def row_height(row: Row, place: Columns, form: Format) -> float:
    """Height [mm] of a row with a line for the words on its violations, if there are any."""
    sides = (row.summary.cold, row.summary.hot) if row.other is None else ()
    words = any(excess(margin) for margin in sides)
    return marks_height(row, place, form) + (words_height(form.small) if words else 0.0)


def words_height(size: float) -> float:
    """Height [mm] of a line of boxed words."""
    return style.line_height(size) + 0.9


def pages(
    sections: Sequence[Section], place: Columns, form: Format, top: float, bottom: float
) -> list[tuple[Panel, ...]]:
    """Panels of each page: at most `MOST_ROWS` rows, spread evenly over as few pages as fit."""
    entries = [(section, row) for section in sections for row in section.rows]
    wanted = max(math.ceil(len(entries) / MOST_ROWS), 1)
    while True:
        most = math.ceil(len(entries) / wanted)
        sheets = _break(entries, place, form, bottom - top, most)
        if len(sheets) <= wanted:
            break
        wanted += 1
    counts = itertools.accumulate((len(sheet) for sheet in sheets), initial=0)
    return [
        _stack(sheet, place, form, top, number)
        for sheet, number in zip(sheets, counts, strict=False)
    ]


def _heads(before: Entry | None, section: Section, place: Columns) -> tuple[float, float]:
    """Heights [mm] that the next row needs above it: for a new axis, and for a new heading."""
    if before is None:
        return FIRST_HEAD if any(place.usual) else LATER_HEAD, HEADING
    axis = PANEL_GAP + LATER_HEAD if before[0].axis != section.axis else 0.0
    return axis, HEADING if before[0] is not section else 0.0


def _break(
    entries: Sequence[Entry], place: Columns, form: Format, room: float, most: int
) -> list[list[Entry]]:
    """Rows of each page. A heading goes with its first row, so it never ends a page."""
    sheets: list[list[Entry]] = [[]]
    used = 0.0
    for section, row in entries:
        height = row_height(row, place, form)
        before = sheets[-1][-1] if sheets[-1] else None
        needed = sum(_heads(before, section, place)) + height
        if before is not None and (used + needed > room or len(sheets[-1]) >= most):
            sheets.append([])
            used, needed = 0.0, sum(_heads(None, section, place)) + height
        sheets[-1].append((section, row))
        used += needed
    return sheets


def _stack(
    entries: Sequence[Entry], place: Columns, form: Format, top: float, number: int
) -> tuple[Panel, ...]:
    """Places of the rows of one page, the first of which has this number in the whole plot."""
    panels: list[Panel] = []
    y = top
    before: Entry | None = None
    for section, row in entries:
        axis_head, heading_height = _heads(before, section, place)
        y += axis_head
        if axis_head:
            panels.append(Panel(axis=section.axis, top=y, bottom=y, placed=()))
        placed = []
        if heading_height:
            goes_on = before is None and row is not section.rows[0]
            words = section.heading + (" (continued)" if goes_on else "")
            placed.append(Placed(top=y, height=heading_height, heading=words))
            y += heading_height
        height = row_height(row, place, form)
        lines = marks_height(row, place, form)
        placed.append(Placed(top=y, height=height, row=row, number=number, lines=lines))
        y += height
        both = panels[-1].placed + tuple(placed)
        panels[-1] = replace(panels[-1], bottom=y, placed=both)
        before, number = (section, row), number + 1
    return tuple(panels)
