from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure

from tests.figures.pages import across, assert_legible, by_name, marks, up
from tests.small_models import model_of
from tests.studies.test_trade import EMITTANCE, NETWORK, traded
from tests.studies.test_trade_bounds import STACKED
from thermnet.figures.style import Stamp
from thermnet.figures.trade_plot import TradeCurves, trade_figure, trade_plot

ORIGIN = Stamp(model="Whimbrel", case="cold, hot", hash="3f2a9c81d07b", version="0.2.0")

CURVES = TradeCurves(
    x=np.array([0.005, 0.02, 0.05]),
    name="effective emittance of blanket 'tank'",
    needed=np.array([2.0, 8.0, 20.0]),
    peak=np.array([2.0, 8.0, 20.0]),
    margin=np.array([-3.0, 4.0, 9.0]),
    installed=20.0,
    duty=0.8,
    crossing=0.04,
)


def drawn(curves: TradeCurves) -> Figure:
    return trade_figure(
        curves, ORIGIN, title="Whimbrel: tank", power="heater power, W", margin="hot margin, K"
    )


def test_power_stands_over_the_hot_margin_on_one_axis() -> None:
    figure = drawn(CURVES)
    (needed,), (margin,) = marks(figure, "needed"), marks(figure, "margin")
    assert across(needed) == across(margin) == (0.005, 0.02, 0.05)
    assert (up(needed), up(margin)) == ((2.0, 8.0, 20.0), (-3.0, 4.0, 9.0))
    power, below = (axes for axes in figure.axes if axes.get_label() != "sheet")
    assert power.get_xlim() == below.get_xlim()


def test_a_line_stands_at_what_is_installed_times_the_duty_allowed() -> None:
    figure = drawn(CURVES)
    (usable,), (installed,) = marks(figure, "line at 80 % duty"), marks(figure, "line installed")
    assert up(usable) == pytest.approx((16.0, 16.0))
    assert up(installed) == pytest.approx((20.0, 20.0))
    assert "at 80 % duty: 16.00 W" in by_name(figure, "label")


def test_a_line_of_no_margin_is_in_sight_though_all_margins_are_large() -> None:
    figure = drawn(replace(CURVES, margin=np.array([30.0, 31.0, 32.0])))
    (zero,) = marks(figure, "zero")
    assert up(zero) == (0.0, 0.0)
    (below,) = (axes for axes in figure.axes if axes.get_label() == "margin")
    assert below.get_ylim()[0] < 0.0


def test_a_ring_stands_where_the_power_reaches_what_may_be_used() -> None:
    figure = drawn(CURVES)
    (ring,) = marks(figure, "crossing")
    assert (across(ring), up(ring)) == ((0.04,), (16.0,))
    assert by_name(figure, "crossing-value") == ["reached at 0.04"]
    assert marks(drawn(replace(CURVES, crossing=None)), "crossing") == []


def test_a_repeating_case_shows_the_peak_beside_the_mean() -> None:
    figure = drawn(replace(CURVES, peak=np.array([3.0, 9.0, 25.0])))
    (peak,) = marks(figure, "peak")
    assert up(peak) == (3.0, 9.0, 25.0)
    assert marks(drawn(CURVES), "peak") == []


def test_without_a_judged_band_the_lower_panel_says_so() -> None:
    figure = drawn(replace(CURVES, margin=np.full(3, np.nan)))
    assert by_name(figure, "nothing") == ["no band is judged on the hot side"]


@pytest.mark.parametrize(
    "curves",
    [
        CURVES,
        replace(CURVES, crossing=0.0051),
        replace(CURVES, installed=None, crossing=None),
        replace(CURVES, installed=20.1, duty=0.99, peak=np.array([2.0, 8.0, 20.2])),
        replace(CURVES, needed=np.zeros(3), peak=np.zeros(3), installed=None, crossing=None),
        replace(CURVES, margin=np.full(3, np.nan), name="blankets.a long name of a blanket.x" * 6),
        replace(CURVES, needed=1e4 * CURVES.needed, peak=1e4 * CURVES.peak, crossing=None),
        TradeCurves(
            x=np.ones(1), name="one", needed=np.ones(1), peak=np.ones(1), margin=np.zeros(1)
        ),
    ],
)
def test_no_text_overlaps(curves: TradeCurves) -> None:
    assert_legible(drawn(curves))


def test_a_trade_is_drawn_over_the_effective_emittance_as_solved() -> None:
    figure = trade_plot(traded(model_of(NETWORK), (0.01, 0.02, 0.04)))
    (needed,) = marks(figure, "needed")
    assert across(needed) == pytest.approx((0.01, 0.02, 0.04))
    assert by_name(figure, "axis") == ["effective emittance of blanket 'wrap', case 'cold'"]
    assert_legible(figure)


def test_the_axis_says_what_was_changed_of_a_blanket_that_is_stated_by_its_layers() -> None:
    path = "blankets.wrap.factor"
    found = traded(model_of(STACKED), (0.5, 1.0, 2.0), path=path)
    figure = trade_plot(found)
    (needed,) = marks(figure, "needed")
    assert across(needed) == pytest.approx([point.emittance for point in found.points])
    (axis,) = by_name(figure, "axis")
    assert axis == f"effective emittance of blanket 'wrap', case 'cold', by {path}"
    assert_legible(figure)


def test_where_the_emittance_stays_a_trade_is_drawn_over_its_values() -> None:
    path = "heaters.deck.power"
    found = traded(model_of(NETWORK), (60.0, 90.0), path=path, blanket="wrap")
    figure = trade_plot(found)
    (needed,) = marks(figure, "needed")
    assert across(needed) == (60.0, 90.0)
    assert by_name(figure, "axis") == [f"{path} [W]"]
    assert EMITTANCE.split(".")[1] == found.blanket


def test_curves_of_unequal_lengths_are_refused() -> None:
    with pytest.raises(ValueError, match="at each"):
        replace(CURVES, margin=np.zeros(2))
