"""The bounds of a blanket in a trade, whole numbers, and where no effective emittance is told."""

from __future__ import annotations

import math

import pytest

from tests.small_models import model_of
from tests.studies.test_trade import BETWEEN_PLATES, EMITTANCE, NETWORK, traded
from thermnet.account import account
from thermnet.heaters import heater_duty
from thermnet.model.paths import vary
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.results import solve
from thermnet.studies.trade_range import around

BOUNDED = """
thermnet: 1
temperatures: K
uncertainty: {policy: none, heater_duty: 0.8}
nodes:
  tank: {capacity: 9000 J/K}
  face: {massless: true}
boundaries:
  space: {temperature: 3}
blankets:
  wrap:
    from: tank
    to: face
    area: 3 m2
    effective_emittance: 0.005
    low: 0.003
    high: 0.010
    seams: {closing: {length: 4 m, conductance: 5 mW/m/K}}
    bounds: {low: 0.5, high: 2}
surfaces:
  face: {node: face, area: 3 m2, emittance: 0.75}
heaters:
  tank: {node: tank, power: 28 W, on_below: 283.14, off_above: 283.16}
components:
  tank: {at: tank, operating: [283.15, 310], held_by: tank}
cases:
  cold: {kind: cold, blankets: high}
  hot: {kind: hot, blankets: low}
"""
"""A seam that lets twice as much through at the upper bound, beside an emittance of 0.010 there."""

STACKED = BOUNDED.replace(
    """    effective_emittance: 0.005
    low: 0.003
    high: 0.010
""",
    """    layers: {count: 10, emittance: 0.05}
""",
)


@pytest.mark.parametrize(
    ("text", "path", "value"),
    [
        (BOUNDED, EMITTANCE, 0.010),
        (BOUNDED, "blankets.wrap.seams.closing.conductance", 0.005),
        (BOUNDED, "blankets.wrap.area", 3.0),
        (STACKED, "blankets.wrap.factor", 1.0),
        (STACKED, "blankets.wrap.layers.count", 10.0),
    ],
)
def test_at_the_own_value_of_the_cold_case_the_need_is_what_its_heater_gives(
    text: str, path: str, value: float
) -> None:
    """The bound of the case applies to all that is not swept."""
    model = model_of(text)
    (point,) = traded(model, (value,), path=path).points
    heated = solve(model, "cold")
    assert account(heated.network, heated.solution).closes
    assert point.needed == pytest.approx(28.0 * heater_duty(heated, "tank"), abs=0.01)


def test_bounds_of_a_seam_stay_those_of_each_case_while_the_emittance_is_swept() -> None:
    """Derived: face and tank exchange 0.02 A sigma (T^4 - T_face^4) and 4 m x 2 x 5 mW/m/K."""
    found = traded(model_of(BOUNDED), (0.02,))
    (point,) = found.points
    face = face_between(0.02, 4.0 * 2.0 * 0.005)
    through = 3.0 * 0.02 * STEFAN_BOLTZMANN * (283.15**4 - face**4) + 0.04 * (283.15 - face)
    assert point.needed == pytest.approx(through, rel=1e-6)
    assert found.bounds == {"cold": {"high": ("wrap",)}, "hot": {"low": ("wrap",)}}


def face_between(emittance: float, conductance: float) -> float:
    """Temperature [K] at which the outer face radiates what the tank gives it, by halving."""
    low, high = 3.0, 283.15
    for _ in range(80):
        face = 0.5 * (low + high)
        reached = 3.0 * emittance * STEFAN_BOLTZMANN * (283.15**4 - face**4)
        reached += conductance * (283.15 - face)
        if 3.0 * 0.75 * STEFAN_BOLTZMANN * (face**4 - 3.0**4) > reached:
            high = face
        else:
            low = face
    return 0.5 * (low + high)


def test_where_all_its_bounds_give_way_to_the_value_a_blanket_uses_none() -> None:
    assert traded(model_of(NETWORK), (0.02,)).bounds["cold"] == {"nominal": ("box",)}


def test_whole_numbers_are_enough_on_the_safe_side() -> None:
    model = vary(model_of(STACKED), {"heaters.tank.power": 10.0, "blankets.wrap.seams.closing."
                                     "conductance": 1e-4})  # fmt: skip
    found = traded(model, (2.0, 4.0, 8.0, 16.0), path="blankets.wrap.layers.count")
    crossing, enough = found.crossing(), found.enough()
    assert crossing is not None
    assert enough is not None
    assert enough - 1 < crossing[0] < enough
    (point,) = traded(model, (float(enough),), path="blankets.wrap.layers.count").points
    assert found.usable is not None
    assert point.needed < found.usable
    assert traded(model, (0.5, 2.0), path="blankets.wrap.factor").enough() is None


def test_a_difference_that_cancels_over_time_tells_no_effective_emittance() -> None:
    """From 200 to 335 K and back: heat flows both ways, and a seam goes with T and not T^4."""
    wave = BETWEEN_PLATES.replace("value: [0, 0, 0]", "value: [0, 2.25, 0]").replace(
        "effective_emittance: 0.02", "effective_emittance: 0.0001, seams: {edge: {length: 1 m, "
        "conductance: 0.1 W/m/K}}"
    )  # fmt: skip
    (point,) = traded(model_of(wave), (0.0001,), cold="turning").points
    assert math.isnan(point.emittance)
    assert point.needed > 0.0


def test_a_factor_goes_from_a_third_to_three_times_as_its_bounds_apply_on_top() -> None:
    of_layers = around(model_of(STACKED), "blankets.wrap.factor", 2)
    assert of_layers == pytest.approx((1.0 / 3.0, 3.0))
