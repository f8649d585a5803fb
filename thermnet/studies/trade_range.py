"""Which blanket a trade is about, the path of its quality, and over which values it goes."""

from __future__ import annotations

from typing import NoReturn

import numpy as np

from thermnet.errors import InputError, Problem, nearest
from thermnet.model.kinds.blanket_entry import Blanket
from thermnet.model.kinds.component import Component
from thermnet.model.model import Model
from thermnet.model.paths import value


def blanket_over(model: Model, component: str) -> str:
    """The blanket that covers a component, or the only one of the model.

    Raises InputError where the choice is not plain.
    """
    blankets = model.entries(Blanket, "blankets")
    entry = model.entries(Component, "components").get(component)
    nodes = () if entry is None else entry.nodes
    over = [name for name, each in blankets.items() if each.from_ in nodes]
    if len(over) != 1:
        over = list(blankets) if not over and len(blankets) == 1 else over
    if len(over) == 1:
        return over[0]
    if not blankets:
        refuse(f"{model.file}: the model has no blanket: name the path of the number to change")
    which = "several cover it" if over else "none covers it"
    listed = ", ".join(f"'{name}'" for name in over or blankets)
    raise InputError([Problem(message=f"choose a blanket for '{component}', {which}: {listed}")])


def quality(model: Model, blanket: str) -> str:
    """The path of what a blanket's quality is stated by. Raises InputError for no such blanket."""
    blankets = model.entries(Blanket, "blankets")
    if blanket not in blankets:
        refuse(f"unknown blanket '{blanket}'{nearest(blanket, blankets)}")
    stated = blankets[blanket].effective_emittance is not None
    return f"blankets.{blanket}.{'effective_emittance' if stated else 'scale'}"


def around(model: Model, path: str, points: int) -> tuple[float, ...]:
    """Values of a number to look at: between its bounds, or from a third of it to three times it.

    Raises InputError where it is not a number above zero.
    """
    middle = value(model, path)
    number = isinstance(middle, int | float) and not isinstance(middle, bool)
    if not number or not middle > 0.0:
        refuse(f"'{path}' is not a number above zero: say from where to where it is to go")
    low, high = middle / 3.0, middle * 3.0
    if path.startswith("blankets."):
        _, name, key = path.split(".", 2)
        entry = model.entries(Blanket, "blankets")[name]
        if key == "effective_emittance" and entry.low is not None and entry.high is not None:
            low, high = entry.low, entry.high
        elif key == "effective_emittance":
            high = min(high, 1.0)
    return between(model, path, low, high, points)


def between(model: Model, path: str, low: float, high: float, points: int) -> tuple[float, ...]:
    """Equally spaced values from low to high, whole numbers where the path takes only those.

    Raises InputError for no range, or fewer than two points.
    """
    if not low < high:
        refuse(f"the least value, {low:g}, must lie below the greatest, {high:g}")
    if points < 2:
        refuse(f"a range needs at least two points, got {points}")
    values = [float(each) for each in np.linspace(low, high, points)]
    if is_whole(model, path):
        values = [float(round(each)) for each in values]
    return tuple(dict.fromkeys(values))


def is_whole(model: Model, path: str) -> bool:
    """Whether the number at a path is a whole one. Raises InputError where it holds no number."""
    held = value(model, path)
    if isinstance(held, bool) or not isinstance(held, int | float | None):
        refuse(f"'{path}' holds no number: {held!r}")
    return isinstance(held, int)


def refuse(message: str) -> NoReturn:
    """Raise InputError with one sentence."""
    raise InputError([Problem(message=message)])
