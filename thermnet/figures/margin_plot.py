"""The margin plot: every component's calculated range against its bands, the worst on top."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from thermnet.figures import style
from thermnet.figures.margin_labels import axis_limits
from thermnet.figures.margin_layout import (
    AXIS_GAP,
    CASE_GAP,
    EDGE,
    GAP,
    PORTRAIT,
    SLIDE,
    Columns,
    Format,
    Panel,
    Placed,
    case_lines,
    columns,
    foot_height,
    name_lines,
    pages,
)
from thermnet.figures.margin_legend import draw_legend, legend_height
from thermnet.figures.margin_marks import Box, Spot, boxed, draw_marks
from thermnet.figures.margin_rows import (
    Lane,
    Row,
    Section,
    arrange,
    axis_words,
    cells,
    gravest_first,
    lanes,
    levels,
    sentence,
    smallest,
    standing,
)
from thermnet.margins import Summary

FOOT_LINES = 4
"""At most this many lines of text at the foot."""
NOTE_ROOM = "000 more hold, each by 000.0 K or more. 000 without a band."
"""The longest note on what a slide leaves out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Foot:
    """What the foot of the plot states: texts as they are to be printed.

    `policy` is the uncertainty allowance in words, `bus_voltage` the voltage(s), "" where none is
    stated; `cases` the names of the cases judged; `hash` that of the model's content.
    """

    model: str
    cases: tuple[str, ...]
    policy: str
    bus_voltage: str
    hash: str
    version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Page:
    """What the parts of one page share; `bars` are the kinds of bars, `limits` [K] by axis."""

    figure: Figure
    sheet: Axes
    place: Columns
    form: Format
    bars: tuple[Lane, ...]
    limits: dict[str, tuple[float, float]]


def margin_figures(
    summaries: Sequence[Summary], foot: Foot, *, compact: bool = False, by_group: bool = False
) -> list[Figure]:
    """The margin plot, one figure for each page of up to 40 rows.

    `compact` gives slides instead: all components that do not hold, and the smallest margins of
    those that do as far as one slide has room; the rest is counted at the foot.
    Raises ValueError if there is no component.
    """
    if not summaries:
        raise ValueError("nothing to plot: the model has no components")
    form = SLIDE if compact else PORTRAIT
    title = _title(sentence(summaries), form)
    under_title = EDGE + len(title) * style.line_height(form.title)
    top = under_title + legend_height(summaries, form) + 2.0
    sections, note = arrange(summaries, by_group=by_group), ""
    lines = len(_foot_lines(summaries, foot, NOTE_ROOM if compact else "", form))
    bottom = form.height - foot_height(form, lines)
    if compact:
        sections, note = _worst_for_a_slide(summaries, form, (top, bottom), by_group=by_group)
    place = columns(sections, form)
    sheets = pages(sections, place, form, top, bottom)
    limits = _limits(sections, place, form)
    figures = []
    with style.look():
        for number, panels in enumerate(sheets, start=1):
            end = bottom if compact else panels[-1].bottom
            figure, sheet = style.page(form.width, end + foot_height(form, lines))
            page = _Page(
                figure=figure,
                sheet=sheet,
                place=place,
                form=form,
                bars=lanes(summaries),
                limits=limits,
            )
            _draw_title(page, title)
            draw_legend(sheet, summaries, form, under_title + 1.0)
            for position, panel in enumerate(panels):
                _draw_panel(page, panel, is_first=position == 0)
            _draw_foot(page, end, _foot_lines(summaries, foot, note, form))
            count = f"page {number} of {len(sheets)}" if len(sheets) > 1 else ""
            _draw_origin(figure, foot, count)
            figures.append(figure)
    return figures


def _worst_for_a_slide(
    summaries: Sequence[Summary], form: Format, limits: tuple[float, float], *, by_group: bool
) -> tuple[list[Section], str]:
    """Sections with as many of the worst components as one slide takes, and a note on the rest."""
    unjudged = ("no band", "not judged")
    ordered = [item for item in gravest_first(summaries) if standing(item) not in unjudged]
    count = sum(standing(item) != "holds" for item in ordered)
    sections = arrange(ordered[:count], by_group=by_group, counted=False)
    for kept in range(count + 1, len(ordered) + 1):
        wider = arrange(ordered[:kept], by_group=by_group, counted=False)
        place = columns(wider, form)
        if len(pages(wider, place, form, *limits)) > 1 and sections:
            break
        sections, count = wider, kept
    notes = []
    if left := ordered[count:]:
        notes.append(f"{len(left)} more hold.")
        least = min(smallest(item) for item in left)
        if not any(item.is_limit for item in left) and math.isfinite(least):
            notes = [f"{len(left)} more hold, each by {least:.1f} K or more."]
    if without := sum(standing(item) == "no band" for item in summaries):
        notes.append(f"{without} without a band.")
    return sections or arrange(summaries, by_group=by_group), " ".join(notes)


def _limits(
    sections: Sequence[Section], place: Columns, form: Format
) -> dict[str, tuple[float, float]]:
    """Ends [K] of each temperature axis: the same on every page."""
    rows: dict[str, list[Row]] = {}
    for section in sections:
        rows.setdefault(section.axis, []).extend(section.rows)
    return {
        axis: axis_limits(members, place.chart_width, form.small) for axis, members in rows.items()
    }


def _title(text: str, form: Format) -> list[str]:
    """One line if it fits; else a line for the count and one or two for the worst margin."""
    room = form.width - 2.0 * EDGE
    parts = [text] if style.text_width(text, form.title, True) <= room else text.split(". ", 1)
    lines = [f"{part}." for part in parts[:-1]]
    return lines + style.wrap(parts[-1], room, form.title, True)


def _draw_title(page: _Page, lines: Sequence[str]) -> None:
    pitch = style.line_height(page.form.title)
    for number, line in enumerate(lines):
        y = EDGE + (number + 0.5) * pitch
        style.write(page.sheet, EDGE, y, line, size=page.form.title, bold=True, name="title")


def _draw_panel(page: _Page, panel: Panel, *, is_first: bool) -> None:
    """The axis of a panel, its headings, its rows and the rules between them."""
    place, form = page.place, page.form
    low, high = (style.celsius(end) for end in page.limits[panel.axis])
    height = panel.bottom - panel.top
    axes = style.add_axes(page.figure, place.chart, panel.top, place.chart_width, height)
    axes.set_label(f"temperature axis {panel.axis}".strip())
    axes.set_xlim(low, high)
    axes.set_ylim(panel.bottom, panel.top)
    values = style.round_ticks(low, high, place.chart_width, apart=9.0, edge=3.0)
    axes.set_xticks(values, [style.plain(value) for value in values], size=form.small)
    axes.set_yticks([])
    axes.xaxis.tick_top()
    axes.grid(axis="x")
    for side in ("left", "right", "bottom", "top"):
        axes.spines[side].set_visible(False)
    room = place.chart - AXIS_GAP - EDGE
    words = style.shorten(axis_words(panel.axis), room, form.small)
    y = panel.top - 2.45
    style.write(page.sheet, place.chart - AXIS_GAP, y, words, size=form.small, align="right")
    if is_first:
        for x, words, usual in zip(
            (place.cold, place.hot), ("cold side", "hot side"), place.usual, strict=True
        ):
            _draw_column_head(page, x, panel.top, words, usual)
    for placed in panel.placed:
        if placed.row is None:
            _draw_heading(page, placed)
        else:
            _draw_row(page, axes, placed, placed.row)


def _draw_column_head(page: _Page, x: float, bottom: float, words: str, usual: str) -> None:
    """Name of a column, and under it the case that governs in every row that names none."""
    form, place = page.form, page.place
    end = place.right if x == place.hot else place.hot - GAP
    lines = style.wrap(usual, end - x, form.small) if usual else []
    pitch = style.line_height(form.small)
    y = bottom - 1.2 - (len(lines) + 0.5) * pitch
    style.write(page.sheet, x, y, words, size=form.body, bold=True, name="column")
    for number, line in enumerate(lines):
        y = bottom - 1.0 - (len(lines) - number - 0.5) * pitch
        style.write(page.sheet, x, y, line, size=form.small, name="column-case")


def _draw_heading(page: _Page, placed: Placed) -> None:
    ends = (EDGE, page.place.right)
    style.stroke(page.sheet, ends, [placed.top] * 2, style.LINE, name="rule")
    text = style.write(
        page.sheet,
        EDGE,
        placed.middle + 0.2,
        placed.heading,
        size=page.form.small,
        bold=True,
        name="heading",
    )
    text.set_bbox({"boxstyle": "square,pad=0.1", "facecolor": style.WHITE, "edgecolor": "none"})


def _draw_row(page: _Page, axes: Axes, placed: Placed, row: Row) -> None:
    place, form, tag = page.place, page.form, f"row-{placed.number}"
    under = [placed.top + placed.height] * 2
    style.stroke(page.sheet, (EDGE, place.right), under, 0.35, color=style.LIGHT, zorder=0.5)
    grave = row.standing in ("outside band", "allowance not covered", "not solved")
    style.write(
        page.sheet,
        place.names,
        placed.middle,
        "\n".join(name_lines(row, place, form)),
        size=form.body,
        bold=grave and (row.other is None or row.summary.is_limit),
        name=f"{tag}-name",
    )
    ends = ((place.cold, place.cold_value, "cold"), (place.hot, place.hot_value, "hot"))
    cases = case_lines(row, place, form)
    for cell, lines, (left, end, side) in zip(cells(row), cases, ends, strict=True):
        if not cell.value:
            continue
        loose = not cell.case
        style.write(
            page.sheet,
            left if loose else end,
            placed.middle,
            cell.value,
            size=form.body,
            bold=cell.bold,
            align="left" if loose else "right",
            name=f"{tag}-{side}",
        )
        style.write(
            page.sheet,
            end + CASE_GAP,
            placed.middle,
            "\n".join(lines),
            size=form.small,
            name=f"{tag}-{side}-case",
        )
    left, right = axes.get_xlim()
    per_mm = (right - left) / place.chart_width
    if row.other is None:
        spot = Spot(
            axes=axes,
            middle=placed.middle,
            number=placed.number,
            lanes=page.bars,
            per_mm=per_mm,
        )
        draw_marks(spot, row.summary, form.small)
    else:
        # The columns of a limit are empty, so that its words may go on over them.
        words = style.shorten(row.text, place.right - place.chart - 2.0, form.small)
        what = "limit" if row.other.verdict == "holds" else "violation"
        x, name = left + 1.0 * per_mm, f"{tag}-{what}"
        text = style.write(axes, x, placed.middle, words, size=form.small, name=name)
        kinds: dict[str, Box] = {"outside band": "black", "holds": "plain"}
        boxed(text, kinds.get(row.other.verdict, "framed"))


def _foot_lines(summaries: Sequence[Summary], foot: Foot, note: str, form: Format) -> list[str]:
    """Policy, bus voltage, level of the bands, and how to read a margin."""
    parts = [note, f"Allowance: {foot.policy}." if foot.policy else ""]
    parts.append(f"Bus voltage: {foot.bus_voltage}." if foot.bus_voltage else "")
    if level := levels(summaries):
        parts.append(f"Bands: {level} level.")
    others = [margin for item in summaries for margin in item.others if not item.is_limit]
    if holding := sum(margin.verdict == "holds" for margin in others):
        parts.append(f"Limits on differences, rates and duties: {holding} hold.")
    parts.append("Margin: from the calculated temperature with its allowance to the limit.")
    text = " ".join(part for part in parts if part)
    return style.wrap(text, form.width - 2.0 * EDGE, form.small, lines=FOOT_LINES)


def _draw_foot(page: _Page, top: float, lines: Sequence[str]) -> None:
    style.stroke(page.sheet, (EDGE, page.place.right), [top] * 2, style.LINE)
    for number, line in enumerate(lines):
        y = top + 1.2 + (number + 0.5) * style.line_height(page.form.small)
        style.write(page.sheet, EDGE, y, line, size=page.form.small, name="foot")


def _draw_origin(figure: Figure, foot: Foot, count: str) -> None:
    model = " · ".join(part for part in (count, foot.model) if part)
    origin = style.Stamp(
        model=model, case="; ".join(foot.cases), hash=foot.hash, version=foot.version
    )
    style.stamp(figure, origin)
