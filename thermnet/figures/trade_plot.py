"""Heater power needed in the cold over the quality of a blanket, and the hot margin below it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke

from thermnet import __version__
from thermnet.figures import style
from thermnet.figures.history_plot import spread
from thermnet.physics.curves import Floats
from thermnet.studies.trade import Trade

LEFT, RIGHT = 15.0, 47.0
"""Room [mm] for the scale at the left, and for the names of lines at the right."""
POWER_HEIGHT, MARGIN_HEIGHT, GAP, FOOT = 66.0, 40.0, 11.0, 14.0
"""Of the two panels [mm], between them, and below them."""
AIR = 2.0
"""Room [mm] between what is drawn and the edge of its panel."""
MARK = 4.0
"""Size [points] of the mark at a value that was solved."""
POINT_EDGE = 6.0
"""Room [mm] that the words at a crossing keep from the left edge."""
STEPS = tuple(digit * 10.0**power for power in range(-8, 7) for digit in (1.0, 2.0, 5.0))

USABLE, INSTALLED = (0, (6, 2)), (0, (1, 1.5))
"""Dashes of the lines across a panel."""

Place = tuple[float, float, float]
"""Top, height and width of a panel [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeCurves:
    """What the figure shows over `x` f8[k], rising, which `name` says.

    `needed` and `peak` f8[k] [W] are the mean and the greatest power, the same in a steady case.
    `margin` f8[k] [K] is that of the hot side. `usable` [W] is the power `installed` [W] times the
    duty allowed (0..1), both None without a heater. NaN where nothing is known. Raises ValueError
    for arrays of other lengths, and for none.
    """

    x: Floats
    name: str
    needed: Floats
    peak: Floats
    margin: Floats
    installed: float | None = None
    duty: float = 1.0
    crossing: float | None = None

    def __post_init__(self) -> None:
        lengths = {len(each) for each in (self.x, self.needed, self.peak, self.margin)}
        if len(lengths) != 1 or len(self.x) == 0:
            raise ValueError("a trade needs one or more values, and a power and a margin at each")

    @property
    def usable(self) -> float | None:
        return None if self.installed is None else self.installed * self.duty


def trade_plot(found: Trade) -> Figure:
    """A trade over the effective emittance as solved, or over its values where that stays."""
    value = np.array([each.value for each in found.points])
    emittance = np.array([each.emittance for each in found.points])
    tells = bool(np.isfinite(emittance).all()) and len(set(emittance.round(9))) == len(value)
    x = emittance if tells else value
    unit = f" [{found.unit}]" if found.unit else ""
    name = f"{found.path}{unit}"
    if tells:
        changed = "" if found.path.endswith(".effective_emittance") else f", by {found.path}"
        name = f"effective emittance of blanket '{found.blanket}', case '{found.cold}'{changed}"
    crossing = found.crossing()
    order = np.argsort(x)
    margin = [math.nan if each.margin is None else each.margin.margin for each in found.points]
    curves = TradeCurves(
        x=x[order],
        name=name,
        needed=np.array([each.needed for each in found.points])[order],
        peak=np.array([each.peak for each in found.points])[order],
        margin=np.array(margin)[order],
        installed=found.installed,
        duty=found.allowed,
        crossing=None if crossing is None else crossing[1 if tells else 0],
    )
    stamp = style.Stamp(
        model=found.model.name,
        case=f"{found.cold}, {found.hot}",
        hash=found.model.hash(),
        version=__version__,
    )
    what = "its blanket" if found.path.startswith("blankets.") else found.path
    held = style.plain(style.celsius(found.limit), 1, keep=True)
    return trade_figure(
        curves,
        stamp,
        title=f"{found.model.name}: {found.component}, heater power against {what}",
        power=f"heater power that holds {found.component} at {held} °C, case '{found.cold}', W",
        margin=f"margin of {found.component} on its hot side, case '{found.hot}', K",
    )


def trade_figure(
    curves: TradeCurves, stamp: style.Stamp, *, title: str, power: str, margin: str
) -> Figure:
    """Power over margin on one axis; `power` and `margin` are the headings of the two panels."""
    lines = style.wrap(title, style.PAGE_WIDTH - 4.0, style.TITLE, bold=True)
    top = 2.0 + len(lines) * style.line_height(style.TITLE) + 6.0
    width = style.PAGE_WIDTH - LEFT - RIGHT
    under = top + POWER_HEIGHT + GAP
    bottom = under + MARGIN_HEIGHT
    with style.look():
        figure, sheet = style.page(style.PAGE_WIDTH, bottom + FOOT)
        for number, line in enumerate(lines):
            y = 2.0 + (number + 0.5) * style.line_height(style.TITLE)
            style.write(sheet, 2.0, y, line, size=style.TITLE, bold=True, name="title")
        for words, y in ((power, top), (margin, under)):
            short = style.shorten(words, style.PAGE_WIDTH - LEFT - 2.0, style.BODY, bold=True)
            style.write(sheet, LEFT, y - 2.5, short, bold=True, name="heading")
        axes = _axes(figure, curves, (top, POWER_HEIGHT, width), "power")
        axes.tick_params(labelbottom=False)
        _draw_power(sheet, axes, curves, (top, POWER_HEIGHT, width))
        axes = _axes(figure, curves, (under, MARGIN_HEIGHT, width), "margin")
        _draw_margin(sheet, axes, curves, (under, MARGIN_HEIGHT, width))
        name = style.shorten(curves.name, width + 2.0 * LEFT - 4.0, style.BODY)
        style.write(sheet, LEFT + width / 2.0, bottom + 6.5, name, align="center", name="axis")
        style.stamp(figure, stamp)
    return figure


def _axes(figure: Figure, curves: TradeCurves, place: Place, name: str) -> Axes:
    """Axes over what is traded, with a little air at both ends."""
    top, height, width = place
    axes = style.add_axes(figure, LEFT, top, width, height)
    axes.set_label(name)
    low, high = float(curves.x[0]), float(curves.x[-1])
    span = high - low or abs(low) or 1.0
    low, high = low - span * AIR / width, high + span * AIR / width
    axes.set_xlim(low, high)
    ticks = style.round_ticks(low, high, width, apart=13.0, steps=STEPS)
    axes.set_xticks(ticks, [f"{round(value, 9):.6g}" for value in ticks])
    axes.grid(True)
    return axes


def _draw_power(sheet: Axes, axes: Axes, curves: TradeCurves, place: Place) -> None:
    repeating = not np.allclose(curves.needed, curves.peak, equal_nan=True)
    across: dict[str, tuple[float, Any]] = {}
    if curves.installed is not None:
        across["installed"] = curves.installed, INSTALLED
    if curves.usable is not None:
        across[f"at {100.0 * curves.duty:.0f} % duty"] = (curves.usable, USABLE)
    lines = np.array([0.0, *(value for value, _ in across.values())])
    _scale(axes, np.concatenate([curves.needed, curves.peak, lines]), place[1])
    for name, (value, dashes) in across.items():
        axes.axhline(
            value, color=style.BLACK, linewidth=style.LINE, linestyle=dashes, gid=f"line {name}"
        )
    axes.plot(
        curves.x, curves.needed, color=style.BLACK, linewidth=1.4, marker="o", markersize=MARK,
        zorder=4.0, clip_on=False, gid="needed",
    )  # fmt: skip
    labels = {name: value for name, (value, _) in across.items()}
    if repeating:
        axes.plot(
            curves.x, curves.peak, color=style.DARK, linewidth=1.0, marker="s", markersize=3.0,
            markerfacecolor=style.WHITE, zorder=3.9, clip_on=False, gid="peak",
        )  # fmt: skip
        labels["peak"] = _last(curves.peak)
    labels["needed, mean" if repeating else "needed"] = _last(curves.needed)
    _name_lines(sheet, axes, labels, place, "W")
    if curves.crossing is not None and curves.usable is not None:
        _draw_crossing(axes, curves.crossing, curves.usable, place)


def _draw_crossing(axes: Axes, x: float, y: float, place: Place) -> None:
    """An open ring where the power needed reaches what may be used, and words to the left of it."""
    low, high = axes.get_xlim()
    per_mm = (high - low) / place[2]
    axes.plot(
        [x], [y], marker="o", markersize=7.0, markerfacecolor="none", markeredgecolor=style.BLACK,
        linestyle="none", zorder=6.0, gid="crossing",
    )  # fmt: skip
    words = f"reached at {x:.3g}"
    room = style.text_width(words, style.SMALLEST) + POINT_EDGE
    left = (x - low) / per_mm > room
    down, up = axes.get_ylim()
    offset = 3.0 * (up - down) / place[1]
    written = axes.text(
        x - 2.0 * per_mm if left else x + 2.0 * per_mm,
        y + offset if left else y - offset,  # on the side away from a rising curve
        words,
        size=style.SMALLEST,
        ha="right" if left else "left",
        va="center",
        zorder=7.0,
        gid="crossing-value",
    )
    written.set_path_effects([withStroke(linewidth=2.5, foreground=style.WHITE)])


def _draw_margin(sheet: Axes, axes: Axes, curves: TradeCurves, place: Place) -> None:
    known = np.append(curves.margin, 0.0)
    _scale(axes, known, place[1])
    axes.axhline(0.0, color=style.DARK, linewidth=style.LINE, zorder=1.9, gid="zero")
    axes.plot(
        curves.x, curves.margin, color=style.BLACK, linewidth=1.4, marker="o", markersize=MARK,
        zorder=4.0, clip_on=False, gid="margin",
    )  # fmt: skip
    if not np.isfinite(curves.margin).any():
        axes.text(
            0.5, 0.75, "no band is judged on the hot side", transform=axes.transAxes, ha="center",
            va="center", gid="nothing",
        )  # fmt: skip
        return
    _name_lines(sheet, axes, {"limit": 0.0, "margin": _last(curves.margin)}, place, "K")


def _scale(axes: Axes, values: Floats, height: float) -> None:
    """A scale that holds all known values with a little air at both ends."""
    known = values[np.isfinite(values)]
    low, high = float(known.min()), float(known.max())
    high = high if high > low else low + 1.0
    air = AIR * (high - low) / (height - 2.0 * AIR)
    axes.set_ylim(low - air, high + air)
    ticks = style.round_ticks(*axes.get_ylim(), height, apart=6.0, steps=STEPS)
    axes.set_yticks(ticks, [_plain(value) for value in ticks])


def _plain(value: float) -> str:
    return f"{round(value, 9) + 0.0:.6g}".replace("-", "−")


def _last(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(known[-1]) if len(known) else math.nan


def _name_lines(sheet: Axes, axes: Axes, labels: dict[str, float], place: Place, unit: str) -> None:
    """Names of lines at their right ends with what they stand at there, moved apart."""
    top, height, width = place
    low, high = axes.get_ylim()
    shown = {name: value for name, value in labels.items() if math.isfinite(value)}
    wanted = [height * (value - low) / (high - low) for value in shown.values()]
    pitch = 1.1 * style.line_height(style.SMALLEST)
    if not shown:
        return
    places = spread(wanted, pitch, 0.5 * pitch, height - 0.5 * pitch)
    for (name, value), start, up in zip(shown.items(), wanted, places, strict=True):
        y, left = top + height - up, LEFT + width
        across, down = (left + 0.4, left + 3.5), (top + height - start, y)
        style.stroke(sheet, across, down, 0.4, color=style.MIDDLE, name="leader")
        number = "" if name == "limit" else f": {style.plain(value, 2, keep=True)} {unit}"
        style.write(sheet, left + 4.2, y, name + number, size=style.SMALLEST, name="label")
