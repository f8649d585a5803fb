"""The independent answers themselves: against closed forms, and against what the cases promise."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
import yaml

from tests.cases_bare import (
    bare,
    battery,
    bench_top,
    deep_space_probe,
    lunar_orbiter,
    mars_lander,
    mars_lander_days,
    mars_orbiter,
    microsatellite,
    orbiter,
)
from tests.cases_bare.bare import Array, Arrays
from tests.full import first_of, only_in_full

LANDER = {
    "plate": "louvered plate", "blanket": "tank blanket", "liquid 0": "liquid at electronics",
    "liquid 1": "liquid at louvers", "ring 0": "baffle 0", "ring 1": "baffle 1",
    "ring 2": "baffle 2", "ring 3": "baffle 3", "foot": "seismometer/foot",
    "sphere": "seismometer/sphere", "board": "seismometer/board", "strap 0": "strap, first end",
    "strap 1": "strap, second end", "vapour": "radiator, vapour", "sheet": "tank, sheet 2",
}  # fmt: skip
"""What the model calls the nodes of the bare lander."""

CASES = Path(__file__).parents[2] / "cases"

ORBITERS: dict[str, tuple[ModuleType, tuple[str, ...]]] = {
    "lunar_orbiter": (lunar_orbiter, ("cold", "safe")),
    "mars_orbiter": (mars_orbiter, ("safe",)),
}
"""The small orbiters, and their cases that are solved as steady ones."""


def expected(model: str, case: str) -> list[dict[str, Any]]:
    text = (CASES / model / "expected.yaml").read_text(encoding="utf-8")
    return [entry for entry in yaml.safe_load(text)["expected"] if entry["case"] == case]


def test_thermostat_cycle_of_a_linear_node_matches_its_closed_form() -> None:
    # C dT/dt = 30 W * state - 0.5 W/K (T - 250 K), band 273.15 to 278.15 K, C 2000 J/K: 583.273 s
    # on and 782.210 s off (derived: closed form, confirmed by a separate integration).
    node = Arrays(
        names=("node",),
        capacity=np.array([2000.0]),
        conduction=np.array([[-0.5]]),
        radiation=np.zeros((1, 1)),
        space=np.array([0.5 * 250.0]),
        heats=[],
        histories={},
        heated=[0],
        enabled=[""],
        power=np.array([30.0]),
        on=np.array([273.15]),
        off=np.array([278.15]),
    )
    start = np.array([273.15])
    run = bare.run(node, temperature=start, instants=[0.0, 100.0 * (583.273 + 782.210)])
    edges = np.concatenate([[0.0], run.switchings[0]])
    assert np.diff(edges)[::2] == pytest.approx(583.273, abs=1e-3)
    assert np.diff(edges)[1::2] == pytest.approx(782.210, abs=1e-3)


def test_a_massless_shield_carries_the_heat_of_its_two_gaps_in_series() -> None:
    T, duty = bench_top.steady(30.0)
    # The shield is the series of 0.003 and 0.048 m2 (derived: closed form).
    by_shield = bare.SIGMA / (1 / 0.003 + 1 / 0.048) * (T[2] ** 4 - 100.0**4)
    directly = bare.SIGMA * 0.068 * (T[2] ** 4 - 100.0**4)
    assert by_shield + directly == pytest.approx(30.0, rel=1e-7)
    assert duty[0] == 0.0


def test_a_massless_face_balances_heat_that_comes_by_several_powers_of_temperature() -> None:
    # From 300 K to a face at 150 K: 0.02 W/K, 1e-5 W/K^2 and 1e-12 W/K^4.67; the face radiates all
    # of it (derived: balance).
    terms = {1.0: 0.02, 2.0: 1e-5, 4.67: 1e-12}
    heat = sum(strength * (300.0**p - 150.0**p) for p, strength in terms.items())
    by_power = {p: np.zeros((2, 2)) for p in terms}
    for p, strength in terms.items():
        bare.connect(by_power[p], 0, 1, strength)
    conduction = by_power.pop(1.0)
    nodes = Arrays(
        names=("body", "face"),
        capacity=np.array([1e3, 0.0]),
        conduction=conduction,
        radiation=np.diag([0.0, -heat / 150.0**4]),
        space=np.zeros(2),
        heats=[(0, heat, "")],
        histories={},
        heated=[],
        enabled=[],
        power=np.zeros(0),
        on=np.zeros(0),
        off=np.zeros(0),
        powers=by_power,
    )
    settled, _ = bare.steady(nodes, guess=np.array([250.0, 100.0]))
    assert settled == pytest.approx([300.0, 150.0], rel=1e-8)
    run = bare.run(nodes, temperature=settled, instants=[0.0, 1e4])
    assert run.lowest == pytest.approx([300.0, 150.0], rel=1e-7)


def test_a_battery_is_full_again_after_the_time_of_its_energy_balance() -> None:
    # 30 W for 2000 s in shadow, then cells of 100 W: (30 * 2000 / 0.97) / (0.95 * 70 W) = 930.16 s
    # (derived: energy balance); then they give the demand alone.
    store = battery.Battery(capacity=3.6e5, charged=0.95, discharged=0.97)
    time = np.array([0.0, 2000.0, 2000.0, 5000.0])
    cells = np.array([0.0, 0.0, 100.0, 100.0])
    found = battery.charge(store, time, cells, np.full(3, 30.0), store.capacity)
    assert battery.turns(found) == pytest.approx([2000.0 + 930.1605], abs=1e-3)
    assert found.taken.tolist() == [0.0, 100.0, 30.0]
    assert found.losses[:2] == pytest.approx([30.0 / 0.97 * 0.03, 0.05 * 70.0])
    assert found.energy[1] == pytest.approx(3.6e5 - 30.0 * 2000.0 / 0.97)


def test_heat_that_goes_with_temperature_acts_as_a_link_of_its_own() -> None:
    # 100 J/K, 20 W - 0.5 W/K T: settles at 40 K and is there but for 1/e after 200 s (closed form).
    node = Arrays(
        names=("node",),
        capacity=np.array([100.0]),
        conduction=np.zeros((1, 1)),
        radiation=np.zeros((1, 1)),
        space=np.array([20.0]),
        heats=[],
        histories={},
        heated=[],
        enabled=[],
        power=np.zeros(0),
        on=np.zeros(0),
        off=np.zeros(0),
        linear=[(0, -0.5, "")],
        traced=("node",),
    )
    run = bare.run(node, temperature=np.array([140.0]), instants=[0.0, 200.0])
    assert run.temperature == pytest.approx([40.0 + 100.0 / np.e], abs=1e-5)
    assert run.trace[0, -1] == run.temperature[0]


def assert_as_promised(
    entries: list[dict[str, Any]], names: tuple[str, ...], values: dict[str, Array]
) -> None:
    nodes = [entry for entry in entries if "node" in entry]
    assert nodes
    for entry in nodes:
        kelvin = values[entry["quantity"]][names.index(entry["node"])]
        assert kelvin - bare.ZERO_CELSIUS == pytest.approx(entry["value"], abs=entry["tolerance"])


@pytest.mark.parametrize(("case", "watts"), [("warm", 30.0), ("cold", 12.0)])
def test_bench_top_answers_are_those_promised(case: str, watts: float) -> None:
    T, _ = bench_top.steady(watts)
    assert_as_promised(expected("bench_top", case), bench_top.NAMES, {"mean": T})


@pytest.mark.parametrize("case", ["hot", "cold"])
def test_deep_space_probe_answers_are_those_promised(case: str) -> None:
    T, _ = deep_space_probe.steady(case)
    assert_as_promised(expected("deep_space_probe", case), deep_space_probe.NAMES, {"mean": T})


@only_in_full  # tests/test_cases.py holds the same answers against the model
def test_microsatellite_answers_are_those_promised_hot() -> None:
    guess = np.full(len(microsatellite.NAMES), 290.0)
    T, drawn = microsatellite.settled("hot", guess=guess)
    run = microsatellite.run("hot", temperature=T, drawn=drawn)
    values = {"lowest": run.lowest, "mean": run.mean, "highest": run.highest}
    assert_as_promised(expected("microsatellite", "hot"), microsatellite.NAMES, values)


@pytest.mark.parametrize(
    ("name", "case"),
    first_of((name, case) for name, (_, cases) in ORBITERS.items() for case in cases),
)
def test_an_orbiter_s_steady_answers_at_the_mean_heat_are_those_promised(
    name: str, case: str
) -> None:
    module, _ = ORBITERS[name]
    T, duty = orbiter.steady(module.CRAFT, module.CASES[case])
    entries = expected(name, case)
    assert_as_promised(entries, tuple(module.NODES), {"mean": T})
    heated = [node for node, *_ in module.HEATERS]
    for entry in entries:
        if "heater" in entry:
            found = duty[heated.index(entry["heater"])]
            assert found == pytest.approx(entry["value"], abs=entry["tolerance"])


@pytest.mark.parametrize("name", first_of(ORBITERS, keep=0))
def test_an_orbiter_s_hot_answers_are_those_promised(name: str) -> None:
    module, _ = ORBITERS[name]
    a = orbiter.arrays(module.CRAFT, module.CASES["hot"])
    instants = orbiter.instants(a)
    T = bare.periodic(a, guess=np.full(len(a.names), 290.0), instants=instants)
    run = bare.run(a, temperature=T, instants=instants)
    values = {"lowest": run.lowest, "mean": run.mean, "highest": run.highest}
    assert_as_promised(expected(name, "hot"), a.names, values)


def assert_lander_as_promised(case: str) -> None:
    names = tuple(LANDER.get(name, name) for name in mars_lander.NODES)
    found = np.array(list(mars_lander_days.answer(case).values())) + bare.ZERO_CELSIUS
    values = dict(zip(("lowest", "mean", "highest"), found.T, strict=True))
    assert_as_promised(expected("mars_lander", case), names, values)


def test_the_lander_s_steady_answers_are_those_promised() -> None:
    assert_lander_as_promised("storage")


@only_in_full
@pytest.mark.parametrize("case", ["landed", "orbit", "firing"])
def test_the_lander_s_answers_over_time_are_those_promised(case: str) -> None:
    assert_lander_as_promised(case)
