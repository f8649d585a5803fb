"""Published fits of properties over temperature, and the curves that stand for them.

A fit that is left at a temperature outside its range may take any value: a curve made of it holds
the value at the end of the range instead.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from thermnet.physics.curves import Curve, Floats

CLOSE = 4e-4
"""Greatest relative distance between a curve and the fit that it stands for."""

SHARES = np.array([0.15, 0.3, 0.5, 0.7, 0.85])
"""Where between two points a curve is held against its fit."""

HALVINGS = 14
"""How often a range may be halved: a fit that wants more is not smooth."""

Fit = Callable[[Floats], Floats]
"""A property over temperatures [K]."""


def log_polynomial(coefficients: tuple[float, ...], temperature: Floats) -> Floats:
    """y with log10 y = sum a_i (log10 T)^i, T [K]; same shape as the temperature.

    The form of the fits of the cryogenic material properties of NIST.
    """
    logarithm = np.polynomial.polynomial.polyval(np.log10(temperature), np.array(coefficients))
    return np.asarray(10.0**logarithm)


def log_ratio(coefficients: tuple[float, ...], temperature: Floats) -> Floats:
    """y with log10 y = (a + c r + e r^2 + g r^3 + i r^4) / (1 + b r + d r^2 + f r^3 + h r^4).

    r is the square root of T [K]; the coefficients are a to i in the order of the alphabet. The
    form of the fits of oxygen-free copper among the cryogenic material properties of NIST.
    """
    root = np.sqrt(temperature)
    above = np.polynomial.polynomial.polyval(root, np.array(coefficients[0::2]))
    below = np.polynomial.polynomial.polyval(root, np.array((1.0, *coefficients[1::2])))
    return np.asarray(10.0 ** (above / below))


def curve_of(fit: Fit, lowest: float, highest: float) -> Curve:
    """A curve through points of a positive fit from `lowest` to `highest` [K].

    Its points lie closer where the fit bends, so that it is everywhere within `CLOSE` of it.
    Raises ValueError for a fit that is not positive and finite in its range, or too rough.
    """
    points = _halved(fit, lowest, highest, HALVINGS)
    x = np.array([lowest, *points])
    y = fit(x)
    if not (np.isfinite(y).all() and (y > 0.0).all()):
        raise ValueError("the fit must be positive and finite in its whole range")
    return Curve(x=x, y=y)


def through_points(temperature: Floats, value: Floats) -> Curve:
    """A curve through points of a table f8[n] over rising temperatures f8[n] [K], both positive.

    Between points that lie far apart a property bends: it is taken as a cubic of the logarithms
    that passes through every point and goes up or down only as they do (Fritsch and Butland, 1984,
    as scipy has it). Raises ValueError for points that make no curve.
    """
    Curve(x=temperature, y=value)
    from scipy.interpolate import PchipInterpolator  # slow to import: only where a table is used

    smooth = PchipInterpolator(np.log(temperature), np.log(value))

    def fit(at: Floats) -> Floats:
        return np.asarray(np.exp(smooth(np.log(at))))

    ends = zip(temperature[:-1].tolist(), temperature[1:].tolist(), strict=True)
    return joined(tuple(curve_of(fit, first, last) for first, last in ends))


def joined(pieces: tuple[Curve, ...]) -> Curve:
    """One curve of several with rising ranges; where two of them meet, the later one counts.

    Raises ValueError for ranges that overlap.
    """
    for first, second in zip(pieces[:-1], pieces[1:], strict=True):
        if second.x[0] < first.x[-1]:
            raise ValueError("the ranges of the pieces must follow each other")
    x, y = pieces[0].x, pieces[0].y
    for piece in pieces[1:]:
        before = x < piece.x[0]
        x, y = np.append(x[before], piece.x), np.append(y[before], piece.y)
    return Curve(x=x, y=y)


def _halved(fit: Fit, first: float, last: float, left: int) -> list[float]:
    """The points after the first one between which a straight line is close to the fit."""
    between = first + SHARES * (last - first)
    ends, values = fit(np.array([first, last])), fit(between)
    straight = ends[0] + SHARES * (ends[1] - ends[0])
    if (np.abs(straight - values) <= CLOSE * np.abs(values)).all():
        return [last]
    if left == 0:
        raise ValueError("the fit bends too much for a curve")
    # Equal ratios, since what is fitted over the logarithm bends most at the cold end.
    middle = float(np.sqrt(first * last))
    return [*_halved(fit, first, middle, left - 1), *_halved(fit, middle, last, left - 1)]
