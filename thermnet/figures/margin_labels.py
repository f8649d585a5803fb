"""Words beyond the ends of a row of the margin plot, and temperature axes that leave room for them.

Words keep their size in mm while the axis stretches, so axis and words are placed together.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from thermnet.figures import style
from thermnet.figures.margin_rows import Row, calculated, clipped, extent, held, lanes, overworked
from thermnet.margins import Side, Summary

LABEL_GAP = 1.8
"""Between a marked end and its label [mm]."""
DATA_MARGIN = 2.5
"""Between the outermost mark and the edge of the axes [mm]."""
OPEN = (-math.inf, math.inf)
"""A band without limits."""
ZERO = 273.15
"""0 °C [K]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Words outside one end of a row: at the anchor [K], or beyond the obstacle in the way.

    They stand in a frame if they tell of a violation.
    """

    text: str
    kind: str
    side: Side
    anchor: float
    obstacle: float
    width: float
    framed: bool


def labels(summary: Summary, size: float) -> list[Label]:
    """Words beyond the ends of a row, those of each side from the inside outwards."""
    found = []
    sides: tuple[Side, ...] = ("cold", "hot")
    for side in sides:
        margin = summary.cold if side == "cold" else summary.hot
        texts = [(held(margin), "held")]
        end = summary.bands.get("non-operating", OPEN)[0 if side == "cold" else 1]
        if clipped(summary, side) and math.isfinite(end):
            texts.append((f"to {style.plain(style.celsius(end))} °C", "beyond"))
        found += [_label(summary, side, text, kind, size) for text, kind in texts if text]
    return found


def _label(summary: Summary, side: Side, text: str, kind: str, size: float) -> Label:
    outer, end = (min, 0) if side == "cold" else (max, 1)
    margin = summary.cold if side == "cold" else summary.hot
    marks = [] if margin is None else [margin.predicted, margin.limit]
    marks += [ends[end] for name in lanes([summary]) if (ends := calculated(summary, name))]
    marks += [summary.bands["operating"][end]] if "operating" in summary.bands else []
    anchor = outer((mark for mark in marks if math.isfinite(mark)), default=ZERO)
    beyond = summary.bands.get("non-operating", OPEN)[end]
    drawn = math.isfinite(beyond) and not clipped(summary, side)
    return Label(
        text=text,
        kind=kind,
        side=side,
        anchor=anchor,
        obstacle=beyond if drawn else anchor,
        width=style.text_width(text, size) + 1.2,
        framed=kind == "held" and margin is not None and overworked(margin),
    )


def spans(found: Iterable[Label], scale: float) -> list[tuple[float, float]]:
    """First and last place of each label [mm from 0 K at `scale` mm/K], packed outwards."""
    taken: dict[Side, float] = {}
    result = []
    for label in found:
        sign = -1.0 if label.side == "cold" else 1.0
        start = sign * label.anchor * scale + LABEL_GAP
        obstacle = sign * label.obstacle * scale
        if start - LABEL_GAP < obstacle < start + label.width + LABEL_GAP / 2.0:
            start = obstacle + LABEL_GAP / 2.0
        start = max(start, taken.get(label.side, -math.inf))
        taken[label.side] = start + label.width + LABEL_GAP / 2.0
        ends = (sign * start, sign * (start + label.width))
        result.append((min(ends), max(ends)))
    return result


def axis_limits(rows: Iterable[Row], width: float, size: float) -> tuple[float, float]:
    """Temperatures [K] at the edges of axes `width` mm wide that hold all marks and labels."""
    summaries = [row.summary for row in rows if row.other is None]
    extents = [extent(summary) for summary in summaries]
    lowest = min((ends[0] for ends in extents if ends is not None), default=ZERO)
    highest = max((ends[1] for ends in extents if ends is not None), default=ZERO + 40.0)
    if highest - lowest < 10.0:
        lowest, highest = lowest - 5.0, highest + 5.0
    texts = [found for summary in summaries if (found := labels(summary, size))]

    def ends(scale: float) -> tuple[float, float]:
        """Left and right end of everything [mm from 0 K] at a scale [mm/K]."""
        places = [span for found in texts for span in spans(found, scale)]
        left = min([lowest * scale, *(span[0] for span in places)])
        return left, max([highest * scale, *(span[1] for span in places)])

    # Labels keep their size at every scale. At the least scale the data have a third of the width,
    # and words without room are pushed inwards when they are drawn.
    room = width - 2.0 * DATA_MARGIN
    least, most = room / (highest - lowest) / 3.0, room / (highest - lowest)
    for _ in range(50):
        scale = (least + most) / 2.0
        left, right = ends(scale)
        least, most = (scale, most) if right - left <= room else (least, scale)
    left, right = ends(least)
    low = left / least - (width - (right - left)) / 2.0 / least
    return low, low + width / least


def inside(
    places: Sequence[tuple[float, float]], found: Sequence[Label], left: float, right: float
) -> list[tuple[float, float]]:
    """Label places [mm] moved inwards, each side as a whole, until they stand between the edges."""
    moved = []
    for label, span in zip(found, places, strict=True):
        same = [other for other, by in zip(places, found, strict=True) if by.side == label.side]
        shift = max(left - min(span[0] for span in same), 0.0)
        shift -= max(max(span[1] for span in same) - right, 0.0)
        moved.append((span[0] + shift, span[1] + shift))
    return moved
