"""Gradients of histories where capacities, sides of jumps or starts are not simple."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from thermnet.network.build import build
from thermnet.network.network import Network
from thermnet.network.parts import (
    RADIATION,
    BoundaryPart,
    HeatPart,
    History,
    LinkPart,
    NodePart,
    Part,
    ThermostatPart,
)
from thermnet.network.primitives import Floats
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.physics.curves import Curve
from thermnet.solve.adjoint import Output, gradients, of_node
from thermnet.solve.cyclic import cyclic
from thermnet.solve.solution import Options, Solution
from thermnet.solve.transient import transient

PERIOD = 5400.0
FINE = Options(accuracy=1e-4)
SUNLIT = History(time=np.array([0.0, 0.6, 0.6, 1.0]) * PERIOD, value=np.array([1.0, 1.0, 0.0, 0.0]))
MOVING = BoundaryPart(name="space", temperature=100.0, swing=60.0, history=SUNLIT)
Solve = Callable[[Network], Solution]


def blanketed(space: BoundaryPart) -> Network:
    """A box on a radiator, and a tank under a massless blanket that the sun heats."""
    radiation = [("radiator", "space", 0.2), ("tank", "blanket", 0.05), ("blanket", "space", 0.8)]
    return build(
        [
            NodePart(name="tank", capacity=2e3),
            NodePart(name="radiator", capacity=1500.0),
            NodePart(name="blanket"),
            space,
            LinkPart(a="tank", b="radiator", strength=0.05),
            *(
                LinkPart(a=a, b=b, strength=STEFAN_BOLTZMANN * area, potential=RADIATION)
                for a, b, area in radiation
            ),
            HeatPart(node="radiator", amplitude=50.0),
            HeatPart(node="blanket", amplitude=400.0, history=SUNLIT),
        ],
        period=PERIOD,
    )


def multiples(network: Network) -> Floats:
    """By which links are enlarged: alike, errors of one would cancel those of another."""
    return np.arange(1.0, len(network.links.a) + 1.0)


def stronger(network: Network, share: float) -> Network:
    """Links enlarged by multiples of a share, and the imposed temperatures by the share."""
    strength = network.links.strength * (1.0 + share * multiples(network))
    links = replace(network.links, strength=strength)
    return replace(
        network,
        links=links,
        boundary_mean=network.boundary_mean * (1.0 + share),
        pattern=replace(network.pattern, links=links),
    )


def relative(network: Network, solution: Solution, output: Output, start: str) -> float:
    """Change [K] of the output per share by which `stronger` enlarges."""
    (found,) = gradients(network, solution, [output], start=start)  # type: ignore[arg-type]
    by_links = found.strength @ (network.links.strength * multiples(network))
    return float(by_links + found.boundary @ network.boundary_mean)


def by_differences(network: Network, solve: Solve, output: Output) -> float:
    def value(share: float) -> float:
        solution = solve(stronger(network, share))
        nodes = output.weight != 0.0
        if output.kind == "mean":
            return float(output.weight @ solution.mean)
        return float(solution.extremes.highest[:, nodes].max())

    return (value(2e-3) - value(-2e-3)) / 4e-3


@pytest.mark.parametrize("space", [BoundaryPart(name="space", temperature=3.0), MOVING])
def test_a_steady_start_is_that_of_the_means_and_not_of_the_first_instant(
    space: BoundaryPart,
) -> None:
    """Massless nodes and moving boundaries leave it at once, the tank does not."""
    network = blanketed(space)
    output = of_node(network, "tank", "highest")

    def solve(network: Network) -> Solution:
        return transient(network, PERIOD, FINE)

    found = relative(network, solve(network), output, "steady")
    assert found == pytest.approx(by_differences(network, solve, output), rel=2e-3)


def test_another_start_than_the_one_said_is_refused() -> None:
    network = blanketed(MOVING)
    solution = transient(network, PERIOD, start=np.full(4, 280.0))
    with pytest.raises(ValueError, match="did not begin from the steady state"):
        gradients(network, solution, [of_node(network, "tank", "mean")])


@pytest.mark.parametrize("repeating", [False, True])
def test_a_massless_peak_just_before_eclipse_belongs_to_the_sunlit_side(*, repeating: bool) -> None:
    """In the sun Q = sigma K T^4 but for what the tank exchanges: dT/dlnQ is about T/4."""
    network = blanketed(BoundaryPart(name="space", temperature=3.0))
    output = of_node(network, "blanket", "highest")

    def solve(network: Network) -> Solution:
        return cyclic(network, FINE) if repeating else transient(network, PERIOD, FINE)

    solution = solve(network)
    found = relative(network, solution, output, "steady")
    assert found == pytest.approx(by_differences(network, solve, output), rel=2e-3)
    (all_of_it,) = gradients(network, solution, [output])
    hottest = solution.extremes.highest[:, network.index("blanket")].max()
    by_sun = all_of_it.amplitude[1] * network.heats.amplitude[1]
    assert by_sun == pytest.approx(hottest / 4.0, rel=0.02)


def waxed() -> tuple[Network, Floats]:
    """A plate of wax that melts between 260 and 262 K while it is heated; and a start below."""
    wax = Curve(
        x=np.array([200.0, 260.0, 262.0, 350.0]),
        y=np.array([0.0, 60e3, 100e3, 188e3]),
        extend=True,
    )
    parts: list[Part] = [
        NodePart(name="plate", content=wax),
        NodePart(name="shell", capacity=300.0),
        BoundaryPart(name="sink", temperature=255.0),
        LinkPart(a="plate", b="shell", strength=1.5),
        LinkPart(a="shell", b="sink", strength=2.0),
        HeatPart(node="plate", amplitude=25.0, history=SUNLIT),
    ]
    return build(parts, period=PERIOD), np.array([255.0, 255.0, 255.0])


@pytest.mark.parametrize(("name", "kind"), [("plate", "highest"), ("shell", "mean")])
def test_past_a_corner_of_a_heat_content_the_costate_of_heat_goes_on(name: str, kind: str) -> None:
    network, start = waxed()
    output = of_node(network, name, kind)  # type: ignore[arg-type]

    def solve(network: Network) -> Solution:
        return transient(network, PERIOD, FINE, start=start)

    solution = solve(network)
    plate = solution.temperature[:, 0]
    assert plate.min() < 260.0
    assert plate.max() > 262.0
    found = relative(network, solution, output, "given")
    assert found == pytest.approx(by_differences(network, solve, output), rel=2e-3)


def test_heat_before_melting_and_heat_after_it_are_worth_the_same() -> None:
    """Without a link all heat adds up: dT/dQ = duration / capacity of the last piece."""
    wax = Curve(
        x=np.array([200.0, 260.0, 262.0, 350.0]),
        y=np.array([0.0, 60e3, 100e3, 188e3]),
        extend=True,
    )
    parts: list[Part] = [
        NodePart(name="plate", content=wax),
        BoundaryPart(name="sink", temperature=255.0),
        LinkPart(a="plate", b="sink", strength=1e-9),
        HeatPart(node="plate", amplitude=20.0),
    ]
    network = build(parts)
    solution = transient(network, 4000.0, FINE, start=np.array([250.0, 255.0]))
    (found,) = gradients(network, solution, [of_node(network, "plate", "highest")], start="given")
    assert solution.temperature[-1, 0] == pytest.approx(292.0, abs=1e-2)  # 50 + 80 kJ
    assert found.amplitude[0] == pytest.approx(4000.0 / 1000.0, rel=1e-6)
    assert found.initial[0] == pytest.approx(1.0, rel=1e-6)  # 1000 J/K first and last


def test_a_heater_that_the_output_cannot_feel_may_switch() -> None:
    """Two plates share nothing but the sink; dT/dQ of a plain one is (1 - exp(-G t / C)) / G."""
    parts: list[Part] = [
        NodePart(name="plain", capacity=500.0),
        NodePart(name="heated", capacity=50.0),
        BoundaryPart(name="sink", temperature=250.0),
        LinkPart(a="plain", b="sink", strength=1.0),
        LinkPart(a="heated", b="sink", strength=1.0),
        HeatPart(node="plain", amplitude=20.0),
        ThermostatPart(
            node="heated", sensor="heated", power=30.0, on=260.0, off=265.0, origin="heaters.one"
        ),
    ]
    network = build(parts)
    solution = transient(network, 600.0, FINE, start=np.array([250.0, 250.0, 250.0]))
    assert solution.switchings[0] > 1
    (found,) = gradients(network, solution, [of_node(network, "plain", "highest")], start="given")
    assert found.amplitude[0] == pytest.approx(1.0 - np.exp(-1.2), rel=1e-3)
    assert found.power[0] == 0.0
    with pytest.raises(ValueError, match=r"heaters\.one switches"):
        gradients(network, solution, [of_node(network, "heated", "mean")], start="given")


def test_an_imposed_temperature_in_an_output_counts_itself() -> None:
    network, start = waxed()
    solution = transient(network, PERIOD, start=start)
    (found,) = gradients(network, solution, [of_node(network, "sink", "mean")], start="given")
    assert found.boundary[0] == 1.0
