"""The figure of power and charge: what its axes hold."""

from __future__ import annotations

import numpy as np
import pytest

from tests.figures.pages import across, assert_legible, by_name, marks, up
from tests.small_models import solved
from thermnet.energy import energy
from thermnet.figures.power_plot import PowerHistory, power_figure, power_plot
from thermnet.figures.style import Stamp

ORIGIN = Stamp(model="Heron microsatellite", case="cold", hash="3f2a9c81d07b", version="0.2.0")
ENTRY, PERIOD = 3600.0, 5700.0


def history(*, battery: bool = True) -> PowerHistory:
    """Cells that can give 150 W until the shadow comes, and give the 80 W of the loads alone."""
    jump = np.nextafter(ENTRY, 0.0)
    charge = [1.0, 1.0, 1.0, 0.7]
    return PowerHistory(
        time=np.array([0.0, jump, ENTRY, PERIOD]),
        available=np.array([150.0, 150.0, 0.0, 0.0]),
        drawn=np.array([80.0, 80.0, 0.0, 0.0]),
        demand=np.full(4, 80.0),
        charge=np.array(charge if battery else [np.nan] * 4),
    )


@pytest.mark.parametrize("battery", [True, False])
@pytest.mark.parametrize("title", ["Cold", "Heron microsatellite: cold, end of life, " * 3])
def test_no_text_overlaps_and_none_is_too_small(title: str, battery: bool) -> None:
    figure = power_figure(history(battery=battery), ORIGIN, title=title, shadow=[(ENTRY, PERIOD)])
    assert_legible(figure)


def test_powers_are_drawn_in_watts_over_minutes_with_their_means() -> None:
    figure = power_figure(history(), ORIGIN, title="Cold", shadow=[(ENTRY, PERIOD)])
    (curve,) = marks(figure, "power available")
    assert across(curve) == pytest.approx([0.0, 60.0, 60.0, 95.0])
    assert up(curve) == pytest.approx([150.0, 150.0, 0.0, 0.0])
    # Derived: 80 W through 3600 of 5700 s, and 80 W all along.
    assert by_name(figure, "mean drawn") == ["50.5"]
    assert by_name(figure, "mean taken") == ["80.0"]


def test_the_charge_is_drawn_in_percent_and_its_lowest_value_named() -> None:
    figure = power_figure(history(), ORIGIN, title="Cold")
    (curve,) = marks(figure, "charge")
    assert up(curve) == pytest.approx([100.0, 100.0, 100.0, 70.0])
    assert by_name(figure, "lowest") == ["lowest 70.0 %"]


def test_without_a_battery_there_is_neither_charge_nor_anyone_who_takes() -> None:
    figure = power_figure(history(battery=False), ORIGIN, title="Cold")
    assert [axes.get_label() for axes in figure.axes] == ["sheet", "power"]
    assert not marks(figure, "power taken")


def test_shadow_is_shaded_in_both_panels_and_named() -> None:
    figure = power_figure(history(), ORIGIN, title="Cold", shadow=[(ENTRY, PERIOD)])
    assert len(marks(figure, "shadow")) == 2
    assert by_name(figure, "legend")[0] == "shadow"


def test_a_history_of_one_instant_is_refused() -> None:
    one = np.zeros(1)
    with pytest.raises(ValueError, match="two or more instants"):
        PowerHistory(time=one, available=one, drawn=one, demand=one, charge=one)


FLOWN = """
thermnet: 1
temperatures: degC
modes: {on: {}}
nodes: {body: {capacity: 9000 J/K, initial: 10}}
boundaries: {space: {temperature: 2.7 K}}
surfaces:
  wing: {node: body, area: 0.3 m2, absorptance: 0.9, emittance: 0.8, normal: -z,
         cells: {efficiency: 0.28}}
units: {bus: {node: body, heat: {on: 20 W}}}
batteries:
  pack: {node: body, capacity: 100 Wh, charge_efficiency: 0.95, discharge_efficiency: 0.95,
         cells: [wing], begins: 0.3}
orbits: {low: {altitude: 500 km, beta: 0 deg}}
pointings: {sun: {axis: -z, to: sun, second_axis: +x, second_to: orbit normal}}
cases:
  day: {solve: transient, initial: given, duration: 5 h, mode: on, orbit: low, pointing: sun,
        environment: mean}
"""


def test_of_a_transient_the_last_orbit_is_shown_and_its_lowest_charge_is_called_so() -> None:
    """The battery begins at 30 %, its least of the case, and has recovered by the last orbit."""
    result = solved(FLOWN, "day")
    found = energy(result)
    assert found is not None
    assert found.lowest == pytest.approx(0.3)
    figure = power_plot(result, found)
    assert figure is not None
    assert_legible(figure)
    (curve,) = marks(figure, "charge")
    assert across(curve)[0] == pytest.approx(5.0 - 5676.98 / 3600.0, abs=0.05)
    assert by_name(figure, "title") == ["model: day, power of the solar cells, last orbit"]
    assert by_name(figure, "lowest") == [f"lowest {min(up(curve)):.1f} %, last orbit"]
    assert min(up(curve)) > 80.0
