"""The compiled way through time gives the same answers as the array path."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings

from tests.properties.strategies import SPAN, networks
from tests.shipped import cases
from tests.solving import closed, start_at, uniform
from thermnet.model.assemble import assemble
from thermnet.model.read import load
from thermnet.network.build import build
from thermnet.network.network import Network, heat, jacobian
from thermnet.network.parts import (
    CONDUCTION,
    RADIATION,
    BoundaryPart,
    HeatPart,
    LinkPart,
    NodePart,
    Part,
    ThermostatPart,
)
from thermnet.network.primitives import Floats
from thermnet.solve import compiled
from thermnet.solve.events import content_pieces, first_state
from thermnet.solve.march import march
from thermnet.solve.solution import Options, Solution
from thermnet.solve.steady import steady
from thermnet.solve.steps import MarchError
from thermnet.solve.transient import collect, transient

CASES = Path(__file__).parents[2] / "cases"
ARRAYS = Options(compiled=False)
SOME_TIME = 6 * 3600.0


def by_arrays(network: Network, span: float, start: Floats, state: Floats | None) -> Solution:
    rows = march(network, span, start, state, ARRAYS)
    return accounted(network, collect(network, "transient", rows, ARRAYS), state)


def by_kernel(network: Network, span: float, start: Floats, state: Floats | None) -> Solution:
    rows = compiled.march_compiled(network, span, start, state, ARRAYS)
    return accounted(network, collect(network, "transient", rows, ARRAYS), state)


def accounted(network: Network, solution: Solution, state: Floats | None) -> Solution:
    """The account knows states, not the proportional law in time."""
    return solution if state is None else closed(network, solution)


def assert_the_same(a: Solution, b: Solution) -> None:
    """Within the stated accuracy, everywhere; switchings as many."""
    within = ARRAYS.accuracy
    assert np.abs(a.temperature - b.temperature).max() < within
    assert np.abs(a.mean - b.mean).max() < within
    assert np.abs(a.extremes.highest - b.extremes.highest).max() < within
    assert np.abs(a.extremes.lowest - b.extremes.lowest).max() < within
    assert (a.switchings == b.switchings).all()


@pytest.mark.parametrize(("model", "case"), cases())
@pytest.mark.parametrize("ruled", [False, True])
def test_every_shipped_case_has_the_same_history(model: str, case: str, ruled: bool) -> None:
    pytest.importorskip("numba")
    network = assemble(load(CASES / model / "model.yaml"), case)
    start = steady(network, ARRAYS).temperature[0]
    state = None if ruled else first_state(network, start)
    span = min(network.histories.period, SOME_TIME)
    rows = list(march(network, span, start, state, ARRAYS))
    compiled_rows = list(compiled.march_compiled(network, span, start, state, ARRAYS))
    assert sum(len(r.begin) for r in compiled_rows) == sum(len(r.begin) for r in rows)
    first = collect(network, "transient", rows, ARRAYS)
    second = collect(network, "transient", compiled_rows, ARRAYS)
    assert_the_same(first, second)


@settings(max_examples=15, deadline=None)
@given(parts=networks())
def test_drawn_networks_have_the_same_history(parts: tuple[Part, ...]) -> None:
    pytest.importorskip("numba")
    network = build(parts, period=SPAN)
    start = uniform(network, 280.0)
    for state in (None, first_state(network, start)):
        first = by_arrays(network, 1.5 * SPAN, start, state)
        assert_the_same(first, by_kernel(network, 1.5 * SPAN, start, state))


@settings(max_examples=30, deadline=None)
@given(parts=networks())
def test_heat_and_slopes_are_those_of_the_network(parts: tuple[Part, ...]) -> None:
    """The parts of kernels are plain functions as well, and are called as such here."""
    pytest.importorskip("numba")
    from thermnet.solve import compiled_slots as slot
    from thermnet.solve.compiled_curves import set_drive
    from thermnet.solve.compiled_heat import set_heat, set_slopes
    from thermnet.solve.compiled_slots import numbers, places

    network = build(parts, period=SPAN)
    temperature = 250.0 + 7.0 * np.arange(len(network.names))
    flat = compiled.prepare_compiled(network).flat
    node, free = places(flat, slot.NODE), flat.free
    numbers(flat, slot.TEMPERATURE)[:] = temperature[node]
    set_drive(flat, 321.0)
    set_heat(flat, True, int(flat.at[slot.TEMPERATURE]), int(flat.at[slot.HEAT]))
    expected = heat(network, temperature, 321.0)[node]
    scale = max(float(np.abs(expected).max()), 1.0)
    assert np.abs(numbers(flat, slot.HEAT) - expected)[:free].max() < 1e-12 * scale
    set_slopes(flat, True, int(flat.at[slot.TEMPERATURE]), 0.0)
    matrix = numbers(flat, slot.MATRIX).reshape(flat.nodes, flat.nodes)[:free, :free]
    slopes = jacobian(network, temperature, 321.0).toarray()[np.ix_(node, node)][:free, :free]
    assert np.abs(matrix + slopes).max() < 1e-12 * max(float(np.abs(slopes).max()), 1.0)


def test_a_heater_on_a_node_of_constant_loss_switches_at_regular_instants() -> None:
    """Expected: derived, closed form. 100 J/K lose 2 W; 6 W heat from 280 K up to 284 K.

    Falling from 283 K takes 150 s, rising 4 K takes 100 s, falling 4 K takes 200 s.
    """
    pytest.importorskip("numba")
    parts = [
        NodePart(name="box", capacity=100.0),
        HeatPart(node="box", amplitude=-2.0),
        ThermostatPart(node="box", sensor="box", power=6.0, on=280.0, off=284.0),
    ]
    network = build(parts)
    start = start_at(network, box=283.0)
    rows = list(compiled.march_compiled(network, 1000.0, start, np.zeros(1), ARRAYS))
    state = np.concatenate([row.state[:, 0] for row in rows])
    begin = np.concatenate([row.begin for row in rows])
    instants = begin[1:][np.diff(state) != 0.0]
    assert instants == pytest.approx([150.0, 250.0, 450.0, 550.0, 750.0, 850.0], abs=1e-4)


def test_massless_nodes_are_in_balance_at_every_sample() -> None:
    pytest.importorskip("numba")
    parts = [
        NodePart(name="box", capacity=500.0),
        NodePart(name="foil"),
        NodePart(name="cover"),
        BoundaryPart(name="space", temperature=3.0),
        LinkPart(a="box", b="foil", strength=0.05, potential=CONDUCTION),
        LinkPart(a="foil", b="cover", strength=2e-10, potential=RADIATION),
        LinkPart(a="cover", b="space", strength=4e-9, potential=RADIATION),
        HeatPart(node="box", amplitude=5.0),
        HeatPart(node="cover", amplitude=1.0),
    ]
    network = build(parts)
    rows = list(
        compiled.march_compiled(network, 5000.0, uniform(network, 290.0), np.zeros(0), ARRAYS)
    )
    samples = np.concatenate([row.temperature.reshape(-1, 4) for row in rows])
    for temperature in samples[::7]:
        net = heat(network, temperature, 0.0)[1:3]
        slope = jacobian(network, temperature, 0.0).diagonal()[1:3]
        assert np.abs(net / slope).max() < 1e-5


def test_a_massless_sensor_is_refused_in_the_same_words() -> None:
    pytest.importorskip("numba")
    parts = [
        NodePart(name="box", capacity=100.0),
        NodePart(name="foil"),
        BoundaryPart(name="sink", temperature=250.0),
        LinkPart(a="box", b="foil", strength=1.0),
        LinkPart(a="foil", b="sink", strength=1.0),
        ThermostatPart(node="box", sensor="foil", power=6.0, on=280.0, off=284.0),
    ]
    network, state = build(parts), np.zeros(1)
    start = uniform(network, 282.0)
    with pytest.raises(MarchError) as expected:
        list(march(network, 10.0, start, state, ARRAYS))
    with pytest.raises(MarchError) as found:
        list(compiled.march_compiled(network, 10.0, start, state, ARRAYS))
    assert str(found.value) == str(expected.value)


def test_too_many_switchings_end_with_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("numba")
    monkeypatch.setattr(compiled, "MOST_SWITCHINGS", 10)
    parts = [
        NodePart(name="box", capacity=100.0),
        HeatPart(node="box", amplitude=-2.0),
        ThermostatPart(node="box", sensor="box", power=6.0, on=280.0, off=280.1),
    ]
    network = build(parts)
    rows = compiled.march_compiled(network, 1000.0, uniform(network, 280.05), np.zeros(1), ARRAYS)
    with pytest.raises(MarchError, match=r"more than 10 switchings by .* widen the band"):
        list(rows)


def test_temperatures_without_bound_end_with_the_sentence_of_the_array_path() -> None:
    """Heat that grows with the square of the temperature has an infinite one in finite time."""
    pytest.importorskip("numba")
    parts = [
        NodePart(name="box", capacity=1.0),
        BoundaryPart(name="sink", temperature=1.0),
        LinkPart(a="box", b="sink", strength=1e-3, potential=RADIATION),
        HeatPart(node="box", amplitude=-1e3),
    ]
    network = build(parts)
    start = uniform(network, 300.0)
    with pytest.raises(MarchError) as expected:
        list(march(network, 1e4, start, np.zeros(0), ARRAYS))
    with pytest.raises(MarchError) as found:
        list(compiled.march_compiled(network, 1e4, start, np.zeros(0), ARRAYS))
    assert str(found.value)[:40] == str(expected.value)[:40]


def test_a_melting_node_passes_the_corners_of_its_heat_content() -> None:
    pytest.importorskip("numba")
    from thermnet.physics.curves import Curve

    content = Curve(
        x=np.array([200.0, 300.0, 301.0, 400.0]),
        y=np.array([0.0, 1e4, 6e4, 7e4]),
        extend=True,
    )
    parts = [NodePart(name="wax", content=content), HeatPart(node="wax", amplitude=10.0)]
    network = build(parts)
    start = start_at(network, wax=290.0)
    assert content_pieces(network, start)[0] == 0
    # Derived, closed form: 1000 J to 300 K, 50,000 J to 301 K, 1000 J more at 10000/99 J/K.
    solution = by_kernel(network, 5200.0, start, np.zeros(0))
    assert solution.temperature[-1, 0] == pytest.approx(301.0 + 1000.0 * 99.0 / 1e4, abs=1e-3)


def test_without_numba_the_kernel_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(compiled, "find_spec", lambda _: None)
    assert not compiled.available()
    network = build(
        [
            NodePart(name="unit", capacity=1000.0),
            BoundaryPart(name="sink", temperature=250.0),
            LinkPart(a="unit", b="sink", strength=2.0),
        ]
    )
    solution = transient(network, 600.0)
    assert "the extra 'fast' would compile it" in solution.stats.method
    assert "fast" not in transient(network, 600.0, ARRAYS).stats.method


def test_large_networks_are_left_to_the_array_path() -> None:
    names = [f"n{k}" for k in range(compiled.MOST_NODES + 1)]
    assert not compiled.suits(build([NodePart(name=name, capacity=1.0) for name in names]))


def test_numba_is_imported_only_to_march() -> None:
    text = "import sys, thermnet.solve.compiled, thermnet.solve.many; print('numba' in sys.modules)"
    run = subprocess.run(
        [sys.executable, "-c", text], capture_output=True, text=True, check=True, timeout=120
    )
    assert run.stdout.strip() == "False"
