"""The scan over beta: where the extremes lie, and that nothing on the grid is missed."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.full import only_in_full
from tests.small_models import model_of
from thermnet.errors import InputError
from thermnet.margins import Margin, gravity, margins
from thermnet.model.model import Model
from thermnet.model.paths import vary
from thermnet.results import solve
from thermnet.studies import beta as scanning
from thermnet.studies.beta import Governing, governing, scan
from thermnet.studies.beta_gaps import angles, first_round, halved, least
from thermnet.studies.beta_points import Point

CLOSED_FORMS = """
thermnet: 1
temperatures: degC
uncertainty: {policy: none}
nodes:
  roof: {capacity: 1000 J/K}
  wing: {capacity: 1000 J/K}
  ball: {capacity: 1000 J/K}
  inside: {capacity: 1000 J/K}
boundaries:
  space: {temperature: 3 K}
  rack: {temperature: 20}
links:
  inside: {from: inside, to: rack, conductance: 1 W/K}
environments:
  dark planet: {albedo: 0, infrared: 0 W/m2}
orbits:
  high: {altitude: 35786 km, beta: 20 deg}
pointings:
  nadir: {axis: +z, to: nadir, second_axis: +y, second_to: against orbit normal}
surfaces:
  roof: {node: roof, area: 0.1 m2, absorptance: 0.5, emittance: 0.8, normal: -z}
  wing roof: {node: wing, area: 0.1 m2, absorptance: 0.5, emittance: 0.8, normal: -z}
  wing: {node: wing, area: 0.1 m2, absorptance: 0.5, emittance: 0.8, normal: -y}
  ball roof: {node: ball, area: 0.1 m2, absorptance: 0.5, emittance: 0.8, normal: -z}
  ball: {node: ball, area: 0.1 m2, absorptance: 0.5, emittance: 0.8, shape: sphere}
components:
  roof: {at: roof, operating: [-100, 100]}
  wing: {at: wing, operating: [-100, 100]}
  ball: {at: ball, operating: [-100, 100]}
  inside: {at: inside, operating: [-100, 100]}
cases:
  case: {orbit: high, pointing: nadir, environment: dark planet}
  on the ground: {orbit: none}
"""
"""Only the Sun shines. Mean absorbed shares of sunlight over an orbit, derived: a plate that faces
away from the planet cos(beta) / pi, one along the orbit's normal sin(beta) above 0, a sphere 1/4,
the last two but for the share of shadow, which the first does not see."""

LOW = """
thermnet: 1
temperatures: degC
nodes:
  side: {capacity: 300 J/K}
  front: {capacity: 300 J/K}
  core: {capacity: 4000 J/K}
boundaries:
  space: {temperature: 3 K}
links:
  side: {from: core, to: side, conductance: 0.2 W/K}
  front: {from: core, to: front, conductance: 0.5 W/K}
orbits:
  low: {altitude: 500 km, inclination: 51.6 deg, beta: 10 deg}
pointings:
  nadir: {axis: +z, to: nadir, second_axis: +x, second_to: velocity}
surfaces:
  side: {node: side, area: 0.1 m2, absorptance: 0.6, emittance: 0.7, normal: -y}
  front: {node: front, area: 0.1 m2, absorptance: 0.3, emittance: 0.8, normal: [1, 0.4, -0.3]}
loads:
  core: {node: core, heat: 15 W}
heaters:
  core: {node: core, power: 20 W, on_below: 0, off_above: 3}
components:
  side: {at: side, operating: [-60, 60], rate: 3 K/min}
  front: {at: [front, side], operating: [-60, 60], differences: {bend: {to: core, limit: 40 K}}}
  core: {at: core, operating: [-5, 40], held_by: core}
cases:
  hot: {solve: repeating, orbit: low, pointing: nadir, environment: hot}
  cold: {extends: hot, environment: cold planet}
environments:
  cold planet: {albedo: 0.2, infrared: 218 W/m2, season: cold}
"""


def by_component(rows: Sequence[Governing]) -> dict[str, Governing]:
    return {row.component: row for row in rows}


# ---------------------------------------------------------------- where extremes lie


@pytest.fixture(scope="module")
def closed_forms() -> dict[str, Governing]:
    return by_component(governing(scan(model_of(CLOSED_FORMS), ["case"], low=0.0)))


def margin_angle(row: Governing, side: str) -> float:
    found = row.hot if side == "hot" else row.cold
    assert found is not None
    return found[1].beta


def test_a_plate_away_from_the_planet_is_hottest_with_the_sun_in_the_orbit_plane(
    closed_forms: dict[str, Governing],
) -> None:
    """Greatest of cos(beta) / pi, derived; in the same plane the Sun never lights its dark side."""
    row = closed_forms["roof"]
    assert margin_angle(row, "hot") == row.highest.beta == 0.0
    # (0.5 x 1361 / pi / 0.8 / sigma)^(1/4), derived; space at 3 K adds nothing.
    assert row.highest.value == pytest.approx(
        (0.5 * 1361.0 / math.pi / 0.8 / 5.670374419e-8) ** 0.25, abs=0.02
    )


def test_two_plates_at_a_right_angle_are_hottest_at_an_odd_angle(
    closed_forms: dict[str, Governing],
) -> None:
    """cos(beta) / pi + sin(beta) is greatest where tan(beta) = pi, at 72.34 degrees, derived."""
    assert round(math.degrees(math.atan(math.pi))) == 72
    assert margin_angle(closed_forms["wing"], "hot") == 72.0


def test_the_hottest_angle_may_be_the_one_at_which_the_shadow_goes(
    closed_forms: dict[str, Governing],
) -> None:
    """cos(beta) / pi + (1 - f) / 4 rises with a vertical slope to where the shadow f goes.

    That is 8.700 degrees for a cylinder at 35786 km (closed form, table of circular orbits); the
    penumbra lasts a quarter of a degree longer.
    """
    assert margin_angle(closed_forms["ball"], "hot") == 9.0


def test_what_no_angle_changes_is_the_same_everywhere(closed_forms: dict[str, Governing]) -> None:
    """A node that only hangs on a rack at 20 degrees."""
    row = closed_forms["inside"]
    assert row.hot is not None
    assert row.hot[1].everywhere
    assert row.lowest.everywhere
    assert not closed_forms["roof"].highest.everywhere


def test_the_gravest_component_comes_first(closed_forms: dict[str, Governing]) -> None:
    worst = [row.sides[0][0].margin for row in closed_forms.values()]
    assert worst == pytest.approx(sorted(worst), abs=1e-4)


# ---------------------------------------------------------------- brute force


def brute_force(model: Model, cases: Sequence[str], grid: Sequence[float]) -> dict[
    tuple[str, str], tuple[Margin, float]
]:  # fmt: skip
    """The gravest temperature margin of each side of each component, every angle solved."""
    best: dict[tuple[str, str], tuple[Margin, float]] = {}
    for case in cases:
        for beta in grid:
            for margin in margins(solve(vary(model, {"orbits.*.beta": beta}), case)):
                key = margin.component, margin.side
                if margin.quantity != "temperature":
                    continue
                if key not in best or gravity(margin) < gravity(best[key][0]):
                    best[key] = margin, beta
    return best


@pytest.mark.parametrize(
    ("text", "cases", "low", "high"),
    [
        (CLOSED_FORMS, ("case",), -5.0, 35.0),
        pytest.param(CLOSED_FORMS, ("case",), 58.0, 84.0, marks=only_in_full),
        pytest.param(LOW, ("hot", "cold"), 58.0, 76.0, marks=only_in_full),
    ],
    ids=["where a shadow goes", "without shadow", "low orbit, repeating, hot and cold"],
)
def test_the_governing_angles_are_those_of_a_scan_of_every_degree(
    text: str, cases: tuple[str, ...], low: float, high: float
) -> None:
    model = model_of(text)
    found = scan(model, cases, low=low, high=high)
    grid = angles(low, high, 1.0)
    assert len(found.points) < len(cases) * len(grid)
    every = brute_force(model, cases, grid)
    for row in governing(found):
        for side, judged in (("hot", row.hot), ("cold", row.cold)):
            assert judged is not None
            margin, beta = every[row.component, side]
            assert judged[0].margin == pytest.approx(margin.margin, abs=1e-9)
            assert (judged[1].case, judged[0].band) == (margin.case, margin.band)
            if not judged[1].everywhere:
                assert judged[1].beta == beta


@only_in_full
def test_limits_on_rates_differences_and_duties_are_scanned_too(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def others() -> list[tuple[str, str, float, float]]:
        rows = governing(scan(model_of(LOW), ["cold"], low=44.0, high=76.0, step=2.0))
        return [(margin.component, margin.band, margin.margin, where.beta)
                for row in rows for margin, where in row.others]  # fmt: skip

    sparing = others()
    assert {band for _, band, _, _ in sparing} == {"rate", "bend", "duty of core"}

    def all_others(grid: Sequence[float], solved: dict[int, Point], *_: object) -> set[int]:
        return set(range(len(grid))) - set(solved)

    monkeypatch.setattr(scanning, "halved", all_others)
    assert sparing == others()


# ---------------------------------------------------------------- the rule by itself


def points_solved(
    weight: Callable[[float], float], grid: Sequence[float], edges: Callable[[float], int]
) -> tuple[dict[int, Point], Point]:
    """What the rule solves of one weight over beta, and where it finds the least."""
    solved: dict[int, Point] = {}
    wanted = first_round(grid, edges)
    while wanted:
        for place in wanted:
            weights = {("unit", "margin", "hot"): weight(grid[place])}
            solved[place] = Point(case="case", beta=grid[place], weights=weights, margins={})
        best = least([solved[place] for place in sorted(solved)])
        wanted = halved(grid, solved, best, 0.01)
    return solved, best["unit", "margin", "hot"]


@given(
    waves=st.lists(
        st.tuples(st.floats(-30.0, 30.0), st.floats(40.0, 360.0), st.floats(0.0, 360.0)),
        min_size=1,
        max_size=4,
    ),
    kink=st.floats(-0.5, 0.5),
    drop=st.floats(-20.0, 20.0),
    edge=st.floats(5.0, 85.0),
)
def test_no_least_margin_is_missed_among_waves_kinks_and_the_root_at_a_shadow_edge(
    waves: list[tuple[float, float, float]], kink: float, drop: float, edge: float
) -> None:
    """Waves 40 degrees long and longer, a kink at 0, and a root like the share of shadow's."""

    def weight(beta: float) -> float:
        smooth = sum(a * math.cos(math.radians(360.0 * beta / length + phase))
                     for a, length, phase in waves)  # fmt: skip
        root = math.sqrt(max(0.0, 1.0 - abs(beta) / edge))
        return smooth + kink * abs(beta) + drop * root

    grid = angles(-90.0, 90.0, 1.0)
    solved, found = points_solved(weight, grid, lambda beta: int(abs(beta) < edge))
    everything = np.array([weight(beta) for beta in grid])
    spread = np.ptp([point.weights["unit", "margin", "hot"] for point in solved.values()])
    missed = found.weights["unit", "margin", "hot"] - everything.min()
    assert missed <= (0.01 if spread <= 0.01 else 1e-4)


def test_a_band_that_no_angle_of_another_case_has_is_no_hindrance() -> None:
    key, other = ("unit", "margin", "hot"), ("unit", "margin", "cold")
    grid = angles(0.0, 10.0, 1.0)
    ends = {
        place: Point(case="case", beta=grid[place], weights={key: float(place)}, margins={})
        for place in (0, 10)
    }
    best = {key: ends[0], other: Point(case="cold", beta=0.0, weights={other: 0.0}, margins={})}
    assert halved(grid, ends, best, 0.01) == {5}


def test_a_case_that_stays_clear_of_what_governs_is_solved_at_the_first_angles_only() -> None:
    key = ("unit", "margin", "hot")
    grid = angles(0.0, 10.0, 5.0)
    mild = {place: Point(case="mild", beta=grid[place], weights={key: 50.0 + place}, margins={})
            for place in range(3)}  # fmt: skip
    fine = angles(0.0, 10.0, 1.0)
    solved = {5 * place: point for place, point in mild.items()}
    best = {key: Point(case="harsh", beta=0.0, weights={key: 0.0}, margins={})}
    assert halved(fine, solved, best, 0.01) == set()
    assert halved(fine, solved, least(list(mild.values())), 0.01) != set()


def test_most_angles_are_left_out_where_one_extreme_stands_out() -> None:
    grid = angles(-90.0, 90.0, 1.0)
    solved, found = points_solved(lambda beta: 0.01 * (beta - 33.0) ** 2, grid, lambda _: 0)
    assert found.beta == 33.0
    assert len(solved) < 65


def test_both_sides_of_a_shadow_edge_are_solved_first() -> None:
    grid = angles(-90.0, 90.0, 1.0)
    first = {grid[place] for place in first_round(grid, lambda beta: 4 * (abs(beta) < 68.02))}
    assert {-90.0, -69.0, -68.0, 0.0, 68.0, 69.0, 90.0} <= first


def test_the_grid_holds_multiples_of_the_step_and_both_ends() -> None:
    assert angles(-2.5, 4.0, 2.0) == (-2.5, -2.0, 0.0, 2.0, 4.0)
    assert angles(7.0, 7.0, 1.0) == (7.0,)


@pytest.mark.parametrize(
    ("low", "high", "step"),
    [(-91.0, 0.0, 1.0), (5.0, 4.0, 1.0), (math.nan, 4.0, 1.0), (0.0, 9.0, 0.0), (0.0, 9.0, -1.0)],
)
def test_angles_that_are_none_are_refused(low: float, high: float, step: float) -> None:
    with pytest.raises(InputError, match="expected"):
        angles(low, high, step)


# ---------------------------------------------------------------- awkward points


def test_where_an_attitude_is_not_defined_the_scan_solves_just_beside() -> None:
    """Nadir first, the Sun second: below a Sun straight above there is no second direction."""
    turning = LOW.replace("second_to: velocity", "second_to: sun")
    found = scan(model_of(turning), ["cold"], low=-1.0, high=1.0)
    assert [(point.beta, point.moved) for point in found.points] == [
        (-1.0, 0.0), (0.0, 0.01), (1.0, 0.0),
    ]  # fmt: skip
    assert "beside 0°" in found.cases[0].notes[0]


def test_an_ellipse_with_a_date_keeps_its_lowest_point_where_it_stands_to_the_sun() -> None:
    """At the beta of its date, the scan solves what the case itself is."""
    dated = "node: 40 deg, date: 2026-03-04, periapsis: 30 deg"
    ellipse = LOW.replace(
        "altitude: 500 km, inclination: 51.6 deg, beta: 10 deg",
        f"lowest_altitude: 500 km, highest_altitude: 8000 km, inclination: 51.6 deg, {dated}",
    )
    model = model_of(ellipse)
    own = solve(model, "hot")
    assert own.plan.sky is not None
    beta = own.plan.sky.beta
    found = scan(model, ["hot"], low=beta, high=beta)
    (row,) = [row for row in governing(found) if row.component == "side"]
    assert row.highest.value == pytest.approx(own.solution.extremes.highest.max(axis=0)[0])
    assert "ahead of orbit noon" in found.cases[0].notes[0]


def test_a_point_without_a_solution_is_kept_and_counts_for_nothing() -> None:
    hot = vary(model_of(CLOSED_FORMS), {"surfaces.roof.emittance": 1e-9})
    found = scan(hot, ["case"], low=0.0, high=2.0)
    assert all(point.failure for point in found.points)
    assert [point.beta for point in found.points] == [0.0, 2.0]
    assert governing(found) == ()


def test_a_case_without_an_orbit_cannot_be_scanned() -> None:
    with pytest.raises(InputError, match="no orbit around a body"):
        scan(model_of(CLOSED_FORMS), ["on the ground"])


def test_by_default_the_cases_without_an_orbit_are_left_out() -> None:
    found = scan(model_of(CLOSED_FORMS), low=0.0, high=0.0)
    assert [case.name for case in found.cases] == ["case"]


def test_a_pointing_to_the_stars_is_refused_where_it_stands() -> None:
    """A beta angle does not say where the stars are."""
    stars = LOW.replace("beta: 10 deg", "node: 40 deg, date: 2026-03-04")
    stars = stars.replace("second_to: velocity", "second_to: north")
    with pytest.raises(InputError, match="where the stars stand is open"):
        scan(model_of(stars), ["hot"], low=0.0, high=0.0)


def test_an_unknown_component_is_named() -> None:
    with pytest.raises(InputError, match="unknown component 'rof'"):
        scan(model_of(CLOSED_FORMS), components=["rof"])


def test_only_the_components_asked_for_are_weighed() -> None:
    found = scan(model_of(CLOSED_FORMS), components=["roof"], low=0.0, high=3.0)
    assert [row.component for row in governing(found)] == ["roof"]


def test_equal_margins_are_told_from_unequal_ones_by_more_than_rounding() -> None:
    key = ("unit", "margin", "hot")
    first = Point(case="case", beta=0.0, weights={key: 1.00001}, margins={})
    later = replace(first, beta=5.0, weights={key: 1.0})
    assert least([first, later])[key].beta == 0.0
