"""Points of a scan over beta, and what is weighed at each: every margin and every extreme."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from thermnet.account import account
from thermnet.errors import Problem
from thermnet.margins import Margin, gravity, margins
from thermnet.model.model import Model
from thermnet.model.usable import components
from thermnet.results import Result

SHARES = 25.0
"""K that the whole of a limit on a rate or a duty counts for where margins are weighed in K."""

EXTREMES = ("highest", "lowest")

Key = tuple[str, str, str]
"""What is weighed: a component, and two words that say what of it (see `Point`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One case solved at one angle `beta` [deg].

    `weights` say how grave a thing is, the least the gravest: of (component, "margin", side) the
    margin [K] of the gravest band of a side; of (component, quantity, band) another margin, in K,
    or as `SHARES` times its share of the limit; of (component, "extreme", "highest" or "lowest")
    the calculated temperature [K], the highest with its sign changed. `margins` has the margins
    themselves under the same keys. Nothing is weighed where there is no solution: then `failure`
    says why. `closes`: whether the energy account does. `moved` [deg] is how far aside the point
    was solved, because the attitude is not defined at the angle itself.
    """

    case: str
    beta: float
    weights: Mapping[Key, float]
    margins: Mapping[Key, Margin]
    moved: float = 0.0
    failure: str = ""
    closes: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class ScannedCase:
    """One case of a scan: `angles` of them from `low` to `high` [deg], and `why` these.

    `sun_distance` [au] is that of the case's environment, at every angle. `notes` are what the
    scan had to settle.
    """

    name: str
    low: float
    high: float
    why: str
    angles: int
    sun_distance: float
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Scan:
    """Cases solved over beta: `points` by case, and by rising angle within it.

    `model` is the one scanned, `step` [deg] that of the angles, `accuracy` [K] that of the solves,
    `problems` are warnings of the structural checks.
    """

    model: Model
    step: float
    accuracy: float
    cases: tuple[ScannedCase, ...]
    points: tuple[Point, ...]
    problems: tuple[Problem, ...] = ()


def point_of(result: Result, beta: float, only: Collection[str], moved: float = 0.0) -> Point:
    """A solved case as a point of a scan, of `only` these components."""
    if result.solution.failure:
        return Point(
            case=result.case, beta=beta, weights={}, margins={}, moved=moved,
            failure=result.solution.failure,
        )  # fmt: skip
    gravest: dict[Key, Margin] = {}
    for margin in margins(result):
        if margin.component in only and not margin.of_limit:
            # The gravest comes first.
            gravest.setdefault(_key(margin), margin)
    weights = {key: _weight(margin) for key, margin in gravest.items()} | _extremes(result, only)
    return Point(
        case=result.case,
        beta=beta,
        weights=weights,
        margins=gravest,
        moved=moved,
        closes=account(result.network, result.solution).closes,
    )


def graver(key: Key, point: Point, other: Point) -> bool:
    """Whether a thing that both points weigh is graver at the first, by more than rounding."""
    if key in point.margins:
        return gravity(point.margins[key]) < gravity(other.margins[key])
    return round(point.weights[key], 4) < round(other.weights[key], 4)


def temperature(key: Key, weight: float) -> float:
    """The temperature [K] of an extreme's weight."""
    return -weight if key[2] == "highest" else weight


def _key(margin: Margin) -> Key:
    if margin.quantity == "temperature":
        return margin.component, "margin", margin.side
    return margin.component, margin.quantity, margin.band


def _weight(margin: Margin) -> float:
    if margin.quantity in ("temperature", "difference"):
        return margin.margin
    return SHARES * margin.margin / margin.limit if margin.limit else math.inf


def _extremes(result: Result, only: Collection[str]) -> dict[Key, float]:
    found: dict[Key, float] = {}
    extremes = result.solution.extremes
    for name, component in components(result.model).items():
        if name in only:
            nodes = [result.network.index(node) for node in component.nodes]
            found[name, "extreme", "highest"] = -float(extremes.highest[:, nodes].max())
            found[name, "extreme", "lowest"] = float(extremes.lowest[:, nodes].min())
    return found
