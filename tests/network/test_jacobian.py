"""The Jacobian is the exact derivative of the heat balance: complex step, and differences."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.properties.strategies import networks
from tests.reference import heat as reference_heat
from thermnet.network.build import build
from thermnet.network.network import Network, heat, jacobian
from thermnet.network.parts import (
    RADIATION,
    FlowLinkPart,
    HeatPart,
    LinkPart,
    NodePart,
    Part,
    ThermostatPart,
)
from thermnet.network.primitives import Floats, Potential
from thermnet.physics.curves import Curve

CURVE = Curve(x=np.array([100.0, 250.0, 500.0]), y=np.array([0.2, 1.0, 0.7]))


def by_complex_step(parts: Sequence[Part], names: Sequence[str], at: Floats, time: float) -> Floats:
    """Columns of derivatives of the suite's own balance, exact to rounding."""
    step = 1e-100
    columns = []
    for moved in names:
        temperature = {
            name: complex(value, step if name == moved else 0.0)
            for name, value in zip(names, at, strict=True)
        }
        net = reference_heat(parts, temperature, time)
        columns.append([complex(net[name]).imag / step for name in names])
    return np.array(columns).T


def by_differences(network: Network, at: Floats, time: float) -> Floats:
    """Central differences of `heat` itself, twice, extrapolated: fourth order in the step."""

    def slope(k: int, step: float) -> Floats:
        moved = np.zeros(len(at))
        moved[k] = step
        return (heat(network, at + moved, time) - heat(network, at - moved, time)) / (2.0 * step)

    columns = [(4.0 * slope(k, 0.05) - slope(k, 0.1)) / 3.0 for k in range(len(at))]
    return np.array(columns).T


ONE_OF_EACH: dict[str, list[Part]] = {
    "conduction": [LinkPart(a="a", b="b", strength=2.0)],
    "exponent 2": [LinkPart(a="a", b="b", strength=0.01, potential=Potential(exponent=2.0))],
    "radiation": [LinkPart(a="a", b="b", strength=3e-8, potential=RADIATION)],
    "exponent 4.67": [LinkPart(a="a", b="b", strength=1e-9, potential=Potential(exponent=4.67))],
    "conductivity integral": [
        LinkPart(a="a", b="b", strength=1.0, potential=Potential(curve=CURVE))
    ],
    "curve of an end": [LinkPart(a="a", b="b", strength=2.0, curve=CURVE, sensor="a")],
    "curve of a third node": [
        LinkPart(a="a", b="b", strength=3e-8, potential=RADIATION, curve=CURVE, sensor="c")
    ],
    "flow link": [FlowLinkPart(a="a", b="b", rate=3.0)],
    "heat by its own node": [HeatPart(node="a", amplitude=5.0, curve=CURVE, sensor="a")],
    "heat by another node": [HeatPart(node="a", amplitude=5.0, curve=CURVE, sensor="c")],
    "thermostat inside its band": [
        ThermostatPart(node="a", sensor="b", power=7.0, on=280.0, off=320.0)
    ],
    "thermostat outside its band": [
        ThermostatPart(node="a", sensor="b", power=7.0, on=380.0, off=390.0)
    ],
}


@pytest.mark.parametrize("kind", ONE_OF_EACH)
def test_the_slopes_of_each_primitive(kind: str) -> None:
    parts = [NodePart(name=name, capacity=1.0) for name in "abc"] + ONE_OF_EACH[kind]
    network, at = build(parts), np.array([370.0, 301.0, 222.0])
    found = jacobian(network, at, 0.0).toarray()
    np.testing.assert_allclose(found, by_complex_step(parts, "abc", at, 0.0), rtol=1e-12)
    np.testing.assert_allclose(found, by_differences(network, at, 0.0), rtol=1e-7, atol=1e-9)


def test_a_given_state_of_a_thermostat_has_no_slope() -> None:
    nodes = [NodePart(name=name, capacity=1.0) for name in "abc"]
    network = build(nodes + ONE_OF_EACH["thermostat inside its band"])
    at = np.array([370.0, 301.0, 222.0])
    assert not jacobian(network, at, 0.0, np.array([1.0])).toarray().any()
    assert jacobian(network, at, 0.0).toarray()[0, 1] == pytest.approx(-7.0 / 40.0)


@settings(max_examples=25)
@given(parts=networks(), seed=st.integers(0, 2**31), time=st.floats(0.0, 2000.0))
def test_the_jacobian_of_random_networks_is_exact(
    parts: tuple[Part, ...], seed: int, time: float
) -> None:
    network = build(parts)
    at = np.random.default_rng(seed).uniform(5.0, 600.0, len(network.names))
    exact = by_complex_step(parts, network.names, at, time)
    found = jacobian(network, at, time).toarray()
    np.testing.assert_allclose(found, exact, rtol=1e-11, atol=1e-11 * np.abs(exact).max(initial=1))


@settings(max_examples=25)
@given(parts=networks(), seed=st.integers(0, 2**31), time=st.floats(0.0, 2000.0))
def test_the_heat_of_random_networks_is_that_of_their_parts(
    parts: tuple[Part, ...], seed: int, time: float
) -> None:
    network = build(parts)
    at = np.random.default_rng(seed).uniform(5.0, 600.0, len(network.names))
    net = reference_heat(parts, dict(zip(network.names, map(complex, at), strict=True)), time)
    expected = np.array([complex(net[name]).real for name in network.names])
    scale = np.abs(expected).max(initial=1.0)
    np.testing.assert_allclose(heat(network, at, time), expected, rtol=1e-11, atol=1e-11 * scale)
