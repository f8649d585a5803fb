"""The benchmarks' other ways to solve agree with ours, so that their times mean something."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import numpy as np
import pytest

from tests.benchmarks import peers
from tests.benchmarks.circuit import by_circuit, has_circuit_simulator
from tests.benchmarks.files import as_arrays, as_entries, as_tables
from tests.benchmarks.measure import TARGET, Case, options
from tests.benchmarks.models import PERIOD, SHARES, SKETCHES, parts_of
from tests.benchmarks.sundials import by_cvode
from tests.solving import closed
from thermnet.model.assemble import assemble
from thermnet.model.read import load
from thermnet.solve.steady import steady

SATELLITE = "sat30 without thermostats"
TIGHT = {"rtol": 1e-6, "atol": 1e-4}


def case_of(name: str) -> Case:
    return Case(name=name, parts=parts_of(name))


@pytest.mark.parametrize("name", [SATELLITE, "p96"])
def test_root_finders_find_our_steady_state(name: str) -> None:
    case = case_of(name)
    closed(case.network, steady(case.network))
    model = case.plain
    found = {
        "LAPACK": peers.by_newton(model, dense=True)[0],
        "SuperLU": peers.by_newton(model, dense=False)[0],
        "newton_krylov": peers.by_newton_krylov(model),
        "root": peers.by_root(model, 293.0).x,
    }
    for who, temperature in found.items():
        assert case.error(temperature, case.free) < 1e-4, who


@pytest.mark.parametrize("name", [SATELLITE, "p96"])
def test_integrators_follow_our_history(name: str) -> None:
    case, times = case_of(name), peers.outputs(1)
    solution = closed(case.network, case.transient(1, options(1)))
    for run in (peers.by_scipy, partial(peers.by_scipy, method="LSODA")):
        course = run(case.plain, case.free, times, **TIGHT)
        assert case.error(course.temperature, case.outputs(solution)) < TARGET


def test_cvode_follows_our_history_with_either_linear_solver() -> None:
    pytest.importorskip("sksundae.cvode", reason="scikit-sundae is not installed")
    case, times = case_of("p96"), peers.outputs(1)
    ours = case.outputs(case.transient(1, options(1)))
    dense = by_cvode(case.plain, case.free, times, linear="dense", **TIGHT)
    iterated = by_cvode(case.plain, case.free, times, linear="gmres", **TIGHT)
    assert case.error(dense.temperature, ours) < TARGET
    assert case.error(iterated.temperature, ours) < TARGET


def test_events_by_hand_switch_as_often_as_our_thermostats() -> None:
    case = case_of("sat30")
    solution = closed(case.network, case.transient(1, options(1)))
    course = peers.by_scipy(case.plain, case.free, peers.outputs(1), method="LSODA", **TIGHT)
    assert course.switchings == int(solution.switchings.sum()) > 0
    assert case.error(course.temperature, case.outputs(solution)) < TARGET


@pytest.mark.skipif(not has_circuit_simulator(), reason="ngspice is not installed")
def test_the_satellite_follows_its_circuit() -> None:
    """To 0.05 K from the first output on: a jump of the circuit takes a microsecond."""
    case = case_of(SATELLITE)
    ours = case.outputs(case.transient(1, options(1)))
    course = by_circuit(case.plain, case.free, peers.outputs(1), reltol=1e-6)
    assert case.error(course.temperature[1:], ours[1:]) < 0.05


def test_heat_has_two_jumps_and_four_kinks_an_orbit() -> None:
    stretches = list(case_of("p96").plain.stretches(0.0, PERIOD, PERIOD))
    edges = [stretch.begin for stretch in stretches]
    np.testing.assert_allclose(edges, PERIOD * np.unique(SHARES)[:-1])
    ends = [
        np.abs(later.first - before.heat(before.end)).max()
        for before, later in zip(stretches[:-1], stretches[1:], strict=True)
    ]
    jumps = [edge for edge, size in zip(edges[1:], ends, strict=True) if size > 1e-6]
    np.testing.assert_allclose(jumps, [0.4 * PERIOD, 0.78 * PERIOD])


def test_files_hold_the_same_model_as_the_parts(tmp_path: Path) -> None:
    """As entries, as tables and as arrays."""
    sketch = SKETCHES[SATELLITE]()
    expected = steady(case_of(SATELLITE).network).temperature
    path = tmp_path / "model.yaml"
    for text in (as_entries(sketch), as_tables(sketch)):
        path.write_text(text, encoding="utf-8")
        found = steady(assemble(load(path), "orbit")).temperature
        np.testing.assert_allclose(found, expected, atol=1e-9)
    found = steady(assemble(load(as_arrays(sketch, tmp_path)), "orbit")).temperature
    np.testing.assert_allclose(found, expected, atol=1e-9)
