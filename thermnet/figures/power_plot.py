"""Power of solar cells through an orbit, what is drawn of it, and the charge of the battery."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from thermnet import __version__
from thermnet.energy import Energy
from thermnet.figures import style
from thermnet.figures.history_legend import SHADOW
from thermnet.figures.history_plot import (
    FOOT,
    SECONDS,
    TIME_STEPS,
    Interval,
    spread,
    time_unit,
)
from thermnet.physics.curves import Floats
from thermnet.results import Result

LEFT, RIGHT = 15.0, 47.0
"""Room [mm] for the scale at the left, and for the names and means at the right."""
POWER_HEIGHT, CHARGE_HEIGHT, GAP = 70.0, 38.0, 11.0
"""Of the two panels [mm], and between them."""
LEADER, KEY = 5.0, 7.0
"""Lengths [mm] of the line from a curve's end to its label, and of the sample of its line."""
LABEL_PITCH = 1.1 * style.line_height(style.SMALLEST)
POWER_STEPS = tuple(digit * 10.0**power for power in range(-4, 7) for digit in (1.0, 2.0, 5.0))
CHARGE_STEPS = (1.0, 2.0, 5.0, 10.0, 20.0, 25.0)

LINES: dict[str, tuple[float, str, Any]] = {
    "available": (0.9, style.BLACK, (0, (6, 2))),
    "drawn": (2.4, "0.62", "solid"),
    "taken": (1.0, style.BLACK, "solid"),
}
"""Width [points], grey and dashes. What is drawn is a broad line under the others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerHistory:
    """Powers f8[k] [W] at instants `time` f8[k] [s], not decreasing, and the charge f8[k] (0..1).

    `available` is what the cells can give, `drawn` what they give, `demand` what the loads take.
    The charge is NaN throughout where there is no battery. Raises ValueError for arrays of other
    lengths and for fewer than two instants.
    """

    time: Floats
    available: Floats
    drawn: Floats
    demand: Floats
    charge: Floats

    def __post_init__(self) -> None:
        lengths = {len(getattr(self, name)) for name in self.__dataclass_fields__}
        if len(lengths) != 1 or len(self.time) < 2:
            raise ValueError("a history of power needs two or more instants, and a value at each")

    @property
    def charged(self) -> bool:
        """Whether there is a battery."""
        return bool(np.isfinite(self.charge).any())


def power_plot(result: Result, found: Energy) -> Figure | None:
    """The powers of a solved case over its last orbit, or all of it; None for a steady case."""
    course, how = found.course, result.plan
    if len(course.time) < 2:
        return None
    orbit = None if how.sky is None else how.sky.period
    last = float(course.time[-1])
    first = max(last - (orbit or last), 0.0)
    seen = course.time >= first
    history = PowerHistory(
        time=course.time[seen],
        available=course.available[seen],
        drawn=course.drawn[seen],
        demand=course.demand[seen],
        charge=course.charge[seen],
    )
    shadow = [(max(begin, first), end) for begin, end in how.shadows(how.span) if end > first]
    stamp = style.Stamp(
        model=result.model.name, case=how.name, hash=result.model.hash(), version=__version__
    )
    title = f"{result.model.name}: {how.title}, power of the solar cells"
    part = "last orbit" if first > 0.0 else ""
    return power_figure(history, stamp, title=title, shadow=shadow, part=part)


def power_figure(
    history: PowerHistory,
    stamp: style.Stamp,
    *,
    title: str,
    shadow: Sequence[Interval] = (),
    part: str = "",
) -> Figure:
    """Power over time, and below it the charge where there is a battery; `shadow` [s] in grey.

    `part` says which part of the case the history is, "" for all of it.
    """
    title = f"{title}, {part}" if part else title
    lines = style.wrap(title, style.PAGE_WIDTH - 4.0, style.TITLE, bold=True)
    top = 2.0 + len(lines) * style.line_height(style.TITLE) + 11.0
    width = style.PAGE_WIDTH - LEFT - RIGHT
    bottom = top + POWER_HEIGHT + (GAP + CHARGE_HEIGHT if history.charged else 0.0)
    unit = time_unit(float(history.time[-1]))
    with style.look():
        figure, sheet = style.page(style.PAGE_WIDTH, bottom + FOOT)
        for number, line in enumerate(lines):
            y = 2.0 + (number + 0.5) * style.line_height(style.TITLE)
            style.write(sheet, 2.0, y, line, size=style.TITLE, bold=True, name="title")
        _legend(sheet, bool(shadow), top - 8.0)
        axes = _axes(figure, history, shadow, unit, (top, POWER_HEIGHT, width), "power")
        _powers(sheet, axes, history, unit, (top, POWER_HEIGHT, width))
        if history.charged:
            axes.tick_params(labelbottom=False)
            place = (top + POWER_HEIGHT + GAP, CHARGE_HEIGHT, width)
            axes = _axes(figure, history, shadow, unit, place, "charge")
            _charge(sheet, axes, history, unit, place, part)
        x = LEFT + width / 2.0
        style.write(sheet, x, bottom + 6.5, f"time [{unit}]", align="center", name="time")
        style.stamp(figure, stamp)
    return figure


def _axes(
    figure: Figure,
    history: PowerHistory,
    shadow: Sequence[Interval],
    unit: str,
    place: tuple[float, float, float],
    name: str,
) -> Axes:
    """Axes over the time of the history; `place` is top, height and width [mm]."""
    top, height, width = place
    scale = SECONDS[unit]
    axes = style.add_axes(figure, LEFT, top, width, height)
    axes.set_label(name)
    axes.set_xlim(history.time[0] / scale, history.time[-1] / scale)
    times = style.round_ticks(*axes.get_xlim(), width, apart=11.0, steps=TIME_STEPS[unit])
    axes.set_xticks(times, [style.plain(value, 3) for value in times])
    for begin, end in shadow:
        axes.axvspan(begin / scale, end / scale, facecolor=SHADOW, linewidth=0.0, gid="shadow")
    axes.grid(True)
    return axes


def _powers(
    sheet: Axes, axes: Axes, history: PowerHistory, unit: str, place: tuple[float, float, float]
) -> None:
    top, height, width = place
    curves = {"drawn": history.drawn, "available": history.available}
    if history.charged:  # else nothing says who takes it
        curves["taken"] = history.demand
    highest = max(1e-3, *(float(watts.max()) for watts in curves.values()))
    air = 1.5 * highest / (height - 3.0)
    axes.set_ylim(-air, highest + air)
    heights = style.round_ticks(-air, highest + air, height, apart=6.0, edge=1.0, steps=POWER_STEPS)
    axes.set_yticks(heights, [f"{value:.6g}" for value in heights])
    style.write(sheet, LEFT - 1.5, top - 2.0, "W", size=style.SMALLEST, align="right")
    right = style.PAGE_WIDTH - 2.0
    style.write(
        sheet, right, top - 2.0, "mean, W", size=style.SMALLEST, align="right", name="column"
    )
    low, high = axes.get_ylim()
    names = sorted(curves, key=lambda name: float(curves[name][-1]))
    wanted = [height * (float(curves[name][-1]) - low) / (high - low) for name in names]
    half = 0.5 * LABEL_PITCH
    for name, start, up in zip(
        names, wanted, spread(wanted, LABEL_PITCH, half, height - half), strict=True
    ):
        thick, color, dashes = LINES[name]
        axes.plot(
            history.time / SECONDS[unit],
            curves[name],
            color=color,
            linewidth=thick,
            linestyle=dashes,
            zorder=3.0 if name == "drawn" else 4.0,
            gid=f"power {name}",
        )
        y, left = top + height - up, LEFT + width
        across = (left + 0.4, left + LEADER)
        style.stroke(
            sheet, across, (top + height - start, y), 0.4, color=style.MIDDLE, name="leader"
        )
        key = (left + LEADER + 0.8, left + LEADER + 0.8 + KEY)
        style.stroke(sheet, key, (y, y), thick, color=color, dashes=dashes, name=f"key {name}")
        style.write(sheet, key[1] + 1.2, y, name, size=style.SMALLEST, name="label")
        mean = _mean(history.time, curves[name])
        text = style.plain(mean, 1, keep=True)
        style.write(sheet, right, y, text, size=style.SMALLEST, align="right", name=f"mean {name}")


def _charge(
    sheet: Axes,
    axes: Axes,
    history: PowerHistory,
    unit: str,
    place: tuple[float, float, float],
    part: str,
) -> None:
    top, height, width = place
    percent = 100.0 * history.charge
    lowest = int(np.argmin(percent))
    low = min(max(5.0 * np.floor(percent[lowest] / 5.0) - 5.0, 0.0), 90.0)
    low = min(low, float(percent[lowest]))
    axes.set_ylim(low, 101.0)
    heights = style.round_ticks(low, 101.0, height, apart=5.0, steps=CHARGE_STEPS)
    axes.set_yticks(heights, [style.plain(value, 1) for value in heights])
    axes.plot(history.time / SECONDS[unit], percent, color=style.BLACK, linewidth=1.0, gid="charge")
    style.write(sheet, LEFT, top - 2.5, "charge of the battery, % of its capacity", name="charge")
    text = f"lowest {style.plain(percent[lowest], 1, keep=True)} %"
    text += f", {part}" if part else ""
    y = top + height * (1.0 - (percent[lowest] - low) / (101.0 - low))
    y = min(max(y, top + 1.5), top + height - 1.5)
    style.write(sheet, LEFT + width + 2.0, y, text, size=style.SMALLEST, name="lowest")


def _mean(time: Floats, watts: Floats) -> float:
    area = float(np.diff(time) @ (watts[1:] + watts[:-1]) / 2.0)
    return area / float(time[-1] - time[0])


def _legend(sheet: Axes, shadow: bool, y: float) -> None:
    """What the grey columns and the names of the lines mean."""
    x = 2.0
    if shadow:
        sheet.add_patch(Rectangle((x, y - 1.3), 7.0, 2.6, facecolor=SHADOW, linewidth=0.0))
        style.write(sheet, x + 8.2, y, "shadow", size=style.SMALLEST, name="legend")
        x += 8.2 + style.text_width("shadow", style.SMALLEST) + 4.0
    words = (
        "available: what the cells can give at their temperature; drawn: what they give; "
        "taken: by the loads"
    )
    words = style.shorten(words, style.PAGE_WIDTH - 2.0 - x, style.SMALLEST)
    style.write(sheet, x, y, words, size=style.SMALLEST, name="legend")
