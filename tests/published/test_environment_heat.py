"""Published numbers of what a spacecraft receives from the Sun and a planet, and how warm it gets.

The view of a planet is a closed form, so it is met to the last printed digit. Reflected sunlight
is integrated over the lit ground here, while the numbers take the ground as evenly bright as it
is straight below: they are met as nearly as that approximation is good, low and by full day.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.published.record import SIGMA_TEXTBOOK, Record
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.physics.curves import Floats
from thermnet.physics.flux import Faces, planet_view, reflected, sunlight
from thermnet.physics.view import plate_to_sphere, sphere_to_sphere

SUN, ALBEDO, INFRARED = 1361.0, 0.3, 237.0
"""W/m2, share, W/m2: the mean Earth of the closed forms below."""

EARTH = 6378.137e3
"""m, its radius at the equator (WGS 84)."""

DOWN = np.array([[0.0, 0.0, -1.0]])

CLOSED_FORM = "closed form of plate to sphere, confirmed by quadrature over the planet"

TABLE = {
    1.0627142: [0.885456, 0.855285, 0.771249, 0.660629, 0.537163, 0.288727, 0.094435, 0.004422],
    1.1097499: [0.811988, 0.784320, 0.703701, 0.591616, 0.468993, 0.232871, 0.062999, 0.000498],
    1.5: [0.444444, np.nan, 0.384900, np.nan, 0.226175, 0.074110, 0.003952, 0.0],
    2.0: [0.250000, np.nan, 0.216506, np.nan, 0.125000, 0.028834, 0.0, 0.0],
    6.6107: [0.022882, 0.022103, 0.019817, 0.016180, 0.011441, 0.000740, 0.0, 0.0],
}
"""By distance over radius: at 400 and 700 km above the Earth, and farther."""

TILTS = [0.0, 15.0, 30.0, 45.0, 60.0, 90.0, 120.0, 150.0]
"""Degrees between normal and nadir."""

SPHERES = {1.0627142: 0.330778, 1.1097499: 0.283198, 1.5: 0.127322, 2.0: 0.066987, 6.6107: 0.005754}


@pytest.mark.parametrize("ratio", TABLE)
def test_views_of_the_earth_by_height_and_tilt(ratio: float) -> None:
    """Derived: closed form, and quadrature."""
    for tilt, expected in zip(TILTS, TABLE[ratio], strict=True):
        if not np.isnan(expected):
            found = plate_to_sphere(ratio, np.cos(np.radians(tilt)))
            assert found == pytest.approx(expected, abs=1e-6), f"at {tilt} degrees"
    assert sphere_to_sphere(ratio) == pytest.approx(SPHERES[ratio], abs=1e-6)


def published_box(what: str, value: float, long: float, tilt: float) -> Record:
    return Record(
        what=what,
        inputs={"ratio": 1.0865, "long": long, "tilt": tilt},
        value=value,
        unit="1",
        tolerance=1e-14,
        source="Ivezic 2021, published material to appendix A: mean over all faces, times H^2",
        known="read",
    )


def box_view(ratio: float, long: float, tilt: Floats) -> Floats:
    """Mean view factor of a box 1 x 1 x `long`, by area, its axis tilted from the vertical.

    It tilts in the plane of one pair of its sides, whose other pair stays edge-on.
    """
    ends = plate_to_sphere(ratio, np.cos(tilt)) + plate_to_sphere(ratio, -np.cos(tilt))
    sides = plate_to_sphere(ratio, np.sin(tilt)) + plate_to_sphere(ratio, -np.sin(tilt))
    edge_on = 2.0 * plate_to_sphere(ratio, np.zeros_like(tilt))
    return np.asarray((ends + long * (sides + edge_on)) / (2.0 + 4.0 * long))


LEAST = [
    published_box("box 1 x 1 x 2, upright", 0.3432478198070684, long=2.0, tilt=0.0),
    published_box("cube, on edge", 0.3562002967502238, long=1.0, tilt=45.0),
]
MOST = [published_box("box 1 x 1 x 2, lying", 0.38243586485530123, long=2.0, tilt=90.0)]
# The cube's greatest, upright, is transcribed as 0.3693691731725569 and left out: the closed form
# (1 + 4 F H^2) / 6 with F of a plate edge-on gives 0.3693731831725569, and so does quadrature.


@pytest.mark.parametrize("record", [*LEAST, *MOST], ids=str)
def test_boxes_see_least_and_most_of_the_planet_as_published(record: Record) -> None:
    ratio, long = record.inputs["ratio"], record.inputs["long"]
    tilts = np.arange(0.0, 90.5, 0.5)
    view = box_view(ratio, long, np.radians(tilts)) * ratio**2
    extreme = view.argmin() if record in LEAST else view.argmax()
    record.check(view[extreme])
    assert tilts[extreme] == record.inputs["tilt"]


def flux(what: str, height: float, value: float, tolerance: float) -> Record:
    return Record(
        what=what,
        inputs={"height": height},
        value=value,
        unit="W/m2",
        tolerance=tolerance,
        source="view factor x albedo x sunlight x cos(Sun's zenith angle straight below)",
        known="derived: closed form",
    )


NADIR = Faces(axis=DOWN, cone=np.zeros(1))
SPHERE = Faces(axis=DOWN, cone=np.array([np.nan]))


def ratio_at(height: float, count: int = 1) -> Floats:
    return np.full(count, (EARTH + height) / EARTH)


@pytest.mark.parametrize(
    "record",
    [
        # The ground away from the point below is lit aslant: up to 0.4 % and 1 % less light.
        flux("under the overhead Sun, 400 km", 400e3, 361.53, 0.005 * 361.53),
        flux("under the overhead Sun, 700 km", 700e3, 331.53, 0.010 * 331.53),
    ],
    ids=str,
)
def test_reflected_sunlight_on_a_nadir_plate_at_noon(record: Record) -> None:
    found = reflected(NADIR, DOWN, ratio_at(record.inputs["height"]), -DOWN)
    record.check(ALBEDO * SUN * found[0, 0])
    assert ALBEDO * SUN * found[0, 0] < record.value


@pytest.mark.parametrize(
    "record",
    [
        flux("mean of an orbit through noon, 400 km", 400e3, 115.08, 0.005 * 115.08),
        flux("mean of an orbit through noon, 700 km", 700e3, 105.53, 0.005 * 105.53),
    ],
    ids=str,
)
def test_reflected_sunlight_on_a_nadir_plate_over_an_orbit(record: Record) -> None:
    angle = (np.arange(360) + 0.5) * 2.0 * np.pi / 360
    sun = np.stack([np.sin(angle), np.zeros(360), np.cos(angle)], axis=1)
    down = np.repeat(DOWN, 360, axis=0)
    found = reflected(NADIR, down, ratio_at(record.inputs["height"], 360), sun)
    record.check(ALBEDO * SUN * found.mean())


@pytest.mark.parametrize(
    "record",
    [
        flux("planet infrared on a nadir plate, 400 km", 400e3, 209.85, 0.005),
        flux("planet infrared on a nadir plate, 700 km", 700e3, 192.44, 0.005),
    ],
    ids=str,
)
def test_planet_infrared_on_a_nadir_plate(record: Record) -> None:
    found = planet_view(NADIR, DOWN, ratio_at(record.inputs["height"]))
    record.check(INFRARED * found[0, 0])


def settled(absorbed: float, emittance: float) -> float:
    """Temperature [K] at which W/m2 absorbed are radiated."""
    return float((absorbed / (emittance * STEFAN_BOLTZMANN)) ** 0.25)


def temperature(what: str, value: float, tolerance: float = 6e-4, **inputs: float) -> Record:
    return Record(
        what=what,
        inputs=inputs,
        value=value,
        unit="K",
        tolerance=tolerance,
        source="absorbed = radiated, with sigma 5.670374419e-8 and 1361 W/m2",
        known="derived: closed form",
    )


def test_black_bodies_in_the_sun_without_a_planet() -> None:
    """Sphere, plate with one and with both sides, cube that faces the Sun."""
    up, sides = -DOWN, np.concatenate([np.eye(3), -np.eye(3)])
    cube = Faces(axis=sides, cone=np.zeros(6))
    both = Faces(axis=np.concatenate([up, DOWN]), cone=np.zeros(2))
    for record, faces in (
        (temperature("sphere", 278.321), SPHERE),
        (temperature("plate", 393.606), Faces(axis=up, cone=np.zeros(1))),
        (temperature("plate, both sides", 330.982), both),
        (temperature("cube", 251.492), cube),
    ):
        record.check(settled(SUN * sunlight(faces, up).mean(), 1.0))


@pytest.mark.parametrize(
    "record",
    [
        # The evenly bright planet makes the sphere 0.15 K and 0.07 K too warm.
        temperature("as black for sunlight as for infrared", 312.697, 0.2, a=1.0, e=1.0),
        temperature("absorptance 0.2, emittance 0.9", 236.749, 0.1, a=0.2, e=0.9),
    ],
    ids=str,
)
def test_a_sphere_at_500_km_between_sun_and_earth(record: Record) -> None:
    absorptance, emittance = record.inputs["a"], record.inputs["e"]
    ratio = ratio_at(500e3)
    visible = sunlight(SPHERE, -DOWN) + ALBEDO * reflected(SPHERE, DOWN, ratio, -DOWN)
    infrared = INFRARED * planet_view(SPHERE, DOWN, ratio)
    absorbed = absorptance * SUN * visible + emittance * infrared
    record.check(settled(float(absorbed[0, 0]), emittance))


def test_a_black_sphere_at_500_km_in_eclipse() -> None:
    infrared = INFRARED * planet_view(SPHERE, DOWN, ratio_at(500e3))
    temperature("in eclipse", 190.159).check(settled(float(infrared[0, 0]), 1.0))


def test_a_disc_over_a_warm_planet() -> None:
    """Both faces radiate, the lower one absorbs: the net loss of a textbook example."""
    record = Record(
        what="disc of 1 m, emittance 0.3, at 255 K, 300 km over a black planet at 300 K",
        inputs={"radius": 6250e3, "height": 300e3},
        value=14.448,
        unit="W",
        tolerance=1e-3,
        source="Sukhatme, A Textbook on Heat Transfer, example 3.14: inputs and method",
        known="second-hand",
    )
    ratio = np.array([1.0 + record.inputs["height"] / record.inputs["radius"]])
    view = planet_view(NADIR, DOWN, ratio)[0, 0]
    assert view == pytest.approx(0.910495, abs=1e-6)
    strength = SIGMA_TEXTBOOK * 0.3 * np.pi / 4.0
    record.check(strength * (2.0 * 255.0**4 - view * 300.0**4))
