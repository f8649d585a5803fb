"""What the margin plot says, before anything is drawn: rows, their order, and every text."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Literal

from thermnet.figures.style import plain, signed
from thermnet.limits import READ
from thermnet.margins import CaseRange, Margin, Side, Summary

Standing = Literal[
    "outside band", "allowance not covered", "not solved", "holds", "no band", "not judged"
]
Lane = Literal["hot", "cold", "other"]

STANDINGS: tuple[Standing, ...] = (
    "outside band",
    "allowance not covered",
    "not solved",
    "holds",
    "no band",
    "not judged",
)
"""In the order of the plot, the gravest first."""

HEADINGS: dict[Standing, str] = {
    "outside band": "Outside band",
    "allowance not covered": "Allowance not covered",
    "not solved": "Not solved",
    "holds": "Holds",
    "no band": "No band stated",
    "not judged": "Limits judged in none of these cases",
}

BANDS: tuple[str, ...] = ("operating", "non-operating")
"""The bands that every row shows; others only where they govern."""

FAR = 120.0
"""An item reaching this many K beyond the median item on a side gets an axis of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row: a component, or (`other` given) a limit on another quantity than temperature.

    Of a component only limits that do not hold have a row; entries of the limits have one each.
    """

    summary: Summary
    standing: Standing
    other: Margin | None = None

    @property
    def name(self) -> str:
        if self.other is None or self.summary.is_limit:
            return self.summary.component
        return f"– {limit_name(self.other)}"

    @property
    def text(self) -> str:
        """What the row of a limit says, with the case that governs."""
        if self.other is None:
            return ""
        words = f"{other_text(self.other)} ({self.other.case})"
        return f"{kind_name(self.other)} {words}" if self.summary.is_limit else words


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Rows under one heading and one axis (`axis` is "" for the common one)."""

    axis: str
    heading: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """Signed margin and governing case of one side of a row."""

    value: str
    case: str
    bold: bool


def standing(summary: Summary) -> Standing:
    """The gravest verdict on any limit of a component."""
    found: set[str] = {margin.verdict for margin in judged(summary)}
    nothing: Standing = "not judged" if summary.is_limit else "no band"
    return next((name for name in STANDINGS if name in found), nothing)


def judged(summary: Summary) -> tuple[Margin, ...]:
    """Every margin that the summary holds."""
    sides = tuple(margin for margin in (summary.cold, summary.hot) if margin is not None)
    return sides + summary.others


def arrange(
    summaries: Iterable[Summary], *, by_group: bool = False, counted: bool = True
) -> list[Section]:
    """Sections in the order of the plot: by axis, then by verdict or by group, smallest first.

    `counted` adds to each heading how many components stand under it.
    """
    summaries = tuple(summaries)
    axes = own_axes(summaries)
    parts: dict[tuple[str, bool, str], list[Summary]] = {}
    ordered = gravest_first(summaries)
    for summary in ordered:
        name = standing(summary)
        grouped = by_group and name not in ("no band", "not judged")
        heading = (summary.group or "no group") if grouped else HEADINGS[name]
        parts.setdefault((axes[summary.component], grouped, heading), []).append(summary)
    sections = []
    for (axis, grouped, heading), members in parts.items():
        holding = sum(standing(summary) == "holds" for summary in members)
        count = f"{holding} of {len(members)} hold" if grouped else f"{len(members)}"
        rows = tuple(row for summary in members for row in _rows(summary))
        text = f"{heading}: {count}" if counted else heading
        sections.append(Section(axis=axis, heading=text, rows=rows))
    # The axis with the gravest row comes first; members, and so sections, are sorted already.
    axis_order = list(dict.fromkeys(axes[item.component] for item in ordered))
    return sorted(sections, key=lambda section: axis_order.index(section.axis))


def gravest_first(summaries: Iterable[Summary]) -> list[Summary]:
    """By verdict, then by the smaller margin, that of other limits as a share, then by name."""
    return sorted(summaries, key=_gravity)


def smallest(summary: Summary) -> float:
    """The smaller temperature margin of a component [K], infinite where there is none."""
    sides = [side for side in (summary.cold, summary.hot) if side is not None and _solved(side)]
    return min((side.margin for side in sides), default=math.inf)


def sentence(summaries: Iterable[Summary]) -> str:
    """The verdict in one sentence: how many hold, and which margin is the worst."""
    members = gravest_first(item for item in summaries if judged(item))
    if not members:
        return "No component states a band"
    names = [standing(item) for item in members]
    head = f"{names.count('holds')} of {len(members)} hold"
    if unsolved := names.count("not solved"):
        head += f", {unsolved} not solved"
    solved = [item for item in members if standing(item) != "not solved"]
    if not solved:
        return head
    label = "Smallest margin" if standing(solved[0]) == "holds" else "Worst"
    return f"{head}. {label}: {_worst(solved[0])}"


def cells(row: Row) -> tuple[Cell, Cell]:
    """The cold and the hot column of a row, empty for a limit that is not one of temperature."""
    if row.other is not None or row.summary.is_limit:
        empty = Cell(value="", case="", bold=False)
        return empty, empty
    cold, hot = row.summary.cold, row.summary.hot
    sides = [side for side in (cold, hot) if side is not None]
    whole = all(_solved(side) for side in sides)
    smaller = min((side.margin for side in sides), default=math.nan) if whole else math.nan
    return _cell(cold, smaller), _cell(hot, smaller)


def other_text(margin: Margin) -> str:
    """What a limit on another quantity says: "6.2 K where 5 K is allowed"."""
    if not _solved(margin):
        return "not solved"
    scale, unit, digits = READ[margin.quantity]
    got, limit = plain(scale * margin.predicted, digits), plain(scale * margin.limit, digits)
    if margin.side == "cold":
        return f"{got} {unit} where at least {limit} {unit} is needed"
    return f"{got} {unit} where {limit} {unit} is allowed"


def limit_name(margin: Margin) -> str:
    """What is limited, in words: "difference to bench", "rate", "duty"."""
    if not margin.band or margin.quantity in margin.band:
        return margin.band or margin.quantity
    return f"{margin.quantity}, {margin.band}"


def kind_name(margin: Margin) -> str:
    """What a limit of its own is on, in a word or three."""
    return "energy in shadow" if margin.quantity == "energy" else margin.quantity


def lanes(summaries: Iterable[Summary]) -> tuple[Lane, ...]:
    """Kinds of bars that occur, from the top of a row down."""
    found = {lane(part) for summary in summaries for part in summary.ranges}
    order: tuple[Lane, ...] = ("hot", "cold", "other")
    return tuple(name for name in order if name in found)


def lane(part: CaseRange) -> Lane:
    """Which bar shows a case; survival cases and all others share the third one."""
    if part.kind == "hot":
        return "hot"
    return "cold" if part.kind == "cold" else "other"


def calculated(summary: Summary, kind: Lane) -> tuple[float, float] | None:
    """Lowest and highest calculated temperature [K] over the cases of one bar."""
    parts = [part for part in summary.ranges if lane(part) == kind]
    ends = [end for part in parts for end in (part.lowest, part.highest) if math.isfinite(end)]
    return (min(ends), max(ends)) if ends else None


def clipped(summary: Summary, side: Side) -> bool:
    """Whether the non-operating band ends so far beyond the operating one that it is not drawn."""
    end = 0 if side == "cold" else 1
    bands = [summary.bands[name][end] for name in BANDS if name in summary.bands]
    return len(bands) == 2 and math.isfinite(bands[0]) and abs(bands[1] - bands[0]) > FAR


def extent(summary: Summary) -> tuple[float, float] | None:
    """Lowest and highest temperature [K] that a row shows."""
    ends = [end for part in summary.ranges for end in (part.lowest, part.highest)]
    ends += summary.bands.get("operating", ())
    low, high = summary.bands.get("non-operating", (math.nan, math.nan))
    ends += [] if clipped(summary, "cold") else [low]
    ends += [] if clipped(summary, "hot") else [high]
    for margin in (summary.cold, summary.hot):
        if margin is not None:
            ends += (margin.limit, margin.calculated, margin.predicted)
    ends = [end for end in ends if math.isfinite(end)]
    return (min(ends), max(ends)) if ends else None


def axis_words(axis: str) -> str:
    """What stands beside a temperature axis."""
    return f"{axis} items, °C" if axis else "°C"


def own_axes(summaries: Sequence[Summary]) -> dict[str, str]:
    """Axis of every component: "" (common), "very cold", "very hot" or "wide-ranging".

    What reaches far beyond the others but covers their range too is wide-ranging, so that it does
    not flatten what is cold or hot throughout.
    """
    extents = {item.component: extent(item) for item in summaries}
    known = [ends for ends in extents.values() if ends is not None]
    low, high = (median(ends[k] for ends in known) if known else math.nan for k in (0, 1))
    names = dict.fromkeys(extents, "")
    for component, ends in extents.items():
        if ends is None:
            continue
        if ends[1] < low:
            names[component] = "very cold" if ends[0] < low - FAR else ""
        elif ends[0] > high:
            names[component] = "very hot" if ends[1] > high + FAR else ""
        elif ends[0] < low - FAR or ends[1] > high + FAR:
            names[component] = "wide-ranging"
    return names


def levels(summaries: Iterable[Summary]) -> str:
    """At which level the bands are: one word if all agree, else each with its components."""
    parts: dict[str, list[str]] = {}
    for item in summaries:
        if judged(item) and not item.is_limit:
            parts.setdefault(item.level, []).append(item.component)
    most = sorted(parts, key=lambda level: -len(parts[level]))
    texts = [f"{level} ({', '.join(parts[level])})" for level in most[1:]]
    return "; ".join([*most[:1], *texts])


def held(margin: Margin | None) -> str:
    """The words at an end that a heater holds: "held 62 %", or "held 92 % > 80 %" allowed."""
    if margin is None or not margin.held_by or not _solved(margin):
        return ""
    text = f"held {100.0 * margin.duty:.0f} %"
    if overworked(margin) and margin.verdict != "outside band":
        text += f" > {100.0 * margin.allowed_duty:.0f} %"
    return text


def overworked(margin: Margin) -> bool:
    """Whether a heater holds this side with more than its allowed duty."""
    return bool(margin.held_by) and margin.duty > margin.allowed_duty


def excess(margin: Margin | None) -> str:
    """The words at a violated side: "outside by 3.2 K", "short by 1.2 K", or none."""
    if margin is None or not margin.margin < 0.0:
        return ""
    if margin.verdict == "outside band":
        return f"outside by {-margin.margin:.1f} K"
    return f"short by {-margin.margin:.1f} K" if margin.verdict != "not solved" else ""


def _rows(summary: Summary) -> list[Row]:
    name = standing(summary)
    failed = [other for other in summary.others if other.verdict != "holds"]
    if summary.is_limit and summary.others:
        shown = failed or summary.others[:1]
        return [Row(summary=summary, standing=name, other=other) for other in shown]
    rows = [Row(summary=summary, standing=name, other=other) for other in failed]
    return [Row(summary=summary, standing=name), *rows]


def _gravity(summary: Summary) -> tuple[int, float, float, str]:
    shares = (
        margin.margin / (abs(margin.limit) or 1.0) for margin in summary.others if _solved(margin)
    )
    share = min(shares, default=math.inf)
    return STANDINGS.index(standing(summary)), smallest(summary), share, summary.component


def _solved(margin: Margin) -> bool:
    return margin.verdict != "not solved" and not math.isnan(margin.margin)


def _worst(summary: Summary) -> str:
    """The gravest margin of a component in words."""
    grave = [margin for margin in judged(summary) if margin.verdict == standing(summary)]
    margin = min(grave, key=lambda item: (item.quantity != "temperature", item.margin))
    if margin.quantity != "temperature":
        named = kind_name(margin) if summary.is_limit else limit_name(margin)
        what = f"{named} {other_text(margin)}"
    elif margin.margin >= 0.0 and overworked(margin):
        what = f"{margin.side} side {held(margin)}"
    else:
        what = f"{margin.side} side {signed(margin.margin)}"
    return f"{summary.component}, {what} ({margin.case})"


def _cell(margin: Margin | None, smaller: float) -> Cell:
    if margin is None:
        return Cell(value="no band", case="", bold=False)
    if not _solved(margin):
        return Cell(value="not solved", case=margin.case, bold=True)
    if math.isinf(margin.margin):
        return Cell(value="no limit", case="", bold=False)
    case = margin.case if margin.band == "operating" else f"{margin.case}; {margin.band}"
    return Cell(value=signed(margin.margin), case=case, bold=margin.margin <= smaller)
