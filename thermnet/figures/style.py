"""One look for every figure: sizes, greys, hatches, the corner stamp, and reproducible files.

Lengths on the page are in millimetres, text sizes in points. Figures are made of greys and
hatches only, so that they read the same in print and to every eye. Nothing here, and nothing that
uses it, touches matplotlib's global settings: each figure is built and saved inside `look()`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

import matplotlib.style
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.text import Text
from matplotlib.textpath import TextToPath

MM_PER_INCH = 25.4
MM_PER_POINT = MM_PER_INCH / 72.0
RESOLUTION = 240
"""Dots per inch of a PNG."""

PAGE_WIDTH = 170.0
PAGE_HEIGHT = 257.0
"""The text area of an A4 page with margins of 20 mm."""
SLIDE_WIDTH, SLIDE_HEIGHT = 254.0, 142.9
"""A slide of 16:9."""

SMALLEST, BODY, SLIDE_BODY, TITLE, SLIDE_TITLE = 7.0, 7.5, 9.0, 11.0, 15.0
"""Text sizes; nothing is smaller than 7 points."""

BLACK, DARK, MIDDLE, LIGHT, PALE, WHITE = "0.0", "0.35", "0.6", "0.8", "0.92", "1.0"
HATCH = "//////"
THIN, LINE, HEAVY, EXCESS = 0.5, 0.9, 1.4, 3.4
"""Line widths in points."""

FAMILY = "DejaVu Sans"
"""Comes with matplotlib, so that every machine draws the same letters."""

LOOK: dict[str, Any] = {
    "font.family": FAMILY,
    "font.size": BODY,
    "text.parse_math": False,  # a name may hold a dollar sign
    "figure.dpi": RESOLUTION,
    "savefig.dpi": "figure",
    "axes.linewidth": THIN,
    "axes.edgecolor": DARK,
    "axes.axisbelow": True,
    "xtick.labelsize": SMALLEST,
    "ytick.labelsize": SMALLEST,
    "xtick.major.width": THIN,
    "ytick.major.width": THIN,
    "xtick.major.size": 2.0,
    "ytick.major.size": 2.0,
    "xtick.major.pad": 1.5,
    "ytick.major.pad": 1.5,
    "grid.color": LIGHT,
    "grid.linewidth": 0.35,
    "hatch.linewidth": 0.5,
    "hatch.color": BLACK,
    "pdf.fonttype": 42,
    "svg.fonttype": "path",  # letters as outlines: the layout does not hang on installed fonts
    "svg.hashsalt": "thermnet",
}

_METADATA: dict[str, dict[str, Any]] = {
    "png": {"Software": None},
    "svg": {"Date": None, "Creator": None},
    "pdf": {"CreationDate": None, "ModDate": None, "Creator": None, "Producer": None},
}

LEADING = 1.2
"""Pitch of the lines of one text, in its size."""

Align = Literal["left", "center", "right"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """What a figure says of its origin, small in its corner."""

    model: str
    case: str
    hash: str
    version: str

    def __str__(self) -> str:
        mark = f"hash {self.hash[:12]}" if self.hash else ""
        parts = (self.model, self.case, mark, f"thermnet {self.version}")
        return " · ".join(part for part in parts if part)


@contextmanager
def look() -> Iterator[None]:
    """Matplotlib's defaults with `LOOK` on top for the time of a block, whatever the user set."""
    with matplotlib.style.context(["default", LOOK]):
        yield


def page(width: float, height: float) -> tuple[Figure, Axes]:
    """A white figure [mm] and the sheet that covers it: x to the right, y down, both in mm."""
    figure = Figure(figsize=(width / MM_PER_INCH, height / MM_PER_INCH), facecolor="white")
    FigureCanvasAgg(figure)
    sheet = figure.add_axes((0.0, 0.0, 1.0, 1.0), label="sheet")
    sheet.set_xlim(0.0, width)
    sheet.set_ylim(height, 0.0)
    sheet.set_axis_off()
    return figure, sheet


def add_axes(figure: Figure, left: float, top: float, width: float, height: float) -> Axes:
    """Axes at a place given in mm from the figure's upper left corner."""
    whole = figure.get_size_inches() * MM_PER_INCH
    across, down = float(whole[0]), float(whole[1])
    axes = figure.add_axes(
        (left / across, 1.0 - (top + height) / down, width / across, height / down)
    )
    axes.patch.set_visible(False)
    return axes


def write(
    sheet: Axes,
    x: float,
    y: float,
    text: str,
    *,
    size: float = BODY,
    bold: bool = False,
    align: Align = "left",
    color: str = BLACK,
    name: str = "",
) -> Text:
    """Text in lines on a sheet or axes whose y runs down in mm, centred on the height y.

    Letters stand on lines counted from the middle, whether or not they reach above or below it.
    `name` finds the text again (its gid).
    """
    lines = text.count("\n")
    baseline = y + 0.36 * size * MM_PER_POINT + 0.5 * lines * LEADING * size * MM_PER_POINT
    written = sheet.text(
        x, baseline, text, size=size, weight="bold" if bold else "normal", ha=align, color=color
    )
    written.set_verticalalignment("baseline")
    written.set_linespacing(LEADING)
    written.set_gid(name or None)
    return written


def stroke(
    axes: Axes,
    across: Sequence[float],
    down: Sequence[float],
    width: float,
    *,
    color: str = BLACK,
    dashes: Any = "solid",
    zorder: float = 2.0,
    name: str = "",
) -> None:
    """A line through points of axes. Unlike `axes.plot` it leaves the limits of the axes alone."""
    line = Line2D(across, down, color=color, linewidth=width, linestyle=dashes, zorder=zorder)
    line.set_solid_capstyle("butt")
    line.set_gid(name or None)
    axes.add_artist(line)


def mark(
    axes: Axes,
    x: float,
    y: float,
    shape: str,
    size: float,
    *,
    fill: str = BLACK,
    edge: float = 1.0,
    zorder: float = 6.0,
    name: str = "",
) -> None:
    """A marker `size` points tall with a black edge."""
    line = Line2D([x], [y], marker=shape, markersize=size, linestyle="none", zorder=zorder)
    line.set_markerfacecolor(fill)
    line.set_markeredgecolor(BLACK)
    line.set_markeredgewidth(edge)
    line.set_gid(name or None)
    axes.add_artist(line)


def stamp(figure: Figure, origin: Stamp) -> Text:
    """Write model, case, hash and version small into the lower right corner."""
    whole = figure.get_size_inches() * MM_PER_INCH
    across, down = float(whole[0]), float(whole[1])
    room = across - 6.0
    text = shorten(str(origin), room, SMALLEST)
    written = figure.text(
        1.0 - 3.0 / across, 2.2 / down, text, size=SMALLEST, color=DARK, ha="right", va="baseline"
    )
    written.set_gid("stamp")
    return written


def save(figure: Figure, path: Path | str) -> Path:
    """Write a figure as PNG, SVG or PDF by the suffix; the same figure gives the same bytes.

    Raises ValueError for another suffix.
    """
    path = Path(path)
    form = path.suffix.lower().lstrip(".")
    if form not in _METADATA:
        raise ValueError(f"cannot write a figure as '{path.name}': end it in .png, .svg or .pdf")
    with look():
        figure.savefig(path, format=form, metadata=_METADATA[form], facecolor="white")
    return path


@lru_cache(maxsize=4096)
def text_width(text: str, size: float, bold: bool = False) -> float:
    """Width of one line of text in mm, a little generous: screens round letters up."""
    properties = FontProperties(family=FAMILY, weight="bold" if bold else "normal", size=size)
    width, _, _ = TextToPath().get_text_width_height_descent(text, properties, False)
    return 1.03 * float(width) * MM_PER_POINT


def line_height(size: float) -> float:
    """Height in mm that a line of text takes, with a little air."""
    return 1.29 * size * MM_PER_POINT


def shorten(text: str, room: float, size: float, bold: bool = False) -> str:
    """The text on one line, its middle left out ("…") where it is wider than the room in mm."""
    text = " ".join(text.split())
    if text_width(text, size, bold) <= room:
        return text
    for kept in range(len(text) - 1, 1, -1):
        head = text[: (kept + 1) // 2].rstrip()
        short = f"{head}…{text[len(text) - kept // 2 :].lstrip()}"
        if text_width(short, size, bold) <= room:
            return short
    return "…"


def wrap(text: str, room: float, size: float, bold: bool = False, lines: int = 2) -> list[str]:
    """Text broken between words, or after a hyphen, into lines that fit the room in mm.

    What does not fit the given number of lines is left out of the middle of the last one.
    """
    broken: list[str] = []
    rest = " ".join(text.split())
    while rest and len(broken) < lines - 1 and text_width(rest, size, bold) > room:
        cut = _last_break(rest, room, size, bold)
        if cut == 0:
            break
        broken.append(rest[:cut].rstrip())
        rest = rest[cut:].lstrip()
    return [*broken, shorten(rest, room, size, bold)] if rest else broken or [""]


def _last_break(text: str, room: float, size: float, bold: bool) -> int:
    """Where a line ends at the latest, between words if possible: 0 if not even one part fits."""
    for pattern in (r"\s", r"(?<=\w[-–/])(?=\w)"):
        cut = 0
        for found in re.finditer(pattern, text):
            if text_width(text[: found.start()].rstrip(), size, bold) > room:
                break
            cut = found.start()
        if cut:
            return cut
    return 0


def celsius(kelvin: float) -> float:
    """Temperature in °C, for people."""
    return kelvin - 273.15


def signed(value: float, unit: str = "K", digits: int = 1) -> str:
    """A number with its sign, a true minus, and its unit: "+3.2 K".

    What rounds to zero keeps its sign, so that a violation never looks like none.
    """
    sign = "+" if value > 0.0 else "−" if value < 0.0 else ""
    return f"{sign}{abs(value):.{digits}f} {unit}"


def plain(value: float, digits: int = 1, *, keep: bool = False) -> str:
    """A number with a true minus; without its last decimals where they are zero, unless kept."""
    rounded = round(value, digits)
    text = f"{abs(rounded):.{digits}f}"
    text = text.rstrip("0").rstrip(".") if digits and not keep else text
    return f"−{text}" if rounded < 0.0 else text


def round_ticks(
    low: float,
    high: float,
    length: float,
    *,
    apart: float,
    edge: float = 0.0,
    steps: Sequence[float] = (),
) -> list[float]:
    """Round values from low to high on an axis `length` mm long, at least `apart` mm apart.

    None stands within `edge` mm of an end. Steps are 1, 2 or 5 times a power of ten unless given.
    """
    scale = length / (high - low)
    if not steps:
        steps = [digit * 10.0**power for power in range(-3, 6) for digit in (1.0, 2.0, 5.0)]
    step = next((step for step in steps if step * scale >= apart), steps[-1])
    first = math.ceil((low + edge / scale) / step - 1e-9)
    last = math.floor((high - edge / scale) / step + 1e-9)
    return [step * k for k in range(first, last + 1)]
