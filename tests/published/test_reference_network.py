"""A four-node spacecraft solved apart from this package: root finder to 1e-13 W, implicit
integrator at rtol 1e-10. Known: derived, independent solver; no third party's content."""

from __future__ import annotations

import numpy as np
import pytest

from tests.published.record import Known, Record
from tests.solving import history_of, solved_steady, solved_transient, uniform
from thermnet.account import account
from thermnet.network.build import build
from thermnet.network.parts import RADIATION, BoundaryPart, HeatPart, LinkPart, NodePart, Part
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.solve.solution import Options

SOURCE = "root finder and implicit integrator outside of this package"
KNOWN: Known = "derived: independent solver"
NAMES = ("box", "deck", "radiator", "blanket")
CAPACITIES = {"box": 4000.0, "deck": 9000.0, "radiator": 1500.0, "blanket": 60.0}

STATES = {
    # case: steady, at 3600 s and at 36000 s from 293.15 K everywhere; box, deck, radiator, blanket
    "A": {
        "steady": (251.614214, 240.681416, 231.960418, 96.619681),
        "3600 s": (294.516708, 281.351354, 266.838832, 113.111523),
        "36000 s": (260.280465, 248.855450, 239.129670, 99.946270),
    },
    "B": {
        "steady": (272.060280, 260.543277, 250.652763, 246.697934),
        "3600 s": (297.259164, 284.467290, 270.787243, 247.535019),
        "36000 s": (275.991534, 264.208847, 253.779209, 246.813446),
    },
}


def spacecraft(
    effective: float = 0.02,
    heats: tuple[tuple[str, float], ...] = (("box", 30.0), ("deck", 12.0)),
    fixed: float | None = None,
) -> list[Part]:
    """Conduction in W/K, radiation as area times factor [m2]; `fixed` holds the deck [K]."""
    radiation = [
        ("box", "blanket", effective * 0.6),
        ("deck", "blanket", effective * 1.2),
        ("radiator", "space", 0.85 * 0.25),
        ("blanket", "space", 0.80 * 1.8),
    ]
    held = [BoundaryPart(name="deck", temperature=fixed)] if fixed else []
    capacities = {k: v for k, v in CAPACITIES.items() if not (fixed and k == "deck")}
    return [
        *(NodePart(name=name, capacity=value) for name, value in capacities.items()),
        *held,
        BoundaryPart(name="space", temperature=2.7),
        LinkPart(a="box", b="deck", strength=2.5, origin="box to deck"),
        LinkPart(a="deck", b="radiator", strength=4.0, origin="deck to radiator"),
        *(
            LinkPart(
                a=a,
                b=b,
                strength=STEFAN_BOLTZMANN * k,
                potential=RADIATION,
                origin=f"{a} to {b}",
            )
            for a, b, k in radiation
        ),
        *(HeatPart(node=node, amplitude=watts) for node, watts in heats),
    ]


CASES = {
    "A": (("box", 30.0), ("deck", 12.0)),
    "B": (("box", 30.0), ("deck", 12.0), ("radiator", 8.0), ("blanket", 300.0)),
}


def records(case: str, moment: str, tolerance: float) -> list[Record]:
    return [
        Record(
            what=f"case {case}, {name}, {moment}",
            inputs=dict(CASES[case]),
            value=value,
            unit="K",
            tolerance=tolerance,
            source=SOURCE,
            known=KNOWN,
        )
        for name, value in zip(NAMES, STATES[case][moment], strict=True)
    ]


@pytest.mark.parametrize("case", CASES)
def test_steady_temperatures(case: str) -> None:
    network = build(spacecraft(heats=CASES[case]))
    found = solved_steady(network).temperature[0]
    for name, record in zip(NAMES, records(case, "steady", 1e-6), strict=True):
        record.check(float(found[network.index(name)]))


@pytest.mark.parametrize(("accuracy", "tolerance"), [(0.01, 0.01), (1e-4, 2e-4)])
@pytest.mark.parametrize("case", CASES)
def test_temperatures_on_the_way(case: str, accuracy: float, tolerance: float) -> None:
    network = build(spacecraft(heats=CASES[case]))
    options = Options(outputs=10, accuracy=accuracy)
    solution = solved_transient(network, 36000.0, options, start=uniform(network, 293.15))
    for moment, row in (("3600 s", 1), ("36000 s", 10)):
        for name, record in zip(NAMES, records(case, moment, tolerance), strict=True):
            record.check(float(history_of(network, solution, name)[row]))


FLOWS = {
    "radiator to space": 34.883993,
    "blanket to space": 7.116006957,
    "box to blanket": 2.668005,
    "deck to blanket": 4.448002,
    "box to deck": 27.331995,
}


def test_heat_flows_of_case_a() -> None:
    network = build(spacecraft())
    found = account(network, solved_steady(network)).by_origin()
    for origin, watts in FLOWS.items():
        record = Record(
            what=origin,
            inputs={},
            value=watts,
            unit="W",
            tolerance=6e-7,
            source=SOURCE,
            known=KNOWN,
        )
        record.check(found[origin])
    assert found["radiator to space"] + found["blanket to space"] == pytest.approx(42.0, rel=1e-9)


SWEEP = [
    # effective emittance; heater on the deck that holds it at 273.15 K [W]; box, radiator, blanket
    (0.005, 52.479746, 274.764546, 259.491494, 76.834237),
    (0.010, 55.279860, 274.388003, 259.491494, 91.188196),
    (0.020, 60.748247, 273.660530, 259.491494, 108.013061),
    (0.030, 66.048658, 272.965472, 259.491494, 119.073270),
    (0.050, 76.179856, 271.665024, 259.491494, 134.278213),
]


@pytest.mark.parametrize(("effective", "heater", "box", "radiator", "blanket"), SWEEP)
def test_heater_power_over_blanket_emittance(
    effective: float, heater: float, box: float, radiator: float, blanket: float
) -> None:
    network = build(spacecraft(effective, (("box", 5.0),), fixed=273.15))
    solution = solved_steady(network)
    found = {name: float(solution.temperature[0, network.index(name)]) for name in network.names}
    needed = -sum(entry.amount for entry in account(network, solution).of_node("deck"))
    assert needed == pytest.approx(heater, abs=6e-7)
    expected = {"box": box, "radiator": radiator, "blanket": blanket}
    assert {name: found[name] for name in expected} == pytest.approx(expected, abs=1e-6)


def test_a_massless_blanket_face_hardly_changes_the_history() -> None:
    """60 J/K on the face delay it by seconds: after hours both models agree to 0.02 K."""
    parts = spacecraft()
    light = [NodePart(name="blanket") if getattr(p, "name", "") == "blanket" else p for p in parts]
    with_mass, without = build(parts), build(light)
    options = Options(outputs=10)
    one = solved_transient(with_mass, 36000.0, options, start=uniform(with_mass, 293.15))
    other = solved_transient(without, 36000.0, options, start=uniform(without, 293.15))
    for name in NAMES[:3]:
        np.testing.assert_allclose(
            history_of(with_mass, one, name)[1:],
            history_of(without, other, name)[1:],
            atol=0.05,
        )
