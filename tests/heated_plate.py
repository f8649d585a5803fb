"""A node with a heater whose cycles are known, and the rows of its heater table.

The plate loses 0.5 W/K to a sink at -23.15 degC, has 2000 J/K and a heater of 30 W between 0 and 5
degC (check-values 10.07, derived: on for tau ln((310 - 273.15) / (310 - 278.15)) = 583.273 s and
off for tau ln(28.15 / 23.15) = 782.210 s, with tau = 4000 s and 310 K where the heater would lead;
duty 0.427155).
"""

from __future__ import annotations

import math

from tests.small_models import solved
from thermnet.heaters import HeaterRow, heater_table
from thermnet.results import Result
from thermnet.solve.solution import Options

T_ON, T_OFF = 4000.0 * math.log(36.85 / 31.85), 4000.0 * math.log(28.15 / 23.15)
DUTY = T_ON / (T_ON + T_OFF)

LINEAR = """
thermnet: 1
temperatures: degC
uncertainty: {policy: none}
nodes:
  plate: {capacity: 2000 J/K, initial: 0}
  tail: {capacity: 1000 J/K, initial: 0}
boundaries:
  sink: {temperature: 250 K}
links:
  plate: {from: plate, to: sink, conductance: 0.5 W/K}
  tail: {from: tail, to: sink, conductance: 1 W/K}
"""

OWN = "node: plate, power: 30 W, on_below: 0, off_above: 5"


def linear(
    heaters: str = f"own: {{{OWN}}}",
    case: str = "solve: steady",
    more: str = "",
    options: Options = Options(),
) -> Result:
    text = f"{LINEAR}heaters:\n  {heaters}\n{more}\ncases:\n  case: {{{case}}}\n"
    return solved(text, options=options)


def rows(result: Result) -> dict[str, HeaterRow]:
    return {row.name: row for row in heater_table(result)}


def cycles(count: int) -> str:
    """A transient of whole heater cycles, from the instant at which the heater comes on."""
    return f"solve: transient, duration: {count * (T_ON + T_OFF)!r} s, initial: given"
