from __future__ import annotations

import numpy as np
import pytest

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
from thermnet.figures.style import Stamp

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
