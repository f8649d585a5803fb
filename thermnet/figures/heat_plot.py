"""Absorbed heat of surfaces by cause through an orbit, with shadow and sink temperatures."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from thermnet.figures import style
from thermnet.figures.history_legend import SHADOW
from thermnet.figures.history_plot import (
    FOOT,
    PANEL_GAP,
    SECONDS,
    TIME_STEPS,
    Interval,
    spread,
    time_unit,
)
from thermnet.network.grid import common_grid
from thermnet.network.parts import History
from thermnet.physics.curves import Floats

MOST_PANELS = 8
LEFT, RIGHT = 15.0, 47.0
"""Room [mm] for the scale at the left, and for the causes and their means at the right."""
LEADER, KEY = 5.0, 7.0
"""Lengths [mm] of the line from a curve's end to its label, and of the sample of its line."""
LEAST_HEIGHT = 20.0
"""Of a panel [mm]."""
LABEL_PITCH = 1.05 * style.line_height(style.SMALLEST)
LEAST_SCALE = 1e-9
"""Heat [W] below which a panel is drawn as if nothing were absorbed."""
HEAT_STEPS = tuple(digit * 10.0**power for power in range(-10, 9) for digit in (1.0, 2.0, 5.0))
"""Of the scale [W]: surfaces absorb from microwatts to kilowatts."""

USUAL = ("solar", "albedo", "planet infrared")
"""Causes that keep their line in every figure; others take the next ones as they come."""
DASHES: tuple[Any, ...] = (
    "solid",
    (0, (6, 2)),
    (0, (7, 1.5, 1.2, 1.5)),
    (0, (1.2, 1.5)),
    (0, (2.5, 1.2)),
    (0, (7, 1.5, 1.2, 1.5, 1.2, 1.5)),
    (0, (10, 3)),
)
TOTAL = "total"
TOTAL_WIDTH, TOTAL_GREY = 2.6, "0.62"
"""The total is a broad grey line under the others, which stay seen where only one acts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatPanel:
    """One surface's absorbed heat.

    `area` [m2]. `heat` maps each cause to its history: instants t f8[k] [s], not decreasing, a
    repeated one a jump, and heat q f8[k] [W]. `mean` maps each cause to its mean over the orbit
    [W]. `sink` is the equivalent sink temperature [K]: (mean, lowest, highest), or None.
    Raises ValueError if `heat` is empty or holds a total, or if `mean` names other causes.
    """

    name: str
    area: float
    heat: dict[str, tuple[Floats, Floats]]
    mean: dict[str, float]
    sink: tuple[float, float, float] | None = None

    def __post_init__(self) -> None:
        if not self.heat:
            raise ValueError(f"nothing to draw for '{self.name}': it has no cause of heat")
        if TOTAL in self.heat:
            raise ValueError(f"leave the total of '{self.name}' out: it is drawn as the sum")
        if set(self.heat) != set(self.mean):
            raise ValueError(
                f"'{self.name}' has histories of {', '.join(sorted(self.heat))} but means of "
                f"{', '.join(sorted(self.mean)) or 'none'}: give both for each cause"
            )


def heat_figures(
    panels: Sequence[HeatPanel],
    stamp: style.Stamp,
    *,
    title: str,
    shadow: Sequence[Interval] = (),
) -> list[Figure]:
    """Absorbed heat, small multiples over one time axis, on as many pages as they need.

    Grey columns through all panels are the `shadow` intervals [s]. Each cause has its own line,
    the same in all panels; its label at the right holds its mean over the orbit. Raises ValueError
    for no panel.
    """
    if not panels:
        raise ValueError("no heat to plot: the case has no surface that absorbs any")
    causes = causes_in_order(panels)
    lines = style.wrap(title, style.PAGE_WIDTH - 4.0, style.TITLE, bold=True)
    top = 2.0 + len(lines) * style.line_height(style.TITLE) + 11.0
    room = style.PAGE_HEIGHT - top - FOOT + PANEL_GAP
    labels = max(len(panel.heat) for panel in panels) + 1
    least = max(LEAST_HEIGHT, labels * LABEL_PITCH)
    most = min(MOST_PANELS, max(int(room / (least + PANEL_GAP)), 1))
    count = math.ceil(len(panels) / most)
    share = math.ceil(len(panels) / count)
    figures = []
    for number, first in enumerate(range(0, len(panels), share), start=1):
        members = panels[first : first + share]
        height = max(min(30.0 + 30.0 / len(members), room / len(members) - PANEL_GAP), least)
        part = f"page {number} of {count}" if count > 1 else ""
        origin = replace(stamp, model=" · ".join(text for text in (part, stamp.model) if text))
        figures.append(_page(members, origin, lines, shadow, causes, (top, height)))
    return figures


def causes_in_order(panels: Sequence[HeatPanel]) -> list[str]:
    """All causes, each once: the usual ones first, whether they occur or not."""
    found = [cause for panel in panels for cause in panel.heat]
    return list(dict.fromkeys([*USUAL, *found]))


def total_heat(panel: HeatPanel) -> tuple[Floats, Floats]:
    """Sum of all causes: instants f8[m] [s], repeated at jumps and corners, and heat f8[m] [W]."""
    grid = common_grid([History(time=t, value=q) for t, q in panel.heat.values()])
    t = np.stack([grid.instants[:-1], grid.instants[1:]], axis=1).ravel()
    q = np.stack([grid.start.sum(axis=1), grid.stop.sum(axis=1)], axis=1).ravel()
    first = min(float(t[0]) for t, _ in panel.heat.values())
    inside = t >= first  # the grid begins at zero
    return t[inside], q[inside]


def _page(
    panels: Sequence[HeatPanel],
    origin: style.Stamp,
    title: Sequence[str],
    shadow: Sequence[Interval],
    causes: Sequence[str],
    sizes: tuple[float, float],
) -> Figure:
    """One page: `sizes` are the top of its first panel and the height of each [mm]."""
    top, height = sizes
    pitch, width = height + PANEL_GAP, style.PAGE_WIDTH - LEFT - RIGHT
    instants = [t for panel in panels for t, _ in panel.heat.values()]
    start, stop = min(float(t[0]) for t in instants), max(float(t[-1]) for t in instants)
    unit = time_unit(stop)
    ends = (start / SECONDS[unit], max(stop, start + 1.0) / SECONDS[unit])
    with style.look():
        figure, sheet = style.page(style.PAGE_WIDTH, top + len(panels) * pitch - PANEL_GAP + FOOT)
        for number, line in enumerate(title):
            y = 2.0 + (number + 0.5) * style.line_height(style.TITLE)
            style.write(sheet, 2.0, y, line, size=style.TITLE, bold=True, name="title")
        _draw_legend(sheet, panels, bool(shadow), top - 8.0)
        style.write(sheet, LEFT - 1.5, top - 2.0, "W", size=style.SMALLEST, align="right")
        style.write(
            sheet,
            style.PAGE_WIDTH - 2.0,
            top - 2.0,
            "mean, W",
            size=style.SMALLEST,
            align="right",
            name="column",
        )
        for number, panel in enumerate(panels):
            place = (LEFT, top + number * pitch, width, height)
            axes = style.add_axes(figure, *place)
            axes.set_label(panel.name)
            axes.set_xlim(*ends)
            _draw_panel(axes, panel, shadow, unit, causes, place)
            _draw_heading(sheet, panel, place, number)
            _draw_labels(sheet, axes, panel, causes, place, number)
            axes.tick_params(labelbottom=number == len(panels) - 1)
        y, x = top + len(panels) * pitch - PANEL_GAP + 6.5, LEFT + width / 2.0
        style.write(sheet, x, y, f"time [{unit}]", align="center", name="time")
        style.stamp(figure, origin)
    return figure


def _draw_panel(
    axes: Axes,
    panel: HeatPanel,
    shadow: Sequence[Interval],
    unit: str,
    causes: Sequence[str],
    place: tuple[float, float, float, float],
) -> None:
    scale = SECONDS[unit]
    curves = dict(panel.heat)
    if len(curves) > 1:
        curves[TOTAL] = total_heat(panel)
    highest = max(float(np.max(q)) for _, q in curves.values())
    lowest = min(float(np.min(q)) for _, q in curves.values())
    highest, lowest = max(highest, 0.0), min(lowest, 0.0)
    if highest - lowest < LEAST_SCALE:
        highest = 1.0
    air = 1.5 * (highest - lowest) / (place[3] - 3.0)
    axes.set_ylim(lowest - air, highest + air)
    axes.grid(True)
    heights = style.round_ticks(
        lowest - air, highest + air, place[3], apart=4.5, edge=1.0, steps=HEAT_STEPS
    )
    axes.set_yticks(heights, [f"{value:.6g}".replace("-", "−") for value in heights])
    times = style.round_ticks(*axes.get_xlim(), place[2], apart=11.0, steps=TIME_STEPS[unit])
    axes.set_xticks(times, [style.plain(value, 3) for value in times])
    for begin, end in shadow:
        axes.axvspan(begin / scale, end / scale, facecolor=SHADOW, linewidth=0.0, gid="shadow")
    for cause, (t, q) in curves.items():
        width, color, dashes, zorder = _line(cause, causes)
        axes.plot(
            np.asarray(t) / scale,
            q,
            color=color,
            linewidth=width,
            linestyle=dashes,
            zorder=zorder,
            gid=f"heat {cause}",
        )


def _line(cause: str, causes: Sequence[str]) -> tuple[float, str, Any, float]:
    """Width [points], grey, dashes and order of the line of a cause, or of the total."""
    if cause == TOTAL:
        return TOTAL_WIDTH, TOTAL_GREY, "solid", 3.0
    number = causes.index(cause)
    turn, kind = divmod(number, len(DASHES))
    return 1.0 + 0.5 * turn, style.BLACK if turn == 0 else style.DARK, DASHES[kind], 4.0


def _draw_heading(
    sheet: Axes, panel: HeatPanel, place: tuple[float, float, float, float], number: int
) -> None:
    """Over the panel its name, its area, and at the right its equivalent sink temperature."""
    y, right = place[1] - 2.0, place[0] + place[2]
    sink = sink_words(panel.sink)
    area = f"{panel.area:.3g} m²"
    taken = sum(style.text_width(text, style.SMALLEST) + 3.0 for text in (area, sink) if text)
    name = style.shorten(panel.name, place[2] - taken, style.BODY, bold=True)
    style.write(sheet, place[0], y, name, bold=True, name=f"panel-{number}-name")
    x = place[0] + style.text_width(name, style.BODY, bold=True) + 2.0
    style.write(sheet, x, y, area, size=style.SMALLEST, name="area")
    style.write(sheet, right, y, sink, size=style.SMALLEST, align="right", name="sink")


def sink_words(sink: tuple[float, float, float] | None) -> str:
    """An equivalent sink temperature [K] for people: "sink −12.3 °C (−45.0 to 20.1)"."""
    if sink is None:
        return ""
    mean, lowest, highest = (style.plain(style.celsius(value), 1, keep=True) for value in sink)
    return f"sink {mean} °C ({lowest} to {highest})"


def _draw_labels(
    sheet: Axes,
    axes: Axes,
    panel: HeatPanel,
    causes: Sequence[str],
    place: tuple[float, float, float, float],
    number: int,
) -> None:
    """At the right of the panel each cause, joined to the end of its curve, and its mean."""
    ends = {cause: float(q[-1]) for cause, (_, q) in panel.heat.items()}
    means = dict(panel.mean)
    if len(ends) > 1:
        ends[TOTAL], means[TOTAL] = sum(ends.values()), sum(means.values())
    # From the bottom up, the total over those that end with it.
    names = sorted(ends, key=lambda name: -1 if name == TOTAL else causes.index(name))[::-1]
    low, high = axes.get_ylim()
    wanted = [place[3] * (ends[name] - low) / (high - low) for name in names]
    half = 0.5 * LABEL_PITCH
    heights = spread(wanted, LABEL_PITCH, half, place[3] - half)
    digits = _digits(means.values())
    left = place[0] + place[2]
    value_width = max(
        style.text_width(style.plain(value, digits, keep=True), style.SMALLEST)
        for value in means.values()
    )
    text_left, right = left + LEADER + KEY + 2.0, style.PAGE_WIDTH - 2.0
    for name, start, height in zip(names, wanted, heights, strict=True):
        width, color, dashes, _ = _line(name, causes)
        y, origin = place[1] + place[3] - height, place[1] + place[3] - start
        style.stroke(
            sheet, (left + 0.4, left + LEADER), (origin, y), 0.4, color=style.MIDDLE, name="leader"
        )
        key = (left + LEADER + 0.8, left + LEADER + 0.8 + KEY)
        style.stroke(sheet, key, (y, y), width, color=color, dashes=dashes, name=f"key {name}")
        bold = name == TOTAL
        room = right - value_width - 1.5 - text_left
        text = style.shorten(name, room, style.SMALLEST, bold)
        label = f"panel-{number}-label"
        style.write(sheet, text_left, y, text, size=style.SMALLEST, bold=bold, name=label)
        style.write(
            sheet,
            right,
            y,
            style.plain(means[name], digits, keep=True),
            size=style.SMALLEST,
            align="right",
            name=f"panel-{number}-mean",
        )


def _digits(values: Any) -> int:
    """Decimals with which the greatest of some values shows three figures, 5 at most."""
    greatest = max(abs(value) for value in values)
    if greatest < LEAST_SCALE:
        return 1
    return min(max(2 - math.floor(math.log10(greatest)), 0), 5)


def _draw_legend(sheet: Axes, panels: Sequence[HeatPanel], shadow: bool, y: float) -> None:
    """What the grey columns and the numbers of sinks mean, where they occur."""
    x = 2.0
    if shadow:
        sheet.add_patch(Rectangle((x, y - 1.3), 7.0, 2.6, facecolor=SHADOW, linewidth=0.0))
        style.write(sheet, x + 8.2, y, "shadow", size=style.SMALLEST, name="legend")
        x += 8.2 + style.text_width("shadow", style.SMALLEST) + 4.0
    words = "at the right: mean over the period"
    if any(panel.sink is not None for panel in panels):
        words += "; sink: equivalent sink temperature, mean (lowest to highest)"
    words = style.shorten(words, style.PAGE_WIDTH - 2.0 - x, style.SMALLEST)
    style.write(sheet, x, y, words, size=style.SMALLEST, name="legend")
