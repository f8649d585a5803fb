from __future__ import annotations

import numpy as np
import pytest
from matplotlib.patches import Rectangle

from tests.figures.pages import across, assert_legible, by_name, marks, texts, up
from thermnet.figures.history_plot import (
    Extreme,
    Panel,
    history_figure,
    history_figures,
    spread,
    time_unit,
    view,
)
from thermnet.figures.mode_strip import Stretch, stretches
from thermnet.figures.style import Stamp
from thermnet.model.activity import Activity

ORIGIN = Stamp(model="Heron microsatellite", case="hot", hash="3f2a9c81d07b", version="0.1.0")
PERIOD = 5677.0
ZERO = 273.15


def panel(
    name: str, mean: float, swing: float, bands: dict[str, tuple[float, float]] | None = None
) -> Panel:
    """Two orbits of a sine, whose extremes are at a quarter and three quarters of an orbit."""
    t = np.linspace(0.0, 2.0 * PERIOD, 121)
    return Panel(
        name=name,
        t=t,
        temperature=ZERO + mean + swing * np.sin(2.0 * np.pi * t / PERIOD),
        bands={key: (low + ZERO, high + ZERO) for key, (low, high) in (bands or {}).items()},
        lowest=Extreme(instant=0.75 * PERIOD, temperature=ZERO + mean - swing),
        highest=Extreme(instant=0.25 * PERIOD, temperature=ZERO + mean + swing),
        heater_on=((0.0, 300.0), (900.0, 1200.0)),
    )


BOTH = {"operating": (-20.0, 40.0), "non-operating": (-30.0, 55.0)}
MANY = [
    panel("star camera", 12.0, 9.0, BOTH),
    panel("battery", 12.0, 1.2, {"operating": (0.0, 35.0), "non-operating": (-10.0, 45.0)}),
    panel("radiator", -20.0, 35.0),
    panel("solar array", 10.0, 75.0, {"operating": (-110.0, 90.0)}),
    panel("telescope", 20.0, 0.3, {"operating": (19.5, 20.5), "non-operating": (-20.0, 40.0)}),
    panel("plate", 20.0, 0.0, {"operating": (0.0, 20.5)}),
    panel(
        "a name that is much too long for the room there is over a panel of this width" * 2, 5, 2
    ),
    panel("detector", -195.0, 0.5, {"operating": (-196.0, -190.0), "switch-on": (-230.0, 60.0)}),
]


@pytest.mark.parametrize("count", [1, 3, 8])
def test_no_text_overlaps_and_none_is_too_small(count: int) -> None:
    shadow = [(2000.0, 4100.0), (2000.0 + PERIOD, 4100.0 + PERIOD)]
    assert_legible(history_figure(MANY[:count], ORIGIN, title="Hot: two orbits", shadow=shadow))


def test_curve_is_in_celsius_over_minutes() -> None:
    figure = history_figure(MANY[:1], ORIGIN, title="Hot")
    (curve,) = marks(figure, "temperature")
    assert across(curve)[-1] == pytest.approx(2.0 * PERIOD / 60.0)
    assert up(curve)[0] == pytest.approx(12.0)
    assert by_name(figure, "time") == ["time [min]"]


def test_extremes_are_marked_where_and_when_they_happen_even_between_outputs() -> None:
    figure = history_figure(MANY[:1], ORIGIN, title="Hot")
    (mark,) = marks(figure, "highest")
    # Derived: 5677 s / 4 = 23.65 min; 12 + 9 = 21 °C.
    assert (*across(mark), *up(mark)) == pytest.approx((23.654, 21.0), abs=1e-3)
    assert by_name(figure, "highest-value") == ["highest 21.0 °C at 23.7 min"]
    assert by_name(figure, "lowest-value") == ["lowest 3.0 °C at 71 min"]


def test_shadow_spans_every_panel_and_heater_periods_their_own() -> None:
    figure = history_figure(MANY[:3], ORIGIN, title="Hot", shadow=[(2000.0, 4100.0)])
    assert len(marks(figure, "shadow")) == 3
    assert len(marks(figure, "heater-on")) == 6
    assert by_name(figure, "legend")[-2:] == ["shadow", "heater on"]


def test_limits_near_the_curve_are_lines_and_far_ones_are_named_with_an_arrow() -> None:
    bands = {"operating": (0.0, 35.0), "non-operating": (-10.0, 95.0)}
    battery = panel("battery", 12.0, 1.2, bands)
    figure = history_figure([battery], ORIGIN, title="Hot")
    # Derived: the curve spans 10.8 to 13.2 °C; operating limits are drawn within 20 K of it.
    assert len(marks(figure, "limit operating")) == 1
    assert marks(figure, "limit non-operating") == []
    assert sorted(by_name(figure, "limit-name")) == [
        "operating 0",
        "↑ non-operating 95",
        "↑ operating 35",
        "↓ non-operating −10",
    ]


def test_view_holds_the_curve_its_extremes_and_the_near_limits() -> None:
    low, high, near = view(MANY[0], 40.0)
    assert low < -30.0
    assert high > 55.0
    assert len(near) == 4


def test_panels_share_one_time_axis_named_once() -> None:
    figure = history_figure(MANY[:4], ORIGIN, title="Hot")
    spans = {axes.get_xlim() for axes in figure.axes if axes.get_label() != "sheet"}
    assert len(spans) == 1
    assert len(by_name(figure, "time")) == 1


def test_more_panels_than_fit_are_refused_with_advice_or_paged() -> None:
    with pytest.raises(ValueError, match="history_figures"):
        history_figure([*MANY, MANY[0]], ORIGIN, title="Hot")
    pages = history_figures([*MANY, MANY[0]], ORIGIN, title="Hot")
    names = [
        text for page in pages for text in texts(page) if str(text.get_gid()).startswith("panel-")
    ]
    assert len(pages) == 2
    assert len(names) == 9


@pytest.mark.parametrize(
    ("span", "unit"), [(100.0, "s"), (5677.0, "min"), (86400.0, "h"), (864000.0, "d")]
)
def test_time_is_read_in_the_unit_that_fits_its_span(span: float, unit: str) -> None:
    assert time_unit(span) == unit


def test_spread_keeps_order_and_distance_within_the_ends() -> None:
    places = spread([1.0, 1.0, 1.2, 9.0], 2.0, 0.0, 10.0)
    assert places == [1.0, 3.0, 5.0, 9.0]
    assert spread([10.0, 10.0], 2.0, 0.0, 10.0) == [8.0, 10.0]


# ---------------------------------------------------------------- the strip of modes

DAY = Activity(
    begin=np.array([0.0, 1500.0, 1900.0, 4500.0]),
    steps=("look", "send", "charge", "dark"),
    modes=("nadir imaging", "downlink", "charging", "eclipse"),
    pointings=("", "", "", ""),
    period=PERIOD,
)


@pytest.mark.parametrize("count", [1, 3, 8])
def test_modes_stand_over_the_time_axis_and_are_legible(count: int) -> None:
    modes = stretches(DAY, 2.0 * PERIOD)
    figure = history_figure(MANY[:count], ORIGIN, title="Hot", modes=modes)
    assert_legible(figure)
    strip = next(axes for axes in figure.axes if axes.get_label() == "modes")
    others = [axes for axes in figure.axes if axes.get_label() not in ("modes", "sheet")]
    assert strip.get_position().y1 < min(axes.get_position().y0 for axes in others)
    assert {axes.get_xlim() for axes in others} == {strip.get_xlim()}


def test_edges_of_modes_stand_at_their_instants_in_every_turn() -> None:
    figure = history_figure(MANY[:1], ORIGIN, title="Hot", modes=stretches(DAY, 2.0 * PERIOD))
    shown = [mark for mark in marks(figure, "mode charging") if isinstance(mark, Rectangle)]
    begins = sorted(mark.get_x() for mark in shown)
    assert begins == pytest.approx([1900.0 / 60.0, (1900.0 + PERIOD) / 60.0])


def test_a_mode_without_room_for_its_name_is_named_above() -> None:
    figure = history_figure(MANY[:1], ORIGIN, title="Hot", modes=stretches(DAY, 2.0 * PERIOD))
    assert by_name(figure, "mode") == ["charging", "eclipse"] * 2
    legend = by_name(figure, "legend")
    assert [words for words in legend if words.startswith("mode: ")] == [
        "mode: nadir imaging",
        "mode: downlink",
    ]


def test_a_case_without_modes_has_no_strip() -> None:
    figure = history_figure(MANY[:1], ORIGIN, title="Hot")
    assert "modes" not in [axes.get_label() for axes in figure.axes]


def test_a_mode_that_goes_on_over_the_end_of_a_turn_is_one_stretch() -> None:
    day = Activity(
        begin=np.array([0.0, 10.0, 30.0]),
        steps=("a", "b", "c"),
        modes=("safe", "science", "safe"),
        pointings=("", "", ""),
        period=100.0,
    )
    assert stretches(day, 200.0) == (
        Stretch(begin=0.0, end=10.0, mode="safe"),
        Stretch(begin=10.0, end=30.0, mode="science"),
        Stretch(begin=30.0, end=110.0, mode="safe"),
        Stretch(begin=110.0, end=130.0, mode="science"),
        Stretch(begin=130.0, end=200.0, mode="safe"),
    )


def test_what_is_done_once_goes_on_to_the_end_and_no_further() -> None:
    once = Activity(
        begin=np.array([0.0, 50.0, 500.0]),
        steps=("a", "b", "c"),
        modes=("launch", "safe", "science"),
        pointings=("", "", ""),
    )
    found = [(each.begin, each.end, each.mode) for each in stretches(once, 120.0)]
    assert found == [(0.0, 50.0, "launch"), (50.0, 120.0, "safe")]
    again = [(each.begin, each.mode) for each in stretches(once, 1300.0, period=700.0)]
    assert again[3:] == [(700.0, "launch"), (750.0, "safe"), (1200.0, "science")]


def test_more_modes_than_greys_are_still_told_apart_by_name_and_edge() -> None:
    names = [f"mode {k}" for k in range(9)]
    modes = [Stretch(begin=k * 1200.0, end=(k + 1) * 1200.0, mode=n) for k, n in enumerate(names)]
    figure = history_figure(MANY[:1], ORIGIN, title="Hot", modes=modes)
    assert_legible(figure)
    assert by_name(figure, "mode") == names
