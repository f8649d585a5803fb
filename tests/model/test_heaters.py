"""What a heater circuit may say, and the primitives that it becomes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.model.small import SMALL, read
from thermnet.errors import InputError
from thermnet.model.assemble import assemble
from thermnet.model.kinds.heater import Heater
from thermnet.network.network import Network, duties, sources

MODES = """\
modes:
  sun: {}
  safe: {}
timelines:
  day:
    repeats: at its end
    steps:
      first: {mode: sun, duration: 60 s}
      then: {mode: safe, duration: 40 s}
"""


VOLTAGES = SMALL.replace("200 s}", "200 s, bus_voltage: 28 V}").replace(
    "duration: 250 s}", "duration: 250 s, bus_voltage: 28 V}"
)
"""The small model with a bus voltage in every case."""


def heater(body: str) -> Heater:
    text = VOLTAGES.replace("heaters:\n", f"heaters:\n  own: {{{body}}}\n")
    return read(text).entries(Heater, "heaters")["own"]


def built(body: str, case: str = "solve: repeating, period: 100 s", more: str = "") -> Network:
    """The network of the small model with one more circuit, in one more case."""
    text = VOLTAGES.replace("heaters:\n", f"{more}heaters:\n  own: {{{body}}}\n")
    if more:
        for volts in ("35 V", "28 V"):
            text = text.replace(f"bus_voltage: {volts}", f"bus_voltage: {volts}, mode: sun")
    return assemble(read(f"{text}  more: {{{case}}}\n"), "more")


def refused(body: str, case: str = "") -> str:
    with pytest.raises(InputError) as caught:
        built(body, case) if case else heater(body)
    return str(caught.value)


def own(network: Network, what: str) -> Any:
    """An array of the thermostats or heats that came of the circuit."""
    group, name = what.split(".")
    part = getattr(network, group)
    mine = [network.origins[origin] == "heaters.own" for origin in part.origin]
    return getattr(part, name)[mine]


BAND = "on_below: 10, off_above: 12"


# ---------------------------------------------------------------- power by voltage


@pytest.mark.parametrize(
    ("voltage", "power"),
    # Joule's and Ohm's laws: 8 W (V / 28)^2, and at 98 ohm V^2 / 98 (derived: 784 / 98 = 8).
    [(28.0, 8.0), (14.0, 2.0), (42.0, 18.0)],
)
@pytest.mark.parametrize("strength", ["power: 8 W, rated_voltage: 28 V", "resistance: 98 ohm"])
def test_the_power_of_a_resistor_goes_with_the_voltage_squared(
    strength: str, voltage: float, power: float
) -> None:
    assert heater(f"node: box, {strength}, {BAND}").power_at(voltage) == pytest.approx(power)


def test_a_power_without_a_rated_voltage_is_the_same_at_any_voltage() -> None:
    stated = heater(f"node: box, power: 8 W, {BAND}")
    assert [stated.power_at(voltage) for voltage in (None, 14.0, 42.0)] == [8.0, 8.0, 8.0]


def test_the_network_has_the_power_at_the_bus_voltage_of_the_case() -> None:
    found = built(f"node: box, resistance: 50 ohm, {BAND}", "solve: steady, bus_voltage: 30 V")
    assert own(found, "thermostats.power") == pytest.approx([18.0])


@pytest.mark.parametrize("strength", ["resistance: 98 ohm", "power: 8 W, rated_voltage: 28 V"])
def test_a_resistor_in_a_case_without_a_bus_voltage_is_an_error_that_says_what_to_write(
    strength: str,
) -> None:
    told = refused(f"node: box, {strength}, {BAND}", "solve: steady")
    assert "missing key 'bus_voltage' [V], or low, nominal or high" in told
    assert "the power of heater 'own' goes with it" in told


@pytest.mark.parametrize(
    ("body", "told"),
    [
        ("node: box", "missing key 'power' [W], or 'resistance' [ohm]"),
        ("node: box, power: 8 W, resistance: 98 ohm", "drop one of the two"),
        ("node: box, resistance: 98 ohm, rated_voltage: 28 V", "belongs to a 'power'"),
        ("node: box, resistance: 98 W", "ohm"),
        ("node: box, resistance: 0 ohm", "must be above 0 ohm"),
        ("power: 8 W", "missing key 'node': give it, or 'shares' over several"),
        ("node: box, shares: {box: 1}, power: 8 W", "not both"),
        ("shares: {box: 0.5, plate: 0.5}, power: 8 W", "missing key 'sensor'"),
        ("shares: {box: 0.5, plate: 0.4}, sensor: box, power: 8 W", "the shares sum to 0.9"),
        ("shares: {box: 0.5, plat: 0.5}, sensor: box, power: 8 W", "did you mean 'plate'?"),
        ("node: box, power: 8 W, use: low", "states no 'tolerance' for its low thresholds"),
        ("node: box, power: 8 W, tolerance: -1 K", "must be above 0 K"),
        ("node: box, power: 8 W, control: proportionl", "'thermostat' or 'proportional'"),
        ("node: box, power: 8 W, failed: true", "'no' or 'off' or 'on'"),
        ("node: box, power: 8 W, failed: 1", "'no' or 'off' or 'on'"),
        ("node: box, power: 8 W, modes: [safe]", "safe"),
    ],
)
def test_a_circuit_that_cannot_be_is_refused_in_words(body: str, told: str) -> None:
    assert told in refused(f"{body}, {BAND}")


def test_thresholds_the_wrong_way_round_would_chatter() -> None:
    told = refused("node: box, power: 8 W, on_below: 12, off_above: 12")
    assert "must lie above 'on_below', or the heater would chatter" in told


def test_a_heater_is_enabled_by_a_schedule_or_by_modes_not_both() -> None:
    body = f"node: box, power: 8 W, enabled: half, modes: [safe], {BAND}"
    with pytest.raises(InputError, match="by a schedule or by modes, not both"):
        built(body, more=MODES)


# ---------------------------------------------------------------- nodes, sensor, thresholds


def test_a_shared_heater_is_a_thermostat_on_every_node_by_one_sensor() -> None:
    found = built(f"shares: {{box: 0.75, plate: 0.25}}, sensor: plate, power: 8 W, {BAND}")
    assert [found.names[k] for k in own(found, "thermostats.node")] == ["box", "plate"]
    assert [found.names[k] for k in own(found, "thermostats.sensor")] == ["plate", "plate"]
    assert own(found, "thermostats.power").tolist() == [6.0, 2.0]


def test_shares_of_one_node_need_no_sensor() -> None:
    assert heater(f"shares: {{plate: 1}}, power: 8 W, {BAND}").senses == "plate"


@pytest.mark.parametrize(
    ("use", "on", "off"), [("nominal", 10, 12), ("low", 8.5, 10.5), ("high", 11.5, 13.5)]
)
def test_the_tolerance_shifts_both_thresholds(use: str, on: float, off: float) -> None:
    found = built(f"node: box, power: 8 W, tolerance: 1.5 K, use: {use}, {BAND}")
    assert own(found, "thermostats.on") == pytest.approx([273.15 + on])
    assert own(found, "thermostats.off") == pytest.approx([273.15 + off])


def test_a_case_says_which_end_of_the_tolerance_it_takes() -> None:
    body = f"node: box, power: 8 W, tolerance: 1.5 K, {BAND}"
    found = built(body, "solve: steady, set: {heaters.own.use: low}")
    assert own(found, "thermostats.on") == pytest.approx([273.15 + 8.5])


def test_a_case_that_asks_for_thresholds_without_a_tolerance_is_refused() -> None:
    case = "solve: steady, set: {heaters.own.use: high}"
    assert "states no 'tolerance'" in refused(f"node: box, power: 8 W, {BAND}", case)


# ---------------------------------------------------------------- proportional control


def test_proportional_control_gives_in_proportion_to_what_the_sensor_lacks() -> None:
    """8 W at or below 10 degC, 6 W at 10.5, 2 W at 11.5, nothing at or above 12 (the law)."""
    found = built(f"node: plate, sensor: box, power: 8 W, control: proportional, {BAND}")
    assert not len(own(found, "thermostats.node"))
    given = []
    for celsius in (-40.0, 10.0, 10.5, 11.5, 12.0, 50.0):
        temperature = np.full(len(found.names), 273.15 + celsius)
        heat = sources(found, temperature, 0.0)
        given.append(heat[found.heats.origin == found.origins.index("heaters.own")].sum())
    assert given == pytest.approx([8.0, 8.0, 6.0, 2.0, 0.0, 0.0])


def test_proportional_control_is_the_law_of_a_thermostat_in_a_steady_state() -> None:
    switched = built(f"node: box, power: 8 W, {BAND}")
    proportional = built(f"node: box, power: 8 W, control: proportional, {BAND}")
    for celsius in (9.0, 10.4, 11.7, 13.0):
        temperature = np.full(len(switched.names), 273.15 + celsius)
        mine = own(switched, "thermostats.power") * duties(switched, temperature)[0]
        heat = sources(proportional, temperature, 0.0)
        other = heat[proportional.heats.origin == proportional.origins.index("heaters.own")]
        assert other == pytest.approx(mine)


# ---------------------------------------------------------------- enabled, failed


def test_a_heater_is_enabled_in_its_modes_alone() -> None:
    """The second mode of the day, from 60 to 100 s."""
    case = "solve: repeating, period: 100 s, timeline: day"
    found = built(f"node: box, power: 8 W, modes: [safe], {BAND}", case, MODES)
    (history,) = own(found, "thermostats.enabled")
    values = [found.histories.at(time)[history] for time in (0.0, 59.0, 60.0, 99.0)]
    assert values == [0.0, 0.0, 1.0, 1.0]


@pytest.mark.parametrize(("mode", "power"), [("sun", 0.0), ("safe", 8.0)])
def test_in_a_case_of_one_mode_a_heater_is_enabled_or_not(mode: str, power: float) -> None:
    case = f"solve: steady, mode: {mode}"
    found = built(f"node: box, power: 8 W, modes: [safe], {BAND}", case, MODES)
    assert own(found, "thermostats.power").tolist() == [power]


def test_an_unknown_mode_is_named_with_the_nearest() -> None:
    with pytest.raises(InputError, match="unknown mode 'save'; did you mean 'safe'"):
        built(f"node: box, power: 8 W, modes: [save], {BAND}", more=MODES)


@pytest.mark.parametrize("control", ["thermostat", "proportional"])
def test_a_heater_failed_off_gives_no_heat(control: str) -> None:
    body = f"node: box, power: 8 W, failed: off, control: {control}, {BAND}"
    found = built(body)
    given = own(found, "thermostats.power").sum() + own(found, "heats.amplitude").sum()
    assert given == 0.0


@pytest.mark.parametrize(
    "when", ["enabled: half", "modes: [safe]", "control: proportional", "note: by thermostat"]
)
def test_a_heater_failed_on_gives_all_it_has_whatever_its_control_says(when: str) -> None:
    body = (
        f"shares: {{box: 0.75, plate: 0.25}}, sensor: box, power: 8 W, failed: on, {when}, {BAND}"
    )
    found = built(body, "solve: repeating, period: 100 s, mode: sun", MODES)
    hot = np.full(len(found.names), 400.0)
    heat = sources(found, hot, 20.0)[found.heats.origin == found.origins.index("heaters.own")]
    assert heat.tolist() == [6.0, 2.0]
    assert not len(own(found, "thermostats.node"))
