"""A tank in its blanket, whose keys the tests give, and the heat through each of its terms."""

from __future__ import annotations

from typing import Any

import numpy as np

from thermnet.model.assemble import assemble
from thermnet.model.model import Model
from thermnet.model.read import parse
from thermnet.network.network import Network, flows

MODEL = """\
thermnet: 1
temperatures: degC
nodes:
  tank: {capacity: 900 J/K, initial: 20}
  frame: {capacity: 400 J/K, initial: 20}
  face: {massless: true}
boundaries:
  space: {temperature: 2.7 K}
OWN
blankets:
  tank: {from: tank, to: face, area: 1.5 m2, BODY}
surfaces:
  face: {node: face, area: 1.5 m2, emittance: 0.8}
links:
  bolts: {from: frame, to: tank, conductance: 0.5 W/K}
loads:
  frame: {node: frame, heat: HEAT W}
cases:
  case: {solve: steady, blankets: BOUND, atmosphere: AROUND}
"""

IDEAL = "layers: {count: 10, emittance: 0.03}"
NET = "layers: {count: 20, separator: silk net, density: 2000 1/m}"
FOLDED = (
    "layers: {count: 20, separator: silk net, density: 2000 1/m, "
    "compressed: {folds: {share: 0.1, density: 4000 1/m}}}"
)
SPOILT = (
    "seams: {rim: {length: 3 m, conductance: 2 mW/m/K}}, "
    "fixings: {pins: {count: 8, conductance: 0.1 mW/K}}, openings: {vent: {share: 0.002}}"
)


def model(
    body: str,
    bound: str = "nominal",
    *,
    separators: str = "",
    watts: float = 20.0,
    pressure: str = "",
) -> Model:
    """The model with these keys of the blanket, in a vacuum unless a pressure is given."""
    own = f"separators: {{{separators}}}\n" if separators else ""
    own += f"atmospheres: {{air: {{gas: nitrogen, pressure: {pressure}}}}}" if pressure else ""
    text = MODEL.replace("BODY", body).replace("OWN", own).replace("HEAT", str(watts))
    text = text.replace("BOUND", bound).replace("AROUND", "air" if pressure else "none")
    return parse({"model.yaml": text}, "model.yaml")


def network(body: str, bound: str = "nominal", **more: Any) -> Network:
    """The network of the only case."""
    return assemble(model(body, bound, **more), "case")


def through(assembled: Network, tank: float = 300.0, face: float = 200.0) -> dict[str, float]:
    """Heat [W] through each term of the blanket, whose path begins at `blankets.tank`."""
    values = {"tank": tank, "face": face, "space": 2.7}
    at = np.array([values.get(name, 290.0) for name in assembled.names])
    found: dict[str, float] = {}
    for origin, flow in zip(assembled.links.origin, flows(assembled, at, 0.0), strict=True):
        path = assembled.origins[origin]
        if path.startswith("blankets."):
            key = path.removeprefix("blankets.tank").removeprefix(".")
            found[key] = found.get(key, 0.0) + float(flow)
    return found
