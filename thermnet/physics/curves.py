"""A quantity tabulated over another, joined by straight lines."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]


def within(x: Any, first: Any, last: Any) -> Any:
    """x, or the nearer end outside; for one number or an array, as all formulas here."""
    return np.minimum(np.maximum(x, first), last)


def share_between(x: Any, first: Any, last: Any) -> Any:
    """Where x lies between two points: 0 at the first and before, 1 at the last and after."""
    return within((x - first) / np.maximum(last - first, 1e-12), 0.0, 1.0)


def line(y: Any, slope: Any, width: Any) -> Any:
    """Value of a straight piece at a distance `width` from the point where it is y."""
    return y + slope * width


def line_area(y: Any, slope: Any, width: Any) -> Any:
    """Area under a straight piece over a distance `width` from the point where it is y."""
    return width * (y + slope * width / 2.0)


def outer_area(x: Any, first: Any, last: Any, y_first: Any, y_last: Any) -> Any:
    """Area under the held ends of a curve, from 0 to x; negative for what x lacks of 0..first."""
    return y_first * np.minimum(x, first) + y_last * np.maximum(x - last, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """y over x, linear between the points, x strictly increasing.

    Outside the points the end value holds, unless `extend` continues the end slopes (as a heat
    content must). `slopes` and `areas` (of the pieces, summed) follow. Raises ValueError for fewer
    than two points or x that does not increase.
    """

    x: Floats
    y: Floats
    extend: bool = False
    slopes: Floats = field(init=False, repr=False)
    areas: Floats = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "x", _frozen(self.x))
        object.__setattr__(self, "y", _frozen(self.y))
        if self.x.ndim != 1 or self.x.shape != self.y.shape or len(self.x) < 2:
            raise ValueError("a curve needs two or more points, as many y as x")
        if not (np.isfinite(self.x).all() and np.isfinite(self.y).all()):
            raise ValueError("a curve needs finite numbers")
        if (np.diff(self.x) <= 0.0).any():
            raise ValueError("x of a curve must increase strictly")
        pieces = np.diff(self.x) * (self.y[1:] + self.y[:-1]) / 2.0
        object.__setattr__(self, "slopes", _frozen(np.diff(self.y) / np.diff(self.x)))
        object.__setattr__(self, "areas", _frozen(np.append(0.0, np.cumsum(pieces))))

    def value(self, x: Floats) -> Floats:
        """y at x; same shape as x."""
        if not self.extend:
            return np.asarray(np.interp(x, self.x, self.y))
        piece = self._piece(x)
        return np.asarray(line(self.y[piece], self.slopes[piece], x - self.x[piece]))

    def slope(self, x: Floats) -> Floats:
        """dy/dx at x, that of the piece to the right at a corner; zero outside unless extended."""
        slopes = self.slopes[self._piece(x)]
        if self.extend:
            return slopes
        return np.where((x < self.x[0]) | (x >= self.x[-1]), 0.0, slopes)

    def integral(self, x: Floats) -> Floats:
        """Integral of y from 0 to x, exact for the straight pieces and the held ends."""
        if self.extend:
            raise ValueError("the integral of an extended curve is not defined here")
        inside = within(x, self.x[0], self.x[-1])
        piece = self._piece(inside)
        partial = line_area(self.y[piece], self.slopes[piece], inside - self.x[piece])
        outside = outer_area(x, self.x[0], self.x[-1], self.y[0], self.y[-1])
        return np.asarray(self.areas[piece] + partial + outside)

    def _piece(self, x: Floats) -> np.ndarray[tuple[int, ...], np.dtype[np.intp]]:
        piece = np.searchsorted(self.x, x, side="right") - 1
        return np.minimum(np.maximum(piece, 0), len(self.x) - 2)


def _frozen(values: Floats) -> Floats:
    array = np.array(values, dtype=np.float64)
    array.flags.writeable = False
    return array
