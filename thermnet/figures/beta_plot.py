"""The beta angle of an orbit and its share of shadow, by date."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke

from thermnet.figures import style
from thermnet.figures.history_plot import WORDS_HALF, spread, words_place
from thermnet.physics.curves import Floats

LEFT, RIGHT = 15.0, 46.0
"""Room [mm] for the scale at the left, and for the names of lines at the right."""
BETA_HEIGHT, SHADOW_HEIGHT = 62.0, 32.0
GAP, FOOT = 8.0, 16.0
BETA_STEPS = (1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 45.0, 90.0)
SHARE_STEPS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)

CRITICAL_DASHES = (0, (7, 2))
MARK_DASHES = (0, (7, 1.5, 1.2, 1.5))

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
DAY_STEPS = (1, 2, 5, 10, 15)
MONTH_STEPS = (1, 2, 3, 6, 12, 24, 60, 120, 240, 600)
DATE_APART, MONTH_APART = 14.0, 8.0
"""Least distance [mm] between dates, and between months, under the axis."""
LEAST_SWING = 0.05
"""Angle [degrees] within which beta counts as constant."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BetaHistory:
    """An orbit's beta angle over some days.

    `days` f8[k], rising, counted from the date `first`; `beta` f8[k] [degrees]; `shadow` f8[k]
    share of the orbit in shadow, 0 to 1. `marks` are angles [degrees] worth a line, by their
    names, such as those of cases. `critical` [degrees] is the angle at and beyond which, on either
    side, the orbit has no shadow; None where there is no one such angle, as for an ellipse.
    Raises ValueError for no day, or unequal lengths.
    """

    days: Floats
    first: date
    beta: Floats
    shadow: Floats
    marks: tuple[tuple[str, float], ...] = ()
    critical: float | None = None

    def __post_init__(self) -> None:
        if not len(self.days) == len(self.beta) == len(self.shadow) > 0:
            raise ValueError("a history of beta needs an angle and a share of shadow for each day")


def beta_figure(history: BetaHistory, stamp: style.Stamp, *, title: str) -> Figure:
    """Beta angle over the share of the orbit in shadow, on one axis of dates.

    The extremes of what is given are marked with their dates.
    """
    lines = style.wrap(title, style.PAGE_WIDTH - 4.0, style.TITLE, bold=True)
    top = 2.0 + len(lines) * style.line_height(style.TITLE) + 7.0
    width = style.PAGE_WIDTH - LEFT - RIGHT
    under = top + BETA_HEIGHT + GAP
    with style.look():
        figure, sheet = style.page(style.PAGE_WIDTH, under + SHADOW_HEIGHT + FOOT)
        for number, line in enumerate(lines):
            y = 2.0 + (number + 0.5) * style.line_height(style.TITLE)
            style.write(sheet, 2.0, y, line, size=style.TITLE, bold=True, name="title")
        for name, upper, height, draw in (
            ("beta angle, °", top, BETA_HEIGHT, _draw_beta),
            ("share of the orbit in shadow, %", under, SHADOW_HEIGHT, _draw_shadow),
        ):
            place = (LEFT, upper, width, height)
            axes = style.add_axes(figure, *place)
            axes.set_label(name)
            _set_dates(axes, history, width)
            style.write(sheet, LEFT, upper - 2.0, name, bold=True, name="heading")
            draw(axes, history, place)
            axes.tick_params(labelbottom=draw is _draw_shadow)
        style.stamp(figure, stamp)
    return figure


def date_ticks(first: date, low: float, high: float, length: float) -> list[tuple[float, str]]:
    """Where dates stand on an axis `length` mm long, and how they are written.

    The axis runs from `low` to `high` in days since `first`. Ticks stand at the beginnings of
    months, in short spans at days of a month; the first, and each first one of a year, names the
    year.
    """
    per_mm = (high - low) / length
    begin, end = first + timedelta(days=np.ceil(low)), first + timedelta(days=np.floor(high))
    month_step = next(
        (step for step in MONTH_STEPS if 30.0 * step >= MONTH_APART * per_mm), MONTH_STEPS[-1]
    )
    day_step = next((step for step in DAY_STEPS if step >= DATE_APART * per_mm), None)
    dates = _months(begin, end, month_step) if day_step is None else _days(begin, end, day_step)
    ticks, year = [], 0
    for day in dates:
        text = MONTHS[day.month - 1] if day_step is None else f"{day.day} {MONTHS[day.month - 1]}"
        if day_step is None and month_step >= 12:
            text = str(day.year)
        elif day.year != year:
            text = f"{text}\n{day.year}"
        ticks.append((float((day - first).days), text))
        year = day.year
    return ticks


def _days(begin: date, end: date, step: int) -> list[date]:
    """The 1st of each month, and every so many days after it, from begin to end."""
    days = []
    for number in range((end - begin).days + 1):
        day = begin + timedelta(days=number)
        next_month = (day.replace(day=1) + timedelta(days=32)).replace(day=1)
        # The 31st, say, would stand too near to the next month's first day.
        if (day.day - 1) % step == 0 and (next_month - day).days >= 0.8 * step:
            days.append(day)
    return days


def _months(begin: date, end: date, step: int) -> list[date]:
    """First days of every so many months, counted from a round year, from begin to end."""
    count = begin.year * 12 + begin.month - 1
    months = range(count - count % step, end.year * 12 + end.month, step)
    days = [date(number // 12, number % 12 + 1, 1) for number in months]
    return [day for day in days if begin <= day <= end]


def _set_dates(axes: Axes, history: BetaHistory, width: float) -> None:
    low, high = float(history.days[0]), float(history.days[-1])
    high = max(high, low + 1.0)
    axes.set_xlim(low, high)
    ticks = date_ticks(history.first, low, high, width)
    # All of two lines: a single one would stand a little higher than the first of two.
    texts = [text if "\n" in text else f"{text}\n" for _, text in ticks]
    axes.set_xticks([day for day, _ in ticks], texts)
    axes.grid(True)


def _draw_beta(axes: Axes, history: BetaHistory, place: tuple[float, float, float, float]) -> None:
    """The angle, its extremes, and lines at zero, at the critical angles and at the marks."""
    named: list[tuple[str, float, Any]]
    named = [(name, value, MARK_DASHES) for name, value in history.marks]
    if history.critical is not None:
        named.append(("no shadow above", history.critical, CRITICAL_DASHES))
        named.append(("no shadow below", -history.critical, CRITICAL_DASHES))
    beta = np.asarray(history.beta)
    lines = [0.0, *(value for _, value, _ in named)]
    lowest, highest = float(beta.min()), float(beta.max())
    low, high = _reach(lowest, highest, lines, place[3])
    axes.set_ylim(low, high)
    heights = style.round_ticks(low, high, place[3], apart=5.0, edge=1.0, steps=BETA_STEPS)
    heights = [value for value in heights if abs(value) <= 90.0]
    axes.set_yticks(heights, [style.plain(value) for value in heights])
    axes.axhline(0.0, color=style.DARK, linewidth=style.LINE, zorder=1.9, gid="zero")
    for name, value, dashes in named:
        axes.axhline(
            value, color=style.BLACK, linewidth=style.LINE, linestyle=dashes, gid=f"line {name}"
        )
    axes.plot(history.days, beta, color=style.BLACK, linewidth=1.4, zorder=4.0, gid="beta")
    _name_lines(axes, [(name, value) for name, value, _ in named], place)
    extremes = {"highest": (int(beta.argmax()), 1.0), "lowest": (int(beta.argmin()), -1.0)}
    if highest - lowest < LEAST_SWING:
        del extremes["lowest"]
    for name, (k, sign) in extremes.items():
        words = f"{name} {_degrees(float(beta[k]))} on {_date(history, k)}"
        where = (float(history.days[k]), float(beta[k]))
        _draw_extreme(axes, name, words, where, sign, lines, place)


def _draw_shadow(
    axes: Axes, history: BetaHistory, place: tuple[float, float, float, float]
) -> None:
    """The share in percent, its extreme, or that there is none."""
    share = 100.0 * np.asarray(history.shadow)
    longest = int(share.argmax())
    most = float(share[longest])
    high = _reach(0.0, most, [0.0], place[3])[1] if most > 0.0 else 10.0
    axes.set_ylim(-high / place[3], high)  # a millimetre of air under zero
    heights = style.round_ticks(0.0, high, place[3], apart=5.0, edge=0.0, steps=SHARE_STEPS)
    axes.set_yticks(heights, [style.plain(value) for value in heights])
    axes.fill_between(history.days, share, color=style.LIGHT, linewidth=0.0, zorder=1.5)
    axes.plot(history.days, share, color=style.BLACK, linewidth=1.4, zorder=4.0, gid="shadow")
    if most > 0.0:
        words = f"longest {style.plain(most, 1, keep=True)} % on {_date(history, longest)}"
        where = (float(history.days[longest]), most)
        _draw_extreme(axes, "longest", words, where, 1.0, [], place)
    else:
        axes.text(
            0.5,
            0.5,
            "no shadow on any of these days",
            transform=axes.transAxes,
            ha="center",
            va="center",
            gid="no-shadow",
        )


def _reach(
    lowest: float, highest: float, lines: Sequence[float], height: float
) -> tuple[float, float]:
    """Ends of an axis `height` mm tall with room for words under and over its curve."""
    least, most = min([lowest, *lines]), max([highest, *lines])
    low, high = least, max(most, least + 1.0)
    for _ in range(40):
        per_mm = (high - low) / height
        low = min(words_place(lowest, -1.0, lines, per_mm) - WORDS_HALF * per_mm, least)
        high = max(words_place(highest, 1.0, lines, per_mm) + WORDS_HALF * per_mm, most)
        low, high = min(low, least - 1.5 * per_mm), max(high, most + 1.5 * per_mm, low + 1.0)
    return low, high


def _name_lines(
    axes: Axes,
    named: Sequence[tuple[str, float]],
    place: tuple[float, float, float, float],
) -> None:
    """Names of lines at their right ends, moved apart where they would meet."""
    low, high = axes.get_ylim()
    apart = 1.05 * style.line_height(style.SMALLEST) * (high - low) / place[3]
    values = [value for _, value in named]
    heights = spread(values, apart, low + 0.5 * apart, high - 0.5 * apart) if named else []
    mm = 1.0 / place[2]
    for (name, value), y in zip(named, heights, strict=True):
        axes.plot(
            [1.0 + 0.4 * mm, 1.0 + 2.5 * mm],
            [value, y],
            transform=axes.get_yaxis_transform(),
            color=style.MIDDLE,
            linewidth=0.4,
            clip_on=False,
            gid="leader",
        )
        number = f" {_degrees(value)}"
        room = RIGHT - 4.5 - style.text_width(number, style.SMALLEST)
        axes.text(
            1.0 + 3.0 * mm,
            y,
            style.shorten(name, room, style.SMALLEST) + number,
            transform=axes.get_yaxis_transform(),
            size=style.SMALLEST,
            va="center",
            gid="line-name",
        )


def _draw_extreme(
    axes: Axes,
    name: str,
    words: str,
    where: tuple[float, float],
    sign: float,
    lines: Sequence[float],
    place: tuple[float, float, float, float],
) -> None:
    """A filled triangle at an extreme, and words over (sign 1) or under it (-1)."""
    (low, high), (left, right) = axes.get_ylim(), axes.get_xlim()
    x, value = where
    axes.plot(
        [x],
        [value],
        marker="^" if sign > 0.0 else "v",
        markersize=5.0,
        color=style.BLACK,
        zorder=6.0,
        clip_on=False,
        gid=name,
    )
    half = (0.5 * style.text_width(words, style.SMALLEST) + 1.0) * (right - left) / place[2]
    written = axes.text(
        min(max(x, left + half), right - half),
        words_place(value, sign, lines, (high - low) / place[3]),
        words,
        size=style.SMALLEST,
        ha="center",
        va="center",
        zorder=7.0,
        gid=f"{name}-value",
    )
    written.set_path_effects([withStroke(linewidth=2.5, foreground=style.WHITE)])


def _degrees(value: float) -> str:
    return f"{style.plain(value, 1, keep=True)}°"


def _date(history: BetaHistory, k: int) -> str:
    return (history.first + timedelta(days=float(history.days[k]))).isoformat()
