"""The trade of a blanket against heater power: closed forms, and a published-form network."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.small_models import model_of
from thermnet.account import account
from thermnet.errors import InputError
from thermnet.model.model import Model
from thermnet.model.paths import vary
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.results import solve
from thermnet.studies.holding import hold
from thermnet.studies.trade import Trade, trade
from thermnet.studies.trade_range import around, between, blanket_over, quality

EMITTANCE = "blankets.wrap.effective_emittance"

NETWORK = """
thermnet: 1
temperatures: K
uncertainty: {policy: none, heater_duty: 0.8}
nodes:
  box: {capacity: 4000 J/K}
  deck: {capacity: 9000 J/K}
  radiator: {capacity: 1500 J/K}
  face: {capacity: 60 J/K}
boundaries:
  space: {temperature: 2.7}
links:
  one: {from: box, to: deck, conductance: 2.5 W/K}
  two: {from: deck, to: radiator, conductance: 4.0 W/K}
radiation:
  radiator: {from: radiator, to: space, area: 0.2125 m2}
  face: {from: face, to: space, area: 1.44 m2}
blankets:
  box: {from: box, to: face, area: 0.6 m2, effective_emittance: 0.02}
  wrap: {from: deck, to: face, area: 1.2 m2, effective_emittance: 0.02, low: 0.015, high: 0.03}
loads:
  box: {node: box, heat: 5 W}
heaters:
  deck: {node: deck, power: 80 W, on_below: 272, off_above: 275}
components:
  deck: {at: deck, operating: [273.15, 320], held_by: deck}
cases:
  cold: {kind: cold, set: {blankets.wrap.use: high}}
  hot: {kind: hot, set: {blankets.wrap.use: low, loads.box.heat: 90 W}}
"""
"""Check value 11.4 of a synthetic network, derived; its blanket is two links of one emittance."""

PUBLISHED = {
    0.005: (52.479746, 274.764546, 259.491494, 76.834237),
    0.010: (55.279860, 274.388003, 259.491494, 91.188196),
    0.020: (60.748247, 273.660530, 259.491494, 108.013061),
    0.030: (66.048658, 272.965472, 259.491494, 119.073270),
    0.050: (76.179856, 271.665024, 259.491494, 134.278213),
}
"""Heater power [W], box, radiator and blanket face [K] by effective emittance (derived)."""

BETWEEN_PLATES = """
thermnet: 1
temperatures: K
uncertainty: {policy: none, heater_duty: 0.5}
nodes:
  tank: {capacity: 1000 J/K}
boundaries:
  face: {temperature: 200, swing: 60 K, schedule: wave}
schedules:
  wave: {time: [0 s, 50 s, 100 s], value: [0, 0, 0], shape: linear, period: 100 s}
blankets:
  wrap: {from: tank, to: face, area: 2 m2, effective_emittance: 0.02}
heaters:
  tank: {node: tank, power: 20 W, on_below: 290, off_above: 292}
components:
  tank: {at: tank, operating: [280, 310], held_by: tank}
cases:
  cold: {kind: cold}
  hot: {kind: hot, set: {boundaries.face.temperature: 320 K}}
  turning: {kind: cold, solve: repeating, period: 100 s}
  falling: {kind: cold, solve: transient, duration: 100 s}
"""
"""Between imposed temperatures a blanket needs area e sigma (T^4 - T_face^4): a closed form."""


def closed_form(emittance: float, warm: float = 280.0, cool: float = 200.0) -> float:
    return 2.0 * emittance * STEFAN_BOLTZMANN * (warm**4 - cool**4)


def traded(model: Model, values: tuple[float, ...], **more: object) -> Trade:
    component = next(iter(model.sections["components"]))
    arguments = {"component": component, "cold": "cold", "hot": "hot", "path": EMITTANCE} | more
    return trade(model, values=values, **arguments)  # type: ignore[arg-type]


@pytest.mark.parametrize("emittance", PUBLISHED)
def test_the_power_that_holds_a_deck_is_that_of_the_derived_sweep(emittance: float) -> None:
    model = vary(model_of(NETWORK), {"blankets.box.effective_emittance": emittance})
    (point,) = traded(model, (emittance,)).points
    assert point.needed == point.peak == pytest.approx(PUBLISHED[emittance][0], abs=1e-4)
    assert point.open_accounts == ()


@pytest.mark.parametrize("emittance", PUBLISHED)
def test_all_else_comes_into_balance_around_a_held_node(emittance: float) -> None:
    changes = dict.fromkeys(("blankets.box.effective_emittance", "blankets.wrap.high"), emittance)
    changes |= {"blankets.wrap.low": 0.005, EMITTANCE: emittance}
    held = hold(vary(model_of(NETWORK), changes), "cold", "deck", 273.15)
    temperatures = dict(zip(held.network.names, held.solution.mean.tolist(), strict=True))
    _, box, radiator, face = PUBLISHED[emittance]
    assert temperatures["deck"] == 273.15
    assert temperatures["box"] == pytest.approx(box, abs=1e-4)
    assert temperatures["radiator"] == pytest.approx(radiator, abs=1e-4)
    assert temperatures["face"] == pytest.approx(face, abs=1e-4)
    assert account(held.network, held.solution).closes


def test_a_load_of_the_power_needed_brings_the_node_to_where_it_was_held() -> None:
    model = model_of(NETWORK)
    held = hold(model, "cold", "deck", 273.15)
    text = NETWORK.replace(
        "loads:\n", f"loads:\n  heater: {{node: deck, heat: {held.mean!r} W}}\n"
    ).replace("power: 80 W", "power: 0 W")
    loaded = solve(model_of(text), "cold")
    assert account(loaded.network, loaded.solution).closes
    by_load = {name: loaded.of(name)[0] for name in loaded.network.names}
    for name, kelvin in zip(held.network.names, held.solution.mean, strict=True):
        assert by_load[name] == pytest.approx(kelvin, abs=1e-6), name


def test_a_better_blanket_needs_less_power_and_leaves_less_hot_margin() -> None:
    found = traded(model_of(NETWORK), (0.05, 0.01, 0.03, 0.02))
    assert [point.value for point in found.points] == [0.01, 0.02, 0.03, 0.05]
    assert (np.diff([point.needed for point in found.points]) > 0.0).all()
    margins = [point.margin for point in found.points]
    assert all(margin is not None and margin.side == "hot" for margin in margins)
    sizes = [margin.margin for margin in margins if margin is not None]
    assert (np.diff(sizes) > 0.0).all()


def test_the_hot_margin_is_that_of_the_hot_case_at_the_same_value() -> None:
    model = model_of(NETWORK)
    (point,) = traded(model, (0.03,)).points
    changes = {EMITTANCE: 0.03, "blankets.wrap.use": "nominal"}
    warm = solve(vary(model, changes), "hot")
    assert point.hottest == pytest.approx(float(warm.of("deck")[0]), abs=1e-9)
    assert point.margin is not None
    assert point.margin.margin == pytest.approx(320.0 - point.hottest)


def test_the_swept_blanket_uses_the_value_itself_and_no_bound_of_either_case() -> None:
    """The cases ask for the high and the low bound; at 0.2 both would be refused."""
    for emittance in (0.001, 0.2):
        (point,) = traded(model_of(NETWORK), (emittance,)).points
        assert point.emittance == pytest.approx(emittance, rel=1e-9)


def test_the_power_through_a_blanket_alone_is_a_closed_form() -> None:
    (point,) = traded(model_of(BETWEEN_PLATES), (0.02,)).points
    assert point.needed == pytest.approx(closed_form(0.02), rel=1e-9)
    assert point.by_itself is None


def test_seams_raise_the_effective_emittance_as_solved() -> None:
    """1 m of 0.1 W/m/K beside it: the heat of 80 K over area sigma (T^4 - T^4) on top."""
    seamed = BETWEEN_PLATES.replace(
        "effective_emittance: 0.02", "effective_emittance: 0.02, seams: {edge: {length: 1 m, "
        "conductance: 0.1 W/m/K}}"
    )  # fmt: skip
    (point,) = traded(model_of(seamed), (0.02,)).points
    more = 0.1 * 80.0 / closed_form(1.0)
    assert point.emittance == pytest.approx(0.02 + more, rel=1e-9)
    assert point.needed == pytest.approx(closed_form(0.02 + more), rel=1e-9)


def test_where_the_node_is_warmer_by_itself_no_power_is_needed() -> None:
    warm = vary(model_of(BETWEEN_PLATES), {"boundaries.face.temperature": 285.0})
    (point,) = traded(warm, (0.02,)).points
    assert (point.needed, point.peak) == (0.0, 0.0)
    assert point.by_itself == pytest.approx(285.0, abs=1e-6)


def test_another_temperature_may_be_held() -> None:
    (point,) = traded(model_of(BETWEEN_PLATES), (0.02,), at=300.0).points
    assert point.needed == pytest.approx(closed_form(0.02, warm=300.0), rel=1e-9)


def test_a_unit_that_is_off_is_held_at_its_non_operating_limit() -> None:
    text = BETWEEN_PLATES.replace("operating: [280, 310]", "operating: [280, 310], on: false, "
                                  "non_operating: [260, 330]")  # fmt: skip
    found = traded(model_of(text), (0.02,))
    assert (found.limit, found.band) == (260.0, "non-operating")


def test_the_crossing_lies_where_the_power_needed_is_the_duty_of_what_is_installed() -> None:
    """Power goes straight with the emittance here: 10 W = 2 e sigma (280^4 - 200^4)."""
    found = traded(model_of(BETWEEN_PLATES), (0.01, 0.04))
    assert (found.installed, found.usable) == (20.0, 10.0)
    crossing = found.crossing()
    assert crossing is not None
    assert crossing[0] == pytest.approx(10.0 / closed_form(1.0), rel=1e-9)
    assert crossing[1] == pytest.approx(crossing[0], rel=1e-9)


def test_power_that_never_reaches_what_is_usable_has_no_crossing() -> None:
    assert traded(model_of(BETWEEN_PLATES), (0.001, 0.002)).crossing() is None


def test_a_repeating_case_needs_a_mean_and_a_peak() -> None:
    """The face goes 200 - 230 - 200 K in straight lines: the mean of T^4 is an integral of T^5."""
    wave = BETWEEN_PLATES.replace("value: [0, 0, 0]", "value: [0, 0.5, 0]")
    found = traded(model_of(wave), (0.02,), cold="turning")
    (point,) = found.points
    mean = (230.0**5 - 200.0**5) / (5.0 * 30.0)
    needed = 2.0 * 0.02 * STEFAN_BOLTZMANN * (280.0**4 - mean)
    assert found.repeating
    assert point.needed == pytest.approx(needed, rel=1e-4)
    assert point.peak == pytest.approx(closed_form(0.02), rel=1e-4)
    assert point.emittance == pytest.approx(0.02, rel=1e-6)


def test_excess_at_some_instants_is_not_stored_and_the_trade_says_so() -> None:
    """Two thirds of the wave from 200 to 320 K lie below 280 K, where power is needed."""
    wave = BETWEEN_PLATES.replace("value: [0, 0, 0]", "value: [0, 2, 0]")
    found = traded(model_of(wave), (0.02,), cold="turning")
    mean = (280.0**5 - 200.0**5) / (5.0 * 80.0)
    needed = 2.0 * 0.02 * STEFAN_BOLTZMANN * (280.0**4 - mean) * 2.0 / 3.0
    assert found.points[0].needed == pytest.approx(needed, rel=1e-4)
    assert any("upper bounds" in note for note in found.notes)


def test_a_circuit_that_heats_other_nodes_too_is_told() -> None:
    text = NETWORK.replace("{node: deck, power", "{shares: {deck: 0.9, box: 0.1}, sensor: deck, "
                           "power")  # fmt: skip
    found = traded(model_of(text), (0.02,))
    assert any("'deck' heats box" in note for note in found.notes)


def test_a_heater_that_failed_on_goes_on_heating() -> None:
    text = BETWEEN_PLATES.replace("heaters:\n", "heaters:\n  stuck: {node: tank, power: 3 W, "
                                  "on_below: 280, off_above: 281, failed: on}\n")  # fmt: skip
    (point,) = traded(model_of(text), (0.02,)).points
    assert point.needed == pytest.approx(closed_form(0.02) - 3.0, rel=1e-9)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"cold": "falling"}, "is transient"),
        ({"cold": "nowhere"}, "unknown case"),
        ({"component": "tnk"}, "unknown component 'tnk'.*tank"),
        ({"blanket": "rap"}, "unknown blanket"),
        ({"path": "blankets.wrap.low"}, "is a bound"),
        ({"path": "blankets.wrap.from"}, "holds no number"),
        ({"path": "components.tank.operating.0"}, "judged by"),
        ({"values": ()}, "at least one value"),
    ],
)
def test_what_cannot_be_traded_is_refused(changed: dict[str, object], words: str) -> None:
    arguments: dict[str, object] = {"values": (0.02,)} | changed
    with pytest.raises(InputError, match=words):
        traded(model_of(BETWEEN_PLATES), **arguments)  # type: ignore[arg-type]


def test_a_component_of_several_nodes_is_refused() -> None:
    text = NETWORK.replace("at: deck", "at: [deck, box]")
    with pytest.raises(InputError, match="worst of several nodes"):
        traded(model_of(text), (0.02,))


def test_a_component_without_an_operating_band_needs_a_temperature() -> None:
    text = BETWEEN_PLATES.replace("operating: [280, 310], ", "")
    with pytest.raises(InputError, match="no operating band"):
        traded(model_of(text), (0.02,))
    assert math.isfinite(traded(model_of(text), (0.02,), at=280.0).points[0].needed)


def test_the_blanket_over_a_component_is_found_by_its_covered_node() -> None:
    assert blanket_over(model_of(NETWORK), "deck") == "wrap"
    elsewhere = NETWORK.replace("at: deck", "at: radiator")
    with pytest.raises(InputError, match="none covers it: 'box', 'wrap'"):
        blanket_over(model_of(elsewhere), "deck")


def test_values_go_between_the_bounds_or_from_a_third_to_three_times() -> None:
    model = model_of(NETWORK)
    assert quality(model, "wrap") == EMITTANCE
    assert around(model, EMITTANCE, 4) == pytest.approx((0.015, 0.02, 0.025, 0.03))
    unbounded = around(model, "blankets.box.effective_emittance", 3)
    assert (unbounded[0], unbounded[-1]) == pytest.approx((0.02 / 3.0, 0.06))


@pytest.mark.parametrize(("low", "high", "points"), [(2.0, 1.0, 3), (1.0, 2.0, 1)])
def test_no_range_is_refused(low: float, high: float, points: int) -> None:
    with pytest.raises(InputError):
        between(model_of(NETWORK), EMITTANCE, low, high, points)
