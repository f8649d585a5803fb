"""How the body's axes stand in a case: the pointing that it names, as attitudes."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Literal

from thermnet.errors import InputError, Problem
from thermnet.model.kinds.directions import unit_vector
from thermnet.model.kinds.pointing import Pointing, Target
from thermnet.model.model import Model
from thermnet.physics.setting import Attitude

DEGREE = math.pi / 180.0

Where = Literal["stars", "orbit", "site", "between planets"]
"""What is known of directions: in an orbit the stars only by a node and a date."""

_SUN_FIRST = Attitude(
    axis=(0.0, 0.0, 1.0), to="sun", second_axis=(1.0, 0.0, 0.0), second_to="velocity"
)
_NADIR_FIRST = replace(_SUN_FIRST, to="nadir")

UNNAMED: dict[Where, Attitude] = {
    "stars": _NADIR_FIRST,
    "orbit": _NADIR_FIRST,
    "between planets": replace(_SUN_FIRST, second_axis=None, second_to=None),
    "site": Attitude(
        axis=(0.0, 0.0, 1.0), to="zenith", second_axis=(0.0, 1.0, 0.0), second_to="north"
    ),
}
"""Where a case names no pointing: at a site +x east, +y north, +z up; elsewhere any will do, since
no surface has a direction of its own then."""


def problem_at(model: Model, path: str, message: str) -> InputError:
    """The error of one problem at a path."""
    return InputError(model.located([Problem(message=message, path=path)]))


@contextmanager
def blamed(model: Model, path: str) -> Iterator[None]:
    """Put the blame for a ValueError's sentence on a path."""
    try:
        yield
    except ValueError as error:
        raise problem_at(model, path, str(error)) from None


def attitudes(
    model: Model, pointing: str | None, where: Where
) -> tuple[tuple[float, Attitude], ...]:
    """The attitudes of a pointing, with the orbit angle [rad] at which each begins.

    Raises InputError, located, for targets that are not known there.
    """
    if pointing is None:
        return ((0.0, UNNAMED[where]),)
    entries = model.entries(Pointing, "pointings")
    entry = entries[pointing]
    if not entry.sequence:
        return ((0.0, _attitude(model, pointing, where)),)
    if where in ("site", "between planets"):
        message = "a sequence goes by orbit angle, and there is no orbit here: name one pointing"
        raise problem_at(model, f"pointings.{pointing}.sequence", message)
    found = []
    for k, (name, angle) in enumerate(zip(entry.sequence, entry.angle, strict=True)):
        if entries[name].sequence:
            message = "a sequence cannot be part of a sequence; name its pointings"
            path = f"pointings.{pointing}.sequence.{k}"
            raise problem_at(model, path, message)
        found.append((angle * DEGREE, _attitude(model, name, where)))
    return tuple(found)


def _attitude(model: Model, name: str, where: Where) -> Attitude:
    entry = model.entries(Pointing, "pointings")[name]
    for key in ("to", "second_to"):
        target = getattr(entry, key)
        fixed = isinstance(target, tuple) or (target in ("north", "east") and where != "site")
        if fixed and where != "stars":
            message = (
                "where the stars stand is open: a fixed direction needs an orbit with "
                "'inclination', 'node' and 'date', and no 'beta' above them, stated or scanned"
            )
            raise problem_at(model, f"pointings.{name}.{key}", message)
    second = entry.second_axis
    free = entry.spin or where == "between planets"
    if not free and (second is None or entry.second_to is None):
        key = "second_axis" if second is None else "second_to"
        message = f"missing key '{key}': a planet is seen, and how the body is turned counts"
        raise problem_at(model, f"pointings.{name}.{key}", message)
    return Attitude(
        axis=unit_vector(entry.axis or "+z"),
        to=_target(entry.to or "nadir"),
        second_axis=None if second is None else unit_vector(second),
        second_to=None if entry.second_to is None else _target(entry.second_to),
        spin=entry.spin,
    )


def _target(target: Target) -> str | tuple[float, float, float]:
    """A word, or the inertial direction of right ascension and declination [deg]."""
    if isinstance(target, str):
        return target
    right_ascension, declination = target[0] * DEGREE, target[1] * DEGREE
    level = math.cos(declination)
    return (
        level * math.cos(right_ascension),
        level * math.sin(right_ascension),
        math.sin(declination),
    )
