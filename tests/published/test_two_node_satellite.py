"""A published two-node satellite: a shell that sees the Sun, a battery inside."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.published.record import SIGMA_TEXTBOOK, Record
from tests.solving import (
    at_instant,
    highest,
    lowest,
    solved_cyclic,
    solved_transient,
    start_at,
)
from thermnet.network.build import build
from thermnet.network.network import Network
from thermnet.network.parts import (
    RADIATION,
    BoundaryPart,
    HeatPart,
    History,
    LinkPart,
    NodePart,
    Part,
    ThermostatPart,
)
from thermnet.solve.solution import Options, Solution

SOURCE = (
    "SizingLab, Systems Engineering Introduction, small-satellite thermal model tutorial (course "
    "notebook), after Rossi and Ivanov, IAC 2013"
)
FINE = Options(accuracy=1e-3)
PERIOD = 5400.0
FACING = 0.03231
"""m2 towards the Sun, and as much towards the planet; twice as much radiates besides."""

SOLAR, ALBEDO, PLANET = 28.688049, 4.876968, 5.671559
"""W while lit, while lit, and always; printed inputs in printed equations."""


def satellite(*extra: Part, battery: float = 80.0) -> Network:
    """Sunlit first, 45 of 90 min; radiating 0.03231 x 0.5 + 0.06462 m2 of emittance 0.9."""
    half = PERIOD / 2.0
    lit = History(time=np.array([0.0, half, half, PERIOD]), value=np.array([1.0, 1.0, 0.0, 0.0]))
    to_space = (0.5 * FACING + 2.0 * FACING) * 0.9 * SIGMA_TEXTBOOK
    between = 2.0 * 0.07**2 * SIGMA_TEXTBOOK / (1.0 / 0.8 + 1.0 / 0.9 - 1.0)
    return build(
        [
            NodePart(name="shell", capacity=570.0),
            NodePart(name="battery", capacity=battery),
            BoundaryPart(name="space", temperature=3.0),
            LinkPart(a="shell", b="space", strength=to_space, potential=RADIATION),
            LinkPart(a="battery", b="shell", strength=between, potential=RADIATION),
            LinkPart(a="battery", b="shell", strength=2.6376e-3),
            HeatPart(node="shell", amplitude=PLANET),
            HeatPart(node="shell", amplitude=SOLAR + ALBEDO, history=lit),
            *extra,
        ],
        period=PERIOD,
    )


def orbits(network: Network, count: int, options: Options = FINE) -> Solution:
    start = start_at(network, shell=278.15, battery=273.15)
    return solved_transient(network, count * PERIOD, options, start=start)


def plotted(what: str, celsius: float) -> Record:
    return Record(
        what=what,
        inputs={},
        value=celsius,
        unit="degC",
        tolerance=0.5,
        source=f"{SOURCE}; read off a plot",
        known="read",
    )


def solved_apart(what: str, celsius: float, tolerance: float = 0.003) -> Record:
    return Record(
        what=what,
        inputs={},
        value=celsius,
        unit="degC",
        tolerance=tolerance,
        source=f"inputs: {SOURCE}",
        known="derived: independent solver",
    )


def test_the_printed_inputs_follow_from_the_printed_equations() -> None:
    """4.08e-10 W/K4 between the nodes, the three heat terms; read."""
    link = 2.0 * 0.07**2 * SIGMA_TEXTBOOK / (1.0 / 0.8 + 1.0 / 0.9 - 1.0)
    assert link == pytest.approx(4.08e-10, rel=1e-3)
    assert pytest.approx(FACING * 1366.0 * 0.65, abs=1e-6) == SOLAR
    assert pytest.approx(FACING * 1366.0 * 0.65 * 0.34 * 0.5, abs=1e-6) == ALBEDO
    assert pytest.approx(FACING * 0.5 * 0.9 * SIGMA_TEXTBOOK * 288.0**4, abs=1e-6) == PLANET


SHELL = [
    # orbit; at sunset and at sunrise: plotted, solved apart
    (1, (34.2, 34.23351), (-34.0, -34.22529)),
    (2, (28.4, 28.44591), (-36.0, -36.13128)),
]


def test_the_shell_in_its_first_orbits() -> None:
    network = satellite()
    solution = orbits(network, 2)
    for orbit, *ends in SHELL:
        for half, (in_print, apart) in zip((1, 2), ends, strict=True):
            instant = (orbit - 1) * PERIOD + half * PERIOD / 2.0
            found = at_instant(network, solution, "shell", instant) - 273.15
            plotted(f"shell at {instant:.0f} s", in_print).check(found)
            solved_apart(f"shell at {instant:.0f} s", apart).check(found)


def maxima(network: Network, solution: Solution, count: int) -> list[float]:
    """Highest temperature [degC] of the battery in each orbit."""
    extremes, node = solution.extremes, network.index("battery")
    orbit = np.floor(extremes.edges[:, 0] / PERIOD + 1e-9)
    return [float(extremes.highest[orbit == k, node].max()) - 273.15 for k in range(count)]


def test_the_battery_in_its_first_orbits() -> None:
    network = satellite()
    found = maxima(network, orbits(network, 5), 5)
    for k, (in_print, apart) in enumerate(
        zip((22.0, 10.8, 8.8, 8.5, 8.4), (22.097, 10.756, 8.787, 8.482, 8.435), strict=True)
    ):
        plotted(f"battery, highest of orbit {k + 1}", in_print).check(found[k])
        solved_apart(f"battery, highest of orbit {k + 1}", apart).check(found[k])


def test_the_repeating_orbit() -> None:
    network = satellite()
    solution = solved_cyclic(network, FINE)
    found = {
        "shell highest": highest(network, solution, "shell"),
        "shell lowest": lowest(network, solution, "shell"),
        "battery highest": highest(network, solution, "battery"),
        "battery lowest": lowest(network, solution, "battery"),
        "battery at sunset": at_instant(network, solution, "battery", PERIOD / 2.0),
        "battery at sunrise": at_instant(network, solution, "battery", PERIOD),
    }
    in_print = {
        "shell highest": 27.9,
        "shell lowest": -36.4,
        "battery highest": 8.4,
        "battery lowest": -11.7,
    }
    apart = {
        "shell highest": 27.86143,
        "shell lowest": -36.39834,
        "battery highest": 8.4261,
        "battery lowest": -11.7259,
        "battery at sunset": 6.09383,
        "battery at sunrise": -8.94622,
    }
    for name, celsius in in_print.items():
        plotted(name, celsius).check(found[name] - 273.15)
    for name, celsius in apart.items():
        solved_apart(name, celsius, 0.002).check(found[name] - 273.15)


def test_when_the_battery_is_hottest_and_coldest_in_the_repeating_orbit() -> None:
    """3157 and 598.3 s after sunrise, solved apart."""
    network = satellite()
    extremes, node = solved_cyclic(network, FINE).extremes, 1
    assert extremes.highest_at[1, node] == pytest.approx(3157.0, abs=5.0)
    assert extremes.lowest_at[0, node] == pytest.approx(598.3, abs=5.0)


PACK = 84.4558
"""J/K of the battery pack with its boards; 84.5 is printed."""


def test_a_heavier_battery() -> None:
    network = satellite(battery=PACK)
    found = maxima(network, orbits(network, 4), 4)
    for k, celsius in enumerate((21.469, 10.425, 8.357, 8.012)):
        solved_apart(f"heavier battery, highest of orbit {k + 1}", celsius).check(found[k])


def test_heat_exchanged_between_battery_and_shell() -> None:
    """+0.947 and -0.799 W in the fourth orbit, solved apart; 0.95 and -0.80 W plotted."""
    from thermnet.network.network import flows

    network = satellite(battery=PACK)
    record = orbits(network, 4).record
    late = record.time >= 3.0 * PERIOD
    exchanged = [
        flows(network, temperature, time)
        for temperature, time in zip(record.temperature[late], record.local_time[late], strict=True)
    ]
    battery = network.index("battery")
    into = -np.array(exchanged)[:, network.links.a == battery].sum(axis=1)
    assert into.max() == pytest.approx(0.947, abs=0.001)
    assert into.min() == pytest.approx(-0.799, abs=0.001)


def test_a_heater_that_the_shell_drives_past_its_upper_threshold() -> None:
    """3 W between 15 and 20 degC: the battery goes to 27.35 degC at first and 21.06 later."""
    heater = ThermostatPart(node="battery", sensor="battery", power=3.0, on=288.15, off=293.15)
    network = satellite(heater, battery=PACK)
    solution = orbits(network, 12)
    found = maxima(network, solution, 12)
    solved_apart("heated, highest of orbit 1", 27.35, 0.006).check(found[0])
    solved_apart("heated, highest of the last orbit", 21.06, 0.01).check(found[-1])
    warm = solution.extremes.edges[:, 0] >= 2.0 * PERIOD
    coldest = float(solution.extremes.lowest[warm, 1].min()) - 273.15
    solved_apart("heated, lowest", 15.00, 0.006).check(coldest)
    late = solution.extremes.edges[:, 0] >= 11.0 * PERIOD
    shell = solution.extremes.highest[late, 0].max(), solution.extremes.lowest[late, 0].min()
    solved_apart("heated, shell highest", 29.785, 0.01).check(float(shell[0]) - 273.15)
    solved_apart("heated, shell lowest", -34.197, 0.01).check(float(shell[1]) - 273.15)
    plotted("heated, shell highest", 29.8).check(float(shell[0]) - 273.15)
    plotted("heated, shell lowest", -34.0).check(float(shell[1]) - 273.15)


def test_the_planet_holds_the_shell_alone() -> None:
    """Without the Sun the shell settles where 5.67 W leave 2.5 faces; derived: closed form."""
    strength = 2.5 * FACING * 0.9 * SIGMA_TEXTBOOK
    expected = (PLANET / strength + 3.0**4) ** 0.25
    network = build(
        [
            NodePart(name="shell", capacity=570.0),
            BoundaryPart(name="space", temperature=3.0),
            LinkPart(a="shell", b="space", strength=strength, potential=RADIATION),
            HeatPart(node="shell", amplitude=PLANET),
        ]
    )
    solution = solved_transient(network, 1e6, FINE, start=start_at(network, shell=278.15))
    assert math.isclose(solution.temperature[-1, 0], expected, abs_tol=1e-3)
