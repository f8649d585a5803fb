"""Random networks against SUNDIALS, which sees nothing of ours but the parts.

The heat balance is that of tests/reference.py. CVODE integrates networks of massive nodes, IDA
those with massless nodes too. Agreement: 0.01 K, at the accuracy of 0.01 K that is the default.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from tests.properties.strategies import SPAN, networks
from tests.reference import heat, imposed, instants
from tests.solving import solved_transient
from thermnet.network.build import build
from thermnet.network.parts import NodePart, Part
from thermnet.network.primitives import Floats

OUTPUTS = 8
KINDS = ["conduction", "radiation", "heat", "pulses"]
MORE = [*KINDS, "exponents", "conductivity", "modulation", "moving boundaries", "flow links"]
TIGHT = {"rtol": 1e-9, "atol": 1e-7, "max_num_steps": 20000}

Indices = np.ndarray[tuple[int, ...], np.dtype[np.intp]]
Rate = Callable[[float, Floats], Floats]
"""Net heat [W] into the free nodes, at a time and their temperatures."""


def free_nodes(parts: Sequence[Part]) -> list[NodePart]:
    return [part for part in parts if isinstance(part, NodePart)]


def net_heat(parts: Sequence[Part], last: float) -> Rate:
    """Within a stretch that ends at `last`: a jump there belongs to the next one."""
    names = [node.name for node in free_nodes(parts)]
    inner = float(np.nextafter(last, 0.0))

    def net(time: float, y: Floats) -> Floats:
        time = min(time, inner)
        temperature = dict(zip(names, y.tolist(), strict=True)) | imposed(parts, time)
        into = heat(parts, temperature, time)
        return np.array([complex(into[name]).real for name in names])

    return net


def stretches(parts: Sequence[Part], outputs: Floats) -> list[Floats]:
    """Instants to report, split where anything may jump."""
    edges = instants(parts, SPAN)
    return [
        np.unique(np.concatenate([[a, b], outputs[(outputs > a) & (outputs < b)]]))
        for a, b in zip(edges[:-1], edges[1:], strict=True)
    ]


def by_cvode(parts: Sequence[Part], start: Floats, outputs: Floats) -> Floats:
    cvode = pytest.importorskip("sksundae.cvode", reason="scikit-sundae is not installed")
    capacities = np.array([node.capacity for node in free_nodes(parts)])
    found, y = {0.0: start}, start
    for times in stretches(parts, outputs):
        net = net_heat(parts, times[-1])

        def rate(t: float, y: Floats, yp: Floats) -> None:
            yp[:] = net(t, y) / capacities  # noqa: B023 - used within the loop

        run = cvode.CVODE(rate, **TIGHT).solve(times, y)
        assert run.success, run.message
        found |= reported(times, run.y)
        y = run.y[-1]
    return np.array([found[t] for t in outputs.tolist()])


def by_ida(parts: Sequence[Part], start: Floats, outputs: Floats) -> Floats:
    """As by CVODE, with massless nodes as algebraic equations made consistent at every jump."""
    ida = pytest.importorskip("sksundae.ida", reason="scikit-sundae is not installed")
    capacities = np.array([node.capacity for node in free_nodes(parts)])
    massive, massless = np.flatnonzero(capacities), np.flatnonzero(capacities == 0.0)
    options = TIGHT | {"calc_initcond": "yp0", "calc_init_dt": 1e-3}
    found, y = {0.0: start}, start
    for times in stretches(parts, outputs):
        net = net_heat(parts, times[-1])

        def residual(t: float, y: Floats, yp: Floats, res: Floats) -> None:
            res[:] = capacities * yp - net(t, y)  # noqa: B023 - used within the loop

        y = closed_apart(net, float(times[0]), y, massless)
        begin = np.zeros(len(capacities))
        begin[massive] = net(float(times[0]), y)[massive] / capacities[massive]
        run = ida.IDA(residual, algebraic_idx=massless, **options).solve(times, y, begin)
        assert run.success, run.message
        found |= reported(times, run.y)
        y = run.y[-1]
    return np.array([found[t] for t in outputs.tolist()])


def closed_apart(net: Rate, time: float, y: Floats, massless: Indices) -> Floats:
    """Massless nodes near their balance, by scipy's trust region, for IDA to begin with."""

    def unbalanced(values: Floats) -> Floats:
        trial = y.copy()
        trial[massless] = values
        return net(time, trial)[massless]

    if len(massless) == 0:
        return y
    near = least_squares(unbalanced, y[massless], bounds=(1.0, 5000.0), xtol=1e-12, ftol=1e-14)
    result = y.copy()
    result[massless] = near.x
    return result


def reported(times: Floats, rows: Floats) -> dict[float, Floats]:
    """Temperatures by instant; with two instants a solver reports every step of its own."""
    if len(times) == 2:
        return {float(times[0]): rows[0], float(times[1]): rows[-1]}
    return dict(zip(times.tolist(), rows, strict=True))


def starts(parts: Sequence[Part], seed: int) -> Floats:
    return np.random.default_rng(seed).uniform(230.0, 330.0, len(free_nodes(parts)))


def ours(parts: Sequence[Part], start: Floats, outputs: Floats) -> Floats:
    """At the same instants, from the record, which has a sample at every known instant."""
    network = build(parts, instants=outputs[outputs < SPAN].tolist())
    beyond = np.full(len(network.boundary), 300.0)
    solution = solved_transient(network, SPAN, start=np.concatenate([start, beyond]))
    record = solution.record
    rows = [int(np.argmin(np.abs(record.time - t))) for t in outputs]
    return np.asarray(record.temperature[rows][:, network.free])


@settings(max_examples=10)
@given(parts=networks(KINDS), seed=st.integers(0, 2**31))
def test_conduction_radiation_and_pulses_agree_with_cvode(
    parts: tuple[Part, ...], seed: int
) -> None:
    outputs, start = np.linspace(0.0, SPAN, OUTPUTS + 1), starts(parts, seed)
    expected = by_cvode(parts, start, outputs)
    np.testing.assert_allclose(ours(parts, start, outputs), expected, atol=0.01)


@settings(max_examples=8)
@given(parts=networks(MORE), seed=st.integers(0, 2**31))
def test_every_law_and_modulation_agrees_with_cvode(parts: tuple[Part, ...], seed: int) -> None:
    outputs, start = np.linspace(0.0, SPAN, OUTPUTS + 1), starts(parts, seed)
    expected = by_cvode(parts, start, outputs)
    np.testing.assert_allclose(ours(parts, start, outputs), expected, atol=0.01)


@settings(max_examples=8)
@given(parts=networks([*KINDS, "massless"]), seed=st.integers(0, 2**31))
def test_massless_nodes_agree_with_ida(parts: tuple[Part, ...], seed: int) -> None:
    """Off the jumps, where a massless node has two temperatures."""
    edges = instants(parts, SPAN)
    outputs = np.linspace(0.0, SPAN, OUTPUTS + 1)
    outputs = np.unique([0.0, *(t for t in outputs if np.abs(t - edges).min() > 1.0)])
    start = starts(parts, seed)
    massive = np.array([node.capacity > 0.0 for node in free_nodes(parts)])
    expected = by_ida(parts, start, outputs)
    found = ours(parts, start, outputs)
    np.testing.assert_allclose(found[1:], expected[1:], atol=0.01)
    np.testing.assert_allclose(found[0, massive], start[massive], atol=1e-9)
