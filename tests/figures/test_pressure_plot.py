from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.figures.pages import across, assert_legible, by_name, marks, up
from thermnet.blankets import OverPressure
from thermnet.figures.pressure_plot import pressure_figure
from thermnet.figures.style import Stamp

ORIGIN = Stamp(model="Heron microsatellite", case="hot", hash="3f2a9c81d07b", version="0.2.0")


def over(vacuum: float = 0.3, still: float = 50.0) -> OverPressure:
    """An invented blanket, in which gas and vacuum go side by side."""
    pressure = np.logspace(-6.0, 5.0, 111)
    return OverPressure(
        case="hot",
        blanket="tank",
        gas="nitrogen",
        covered_mean=293.15,
        outer_mean=173.15,
        pressure=pressure,
        heat=vacuum + still * pressure / (pressure + 30.0),
        vacuum=vacuum,
        still=still,
    )


def test_heat_stands_over_pressure_beside_that_in_a_vacuum_and_that_of_still_gas() -> None:
    figure = pressure_figure(over(), ORIGIN, title="Heron: blanket tank")
    (heat,), (vacuum,), (still,) = (marks(figure, name) for name in ("heat", "vacuum", "still"))
    assert across(heat) == tuple(over().pressure)
    assert up(heat) == tuple(over().heat)
    assert (up(vacuum), up(still)) == ((0.3, 0.3), (50.0, 50.0))


def test_both_axes_go_by_decades() -> None:
    figure = pressure_figure(over(), ORIGIN, title="Heron: blanket tank")
    (axes,) = (axes for axes in figure.axes if axes.get_label() != "sheet")
    assert (axes.get_xscale(), axes.get_yscale()) == ("log", "log")
    assert axes.get_xlim() == pytest.approx((1e-6, 1e5))
    low, high = axes.get_ylim()
    assert low < min(over().heat)
    assert high > max(over().heat)


def test_the_page_says_what_the_faces_are_and_which_way_the_heat_goes() -> None:
    (words,) = by_name(pressure_figure(over(), ORIGIN, title="Heron"), "faces")
    assert words == (
        "from the covered surface out; covered surface held at 20.0 °C, outer face at −100.0 °C"
    )


def test_heat_from_outside_is_drawn_by_its_size_and_said_to_come_in() -> None:
    turned = replace(over(-0.3, -50.0), outer_mean=350.0)
    figure = pressure_figure(turned, ORIGIN, title="Heron")
    (heat,) = marks(figure, "heat")
    assert min(up(heat)) == pytest.approx(0.3, abs=1e-5)
    assert by_name(figure, "faces")[0].startswith("from the outer face in")


@pytest.mark.parametrize("still", [0.0, -50.0])
def test_heat_that_is_none_or_turns_round_has_no_decades(still: float) -> None:
    with pytest.raises(ValueError, match="is zero or changes its direction"):
        pressure_figure(over(still=still), ORIGIN, title="Heron")


def test_names_at_the_right_give_the_values_of_the_lines() -> None:
    names = by_name(pressure_figure(over(), ORIGIN, title="Heron"), "line-name")
    assert sorted(names) == [
        "all at 10⁵ Pa 50.3 W",
        "in a vacuum 0.300 W",
        "still gas alone 50.0 W",
    ]


@pytest.mark.parametrize(
    ("still", "said"), [(1280.0, "1280 W"), (4.0, "4.00 W"), (9.996, "10.0 W"), (2e4, "2.00e+04 W")]
)
def test_heat_is_named_to_three_figures_whatever_its_size(still: float, said: str) -> None:
    names = by_name(pressure_figure(over(still=still), ORIGIN, title="Heron"), "line-name")
    assert f"still gas alone {said}" in names


@settings(max_examples=4, deadline=None)
@given(vacuum=st.floats(1e-4, 1e3), more=st.floats(1e-2, 1e6))
def test_no_text_overlaps_for_any_blanket(vacuum: float, more: float) -> None:
    figure = pressure_figure(over(vacuum, vacuum * more), ORIGIN, title="Heron: blanket, " * 12)
    assert_legible(figure)
