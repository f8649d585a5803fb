"""What a page holds, read back from the figure: its texts, and whether they can be read."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.text import Text

from thermnet.figures.style import SMALLEST


def texts(figure: Figure) -> list[Text]:
    """All texts that are seen."""
    found: list[Text] = figure.findobj(Text)
    return [text for text in found if text.get_text().strip() and text.get_visible()]


def across(line: Artist) -> tuple[float, ...]:
    """What a line joins, or where a mark stands: its places along x."""
    assert isinstance(line, Line2D)
    return tuple(float(x) for x in np.asarray(line.get_xdata()))


def up(line: Artist) -> tuple[float, ...]:
    """The same along y."""
    assert isinstance(line, Line2D)
    return tuple(float(y) for y in np.asarray(line.get_ydata()))


def by_name(figure: Figure, name: str) -> list[str]:
    """Texts with this gid, from the top of the page down and left to right."""
    found = [text for text in texts(figure) if text.get_gid() == name]
    return [text.get_text() for text in found]


def marks(figure: Figure, ending: str) -> list[Artist]:
    """Artists, other than texts, whose gid ends so."""
    return [
        artist
        for artist in figure.findobj(Artist)
        if not isinstance(artist, Text) and str(artist.get_gid() or "").endswith(ending)
    ]


def row_names(figure: Figure) -> list[str]:
    """Names of the rows of a margin plot from the top down."""
    found = [text for text in texts(figure) if str(text.get_gid()).endswith("-name")]
    found.sort(key=lambda text: text.get_position()[1])
    return [text.get_text().replace("\n", " ") for text in found]


def temperature_axes(figure: Figure) -> list[Axes]:
    return [axes for axes in figure.axes if str(axes.get_label()).startswith("temperature axis")]


def assert_legible(figure: Figure) -> None:
    """No text overlaps another, all stand on the page, none is smaller than 7 points."""
    figure.draw_without_rendering()
    page = figure.bbox
    boxes = []
    for text in texts(figure):
        assert float(text.get_fontsize()) >= SMALLEST, text.get_text()
        box = text.get_window_extent()
        assert page.x0 <= box.x0 <= box.x1 <= page.x1, f"off the page: {text.get_text()}"
        assert page.y0 <= box.y0 <= box.y1 <= page.y1, f"off the page: {text.get_text()}"
        boxes.append((text.get_text(), box))
    for (one, a), (other, b) in combinations(boxes, 2):
        across = min(a.x1, b.x1) - max(a.x0, b.x0)
        down = min(a.y1, b.y1) - max(a.y0, b.y0)
        # Letters are drawn on whole dots: a dot of common edge is none.
        assert across <= 1.0 or down <= 1.0, f"'{one}' and '{other}' overlap"
