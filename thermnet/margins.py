"""Bands against temperatures (types first; the judgement follows)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Side = Literal["hot", "cold"]
Verdict = Literal["outside band", "allowance not covered", "holds", "not solved"]
Quantity = Literal["temperature", "difference", "rate", "duty"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """One side of one limit of one component in one case.

    `band` names the limit: "operating", "non-operating", "switch-on", a state's or window's name,
    or for other quantities what is limited. `calculated` is what the solver gave, `predicted`
    includes the uncertainty allowance; both, `limit` and `margin` in K for a temperature, K for a
    difference, K/s for a rate and 1 for a duty. `margin` is limit against predicted, positive
    inside; `clearance` is limit against calculated. `held_by` names the heater that holds this
    side and `duty` its duty (allowed up to `allowed_duty`); then the allowance is zero.
    """

    component: str
    group: str
    band: str
    quantity: Quantity
    side: Side
    case: str
    node: str
    instant: float
    calculated: float
    allowance: float
    predicted: float
    limit: float
    margin: float
    clearance: float
    verdict: Verdict
    level: str = "design"
    held_by: str = ""
    duty: float = 0.0
    allowed_duty: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseRange:
    """Calculated range [K] of a component in one case; `kind` is the case's: hot, cold, ..."""

    case: str
    kind: str
    lowest: float
    highest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """All that one row of the margin table or plot shows of a component.

    `bands` maps band names to (low, high) [K]. `hot` and `cold` are the governing temperature
    margins of each side over all cases, None where no band is judged. `others` are the governing
    limits on differences, rates and duties.
    """

    component: str
    group: str
    level: str
    bands: dict[str, tuple[float, float]]
    ranges: tuple[CaseRange, ...]
    hot: Margin | None
    cold: Margin | None
    others: tuple[Margin, ...] = ()
