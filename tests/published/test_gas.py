"""Gas between parallel faces and between the layers of a blanket, against published numbers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.published.record import Known, Record
from tests.solving import solved_steady
from thermnet.account import account
from thermnet.model.between import Between
from thermnet.model.kinds.blanket_gas import gas_links
from thermnet.model.kinds.gas import library
from thermnet.network.build import build
from thermnet.network.parts import BoundaryPart, LinkPart, Part
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.physics.gas import GasFacts, conductivity, free_molecular, mean_free_path


def taking_all(name: str) -> GasFacts:
    """A gas of the library whose molecules give up all of the difference in energy."""
    return replace(library()[name], accommodation=1.0)


KINETIC = "a (g + 1)/(g - 1) sqrt(R/(8 pi M T)) at 300 K, a = 1; constants of CODATA 2018"


def coefficient(gas: str, value: float) -> Record:
    return Record(
        what=gas,
        inputs={"gauge": 300.0},
        value=value,
        unit="W/m2/K/Pa",
        tolerance=2e-5 * value,
        source=KINETIC,
        known="derived: closed form",
    )


COEFFICIENTS = [
    coefficient("nitrogen", 1.19043),
    coefficient("air", 1.17071),
    coefficient("helium", 2.09955),
    coefficient("hydrogen", 4.43767),
]


@pytest.mark.parametrize("record", COEFFICIENTS, ids=str)
def test_free_molecular_conductance_for_each_pascal(record: Record) -> None:
    record.check(free_molecular(taking_all(record.what), record.inputs["gauge"]))


FROM_MEMORY = [("nitrogen", 1.19, 0.01), ("air", 1.17, 0.01), ("helium", 2.10, 0.01)]


@pytest.mark.parametrize(("gas", "printed", "tolerance"), FROM_MEMORY)
def test_free_molecular_conductance_of_a_cryogenic_textbook(
    gas: str, printed: float, tolerance: float
) -> None:
    record = Record(
        what=gas,
        inputs={"gauge": 300.0},
        value=printed,
        unit="W/m2/K/Pa",
        tolerance=tolerance,
        source="Barron, Cryogenic Systems",
        known="from memory",
    )
    record.check(free_molecular(taking_all(gas), record.inputs["gauge"]))


def test_mean_free_path_of_nitrogen_of_hard_spheres() -> None:
    """Ours comes from the conductivity, not from a diameter: two ways to the same length."""
    record = Record(
        what="mean free path of nitrogen at 1 Pa and 300 K",
        inputs={"diameter": 3.7e-10},
        value=6.81e-3,
        unit="m",
        tolerance=0.03 * 6.81e-3,
        source="kB T/(sqrt(2) pi d^2 P) for a molecule of 3.7e-10 m",
        known="derived: closed form",
    )
    record.check(mean_free_path(library()["nitrogen"], 300.0, 1.0))


HANDBOOK = "CRC Handbook of Chemistry and Physics, thermal conductivity of gases"
CORRELATIONS = {
    "air": "Lemmon and Jacobsen, 2004",
    "nitrogen": "Lemmon and Jacobsen, 2004",
    "argon": "Lemmon and Jacobsen, 2004",
    "helium": "Hands and Arp, 1981",
    "hydrogen": "Assael and others, 2011",
    "carbon dioxide": "Huber and others, 2016",
}


def dense(gas: str, at: float, value: float, tolerance: float, known: Known) -> Record:
    evaluated = f"{CORRELATIONS[gas]}, as an open library of fluid properties evaluates it"
    return Record(
        what=f"{gas} at {at:g} K",
        inputs={"at": at},
        value=value * 1e-3,
        unit="W/m/K",
        tolerance=tolerance * value * 1e-3,
        source=HANDBOOK if known == "from memory" else evaluated,
        known=known,
    )


CONDUCTIVITIES = [
    *(dense("air", at, k, 0.02, "from memory") for at, k in ((300, 26.2), (400, 33.3))),
    *(dense("nitrogen", at, k, 0.03, "from memory") for at, k in ((200, 18.7), (300, 26.0))),
    *(dense("argon", at, k, 0.03, "from memory") for at, k in ((200, 12.4), (300, 17.9))),
    *(dense("helium", at, k, 0.03, "from memory") for at, k in ((100, 75.5), (300, 156.7))),
    *(dense("hydrogen", at, k, 0.03, "from memory") for at, k in ((100, 68.6), (300, 186.9))),
    *(dense("carbon dioxide", at, k, 0.02, "from memory") for at, k in ((200, 9.6), (300, 16.8))),
    *(dense("air", at, k, 0.06, "second-hand") for at, k in ((150, 14.08), (1000, 67.67))),
    dense("air", 80.0, 7.36, 0.15, "second-hand"),
    *(dense("nitrogen", at, k, 0.05, "second-hand") for at, k in ((80, 7.30), (1000, 65.35))),
    *(dense("argon", at, k, 0.04, "second-hand") for at, k in ((150, 9.54), (1000, 43.57))),
    dense("argon", 84.0, 5.29, 0.09, "second-hand"),
    *(dense("helium", at, k, 0.06, "second-hand") for at, k in ((20, 26.07), (1000, 360.54))),
    *(dense("hydrogen", at, k, 0.06, "second-hand") for at, k in ((20, 15.53), (400, 230.98))),
    dense("hydrogen", 1000.0, 460.32, 0.25, "second-hand"),
    *(
        dense("carbon dioxide", at, k, 0.02, "second-hand")
        for at, k in ((200, 9.58), (400, 24.67), (700, 48.80))
    ),
]
"""The tolerances are those that the sources of the library's rows state."""


@pytest.mark.parametrize("record", CONDUCTIVITIES, ids=str)
def test_conductivity_of_dense_gases(record: Record) -> None:
    gas = library()[record.what.rpartition(" at ")[0]]
    record.check(float(conductivity(gas, np.array(record.inputs["at"]))))


def held(links: tuple[Part, ...], hot: float, cold: float) -> float:
    """Heat [W] between two faces that are held at their temperatures [K]."""
    faces = [BoundaryPart(name="hot", temperature=hot), BoundaryPart(name="cold", temperature=cold)]
    network = build([*faces, *links])
    entries = account(network, solved_steady(network)).of_node("hot")
    return -sum(entry.amount for entry in entries)


def through_gas(
    gas: GasFacts, pressure: float, *, layers: int, thickness: float, hot: float, cold: float
) -> float:
    """Heat flux [W/m2] through the gas between layers, solved."""
    gaps = layers + 1
    links = gas_links(
        Between(gas=gas, pressure=pressure),
        a="hot",
        b="cold",
        strength=1.0 / gaps,
        gap=thickness / gaps,
        origin="gas",
    )
    return held(links, hot, cold)


SPOILED = [(0.2, 0.002), (0.5, 0.005), (1.0, 0.01), (2.0, 0.02)]


@pytest.mark.parametrize(("pressure", "emittance"), SPOILED)
def test_pressure_at_which_gas_leads_as_much_as_a_blanket_of_an_effective_emittance(
    pressure: float, emittance: float
) -> None:
    """21 gaps, a = 1, for a small difference about 293 K: 4 sigma T^3 eps = c P/21.

    Layers 2 um apart keep the molecules free of each other.
    """
    gas = taking_all("nitrogen")
    gaps, hot, cold = 21, 293.5, 292.5
    record = Record(
        what=f"gas at {pressure} Pa against an effective emittance of {emittance}",
        inputs={"gaps": gaps},
        value=STEFAN_BOLTZMANN * emittance * (hot**4 - cold**4),
        unit="W/m2",
        tolerance=0.01 * STEFAN_BOLTZMANN * emittance * (hot**4 - cold**4),
        source="free molecules through 21 gaps in series",
        known="derived: closed form",
    )
    record.check(free_molecular(gas, 293.0) * pressure / gaps * (hot - cold))
    found = through_gas(gas, pressure, layers=gaps - 1, thickness=gaps * 2e-6, hot=hot, cold=cold)
    record.check(found)


THIRTY_LAYERS = Record(
    what="30 layers of 4.3 layers/mm between 293 and 78 K in nitrogen at 13.33 Pa",
    inputs={"pressure": 13.33, "hot": 293.0, "cold": 78.0, "density": 4300.0},
    value=52.0,
    unit="W/m2",
    tolerance=52.0,
    source="Fesmire, Augustynowicz and Darve, ICEC19, 2003: 0.87 W/m2 at 0.0015 Pa and about 60 "
    "times more at 13.33 Pa, measured",
    known="second-hand",
)


def test_a_published_blanket_in_poor_vacuum_is_met_within_a_factor_of_two() -> None:
    """No number is fitted: kinetic theory in the middle of its transition, accommodation 1."""
    given = THIRTY_LAYERS.inputs
    found = through_gas(
        library()["nitrogen"],
        given["pressure"],
        layers=30,
        thickness=30 / given["density"],
        hot=given["hot"],
        cold=given["cold"],
    )
    THIRTY_LAYERS.check(found)
    assert found > THIRTY_LAYERS.value / 2.0


def test_free_molecules_alone_would_lead_twice_what_was_measured_on_that_blanket() -> None:
    record = Record(
        what="free molecules through the 31 gaps of that blanket, a = 1, gauge at 300 K",
        inputs=THIRTY_LAYERS.inputs,
        value=110.0,
        unit="W/m2",
        tolerance=0.1,
        source="1.19043 x 13.33 x 215/31",
        known="derived: closed form",
    )
    c = free_molecular(taking_all("nitrogen"), 300.0)
    record.check(c * 13.33 * (293.0 - 78.0) / 31.0)


def blanket(pressure: float, *, radiation: bool) -> float:
    """Heat [W] through 1 m2 of those 30 layers, with what shines and touches as well if asked."""
    links = gas_links(
        Between(gas=library()["nitrogen"], pressure=pressure),
        a="hot",
        b="cold",
        strength=1.0 / 31.0,
        gap=30.0 / 4300.0 / 31.0,
        origin="gas",
    )
    # 0.87 W/m2 of the good vacuum: as a conductance, so that the sum is exact.
    rest = (LinkPart(a="hot", b="cold", strength=0.87 / 215.0, origin="rest"),)
    return held((*links, *rest) if radiation else links, 293.0, 78.0)


def test_a_blanket_from_good_vacuum_to_the_ground() -> None:
    """More at every step; proportional to pressure below 0.01 Pa; k A/thickness at 1 bar."""
    pressures = np.geomspace(1e-6, 1e5, 12)
    alone = np.array([blanket(float(each), radiation=False) for each in pressures])
    together = np.array([blanket(float(each), radiation=True) for each in pressures])
    assert (np.diff(alone) > 0.0).all()
    assert (np.diff(together) > 0.0).all()
    np.testing.assert_allclose(together - alone, 0.87, rtol=1e-6)
    per_pascal = alone / pressures
    np.testing.assert_allclose(per_pascal[:5], per_pascal[0], rtol=2e-3)  # up to 0.01 Pa
    mean = 0.01677  # W/m/K, nitrogen from 78 to 293 K: Lemmon and Jacobsen, 2004, second-hand
    on_the_ground = mean * 215.0 / (30.0 / 4300.0)
    assert alone[-1] == pytest.approx(on_the_ground, rel=0.05)
    assert together[-1] == pytest.approx(on_the_ground, rel=0.05)
