"""Tiny models written as text, solved: their temperatures are known in advance.

`plate` loses 1 W/K to a sink at 0 degC, so that in a steady state it stands at as many degrees as
it has watts. `unit` has no mass and hangs on the imposed node `wall` alone: it follows the wall's
temperature exactly, also at jumps.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from thermnet.account import account
from thermnet.margins import Margin, margins
from thermnet.model.model import Model
from thermnet.model.paths import vary
from thermnet.model.read import parse
from thermnet.physics.constants import ZERO_CELSIUS
from thermnet.results import Result, solve
from thermnet.solve.solution import Options

STEADY = """
thermnet: 1
temperatures: degC
uncertainty: {policy: flat, allowance: 5 K}
nodes:
  plate: {capacity: 1000 J/K, initial: 0}
  mirror: {capacity: 1000 J/K, initial: 0}
boundaries:
  sink: {temperature: 0}
links:
  plate to sink: {from: plate, to: sink, conductance: 1 W/K}
  mirror to sink: {from: mirror, to: sink, conductance: 1 W/K}
loads:
  plate: {node: plate, heat: 20 W}
  mirror: {node: mirror, heat: 12 W}
cases:
  case: {solve: steady}
"""

FOLLOWING = """
thermnet: 1
temperatures: degC
uncertainty: {policy: none}
nodes:
  unit: {massless: true}
  ballast: {capacity: 1000 J/K, initial: 0}
boundaries:
  wall: {temperature: 0, swing: 1 K, schedule: wall}
links:
  unit to wall: {from: unit, to: wall, conductance: 1 W/K}
  ballast to wall: {from: ballast, to: wall, conductance: 0.01 W/K}
cases:
  case: {solve: transient, duration: 1000 s, initial: given}
"""


def model_of(text: str) -> Model:
    return parse({"model.yaml": text}, "model.yaml")


def solved(
    text: str,
    case: str = "case",
    *,
    changes: Mapping[str, Any] | None = None,
    options: Options = Options(),
) -> Result:
    """A case of a model, after it was seen that it is solved and that its account closes."""
    model = model_of(text)
    result = solve(vary(model, changes) if changes else model, case, options)
    assert result.solution.failure == ""
    assert account(result.network, result.solution).closes
    return result


def pick(found: Result | tuple[Margin, ...], band: str, side: str, component: str = "") -> Margin:
    """The one margin of a band and a side."""
    every = margins(found) if isinstance(found, Result) else found
    (chosen,) = [
        margin
        for margin in every
        if (margin.band, margin.side) == (band, side) and component in ("", margin.component)
    ]
    return chosen


def celsius(kelvin: float) -> float:
    return kelvin - ZERO_CELSIUS
