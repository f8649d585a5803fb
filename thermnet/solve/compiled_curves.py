"""Histories, curves and potentials one number at a time, by the formulas of `physics`."""

from __future__ import annotations

from thermnet.physics.curves import line, line_area, outer_area, share_between, within
from thermnet.physics.potentials import power, power_slope
from thermnet.solve.compiled_jit import part
from thermnet.solve.compiled_slots import (
    BOUNDARY,
    BOUNDARY_HISTORY,
    CURVE_AREAS,
    CURVE_BEGIN,
    CURVE_SLOPES,
    CURVE_X,
    CURVE_Y,
    DRIVE,
    EXPONENT,
    EXTEND,
    GROUP_CURVE,
    INSTANTS,
    MEANS,
    POTENTIAL,
    SLOPE,
    START,
    STOP,
    Flat,
    U,
    size,
)

for _function in (line, line_area, outer_area, share_between, within, power, power_slope):
    part(_function)


@part
def interval(flat: Flat, first: int, last: int, x: float) -> int:
    """Last of the rising numbers from `first` to before `last` that is not above x, or `first`."""
    low, high = first + 1, last
    while low < high:
        middle = (low + high) // 2
        if flat.number[middle] <= x:
            low = middle + 1
        else:
            high = middle
    return low - 1


@part
def piece_at(flat: Flat, curve: int, x: float) -> int:
    """Number of the point where the piece under x begins; the outer pieces reach outwards."""
    points, begin = flat.at[CURVE_X], flat.at[CURVE_BEGIN] + curve
    first, last = points + flat.place[begin], points + flat.place[begin + 1] - 1
    return int(interval(flat, first, last, x) - points)


@part
def curve_value(flat: Flat, curve: int, x: float) -> float:
    numbers, points, begin = flat.number, flat.at[CURVE_X], flat.at[CURVE_BEGIN] + curve
    if flat.place[flat.at[EXTEND] + curve] == 0:
        first, last = points + flat.place[begin], points + flat.place[begin + 1] - 1
        x = within(x, numbers[first], numbers[last])
    k = piece_at(flat, curve, x)
    slope = numbers[flat.at[CURVE_SLOPES] + k]
    return float(line(numbers[flat.at[CURVE_Y] + k], slope, x - numbers[points + k]))


@part
def curve_slope(flat: Flat, curve: int, x: float) -> float:
    points, begin = flat.at[CURVE_X], flat.at[CURVE_BEGIN] + curve
    first, last = points + flat.place[begin], points + flat.place[begin + 1] - 1
    outside = x < flat.number[first] or x >= flat.number[last]
    if outside and flat.place[flat.at[EXTEND] + curve] == 0:
        return 0.0
    return float(flat.number[flat.at[CURVE_SLOPES] + piece_at(flat, curve, x)])


@part
def curve_integral(flat: Flat, curve: int, x: float) -> float:
    numbers, points, begin = flat.number, flat.at[CURVE_X], flat.at[CURVE_BEGIN] + curve
    y, first, last = flat.at[CURVE_Y], flat.place[begin], flat.place[begin + 1] - 1
    inside = within(x, numbers[points + first], numbers[points + last])
    k = piece_at(flat, curve, inside)
    slope = numbers[flat.at[CURVE_SLOPES] + k]
    partial = line_area(numbers[y + k], slope, inside - numbers[points + k])
    ends = numbers[points + first], numbers[points + last]
    outside = outer_area(x, ends[0], ends[1], numbers[y + first], numbers[y + last])
    return float(numbers[flat.at[CURVE_AREAS] + k] + partial + outside)


@part
def set_drive(flat: Flat, time: float) -> None:
    """Values of all histories at a time in `DRIVE`, whose last one, the factor 1, stays."""
    if flat.histories == 0:
        return
    x, instants, drive = flat.number, flat.at[INSTANTS], flat.at[DRIVE]
    piece = interval(flat, instants, instants + size(flat, INSTANTS) - 1, time)
    share = share_between(time, x[piece], x[piece + 1])
    row = (piece - instants) * flat.histories
    start, stop = flat.at[START] + row, flat.at[STOP] + row
    for k in range(flat.histories):
        first = x[U(start + k)]
        x[U(drive + k)] = first + share * (x[U(stop + k)] - first)


@part
def set_mean_drive(flat: Flat) -> None:
    """Time means of all histories in `DRIVE`."""
    for k in range(flat.histories):
        flat.number[flat.at[DRIVE] + k] = flat.number[flat.at[MEANS] + k]


@part
def imposed(flat: Flat, k: int) -> float:
    """Temperature of boundary k by `DRIVE` [K]."""
    x, boundary = flat.number, flat.at[BOUNDARY] + 2 * k
    factor = x[flat.at[DRIVE] + flat.place[flat.at[BOUNDARY_HISTORY] + k]]
    return float(x[boundary] + x[boundary + 1] * factor)


@part
def impose(flat: Flat, temperature: int) -> None:
    """Set the boundary temperatures by `DRIVE`."""
    for k in range(flat.nodes - flat.free):
        flat.number[temperature + flat.free + k] = imposed(flat, k)


@part
def set_potentials(flat: Flat, group: int, temperature: int, sloped: bool) -> None:
    """Put the potential of one group of links at every node, and its slope where asked for."""
    n, curve = flat.nodes, flat.place[flat.at[GROUP_CURVE] + group]
    exponent = flat.number[flat.at[EXPONENT] + group]
    given = flat.number[temperature : temperature + n]
    potential, slope = flat.number[flat.at[POTENTIAL] :], flat.number[flat.at[SLOPE] :]
    if curve >= 0:
        for i in range(n):
            potential[i] = curve_integral(flat, curve, given[i])
            if sloped:
                slope[i] = curve_value(flat, curve, given[i])
    elif exponent == 1.0:
        for i in range(n):
            potential[i], slope[i] = given[i], 1.0
    elif exponent == 4.0:  # a constant, so that the compiler drops all other powers
        for i in range(n):
            potential[i], slope[i] = power(given[i], 4.0), power_slope(given[i], 4.0)
    else:
        for i in range(n):
            potential[i] = power(given[i], exponent)
            if sloped:
                slope[i] = power_slope(given[i], exponent)
