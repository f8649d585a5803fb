"""Gradients by the adjoint: closed forms, and differences of whole solves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from tests.full import first_of, only_in_full
from tests.properties.strategies import networks
from tests.solve.large import PERIOD, sheet
from thermnet.network.build import build
from thermnet.network.network import Network
from thermnet.network.parts import (
    RADIATION,
    BoundaryPart,
    FlowLinkPart,
    HeatPart,
    LinkPart,
    NodePart,
    Part,
    ThermostatPart,
)
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.solve.adjoint import Output, gradients, of_node
from thermnet.solve.adjoint_sums import Gradient, by_origin
from thermnet.solve.cyclic import cyclic
from thermnet.solve.solution import Options, Solution
from thermnet.solve.steady import steady
from thermnet.solve.transient import transient

FINE = Options(accuracy=1e-4)
Solve = Callable[[Network], Solution]
Value = Callable[[Solution], float]


def test_a_radiators_temperature_by_its_heat_and_its_area() -> None:
    """Q = sigma K T^4: dT/dQ = 1/(4 sigma K T^3), dT/dK = -T/(4 K), both in closed form."""
    area, heat = 0.3, 100.0
    network = build(
        [
            NodePart(name="plate", capacity=500.0),
            BoundaryPart(name="space", temperature=0.0),
            LinkPart(
                a="plate",
                b="space",
                strength=STEFAN_BOLTZMANN * area,
                potential=RADIATION,
                origin="surfaces.plate",
            ),
            HeatPart(node="plate", amplitude=heat, origin="loads.box"),
        ]
    )
    solution = steady(network)
    (found,) = gradients(network, solution, [of_node(network, "plate", "mean")])
    temperature = (heat / (STEFAN_BOLTZMANN * area)) ** 0.25
    assert found.amplitude[0] == pytest.approx(temperature / (4.0 * heat), rel=1e-9)
    by_area = found.strength[0] * STEFAN_BOLTZMANN
    assert by_area == pytest.approx(-temperature / (4.0 * area), rel=1e-9)
    relative = by_origin(network, found)
    assert relative["loads.box"] == pytest.approx(temperature / 4.0, rel=1e-9)
    assert relative["surfaces.plate"] == pytest.approx(-temperature / 4.0, rel=1e-9)


def test_a_chain_by_each_conductance_and_by_the_sink() -> None:
    """T = sink + Q (1/G1 + 1/G2): dT/dG1 = -Q/G1^2, dT/dsink = 1."""
    network = build(
        [
            NodePart(name="unit"),
            NodePart(name="panel"),
            BoundaryPart(name="sink", temperature=250.0),
            LinkPart(a="unit", b="panel", strength=2.0),
            LinkPart(a="panel", b="sink", strength=5.0),
            HeatPart(node="unit", amplitude=20.0),
        ]
    )
    (found,) = gradients(network, steady(network), [of_node(network, "unit", "mean")])
    np.testing.assert_allclose(found.strength, [-20.0 / 4.0, -20.0 / 25.0], rtol=1e-9)
    np.testing.assert_allclose(found.boundary, [1.0], rtol=1e-9)


def test_a_proportional_heater_by_its_power() -> None:
    """G (T - s) = P (off - T) / b: T = (G s + P off / b) / (G + P / b), derived by hand."""
    network = build(
        [
            NodePart(name="unit", capacity=1.0),
            BoundaryPart(name="sink", temperature=250.0),
            LinkPart(a="unit", b="sink", strength=1.0),
            ThermostatPart(node="unit", sensor="unit", power=100.0, on=290.0, off=300.0),
        ]
    )
    (found,) = gradients(network, steady(network), [of_node(network, "unit", "mean")])
    unit = (250.0 + 10.0 * 300.0) / 11.0
    assert found.power[0] == pytest.approx((300.0 - unit) / 10.0 / 11.0, rel=1e-9)


def test_a_first_order_lag_by_its_start_and_its_capacity() -> None:
    """T(t) = s + (T0 - s) exp(-G t / C), taken where it is lowest, at the end."""
    network = build(
        [
            NodePart(name="unit", capacity=1000.0),
            BoundaryPart(name="sink", temperature=250.0),
            LinkPart(a="unit", b="sink", strength=2.0),
        ]
    )
    solution = transient(network, 600.0, FINE, start=np.array([300.0, 250.0]))
    (found,) = gradients(network, solution, [of_node(network, "unit", "lowest")], start="given")
    decay = np.exp(-2.0 * 600.0 / 1000.0)
    assert found.initial[0] == pytest.approx(decay, rel=1e-3)
    assert found.strength[0] == pytest.approx(-50.0 * 0.6 * decay, rel=1e-3)
    assert found.capacity[0] == pytest.approx(50.0 * 2.0 * 600.0 / 1e6 * decay, rel=1e-3)
    assert found.boundary[0] == pytest.approx(1.0 - decay, rel=1e-3)


def moved(network: Network, what: str, place: int, factor: float) -> Network:
    """The network with one number multiplied by a factor."""
    if what == "capacity":
        values = network.capacity.copy()
        values[place] *= factor
        return replace(network, capacity=values)
    part, name = {
        "strength": ("links", "strength"),
        "rate": ("flow_links", "rate"),
        "amplitude": ("heats", "amplitude"),
    }[what]
    whole = getattr(network, part)
    values = getattr(whole, name).copy()
    values[place] *= factor
    changed = replace(whole, **{name: values})
    return replace(network, **{part: changed}, pattern=replace(network.pattern, **{part: changed}))


def compare(
    network: Network, found: Gradient, solve: Solve, value: Value, tolerance: float
) -> None:
    """The largest entry of each array against central differences."""
    numbers = {
        "strength": network.links.strength,
        "rate": network.flow_links.rate,
        "amplitude": network.heats.amplitude,
        "capacity": network.capacity,
    }
    for what, values in numbers.items():
        changes = getattr(found, what) * values
        if not changes.any():
            continue
        place, step = int(np.abs(changes).argmax()), 3e-3
        up, down = (value(solve(moved(network, what, place, 1.0 + s))) for s in (step, -step))
        assert changes[place] == pytest.approx((up - down) / (2.0 * step), rel=tolerance), what


@only_in_full
def test_the_peak_of_a_large_history_agrees_with_differences() -> None:
    network = sheet(15, long_range=20, massless=20)
    node = network.index("n20")

    def solve(network: Network) -> Solution:
        return transient(network, PERIOD, Options(accuracy=1e-3))

    (found,) = gradients(network, solve(network), [of_node(network, "n20", "highest")])
    compare(network, found, solve, lambda s: float(s.extremes.highest[:, node].max()), 3e-3)


@pytest.mark.parametrize(("kind", "massless"), first_of([("lowest", 4), ("mean", 0)]))
def test_a_repeating_orbit_agrees_with_differences(kind: str, massless: int) -> None:
    network = sheet(6, massless=massless)
    node = network.index("n20")

    def solve(network: Network) -> Solution:
        return cyclic(network, FINE)

    def value(solution: Solution) -> float:
        if kind == "mean":
            return float(solution.mean[node])
        return float(solution.extremes.lowest[:, node].min())

    (found,) = gradients(network, solve(network), [of_node(network, "n20", kind)])  # type: ignore[arg-type]
    compare(network, found, solve, value, 3e-3)


@settings(max_examples=15)
@given(parts=networks(["conduction", "radiation", "heat", "modulation", "flow links", "massless"]))
def test_steady_gradients_agree_with_differences(parts: tuple[Part, ...]) -> None:
    network = build(parts)
    weight = np.linspace(0.5, 1.5, len(network.names))
    weight[network.boundary] = 0.0
    solution = steady(network)
    (found,) = gradients(network, solution, [Output(weight=weight)])
    scale = np.abs(found.strength * network.links.strength).max(initial=0.0)
    if scale < 1e-3:
        return

    def value(solution: Solution) -> float:
        return float(solution.temperature[0] @ weight)

    place = int(np.abs(found.strength * network.links.strength).argmax())
    up, down = (value(steady(moved(network, "strength", place, 1.0 + s))) for s in (1e-4, -1e-4))
    slope = found.strength[place] * network.links.strength[place]
    assert slope == pytest.approx((up - down) / 2e-4, rel=1e-4, abs=1e-6)


def test_a_fluid_carries_the_costate_upstream() -> None:
    """Mixed flow past one warm unit: T = T_in + Q / W, so dT/dW = -Q / W^2."""
    network = build(
        [
            NodePart(name="unit"),
            BoundaryPart(name="inlet", temperature=290.0),
            BoundaryPart(name="outlet", temperature=290.0),
            FlowLinkPart(a="inlet", b="unit", rate=10.0),
            FlowLinkPart(a="unit", b="outlet", rate=10.0),
            HeatPart(node="unit", amplitude=50.0),
        ]
    )
    (found,) = gradients(network, steady(network), [of_node(network, "unit", "mean")])
    # One rate alone upsets the balance of the fluid; both together are what a pump changes.
    assert found.rate.sum() == pytest.approx(-50.0 / 100.0, rel=1e-9)


def test_a_heater_that_switches_before_the_peak_is_refused() -> None:
    network = sheet(6, thermostats=3)
    solution = transient(network, PERIOD)
    assert solution.switchings.any()
    with pytest.raises(ValueError, match="switches before the output"):
        gradients(network, solution, [of_node(network, "n20", "highest")])


def test_a_peak_of_several_nodes_at_once_is_refused() -> None:
    network = sheet(6)
    solution = transient(network, PERIOD)
    with pytest.raises(ValueError, match="that of one node"):
        gradients(network, solution, [Output(weight=np.ones(37), kind="highest")])


def test_a_failed_solution_is_refused() -> None:
    network = sheet(6)
    failed = replace(steady(network), failure="nothing found")
    with pytest.raises(ValueError, match="nothing found"):
        gradients(network, failed, [of_node(network, "n20", "mean")])


def test_what_is_drawn_from_cells_has_no_gradient_here() -> None:
    network = build(
        [
            NodePart(name="plate", capacity=500.0),
            BoundaryPart(name="sink", temperature=250.0),
            LinkPart(a="plate", b="sink", strength=1.0, origin="links.strap"),
            HeatPart(node="plate", amplitude=1.0, origin="batteries.pack"),
        ]
    )
    with pytest.raises(ValueError, match="vary the model and solve again"):
        gradients(network, steady(network), [of_node(network, "plate", "mean")])
