"""Blankets in networks: layer by layer, exact slopes, and the laws that every form obeys."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.model.blanketed import FOLDED, IDEAL, NET, SPOILT, network, through
from tests.solving import closed, solved_steady
from thermnet.network.build import build
from thermnet.network.network import flows, heat, jacobian
from thermnet.network.parts import BoundaryPart, LinkPart, NodePart, Part
from thermnet.network.primitives import Potential
from thermnet.solve.steady import steady

SIGMA = 5.670374419e-8  # W m-2 K-4, CODATA 2018 (exact since 2019)


def layer_by_layer(laws: list[tuple[float, float]], layers: int, hot: float, cold: float) -> float:
    """Heat [W] through layers as massless nodes, each gap with links of (strength, exponent)."""
    names = ["hot", *(f"layer {k}" for k in range(layers)), "cold"]
    parts: list[Part] = [
        BoundaryPart(name="hot", temperature=hot),
        BoundaryPart(name="cold", temperature=cold),
        *(NodePart(name=name) for name in names[1:-1]),
    ]
    for a, b in zip(names, names[1:], strict=False):
        parts += [
            LinkPart(a=a, b=b, strength=strength, potential=Potential(exponent=exponent))
            for strength, exponent in laws
        ]
    assembled = build(parts)
    solution = solved_steady(assembled)
    out = flows(assembled, solution.temperature[0], 0.0)
    first = assembled.links.a == assembled.index("hot")
    return float(out[first].sum())


ENDS = [(300.0, 200.0), (300.0, 77.0), (350.0, 300.0), (150.0, 250.0)]


@pytest.mark.parametrize(("hot", "cold"), ENDS)
def test_an_ideal_stack_is_the_same_as_its_layers_one_by_one(hot: float, cold: float) -> None:
    gap = 1.5 * SIGMA / (2.0 / 0.03 - 1.0)
    expected = layer_by_layer([(gap, 4.0)], 10, hot, cold)
    found = through(network(IDEAL), hot, cold)["layers"]
    assert found == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("hot", "cold"), ENDS)
def test_separators_and_radiation_are_the_same_layer_by_layer(hot: float, cold: float) -> None:
    # each of the 21 gaps has the same law, so that the sum of their potentials telescopes
    conduction = 1.5 * 8.95e-8 * 20.0**2.56 / 2.0
    radiation = 1.5 * 5.39e-10 * 0.031 * 21.0 / 20.0
    expected = layer_by_layer([(conduction, 2.0), (radiation, 4.67)], 20, hot, cold)
    found = sum(through(network(NET), hot, cold).values())
    assert found == pytest.approx(expected, rel=1e-9)


def test_the_exact_slopes_are_those_of_finite_differences() -> None:
    assembled = network(f"{FOLDED}, {SPOILT}")
    at = np.array([{"tank": 300.0, "frame": 290.0, "face": 150.0}.get(n, 2.7) for n in
                   assembled.names])  # fmt: skip
    exact = jacobian(assembled, at, 0.0).toarray()
    for k in range(len(at)):
        step = np.zeros(len(at))
        step[k] = 1e-3
        above = heat(assembled, at + step, 0.0)
        below = heat(assembled, at - step, 0.0)
        np.testing.assert_allclose(exact[:, k], (above - below) / 2e-3, rtol=1e-6, atol=1e-8)


FORMS = st.sampled_from(
    [
        "effective_emittance: EMITTANCE",
        "layers: {count: COUNT, emittance: EMITTANCE}",
        "layers: {count: COUNT, separator: silk net, emittance: EMITTANCE, density: DENSITY 1/m}",
    ]
)


@st.composite
def bodies(draw: st.DrawFn) -> str:
    """A blanket in one of its forms, with none or some of what spoils it."""
    body = draw(FORMS)
    body = body.replace("EMITTANCE", f"{draw(st.floats(0.005, 1.0)):.4f}")
    body = body.replace("COUNT", str(draw(st.integers(1, 40))))
    body = body.replace("DENSITY", f"{draw(st.floats(200.0, 5000.0)):.1f}")
    return f"{body}, {SPOILT}" if draw(st.booleans()) else body


@settings(max_examples=25)
@given(body=bodies(), watts=st.floats(0.0, 200.0))
def test_energy_is_accounted_for_whatever_the_blanket(body: str, watts: float) -> None:
    assembled = network(body, watts=watts)
    closed(assembled, steady(assembled))


@settings(max_examples=25)
@given(body=bodies(), tank=st.floats(20.0, 500.0), face=st.floats(20.0, 500.0))
def test_heat_goes_from_warm_to_cold_through_every_term(
    body: str, tank: float, face: float
) -> None:
    for path, flow in through(network(body), tank, face).items():
        colder = 2.7 if path.startswith("openings") else face
        assert flow * (tank - colder) >= 0.0
