"""What every coupling carries: against the account, by hand, and whichever way it is stated."""

from __future__ import annotations

import numpy as np
import pytest

from tests.small_models import model_of, solved
from thermnet.account import account
from thermnet.couplings import CouplingRow, coupling_table
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.results import solve

TEXT = """
thermnet: 1
temperatures: degC
uncertainty: {policy: none}
nodes:
  box: {capacity: 500 J/K}
  plate: {capacity: 1000 J/K}
  cold plate: {capacity: 50 J/K}
  warm plate: {capacity: 50 J/K}
boundaries:
  sink: {temperature: 0}
  space: {temperature: 3 K}
links:
  strap: {from: box, to: plate, conductance: 2 W/K}
  cold: {from: cold plate, to: sink, conductance: 4 W/K}
  warm: {from: warm plate, to: plate, conductance: 4 W/K}
conductors:
  strut: {from: sink, to: plate, conductivity: 10 W/m/K, bar: {area: 0.01 m2, length: 0.1 m}}
joints:
  feet: {from: box, to: plate, fasteners: {size: screw M4, count: 2}}
blankets:
  box: {from: box, to: space, area: 0.5 m2, effective_emittance: 0.02}
heat_pipes:
  pipe: {at: {box: 5 W/K, plate: 5 W/K}}
loops:
  coolant: {through: [warm plate, cold plate], capacity_rate: 6 W/K}
loads:
  box: {node: box, heat: 60 W, schedule: half}
schedules:
  half: {time: [0 s, 500 s], value: [1.5, 0.5], shape: steps, period: 1000 s}
cases:
  steady: {solve: steady}
  repeating: {solve: repeating, period: 1000 s}
"""


def rows(case: str) -> dict[tuple[str, str, str], CouplingRow]:
    table = coupling_table(solved(TEXT, case))
    return {(row.entry, row.of, row.to): row for row in table}


def test_heat_is_conductance_times_difference_from_the_first_node_to_the_second() -> None:
    row = rows("steady")["links.strap", "box", "plate"]
    assert row.heat == pytest.approx(2.0 * (row.from_temperature - row.to_temperature))
    assert row.conductance == pytest.approx(2.0)
    assert row.heat > 0.0


def test_a_link_stated_against_the_flow_carries_less_than_nothing() -> None:
    row = rows("steady")["conductors.strut", "sink", "plate"]
    assert row.heat < 0.0
    assert row.conductance == pytest.approx(1.0)  # 10 W/m/K x 0.01 m2 / 0.1 m


def test_what_radiates_has_no_conductance() -> None:
    row = rows("steady")["blankets.box", "box", "space"]
    by_hand = STEFAN_BOLTZMANN * 0.5 * 0.02 * (row.from_temperature**4 - 3.0**4)
    assert row.heat == pytest.approx(by_hand)
    assert np.isnan(row.conductance)


def test_a_fluid_brings_heat_by_what_it_is_warmer_than_the_next_node() -> None:
    found = rows("steady")
    there = found["loops.coolant", "warm plate", "cold plate"]
    back = found["loops.coolant", "cold plate", "warm plate"]
    assert there.heat == pytest.approx(6.0 * (there.from_temperature - there.to_temperature))
    assert back.heat == pytest.approx(-there.heat)


def test_a_node_that_an_entry_makes_stands_in_the_table() -> None:
    found = rows("steady")
    into = found["heat_pipes.pipe", "box", "pipe, vapour"]
    out = found["heat_pipes.pipe", "plate", "pipe, vapour"]
    assert into.heat == pytest.approx(-out.heat)


@pytest.mark.parametrize("case", ["steady", "repeating"])
def test_rows_of_an_entry_add_up_to_what_the_account_has_of_it(case: str) -> None:
    result = solved(TEXT, case)
    span = 1.0 if case == "steady" else 1000.0
    booked = account(result.network, result.solution).by_origin()
    for row in coupling_table(result):
        if row.entry in ("links.strap", "joints.feet", "blankets.box", "conductors.strut"):
            assert row.heat * span == pytest.approx(booked[row.entry], rel=1e-9)


def test_least_and_most_of_a_history_lie_about_its_mean_at_instants_of_it() -> None:
    row = rows("repeating")["links.strap", "box", "plate"]
    assert row.least < row.heat < row.most
    assert 0.0 <= row.least_at <= 1000.0
    # The load falls at 500 s, and what it warmed carries most there.
    assert row.most_at == pytest.approx(500.0, abs=1.0)


def test_an_entry_names_the_rows_of_the_library_that_it_stands_on() -> None:
    assert rows("steady")["joints.feet", "box", "plate"].rows == ("screw M4",)


def test_an_entry_names_only_the_rows_of_its_own_case() -> None:
    text = TEXT.replace(
        "steady: {solve: steady}",
        """steady: {solve: steady}
  other: {solve: steady, set: {joints.feet.fasteners.size: screw M3}}""",
    )
    for case, size in (("steady", "screw M4"), ("other", "screw M3")):
        (row,) = (each for each in coupling_table(solved(text, case)) if "feet" in each.entry)
        assert row.rows == (size,)


def test_all_terms_of_a_blanket_between_two_nodes_are_one_row() -> None:
    text = TEXT.replace(
        "effective_emittance: 0.02}",
        "effective_emittance: 0.02, seams: {edge: {length: 2 m, conductance: 3 mW/m/K}}}",
    )
    table = coupling_table(solved(text, "steady"))
    (row,) = [row for row in table if row.entry == "blankets.box"]
    seam = 2 * 3e-3 * (row.from_temperature - 3.0)
    by_hand = STEFAN_BOLTZMANN * 0.5 * 0.02 * (row.from_temperature**4 - 3.0**4)
    assert row.heat == pytest.approx(seam + by_hand)


def test_rows_come_in_the_order_of_the_sections() -> None:
    entries = [row.entry.split(".")[0] for row in coupling_table(solved(TEXT, "steady"))]
    assert list(dict.fromkeys(entries)) == [
        "links", "conductors", "joints", "heat_pipes", "loops", "blankets"
    ]  # fmt: skip


def test_links_of_one_entry_stated_either_way_round_count_together() -> None:
    mesh = "  mesh:\n    table: |\n      from, to, conductance\n"
    mesh += "      box, plate, 1\n      plate, box, 3\n"
    result = solved(TEXT.replace("conductors:\n", mesh + "conductors:\n"), "steady")
    (row,) = [row for row in coupling_table(result) if row.entry == "links.mesh"]
    assert (row.of, row.to) == ("box", "plate")
    assert row.heat == pytest.approx(4.0 * (row.from_temperature - row.to_temperature))
    assert row.conductance == pytest.approx(4.0)


def test_the_mean_over_a_transient_is_over_its_time() -> None:
    text = TEXT + "  cooling: {solve: transient, duration: 700 s, initial: steady}\n"
    result = solved(text, "cooling")
    booked = account(result.network, result.solution).by_origin()
    (row,) = [row for row in coupling_table(result) if row.entry == "links.strap"]
    assert row.heat * 700.0 == pytest.approx(booked["links.strap"], rel=1e-9)
    # mean heat by mean temperatures, as the link is linear
    assert row.conductance == pytest.approx(2.0)


def test_what_changes_with_temperature_carries_the_mean_of_its_flow() -> None:
    """Not the flow at the mean temperatures."""
    result = solved(TEXT, "repeating")
    (row,) = [row for row in coupling_table(result) if row.entry == "blankets.box"]
    T = result.solution.record.temperature[:, result.network.index("box")]
    weight = result.solution.record.weight
    each = STEFAN_BOLTZMANN * 0.5 * 0.02 * (T**4 - 3.0**4)
    assert row.heat == pytest.approx(float(weight @ each / weight.sum()))
    assert row.heat > STEFAN_BOLTZMANN * 0.5 * 0.02 * (row.from_temperature**4 - 3.0**4)
    assert (row.least, row.most) == pytest.approx((each.min(), each.max()))


def test_a_case_that_is_not_solved_has_no_rows() -> None:
    result = solve(model_of(TEXT.replace("heat: 60 W", "heat: 1e7 W")), "steady")
    assert result.solution.failure
    assert coupling_table(result) == ()
