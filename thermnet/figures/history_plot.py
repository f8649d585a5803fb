"""Temperatures over time with their bands, extremes, shadow and heater-on periods."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.patheffects import withStroke

from thermnet.figures import mode_strip, style
from thermnet.figures.history_legend import DASHES, HEATER_STRIP, PITCH, SHADOW, draw_legend
from thermnet.figures.mode_strip import Stretch
from thermnet.network.primitives import Floats

MOST_PANELS = 8
LEFT, RIGHT = 15.0, 34.0
"""Room [mm] for the scale at the left, and for the names of limits at the right."""
PANEL_GAP = 7.0
FOOT = 17.0
STRIP_GAP = 1.6
"""Between the last panel and the strip of modes under it [mm]."""
NEAR, LESS_NEAR = 20.0, 5.0
"""A limit of the operating band, or of another, within this many K of the curve or within twice
its swing is drawn to scale; the others are named with an arrow."""
WORDS_AWAY, WORDS_HALF = 3.2, 1.9
"""From an extreme to the middle of its words [mm], and half their height with some air."""
Interval = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Extreme:
    """A true extreme, which may lie between two outputs: instant [s] and temperature [K]."""

    instant: float
    temperature: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One component's history.

    `t` f8[k] [s] and `temperature` f8[k] [K]; `bands` maps names to (low, high) [K]; `lowest` and
    `highest` are its extremes, `heater_on` the intervals [s] in which its heater is on.
    """

    name: str
    t: Floats
    temperature: Floats
    bands: dict[str, tuple[float, float]] = field(default_factory=dict)
    lowest: Extreme | None = None
    highest: Extreme | None = None
    heater_on: tuple[Interval, ...] = ()


def history_figures(
    panels: Sequence[Panel],
    origin: style.Stamp,
    *,
    title: str,
    shadow: Sequence[Interval] = (),
    modes: Sequence[Stretch] = (),
) -> list[Figure]:
    """Histories as `history_figure` draws them, on as many pages as they need."""
    count = max(math.ceil(len(panels) / MOST_PANELS), 1)
    share = math.ceil(len(panels) / count)
    pages = [panels[k * share : (k + 1) * share] for k in range(count)]
    return [history_figure(page, origin, title=title, shadow=shadow, modes=modes) for page in pages]


def history_figure(
    panels: Sequence[Panel],
    origin: style.Stamp,
    *,
    title: str,
    shadow: Sequence[Interval] = (),
    modes: Sequence[Stretch] = (),
) -> Figure:
    """Small multiples over one time axis, one panel under another, for a page of a report.

    Grey columns through all panels are the `shadow` intervals [s]; a strip over the time axis
    names the `modes` where there are any. Raises ValueError for no panel
    or more than `MOST_PANELS`.
    """
    if not 0 < len(panels) <= MOST_PANELS:
        raise ValueError(
            f"cannot show {len(panels)} histories on one page: choose 1 to {MOST_PANELS} of them, "
            "or call history_figures for several pages"
        )
    width = style.PAGE_WIDTH
    lines = style.wrap(title, width - 4.0, style.TITLE, bold=True)
    under_title = 2.0 + len(lines) * style.line_height(style.TITLE)
    unit = time_unit(max(float(panel.t[-1]) for panel in panels))
    scale = SECONDS[unit]
    start = min(float(panel.t[0]) for panel in panels) / scale
    stop = max(float(panel.t[-1]) for panel in panels) / scale
    ends = (start, stop if stop > start else start + 1.0)
    wide = width - LEFT - RIGHT
    keys = _legend(panels, shadow)
    unnamed = mode_strip.unnamed(modes, (ends[1] - ends[0]) * scale / wide)
    top = under_title + 6.0 + (PITCH if unnamed else 0.0) + 5.0
    foot = FOOT + (STRIP_GAP + mode_strip.HEIGHT if modes else 0.0)
    fitting = (style.PAGE_HEIGHT - top - foot + PANEL_GAP) / len(panels) - PANEL_GAP
    height = min(30.0 + 30.0 / len(panels), fitting)
    pitch = height + PANEL_GAP
    with style.look():
        figure, sheet = style.page(width, top + len(panels) * pitch - PANEL_GAP + foot)
        for number, line in enumerate(lines):
            y = 2.0 + (number + 0.5) * style.line_height(style.TITLE)
            style.write(sheet, 2.0, y, line, size=style.TITLE, bold=True, name="title")
        draw_legend(sheet, dict.fromkeys(keys, ""), under_title + 3.0)
        draw_legend(sheet, unnamed, under_title + 3.0 + PITCH)
        for number, panel in enumerate(panels):
            place = (LEFT, top + number * pitch, wide, height)
            axes = style.add_axes(figure, *place)
            axes.set_label(panel.name)
            axes.set_xlim(*ends)
            _draw_panel(axes, panel, shadow, unit, place)
            name = style.shorten(panel.name, place[2], style.BODY, bold=True)
            heading = style.write(
                sheet, LEFT, place[1] - 2.0, name, bold=True, name=f"panel-{number}-name"
            )
            heading.set_zorder(7.0)
            axes.tick_params(labelbottom=number == len(panels) - 1 and not modes)
        bottom = top + len(panels) * pitch - PANEL_GAP
        if modes:
            bottom += STRIP_GAP + mode_strip.HEIGHT
            strip = style.add_axes(
                figure, LEFT, bottom - mode_strip.HEIGHT, wide, mode_strip.HEIGHT
            )
            strip.set_label("modes")
            strip.set_xlim(*ends)
            _set_times(strip, unit, wide)
            mode_strip.draw_modes(strip, modes, scale, wide)
            y = bottom - mode_strip.HEIGHT / 2.0
            style.write(sheet, LEFT - 1.5, y, "mode", size=style.SMALLEST, align="right")
        x, y = LEFT + wide / 2.0, bottom + 6.5
        style.write(sheet, x, y, f"time [{unit}]", align="center", name="time")
        style.write(sheet, LEFT - 1.5, top - 2.0, "°C", size=style.SMALLEST, align="right")
        style.stamp(figure, origin)
    return figure


TIME_STEPS = {
    "s": (1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0),
    "min": (1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0),
    "h": (0.5, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0),
    "d": (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0),
}
SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}


def time_unit(span: float) -> str:
    """Unit in which people read a time span [s]."""
    for unit, least in (("d", 3.0), ("h", 4.0), ("min", 3.0)):
        if span >= least * SECONDS[unit]:
            return unit
    return "s"


def view(panel: Panel, height: float) -> tuple[float, float, list[tuple[str, float]]]:
    """Lowest and highest °C of axes `height` mm tall, and the limits (name, °C) within them.

    There is room for words over and under the curve.
    """
    extremes = [end.temperature for end in (panel.lowest, panel.highest) if end is not None]
    lowest = style.celsius(min([float(np.min(panel.temperature)), *extremes]))
    highest = style.celsius(max([float(np.max(panel.temperature)), *extremes]))
    swing = highest - lowest
    reach = {True: max(NEAR, 2.0 * swing), False: max(LESS_NEAR, 2.0 * swing)}
    near = [
        (name, value)
        for name, value in _limits(panel)
        if lowest - reach[name == "operating"] <= value <= highest + reach[name == "operating"]
    ]
    values = [value for _, value in near]
    least, most = min([lowest, *values]), max([highest, *values])
    low, high = least, max(most, least + 1.0)
    strip = HEATER_STRIP + 0.4 if panel.heater_on else 0.0
    for _ in range(40):
        per_mm = (high - low) / height
        under = words_place(lowest, -1.0, values, per_mm) - (WORDS_HALF + strip) * per_mm
        over = words_place(highest, 1.0, values, per_mm) + WORDS_HALF * per_mm
        low = min(under, least - (1.5 + strip) * per_mm)
        high = max(over, most + 1.5 * per_mm, low + 1.0)
    return low, high, near


def words_place(value: float, sign: float, limits: Sequence[float], per_mm: float) -> float:
    """Middle [°C] of words over (sign 1) or under (-1) a value, clear of the lines of limits."""
    place = value + sign * WORDS_AWAY * per_mm
    for limit in sorted(limits, key=lambda limit: sign * limit):
        if abs(limit - place) < WORDS_HALF * per_mm:
            place = limit + sign * WORDS_HALF * per_mm
    return place


def _limits(panel: Panel) -> list[tuple[str, float]]:
    return [
        (name, style.celsius(value))
        for name, ends in panel.bands.items()
        for value in ends
        if math.isfinite(value)
    ]


def spread(wanted: Sequence[float], apart: float, low: float, high: float) -> list[float]:
    """Places nearest to the wanted ones, in their order, at least so far apart, between two ends.

    If there is too little room for all, they are spaced evenly.
    """
    order = sorted(range(len(wanted)), key=lambda k: wanted[k])  # stable: equals keep theirs
    apart = min(apart, (high - low) / max(len(wanted) - 1, 1))
    places = [min(max(wanted[k], low), high) for k in order]
    for k in range(1, len(places)):
        places[k] = max(places[k], places[k - 1] + apart)
    limit = high
    for k in reversed(range(len(places))):
        places[k] = min(places[k], limit)
        limit = places[k] - apart
    result = [0.0] * len(wanted)
    for k, place in zip(order, places, strict=True):
        result[k] = place
    return result


def _draw_panel(
    axes: Axes,
    panel: Panel,
    shadow: Sequence[Interval],
    unit: str,
    place: tuple[float, float, float, float],
) -> None:
    scale = SECONDS[unit]
    low, high, near = view(panel, place[3])
    axes.set_ylim(low, high)
    axes.grid(True)
    heights = style.round_ticks(low, high, place[3], apart=4.0, edge=1.0)
    axes.set_yticks(heights, [style.plain(value, 3) for value in heights])
    _set_times(axes, unit, place[2])
    for begin, end in shadow:
        axes.axvspan(begin / scale, end / scale, facecolor=SHADOW, linewidth=0.0, gid="shadow")
    strip = HEATER_STRIP / place[3]
    for begin, end in panel.heater_on:
        patch = Rectangle(
            (begin / scale, 0.0),
            (end - begin) / scale,
            strip,
            transform=axes.get_xaxis_transform(),
            facecolor=style.DARK,
            linewidth=0.0,
            gid="heater-on",
        )
        axes.add_patch(patch)
    _draw_limits(axes, panel, near, place[3])
    axes.plot(
        np.asarray(panel.t) / scale,
        np.asarray(panel.temperature) - 273.15,
        color=style.BLACK,
        linewidth=1.1,
        zorder=4.0,
        gid="temperature",
    )
    _draw_extremes(axes, panel, [value for _, value in near], unit, place)


def _set_times(axes: Axes, unit: str, width: float) -> None:
    """Round instants along the time axis of axes `width` mm wide."""
    left, right = axes.get_xlim()
    times = style.round_ticks(left, right, width, apart=11.0, steps=TIME_STEPS[unit])
    axes.set_xticks(times, [style.plain(value, 3) for value in times])


def _draw_limits(
    axes: Axes, panel: Panel, near: Sequence[tuple[str, float]], height: float
) -> None:
    """Lines for the limits in view, named at the right; others are named there with an arrow."""
    low, high = axes.get_ylim()
    texts = []
    for name, value in sorted(_limits(panel), key=lambda limit: limit[1]):
        words = f"{name} {style.plain(value)}"
        if (name, value) in near:
            axes.axhline(
                value,
                color=style.BLACK,
                linewidth=style.LINE,
                linestyle=DASHES[name == "operating"],
                gid=f"limit {name}",
            )
        else:
            words = f"{'↓' if value < low else '↑'} {words}"
        texts.append((min(max(value, low), high), words))
    per_mm = (high - low) / height
    apart = 1.05 * style.line_height(style.SMALLEST) * per_mm
    half = 0.5 * apart
    places = spread([value for value, _ in texts], apart, low + half, high - half)
    for (_, text), y in zip(texts, places, strict=True):
        # Centred on the place: y runs upwards here, in kelvin.
        axes.text(
            1.0 + 1.5 / (style.PAGE_WIDTH - LEFT - RIGHT),
            y,
            style.shorten(text, RIGHT - 3.0, style.SMALLEST),
            transform=axes.get_yaxis_transform(),
            size=style.SMALLEST,
            va="center",
            gid="limit-name",
        )


def _draw_extremes(
    axes: Axes,
    panel: Panel,
    limits: Sequence[float],
    unit: str,
    place: tuple[float, float, float, float],
) -> None:
    """Filled triangles at the extremes, and their values and instants within the panel."""
    low, high = axes.get_ylim()
    left, right = axes.get_xlim()
    mm_up, mm_along = (high - low) / place[3], (right - left) / place[2]
    for name, extreme, sign in (("lowest", panel.lowest, -1.0), ("highest", panel.highest, 1.0)):
        if extreme is None:
            continue
        x, y = extreme.instant / SECONDS[unit], style.celsius(extreme.temperature)
        axes.plot(
            [x],
            [y],
            marker="^" if sign > 0.0 else "v",
            markersize=5.0,
            color=style.BLACK,
            zorder=6.0,
            clip_on=False,
            gid=name,
        )
        text = f"{name} {style.plain(y, 1, keep=True)} °C at {style.plain(x, 1)} {unit}"
        half = (0.5 * style.text_width(text, style.SMALLEST) + 1.0) * mm_along
        written = axes.text(
            min(max(x, left + half), right - half),
            words_place(y, sign, limits, mm_up),
            text,
            size=style.SMALLEST,
            ha="center",
            va="center",
            zorder=7.0,
            gid=f"{name}-value",
        )
        written.set_path_effects([withStroke(linewidth=2.5, foreground=style.WHITE)])


def _legend(panels: Sequence[Panel], shadow: Sequence[Interval]) -> list[str]:
    """Names of the greys and lines that occur."""
    bands = {name for panel in panels for name in panel.bands}
    entries = [
        ("temperature", True),
        ("operating limit", "operating" in bands),
        ("other limit", bool(bands - {"operating"})),
        ("shadow", bool(shadow)),
        ("heater on", any(panel.heater_on for panel in panels)),
    ]
    return [name for name, occurs in entries if occurs]
