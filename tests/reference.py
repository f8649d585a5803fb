"""The heat balance once more, from the parts and in the plainest words, to check the arrays by.

Nothing of `thermnet.network.network` is used. Scalars may be complex: a curve's piece is chosen
by the real part, so that a complex step gives exact derivatives.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from thermnet.network.parts import (
    BoundaryPart,
    FlowLinkPart,
    HeatPart,
    History,
    LinkPart,
    NodePart,
    Part,
    ThermostatPart,
)
from thermnet.network.primitives import Potential
from thermnet.physics.curves import Curve

Temperatures = Mapping[str, complex]


def along(points: Sequence[tuple[float, float]], x: complex, *, extend: bool = False) -> complex:
    """Straight lines through points, the later of two at one place; ends held or extended."""
    if not extend and x.real < points[0][0]:
        return points[0][1]
    if not extend and x.real >= points[-1][0]:
        return points[-1][1]
    pieces = [
        (left, right)
        for left, right in zip(points[:-1], points[1:], strict=True)
        if left[0] < right[0]
    ]
    begun = [piece for piece in pieces if piece[0][0] <= x.real]
    (x0, y0), (x1, y1) = begun[-1] if begun else pieces[0]
    return y0 + (y1 - y0) / (x1 - x0) * (x - x0)


def curve_value(curve: Curve, x: complex) -> complex:
    return along([*zip(curve.x, curve.y, strict=True)], x, extend=curve.extend)


def curve_integral(curve: Curve, x: complex) -> complex:
    """From 0 to x, piece by piece with the mean of both ends."""
    corners = [0.0, *(float(corner) for corner in curve.x if 0.0 < corner < x.real), x]
    return sum(
        (curve_value(curve, left) + curve_value(curve, right)) / 2.0 * (right - left)
        for left, right in zip(corners[:-1], corners[1:], strict=True)
    )


def history_value(history: History | None, time: float) -> float:
    if history is None:
        return 1.0
    return along([*zip(history.time, history.value, strict=True)], time).real


def potential(law: Potential, temperature: complex) -> complex:
    if law.curve is not None:
        return curve_integral(law.curve, temperature)
    return temperature**law.exponent


def factor(part: LinkPart | HeatPart, temperature: Temperatures, time: float) -> complex:
    value: complex = history_value(part.history, time)
    if part.curve is not None:
        value *= curve_value(part.curve, temperature[part.sensor])
    return value


def link_flow(part: LinkPart, temperature: Temperatures, time: float) -> complex:
    drive = potential(part.potential, temperature[part.a])
    drive -= potential(part.potential, temperature[part.b])
    return part.strength * factor(part, temperature, time) * drive


def duty(part: ThermostatPart, temperature: Temperatures) -> complex:
    """By the proportional law."""
    share = (part.off - temperature[part.sensor]) / (part.off - part.on)
    return 0.0 if share.real <= 0.0 else 1.0 if share.real >= 1.0 else share


def heat(parts: Sequence[Part], temperature: Temperatures, time: float) -> dict[str, complex]:
    """Net heat into every node [W], thermostats by the proportional law."""
    net: dict[str, complex] = dict.fromkeys(temperature, 0.0)
    for part in parts:
        if isinstance(part, LinkPart | FlowLinkPart):
            if isinstance(part, LinkPart):
                flow = link_flow(part, temperature, time)
            else:
                flow = part.rate * history_value(part.history, time) * temperature[part.a]
            net[part.a] -= flow
            net[part.b] += flow
        elif isinstance(part, HeatPart):
            net[part.node] += part.amplitude * factor(part, temperature, time)
        elif isinstance(part, ThermostatPart):
            power = part.power * history_value(part.enabled, time)
            net[part.node] += power * duty(part, temperature)
    return net


def imposed(parts: Sequence[Part], time: float) -> dict[str, float]:
    """Temperatures [K] of the boundary nodes."""
    return {
        part.name: part.temperature
        + part.swing * (history_value(part.history, time) if part.history else 1.0)
        for part in parts
        if isinstance(part, BoundaryPart)
    }


def capacity(node: NodePart, temperature: float) -> float:
    """J/K, zero for a massless node."""
    if node.content is None:
        return node.capacity
    step = 1e-100
    return curve_value(node.content, temperature + step * 1j).imag / step


def instants(parts: Sequence[Part], span: float) -> list[float]:
    """Every instant of every history within the span [s], its ends included."""
    times = {0.0, span}
    for part in parts:
        history = getattr(part, "history", None) or getattr(part, "enabled", None)
        times |= {float(t) for t in history.time} if history is not None else set()
    return sorted(t for t in times if 0.0 <= t <= span)
