"""The lit part of a planet as points: energy, closed forms, and integration by other means."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermnet.physics.albedo import Dome, lit, lit_dome
from thermnet.physics.curves import Floats

DOWN = np.array([[0.0, 0.0, -1.0]])
RATIOS = [1.0001, 1.01, 1.0627, 1.5, 6.6, 50.0]


def sun_at(zenith: float, azimuth: float = 0.7) -> Floats:
    """f8[1, 3], for a spacecraft above the point where it stands so."""
    across = np.sin(zenith)
    return np.array([[across * np.cos(azimuth), across * np.sin(azimuth), np.cos(zenith)]])


def dome(ratio: float, zenith: float) -> Dome:
    return lit_dome(DOWN, np.array([ratio]), sun_at(zenith))


def sphere_flux(ratio: float, zenith: float) -> float:
    return float(dome(ratio, zenith).weight.sum()) / 4.0


def nadir_flux(ratio: float, zenith: float) -> float:
    found = dome(ratio, zenith)
    return float(found.weight[0] @ (found.direction[0] @ DOWN[0]))


@pytest.mark.parametrize("ratio", RATIOS)
def test_all_reflected_light_passes_through_any_sphere_round_the_planet(ratio: float) -> None:
    """Nadir plates all over it take up all of it, albedo x sunlight x pi R^2; derived: energy.

    Nothing comes from above, so what a nadir plate receives is the net flux.
    """
    points, widths = np.polynomial.legendre.leggauss(40)
    end = np.arccos(1.0 / ratio)  # beyond the terminator by this, lit ground is still seen
    edges = np.array([0.0, np.pi / 2 - end, np.pi / 2, np.pi / 2 + end])
    total = 0.0
    for first, last in zip(edges[:-1], edges[1:], strict=True):
        for point, width in zip(points, widths, strict=True):
            zenith = first + (last - first) * (point + 1.0) / 2.0
            flux = nadir_flux(ratio, zenith)
            total += (last - first) / 2.0 * width * flux * 2.0 * np.pi * np.sin(zenith)
    assert total * ratio**2 == pytest.approx(np.pi, rel=2e-6)


@pytest.mark.parametrize("phase", [0.0, 0.3, 1.0, np.pi / 2, 2.0, 2.8, 3.1])
def test_from_far_away_a_planet_shines_as_a_diffuse_sphere(phase: float) -> None:
    """(2/3) [sin a + (pi - a) cos a] / pi at the phase angle a, over H^2; derived: closed form.

    The integral of cos(incidence) cos(emission) over the crescent, for a diffuse (Lambert) sphere.
    """
    law = 2.0 / 3.0 * (np.sin(phase) + (np.pi - phase) * np.cos(phase)) / np.pi
    ratio = 1e5
    assert nadir_flux(ratio, phase) * ratio**2 == pytest.approx(law, abs=1e-4)
    assert 4.0 * sphere_flux(ratio, phase) * ratio**2 == pytest.approx(law, abs=1e-4)


@pytest.mark.parametrize("ratio", RATIOS)
def test_under_the_overhead_sun_a_sphere_gets_its_closed_form(ratio: float) -> None:
    """Derived: closed form.

    At the angle x from nadir the ground's normal is turned from the vertical by y - x, with
    sin(y) = H sin(x). The integral of cos(y - x) over cos(x), from m at the limb to 1, is
    1 / (3 H^2) + H [2/3 - m + m^3 / 3]; times 2 pi / pi / 4.
    """
    m = np.sqrt(1.0 - 1.0 / ratio**2)
    # 2/3 - m + m^3/3 = (1 - m)^2 (2 + m) / 3
    rest = ratio * ((1.0 / ratio**2) / (1.0 + m)) ** 2 * (2.0 + m) / 3.0
    expected = 0.5 * (1.0 / (3.0 * ratio**2) + rest)
    assert sphere_flux(ratio, 0.0) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("zenith", [0.0, 0.5, 1.5, 1.6, 3.0])
def test_on_the_ground_everything_below_is_as_bright(zenith: float) -> None:
    """A plane reflects the cosine of the Sun's zenith angle; derived: closed form."""
    expected = max(0.0, np.cos(zenith))
    assert nadir_flux(1.0, zenith) == pytest.approx(expected, abs=1e-9)
    assert sphere_flux(1.0, zenith) == pytest.approx(expected / 2.0, abs=1e-9)


@given(
    ratio=st.floats(-4.0, 2.0).map(lambda power: 1.0 + 10.0**power),
    zenith=st.floats(0.0, np.pi),
)
def test_points_lie_on_lit_ground_within_the_horizon(ratio: float, zenith: float) -> None:
    """Where each line of sight meets the sphere, worked out as a line and a sphere meet."""
    found = dome(ratio, zenith)
    down = found.direction[0] @ DOWN[0]
    np.testing.assert_allclose(np.linalg.norm(found.direction[0], axis=1), 1.0, atol=1e-12)
    assert (found.weight >= 0.0).all()
    assert (down >= np.sqrt(1.0 - 1.0 / ratio**2) - 1e-12).all()
    inside = np.sqrt(np.maximum((ratio * down) ** 2 - (ratio**2 - 1.0), 0.0))
    ground = -ratio * DOWN[0] + (ratio * down - inside)[:, None] * found.direction[0]
    weighed = found.weight[0] > 0.0
    assert (ground[weighed] @ sun_at(zenith)[0] > -1e-6).all()
    sun_seen = lit(DOWN, np.array([ratio]), sun_at(zenith))[0]
    if not sun_seen:
        assert found.weight.sum() == 0.0


@given(ratio=st.floats(-4.0, 1.7).map(lambda power: 1.0 + 10.0**power))
def test_lit_ground_is_seen_until_the_sun_is_below_the_limb(ratio: float) -> None:
    """The terminator passes the limb at pi/2 + acos(1 / H); derived: closed form."""
    last = np.pi / 2 + np.arccos(1.0 / ratio)
    angles = [sun_at(last + step) for step in (-1e-6, 1e-6)]
    assert [bool(lit(DOWN, np.array([ratio]), sun)[0]) for sun in angles] == [True, False]


@pytest.mark.parametrize("ratio", RATIOS)
def test_nothing_jumps_where_the_terminator_enters_and_leaves(ratio: float) -> None:
    end = np.arccos(1.0 / ratio)
    for zenith in (1e-12, np.pi / 2 - end, np.pi / 2, np.pi / 2 + end):
        before, after = (nadir_flux(ratio, zenith + step) for step in (-1e-7, 1e-7))
        assert before == pytest.approx(after, abs=1e-6 / ratio**2)


def test_the_dome_turns_with_the_frame() -> None:
    """A turned frame changes nothing but the directions' components."""
    turn = np.linalg.qr(np.arange(9.0).reshape(3, 3) ** 2 + np.eye(3))[0]
    turn *= np.linalg.det(turn)
    ratio, sun = np.array([1.3]), sun_at(1.2)
    here, there = lit_dome(DOWN, ratio, sun), lit_dome(DOWN @ turn, ratio, sun @ turn)
    np.testing.assert_allclose(here.direction @ turn, there.direction, atol=1e-12)
    np.testing.assert_allclose(here.weight, there.weight, atol=1e-14)
