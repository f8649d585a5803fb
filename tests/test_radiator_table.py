"""The table of radiators: against the account, against sinks, and closed forms of its excess."""

from __future__ import annotations

import numpy as np
import pytest

from tests.model.test_radiators import FIN, FLYING, RADIATOR, cooling
from tests.small_models import model_of, solved
from thermnet.account import account
from thermnet.heating import surface_heat
from thermnet.physics.constants import STEFAN_BOLTZMANN, ZERO_CELSIUS
from thermnet.physics.fin import efficiency
from thermnet.radiators import RadiatorRow, radiator_table
from thermnet.results import Result, solve

LOW = RADIATOR.replace("finish: white paint", "finish: white paint\n    hottest: 40")
MAST = "  mast: {capacity: 300 J/K, initial: 0}\n"
ALONE = LOW.replace("sees: {space: 0.9, mast: 0.1}", "view: 1").replace(MAST, "")
REPEATING = (
    ALONE.replace("solve: transient, duration: 5000 s", "solve: repeating")
    .replace(", initial: given", "")
    .replace("plumes:\n  thruster: {schedule: burn, surfaces: {north: 200 W/m2}}\n", "")
)


def row(result: Result) -> RadiatorRow:
    (found,) = radiator_table(result)
    return found


def amounts(result: Result) -> dict[str, float]:
    """Mean heat [W] by path, from the account."""
    drawn_up = account(result.network, result.solution)
    span = 1.0 if drawn_up.unit == "W" else result.solution.span
    return {path: amount / span for path, amount in drawn_up.by_origin().items()}


def absorbed(paths: dict[str, float]) -> float:
    return sum(
        amount
        for path, amount in paths.items()
        if path.startswith("radiators.north.absorbed") or path.endswith("surfaces.north")
    )


@pytest.mark.parametrize("text", [LOW, ALONE, REPEATING], ids=["plume", "sky alone", "repeating"])
def test_the_table_adds_up_with_the_account(text: str) -> None:
    result = solved(text)
    paths, found = amounts(result), row(result)
    assert found.emitted == pytest.approx(paths["radiators.north"], rel=2e-3)
    assert found.absorbed == pytest.approx(absorbed(paths), rel=2e-3)
    assert found.rejected == pytest.approx(found.emitted - found.absorbed, rel=1e-12)


def test_the_table_adds_up_with_the_account_of_a_steady_case() -> None:
    result = solved(cooling(f"{FIN}, absorbed: {{solar: {{heat: 9 W}}}}"))
    paths, found = amounts(result), row(result)
    assert found.emitted == pytest.approx(paths["radiators.north"], rel=1e-9)
    assert found.absorbed == pytest.approx(9.0 * found.efficiency, rel=1e-12)
    assert found.rejected == pytest.approx(40.0, abs=1e-6)
    assert (found.lowest, found.highest) == (found.mean, found.mean)


def test_what_repeats_is_rejected_as_it_comes() -> None:
    """Over a whole orbit nothing is stored: all of the load leaves by the radiator."""
    assert row(solved(REPEATING)).rejected == pytest.approx(40.0, abs=0.02)


def test_a_plume_is_absorbed_and_lowers_what_is_rejected() -> None:
    """100 s of 200 W/m2 on 0.2 m2, in 5000 s."""
    with_plume = row(solved(LOW))
    without = row(solved(LOW.replace("200 W/m2", "0 W/m2")))
    assert with_plume.absorbed - without.absorbed == pytest.approx(0.8, rel=1e-3)
    assert with_plume.rejected < without.rejected


def test_the_sink_temperature_is_that_of_the_table_of_absorbed_heat() -> None:
    found = row(solved(REPEATING))
    (listed,) = surface_heat(model_of(REPEATING), "case")
    assert listed.sink is not None
    assert found.sink == pytest.approx(listed.sink.mean, abs=0.05)
    assert found.hottest_sink == pytest.approx(listed.sink.highest, abs=0.2)


def test_the_sink_temperature_of_a_steady_case_has_a_closed_form() -> None:
    """Derived: Ts^4 = T of space^4 + absorbed / (e sigma A), whatever the efficiency."""
    text = cooling("efficiency: 0.7, absorbed: {solar: {heat: 20 W}}", 150.0)
    expected = (150.0**4 + 20.0 / (0.9 * STEFAN_BOLTZMANN * 0.2)) ** 0.25
    found = row(solved(text))
    assert found.sink == pytest.approx(expected, abs=1e-6)
    assert found.hottest_sink == found.sink


def test_a_node_that_is_seen_is_part_of_the_sink() -> None:
    """Derived: half of the view is a wall at 0 degC, half almost nothing."""
    text = cooling("sees: {space: 0.5, wall: 0.5}").replace(
        "boundaries:", "boundaries:\n  wall: {temperature: 0}"
    )
    found = row(solved(text))
    assert found.view == 0.5
    assert found.sink == pytest.approx(ZERO_CELSIUS * 0.5**0.25, abs=1e-6)


@pytest.mark.parametrize("share", [1.0, 0.7])
def test_the_excess_is_what_it_would_reject_over_what_it_does(share: float) -> None:
    """Derived: n A (e sigma Th^4 - absorbed / A) / Q - 1."""
    text = cooling(f"efficiency: {share}, hottest: 30, absorbed: {{solar: {{heat: 20 W}}}}")
    able = share * (0.9 * STEFAN_BOLTZMANN * 0.2 * (ZERO_CELSIUS + 30.0) ** 4 - 20.0)
    found = row(solved(text))
    assert found.excess == pytest.approx(able / 40.0 - 1.0, abs=1e-8)
    assert found.least_excess == pytest.approx(found.excess, abs=1e-12)


def test_the_excess_of_a_fin_is_told_with_its_efficiency_at_the_allowed_temperature() -> None:
    """Derived: z grows with the third power of the root, so that a warm fin is a worse one."""
    root, sink = ZERO_CELSIUS + 60.0, 100.0
    fin_at = "length: 0.2 m, thickness: 1 mm, conductivity: 150 W/m/K, at: -9, sink: 100 K"
    z = 0.9 * STEFAN_BOLTZMANN * root**3 * 0.2**2 / (150.0 * 1e-3)
    able = efficiency(z, sink / root) * 0.9 * STEFAN_BOLTZMANN * 0.2 * (root**4 - sink**4)
    found = row(solved(cooling(f"fin: {{{fin_at}}}, hottest: 60", sink)))
    assert found.excess == pytest.approx(able / 40.0 - 1.0, abs=1e-6)


def test_a_fin_is_told_its_efficiency_to_the_sink_that_was_found() -> None:
    plate = FIN.replace("at: 10", "at: 10, sink: 2.7 K")
    found = row(solved(cooling(plate, 250.0)))
    same = row(solved(cooling(plate.replace("2.7 K", "250 K"), 250.0)))
    assert found.efficiency_to_sink == pytest.approx(same.efficiency, rel=1e-9)
    assert found.efficiency > 1.01 * found.efficiency_to_sink
    assert np.isnan(row(solved(cooling(FIN, 250.0))).efficiency_to_sink)


def test_a_radiator_with_its_excess_cut_off_stands_at_the_allowed_temperature() -> None:
    found = row(solved(cooling("hottest: 30", 180.0)))
    smaller = cooling("hottest: 30", 180.0).replace(
        "0.2 m2", f"{0.2 / (1.0 + found.excess):.12f} m2"
    )
    assert row(solved(smaller)).mean == pytest.approx(ZERO_CELSIUS + 30.0, abs=1e-6)


def test_a_radiator_that_is_too_small_has_a_negative_excess() -> None:
    found = row(solved(cooling("hottest: -60")))
    assert -1.0 < found.excess < 0.0
    assert not found.hopeless


def test_no_area_helps_where_the_sink_is_hotter_than_is_allowed() -> None:
    found = row(solved(cooling("hottest: -60", 250.0)))
    assert np.isnan(found.excess)
    assert found.hopeless


def test_nothing_is_said_of_the_size_where_no_temperature_is_allowed() -> None:
    found = row(solved(cooling("efficiency: 1")))
    assert np.isnan([found.allowed, found.excess, found.least_excess]).all()
    assert not found.hopeless


def test_a_radiator_that_takes_heat_in_has_no_excess() -> None:
    text = cooling("hottest: 30", 280.0).replace("heat: 40 W", "heat: -40 W")
    found = row(solved(text))
    assert found.rejected == pytest.approx(-40.0, abs=1e-6)
    assert np.isnan(found.excess)
    assert not found.hopeless


def test_extremes_enclose_the_mean_and_the_least_excess_the_mean_one() -> None:
    found = row(solved(REPEATING))
    assert found.lowest < found.mean < found.highest
    assert found.sink < found.hottest_sink
    assert found.rejected < found.most
    assert found.least_excess < found.excess


def test_the_least_excess_is_no_larger_than_what_a_burst_of_light_can_do() -> None:
    """At an instant that rejects next to nothing it is still told over the mean heat."""
    found = row(solved(ALONE.replace("200 W/m2", "350 W/m2")))
    burst = 350.0 * 0.2 * found.efficiency
    assert found.least_excess < found.excess
    assert found.least_excess > found.excess - (burst + found.most) / found.rejected


def test_albedo_warms_the_sink() -> None:
    bright = row(solved(REPEATING.replace("albedo: 0.3", "albedo: 0.6")))
    dark = row(solved(REPEATING))
    assert bright.sink > dark.sink + 1.0
    assert bright.excess < dark.excess


def test_surfaces_are_not_in_the_table_and_an_unsolved_case_has_no_rows() -> None:
    assert radiator_table(solved(FLYING.replace("SECTION", "surfaces"))) == ()
    unsolved = solve(model_of(cooling("efficiency: 1").replace("40 W", "1e9 W")), "case")
    assert unsolved.solution.failure
    assert radiator_table(unsolved) == ()


def test_radiators_come_in_the_order_of_the_file() -> None:
    more = "  south: {node: panel, area: 0.1 m2, emittance: 0.8}\ncases:"
    found = radiator_table(solved(cooling("efficiency: 1").replace("cases:", more)))
    assert [each.radiator for each in found] == ["north", "south"]
    assert sum(each.rejected for each in found) == pytest.approx(40.0, abs=1e-6)
