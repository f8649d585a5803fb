"""Plumes: flux times area times schedule, on the nodes of the surfaces that they reach."""

from __future__ import annotations

import pytest

from tests.model.small import SMALL, read
from tests.solving import closed
from thermnet.errors import InputError
from thermnet.model.assemble import assemble
from thermnet.model.paths import vary
from thermnet.network.network import Network
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.results import solve

PLUME = """\
plumes:
  kick:
    surfaces: {face: 900 W/m2, plate: 100 W/m2}
    schedule: burn
"""

FIRING = SMALL.replace(
    "schedules:\n",
    PLUME + "schedules:\n  burn: {time: [0 s, 20 s, 50 s], value: [0, 1, 0], shape: steps, "
    "period: 100 s}\n",
)


def heats(network: Network, path: str) -> dict[str, float]:
    """Amplitude [W] of the heats of one path by node."""
    found = network.heats
    return {
        network.names[node]: float(amplitude)
        for node, amplitude, origin in zip(found.node, found.amplitude, found.origin, strict=True)
        if network.origins[origin] == path
    }


def test_heat_is_flux_times_the_area_of_the_surface() -> None:
    network = assemble(read(FIRING), "orbit")
    assert heats(network, "plumes.kick.surfaces.face") == {"face": pytest.approx(1350.0)}
    assert heats(network, "plumes.kick.surfaces.plate") == {"plate": pytest.approx(10.0)}


def test_it_comes_while_the_thruster_fires() -> None:
    network = assemble(read(FIRING), "orbit")
    (k,) = (
        k
        for k, origin in enumerate(network.heats.origin)
        if network.origins[origin] == "plumes.kick.surfaces.face"
    )
    column = network.heats.history[k]
    found = [network.histories.at(time)[column] for time in (10.0, 35.0, 60.0, 135.0)]
    assert found == [0.0, 1.0, 0.0, 1.0]


def test_a_steady_case_takes_the_mean() -> None:
    network = assemble(read(FIRING), "mean")
    assert heats(network, "plumes.kick.surfaces.face") == {"face": pytest.approx(0.3 * 1350.0)}


def test_a_steady_case_takes_the_first_value_of_a_burn_that_does_not_repeat() -> None:
    network = assemble(read(FIRING.replace("shape: steps, period: 100 s", "shape: steps")), "mean")
    assert heats(network, "plumes.kick.surfaces.face") == {"face": 0.0}


def test_a_thruster_brings_no_more_than_its_flux() -> None:
    wrong = FIRING.replace("value: [0, 1, 0], shape: steps", "value: [0, 1.5, 0], shape: steps")
    with pytest.raises(InputError, match=r"must be at most 1, got 1\.5: 'plumes\.kick"):
        assemble(read(wrong), "orbit")


def test_a_burn_drives_a_massless_outer_face_to_its_balance_at_once() -> None:
    # derived: behind a blanket of 0.02 the face radiates what it absorbs, to 1 % in temperature:
    # 900 = 0.8 sigma T^4
    result = solve(read(FIRING), "orbit")
    closed(result.network, result.solution)
    hottest = result.solution.extremes.highest[:, result.network.index("face")].max()
    assert hottest == pytest.approx((900.0 / (0.8 * STEFAN_BOLTZMANN)) ** 0.25, rel=0.01)


def test_the_flux_on_a_surface_is_changed_by_its_path() -> None:
    model = vary(read(FIRING), {"plumes.kick.surfaces.face": 450.0})
    network = assemble(model, "orbit")
    assert heats(network, "plumes.kick.surfaces.face") == {"face": pytest.approx(675.0)}
    assert heats(network, "plumes.kick.surfaces.plate") == {"plate": pytest.approx(10.0)}


def test_a_plume_never_cools() -> None:
    wrong = FIRING.replace("value: [0, 1, 0], shape: steps, period: 100 s}\n  half",
                           "value: [0, -1, 0], shape: steps, period: 100 s}\n  half")  # fmt: skip
    with pytest.raises(InputError, match=r"at least 0, got -1: 'plumes\.kick\.schedule' follows"):
        assemble(read(wrong), "orbit")
