"""Small models with solar cells and a battery, solved: what they give is known in advance."""

from __future__ import annotations

from typing import Any

from tests.small_models import solved
from thermnet.energy import Energy, energy
from thermnet.results import Result
from thermnet.solve.solution import Options

LIT, PERIOD = 3600.0, 5700.0
CAPACITY, INTO, OUT_OF = 150.0 * 3600.0, 0.95, 0.90
ABSORBED, ABSORPTANCE, EFFICIENCY, PACKING = 600.0, 0.9, 0.28, 0.9
GIVEN = ABSORBED / ABSORPTANCE * EFFICIENCY * PACKING
"""W that the cells give in sunlight: the light on the surface, times efficiency and packing."""
DEMAND = 80.0

# The wing loses 5 W/K to a sink, so that nothing here bends: means of an orbit are those of its
# steady state.
MODEL = f"""
thermnet: 1
temperatures: degC
modes: {{on: {{}}, sending: {{}}}}
nodes:
  wing: {{capacity: 5000 J/K, initial: 20}}
  box: {{capacity: 20000 J/K, initial: 20}}
boundaries:
  sink: {{temperature: -50}}
links:
  wing: {{from: wing, to: sink, conductance: 5 W/K}}
  box: {{from: box, to: sink, conductance: 2 W/K}}
surfaces:
  wing:
    node: wing
    area: 0.5 m2
    absorptance: {ABSORPTANCE}
    emittance: 0.0001
    to: sink
    absorbed: {{solar: {{heat: {ABSORBED} W, schedule: sun}}}}
    cells: {{efficiency: {EFFICIENCY}, packing: {PACKING}}}
units:
  bus: {{node: box, heat: {{on: {DEMAND} W, sending: {DEMAND} W}}, sent: {{sending: 10 W}}}}
batteries:
  pack:
    node: box
    capacity: 150 Wh
    charge_efficiency: {INTO}
    discharge_efficiency: {OUT_OF}
    cells: [wing]
schedules:
  sun: {{time: [0 s, {LIT} s], value: [1, 0], shape: steps, period: {PERIOD} s}}
cases:
  orbit: {{solve: repeating, period: {PERIOD} s, mode: on, sunlit: sun}}
  sending: {{extends: orbit, mode: sending}}
  mean: {{solve: steady, mode: on, sunlit: sun}}
  day: {{solve: transient, duration: 3 h, initial: given, mode: on, sunlit: sun}}
"""

FINE = Options(accuracy=0.001)


def result_of(case: str, changes: dict[str, Any] | None = None, text: str = MODEL) -> Result:
    return solved(text, case, changes=changes, options=FINE)


def energy_of(result: Result) -> Energy:
    found = energy(result)
    assert found is not None
    return found


PLATE = f"""
thermnet: 1
temperatures: degC
nodes: {{plate: {{capacity: 1000 J/K}}}}
boundaries: {{space: {{temperature: 0 K}}}}
surfaces:
  front:
    node: plate
    area: 1 m2
    absorptance: {ABSORPTANCE}
    emittance: 0.85
    absorbed: {{solar: {{heat: {ABSORPTANCE * 1361.0} W}}}}
    cells: {{efficiency: {EFFICIENCY}, efficiency_slope: -0.0006 1/K, packing: {PACKING}}}
schedules:
  half: {{time: [0 s], value: [0.5]}}
cases: {{case: {{solve: steady}}}}
"""
