"""The venting of blankets: a row for each, from the atmosphere of the case or the steepest fall."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.small_models import model_of
from thermnet.model.model import Model
from thermnet.model.paths import apply_case
from thermnet.model.plan import plan
from thermnet.physics.venting import AIR, Outside, Vented, greatest_difference
from thermnet.venting import VentingRow, venting_table

MODEL = """
thermnet: 1
temperatures: degC
nodes:
  tank: {capacity: 1000 J/K, initial: 20}
  face: {massless: true}
boundaries:
  space: {temperature: -270}
surfaces:
  face: {node: face, area: 2 m2, emittance: 0.8}
blankets:
  tank:
    from: tank
    to: face
    area: 2 m2
    effective_emittance: 0.02
    layers: {count: 10, thickness: 10 mm}
    venting: {volume: 20 l, vents: 200 mm2FALL}
atmospheres:
  ascent: {gas: nitrogen, time: [0 s, 60 s, 120 s], pressures: [101325 Pa, 20 kPa, 100 Pa]}
  chamber: {gas: helium, pressure: 1 Pa}
  slow: {gas: nitrogen, time: [0 s, 60 s, 120 s], pressures: [101325 Pa, 90 kPa, 100 Pa]}
  late: {gas: nitrogen, time: [200 s, 260 s], pressures: [101325 Pa, 1 kPa]}
  repressed: {gas: nitrogen, time: [0 s, 60 s], pressures: [1 kPa, 101325 Pa]}
cases:
  ascent: {solve: transient, duration: 120 s, initial: given, atmosphere: ascent}
  slow: {extends: ascent, atmosphere: slow}
  first seconds: {extends: slow, duration: 10 s}
  before: {extends: ascent, atmosphere: late}
  repressed: {extends: ascent, atmosphere: repressed}
  chamber: {solve: steady, atmosphere: chamber}
  orbit: {solve: steady}
"""

FALL = ", steepest_fall: 5 kPa/s, down_to: 30 kPa"


def described(fall: str = "") -> Model:
    return model_of(MODEL.replace("FALL", fall))


def row(model: Model, case: str) -> VentingRow:
    applied = apply_case(model, case)
    (found,) = venting_table(applied, plan(applied, case))
    return found


def test_an_ascent_is_followed_along_the_atmosphere_of_the_case() -> None:
    found = row(described(FALL), "ascent")
    time, pressure = np.array([0.0, 60.0, 120.0]), np.array([101325.0, 2e4, 100.0])
    vented = Vented(
        volume=0.02, vents=2e-4, discharge=0.6, temperature=293.15,
        molar_mass=0.028, heat_ratio=1.4,
    )  # fmt: skip
    expected = greatest_difference(vented, Outside(time=time, pressure=pressure))
    assert (found.outside, found.gas) == ("atmosphere 'ascent'", "nitrogen")
    assert found.difference == pytest.approx(expected.difference, rel=1e-2)
    assert found.instant == pytest.approx(expected.instant, rel=1e-2)


def test_without_a_history_the_steepest_fall_goes_down_as_far_as_is_stated() -> None:
    found = row(described(FALL), "orbit")
    ends = np.array([101325.0, 3e4])
    ramp = Outside(time=np.array([0.0, 71325.0 / 5e3]), pressure=ends, straight="pressure")
    vented = Vented(
        volume=0.02, vents=2e-4, discharge=0.6, temperature=293.15,
        molar_mass=AIR[0], heat_ratio=AIR[1],
    )  # fmt: skip
    assert found.gas == "air"
    assert found.difference == pytest.approx(greatest_difference(vented, ramp).difference)
    assert found.pressure == pytest.approx(3e4)


def test_an_ascent_is_followed_no_longer_than_the_case() -> None:
    """The pressure falls fast from 60 s on, of which a case of 10 s sees nothing."""
    whole, first = row(described(), "slow"), row(described(), "first seconds")
    assert whole.instant is not None
    assert first.instant is not None
    assert first.instant <= 10.0
    assert whole.instant > 60.0
    assert first.pressure is not None
    assert first.pressure >= 101325.0 * (90e3 / 101325.0) ** (1.0 / 6.0)


def test_a_pressure_that_changes_after_the_end_of_the_case_does_not_fall() -> None:
    found = row(described(), "before")
    assert found.difference is None
    assert "after the case ends" in found.outside


def test_the_gas_of_a_test_chamber_is_not_that_of_the_launch() -> None:
    """Helium would leave sqrt(29 / 4) times as fast as the air that is under the blanket."""
    assert row(described(FALL), "chamber") == replace(row(described(FALL), "orbit"), case="chamber")
    assert row(described(FALL), "chamber").gas == "air"


def test_where_the_pressure_rises_nothing_lies_above_and_the_row_says_what_is_not_seen() -> None:
    found = row(described(), "repressed")
    assert found.difference == 0.0
    assert "outside above inside is not looked at" in found.outside


def test_the_force_is_the_difference_on_the_covered_area() -> None:
    found = row(described(FALL), "orbit")
    assert found.difference is not None
    assert found.force == pytest.approx(2.0 * found.difference)


def test_a_deeper_steep_fall_is_worse() -> None:
    """The thinner the gas, the faster it must leave for the same fall of its pressure."""
    shallow = row(described(", steepest_fall: 5 kPa/s, down_to: 30 kPa"), "orbit")
    deep = row(described(", steepest_fall: 5 kPa/s, down_to: 3 kPa"), "orbit")
    assert deep.difference is not None
    assert shallow.difference is not None
    assert deep.difference > 2.0 * shallow.difference


@pytest.mark.parametrize("case", ["orbit", "chamber"])
def test_where_no_pressure_falls_only_the_rules_are_told(case: str) -> None:
    found = row(described(), case)
    assert (found.difference, found.force, found.exchange) == (None, None, None)
    assert "no pressure falls" in found.outside


def test_rules_of_thumb_are_held_against_volume_and_area() -> None:
    """200 mm2 to 20 l is 10 mm2 to a litre, above 5.7; 100 m is above 50.8 m."""
    found = row(described(), "orbit")
    assert found.area_to_volume == pytest.approx(0.01)
    assert found.volume_to_area == pytest.approx(100.0)
    assert found.ample_area
    assert not found.ample_vents


def test_a_blanket_that_states_no_venting_has_no_row() -> None:
    text = MODEL.replace("    venting: {volume: 20 l, vents: 200 mm2FALL}\n", "")
    applied = apply_case(model_of(text), "orbit")
    assert venting_table(applied, plan(applied, "orbit")) == ()
