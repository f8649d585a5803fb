"""A property over temperature: as a cell of the library holds it, and as an entry states it."""

from __future__ import annotations

import functools
import math
from typing import Annotated

import numpy as np
from pydantic import Field, model_validator

from thermnet.model.kinds.by_temperature import Points, check_points
from thermnet.physics.curves import Curve
from thermnet.physics.fits import curve_of, joined, log_polynomial, log_ratio, through_points
from thermnet.text.fields import Entry, quantity

NEAR = 300.0
"""Temperature [K] near which a property is meant that has one number alone."""

ROOM = (200.0, 400.0)
"""Temperatures [K] between which a number of the library, known near 300 K, passes unquestioned.
Common practice, no source: conductivities of metals and plastics change by some tens of percent."""

MATTERS = 0.05
"""How much, relative, the value held beyond the end of a curve may be off without a word."""

FAR = 50.0
"""How far [K] beyond the end of a curve a temperature may lie without a word."""

ROUNDING = 0.01
"""What [K] a temperature may lie beyond a range without a word."""

SHORT_OF = 30.0
"""How far [K] below that a published range may end: its last value is still taken for it."""

FORMS = {"fit": log_polynomial, "ratio": log_ratio}
"""The words that begin a piece of a cell, and the formula that its coefficients go into."""

RATIO_COEFFICIENTS = 9
"""How many coefficients a ratio has."""

Conductivities = tuple[Annotated[float, quantity("W/m/K", above=0)], ...]
SpecificHeats = tuple[Annotated[float, quantity("J/kg/K", above=0)], ...]


class Conductivity(Entry):
    """Conductivity over temperature, in straight lines; the end values hold outside."""

    temperature: Points = Field(description="temperatures, which must increase")
    value: Conductivities = Field(description="one conductivity for each temperature")

    @model_validator(mode="after")
    def _points(self) -> Conductivity:
        check_points(self.temperature, self.value, "value")
        return self

    @property
    def curve(self) -> Curve:
        """Conductivity [W/m/K] over temperature [K]; one object for equal points."""
        return through(self.temperature, self.value)


class SpecificHeat(Entry):
    """Specific heat over temperature, in straight lines; the end values hold outside."""

    temperature: Points = Field(description="temperatures, which must increase")
    value: SpecificHeats = Field(description="one specific heat for each temperature")

    @model_validator(mode="after")
    def _points(self) -> SpecificHeat:
        check_points(self.temperature, self.value, "value")
        return self

    @property
    def curve(self) -> Curve:
        """Specific heat [J/kg/K] over temperature [K]; one object for equal points."""
        return through(self.temperature, self.value)


@functools.lru_cache(maxsize=256)
def through(temperature: tuple[float, ...], value: tuple[float, ...]) -> Curve:
    """The curve through points. Links of one curve are summed fastest where it is one object."""
    return Curve(x=np.array(temperature), y=np.array(value))


def near_room(curve: Curve) -> float:
    """The value of a curve at 300 K, or at the end of its range that is nearest to that."""
    return float(curve.value(np.array([NEAR]))[0])


def reaches_room(curve: Curve) -> bool:
    """Whether the range of a curve comes near enough to 300 K to have a value there."""
    return bool(curve.x[0] <= NEAR and curve.x[-1] >= NEAR - SHORT_OF)


def words(temperature: tuple[float, ...], value: tuple[float, ...]) -> str:
    """Points of an entry in words, as a cell of the library has words for its curves."""
    pairs = zip(temperature, value, strict=True)
    return "straight lines " + " ".join(f"{x:g}:{y:g}" for x, y in pairs)


def told_range(known: tuple[float, float], lowest: float, highest: float) -> str:
    """Words for a range [K] of what is known and for what was met beyond it, "" if nothing was."""
    first, last = known
    if lowest >= first - ROUNDING and highest <= last + ROUNDING:
        return ""
    return f"from {first:g} to {last:g} K, and {lowest:.1f} to {highest:.1f} K were met"


def told_beyond(curve: Curve, lowest: float, highest: float) -> str:
    """Words for the range of a curve and for what was met so far beyond it that it matters.

    "" while the curve, had it gone on as it ends, would differ by less than `MATTERS` from the
    value that is held, and no temperature lies farther than `FAR` beyond.
    """
    first, last = float(curve.x[0]), float(curve.x[-1])
    colder, warmer = max(first - lowest, 0.0), max(highest - last, 0.0)
    missed = max(
        colder * abs(float(curve.slopes[0] / curve.y[0])),
        warmer * abs(float(curve.slopes[-1] / curve.y[-1])),
    )
    if missed <= MATTERS and max(colder, warmer) <= FAR:
        return ""
    return told_range((first, last), lowest, highest)


@functools.cache
def cell(text: str) -> Curve:
    """The curve that a cell of the library stands for.

    A cell is one piece, or several with rising ranges parted by `;`. A piece is `fit 4 300: a0 a1
    ...` or `ratio 4 300: a b c d e f g h i` (see `thermnet.physics.fits`) with its range in kelvin,
    or `table 100:302 200:237 ...`, points of temperature [K] and value, which must rise (see
    `through_points`). Raises ValueError with a sentence for a text that is none of these.
    """
    return joined(tuple(_piece(each.strip()) for each in text.split(";")))


def _piece(text: str) -> Curve:
    form, _, rest = text.partition(" ")
    if form == "table":
        return _table(rest.split())
    if form not in FORMS:
        raise ValueError(f"expected {', '.join(FORMS)} or table, got '{form}'")
    head, _, tail = rest.partition(":")
    bounds, coefficients = _numbers(head.split()), _numbers(tail.split())
    if len(bounds) != 2 or not 0.0 < bounds[0] < bounds[1]:
        raise ValueError(f"expected two rising temperatures before the colon, got '{head.strip()}'")
    if not coefficients or (form == "ratio" and len(coefficients) != RATIO_COEFFICIENTS):
        needed = str(RATIO_COEFFICIENTS) if form == "ratio" else "one or more"
        raise ValueError(f"expected {needed} coefficients, got {len(coefficients)}")
    return curve_of(functools.partial(FORMS[form], coefficients), bounds[0], bounds[1])


def _table(pairs: list[str]) -> Curve:
    at, values = [], []
    for pair in pairs:
        numbers = _numbers(pair.split(":"))
        if len(numbers) != 2 or min(numbers) <= 0.0:
            raise ValueError(f"expected a temperature and a value as '100:302', got '{pair}'")
        at.append(numbers[0])
        values.append(numbers[1])
    return through_points(np.array(at), np.array(values))


def _numbers(cells: list[str]) -> tuple[float, ...]:
    found = []
    for each in cells:
        try:
            found.append(float(each))
        except ValueError:
            raise ValueError(f"expected a number, got '{each}'") from None
        if not math.isfinite(found[-1]):
            raise ValueError(f"expected a number, got '{each}'")
    return tuple(found)
