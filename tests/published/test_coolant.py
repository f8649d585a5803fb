"""Pumped coolant along a wall and past another stream, against closed forms of textbooks."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
import pytest

from tests.published.record import Record
from tests.small_models import solved
from thermnet.physics.constants import ZERO_CELSIUS
from thermnet.results import Result

WALL, INLET = 40.0, 5.0  # degC
RATE = 0.02 * 3500.0  # W/K: 20 g/s of 3500 J/kg/K
CELLS = 120
HOT, COLD = 80.0, 10.0  # degC, where the two streams enter

HEAD = """
thermnet: 1
temperatures: degC
materials:
  coolant: {specific_heat: 3500 J/kg/K, lowest: -30}
cases:
  case: {solve: steady}
"""

ALONG_A_WALL = Record(
    what="outlet of a stream along a wall of one temperature, 1.5 transfer units",
    inputs={"transfer units": 1.5},
    value=WALL + (INLET - WALL) * math.exp(-1.5),
    unit="degC",
    tolerance=1.05 * (WALL - INLET) * math.exp(-1.5) * 1.5**2 / (2 * CELLS),  # of upwind cells
    source="m cp dT/dx = u (Twall - T) integrated along the wall; Incropera and DeWitt, chapter on "
    "internal flow, has the same from memory",
    known="derived: closed form",
)

EFFECTIVENESS = [
    Record(
        what=f"{way} flow, {units:g} transfer units, ratio of rates {ratio:g}",
        inputs={"transfer units": units, "ratio": ratio},
        value=value,
        unit="1",
        tolerance=0.005,
        source="effectiveness by number of transfer units, in lecture notes on heat exchangers",
        known="second-hand",
    )
    for way, units, ratio, value in (
        ("counter", 2.0, 0.5, (1 - math.exp(-1.0)) / (1 - 0.5 * math.exp(-1.0))),
        ("counter", 2.0, 1.0, 2.0 / 3.0),
        ("counter", 0.5, 0.8, (1 - math.exp(-0.1)) / (1 - 0.8 * math.exp(-0.1))),
        ("parallel", 2.0, 0.5, (1 - math.exp(-3.0)) / 1.5),
        ("parallel", 2.0, 1.0, (1 - math.exp(-4.0)) / 2.0),
    )
]


def along_a_wall(cells: int, units: float = 1.5) -> Result:
    """A stream in cells without mass along a wall, a conductance of `units` times its rate."""
    names = [f"fluid {k}" for k in range(cells)]
    text = HEAD + "nodes:\n" + "".join(f"  {name}: {{massless: true}}\n" for name in names)
    text += f"boundaries:\n  wall: {{temperature: {WALL}}}\n  in: {{temperature: {INLET}}}\n"
    text += "  out: {temperature: 0}\nlinks:\n"
    each = units * RATE / cells
    text += "".join(
        f"  at {name}: {{from: wall, to: {name}, conductance: {each!r} W/K}}\n" for name in names
    )
    text += f"loops:\n  line: {{through: [in, {', '.join(names)}, out], returns: false,\n"
    return solved(text + "         fluid: coolant, mass_flow: 20 g/s}\n")


def exchanger(
    way: Literal["counter", "parallel"], cells: int, units: float, ratio: float
) -> Result:
    """Two streams in cells that lie beside each other; the cold one has the larger rate."""
    hot = [f"hot {k}" for k in range(cells)]
    cold = [f"cold {k}" for k in range(cells)]
    text = HEAD + "nodes:\n" + "".join(f"  {name}: {{massless: true}}\n" for name in hot + cold)
    text += f"boundaries:\n  hot in: {{temperature: {HOT}}}\n  cold in: {{temperature: {COLD}}}\n"
    text += "  hot out: {temperature: 0}\n  cold out: {temperature: 0}\nlinks:\n"
    each = units * RATE / cells
    text += "".join(
        f"  wall {k}: {{from: hot {k}, to: cold {k}, conductance: {each!r} W/K}}\n"
        for k in range(cells)
    )
    there = cold if way == "parallel" else cold[::-1]
    text += f"loops:\n  hot: {{through: [hot in, {', '.join(hot)}, hot out], returns: false,\n"
    text += "        fluid: coolant, mass_flow: 20 g/s}\n"
    text += f"  cold: {{through: [cold in, {', '.join(there)}, cold out], returns: false,\n"
    return solved(text + f"         fluid: coolant, mass_flow: {20.0 / ratio!r} g/s}}\n")


def at(result: Result, name: str) -> float:
    """Temperature [degC] of a node."""
    return float(result.of(name)[0]) - ZERO_CELSIUS


def test_a_stream_comes_to_the_temperature_of_a_wall_exponentially() -> None:
    ALONG_A_WALL.check(at(along_a_wall(CELLS), f"fluid {CELLS - 1}"))


@pytest.mark.parametrize("cells", [1, 3, 10])
def test_each_well_mixed_cell_takes_up_its_share_exactly(cells: int) -> None:
    """Derived: W (T_before - T) + G/n (Twall - T) = 0 in each, so a power of 1/(1 + G/(n W))."""
    found = at(along_a_wall(cells), f"fluid {cells - 1}")
    assert found == pytest.approx(WALL + (INLET - WALL) * (1.0 + 1.5 / cells) ** -cells, abs=1e-6)


def test_cells_along_a_wall_are_of_first_order() -> None:
    """Fluid is taken from the cell before: twice the cells, half the error."""
    errors = [at(along_a_wall(n), f"fluid {n - 1}") - ALONG_A_WALL.value for n in (20, 40, 80)]
    orders = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    assert np.all(np.abs(errors) > 1e-4)
    assert orders == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize("record", EFFECTIVENESS, ids=str)
def test_two_streams_exchange_the_heat_of_their_effectiveness(record: Record) -> None:
    way: Literal["counter", "parallel"] = "counter" if "counter" in record.what else "parallel"
    result = exchanger(way, CELLS, record.inputs["transfer units"], record.inputs["ratio"])
    record.check((HOT - at(result, "hot 119")) / (HOT - COLD))


@pytest.mark.parametrize("way", ["counter", "parallel"])
def test_an_exchanger_in_cells_is_of_first_order(way: Literal["counter", "parallel"]) -> None:
    (record,) = [r for r in EFFECTIVENESS if r.what.startswith(way) and r.inputs["ratio"] == 0.5]
    errors = [
        (HOT - at(exchanger(way, n, 2.0, 0.5), f"hot {n - 1}")) / (HOT - COLD) - record.value
        for n in (20, 40, 80)
    ]
    orders = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    assert np.all(np.abs(errors) > 1e-5)
    assert orders == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize("way", ["counter", "parallel"])
@pytest.mark.parametrize("ratio", [0.2, 1.0])
def test_what_one_stream_loses_the_other_takes_up_and_entropy_grows(
    way: Literal["counter", "parallel"], ratio: float
) -> None:
    """The first law, W1 (T1 - T1') = W2 (T2' - T2), and the second, the sum of W ln(T'/T) > 0."""
    result = exchanger(way, 30, 3.0, ratio)
    hot_out, cold_out = (
        at(result, "hot 29"),
        at(result, "cold 29" if way == "parallel" else "cold 0"),
    )
    other = RATE / ratio
    assert RATE * (HOT - hot_out) == pytest.approx(other * (cold_out - COLD), rel=1e-8)
    kelvin = [value + ZERO_CELSIUS for value in (HOT, hot_out, COLD, cold_out)]
    assert RATE * math.log(kelvin[1] / kelvin[0]) + other * math.log(kelvin[3] / kelvin[2]) > 0.0
    assert COLD < hot_out < HOT
    assert COLD < cold_out < HOT
    if way == "parallel":
        assert cold_out < hot_out


def test_streams_past_each_other_leave_crossed_and_side_by_side_do_not() -> None:
    """Derived: equal rates and 3 transfer units past each other give 3/4 of the difference."""
    counter, parallel = (
        exchanger("counter", CELLS, 3.0, 1.0),
        exchanger("parallel", CELLS, 3.0, 1.0),
    )
    assert at(counter, "cold 0") > at(counter, "hot 119") + 0.4 * (HOT - COLD)
    assert at(parallel, "cold 119") < at(parallel, "hot 119")


def test_one_cell_is_exact_with_the_conductance_of_a_whole_stream() -> None:
    """Derived: W (exp(G/W) - 1) in place of G takes a mixed cell to the same outlet."""
    found = at(along_a_wall(1, units=math.exp(1.5) - 1.0), "fluid 0")
    assert found == pytest.approx(ALONG_A_WALL.value, abs=1e-6)
