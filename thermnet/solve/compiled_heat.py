"""The heat balance and its slopes, gathered from links and scattered to nodes.

A property test holds the sums equal to `network.heat` and `network.jacobian`. `ruled` says that
thermostats follow the proportional law; else they have the states in `STATE`. Temperatures and
heats are places in `Flat.number`.
"""

from __future__ import annotations

from thermnet.physics.curves import within
from thermnet.physics.potentials import duty_share, duty_slope
from thermnet.solve.compiled_algebra import (
    FAILED,
    PIVOTED,
    PLAIN,
    eliminated,
    pivoted,
    substituted,
    unpivoted,
)
from thermnet.solve.compiled_curves import curve_slope, curve_value, set_potentials
from thermnet.solve.compiled_jit import part
from thermnet.solve.compiled_slots import (
    AMPLITUDE,
    CAPACITY,
    CONSTANT_HEAT,
    CONTENT,
    CONTENT_CURVE,
    COUNT,
    CURVE_BEGIN,
    CURVE_SLOPES,
    DRIVE,
    ENABLED,
    EVALUATIONS,
    FACTORIZATIONS,
    FLOW_A,
    FLOW_B,
    FLOW_HISTORY,
    FULL,
    GROUP_BEGIN,
    GROUP_DRIVEN,
    HEAT_CURVE,
    HEAT_HISTORY,
    HEAT_NODE,
    HEAT_SENSOR,
    HEATER_NODE,
    HEATER_SENSOR,
    LINK_A,
    LINK_B,
    LINK_CURVE,
    LINK_HISTORY,
    LINK_SENSOR,
    MATRIX,
    OFF,
    ON,
    PATTERN_BEGIN,
    PATTERN_ROW,
    PIECES,
    POTENTIAL,
    POWER,
    RATE,
    SLOPE,
    STATE,
    STRENGTH,
    Flat,
    U,
    copy_nodes,
    size,
)

part(duty_share)
part(duty_slope)


@part
def set_given(flat: Flat, ruled: bool, heat: int) -> None:
    """Heat that no temperature changes, heaters with a known state among it."""
    x, p, at = flat.number, flat.place, flat.at
    copy_nodes(flat, heat, at[CONSTANT_HEAT])
    for k in range(flat.varied):
        x[U(heat + p[U(at[HEAT_NODE] + k)])] += given_heat(flat, k)
    if not ruled:
        for k in range(size(flat, STATE)):
            x[heat + p[at[HEATER_NODE] + k]] += heater_power(flat, k) * x[at[STATE] + k]


@part
def given_heat(flat: Flat, k: int) -> float:
    """Heat k by its history [W]."""
    x, at = flat.number, flat.at
    return float(x[U(at[AMPLITUDE] + k)] * x[U(at[DRIVE] + flat.place[U(at[HEAT_HISTORY] + k)])])


@part
def heater_power(flat: Flat, k: int) -> float:
    """Power of heater k where it is enabled [W]."""
    x, at = flat.number, flat.at
    return float(x[at[POWER] + k] * x[at[DRIVE] + flat.place[at[ENABLED] + k]])


@part
def link_factor(flat: Flat, k: int, temperature: int) -> float:
    """Strength of a driven link by its history and its curve."""
    x, p, at = flat.number, flat.place, flat.at
    factor = x[at[STRENGTH] + k] * x[at[DRIVE] + p[at[LINK_HISTORY] + k]]
    curve = p[at[LINK_CURVE] + k]
    if curve >= 0:
        factor *= curve_value(flat, curve, x[temperature + p[at[LINK_SENSOR] + k]])
    return float(factor)


@part
def set_heat(flat: Flat, ruled: bool, temperature: int, heat: int) -> None:
    """Net heat into every node [W]; what boundaries receive counts for nothing."""
    x, p, at = flat.number, flat.place, flat.at
    p[at[COUNT] + EVALUATIONS] += 1
    set_given(flat, ruled, heat)
    link_a, link_b, strength, potential = at[LINK_A], at[LINK_B], at[STRENGTH], at[POTENTIAL]
    for group in range(size(flat, GROUP_DRIVEN)):
        set_potentials(flat, group, temperature, False)
        driven = p[at[GROUP_DRIVEN] + group]
        for k in range(p[at[GROUP_BEGIN] + group], p[at[GROUP_BEGIN] + group + 1]):
            a, b, factor = p[U(link_a + k)], p[U(link_b + k)], x[U(strength + k)]
            if k >= driven:
                factor = link_factor(flat, k, temperature)
            flow = factor * (x[U(potential + a)] - x[U(potential + b)])
            x[U(heat + a)] -= flow
            x[U(heat + b)] += flow
    _add_driven_heat(flat, ruled, temperature, heat)


@part
def _add_driven_heat(flat: Flat, ruled: bool, temperature: int, heat: int) -> None:
    """Flow links, heats with a curve, and thermostats that act in proportion."""
    x, p, at = flat.number, flat.place, flat.at
    for k in range(size(flat, RATE)):
        a, rate = p[at[FLOW_A] + k], x[at[RATE] + k] * x[at[DRIVE] + p[at[FLOW_HISTORY] + k]]
        flow = rate * x[temperature + a]
        x[heat + a] -= flow
        x[heat + p[at[FLOW_B] + k]] += flow
    for k in range(flat.varied, size(flat, AMPLITUDE)):
        sensed = x[temperature + p[at[HEAT_SENSOR] + k]]
        bent = curve_value(flat, p[at[HEAT_CURVE] + k], sensed)
        x[heat + p[at[HEAT_NODE] + k]] += given_heat(flat, k) * bent
    if ruled:
        for k in range(size(flat, POWER)):
            sensed = x[temperature + p[at[HEATER_SENSOR] + k]]
            duty = within(duty_share(sensed, x[at[ON] + k], x[at[OFF] + k]), 0.0, 1.0)
            x[heat + p[at[HEATER_NODE] + k]] += heater_power(flat, k) * duty


@part
def set_slopes(flat: Flat, ruled: bool, temperature: int, inertia: float) -> None:
    """Put `inertia` times capacity less the slopes of the heat [W/K] into `MATRIX`."""
    x, p, at, n = flat.number, flat.place, flat.at, flat.nodes
    matrix, slope = at[MATRIX], at[SLOPE]
    link_a, link_b, strength = at[LINK_A], at[LINK_B], at[STRENGTH]
    _clear(flat)
    for i in range(flat.free):
        x[matrix + i * n + i] = inertia * x[at[CAPACITY] + i]
    for group in range(size(flat, GROUP_DRIVEN)):
        set_potentials(flat, group, temperature, True)
        driven = p[at[GROUP_DRIVEN] + group]
        for k in range(p[at[GROUP_BEGIN] + group], p[at[GROUP_BEGIN] + group + 1]):
            a, b, factor = p[U(link_a + k)], p[U(link_b + k)], x[U(strength + k)]
            if k >= driven:
                factor = link_factor(flat, k, temperature)
                _add_link_curve(flat, k, temperature)
            by_a, by_b = factor * x[U(slope + a)], factor * x[U(slope + b)]
            x[U(matrix + a * n + a)] += by_a
            x[U(matrix + b * n + a)] -= by_a
            x[U(matrix + b * n + b)] += by_b
            x[U(matrix + a * n + b)] -= by_b
    _add_driven_slopes(flat, ruled, temperature)


@part
def _clear(flat: Flat) -> None:
    """Empty the matrix, or of a sparse one the pattern (the diagonal is written next)."""
    x, p, at, n, matrix = flat.number, flat.place, flat.at, flat.nodes, flat.at[MATRIX]
    if p[at[COUNT] + FULL] == 1:
        for k in range(n * n):
            x[matrix + k] = 0.0
        p[at[COUNT] + FULL] = 0
        return
    row = at[PATTERN_ROW]
    for k in range(flat.free):
        for e in range(row + p[at[PATTERN_BEGIN] + k], row + p[at[PATTERN_BEGIN] + k + 1]):
            x[U(matrix + p[U(e)] * n + k)] = 0.0
            x[U(matrix + k * n + p[U(e)])] = 0.0


@part
def _add_link_curve(flat: Flat, k: int, temperature: int) -> None:
    """The slope of a link's heat by the temperature of its sensor."""
    x, p, at = flat.number, flat.place, flat.at
    curve, sensor = p[at[LINK_CURVE] + k], p[at[LINK_SENSOR] + k]
    if curve < 0:
        return
    a, b = p[at[LINK_A] + k], p[at[LINK_B] + k]
    slope = curve_slope(flat, curve, x[temperature + sensor]) * x[at[STRENGTH] + k]
    slope *= x[at[DRIVE] + p[at[LINK_HISTORY] + k]]
    slope *= x[at[POTENTIAL] + a] - x[at[POTENTIAL] + b]
    _add_slope(flat, a, sensor, -slope)
    _add_slope(flat, b, sensor, slope)


@part
def _add_slope(flat: Flat, node: int, by: int, slope: float) -> None:
    """The heat into a node rises with another's temperature."""
    flat.number[flat.at[MATRIX] + node * flat.nodes + by] -= slope


@part
def _add_driven_slopes(flat: Flat, ruled: bool, temperature: int) -> None:
    """Slopes of flow links, heats with a curve, and thermostats that act in proportion."""
    x, p, at = flat.number, flat.place, flat.at
    for k in range(size(flat, RATE)):
        a, rate = p[at[FLOW_A] + k], x[at[RATE] + k] * x[at[DRIVE] + p[at[FLOW_HISTORY] + k]]
        _add_slope(flat, a, a, -rate)
        _add_slope(flat, p[at[FLOW_B] + k], a, rate)
    for k in range(flat.varied, size(flat, AMPLITUDE)):
        sensor = p[at[HEAT_SENSOR] + k]
        slope = curve_slope(flat, p[at[HEAT_CURVE] + k], x[temperature + sensor])
        _add_slope(flat, p[at[HEAT_NODE] + k], sensor, given_heat(flat, k) * slope)
    if ruled:
        for k in range(size(flat, POWER)):
            sensor, on, off = p[at[HEATER_SENSOR] + k], x[at[ON] + k], x[at[OFF] + k]
            if 0.0 < duty_share(x[temperature + sensor], on, off) < 1.0:
                slope = heater_power(flat, k) * duty_slope(on, off)
                _add_slope(flat, p[at[HEATER_NODE] + k], sensor, slope)


@part
def set_pieces(flat: Flat) -> None:
    """Heat capacity by the piece of every heat-content curve."""
    x, p, at = flat.number, flat.place, flat.at
    for k in range(size(flat, CONTENT)):
        point = p[at[CURVE_BEGIN] + p[at[CONTENT_CURVE] + k]] + p[at[PIECES] + k]
        x[at[CAPACITY] + p[at[CONTENT] + k]] = x[at[CURVE_SLOPES] + point]


@part
def factored(
    flat: Flat, ruled: bool, temperature: int, inertia: float, count: int, brake: float
) -> int:
    """Factor the leading `count` rows of the slopes; FAILED if they are singular.

    `brake` enlarges every diagonal by a share.
    """
    flat.place[flat.at[COUNT] + FACTORIZATIONS] += 1
    _set_braked(flat, ruled, temperature, inertia, count, brake)
    if eliminated(flat, count):
        return PLAIN
    _set_braked(flat, ruled, temperature, inertia, count, brake)
    flat.place[flat.at[COUNT] + FULL] = 1
    return PIVOTED if pivoted(flat, count) else FAILED


@part
def _set_braked(
    flat: Flat, ruled: bool, temperature: int, inertia: float, count: int, brake: float
) -> None:
    set_slopes(flat, ruled, temperature, inertia)
    if brake > 0.0:
        for i in range(count):
            place = flat.at[MATRIX] + i * flat.nodes + i
            flat.number[place] += brake * max(abs(flat.number[place]), 1e-12)


@part
def solved(flat: Flat, how: int, count: int, right: int) -> None:
    """Solve with what `factored` left, in place."""
    if how == PLAIN:
        substituted(flat, count, right)
    else:
        unpivoted(flat, count, right)
