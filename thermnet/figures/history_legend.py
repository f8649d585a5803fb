"""The lines under the title of a history plot that say what its greys and lines mean."""

from __future__ import annotations

from collections.abc import Mapping

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from thermnet.figures import style

PITCH = 4.6
"""From one line of the legend to the next [mm]."""
HEATER_STRIP = 1.6
"""Height [mm] of the strip at the bottom of a panel that shows when its heater is on."""
SHADOW = "0.86"
DASHES = {True: (0, (7, 2)), False: (0, (1.5, 2))}
"""Of the limits of operating bands, and of all others."""

PATCHES = {"shadow": (SHADOW, 2.6), "heater on": (style.DARK, HEATER_STRIP)}
"""Grey, and height [mm], of what is an area in the plot."""


def draw_legend(sheet: Axes, keys: Mapping[str, str], y: float) -> None:
    """One line of names, each with its symbol, at a height y [mm], as far as there is room.

    A name has the grey of its frame, or "" for what the plot draws in a way of its own.
    """
    x = 2.0
    for name, grey in keys.items():
        end = x + 8.2 + style.text_width(name, style.SMALLEST)
        if end > style.PAGE_WIDTH - 2.0:
            continue
        if grey:
            frame = Rectangle((x, y - 1.3), 7.0, 2.6, facecolor=grey, edgecolor=style.DARK)
            frame.set_linewidth(style.THIN)
            sheet.add_patch(frame)
        elif name in PATCHES:
            tone, tall = PATCHES[name]
            patch = Rectangle((x, y - tall / 2.0), 7.0, tall, facecolor=tone, linewidth=0.0)
            sheet.add_patch(patch)
        else:
            wide = 1.1 if name == "temperature" else style.LINE
            dashes = "solid" if name == "temperature" else DASHES[name == "operating limit"]
            style.stroke(sheet, (x, x + 7.0), (y, y), wide, dashes=dashes)
        style.write(sheet, x + 8.2, y, name, size=style.SMALLEST, name="legend")
        x = end + 4.0
