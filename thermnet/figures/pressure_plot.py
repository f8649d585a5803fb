"""Heat flow through a blanket over the pressure of the gas between its layers."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke
from matplotlib.ticker import NullLocator

from thermnet import __version__
from thermnet.blankets import OverPressure
from thermnet.figures import style
from thermnet.figures.history_plot import spread
from thermnet.results import Result

LEFT, RIGHT, HEIGHT, FOOT = 17.0, 46.0, 82.0, 17.0
"""Room [mm] for the scale at the left and for names at the right; of the axes; below them."""

VACUUM_DASHES = (0, (7, 2))
STILL_DASHES = (0, (7, 1.5, 1.2, 1.5))

DECADE = 6.0
"""Least distance [mm] between the numbers of decades up the side."""

POWERS = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def pressure_plot(result: Result, found: OverPressure) -> Figure:
    """The figure of a blanket in a solved case. Raises ValueError as `pressure_figure` does."""
    stamp = style.Stamp(
        model=result.model.name, case=result.case, hash=result.model.hash(), version=__version__
    )
    return pressure_figure(found, stamp, title=f"{result.model.name}: blanket {found.blanket}")


def pressure_figure(found: OverPressure, stamp: style.Stamp, *, title: str) -> Figure:
    """Heat flow over pressure, both by decades, beside that in a vacuum and that of still gas.

    Raises ValueError where heat flows one way at some pressures and the other way at others, or
    not at all: decades have no zero.
    """
    everything = np.array([*found.heat, found.vacuum, found.still])
    if not ((everything > 0.0).all() or (everything < 0.0).all()):
        raise ValueError(f"heat through blanket '{found.blanket}' is zero or changes its direction")
    lines = style.wrap(title, style.PAGE_WIDTH - 4.0, style.TITLE, bold=True)
    top = 2.0 + len(lines) * style.line_height(style.TITLE)
    width = style.PAGE_WIDTH - LEFT - RIGHT
    with style.look():
        figure, sheet = style.page(style.PAGE_WIDTH, top + 12.0 + HEIGHT + FOOT)
        for number, line in enumerate(lines):
            y = 2.0 + (number + 0.5) * style.line_height(style.TITLE)
            style.write(sheet, 2.0, y, line, size=style.TITLE, bold=True, name="title")
        style.write(sheet, 2.0, top + 3.0, _between(found), size=style.SMALLEST, name="faces")
        axes = style.add_axes(figure, LEFT, top + 12.0, width, HEIGHT)
        style.write(sheet, LEFT, top + 9.5, "heat flow, W", bold=True, name="heading")
        foot = top + 12.0 + HEIGHT + 8.0
        style.write(
            sheet,
            LEFT + 0.5 * width,
            foot,
            f"pressure of {found.gas} between the layers, Pa",
            bold=True,
            align="center",
            name="across",
        )
        _draw(axes, found, width)
        style.stamp(figure, stamp)
    return figure


def _between(found: OverPressure) -> str:
    """Which way the heat flows, and between what temperatures."""
    way = "from the covered surface out" if found.vacuum > 0.0 else "from the outer face in"
    covered, outer = style.celsius(found.covered_mean), style.celsius(found.outer_mean)
    return (
        f"{way}; covered surface held at {style.plain(covered, 1, keep=True)} °C, "
        f"outer face at {style.plain(outer, 1, keep=True)} °C"
    )


def _draw(axes: Axes, found: OverPressure, width: float) -> None:
    heat = np.abs(found.heat)
    levels = (
        ("in a vacuum", abs(found.vacuum), VACUUM_DASHES, "vacuum"),
        ("still gas alone", abs(found.still), STILL_DASHES, "still"),
    )
    axes.set_xscale("log")
    axes.set_yscale("log")
    least = min(float(heat.min()), *(level for _, level, _, _ in levels))
    most = max(float(heat.max()), *(level for _, level, _, _ in levels))
    axes.set_xlim(float(found.pressure[0]), float(found.pressure[-1]))
    axes.set_ylim(0.8 * least, 1.25 * most)
    _set_decades(axes)
    axes.grid(True)
    for _, level, dashes, gid in levels:
        axes.axhline(level, color=style.BLACK, linewidth=style.LINE, linestyle=dashes, gid=gid)
    axes.plot(found.pressure, heat, color=style.BLACK, linewidth=1.4, zorder=4.0, gid="heat")
    named = [(f"{name} {_watts(level)}", level) for name, level, _, _ in levels]
    at_last = (f"all at {_pascals(float(found.pressure[-1]))} {_watts(float(heat[-1]))}", heat[-1])
    _name_lines(axes, [*named, at_last], width)


def _set_decades(axes: Axes) -> None:
    """Numbers at whole powers of ten; up the side at 2 and 5 of them too where there is room."""
    low, high = (math.log10(end) for end in axes.get_xlim())
    exponents = range(math.ceil(low - 1e-9), math.floor(high + 1e-9) + 1)
    axes.set_xticks([10.0**k for k in exponents], [_power(k) for k in exponents])
    low, high = (math.log10(end) for end in axes.get_ylim())
    room = HEIGHT / (high - low)
    digits = (1, 2, 5) if 0.3 * room >= DECADE else (1,)
    step = max(1, math.ceil(DECADE / room))
    heights = [
        (digit * 10.0**k, f"{digit * 10.0**k:g}" if -3 <= k <= 3 else _power(k))
        for k in range(math.floor(low), math.ceil(high) + 1)
        if k % step == 0
        for digit in (digits if -3 <= k <= 3 else (1,))
    ]
    shown = [(at, text) for at, text in heights if axes.get_ylim()[0] <= at <= axes.get_ylim()[1]]
    axes.set_yticks([at for at, _ in shown], [text for _, text in shown])
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_minor_locator(NullLocator())


def _name_lines(axes: Axes, named: list[tuple[str, Any]], width: float) -> None:
    """What lines and the end of the curve are, at the right, moved apart where they would meet."""
    low, high = (math.log10(end) for end in axes.get_ylim())
    apart = 1.05 * style.line_height(style.SMALLEST) / HEIGHT
    at = [(math.log10(float(level)) - low) / (high - low) for _, level in named]
    heights = spread(at, apart, 0.5 * apart, 1.0 - 0.5 * apart)
    mm = 1.0 / width
    for (name, _), place, height in zip(named, at, heights, strict=True):
        axes.plot(
            [1.0 + 0.4 * mm, 1.0 + 2.5 * mm],
            [place, height],
            transform=axes.transAxes,
            color=style.MIDDLE,
            linewidth=0.4,
            clip_on=False,
            gid="leader",
        )
        written = axes.text(
            1.0 + 3.0 * mm,
            height,
            style.shorten(name, RIGHT - 4.0, style.SMALLEST),
            transform=axes.transAxes,
            size=style.SMALLEST,
            va="center",
            gid="line-name",
        )
        written.set_path_effects([withStroke(linewidth=2.5, foreground=style.WHITE)])


def _power(exponent: int) -> str:
    return f"10{str(exponent).translate(POWERS)}"


def _watts(heat: float) -> str:
    """To three figures, as "4.00 W" and "1280 W"; with an exponent from 10 kW."""
    rounded = float(f"{heat:.3g}")
    if rounded >= 1e4:
        return f"{heat:.2e} W"
    decimals = max(0, 2 - math.floor(math.log10(rounded)))
    return f"{rounded:.{decimals}f} W"


def _pascals(pressure: float) -> str:
    exponent = math.log10(pressure)
    whole = abs(exponent - round(exponent)) < 1e-9
    return f"{_power(round(exponent))} Pa" if whole else f"{pressure:.3g} Pa"
