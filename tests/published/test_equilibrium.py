"""Equilibrium temperatures and radiators: one node that gains heat and radiates it."""

from __future__ import annotations

import math

import pytest

from tests.published.record import SIGMA_TEXTBOOK, Record
from tests.solving import solved_steady, steady_temperatures
from thermnet.account import account
from thermnet.network.build import build
from thermnet.network.parts import RADIATION, BoundaryPart, HeatPart, LinkPart, NodePart
from thermnet.physics.constants import STEFAN_BOLTZMANN

ENERGY = "absorbed = radiated, with sigma 5.670374419e-8 and 1361 W/m2"


def settled(absorbed: float, radiating: float, sigma: float = STEFAN_BOLTZMANN) -> float:
    """Temperature [K] of a node that takes up `absorbed` W and radiates from `radiating` m2."""
    return steady_temperatures(
        [
            NodePart(name="body", capacity=1.0),
            BoundaryPart(name="space", temperature=0.0),
            LinkPart(a="body", b="space", strength=sigma * radiating, potential=RADIATION),
            HeatPart(node="body", amplitude=absorbed),
        ]
    )["body"]


def derived(what: str, value: float, **inputs: float) -> Record:
    return Record(
        what=what,
        inputs=inputs,
        value=value,
        unit="K",
        tolerance=6e-4,
        source=ENERGY,
        known="derived: closed form",
    )


IN_THE_SUN = [
    derived("black sphere", 278.321, absorptance=1, emittance=1, facing=math.pi, whole=4 * math.pi),
    derived("black plate, back insulated", 393.606, absorptance=1, emittance=1, facing=1, whole=1),
    derived("black plate, both sides", 330.982, absorptance=1, emittance=1, facing=1, whole=2),
    derived("black cube, one face lit", 251.492, absorptance=1, emittance=1, facing=1, whole=6),
    derived("plate of 0.2 / 0.9", 270.245, absorptance=0.2, emittance=0.9, facing=1, whole=1),
]


@pytest.mark.parametrize("record", IN_THE_SUN, ids=str)
def test_a_body_in_the_sun_without_a_planet(record: Record) -> None:
    given = record.inputs
    absorbed = 1361.0 * given["absorptance"] * given["facing"]
    record.check(settled(absorbed, given["emittance"] * given["whole"]))


TEXTBOOK = [
    Record(
        what="surface of absorptance 0.3, emittance 0.8 under 950 W/m2",
        inputs={"absorbed": 0.3 * 950.0, "radiating": 0.8},
        value=281.5,
        unit="K",
        tolerance=0.05,
        source="Cengel, Heat and Mass Transfer, chapter 1 problem",
        known="from memory",
    ),
    Record(
        what="probe of 0.5 m diameter, 150 W inside, emittance 0.8",
        inputs={"absorbed": 150.0, "radiating": 0.8 * math.pi * 0.5**2},
        value=254.7,
        unit="K",
        tolerance=0.05,
        source="Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, chapter 1 problem",
        known="from memory",
    ),
]


@pytest.mark.parametrize("record", TEXTBOOK, ids=str)
def test_textbook_equilibrium_temperatures(record: Record) -> None:
    record.check(settled(record.inputs["absorbed"], record.inputs["radiating"], SIGMA_TEXTBOOK))


# A sphere at 500 km, sub-solar: solar 340.25, albedo 127.736 and planet infrared 74.145 W for
# every m2 of its surface, were it black. The factor to the planet is that of a small sphere.
SUN, ALBEDO, PLANET = 340.25, 127.736, 74.145
LOW_ORBIT = [
    derived("sphere of equal absorptance and emittance", 312.697, solar=1.0, infrared=1.0, lit=1.0),
    derived("the same sphere in shadow", 190.159, solar=1.0, infrared=1.0, lit=0.0),
    derived("sphere of 0.2 / 0.9", 236.749, solar=0.2, infrared=0.9, lit=1.0),
]


@pytest.mark.parametrize("record", LOW_ORBIT, ids=str)
def test_a_sphere_in_low_orbit(record: Record) -> None:
    height = 6378.137 / (6378.137 + 500.0)
    factor = (1.0 - math.sqrt(1.0 - height**2)) / 2.0
    assert pytest.approx(1361.0 / 4.0, abs=0.001) == SUN
    assert pytest.approx(0.3 * 1361.0 * factor, abs=0.01) == ALBEDO
    assert pytest.approx(237.0 * factor, abs=0.01) == PLANET
    given = record.inputs
    absorbed = given["lit"] * given["solar"] * (SUN + ALBEDO) + given["infrared"] * PLANET
    record.check(settled(absorbed, given["infrared"]))


def test_net_radiant_loss_of_a_satellite_disc() -> None:
    """Two faces of emittance 0.3 at -18 degC, one of which sees the Earth, black, at 27 degC.

    The source counts these as 255 and 300 K.
    """
    record = Record(
        what="net loss of a disc of 1 m at 300 km",
        inputs={"factor": (6250.0 / 6550.0) ** 2, "emittance": 0.3},
        value=14.448,
        unit="W",
        tolerance=0.001,
        source="Sukhatme, A Textbook on Heat Transfer, example 3.14; sigma 5.670e-8; the inputs "
        "seen in a worked solution, the printed answer not",
        known="second-hand",
    )
    area, factor = math.pi / 4.0, record.inputs["factor"]
    strength = SIGMA_TEXTBOOK * area * record.inputs["emittance"]
    # The disc is what is held here: the heat that holds it is the net loss.
    network = build(
        [
            BoundaryPart(name="disc", temperature=255.0),
            BoundaryPart(name="Earth", temperature=300.0),
            BoundaryPart(name="space", temperature=0.0),
            LinkPart(a="disc", b="Earth", strength=strength * factor, potential=RADIATION),
            LinkPart(a="disc", b="space", strength=strength * (2 - factor), potential=RADIATION),
        ]
    )
    entries = account(network, solved_steady(network)).of_node("disc")
    record.check(-sum(entry.amount for entry in entries))


def radiator(what: str, temperature: float, area: float, **inputs: float) -> Record:
    return Record(
        what=f"{what} at {temperature} K",
        inputs={"area": area, **inputs},
        value=temperature,
        unit="K",
        tolerance=2e-4,
        source="A = Q / (emittance sigma T^4 - absorptance 1361 W/m2) for Q = 100 W",
        known="derived: closed form",
    )


RADIATORS = [
    radiator("black paint in shade", 293.15, 0.280938, emittance=0.85, absorptance=0.0),
    radiator("black paint in shade", 313.15, 0.215754, emittance=0.85, absorptance=0.0),
    radiator("mirror tiles in full Sun", 293.15, 0.502733, emittance=0.8, absorptance=0.1),
    radiator("mirror tiles in full Sun", 313.15, 0.333193, emittance=0.8, absorptance=0.1),
]


@pytest.mark.parametrize("record", RADIATORS, ids=str)
def test_a_radiator_of_the_computed_area_holds_its_temperature(record: Record) -> None:
    given = record.inputs
    absorbed = 100.0 + given["absorptance"] * 1361.0 * given["area"]
    record.check(settled(absorbed, given["emittance"] * given["area"]))


def test_ten_percent_more_radiator_is_2_35_percent_colder() -> None:
    """1.1^(-1/4) of T: 293.15 K becomes 286.25 K; derived: closed form."""
    before, after = settled(100.0, 0.85 * 0.280938), settled(100.0, 0.85 * 0.280938 * 1.1)
    assert after / before == pytest.approx(1.1**-0.25, rel=1e-9)
    assert after == pytest.approx(286.25, abs=0.005)
