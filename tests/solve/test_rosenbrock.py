"""The integrator's method: its order conditions, its stability, its order on heat balances.

Conditions: E. Hairer, G. Wanner, Solving Ordinary Differential Equations II, 2nd ed., Springer
1996, table 7.1 of section IV.7 (from memory), in the coefficients alpha, gamma and b that follow
from those of the product-free form.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from thermnet.network.build import build
from thermnet.network.network import Network, boundary_temperatures, heat
from thermnet.network.parts import RADIATION, BoundaryPart, HeatPart, History, LinkPart, NodePart
from thermnet.network.primitives import Floats
from thermnet.solve import balance as prepared
from thermnet.solve import tableaus
from thermnet.solve.balance import prepare
from thermnet.solve.factors import Factors
from thermnet.solve.front import front
from thermnet.solve.rosenbrock import Between, Rosenbrock
from thermnet.solve.segments import segments
from thermnet.solve.tableaus import ROS34PW2, Tableau

TABLEAUS = {name: value for name, value in vars(tableaus).items() if isinstance(value, Tableau)}


def classical(table: Tableau) -> tuple[Floats, Floats, Floats, Floats]:
    """alpha, gamma (with its diagonal), b, and b of the embedded method."""
    size = len(table.weight)
    gamma = np.asarray(np.linalg.inv(np.eye(size) / table.diagonal - table.mix), np.float64)
    rows = np.vstack([table.stage, table.weight, table.weight - table.error]) @ gamma
    return rows[:size], gamma, rows[-2], rows[-1]


def conditions(b: Floats, alpha: Floats, beta: Floats) -> dict[int, list[float]]:
    """Left sides less right sides, by order."""
    a, g = alpha.sum(axis=1), beta.sum(axis=1)
    sides = {
        1: [b.sum() - 1.0],
        2: [b @ g - 1.0 / 2.0],
        3: [b @ a**2 - 1.0 / 3.0, b @ (beta @ g) - 1.0 / 6.0],
        4: [
            b @ a**3 - 1.0 / 4.0,
            b @ (a * (alpha @ g)) - 1.0 / 8.0,
            b @ (beta @ a**2) - 1.0 / 12.0,
            b @ (beta @ (beta @ g)) - 1.0 / 24.0,
        ],
    }
    return {order: [float(miss) for miss in misses] for order, misses in sides.items()}


@pytest.mark.parametrize("name", TABLEAUS)
def test_every_order_condition_holds(name: str) -> None:
    table = TABLEAUS[name]
    alpha, gamma, b, embedded = classical(table)
    for order in range(1, table.order + 1):
        for miss in conditions(b, alpha, alpha + gamma)[order]:
            assert abs(miss) < 1e-13
        if order < table.order:
            for miss in conditions(embedded, alpha, alpha + gamma)[order]:
                assert abs(miss) < 1e-13


@pytest.mark.parametrize("name", TABLEAUS)
def test_the_embedded_method_has_one_order_less(name: str) -> None:
    """Otherwise the difference of the two would be no estimate of the error."""
    table = TABLEAUS[name]
    alpha, gamma, _, embedded = classical(table)
    misses = conditions(embedded, alpha, alpha + gamma)[table.order]
    assert np.abs(misses).max() > 1e-4


@pytest.mark.parametrize("name", TABLEAUS)
def test_instants_and_slopes_are_the_row_sums(name: str) -> None:
    table = TABLEAUS[name]
    alpha, gamma, _, _ = classical(table)
    np.testing.assert_allclose(table.instant, alpha.sum(axis=1), atol=1e-12)
    np.testing.assert_allclose(table.slope, gamma.sum(axis=1), atol=1e-12)


@pytest.mark.parametrize("name", TABLEAUS)
def test_the_method_is_stiffly_accurate_and_l_stable(name: str) -> None:
    """The last stage is the result; R(infinity) = 0; |R(iy)| <= 1 on the imaginary axis."""
    table = TABLEAUS[name]
    alpha, gamma, b, _ = classical(table)
    beta, one = alpha + gamma, np.ones(len(b))
    np.testing.assert_allclose(beta[-1], b, atol=1e-13)
    assert table.instant[-1] == pytest.approx(1.0)
    assert 1.0 - b @ np.linalg.solve(beta, one) == pytest.approx(0.0, abs=1e-11)
    for y in np.logspace(-3, 6, 400):
        growth = 1.0 + 1j * y * (b @ np.linalg.solve(np.eye(len(b)) - 1j * y * beta, one))
        assert abs(growth) <= 1.0 + 1e-12


def test_the_method_of_large_networks_keeps_its_order_with_any_jacobian() -> None:
    """The conditions of a W-method: those of trees in which A stands for J, one by one."""
    alpha, gamma, b, embedded = classical(ROS34PW2)
    a, g = alpha.sum(axis=1), gamma.sum(axis=1)
    for weights, orders in ((b, (1, 2, 3)), (embedded, (1, 2))):
        sides = {
            1: [weights.sum() - 1.0],
            2: [weights @ a - 1.0 / 2.0, weights @ g],
            3: [
                weights @ a**2 - 1.0 / 3.0,
                weights @ (alpha @ a) - 1.0 / 6.0,
                weights @ (alpha @ g),
                weights @ (gamma @ a),
                weights @ (gamma @ g),
            ],
        }
        for order in orders:
            assert np.abs(sides[order]).max() < 1e-14


def orbiting() -> Network:
    """Conduction, radiation, a massless face, heat and a boundary that change with time."""
    ramp = History(time=np.array([0.0, 4000.0]), value=np.array([0.0, 1.0]))
    return build(
        [
            NodePart(name="box", capacity=800.0),
            NodePart(name="plate", capacity=300.0),
            NodePart(name="face"),
            BoundaryPart(name="wall", temperature=250.0, swing=30.0, history=ramp),
            LinkPart(a="box", b="plate", strength=1.0),
            LinkPart(a="plate", b="face", strength=3e-9, potential=RADIATION),
            LinkPart(a="face", b="wall", strength=2e-8, potential=RADIATION),
            LinkPart(a="box", b="wall", strength=4e-9, potential=RADIATION),
            HeatPart(node="plate", amplitude=60.0, history=ramp),
            HeatPart(node="face", amplitude=40.0, history=ramp),
        ]
    )


SPAN = 2000.0
START = (330.0, 280.0)


def exact(network: Network) -> Callable[[float], Floats]:
    """By scipy at 1e-12, the fourth power of the massless face eliminated by hand."""

    def full(t: float, y: Floats) -> Floats:
        wall = boundary_temperatures(network, t)[0]
        power = 3e-9 * y[1] ** 4 + 2e-8 * wall**4 + 40.0 * t / 4000.0
        return np.array([y[0], y[1], (power / 2.3e-8) ** 0.25, wall])

    def rate(t: float, y: Floats) -> Floats:
        return np.asarray(heat(network, full(t, y), t)[:2] / np.array([800.0, 300.0]))

    run: Any = solve_ivp(
        rate, (0.0, SPAN), START, method="Radau", rtol=1e-12, atol=1e-10, dense_output=True
    )
    return lambda t: full(t, run.sol(t))


def steps(network: Network, table: Tableau, count: int, begin: Floats) -> list[Between]:
    """Equal steps, whatever the error estimate says."""
    segment = segments(network, SPAN)[0]
    with pytest.MonkeyPatch.context() as patch:
        if table is ROS34PW2:
            patch.setattr(prepared, "DENSE_UP_TO", 0)  # the method of large networks
        stepper = Rosenbrock(
            front(prepare(network, np.zeros(0))),
            Factors(),
            network.capacity,
            segment,
            0.0,
            begin,
            tolerance=1.0,
        )
    assert stepper.tableau is table
    taken = []
    for k in range(count):
        _, between = stepper._tried(SPAN / count)
        assert between is not None
        taken.append(between)
        stepper.t, stepper.temperature = SPAN * (k + 1) / count, between.last
        stepper.net = None
    return taken


def observed_order(errors: list[float]) -> float:
    return float(np.log2(errors[-2] / errors[-1]))


@pytest.mark.parametrize("name", TABLEAUS)
def test_the_error_of_equal_steps_falls_with_the_order(name: str) -> None:
    table, network = TABLEAUS[name], orbiting()
    solution = exact(network)
    errors = [
        float(np.abs(steps(network, table, count, solution(0.0))[-1].last - solution(SPAN)).max())
        for count in (8, 16, 32)
    ]
    assert observed_order(errors) > table.order - 0.3
    assert errors[-1] < 1e-3


@pytest.mark.parametrize("name", TABLEAUS)
def test_between_the_ends_of_a_step_the_order_is_three(name: str) -> None:
    """Of every node, or of those with capacity alone: others are then closed by their balance."""
    table, network = TABLEAUS[name], orbiting()
    known = slice(None) if table.dense is not None else np.flatnonzero(network.capacity)
    solution = exact(network)
    errors = []
    for count in (8, 16, 32):
        worst = 0.0
        for between in steps(network, table, count, solution(0.0)):
            for share in (0.25, 0.5, 0.75):
                at = between.begin + share * between.width
                worst = max(worst, float(np.abs(between(at) - solution(at))[known].max()))
        errors.append(worst)
    assert observed_order(errors) > 2.7
    assert errors[-1] < 1e-2
