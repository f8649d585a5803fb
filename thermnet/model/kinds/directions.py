"""Directions as a file states them: an axis of the body by its name, or three components."""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np

from thermnet.physics.curves import Floats
from thermnet.text.fields import fault, number

Component = Annotated[float, number()]

Direction = Literal["+x", "-x", "+y", "-y", "+z", "-z"] | tuple[Component, Component, Component]
"""An axis of the body, or a direction in its axes; its length does not count."""


def unit_vector(direction: Direction) -> tuple[float, float, float]:
    """The direction as components of length 1."""
    if isinstance(direction, str):
        vector: Floats = np.zeros(3)
        vector["xyz".index(direction[1])] = 1.0 if direction[0] == "+" else -1.0
    else:
        vector = np.array(direction)
        vector = vector / np.linalg.norm(vector)
    x, y, z = vector.tolist()
    return x, y, z


def without_length(key: str, direction: Direction | None) -> None:
    """Raise the fault of a direction whose three components are all zero."""
    if isinstance(direction, tuple) and not any(direction):
        raise fault(key, "a direction needs a component that is not zero")
