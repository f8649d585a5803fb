"""Radiators of 100 W: their areas, through a solved model and the table of its radiators."""

from __future__ import annotations

import pytest

from tests.published.record import Record
from tests.small_models import solved
from thermnet.radiators import RadiatorRow, radiator_table

ENERGY = "Q = A (e sigma T^4 - a S), with sigma 5.670374419e-8 and 1361 W/m2"
ORDER = "10 % over until correlated: SMC-S-016 (2014), 4.4.2.1 a, read; the temperature is derived"

MODEL = """
thermnet: 1
nodes:
  panel: {{capacity: 2000 J/K}}
boundaries:
  space: {{temperature: 0.001 K}}
loads:
  panel: {{node: panel, heat: 100 W}}
radiators:
  north:
    node: panel
    area: {area} m2
    emittance: {emittance}
    absorptance: {absorptance}
    normal: +x
    hottest: {hottest} K
pointings:
  to the Sun: {{axis: +x, to: sun}}
orbits:
  way: {{body: none, sun_distance: 1 au}}
cases:
  case: {{solve: steady, orbit: way, pointing: to the Sun}}
"""


def row(area: float, **given: float) -> RadiatorRow:
    """The radiator of a model with that area, which faces the Sun."""
    (found,) = radiator_table(solved(MODEL.format(area=area, **given)))
    return found


def derived(what: str, value: float, **inputs: float) -> Record:
    return Record(
        what=what,
        inputs=inputs,
        value=value,
        unit="m2",
        tolerance=1e-6,
        source=ENERGY,
        known="derived: closed form",
    )


AREAS = [
    derived("no absorptance, 20 degC", 0.280938, emittance=0.85, absorptance=0.0, hottest=293.15),
    derived("no absorptance, 40 degC", 0.215754, emittance=0.85, absorptance=0.0, hottest=313.15),
    derived(
        "mirrors in the Sun, 20 degC", 0.502733, emittance=0.8, absorptance=0.1, hottest=293.15
    ),
    derived(
        "mirrors in the Sun, 40 degC", 0.333193, emittance=0.8, absorptance=0.1, hottest=313.15
    ),
]


@pytest.mark.parametrize("record", AREAS, ids=str)
def test_a_radiator_of_that_area_rejects_100_w_at_that_temperature(record: Record) -> None:
    found = row(record.value, **record.inputs)
    assert found.mean == pytest.approx(record.inputs["hottest"], abs=5e-4)
    assert found.rejected == pytest.approx(100.0, abs=1e-6)
    assert found.excess == pytest.approx(0.0, abs=3e-6)


@pytest.mark.parametrize("record", AREAS, ids=str)
def test_the_area_that_is_needed_follows_from_the_excess_of_any_other(record: Record) -> None:
    found = row(0.4, **record.inputs)
    record.check(found.area / (1.0 + found.excess))


TEN_PERCENT = Record(
    what="radiator of 10 % more area than it needs at 20 degC",
    inputs={"needed": 0.280938, "emittance": 0.85, "absorptance": 0.0, "hottest": 293.15},
    value=286.25,
    unit="K",
    tolerance=5e-3,
    source=ORDER,
    known="derived: closed form",
)


def test_ten_percent_of_area_is_seven_kelvin() -> None:
    inputs = dict(TEN_PERCENT.inputs)
    found = row(1.1 * inputs.pop("needed"), **inputs)
    assert found.excess == pytest.approx(0.1, abs=1e-5)
    TEN_PERCENT.check(found.mean)
