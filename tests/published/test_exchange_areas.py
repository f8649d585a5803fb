"""The examples of textbooks once more, by exchange areas in place of nodes of radiosity."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.sparse import csr_array

from tests.published.record import SIGMA_TEXTBOOK, Known, Record
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.physics.curves import Floats
from thermnet.physics.exchange import direct_areas, exchange_areas

INCROPERA = "Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, chapter 13"
KREITH = (
    "Kreith, Manglik and Bohn, Principles of Heat Transfer, 7th ed., examples 9.12 and 9.13; "
    "solved from the printed view factors, the printed answers not seen"
)
SUKHATME = "Sukhatme, A Textbook on Heat Transfer, example 3.10; the printed answer not seen"
CLOSED = "grey diffuse exchange, any text"


def record(
    what: str, value: float, unit: str, tolerance: float, source: str, known: Known
) -> Record:
    return Record(
        what=what,
        inputs={},
        value=value,
        unit=unit,
        tolerance=tolerance,
        source=source,
        known=known,
    )


def leaves(exchange: Floats, temperature: Floats, sigma: float = STEFAN_BOLTZMANN) -> Floats:
    """Net heat f8[n] [W] that leaves each face."""
    emission = sigma * temperature**4
    return np.asarray((exchange * (emission[:, None] - emission[None, :])).sum(axis=1))


def around(inner: float, outer: float) -> Floats:
    """Direct areas of a convex face and of one around it, which sees itself with the rest."""
    return np.array([[0.0, inner], [inner, outer - inner]])


def test_concentric_spheres() -> None:
    """Radii 1 and 2, emittances 0.8 and 0.4."""
    area = np.array([1.0, 4.0])
    found = exchange_areas(area, around(1.0, 4.0), np.array([0.8, 0.4]))[0, 1]
    record("spheres 1 : 2", 0.6153846, "", 6e-8, CLOSED, "derived: closed form").check(found)


def test_a_cold_tube_in_a_warmer_one() -> None:
    """Tube of 20 mm, 0.02, 77 K in one of 50 mm, 0.05, 300 K."""
    area = math.pi * np.array([0.02, 0.05])
    exchange = exchange_areas(area, around(*area.tolist()), np.array([0.02, 0.05]))
    gain = float(leaves(exchange, np.array([77.0, 300.0]))[1])
    record("heat gain", 0.50, "W/m", 0.005, INCROPERA, "from memory").check(gain)
    record("more digits", 0.49884, "W/m", 6e-6, CLOSED, "derived: closed form").check(gain)


def test_a_shield_of_two_faces_in_balance() -> None:
    """Of 35 mm, 0.02 on both sides: half of the heat; both gaps in series."""
    tube, shield, outer = (math.pi * diameter for diameter in (0.02, 0.035, 0.05))
    gaps = [
        exchange_areas(np.array(area), around(*area), np.array(emittance))[0, 1]
        for area, emittance in (((tube, shield), (0.02, 0.02)), ((shield, outer), (0.02, 0.05)))
    ]
    through = 1.0 / sum(1.0 / gap for gap in gaps)
    gain = STEFAN_BOLTZMANN * through * (300.0**4 - 77.0**4)
    record("with a shield", 0.25, "W/m", 0.005, INCROPERA, "from memory").check(gain)
    record("more digits", 0.25167, "W/m", 6e-6, CLOSED, "derived: closed form").check(gain)


def test_a_triangular_duct_with_an_insulated_wall() -> None:
    """Unit sides: 1200 K of 0.8, 500 K of 0.4, and the wall; every view factor is 1/2."""
    area, direct = np.ones(3), 0.5 * (1.0 - np.eye(3))
    emittance, temperature = np.array([0.8, 0.4, 0.0]), np.array([1200.0, 500.0, 0.0])
    heat = float(leaves(exchange_areas(area, direct, emittance), temperature)[0])
    record("heat", 37e3, "W/m", 500.0, INCROPERA, "from memory").check(heat)
    record("heat, more digits", 36984.9, "W/m", 0.06, CLOSED, "derived: closed form").check(heat)


def frustum() -> tuple[Floats, Floats]:
    """Areas and direct areas of discs of 3 and 2 m, 4 m apart, and the side between them.

    The printed view factors miss reciprocity by up to 0.7 %; the mean of both ways moves the heat
    by less than 0.5 %.
    """
    area = math.pi * np.array([9.0, 5.0 * math.sqrt(17.0), 4.0])
    printed = np.array([[0.0, 0.853, 0.147], [0.372, 0.498, 0.130], [0.333, 0.667, 0.0]])
    return area, direct_areas(area, csr_array(printed)).toarray()


def test_a_frustum_with_a_re_radiating_side() -> None:
    """Top 0.6 at 1200 K, bottom 0.9 at 600 K."""
    area, direct = frustum()
    emittance, temperature = np.array([0.6, 0.0, 0.9]), np.array([1200.0, 0.0, 600.0])
    exchange = exchange_areas(area, direct, emittance)
    heat = float(leaves(exchange, temperature, SIGMA_TEXTBOOK)[0])
    record("heat from the top", 857.4e3, "W", 4.3e3, KREITH, "second-hand").check(heat)


def test_a_frustum_with_heat_into_its_top() -> None:
    """300 kW into the top; the source takes the bottom, at 600 K, as black here."""
    area, direct = frustum()
    exchange = exchange_areas(area, direct, np.array([0.6, 0.0, 1.0]))[0, 2]
    top = float((600.0**4 + 300e3 / (SIGMA_TEXTBOOK * exchange)) ** 0.25)
    record("temperature of the top", 934.61, "K", 1.0, KREITH, "second-hand").check(top)


def test_black_plates_joined_by_re_radiating_walls() -> None:
    """1 x 2 m, 4 m apart, F = 0.0361794, 473 and 373 K; walls of 24 m2."""
    factor, area = 0.0361794, np.array([2.0, 2.0, 24.0])
    rest = 2.0 * (1.0 - factor)
    direct = np.array([[0.0, 2.0 * factor, rest], [2.0 * factor, 0.0, rest], [rest, rest, 0.0]])
    direct[2, 2] = 24.0 - 2.0 * rest
    exchange = exchange_areas(area, direct, np.array([1.0, 1.0, 0.0]))
    found = float(leaves(exchange, np.array([473.0, 373.0, 0.0]), 5.670e-8)[0])
    record("net exchange", 1803.54, "W", 0.01, SUKHATME, "second-hand").check(found)


@pytest.mark.parametrize("walls", [4.0, 24.0, 1e6])
def test_the_size_of_re_radiating_walls_has_no_part(walls: float) -> None:
    """What they see of themselves comes back to them."""
    direct = np.array([[0.0, 0.4, 1.6], [0.4, 0.0, 1.6], [1.6, 1.6, walls - 3.2]])
    area, emittance = np.array([2.0, 2.0, walls]), np.array([1.0, 1.0, 0.0])
    found = exchange_areas(area, direct, emittance)[0, 1]
    assert found == pytest.approx(0.4 + 0.8, rel=1e-9)  # derived: direct, and half of what is left


def test_a_grey_cube_with_one_warm_face() -> None:
    """Unit faces of 0.1, 0.9 and four of 0.5, opposite pairs in order; 300 K among 250 K."""
    direct = np.full((6, 6), 0.200043776)
    for k in range(6):
        direct[k, k], direct[k, k ^ 1] = 0.0, 0.199824896
    exchange = exchange_areas(np.ones(6), direct, np.array([0.1, 0.9, 0.5, 0.5, 0.5, 0.5]))
    found = float(leaves(exchange, np.array([300.0] + [250.0] * 5))[0])
    known: Known = "derived: independent solver"
    record("heat from the warm face", 23.447277, "W", 1e-6, CLOSED, known).check(found)


def test_a_small_body_exchanges_by_its_own_emittance() -> None:
    """A millionth of what is around it."""
    area = np.array([1e-6, 1.0])
    found = exchange_areas(area, around(1e-6, 1.0), np.array([0.8, 0.4]))[0, 1] / 1e-6
    record("small convex body", 0.8, "", 1e-5, CLOSED, "derived: closed form").check(found)
