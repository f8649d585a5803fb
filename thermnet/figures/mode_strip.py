"""A strip over a time axis that says in which mode the spacecraft is, and when that changes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from thermnet.figures import style
from thermnet.model.activity import Activity

HEIGHT = 4.0
"""Height of the strip [mm]: a line of text with a little air."""
AIR = 0.8
"""Between the name of a mode and the edges of its stretch [mm]."""
TONES = ("1.0", "0.82", "0.92", "0.74")
"""Greys of the modes, in the order of their first appearance: black reads well on all of them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A mode from `begin` to `end` [s]."""

    begin: float
    end: float
    mode: str


def stretches(activity: Activity, last: float, period: float | None = None) -> tuple[Stretch, ...]:
    """The modes from 0 to `last` [s], those that go on over an edge as one stretch.

    `period` [s] is that after which all repeats where the activity says none itself.
    """
    turn = activity.period or period or math.inf
    turns = math.ceil(last / turn - 1e-9) if math.isfinite(turn) else 1
    found: list[Stretch] = []
    for number in range(max(turns, 1)):
        start = number * turn if number else 0.0
        begins = [start + float(begin) for begin in activity.begin]
        ends = [min(end, last) for end in (*begins[1:], start + turn)]
        for begin, end, mode in zip(begins, ends, activity.modes, strict=True):
            if end <= begin:
                continue
            if found and found[-1].mode == mode:
                found[-1] = replace(found[-1], end=end)
            else:
                found.append(Stretch(begin=begin, end=end, mode=mode))
    return tuple(found)


def tones(shown: Sequence[Stretch]) -> dict[str, str]:
    """The grey of each mode; where there are more modes than greys these come again."""
    names = list(dict.fromkeys(stretch.mode for stretch in shown))
    return {name: TONES[k % len(TONES)] for k, name in enumerate(names)}


def draw_modes(axes: Axes, shown: Sequence[Stretch], scale: float, width: float) -> None:
    """Draw stretches over axes `width` mm wide, whose time is in units of `scale` [s].

    A name stands in each stretch that has room for it.
    """
    left, right = axes.get_xlim()
    per_mm, greys = (right - left) / width, tones(shown)
    axes.set_ylim(0.0, 1.0)
    axes.set_yticks([])
    for stretch in shown:
        begin, end = max(stretch.begin / scale, left), min(stretch.end / scale, right)
        if end <= begin:
            continue
        patch = Rectangle(
            (begin, 0.0),
            end - begin,
            1.0,
            facecolor=greys[stretch.mode],
            edgecolor=style.DARK,
            linewidth=style.THIN,
            gid=f"mode {stretch.mode}",
        )
        axes.add_patch(patch)
        if fits(stretch.mode, (end - begin) / per_mm):
            axes.text(
                (begin + end) / 2.0,
                0.5,
                stretch.mode,
                size=style.SMALLEST,
                ha="center",
                va="center_baseline",
                zorder=3.0,
                gid="mode",
            )


def fits(mode: str, room: float) -> bool:
    """Whether the name of a mode stands within a stretch of so many mm."""
    return style.text_width(mode, style.SMALLEST) + 2.0 * AIR <= room


def unnamed(shown: Sequence[Stretch], per_mm: float) -> dict[str, str]:
    """The modes that have room for their name in no stretch, at a scale [s/mm], as a legend.

    It says "mode: safe" and the grey.
    """
    named = {each.mode for each in shown if fits(each.mode, (each.end - each.begin) / per_mm)}
    return {f"mode: {mode}": grey for mode, grey in tones(shown).items() if mode not in named}
