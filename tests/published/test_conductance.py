"""Joints, contacts and simple conductors against what is published, each with how it is known."""

from __future__ import annotations

import math

import pytest

from tests.published.record import Known, Record
from thermnet.model.kinds import contact, fastener
from thermnet.physics import conduction, honeycomb

HANDBOOK = "Gilmore (ed.), Spacecraft Thermal Control Handbook, 2nd ed., chapter 8"
INCROPERA = "Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, table {}"


def record(
    what: str, value: float, unit: str, tolerance: float, source: str, known: Known
) -> Record:
    return Record(
        what=what, inputs={}, value=value, unit=unit, tolerance=tolerance, source=source,
        known=known,
    )  # fmt: skip


FASTENERS = [
    ("screw 2-56", 0.105, 0.21), ("screw 4-40", 0.132, 0.26), ("screw 6-32", 0.176, 0.42),
    ("screw 8-32", 0.264, 0.80), ("screw 10-32", 0.527, 1.32),
    ("screw quarter-inch 28", 1.054, 3.51),
]  # fmt: skip


@pytest.mark.parametrize(("name", "thin", "stiff"), FASTENERS)
def test_a_fastener_conducts_as_its_handbook_says(name: str, thin: float, stiff: float) -> None:
    row = fastener.fastener(name, {})
    assert row.low is not None
    assert row.high is not None
    record("thin plates", thin, "W/K", 1e-9, HANDBOOK, "from memory").check(row.low)
    record("stiff faces", stiff, "W/K", 1e-9, HANDBOOK, "from memory").check(row.high)
    assert row.nominal == pytest.approx(math.sqrt(thin * stiff), rel=5e-3)  # derived


RESISTANCES = [
    ("bare stainless steel at 100 kPa", 6.0, 25.0), ("bare stainless steel at 10 MPa", 0.7, 4.0),
    ("bare copper at 100 kPa", 1.0, 10.0), ("bare copper at 10 MPa", 0.1, 0.5),
    ("bare magnesium at 100 kPa", 1.5, 3.5), ("bare magnesium at 10 MPa", 0.2, 0.4),
    ("bare aluminium at 100 kPa", 1.5, 5.0), ("bare aluminium at 10 MPa", 0.2, 0.4),
    ("epoxy of 20 um", 0.2, 0.9), ("tin solder of 15 um", 0.025, 0.14),
]  # fmt: skip


@pytest.mark.parametrize(("name", "least", "most"), RESISTANCES)
def test_a_contact_is_the_inverse_of_the_published_resistance(
    name: str, least: float, most: float
) -> None:
    """Contact resistances in 1e-4 m2 K/W."""
    row = contact.contact(name, {})
    source = INCROPERA.format("3.1a or 3.2")
    assert row.low is not None
    assert row.high is not None
    for found, resistance in ((row.high, least), (row.low, most)):
        inverse = 1.0 / (resistance * 1e-4)
        record(name, inverse, "W/m2/K", 1e-3 * inverse, source, "from memory").check(found)
    assert row.nominal == pytest.approx(math.sqrt(row.low * row.high), rel=5e-3)  # derived


@pytest.mark.parametrize(
    ("name", "resistance"),
    [
        ("bare aluminium in air", 2.75),
        ("bare aluminium in helium", 1.05),
        ("aluminium with silicone oil", 0.525),
        ("aluminium with indium foil", 0.07),
        ("thermal grease", 0.07),
    ],
)
def test_a_filled_contact_is_the_inverse_of_the_published_resistance(
    name: str, resistance: float
) -> None:
    inverse = 1.0 / (resistance * 1e-4)
    source = INCROPERA.format("3.1b or 3.2")
    found = contact.contact(name, {}).nominal
    record(name, inverse, "W/m2/K", 1e-3 * inverse, source, "from memory").check(found)


def test_a_plated_hole_through_a_board() -> None:
    """0.25 mm, plating of 25 um, 1.6 mm long, copper of 385 W/m/K: 193 K/W."""
    section = 21598e-12  # m2, as its source has it
    resistance = 1.0 / (385.0 * conduction.bar(section, 1.6e-3))
    record("plated hole", 193.0, "K/W", 1.0, "a guide to thermal vias", "second-hand").check(
        resistance
    )


def test_board_spacers_of_laminate() -> None:
    """Four of 6 mm across and 15 mm long, 0.35 W/m/K: 2.64e-3 W/K."""
    found = 4 * 0.35 * conduction.bar(math.pi * 3e-3**2, 15e-3)
    source = "engineering-school course notebook on a small-satellite thermal model"
    record("four spacers", 2.64e-3, "W/K", 5e-6, source, "read").check(found)


def test_a_core_of_a_quarter_inch_through_its_thickness() -> None:
    source = "cell geometry; ECSS-E-HB-31-01 part 4 has the same form, from memory"
    found = honeycomb.core(150.0, 25.4e-6, 6.35e-3).through
    record("core", 1.6, "W/m/K", 1e-9, source, "derived: closed form").check(found)
