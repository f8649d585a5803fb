"""The marks of one row of the margin plot: bands, bars, allowances, violations and their words.

Axes have °C across and mm on the page down. Each mark carries a gid `row-<number>-<what>`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from thermnet.figures import style
from thermnet.figures.margin_labels import ZERO, Label, inside, labels, spans
from thermnet.figures.margin_rows import Lane, calculated, clipped, excess, lane
from thermnet.margins import Margin, Summary

BAND_HEIGHT = 3.3
"""Height of an operating band [mm]; the bars share what is a little less."""
BAR_ROOM = 2.5
CAP = 0.8
TICK = 0.55
"""Half heights [mm] of the caps of a non-operating band and of the tick of an allowance."""

SQUARE, CROSS = 3.4, 7.0
"""Sizes [points] of the mark of a heater and of that of a violation."""

BARS: dict[Lane, dict[str, Any]] = {
    "hot": {"facecolor": style.MIDDLE, "edgecolor": style.BLACK},
    "cold": {"facecolor": style.WHITE, "edgecolor": style.BLACK, "hatch": style.HATCH},
    "other": {"facecolor": style.WHITE, "edgecolor": style.BLACK},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where a row is drawn: its axes, its middle [mm], its number and the bars it has.

    `per_mm` is the scale of the axes [K/mm].
    """

    axes: Axes
    middle: float
    number: int
    lanes: tuple[Lane, ...]
    per_mm: float

    def name(self, what: str) -> str:
        """Name (gid) of an artist of this row."""
        return f"row-{self.number}-{what}"

    def height_of(self, name: Lane) -> float:
        """Middle of a bar [mm on the page]."""
        share = BAR_ROOM / len(self.lanes)
        return self.middle - BAR_ROOM / 2.0 + share * (self.lanes.index(name) + 0.5)


def draw_marks(spot: Spot, summary: Summary, size: float) -> None:
    """Everything between the name and the columns of a component's row."""
    _draw_bands(spot, summary)
    for name in spot.lanes:
        _draw_bar(spot, summary, name)
    for margin in (summary.cold, summary.hot):
        if margin is not None and margin.verdict != "not solved":
            _draw_side(spot, summary, margin)
    _draw_labels(spot, labels(summary, size), size)
    _draw_violations(spot, summary, size)


def _draw_bands(spot: Spot, summary: Summary) -> None:
    """Open rectangle for the operating band, capped thin line for what lies beyond it."""
    operating = summary.bands.get("operating")
    beyond = summary.bands.get("non-operating")
    if beyond is not None:
        _draw_beyond(spot, summary, _celsius(beyond), _celsius(operating or ()))
    if operating is not None:
        low, high = _within(spot.axes, _celsius(operating))
        patch = Rectangle(
            (low, spot.middle - BAND_HEIGHT / 2.0),
            high - low,
            BAND_HEIGHT,
            facecolor=style.WHITE,
            edgecolor=style.BLACK,
            linewidth=style.LINE,
            zorder=2.0,
        )
        spot.axes.add_patch(patch)
        patch.set_gid(spot.name("operating"))


def _draw_beyond(
    spot: Spot, summary: Summary, beyond: Sequence[float], operating: Sequence[float]
) -> None:
    low, high = beyond
    left, right = spot.axes.get_xlim()
    drawn_low = left if clipped(summary, "cold") else low
    drawn_high = right if clipped(summary, "hot") else high
    pieces = [(drawn_low, drawn_high)]
    if operating:
        pieces = [(drawn_low, operating[0]), (operating[1], drawn_high)]
    for begin, end in pieces:
        if end <= begin:
            continue  # the operating band reaches as far
        ends = _within(spot.axes, (begin, end))
        name = spot.name("non-operating")
        style.stroke(spot.axes, ends, [spot.middle] * 2, style.THIN, zorder=1.5, name=name)
    for end in (low, high):
        if left < end < right:
            _upright(spot, end, CAP, style.THIN, "cap")


def _draw_bar(spot: Spot, summary: Summary, name: Lane) -> None:
    ends = calculated(summary, name)
    if ends is None:
        return
    low, high = _celsius(ends)
    thick = BAR_ROOM / len(spot.lanes) - 0.15
    # A constant temperature still shows, as a sliver.
    least = spot.per_mm * 0.35
    wide = max(high - low, least)
    patch = Rectangle(
        ((low + high - wide) / 2.0, spot.height_of(name) - thick / 2.0),
        wide,
        thick,
        linewidth=0.4,
        zorder=3.0,
        **BARS[name],
    )
    spot.axes.add_patch(patch)
    patch.set_gid(spot.name(f"{name}-cases"))


def _draw_side(spot: Spot, summary: Summary, margin: Margin) -> None:
    """Allowance or heater at the governing end, and the excess over the limit if there is any."""
    names = [lane(part) for part in summary.ranges if part.case == margin.case]
    y = spot.height_of(names[0]) if names and names[0] in spot.lanes else spot.middle
    reached, predicted, limit = _celsius((margin.calculated, margin.predicted, margin.limit))
    if margin.band not in ("operating", "non-operating"):
        _upright(spot, limit, BAND_HEIGHT / 2.0, style.HEAVY, f"{margin.side}-limit")
    if margin.held_by:
        style.mark(spot.axes, reached, y, "s", SQUARE, name=spot.name(f"{margin.side}-held"))
    elif margin.allowance > 0.0:
        name = spot.name(f"{margin.side}-allowance")
        style.stroke(spot.axes, [reached, predicted], [y, y], style.LINE, zorder=4.0, name=name)
        _upright(spot, predicted, TICK, style.LINE, f"{margin.side}-predicted", y)
    if margin.margin < 0.0:
        _draw_excess(spot, margin, limit, predicted)


def _draw_excess(spot: Spot, margin: Margin, limit: float, predicted: float) -> None:
    """Thick black from the limit to the predicted value; a cross if even the calculated is out."""
    y, name = spot.middle, spot.name(f"{margin.side}-excess")
    style.stroke(spot.axes, [limit, predicted], [y, y], style.EXCESS, zorder=5.0, name=name)
    if margin.verdict == "outside band":
        name = spot.name(f"{margin.side}-cross")
        style.mark(spot.axes, predicted, y, "x", CROSS, edge=2.0, name=name)
    else:
        _upright(spot, predicted, 1.3, style.HEAVY, f"{margin.side}-short")


def _draw_labels(spot: Spot, found: Sequence[Label], size: float) -> None:
    """Words beyond the ends of the row."""
    left, right = spot.axes.get_xlim()
    scale = 1.0 / spot.per_mm
    # The places of the labels count from 0 K.
    edges = ((left + ZERO) * scale + 0.3, (right + ZERO) * scale - 0.3)
    places = inside(spans(found, scale), found, *edges)
    for label, (begin, end) in zip(found, places, strict=True):
        text = style.write(
            spot.axes,
            (begin + end) / 2.0 / scale - ZERO,
            spot.middle,
            label.text,
            size=size,
            align="center",
            name=spot.name(f"{label.side}-{label.kind}"),
        )
        boxed(text, "framed" if label.framed else "plain")


def _draw_violations(spot: Spot, summary: Summary, size: float) -> None:
    """Words under the marks of a violated side, at the place of the violation."""
    left, right = spot.axes.get_xlim()
    sides = [side for side in (summary.cold, summary.hot) if side is not None and excess(side)]
    free = left
    for position, margin in enumerate(sides):
        half = (style.text_width(excess(margin), size) / 2.0 + 0.8) * spot.per_mm
        # A hot side's words may not reach into a cold side's, nor beyond the edge of the axes.
        behind = right - 2.0 * half * (len(sides) - 1 - position)
        x = min(max(style.celsius(margin.predicted), free + half), behind - half)
        free = x + half + 0.5 * spot.per_mm
        y = spot.middle + (BAND_HEIGHT + style.line_height(size)) / 2.0 + 0.6
        outside = margin.verdict == "outside band"
        text = style.write(
            spot.axes,
            x,
            y,
            excess(margin),
            size=size,
            align="center",
            name=spot.name(f"{margin.side}-violation"),
        )
        boxed(text, "black" if outside else "framed")


Box = Literal["plain", "framed", "black"]


def boxed(text: Text, kind: Box) -> None:
    """Put words on white, on white in a frame, or in white on black."""
    text.set_color(style.WHITE if kind == "black" else style.BLACK)
    text.set_zorder(7.0)
    text.set_bbox(
        {
            "boxstyle": "square,pad=0.12",
            "facecolor": style.BLACK if kind == "black" else style.WHITE,
            "edgecolor": style.WHITE if kind == "plain" else style.BLACK,
            "linewidth": style.THIN,
        }
    )


def _upright(
    spot: Spot, x: float, half: float, width: float, what: str, y: float | None = None
) -> None:
    """A short vertical line through the row, or through the height y."""
    y = spot.middle if y is None else y
    ends = (y - half, y + half)
    style.stroke(spot.axes, (x, x), ends, width, zorder=5.0, name=spot.name(what))


def _celsius(kelvin: Sequence[float]) -> list[float]:
    return [style.celsius(value) for value in kelvin]


def _within(axes: Axes, ends: Sequence[float]) -> tuple[float, float]:
    """A band open on a side goes on past the edge of the axes."""
    left, right = axes.get_xlim()
    beyond = right - left
    return max(ends[0], left - beyond), min(ends[1], right + beyond)
