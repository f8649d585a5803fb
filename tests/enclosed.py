"""Enclosures for tests: circuits of resistances solved here, and what models make of faces."""

from __future__ import annotations

import numpy as np

from tests.small_models import model_of
from thermnet.model.assemble import assemble
from thermnet.model.model import Model
from thermnet.network.parts import RADIATION
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.physics.curves import Floats


def by_resistances(area: Floats, direct: Floats, emittance: Floats, emission: Floats) -> Floats:
    """Net heat f8[n] [W] that leaves each gray face, by the circuit of its radiosities.

    Each face is a source of sigma T^4 behind (1 - e) / (e A), the radiosities are joined by 1 / S.
    Black faces have no resistance, re-radiating ones no source.
    """
    flows = direct * (radiosities(area, direct, emittance, emission)[:, None])
    return np.asarray((flows - flows.T).sum(axis=1))


def radiosities(area: Floats, direct: Floats, emittance: Floats, emission: Floats) -> Floats:
    """Radiosity f8[n] [W/m2] of each face, by the same circuit."""
    size = len(area)
    black, adiabatic = emittance == 1.0, emittance == 0.0
    system = np.diag(direct.sum(axis=1)) - direct
    wanted = np.zeros(size)
    gray = ~black & ~adiabatic
    behind = emittance[gray] * area[gray] / (1.0 - emittance[gray])
    system[gray, gray] += behind
    wanted[gray] = behind * emission[gray]
    system[black] = np.eye(size)[black]
    wanted[black] = emission[black]
    return np.asarray(np.linalg.solve(system, wanted))


def closed_enclosure(size: int, seed: int) -> tuple[Floats, Floats]:
    """Areas [m2] and direct areas of some closed enclosure: any positive symmetric matrix is one,
    with its row sums as areas.
    """
    dice = np.random.default_rng(seed)
    direct = dice.exponential(size=(size, size)) * (dice.random((size, size)) < 0.7)
    direct += 0.01 * np.roll(np.eye(size), 1, axis=1)
    direct = direct + direct.T
    return direct.sum(axis=1), direct


def couplings(model: Model, case: str = "case") -> dict[tuple[str, str], float]:
    """Exchange area [m2] between each two nodes that radiate to each other."""
    network = assemble(model, case)
    links = network.links
    found: dict[tuple[str, str], float] = {}
    for potential, start, end in zip(
        links.potentials, links.groups[:-1], links.groups[1:], strict=True
    ):
        if potential != RADIATION:
            continue
        for k in range(start, end):
            a, b = sorted((network.names[links.a[k]], network.names[links.b[k]]))
            area = float(links.strength[k]) / STEFAN_BOLTZMANN
            found[a, b] = found.get((a, b), 0.0) + area
    return found


HEAD = """\
thermnet: 1
temperatures: K
nodes: {ballast: {capacity: 1 J/K}}
boundaries: {hot: {temperature: 400}, mild: {temperature: 300}, cold: {temperature: 200}}
links: {ballast: {from: ballast, to: mild, conductance: 1 W/K}}
"""
CASES = "cases: {case: {solve: steady}}\n"


def bay_of(bay: str, more: str = CASES) -> str:
    """A model of one enclosure, `bay`, between imposed temperatures."""
    lines = bay.strip("\n").splitlines()
    indent = len(lines[0]) - len(lines[0].lstrip())
    body = "".join(f"    {line[indent:]}\n" for line in lines)
    return f"{HEAD}enclosures:\n  bay:\n{body}{more}"


def exchanged(bay: str) -> dict[tuple[str, str], float]:
    """Exchange areas [m2] between the nodes of an enclosure."""
    return couplings(model_of(bay_of(bay)))


PLATES = """
    faces:
      one: {node: hot, area: 2 m2, emittance: 0.8}
      two: {node: cold, area: 2 m2, emittance: 0.4}
    views:
      one to two: {from: one, to: two, parallel_plates: {area: 2 m2}}
"""


TRIANGLE = """
    faces:
      hot: {node: hot, area: 1 m2, emittance: 0.8}
      cold: {node: cold, area: 1 m2, emittance: 0.4}
      mild: {node: mild, area: 1 m2, emittance: 0.3}
    views:
      a: {from: hot, to: cold, factor: 0.5}
      b: {from: cold, to: mild, factor: 0.5}
      c: {from: mild, to: hot, factor: 0.5}
"""
EVEN = np.array([[0.0, 0.5, 0.5], [0.5, 0.0, 0.5], [0.5, 0.5, 0.0]])


REST = """
    faces:
      base: {node: hot, area: 0.36 m2, emittance: 0.85}
      lid: {node: cold, area: 0.36 m2, emittance: 0.9}
      walls: {node: mild, area: 0.48 m2, emittance: 0.2}
    views:
      base to lid:
        from: base
        to: lid
        parallel_rectangles: {width: 0.6 m, height: 0.6 m, gap: 0.2 m}
    rest: walls
"""
