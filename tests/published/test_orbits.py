"""Orbits, beta angles and positions of the Sun: numbers that stand elsewhere."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.published.record import Known, Record
from thermnet.physics.orbit import (
    TURN,
    Orbit,
    drift_rates,
    normal,
    period,
    sun_synchronous_inclination,
)
from thermnet.physics.shadow import circular_shadow_fraction, shadow_instants
from thermnet.physics.sun import TROPICAL_YEAR, beta, sun_position

GRAVITY = 3.986004418e14
RADIUS = 6378137.0
EARTH = "Earth of WGS 84: 398600.4418 km3/s2, 6378.137 km (second-hand)"
J2 = 1.08263e-3
DAY = 86400.0


def circular(height: float, inclination: float = 0.0) -> Orbit:
    return Orbit(gravity=GRAVITY, semi_major_axis=RADIUS + height, inclination=inclination)


def closed(
    what: str, value: float, unit: str, tolerance: float, source: str, **inputs: float
) -> Record:
    return Record(
        what=what,
        inputs=inputs,
        value=value,
        unit=unit,
        tolerance=tolerance,
        source=source,
        known="derived: closed form",
    )


HEIGHTS = {
    # km: period s; shadow fraction at beta 0, 30 and 60 deg; shadow min at 0; critical beta deg
    300: (5431.2, 0.40423, 0.38883, 0.29806, 36.59, 72.761),
    400: (5553.6, 0.39010, 0.37220, 0.26333, 36.11, 70.218),
    500: (5677.0, 0.37788, 0.35773, 0.23072, 35.75, 68.019),
    600: (5801.2, 0.36704, 0.34482, 0.19873, 35.49, 66.067),
    700: (5926.4, 0.35724, 0.33308, 0.16591, 35.29, 64.304),
    800: (6052.4, 0.34829, 0.32228, 0.13016, 35.13, 62.692),
    1000: (6307.1, 0.33234, 0.30287, 0.0, 34.94, 59.822),
    35786: (86164.0, 0.04834, 0.0, 0.0, 69.41, 8.700),
}
PERIODS = [
    closed(f"period at {height} km", row[0], "s", 0.05, f"Kepler's third law, {EARTH}", km=height)
    for height, row in HEIGHTS.items()
]
FRACTIONS = [
    closed(
        f"shadow fraction at {height} km, beta {angle}",
        row[1 + k],
        "",
        5.001e-6,
        f"closed form of a cylinder (formula second-hand), {EARTH}",
        km=height,
        beta=angle,
    )
    for height, row in HEIGHTS.items()
    for k, angle in enumerate((0, 30, 60))
]
MINUTES = [
    closed(f"shadow at {height} km", row[4], "min", 5.001e-3, f"of the two, {EARTH}", km=height)
    for height, row in HEIGHTS.items()
]
CRITICAL = [
    closed(
        f"critical beta at {height} km", row[5], "deg", 5.001e-4, f"asin(R/r), {EARTH}", km=height
    )
    for height, row in HEIGHTS.items()
]


@pytest.mark.parametrize("record", PERIODS, ids=str)
def test_periods_of_circular_orbits(record: Record) -> None:
    record.check(period(circular(1e3 * record.inputs["km"])))


@pytest.mark.parametrize("record", FRACTIONS, ids=str)
def test_shadow_fractions_of_circular_orbits(record: Record) -> None:
    orbit = circular(1e3 * record.inputs["km"])
    angle = math.radians(record.inputs["beta"])
    ratio = np.array(orbit.semi_major_axis / RADIUS)
    record.check(float(circular_shadow_fraction(ratio, np.array(angle))))
    sun = np.array([math.cos(angle), 0.0, math.sin(angle)])
    edges = shadow_instants(orbit, sun, RADIUS, None)
    record.check(float(np.diff(edges).sum()) / period(orbit))


@pytest.mark.parametrize("record", MINUTES, ids=str)
def test_longest_shadows_of_circular_orbits(record: Record) -> None:
    orbit = circular(1e3 * record.inputs["km"])
    entry, leave = shadow_instants(orbit, np.array([1.0, 0.0, 0.0]), RADIUS, None)
    record.check((leave - entry) / 60.0)


@pytest.mark.parametrize("record", CRITICAL, ids=str)
def test_shadow_ends_at_the_critical_beta(record: Record) -> None:
    orbit = circular(1e3 * record.inputs["km"])

    def shaded(degrees: float) -> bool:
        angle = math.radians(degrees)
        sun = np.array([math.cos(angle), 0.0, math.sin(angle)])
        return len(shadow_instants(orbit, sun, RADIUS, None)) > 0

    assert shaded(record.value - record.tolerance)
    assert not shaded(record.value + record.tolerance)


BETA_SOURCE = "sin b = cos d sin i sin(W - a) + sin d cos i"
BETAS = [
    closed(
        f"beta of {inclination}, {node}, {ascension}, {declination}",
        value,
        "deg",
        5e-4,
        BETA_SOURCE,
        inclination=inclination,
        node=node,
        ascension=ascension,
        declination=declination,
    )
    for inclination, node, ascension, declination, value in [
        (51.6, 90.0, 0.0, 0.0, 51.600),
        (51.6, 180.0, 90.0, 23.44, 75.040),
        (51.6, 0.0, 90.0, 23.44, -28.160),
        (98.0, 180.0, 90.0, 23.44, 58.560),
    ]
]


@pytest.mark.parametrize("record", BETAS, ids=str)
def test_beta_angles(record: Record) -> None:
    given = {name: math.radians(value) for name, value in record.inputs.items()}
    orbit = Orbit(
        gravity=GRAVITY,
        semi_major_axis=7e6,
        inclination=given["inclination"],
        node=given["node"],
    )
    a, d = given["ascension"], given["declination"]
    sun = np.array([math.cos(d) * math.cos(a), math.cos(d) * math.sin(a), math.sin(d)])
    record.check(math.degrees(float(beta(sun, normal(orbit)))))


MEEUS = "Meeus, Astronomical Algorithms, example 25.a"
NREL = "Reda and Andreas, NREL/TP-560-34302 (rev. January 2008), Table A5.1"


def sun_row(
    what: str, date: float, value: float, unit: str, tolerance: float, source: str, known: Known
) -> Record:
    return Record(
        what=what,
        inputs={"Julian date": date},
        value=value,
        unit=unit,
        tolerance=tolerance,
        source=source,
        known=known,
    )


# The tolerance is the accuracy that the almanac states, 0.01 degrees, and 1e-4 in distance.
SUNS = [
    sun_row("right ascension 1992", 2448908.5, 198.38083, "deg", 0.01, MEEUS, "second-hand"),
    sun_row("declination 1992", 2448908.5, -7.78507, "deg", 0.01, MEEUS, "second-hand"),
    sun_row("distance 1992", 2448908.5, 0.99766, "AU", 1e-4, MEEUS, "second-hand"),
    sun_row("right ascension 2003", 2452930.312847, 202.22741, "deg", 0.01, NREL, "read"),
    sun_row("declination 2003", 2452930.312847, -9.31434, "deg", 0.01, NREL, "read"),
    sun_row("distance 2003", 2452930.312847, 0.9965422974, "AU", 1e-4, NREL, "read"),
]
# The almanac's formulas evaluated by hand elsewhere: to the digits printed there.
ALMANAC = "low-precision formulas of the Astronomical Almanac (from memory), evaluated apart"
SUNS += [
    sun_row(what, date, value, unit, tolerance, ALMANAC, "derived: closed form")
    for what, date, value, unit, tolerance in [
        ("right ascension almanac-1992", 2448908.5, 198.37526, "deg", 6e-6),
        ("declination almanac-1992", 2448908.5, -7.78284, "deg", 6e-6),
        ("distance almanac-1992", 2448908.5, 0.997661, "AU", 6e-7),
        ("right ascension almanac-2003", 2452930.312847, 202.23336, "deg", 6e-6),
        ("declination almanac-2003", 2452930.312847, -9.31589, "deg", 6e-6),
        ("distance almanac-2003", 2452930.312847, 0.9965376, "AU", 6e-8),
    ]
]


@pytest.mark.parametrize("record", SUNS, ids=str)
def test_positions_of_the_sun(record: Record) -> None:
    sun = sun_position(np.array(record.inputs["Julian date"] - 2451545.0))
    found = {
        "right ascension": np.degrees(sun.right_ascension),
        "declination": np.degrees(sun.declination),
        "distance": sun.distance,
    }
    record.check(float(found[record.what.rsplit(" ", 1)[0]]))


TEXTBOOK_DRIFT = (
    "Wertz and Larson, Space Mission Analysis and Design: -2.06474e14 a^-3.5 cos i and "
    "1.03237e14 a^-3.5 (4 - 5 sin2 i) degrees a day, a in km, for a circular orbit"
)


@pytest.mark.parametrize("inclination", [28.5, 51.6, 98.6])
def test_drift_of_node_and_perigee_in_a_day(inclination: float) -> None:
    axis, tilt = 6778.137, math.radians(inclination)
    orbit = circular(400e3, tilt)
    node_rate, perigee_rate = drift_rates(orbit, J2, RADIUS)
    values = {
        "node": (-2.06474e14 * axis**-3.5 * math.cos(tilt), node_rate),
        "perigee": (1.03237e14 * axis**-3.5 * (4.0 - 5.0 * math.sin(tilt) ** 2), perigee_rate),
    }
    for what, (value, found) in values.items():
        Record(
            what=f"drift of the {what} at {inclination} deg, 400 km",
            inputs={"inclination": inclination},
            value=value,
            unit="deg/day",
            tolerance=1e-4 * abs(value),
            source=TEXTBOOK_DRIFT,
            known="from memory",
        ).check(math.degrees(found) * DAY)


def test_a_sun_synchronous_orbit_at_800_km() -> None:
    tilt = sun_synchronous_inclination(GRAVITY, RADIUS, J2, RADIUS + 800e3, 0.0, TROPICAL_YEAR)
    Record(
        what="Sun-synchronous inclination at 800 km",
        inputs={"height": 800e3},
        value=98.6,
        unit="deg",
        tolerance=0.05,
        source="any text on Earth observation",
        known="from memory",
    ).check(math.degrees(tilt))
    node_rate, _ = drift_rates(circular(800e3, tilt), J2, RADIUS)
    Record(
        what="drift of its node in a year",
        inputs={"height": 800e3},
        value=TURN,
        unit="rad",
        tolerance=1e-9,
        source="what Sun-synchronous means",
        known="derived: closed form",
    ).check(node_rate * TROPICAL_YEAR)
