"""Free-molecular heating, and the density that makes it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import dblquad

from tests.published.record import Record
from thermnet.physics.molecular import FAIRING_RELEASE, density_at, free_molecular_heating

AHEAD = np.array([1.0])

DENSITY_AT_RELEASE = Record(
    what="density at which 7.8 km/s heats a face square to the flow with 1135 W/m2",
    inputs={"heat": 1135.0, "speed": 7800.0},
    value=4.78346e-9,  # 2 x 1135 / 7800^3 = 2270 / 4.74552e11
    unit="kg/m3",
    tolerance=1e-14,
    source="1/2 density speed^3 turned round; 1135 W/m2 from launcher user manuals, second-hand",
    known="derived: closed form",
)


def test_the_heat_is_half_the_density_times_the_cube_of_the_speed() -> None:
    # By hand: 0.9 x 0.5 x 1e-9 x 8000^3 = 0.45e-9 x 5.12e11 = 230.4 W/m2.
    assert free_molecular_heating(0.9, 1e-9, 8000.0, AHEAD)[0] == pytest.approx(230.4, rel=1e-14)


def test_the_heat_at_which_a_fairing_is_released_belongs_to_a_density() -> None:
    record = DENSITY_AT_RELEASE
    assert record.inputs["heat"] == FAIRING_RELEASE
    speed = record.inputs["speed"]
    record.check(FAIRING_RELEASE / free_molecular_heating(1.0, 1.0, speed, AHEAD)[0])


def test_a_face_turned_away_from_the_flow_is_not_heated() -> None:
    cosine = np.cos(np.radians([0.0, 60.0, 90.0, 120.0, 180.0]))
    heat = free_molecular_heating(1.0, 2e-9, 1000.0, cosine)  # 1 W/m2 square to the flow
    np.testing.assert_allclose(heat, [1.0, 0.5, 0.0, 0.0, 0.0], atol=1e-15)


def test_density_and_speed_along_an_elliptical_orbit_broadcast_over_faces() -> None:
    density, speed = np.array([1e-9, 1e-10])[:, None], np.array([8000.0, 7000.0])[:, None]
    heat = free_molecular_heating(1.0, density, speed, np.array([[1.0, 0.5, -1.0]]))
    assert heat.shape == (2, 3)
    assert heat[1, 1] == pytest.approx(0.5 * 0.5 * 1e-10 * 7000.0**3)


def test_what_random_motion_brings_to_a_face_along_the_flow_is_small_as_stated() -> None:
    """The 3.5 % of the docstring, by integrating the molecules' speeds (kinetic theory).

    Speeds in units of the most probable one: a drifting Maxwell distribution strikes a face along
    the flow with v >= 0 of its one component square to it; each molecule carries half its speed
    squared. The face square to the flow, by the formula: s^3 / 2.
    """
    s = 8.0
    weight = math.pi**-1.5

    def energy(v: float, u: float) -> float:
        # Over the third component w: integral of exp(-w^2) (a + w^2) = sqrt(pi) (a + 1/2).
        carried = math.sqrt(math.pi) * ((s + u) ** 2 + v**2 + 0.5) / 2.0
        return weight * v * math.exp(-(v**2) - u**2) * carried

    found, _ = dblquad(energy, -6.0, 6.0, 0.0, 6.0)
    assert found / (s**3 / 2.0) == pytest.approx(0.035, abs=0.0015)
    leading = 1.0 / (2.0 * math.sqrt(math.pi) * s)
    assert found / (s**3 / 2.0) == pytest.approx(leading, rel=2.1 / s**2)


def test_density_falls_by_e_in_a_scale_height_and_grows_below_the_reference() -> None:
    altitude = np.array([193e3, 200e3, 207e3])
    found = density_at(altitude, density=3e-10, reference_altitude=200e3, scale_height=7e3)
    np.testing.assert_allclose(found, 3e-10 * np.array([math.e, 1.0, 1.0 / math.e]), rtol=1e-14)


@pytest.mark.parametrize(
    ("accommodation", "density", "speed", "message"),
    [
        (1.1, 1e-9, 7e3, "from 0 to 1"),
        (-0.1, 1e-9, 7e3, "from 0 to 1"),
        (float("nan"), 1e-9, 7e3, "from 0 to 1"),
        (1.0, -1e-9, 7e3, "cannot be negative"),
        (1.0, 1e-9, -7e3, "cannot be negative"),
    ],
)
def test_numbers_without_a_meaning_are_refused(
    accommodation: float, density: float, speed: float, message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        free_molecular_heating(accommodation, density, speed, AHEAD)


@pytest.mark.parametrize(
    ("density", "scale_height", "message"),
    [(-1.0, 7e3, "cannot be negative"), (1e-9, 0.0, "must be positive")],
)
def test_an_atmosphere_without_a_meaning_is_refused(
    density: float, scale_height: float, message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        density_at(AHEAD, density=density, reference_altitude=0.0, scale_height=scale_height)
