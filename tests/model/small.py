"""A small sound model for the tests of this folder, and how they read and take it apart."""

from __future__ import annotations

from thermnet.model.assemble import assemble
from thermnet.model.model import Model
from thermnet.model.read import parse
from thermnet.network.network import Network

SMALL = """\
thermnet: 1
name: small
temperatures: degC
nodes:
  box: {capacity: 900 J/K, initial: 20}
  plate: {capacity: 450 J/K, initial: 20}
  face: {massless: true}
boundaries:
  space: {temperature: 2.7 K}
  wall: {temperature: 10, swing: 4 K, schedule: half}
links:
  bolts: {from: box, to: plate, conductance: 2 W/K}
radiation:
  inside: {from: box, to: wall, area: 0.02 m2}
blankets:
  box: {from: box, to: face, area: 1.5 m2, effective_emittance: 0.02, low: 0.01, high: 0.04}
surfaces:
  face: {node: face, area: 1.5 m2, emittance: 0.8}
  plate:
    node: plate
    area: 0.1 m2
    emittance: 0.8
    view: 0.5
    absorbed:
      solar: {heat: 40 W, schedule: half}
      albedo: {heat: 6 W, schedule: ramp}
      planet_infrared: {heat: 8 W}
loads:
  box: {node: box, heat: 12 W}
  radio: {node: box, heat: 10 W, schedule: pass}
  cooler: {node: plate, heat: -1 W}
schedules:
  half: {time: [0 s, 50 s], value: [1, 0], shape: steps, period: 100 s}
  ramp: {time: [0 s, 100 s], value: [0, 1], period: 100 s}
  pass: {time: [0 s, 10 s, 20 s], value: [0, 1, 0], shape: steps, period: 100 s}
  jump: {time: [0 s, 40 s, 40 s, 100 s], value: [0, 1, 3, 3]}
heaters:
  box: {node: box, power: 8 W, on_below: 10, off_above: 13}
  plate: {node: plate, sensor: box, power: 5 W, on_below: -5, off_above: -2, enabled: half}
components:
  box: {at: box, operating: [-10, 40], on: pass}
  plate: {at: [plate, face], operating: [-100, 50]}
cases:
  mean: {solve: steady, bus_voltage: 35 V, set: {heaters.box.rated_voltage: 28 V}}
  orbit: {solve: repeating, period: 200 s}
  cooling: {solve: transient, duration: 250 s}
"""


def read(text: str = SMALL) -> Model:
    """The model of a text, as if in a file small.yaml."""
    return parse({"small.yaml": text}, "small.yaml")


def with_case(body: str, text: str = SMALL) -> Model:
    """The small model with one more case, whose keys are `body` on one line."""
    return read(f"{text}  more: {{{body}}}\n")


def network(case: str, text: str = SMALL) -> Network:
    """The network of a case."""
    return assemble(read(text), case)
