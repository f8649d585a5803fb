"""A small spacecraft that is operated: modes, units, a timeline; and how tests change it."""

from __future__ import annotations

from thermnet.model.model import Model
from thermnet.model.read import parse

OPERATED = """\
thermnet: 1
name: operated
temperatures: degC
bus_voltage: {low: 24 V, nominal: 28 V, high: 32 V}
nodes:
  box: {capacity: 1000 J/K, initial: 20}
  plate: {capacity: 500 J/K, initial: 20}
boundaries:
  wall: {temperature: 250 K}
  space: {temperature: 2.7 K}
links:
  feet: {from: box, to: wall, conductance: 2 W/K}
  bolts: {from: plate, to: wall, conductance: 1 W/K}
orbits:
  low: {altitude: 500 km, inclination: 97.4 deg, beta: 20 deg}
  always lit: {altitude: 500 km, inclination: 97.4 deg, beta: 85 deg}
pointings:
  nadir: {axis: +z, to: nadir, second_axis: +x, second_to: velocity}
  sun: {axis: +z, to: sun, second_axis: +x, second_to: velocity}
surfaces:
  plate: {node: plate, area: 0.2 m2, emittance: 0.8, absorptance: 0.3, normal: +z}
modes:
  idle: {budget: 10 W}
  imaging: {budget: 21 W}
units:
  computer: {node: box, heat: {idle: 5 W, imaging: 7 W}}
  camera: {shares: {box: 0.75, plate: 0.25}, heat: {imaging: 12 W}, sent: {imaging: 2 W}}
timelines:
  day:
    repeats: orbit
    steps:
      imaging: {mode: imaging, at: shadow exit, offset: 100 s, duration: 600 s}
      idle: {mode: idle}
components:
  camera: {at: box, operating: [-10, 40], non_operating: [-40, 50], unit: camera}
cases:
  day: {solve: repeating, orbit: low, pointing: nadir, environment: hot, timeline: day}
"""


def read(text: str = OPERATED) -> Model:
    """The model of a text, as if in a file operated.yaml."""
    return parse({"operated.yaml": text}, "operated.yaml")


def changed(*changes: tuple[str, str]) -> Model:
    """The model with some of its text replaced, each piece of which stands there once."""
    text = OPERATED
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return read(text)
