"""What leads heat through blankets, term by term: closed forms, the balance, and the account.

A covered plate at 20 degC and an outer face at -100 degC, unless a test has others.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from thermnet.account import account
from thermnet.blankets import BlanketTotal, blanket_table, blanket_totals, over_pressure
from thermnet.model.model import Model
from thermnet.model.paths import vary
from thermnet.model.read import parse
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.results import Result, solve
from thermnet.solve.solution import Options

HELD = """
thermnet: 1
temperatures: degC
boundaries:
  plate: {temperature: 20}
  face: {temperature: -100}
  mast: {temperature: -30}
  space: {temperature: 2.7 K}
nodes:
  ballast: {capacity: 10 J/K, initial: 20}
links:
  ballast: {from: ballast, to: plate, conductance: 1 W/K}
blankets:
  tank:
    from: plate
    to: face
    area: 2 m2
BLANKET
cases:
  case: {}
"""

STATED = "    effective_emittance: 0.01\n    note: chamber test\n"

SPOILT = """    effective_emittance: 0.01
    seams:
      edge: {length: 3 m, conductance: 0.002 W/m/K}
    fixings:
      pins: {count: 4, conductance: 0.001 W/K}
      mast: {conductance: 0.02 W/K, to: mast}
    openings:
      gap: {area: 0.001 m2, emittance: 0.8}
"""

SEWN = """    effective_emittance: 0.01
    seams:
      edge: {length: 3 m, conductance: 0.002 W/m/K}
    fixings:
      pins: {count: 4, conductance: 0.001 W/K}
"""

STACK = """    layers: {count: 20, separator: silk net, density: 2000 1/m}
"""

NITROGEN = "atmospheres:\n  nitrogen: {gas: nitrogen, pressure: 1 Pa}\n"

HOT, COLD = 293.15, 173.15
BETWEEN = STEFAN_BOLTZMANN * (HOT**4 - COLD**4)
"""Heat flow [W/m2] between black faces at the two temperatures."""

FREE = """
thermnet: 1
temperatures: degC
boundaries:
  space: {temperature: 2.7 K}
nodes:
  plate: {capacity: 5000 J/K, initial: 20}
  face: {massless: true}
  mast: {capacity: 500 J/K, initial: 0}
links:
  mast: {from: mast, to: plate, conductance: 0.3 W/K}
surfaces:
  face: {node: face, area: 2 m2, emittance: 0.8, absorbed: {solar: {heat: 100 W}}}
loads:
  plate: {node: plate, heat: 25 W, schedule: half}
schedules:
  half: {time: [0 s, 1000 s], value: [1, 0.2], shape: steps, period: 3000 s}
blankets:
  tank:
    from: plate
    to: face
    area: 2 m2
BLANKET
cases:
  case: {}
  turns: {solve: repeating, period: 3000 s}
  once: {solve: transient, duration: 3000 s, initial: given}
"""


def model(blanket: str, text: str = HELD) -> Model:
    return parse({"box.yaml": text.replace("BLANKET\n", blanket)}, "box.yaml")


def solved(made: Model, case: str = "case") -> Result:
    result = solve(made, case, Options(accuracy=1e-4))
    assert result.solution.failure == ""
    assert account(result.network, result.solution).closes
    return result


def only(result: Result) -> BlanketTotal:
    (total,) = blanket_totals(result)
    return total


def heat_of(total: BlanketTotal) -> dict[str, float]:
    """Heat [W] of each term by the end of its path."""
    return {row.term.removeprefix("blankets.tank").lstrip("."): row.heat for row in total.terms}


def test_a_stated_effective_emittance_is_the_only_term_and_comes_back() -> None:
    total = only(solved(model(STATED)))
    (row,) = total.terms
    assert row.heat == total.heat == pytest.approx(0.01 * 2.0 * BETWEEN, rel=1e-12)
    assert row.share == 1.0
    assert row.effective_emittance == total.effective_emittance == pytest.approx(0.01, rel=1e-12)
    assert (total.covered_mean, total.outer_mean) == pytest.approx((HOT, COLD), abs=1e-9)


def test_each_term_has_the_heat_of_its_own_law() -> None:
    found = heat_of(only(solved(model(SPOILT))))
    # derived: length times conductance, four pins, one lead to the mast at -30 degC
    assert found["seams.edge"] == pytest.approx(3.0 * 0.002 * 120.0, rel=1e-12)
    assert found["fixings.pins"] == pytest.approx(4 * 0.001 * 120.0, rel=1e-12)
    assert found["fixings.mast"] == pytest.approx(0.02 * 50.0, rel=1e-12)
    to_space = 0.8 * 0.001 * STEFAN_BOLTZMANN * (HOT**4 - 2.7**4)
    assert found["openings.gap"] == pytest.approx(to_space, rel=1e-12)


def test_shares_and_effective_emittances_of_terms_add_up_to_those_of_all() -> None:
    total = only(solved(model(SPOILT)))
    assert sum(row.share for row in total.terms) == pytest.approx(1.0, abs=1e-12)
    assert sum(row.effective_emittance for row in total.terms) == pytest.approx(
        total.effective_emittance, rel=1e-12
    )
    seam = next(row for row in total.terms if row.term.endswith("seams.edge"))
    assert seam.effective_emittance == pytest.approx(0.72 / (2.0 * BETWEEN), rel=1e-12)
    assert seam.share == pytest.approx(0.72 / total.heat, rel=1e-12)


def test_the_terms_to_a_massless_outer_face_are_what_it_radiates_less_what_it_absorbs() -> None:
    result = solved(model(SEWN, FREE))
    face = result.of("face")[0]
    radiated = 0.8 * 2.0 * STEFAN_BOLTZMANN * (face**4 - 2.7**4)
    assert only(result).heat == pytest.approx(radiated - 100.0, abs=1e-9)


@pytest.mark.parametrize("case", ["case", "turns", "once"])
def test_each_term_is_the_entry_of_its_path_in_the_energy_account(case: str) -> None:
    result = solved(model(SPOILT, FREE), case)
    drawn_up = account(result.network, result.solution)
    span = 1.0 if drawn_up.unit == "W" else result.solution.record.weight.sum()
    entries = drawn_up.by_origin()
    scale = max(abs(row.heat) for row in blanket_table(result))
    for row in blanket_table(result):
        assert row.heat == pytest.approx(entries[row.term] / span, abs=1e-9 * scale), row.term


def test_over_time_the_emittance_is_that_of_the_means_of_heat_and_of_fourth_powers() -> None:
    total = only(solved(model(STATED, FREE), "turns"))
    assert total.effective_emittance == pytest.approx(0.01, rel=1e-9)


def test_heat_through_a_blanket_from_outside_counts_as_negative() -> None:
    turned = vary(model(SPOILT), {"boundaries.face.temperature": 350.0})
    total = only(solved(turned))
    assert heat_of(total)["seams.edge"] == pytest.approx(-0.006 * (350.0 - HOT), rel=1e-12)
    assert heat_of(total)["fixings.mast"] > 0.0


def test_between_faces_of_one_temperature_there_is_no_emittance() -> None:
    level = vary(model(SPOILT), {"boundaries.face.temperature": HOT})
    total = only(solved(level))
    assert np.isnan(total.effective_emittance)
    assert all(np.isnan(row.effective_emittance) for row in total.terms)
    assert heat_of(total)["fixings.mast"] == pytest.approx(1.0, rel=1e-12)


def test_a_term_says_where_it_stands_and_where_its_numbers_come_from() -> None:
    text = SPOILT.replace("conductance: 0.002 W/m/K}", "conductance: 0.002 W/m/K, note: a test}")
    rows = {row.term: row for row in only(solved(model(text))).terms}
    seam = rows["blankets.tank.seams.edge"]
    lines = HELD.replace("BLANKET\n", text).splitlines()
    (line,) = [k for k, each in enumerate(lines, start=1) if "edge:" in each]
    assert seam.place.startswith(f"box.yaml:{line}:")
    assert "a test" in seam.source
    assert rows["blankets.tank"].source == ""


def test_the_lower_and_upper_bound_of_a_case_are_what_is_explained() -> None:
    bounded = vary(
        model(STATED.replace("0.01", "0.01\n    high: 0.03")), {"blankets.tank.use": "high"}
    )
    assert only(solved(bounded)).effective_emittance == pytest.approx(0.03, rel=1e-12)


def test_a_stack_with_separators_tells_conduction_from_radiation() -> None:
    found = heat_of(only(solved(model(STACK))))
    assert set(found) == {"layers.separator", "layers.radiation"}
    assert min(found.values()) > 0.0


def test_a_formula_used_below_its_coldest_boundary_is_noted() -> None:
    cold = vary(model(STACK), {"boundaries.face.temperature": 20.0})
    notes = only(solved(cold)).notes
    assert any("was fitted down to" in note for note in notes)
    assert not any("was fitted down to" in note for note in only(solved(model(STACK))).notes)


def test_over_pressure_heat_is_that_of_the_case_solved_at_each_pressure() -> None:
    made = model(STACK, HELD + "  gas: {atmosphere: nitrogen}\n" + NITROGEN)
    pressures = [1e-4, 0.3, 20.0, 1e5]
    found = over_pressure(solved(made), "tank", pressures)
    for pressure, heat in zip(pressures, found.heat, strict=True):
        filled = vary(made, {"atmospheres.nitrogen.pressure": pressure})
        assert only(solved(filled, "gas")).heat == pytest.approx(heat, rel=1e-12), pressure


def test_over_pressure_heat_rises_from_that_in_a_vacuum_to_that_of_still_gas_beside_it() -> None:
    pressures = np.logspace(-9.0, 5.0, 57)
    result = solved(model(STACK))
    found = over_pressure(result, "tank", pressures)
    assert found.vacuum == pytest.approx(only(result).heat, rel=1e-12)
    assert found.heat[0] == pytest.approx(found.vacuum, rel=1e-6)
    assert (np.diff(found.heat) > 0.0).all()
    assert found.heat[-1] - found.vacuum == pytest.approx(found.still, rel=0.01)


def test_still_gas_conducts_by_its_conductivity_over_the_thickness() -> None:
    found = over_pressure(solved(model(STACK)), "tank", [1.0])
    # derived: 2 m2, 20 layers of 2000 to a metre, 120 K; about 0.021 W/m/K at 233 K (from memory)
    assert found.still == pytest.approx(2.0 * 0.021 / 0.01 * 120.0, rel=0.05)


def test_over_pressure_needs_layers_and_their_thickness() -> None:
    with pytest.raises(ValueError, match="thickness"):
        over_pressure(solved(model(STATED)), "tank", [1.0])
    with pytest.raises(KeyError):
        over_pressure(solved(model(STACK)), "no such blanket", [1.0])


def test_the_gas_asked_after_is_that_of_the_case_unless_another_is_named() -> None:
    helium = NITROGEN.replace("nitrogen", "helium")
    text = HELD.replace("case: {}", "case: {atmosphere: helium}") + helium
    result = solved(model(STACK, text))
    assert over_pressure(result, "tank", [1.0]).gas == "helium"
    assert over_pressure(result, "tank", [1.0], "nitrogen").gas == "nitrogen"
    assert over_pressure(solved(model(STACK)), "tank", [1.0]).gas == "nitrogen"
    with pytest.raises(ValueError, match="unknown gas 'phlogiston'"):
        over_pressure(result, "tank", [1.0], "phlogiston")


def test_gas_between_the_layers_is_a_term_of_its_own() -> None:
    made = model(STACK, HELD + "  gas: {atmosphere: nitrogen}\n" + NITROGEN)
    found = heat_of(only(solved(made, "gas")))
    assert set(found) == {"layers.separator", "layers.radiation", "gas"}
    without = heat_of(only(solved(made)))
    assert found["layers.separator"] == pytest.approx(without["layers.separator"], rel=1e-12)


def over_time(face: list[float], blanket: str = STATED) -> BlanketTotal:
    """A plate at 20 degC whose outer face has these temperatures [K] for equal times."""
    result = solved(model(blanket, FREE), "once")
    record = result.solution.record
    samples = np.tile(record.temperature[:1], (len(face), 1))
    samples[:, result.network.index("plate")] = HOT
    samples[:, result.network.index("face")] = face
    few = replace(
        record,
        time=np.arange(len(face), dtype=float),
        local_time=np.arange(len(face), dtype=float),
        temperature=samples,
        duty=record.duty[: len(face)],
        weight=np.ones(len(face)),
    )
    return only(replace(result, solution=replace(result.solution, record=few)))


def test_faces_that_swing_about_each_other_have_no_effective_emittance() -> None:
    total = over_time([HOT + 30.0, HOT - 31.0])
    assert total.heat != 0.0
    assert np.isnan(total.effective_emittance)
    assert np.isnan(total.terms[0].effective_emittance)


def test_a_face_that_is_warmer_for_a_short_while_leaves_an_effective_emittance() -> None:
    total = over_time([HOT + 5.0, HOT - 60.0, HOT - 100.0])
    assert total.effective_emittance == pytest.approx(0.01, rel=1e-12)


def test_heat_against_the_difference_of_the_faces_is_no_effective_emittance() -> None:
    changes = {"boundaries.face.temperature": HOT - 1.0, "boundaries.mast.temperature": HOT + 60.0}
    total = only(solved(vary(model(SPOILT), changes)))
    assert total.heat < 0.0
    assert np.isnan(total.effective_emittance)
    assert sum(row.share for row in total.terms) == pytest.approx(1.0)


def test_terms_that_cancel_have_no_shares() -> None:
    led = STATED + (
        "    fixings:\n"
        "      mast: {conductance: 0.02 W/K, to: mast}\n"
        "      tower: {conductance: 0.01 W/K, to: space}\n"
    )
    changes = {
        "boundaries.face.temperature": HOT,
        "boundaries.mast.temperature": HOT - 20.0,
        "boundaries.space.temperature": HOT + 40.0,
    }
    total = only(solved(vary(model(led), changes)))
    assert all(np.isnan(row.share) for row in total.terms)


def test_still_gas_fills_what_openings_leave_of_the_area() -> None:
    opened = STACK + "    openings:\n      hatch: {share: 0.25}\n"
    whole, part = (over_pressure(solved(model(each)), "tank", [1.0]) for each in (STACK, opened))
    assert part.still == pytest.approx(0.75 * whole.still, rel=1e-12)


@pytest.mark.parametrize("name", ["blankets.tank.seams.gas", "blankets.gas"])
def test_what_is_named_gas_stands_where_it_is_stated(name: str) -> None:
    stated = STACK + "    seams:\n      gas: {length: 1 m, conductance: 1 mW/m/K}\n"
    own = "  gas: {from: plate, to: face, area: 1 m2, effective_emittance: 0.02, LAYERS}\n"
    own = own.replace("LAYERS", "layers: {count: 9, density: 1000 1/m}")
    text = HELD.replace("case: {}", "case: {atmosphere: nitrogen}") + NITROGEN
    result = solved(model(stated + own, text))
    lines = text.replace("BLANKET\n", stated + own).splitlines()
    begins = "gas: {length" if "seams" in name else "gas: {from"
    (line,) = [k for k, each in enumerate(lines, 1) if each.strip().startswith(begins)]
    (row,) = [row for row in blanket_table(result) if row.term == name]
    assert row.place.startswith(f"box.yaml:{line}:")


def test_what_an_atmosphere_states_of_accommodation_is_not_that_of_another_gas() -> None:
    """Free molecules: both faces at 0.5 leave a third of the heat."""
    halved = NITROGEN.replace("1 Pa", "1 Pa, accommodation: 0.5")
    text = HELD.replace("case: {}", "case: {atmosphere: nitrogen}")
    plain, less = (solved(model(STACK, text + gas)) for gas in (NITROGEN, halved))

    def through(result: Result, gas: str) -> float:
        found = over_pressure(result, "tank", [1e-4], gas)
        return float(found.heat[0] - found.vacuum)

    assert through(less, "nitrogen") == pytest.approx(through(plain, "nitrogen") / 3.0, rel=1e-3)
    assert through(less, "argon") == pytest.approx(through(plain, "argon"), rel=1e-9)


def test_a_case_that_could_not_be_solved_has_no_numbers() -> None:
    result = solved(model(SPOILT))
    failed = replace(result, solution=replace(result.solution, failure="gave up"))
    total = only(failed)
    assert np.isnan([total.heat, total.covered_mean, total.effective_emittance]).all()
    assert np.isnan([row.heat for row in total.terms]).all()
    assert len(total.terms) == len(only(result).terms)


def test_a_model_without_blankets_has_no_rows() -> None:
    text = "thermnet: 1\nboundaries:\n  wall: {temperature: 20 degC}\ncases:\n  case: {}\n"
    text += "nodes:\n  a: {massless: true}\nlinks:\n  a: {from: a, to: wall, conductance: 1 W/K}\n"
    assert blanket_table(solved(parse({"bare.yaml": text}, "bare.yaml"))) == ()
