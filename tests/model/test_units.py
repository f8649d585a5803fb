"""Units: heat by mode, shared over nodes, by temperature and by bus voltage, against a budget."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tests.model.operated import changed, read
from thermnet.errors import InputError
from thermnet.model.assemble import assemble
from thermnet.model.budgets import mode_totals, over_budget
from thermnet.model.model import Model
from thermnet.model.paths import apply_case, vary
from thermnet.model.plan import plan
from thermnet.network.network import sources
from thermnet.results import solve
from thermnet.states import is_on

STEADY = ("solve: repeating, orbit: low, pointing: nadir, environment: hot, timeline: day",
          "solve: steady, orbit: none, mode: imaging, bus_voltage: high")  # fmt: skip


def heat(model: Model, temperature: float = 280.0) -> dict[str, float]:
    """Heat of the units on every node [W]."""
    network = assemble(model, "day")
    given = sources(network, np.full(len(network.names), temperature), 0.0)
    found: dict[str, float] = {}
    for node, watts in zip(network.heats.node, given, strict=True):
        found[network.names[node]] = found.get(network.names[node], 0.0) + float(watts)
    return found


def test_the_heat_of_a_unit_is_shared_over_its_nodes() -> None:
    # By hand: 7 W, and 12 W in shares of 3/4 and 1/4.
    assert_allclose([heat(changed(STEADY))[each] for each in ("box", "plate")], [16.0, 3.0])


def test_the_scale_of_a_unit_multiplies_its_heat_and_what_it_sends() -> None:
    model = vary(changed(STEADY), {"units.*.scale": 0.8})
    assert_allclose(heat(model)["plate"], 2.4)
    (total,) = [each for each in mode_totals(model) if each.mode == "imaging"]
    assert_allclose([total.heat, total.sent], [0.8 * 19.0, 0.8 * 2.0])


def test_heat_by_temperature_follows_straight_lines_and_holds_at_the_ends() -> None:
    by = "by_temperature: {temperature: [0, 40], factor: [1.0, 1.5]}"
    model = changed(STEADY, ("heat: {idle: 5 W, imaging: 7 W}", f"heat: {{imaging: 10 W}}, {by}"))
    for celsius, watts in ((-20.0, 10.0), (20.0, 12.5), (60.0, 15.0)):
        assert_allclose(heat(model, celsius + 273.15)["box"], watts + 9.0, rtol=1e-12)


def test_heat_by_bus_voltage_follows_the_voltage_that_the_case_names() -> None:
    by = "by_voltage: {voltage: [24 V, 32 V], factor: [1.0, 0.8]}"
    model = changed(STEADY, ("heat: {idle: 5 W, imaging: 7 W}", f"heat: {{imaging: 10 W}}, {by}"))
    assert_allclose(heat(model)["box"], 8.0 + 9.0)
    assert_allclose(
        heat(changed((STEADY[0], STEADY[1].replace("high", "28 V")),
                     ("heat: {idle: 5 W, imaging: 7 W}", f"heat: {{imaging: 10 W}}, {by}")))["box"],
        9.0 + 9.0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("voltage", "message"),
    [
        ("bus_voltage: 20 V", "the bus voltage of 20 V lies beyond the points, 24 to 32 V"),
        ("kind: hot", "missing key 'bus_voltage': the heat of a unit goes by it"),
    ],
)
def test_heat_by_bus_voltage_is_never_guessed(voltage: str, message: str) -> None:
    by = "by_voltage: {voltage: [24 V, 32 V], factor: [1.0, 0.8]}"
    with pytest.raises(InputError, match=message):
        changed(
            (STEADY[0], STEADY[1].replace("bus_voltage: high", voltage)),
            ("heat: {idle: 5 W, imaging: 7 W}", f"heat: {{imaging: 10 W}}, {by}"),
        )


def test_a_unit_takes_its_schedule_within_its_modes() -> None:
    half = "schedules:\n  half: {time: [0 s, 50 s], value: [1, 0], shape: steps, period: 100 s}\n"
    model = changed(
        STEADY,
        ("heat: {idle: 5 W, imaging: 7 W}", "heat: {imaging: 10 W}, schedule: half"),
        ("components:", f"{half}components:"),
    )
    assert_allclose(heat(model)["box"], 5.0 + 9.0)


def test_the_band_of_a_component_follows_its_unit_from_mode_to_mode() -> None:
    result = solve(read(), "day")
    on = is_on(result, result.model.sections["components"]["camera"])  # type: ignore[arg-type]
    edges = result.solution.extremes.edges
    begin, end = result.plan.activity.begin[1:]  # type: ignore[union-attr]
    middle = edges.mean(axis=1) % result.plan.span
    assert np.array_equal(on, (middle > begin) & (middle < end))
    assert on.any()


def test_a_unit_may_be_on_without_heat_and_off_with_it() -> None:
    model = changed(
        ("heat: {imaging: 12 W}", "heat: {imaging: 12 W}, on: {idle: true, imaging: false}")
    )
    unit = model.sections["units"]["camera"]
    assert [unit.is_on(mode) for mode in ("idle", "imaging")] == [True, False]  # type: ignore[attr-defined]


def test_a_schedule_may_follow_modes() -> None:
    model = changed(("components:", "schedules: {busy: {modes: [imaging]}}\ncomponents:"))
    how = plan(apply_case(model, "day"), "day")
    # By hand: 600 s of imaging in each orbit.
    assert_allclose(how.schedules["busy"].mean(how.span), 600.0 / how.span, rtol=1e-9)


def test_the_total_of_a_mode_is_held_against_its_budget() -> None:
    imaging = next(each for each in mode_totals(read()) if each.mode == "imaging")
    assert_allclose([imaging.heat, imaging.sent], [19.0, 2.0])
    assert imaging.left == pytest.approx(0.0)
    assert list(over_budget(read(), plan(apply_case(read(), "day"), "day"))) == []


def test_a_mode_over_its_budget_is_told_in_the_case_that_goes_through_it() -> None:
    model = apply_case(changed(("budget: 21 W", "budget: 20 W")), "day")
    (problem,) = over_budget(model, plan(model, "day"))
    assert problem.severity == "warning"
    assert "take 21 W, 1 W more than the budget of 20 W" in problem.message


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("box: 0.75", "box: 0.7", "the shares sum to 0.95, not to 1"),
        ("box: 0.75", "bx: 0.75", "unknown node 'bx'; did you mean 'box'?"),
        ("heat: {imaging: 12 W}", "heat: {imging: 12 W}", "unknown mode 'imging'; did you"),
        ("shares: {box: 0.75", "node: box, shares: {box: 0.75", "one node or shares over several"),
        ("{node: box, heat", "{heat", "missing key 'node': give it, or 'shares'"),
        ("unit: camera}", "unit: camera, on: true}", "is stated by the modes of its 'unit'"),
        ("low: 24 V", "low: 29 V", "bus voltages must not fall"),
    ],
)  # fmt: skip
def test_units_that_cannot_be(old: str, new: str, message: str) -> None:
    with pytest.raises(InputError) as error:
        changed((old, new))
    assert message in str(error.value)


def test_a_named_bus_voltage_needs_those_of_the_model() -> None:
    with pytest.raises(InputError, match="the model states no 'bus_voltage' at its top"):
        changed(
            ("bus_voltage: {low: 24 V, nominal: 28 V, high: 32 V}\n", ""),
            ("timeline: day}", "timeline: day, bus_voltage: high}"),
        )


@pytest.mark.parametrize(("period", "watts"), [(100.0, 4.0), (200.0, 2.0)])
def test_a_steady_case_takes_the_mean_of_mode_times_schedule(period: float, watts: float) -> None:
    """By hand: 10 W in the first 40 s of every 100 s, and of these in the first 50 s of the
    schedule's period alone: 40 s of 100 or of 200. The camera adds 3/4 of 12 W for 40 % of it."""
    half = f"half: {{time: [0 s, 50 s], value: [1, 0], shape: steps, period: {period} s}}"
    model = changed(
        ("at: shadow exit, offset: 100 s, duration: 600 s", "duration: 40 s"),
        ("      idle: {mode: idle}", "      idle: {mode: idle, duration: 60 s}"),
        ("repeats: orbit", "repeats: at its end"),
        (STEADY[0], "solve: steady, orbit: none, timeline: day"),
        ("heat: {idle: 5 W, imaging: 7 W}", "heat: {imaging: 10 W}, schedule: half"),
        ("components:", f"schedules:\n  {half}\ncomponents:"),
    )
    assert_allclose(heat(model)["box"], watts + 0.4 * 0.75 * 12.0)


def test_a_unit_with_a_scale_of_zero_is_off_in_every_mode() -> None:
    result = solve(vary(read(), {"units.camera.scale": 0.0}), "day")
    component = result.model.sections["components"]["camera"]
    assert not is_on(result, component).any()  # type: ignore[arg-type]
