"""The line under the title that says what each mark of the margin plot means."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from thermnet.figures import style
from thermnet.figures.margin_layout import EDGE, Format
from thermnet.figures.margin_marks import BARS, CAP, CROSS, SQUARE, TICK
from thermnet.figures.margin_rows import BANDS, Lane, lane, lanes
from thermnet.margins import Margin, Summary

SYMBOL = 7.0
"""Width of a symbol [mm]."""

LANE_WORDS: dict[Lane, str] = {
    "hot": "calculated, hot cases",
    "cold": "calculated, cold cases",
    "other": "calculated, other cases",
}


def entries(summaries: Sequence[Summary]) -> list[str]:
    """Names of the marks that occur, in the order of the legend."""
    sides = [side for item in summaries for side in (item.cold, item.hot) if side is not None]
    bands = {name for item in summaries for name in item.bands}
    kinds = [*lanes(summaries)]
    found = [name for name in BANDS if name in bands]
    found += [_lane_words(summaries, kind) for kind in kinds]
    special = any(side.band not in BANDS for side in sides)
    conditions: list[tuple[str, Callable[[Margin], bool]]] = [
        ("allowance", lambda side: side.allowance > 0.0 and not side.held_by),
        ("held by a heater", lambda side: bool(side.held_by)),
        ("outside band", lambda side: side.verdict == "outside band"),
        ("allowance not covered", lambda side: side.verdict == "allowance not covered"),
    ]
    found += [name for name, test in conditions if any(test(side) for side in sides)]
    return found + (["limit of the band named at right"] if special else [])


def legend_height(summaries: Sequence[Summary], form: Format) -> float:
    """Height [mm] of the legend's lines."""
    return len(_lines(entries(summaries), form)) * _pitch(form)


def draw_legend(sheet: Axes, summaries: Sequence[Summary], form: Format, top: float) -> None:
    """The marks, each with its name, flowing over as many lines as they need."""
    words = {_lane_words(summaries, kind): kind for kind in lanes(summaries)}
    for number, line in enumerate(_lines(entries(summaries), form)):
        y = top + (number + 0.5) * _pitch(form)
        x = EDGE
        for name in line:
            _draw_symbol(sheet, x, y, name, words.get(name))
            style.write(sheet, x + SYMBOL + 1.2, y, name, size=form.small, name="legend")
            x += _width(name, form)


def _lane_words(summaries: Sequence[Summary], kind: Lane) -> str:
    kinds = {part.kind for item in summaries for part in item.ranges if lane(part) == kind}
    if kind == "other" and kinds == {"survival"}:
        return "calculated, survival cases"
    return LANE_WORDS[kind]


def _lines(names: Sequence[str], form: Format) -> list[list[str]]:
    lines: list[list[str]] = [[]]
    used = 0.0
    for name in names:
        if lines[-1] and used + _width(name, form) > form.width - 2.0 * EDGE:
            lines.append([])
            used = 0.0
        lines[-1].append(name)
        used += _width(name, form)
    return lines


def _width(name: str, form: Format) -> float:
    return SYMBOL + 1.2 + style.text_width(name, form.small) + 4.0


def _pitch(form: Format) -> float:
    return style.line_height(form.small) + 1.2


def _draw_symbol(sheet: Axes, x: float, y: float, name: str, kind: Lane | None) -> None:
    middle, end = x + SYMBOL / 2.0, x + SYMBOL
    if kind is not None:
        sheet.add_patch(Rectangle((x, y - 0.6), SYMBOL, 1.2, linewidth=0.4, **BARS[kind]))
    elif name == "operating":
        sheet.add_patch(
            Rectangle(
                (x, y - 1.3), SYMBOL, 2.6, fill=False, edgecolor=style.BLACK, linewidth=style.LINE
            )
        )
    elif name == "non-operating":
        style.stroke(sheet, (x, end), (y, y), style.THIN)
        for cap in (x, end):
            style.stroke(sheet, (cap, cap), (y - CAP, y + CAP), style.THIN)
    elif name == "allowance":
        style.stroke(sheet, (x + 1.0, end), (y, y), style.LINE)
        style.stroke(sheet, (end, end), (y - TICK, y + TICK), style.LINE)
    elif name == "held by a heater":
        style.mark(sheet, middle, y, "s", SQUARE)
    elif name == "outside band":
        style.stroke(sheet, (x, end - 1.2), (y, y), style.EXCESS)
        style.mark(sheet, end - 1.2, y, "x", CROSS, edge=2.0)
    elif name == "allowance not covered":
        style.stroke(sheet, (x, end), (y, y), style.EXCESS)
        style.stroke(sheet, (end, end), (y - 1.3, y + 1.3), style.HEAVY)
    else:
        style.stroke(sheet, (middle, middle), (y - 1.3, y + 1.3), style.HEAVY)
