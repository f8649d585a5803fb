"""The ideal stack and the formula of stacks with separators, against closed forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermnet.model.kinds.separator import library
from thermnet.physics.blanket import (
    beyond,
    beyond_at,
    conduction_strength,
    effective_emittance,
    overlap_conductance,
    radiation_strength,
    stack,
)
from thermnet.physics.constants import STEFAN_BOLTZMANN

SILK = library()["silk net"]
EMITTANCES = st.floats(0.005, 1.0)


@pytest.mark.parametrize(
    ("layers", "emittance", "expected"),
    [
        # 1 / [(N + 1)(2/e - 1)]; known: derived in closed form
        (0, 0.05, 0.0256410),
        (1, 0.05, 0.0128205),
        (5, 0.05, 0.0042735),
        (10, 0.05, 0.0023310),
        (20, 0.05, 0.0012210),
        (0, 0.03, 0.0152284),
        (1, 0.03, 0.0076142),
        (5, 0.03, 0.0025381),
        (10, 0.03, 0.0013844),
        (20, 0.03, 0.0007252),
    ],
)
def test_n_shields_make_n_plus_one_gaps(layers: int, emittance: float, expected: float) -> None:
    sides = stack(layers, emittance, emittance, emittance, emittance)
    assert effective_emittance(sides) == pytest.approx(expected, abs=5e-8)


def test_each_gap_is_a_pair_of_plates_that_face_each_other() -> None:
    assert stack(2, 0.1, 0.2, 0.8, 0.5) == ((0.8, 0.1), (0.2, 0.1), (0.2, 0.5))


@given(inward=EMITTANCES, outward=EMITTANCES, covered=EMITTANCES, outer=EMITTANCES)
def test_a_stack_turned_round_lets_as_much_through(
    inward: float, outward: float, covered: float, outer: float
) -> None:
    there = effective_emittance(stack(7, inward, outward, covered, outer))
    back = effective_emittance(stack(7, outward, inward, outer, covered))
    assert there == pytest.approx(back, rel=1e-12)


@given(layers=st.integers(0, 60), emittance=EMITTANCES)
def test_another_shield_always_helps(layers: int, emittance: float) -> None:
    few = effective_emittance(stack(layers, *[emittance] * 4))
    more = effective_emittance(stack(layers + 1, *[emittance] * 4))
    assert more < few <= 1.0


def test_conduction_grows_with_the_crowding_of_layers_as_the_formula_says() -> None:
    twice = conduction_strength(SILK, 20, 4000.0) / conduction_strength(SILK, 20, 2000.0)
    assert twice == pytest.approx(2.0**2.56)


def test_the_divisor_counts_gaps_or_layers() -> None:
    by_layers = replace(SILK, divisor="layers")
    ratio = conduction_strength(by_layers, 20, 2000.0) / conduction_strength(SILK, 20, 2000.0)
    assert ratio == pytest.approx(21.0 / 20.0)


def test_the_square_of_temperatures_is_the_mean_times_the_difference() -> None:
    hot, cold = 300.0, 77.0
    printed = 8.95e-8 * 20.0**2.56 * (hot + cold) / 2.0 * (hot - cold) / 21.0
    assert conduction_strength(SILK, 20, 2000.0) * (hot**2 - cold**2) == pytest.approx(printed)


def test_within_a_thickness_there_is_a_best_number_of_layers() -> None:
    # conduction through n layers in 1 cm goes as n^1.56 and radiation as 1/n: both derived
    counts = range(2, 80)
    heat = [
        conduction_strength(SILK, n, n / 0.01) * (300.0**2 - 77.0**2)
        + radiation_strength(SILK, n, 0.031) * (300.0**4.67 - 77.0**4.67)
        for n in counts
    ]
    best = int(np.argmin(heat))
    assert 0 < best < len(heat) - 1


def test_another_transcription_of_the_conduction_is_met() -> None:
    # k [W/(cm K)] = 4.48e-12 n^1.56 (T_hot + T_cold), n layers to a centimetre, as a note on heat
    # losses of transfer lines has it from Spradley, Nast and Frank, 1990: second-hand. Heat is
    # divided by the layers there: thickness is layers over density.
    crowding, layers, hot, cold = 52.0, 25, 300.0, 80.0
    printed = 100.0 * 4.48e-12 * crowding**1.56 * (hot + cold)
    strength = conduction_strength(replace(SILK, divisor="layers"), layers, 100.0 * crowding)
    thickness = layers / (100.0 * crowding)
    found = strength * (hot**2 - cold**2) * thickness / (hot - cold)
    assert found == pytest.approx(printed, rel=2e-3)


def test_a_formula_says_where_it_is_not_good() -> None:
    assert beyond(SILK, 20, 2000.0) == ()
    crowded, few = beyond(SILK, 5, 10000.0)
    assert crowded == (
        "10000 layers/m lie outside the 200 to 5000 layers/m that the formula of the separator "
        "'silk net' is good for"
    )
    assert few == "the formula of the separator 'silk net' is good for 10 layers or more, not for 5"
    open_below = replace(SILK, density_least=None, layers_least=None)
    assert beyond(open_below, 1, 1.0) == ()
    (crowded,) = beyond(open_below, 1, 5001.0)
    assert "outside the at most 5000 layers/m" in crowded


def test_the_colder_side_decides_whichever_it_is() -> None:
    assert beyond_at(SILK, 300.0, 70.0) == ()
    sentence = (
        "the colder side is at -253.15 degC, and the formula of the separator 'silk net' was "
        "fitted down to -203.15 degC"
    )
    assert beyond_at(SILK, 300.0, 20.0) == beyond_at(SILK, 20.0, 300.0) == (sentence,)
    assert beyond_at(replace(SILK, coldest=None), 300.0, 4.0) == ()


def test_an_overlap_leads_heat_as_a_sheet_does() -> None:
    # 2 m of a sheet of 20 films, each 6 um of 0.15 W/(m K), over 40 mm: width k t / length
    sheet = 20 * 6e-6 * 0.15
    assert overlap_conductance(2.0, sheet, 0.04) == pytest.approx(2.0 * 1.8e-5 / 0.04)


def test_the_apparent_conductivity_is_that_of_good_evacuated_stacks() -> None:
    # 10 to 50 uW/(m K) between 20 and 300 K: read, chemical engineers' handbook, cryogenics
    for crowding in (15.0, 20.0, 25.0):
        heat = conduction_strength(SILK, 20, 100.0 * crowding) * (300.0**2 - 77.0**2)
        heat += radiation_strength(SILK, 20, 0.031) * (300.0**4.67 - 77.0**4.67)
        apparent = heat * (20 / (100.0 * crowding)) / (300.0 - 77.0)
        assert 10e-6 < apparent < 50e-6


def test_separators_let_through_more_than_the_ideal_stack() -> None:
    ideal = effective_emittance(stack(20, *[0.031] * 4)) * STEFAN_BOLTZMANN * (300.0**4 - 77.0**4)
    real = conduction_strength(SILK, 20, 2000.0) * (300.0**2 - 77.0**2)
    real += radiation_strength(SILK, 20, 0.031) * (300.0**4.67 - 77.0**4.67)
    assert real > ideal
