"""The brute-force heat of an orbit: against closed forms, and what thermnet makes of the cases."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from tests.cases_bare import heat_of_orbit, lunar_orbiter, mars_orbiter, microsatellite, orbiter
from tests.full import first_of
from thermnet.model.exterior import exteriors
from thermnet.model.kinds.surface import Surface
from thermnet.model.model import Model
from thermnet.model.paths import apply_case
from thermnet.model.plan import plan
from thermnet.model.read import load

CASES = Path(__file__).parents[2] / "cases"
UP = np.array([0.0, 0.0, 1.0])
RATIO = 6878.137 / 6378.137


def microsatellite_means(case: str) -> dict[tuple[str, str], float]:
    return heat_of_orbit.means(microsatellite.absorbed(case), microsatellite.histories(case))


def lunar_means(case: str) -> dict[tuple[str, str], float]:
    return orbiter.mean_absorbed(lunar_orbiter.CRAFT, lunar_orbiter.CASES[case])


def mars_means(case: str) -> dict[tuple[str, str], float]:
    return orbiter.mean_absorbed(mars_orbiter.CRAFT, mars_orbiter.CASES[case])


BARE: dict[str, Callable[[str], dict[tuple[str, str], float]]] = {
    "microsatellite": microsatellite_means,
    "lunar_orbiter": lunar_means,
    "mars_orbiter": mars_means,
}


def test_patches_in_sight_sum_to_the_view_factors_of_plates_square_and_on_edge() -> None:
    # Square to the sphere (1/H)^2, on edge [asin(1/H) - sqrt(H^2 - 1)/H^2]/pi (derived: closed
    # forms, check sheet 3.1 for the first: 0.85990 at 500 km).
    normals = np.array([-UP, [1.0, 0.0, 0.0], UP])
    found, _ = heat_of_orbit.from_planet(RATIO, UP, UP, normals)
    edge = (np.arcsin(1.0 / RATIO) - np.sqrt(RATIO**2 - 1.0) / RATIO**2) / np.pi
    assert found == pytest.approx([RATIO**-2, edge, 0.0], abs=1e-4)
    assert found[0] == pytest.approx(0.85990, abs=2e-5)


def test_far_below_the_sun_a_white_sphere_reflects_two_thirds_as_a_full_diffuse_disc_would() -> (
    None
):
    # A diffuse white sphere of geometric albedo 2/3: the flux at full phase from far away is
    # 2/3 of sunlight over H^2 (derived: closed form, integral of cos^2).
    far = 1000.0
    _, found = heat_of_orbit.from_planet(far, UP, UP, np.array([-UP]))
    assert found[0] * far**2 == pytest.approx(2.0 / 3.0, rel=2e-3)


@pytest.mark.parametrize("beta", [0.0, 30.0, 60.0])
def test_with_the_sun_far_away_the_shadow_is_that_of_a_cylinder(beta: float) -> None:
    # 0.37788, 0.35773, 0.23072 of the orbit at 500 km: check sheet 3.1 (formula second-hand,
    # numbers derived).
    share = {0.0: 0.37788, 30.0: 0.35773, 60.0: 0.23072}[beta]
    near = microsatellite.orbit("hot")
    orbit = replace(near, beta=float(np.radians(beta)), sun_distance=1e6)
    edges = heat_of_orbit.edges(orbit)
    assert len(edges) == 4
    assert (edges[2] - edges[1]) / orbit.period == pytest.approx(share, abs=1e-5)


def test_half_the_sun_is_seen_about_when_its_centre_is_at_the_limb() -> None:
    orbit = microsatellite.orbit("hot")
    edges = heat_of_orbit.edges(orbit)
    fade = np.linspace(edges[0], edges[1], 101)
    share = heat_of_orbit.share_of_sun(orbit, fade)
    assert share[[0, -1]] == pytest.approx([1.0, 0.0], abs=1e-4)
    assert share[50] == pytest.approx(0.5, abs=0.01)
    assert (np.diff(share) < 0.0).all()


def test_an_ellipse_keeps_its_energy_and_sweeps_equal_areas() -> None:
    orbit = mars_orbiter.orbit(0.0, mars_orbiter.NEAR)
    r, v = heat_of_orbit.flight(orbit, np.linspace(0.0, orbit.period, 50))
    distance, speed = np.linalg.norm(r, axis=1), np.linalg.norm(v, axis=1)
    energy = speed**2 / 2.0 - orbit.gravity / distance
    assert energy == pytest.approx(np.full(50, -orbit.gravity / (2.0 * orbit.axis)))
    assert np.cross(r, v) == pytest.approx(np.cross(r[:1], v[:1]).repeat(50, axis=0), rel=1e-9)
    assert distance[0] - orbit.radius == pytest.approx(mars_orbiter.LOWEST)
    assert distance.max() - orbit.radius == pytest.approx(mars_orbiter.HIGHEST, rel=1e-2)


@cache
def model_of(name: str) -> Model:
    return load(CASES / name / "model.yaml")


def flying() -> list[tuple[str, str]]:
    cases = {
        "microsatellite": ("hot", "cold", "safe"),
        "lunar_orbiter": tuple(lunar_orbiter.CASES),
        "mars_orbiter": tuple(mars_orbiter.CASES),
    }
    return [(name, case) for name, found in cases.items() for case in found]


@pytest.mark.parametrize(("name", "case"), first_of(flying()))
def test_every_surface_absorbs_what_brute_force_finds_in_the_mean(name: str, case: str) -> None:
    """To 0.1 % of it, or 0.01 % of the sunlight on the surface's area at 1 au."""
    model = apply_case(model_of(name), case)
    how = plan(model, case)
    outside = exteriors(model, how, 0.0)
    found = {
        (surface, cause): heat.amplitude
        for surface, exterior in outside.items()
        for cause, heat in exterior.heat.items()
    }
    expected = BARE[name](case)
    area = {key: surface.area for key, surface in model.entries(Surface, "surfaces").items()}
    assert found.keys() <= expected.keys() | {key for key, watts in found.items() if watts < 1e-6}
    for key, watts in expected.items():
        least = 1e-4 * 1361.0 * area[key[0]]
        assert found.get(key, 0.0) == pytest.approx(watts, rel=1e-3, abs=least), key
