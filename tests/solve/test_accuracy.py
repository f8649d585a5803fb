"""How far histories are from the truth, and how well their energy closes, at the stated accuracy.

The truth is scipy's Radau at 1e-10 relative on heat balances written out again in this file.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tests.full import first_of
from thermnet.account import account
from thermnet.network.build import build
from thermnet.network.parts import (
    RADIATION,
    BoundaryPart,
    HeatPart,
    History,
    LinkPart,
    NodePart,
    Part,
)
from thermnet.network.primitives import Floats
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.solve.solution import Options, Solution
from thermnet.solve.transient import transient

SPAN, ENTRY, EXIT = 5400.0, 1800.0, 3900.0
FACES = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Spacecraft:
    """Random boxes inside random faces that radiate to space and see the sun but for a shadow."""

    capacity: Floats
    conductance: Floats
    radiating: Floats
    own: Floats
    sunlit: Floats

    def parts(self) -> list[Part]:
        n = len(self.capacity)
        sun = History(time=np.array([0, ENTRY, ENTRY, EXIT, EXIT, SPAN]), value=SUN)
        parts: list[Part] = [BoundaryPart(name="space", temperature=2.7)]
        parts += [NodePart(name=f"n{k}", capacity=float(self.capacity[k])) for k in range(n)]
        for i in range(n):
            for j in range(i):
                if self.conductance[i, j] > 0.0:
                    strength = float(self.conductance[i, j])
                    parts.append(LinkPart(a=f"n{i}", b=f"n{j}", strength=strength))
            if self.radiating[i] > 0.0:
                strength = float(STEFAN_BOLTZMANN * self.radiating[i])
                parts.append(LinkPart(a=f"n{i}", b="space", strength=strength, potential=RADIATION))
            parts.append(HeatPart(node=f"n{i}", amplitude=float(self.own[i])))
            parts.append(HeatPart(node=f"n{i}", amplitude=float(self.sunlit[i]), history=sun))
        return parts

    def rate(self, light: float, temperature: Floats) -> Floats:
        g = self.conductance + self.conductance.T
        between = g @ temperature - g.sum(axis=1) * temperature
        out = STEFAN_BOLTZMANN * self.radiating * (temperature**4 - 2.7**4)
        return np.asarray((between - out + self.own + light * self.sunlit) / self.capacity)


SUN = np.array([1.0, 0.7, 0.0, 0.0, 0.4, 1.0])


def light(time: float, piece: int) -> float:
    edges = np.array([[0.0, ENTRY], [ENTRY, EXIT], [EXIT, SPAN]])[piece]
    return float(np.interp(time, edges, SUN[2 * piece : 2 * piece + 2]))


def spacecraft(seed: int) -> Spacecraft:
    random = np.random.default_rng(seed)
    n = 3 * FACES
    outside = np.arange(n) < FACES
    joined = np.tril(random.uniform(size=(n, n)) < 0.2, -1)
    joined[np.arange(1, n), np.arange(n - 1)] = True
    return Spacecraft(
        capacity=np.where(outside, 40.0, 1.0) * random.uniform(1.0, 30.0, n) ** (1.0 + ~outside),
        conductance=joined * 10.0 ** random.uniform(-2.0, 0.7, (n, n)),
        radiating=np.where(outside, random.uniform(0.02, 0.3, n), 0.0),
        own=np.where(outside, 0.0, random.uniform(0.0, 12.0, n)),
        sunlit=np.where(outside, random.uniform(0.0, 150.0, n), 0.0),
    )


def truth(craft: Spacecraft, start: Floats, times: Floats) -> Floats:
    result = np.empty((len(times), len(start)))
    for piece, (begin, end) in enumerate([(0.0, ENTRY), (ENTRY, EXIT), (EXIT, SPAN)]):
        run = solve_ivp(
            lambda t, y, piece=piece: craft.rate(light(t, piece), y),
            (begin, end),
            start,
            method="Radau",
            rtol=1e-10,
            atol=1e-8,
            dense_output=True,
        )
        inside = (times >= begin) & (times <= end)
        result[inside], start = run.sol(times[inside]).T, run.y[:, -1]
    return result


def solved(craft: Spacecraft, options: Options, start: Floats) -> Solution:
    network = build(craft.parts())
    whole = np.full(len(network.names), 2.7)
    whole[[network.index(f"n{k}") for k in range(len(start))]] = start
    solution = transient(network, SPAN, options, start=whole)
    assert solution.failure == ""
    return solution


def columns(craft: Spacecraft, solution: Solution) -> Floats:
    network = build(craft.parts())
    order = [network.index(f"n{k}") for k in range(len(craft.capacity))]
    return np.asarray(solution.temperature[:, order])


@pytest.mark.parametrize("accuracy", [0.1, 0.01, 0.001])
@pytest.mark.parametrize("seed", first_of(range(3)))
def test_random_spacecraft_keep_the_stated_accuracy(seed: int, accuracy: float) -> None:
    craft = spacecraft(seed)
    start = np.random.default_rng(seed + 100).uniform(270.0, 310.0, len(craft.capacity))
    solution = solved(craft, Options(accuracy=accuracy), start)
    exact = truth(craft, start, solution.t)
    assert np.abs(columns(craft, solution) - exact).max() < accuracy


def test_every_method_agrees_on_a_random_spacecraft() -> None:
    craft = spacecraft(7)
    start = np.full(len(craft.capacity), 290.0)
    own = columns(craft, solved(craft, Options(method="rosenbrock"), start))
    for method in ("scipy-bdf", "scipy-radau", "scipy-lsoda"):
        other = columns(craft, solved(craft, Options(method=method), start))
        np.testing.assert_allclose(other, own, atol=2 * 0.01)  # each within its accuracy


def test_the_energy_account_closes_and_closes_better_at_a_finer_accuracy() -> None:
    """Within a thousandth at the default, and at a tenth of it five times as well or better."""
    craft = spacecraft(5)
    start = np.full(len(craft.capacity), 290.0)
    network = build(craft.parts())
    shares = [
        account(network, solved(craft, Options(accuracy=accuracy), start)).share
        for accuracy in (0.01, 0.001)
    ]
    assert shares[0] < 1e-3
    assert shares[1] < shares[0] / 5.0


def test_a_node_of_almost_no_capacity_is_followed_through_its_jump() -> None:
    """Its decay of a few milliseconds ends within the first output interval after the jump.

    Expected (derived: closed form): radiation balances the heat, T = (heat / (sigma A))^(1/4),
    to the last microkelvin of the neighbour's conductance 1e-9 W/K.
    """
    area, heat = 0.05, 20.0
    jump = History(time=np.array([0.0, 500.0, 500.0, 1000.0]), value=np.array([1.0, 1.0, 0.2, 0.2]))
    network = build(
        [
            NodePart(name="film", capacity=1e-3),
            BoundaryPart(name="space", temperature=0.0),
            LinkPart(a="film", b="space", strength=STEFAN_BOLTZMANN * area, potential=RADIATION),
            HeatPart(node="film", amplitude=heat, history=jump),
        ]
    )
    solution = transient(network, 1000.0, start=np.array([290.0, 0.0]))
    film = solution.temperature[:, network.index("film")]
    for share, inside in ((1.0, solution.t < 499.0), (0.2, solution.t > 501.0)):
        expected = (share * heat / (STEFAN_BOLTZMANN * area)) ** 0.25
        np.testing.assert_allclose(film[inside & (solution.t > 1.0)], expected, atol=0.01)


@pytest.mark.parametrize("low", first_of([0.7, 0.25]))
def test_a_corner_of_a_curve_is_not_stepped_over(low: float) -> None:
    """A strap whose conductance falls at 230 K, seen by a massless node: checked against Radau."""
    from thermnet.physics.curves import Curve

    strap = Curve(x=np.array([225.0, 230.0, 235.0]), y=np.array([low, low, 1.0]))
    network = build(
        [
            NodePart(name="lug"),
            NodePart(name="box", capacity=300.0),
            BoundaryPart(name="sink", temperature=120.0),
            LinkPart(a="lug", b="sink", strength=0.5, curve=strap, sensor="lug"),
            LinkPart(a="box", b="lug", strength=1.0),
        ]
    )
    start = np.array([{"lug": 250.0, "box": 290.0, "sink": 120.0}[k] for k in network.names])
    fine = transient(network, 2000.0, Options(method="scipy-radau", accuracy=1e-4), start=start)
    for accuracy in (0.1, 0.01):
        found = transient(network, 2000.0, Options(accuracy=accuracy), start=start)
        box = network.index("box")
        assert np.abs(found.temperature - fine.temperature)[:, box].max() < accuracy
