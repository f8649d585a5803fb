"""What networks are built from: one part for each primitive, or one for many alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from thermnet.network.primitives import Floats, Indices, Potential
from thermnet.physics.curves import Curve

CONDUCTION = Potential(exponent=1.0)
RADIATION = Potential(exponent=4.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class History:
    """A piecewise linear function of time, or many with the same instants.

    `time` f8[k] [s], not decreasing, no instant more than twice; a repeated instant is a jump.
    `value` f8[k], or f8[k, m] for m functions, as only the parts of many take them.
    """

    time: Floats
    value: Floats

    def __post_init__(self) -> None:
        for name in ("time", "value"):
            values = np.array(getattr(self, name), dtype=np.float64)
            values.flags.writeable = False
            object.__setattr__(self, name, values)
        fits = self.time.shape == self.value.shape[:1] and self.value.ndim in (1, 2)
        if not fits or len(self.time) < 1:
            raise ValueError("a history needs as many values as instants, at least one")
        if not (np.isfinite(self.time).all() and np.isfinite(self.value).all()):
            raise ValueError("a history needs finite numbers")
        if (np.diff(self.time) < 0.0).any() or (self.time[2:] == self.time[:-2]).any():
            raise ValueError("instants of a history must not decrease, nor come three times")


@dataclass(frozen=True, slots=True, kw_only=True)
class NodePart:
    """A node: with heat `capacity` [J/K], or heat `content` [J over K], or neither (massless)."""

    name: str
    capacity: float = 0.0
    content: Curve | None = None
    origin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundaryPart:
    """A node of imposed temperature [K]: `temperature + swing * history`."""

    name: str
    temperature: float
    swing: float = 0.0
    history: History | None = None
    origin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkPart:
    """`strength * history(t) * curve(T of sensor) * [Phi(T_a) - Phi(T_b)]` from a to b [W]."""

    a: str
    b: str
    strength: float
    potential: Potential = CONDUCTION
    history: History | None = None
    curve: Curve | None = None
    sensor: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowLinkPart:
    """A fluid of capacity `rate` [W/K] that carries heat from a into b."""

    a: str
    b: str
    rate: float
    history: History | None = None
    origin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatPart:
    """`amplitude * history(t) * curve(T of sensor)` [W] on a node."""

    node: str
    amplitude: float
    history: History | None = None
    curve: Curve | None = None
    sensor: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ThermostatPart:
    """A heater of `power` [W] on a node, on at or below `on`, off at or above `off` [K]."""

    node: str
    sensor: str
    power: float
    on: float
    off: float
    enabled: History | None = None
    origin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NodesPart:
    """Many nodes of heat `capacity` f8[k] [J/K], zero for a massless one; all of one origin."""

    names: Sequence[str]
    capacity: Floats
    origin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LinksPart:
    """Many links of `strength` f8[k] and one potential; `a` and `b` i4[k] are places in `nodes`.

    All follow one history, or each its own of k. All are of one origin, so that a million links
    need no million strings.
    """

    nodes: Sequence[str]
    a: Indices
    b: Indices
    strength: Floats
    potential: Potential = CONDUCTION
    history: History | None = None
    origin: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeatsPart:
    """Many heats of `amplitude` f8[k] [W]; `node` i4[k] are places in `nodes`.

    All follow one history, or each its own of k.
    """

    nodes: Sequence[str]
    node: Indices
    amplitude: Floats
    history: History | None = None
    origin: str = ""


Part = (
    NodePart
    | BoundaryPart
    | LinkPart
    | FlowLinkPart
    | HeatPart
    | ThermostatPart
    | NodesPart
    | LinksPart
    | HeatsPart
)
