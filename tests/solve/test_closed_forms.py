"""Histories against closed forms. Every number was also confirmed by quadrature when derived."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.solving import highest, history_of, lowest, solved_transient, start_at
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
)
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.solve.solution import Options

FINE = Options(accuracy=1e-3)


def linear_node(*parts: Part, sink: float = 293.0) -> Network:
    """C 1000 J/K, G 2 W/K: a time constant of 500 s."""
    return build(
        [
            NodePart(name="plate", capacity=1000.0),
            BoundaryPart(name="sink", temperature=sink),
            LinkPart(a="plate", b="sink", strength=2.0),
            *parts,
        ]
    )


def radiating_sphere(sink: float) -> Network:
    """C 3584 J/K, emittance 0.52 on 0.1463 m2, nothing else."""
    return build(
        [
            NodePart(name="sphere", capacity=3584.0),
            BoundaryPart(name="space", temperature=sink),
            LinkPart(
                a="sphere",
                b="space",
                strength=0.52 * STEFAN_BOLTZMANN * 0.1463,
                potential=RADIATION,
            ),
        ]
    )


def test_a_linear_node_decays_exponentially() -> None:
    """T = Ts + (T0 - Ts) exp(-t G / C); 350 K to a sink of 293 K, after 500 s: 313.96913 K."""
    network = linear_node()
    solution = solved_transient(
        network, 500.0, Options(accuracy=1e-3, outputs=10), start=start_at(network, plate=350.0)
    )
    expected = 293.0 + 57.0 * np.exp(-solution.t / 500.0)
    np.testing.assert_allclose(history_of(network, solution, "plate"), expected, atol=1e-3)
    assert history_of(network, solution, "plate")[-1] == pytest.approx(313.96913, abs=1e-3)


@pytest.mark.parametrize(
    ("sink", "seconds", "rate"), [(0.0, 7467.151, 0.0188), (200.0, 10756.823, 0.0111)]
)
def test_radiative_cooling_takes_its_time(sink: float, seconds: float, rate: float) -> None:
    """From 300 to 250 K, C / (3 k) (T^-3 - T0^-3) to 0 K; with the logarithm and the arctangent
    of T / Ts to a sink of 200 K (also Ivezic, AAOAJ 5(2) 2021, eq. 17, read)."""
    network = radiating_sphere(sink)
    solution = solved_transient(network, seconds, FINE, start=start_at(network, sphere=300.0))
    end = history_of(network, solution, "sphere")[-1]
    assert end == pytest.approx(250.0, abs=1e-3)
    k = 0.52 * STEFAN_BOLTZMANN * 0.1463
    assert 1e-3 < k * (250.0**4 - sink**4) / 3584.0 < rate  # 1 mK is less than a second here


def test_two_nodes_meet_at_their_common_mean() -> None:
    """tau = 1 / (G (1/C1 + 1/C2)) = 250 s; at 250 s: 316.813671 and 291.062110 K."""
    network = build(
        [
            NodePart(name="light", capacity=500.0),
            NodePart(name="heavy", capacity=1500.0),
            LinkPart(a="light", b="heavy", strength=1.5),
        ]
    )
    solution = solved_transient(
        network, 250.0, FINE, start=start_at(network, light=350.0, heavy=280.0)
    )
    assert history_of(network, solution, "light")[-1] == pytest.approx(316.813671, abs=1e-3)
    assert history_of(network, solution, "heavy")[-1] == pytest.approx(291.062110, abs=1e-3)
    later = solved_transient(network, 1e5, FINE, start=start_at(network, light=350.0, heavy=280.0))
    assert later.temperature[-1] == pytest.approx([297.5, 297.5], abs=1e-3)


def test_a_sinusoidal_load_gives_its_amplitude_and_lag() -> None:
    """Q / (G sqrt(1 + (w tau)^2)) = 4.321820 K, atan(w tau) / w = 452.8475 s after the load.

    The sinusoid is a history of straight pieces, 120 a period, whose chords shrink it by 2.3e-4.
    """
    period, tau = 5400.0, 500.0
    time = np.linspace(0.0, 2.0 * period, 2 * 120 + 1)
    load = History(time=time, value=np.sin(2.0 * np.pi * time / period))
    network = linear_node(HeatPart(node="plate", amplitude=10.0, history=load))
    amplitude, lag = 4.321820, 452.8475
    begin = 293.0 + amplitude * math.sin(-2.0 * math.pi * lag / period)
    solution = solved_transient(
        network, 2.0 * period, Options(outputs=60), start=start_at(network, plate=begin)
    )
    expected = 293.0 + amplitude * np.sin(2.0 * np.pi * (solution.t - lag) / period)
    np.testing.assert_allclose(history_of(network, solution, "plate"), expected, atol=0.005)
    assert highest(network, solution, "plate") == pytest.approx(293.0 + amplitude, abs=0.005)
    assert lowest(network, solution, "plate") == pytest.approx(293.0 - amplitude, abs=0.005)
    assert math.atan(2.0 * math.pi / period * tau) * period / (2.0 * math.pi) == pytest.approx(
        lag, abs=1e-4
    )


def square_wave(period: float, share: float, cycles: int) -> History:
    points = []
    for k in range(cycles):
        begin, middle, end = k * period, (k + share) * period, (k + 1) * period
        points += [(begin, 1.0), (middle, 1.0), (middle, 0.0), (end, 0.0)]
    time, value = np.array(points).T
    return History(time=time, value=value)


def test_a_square_wave_load_swings_between_its_two_limits() -> None:
    """20 W for 60 % of 5400 s over a sink of 250 K: 250.132798 to 259.984866 K."""
    load = square_wave(5400.0, 0.6, 5)
    network = linear_node(HeatPart(node="plate", amplitude=20.0, history=load), sink=250.0)
    begin = start_at(network, plate=250.132798)
    solution = solved_transient(network, 5 * 5400.0, FINE, start=begin)
    assert highest(network, solution, "plate") == pytest.approx(259.984866, abs=1e-3)
    assert lowest(network, solution, "plate") == pytest.approx(250.132798, abs=1e-3)
    assert solution.mean[0] == pytest.approx(256.0, abs=1e-3)


def test_each_segment_has_its_own_extremes_and_instants() -> None:
    load = square_wave(5400.0, 0.6, 2)
    network = linear_node(HeatPart(node="plate", amplitude=20.0, history=load), sink=250.0)
    begin = start_at(network, plate=250.132798)
    extremes = solved_transient(network, 2 * 5400.0, FINE, start=begin).extremes
    edges = [[0.0, 3240.0], [3240.0, 5400.0], [5400.0, 8640.0], [8640.0, 10800.0]]
    np.testing.assert_allclose(extremes.edges, edges)
    np.testing.assert_allclose(extremes.highest_at[:, 0], [3240.0, 3240.0, 8640.0, 8640.0])
    np.testing.assert_allclose(extremes.lowest_at[:, 0], [0.0, 5400.0, 5400.0, 10800.0])


def test_a_ramped_load_lags_by_the_time_constant() -> None:
    """dT/dt = (a t - G x) / C has x = a/G (t - tau + tau exp(-t / tau)); a = 0.02 W/s."""
    ramp = History(time=np.array([0.0, 1000.0]), value=np.array([0.0, 1.0]))
    network = linear_node(HeatPart(node="plate", amplitude=20.0, history=ramp))
    solution = solved_transient(
        network, 1000.0, Options(accuracy=1e-3, outputs=20), start=start_at(network, plate=293.0)
    )
    t = solution.t
    expected = 293.0 + 0.01 * (t - 500.0 + 500.0 * np.exp(-t / 500.0))
    np.testing.assert_allclose(history_of(network, solution, "plate"), expected, atol=1e-3)


def test_a_moving_boundary_is_followed() -> None:
    """A sink that rises by 0.05 K/s is followed 25 K behind, once the start is forgotten."""
    ramp = History(time=np.array([0.0, 4000.0]), value=np.array([0.0, 1.0]))
    network = build(
        [
            NodePart(name="plate", capacity=1000.0),
            BoundaryPart(name="shroud", temperature=100.0, swing=200.0, history=ramp),
            LinkPart(a="plate", b="shroud", strength=2.0),
        ]
    )
    solution = solved_transient(network, 4000.0, FINE, start=start_at(network, plate=100.0))
    behind = 25.0 * (1.0 - math.exp(-8.0))
    assert history_of(network, solution, "plate")[-1] == pytest.approx(300.0 - behind, abs=1e-3)
    assert history_of(network, solution, "shroud")[-1] == pytest.approx(300.0)


def test_a_pulse_between_two_outputs_shows_in_the_extremes() -> None:
    """20 s of 100 W, in a history with an output every 1000 s: x = Q/G (1 - exp(-20/500))."""
    pulse = History(
        time=np.array([0.0, 1490.0, 1490.0, 1510.0, 1510.0, 9000.0]),
        value=np.array([0.0, 0.0, 1.0, 1.0, 0.0, 0.0]),
    )
    network = linear_node(HeatPart(node="plate", amplitude=100.0, history=pulse))
    solution = solved_transient(
        network, 9000.0, Options(outputs=9), start=start_at(network, plate=293.0)
    )
    risen = 50.0 * (1.0 - math.exp(-20.0 / 500.0))
    assert highest(network, solution, "plate") == pytest.approx(293.0 + risen, abs=0.01)
    where = int(np.argmax(solution.extremes.highest[:, 0]))
    assert solution.extremes.highest_at[where, 0] == pytest.approx(1510.0, abs=0.1)
    outputs = history_of(network, solution, "plate")
    assert outputs.max() == pytest.approx(293.0 + risen * math.exp(-490.0 / 500.0), abs=0.01)


def test_an_extreme_inside_a_step_is_found() -> None:
    """Two exponentials of one node of a pair: its maximum lies where both slopes cancel."""
    network = build(
        [
            NodePart(name="heater plate", capacity=100.0),
            NodePart(name="box", capacity=400.0),
            BoundaryPart(name="sink", temperature=280.0),
            LinkPart(a="heater plate", b="box", strength=1.0),
            LinkPart(a="box", b="sink", strength=0.5),
        ]
    )
    matrix = np.array([[-0.01, 0.01], [1.0 / 400.0, -1.5 / 400.0]])
    rates, modes = np.linalg.eig(matrix)
    weights = np.linalg.solve(modes, np.array([100.0, 0.0]))

    def slope(t: float) -> float:
        return float(modes[1] @ (weights * rates * np.exp(rates * t)))

    peak_at = brentq(slope, 1.0, 1000.0)
    peak = 280.0 + float(modes[1] @ (weights * np.exp(rates * peak_at)))
    solution = solved_transient(
        network, 2000.0, Options(outputs=2), start=np.array([380.0, 280.0, 280.0])
    )
    assert highest(network, solution, "box") == pytest.approx(peak, abs=0.005)
    assert solution.extremes.highest_at[0, 1] == pytest.approx(peak_at, abs=5.0)
