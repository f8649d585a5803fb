from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.figures.pages import across, assert_legible, by_name, marks, texts, up
from thermnet.figures.beta_plot import DATE_APART, BetaHistory, beta_figure, date_ticks
from thermnet.figures.style import Stamp

ORIGIN = Stamp(model="Heron microsatellite", case="hot", hash="3f2a9c81d07b", version="0.2.0")
CRITICAL = 68.019
"""Degrees, 500 km above the Earth: the angle whose sine is R / (R + h), derived."""


def history(days: int = 365, *, first: date = date(2027, 1, 1), swing: float = 75.0) -> BetaHistory:
    """A sine of two periods a year, and the closed form of the shadow of a circular orbit."""
    time = np.arange(days + 1.0)
    beta = swing * np.sin(4.0 * np.pi * time / 365.0)
    ratio = 1.0 / np.sin(np.radians(CRITICAL))
    share = np.sqrt(ratio**2 - 1.0) / (ratio * np.cos(np.radians(beta)))
    shadow = np.where(share < 1.0, np.arccos(np.minimum(share, 1.0)) / np.pi, 0.0)
    return BetaHistory(days=time, first=first, beta=beta, shadow=shadow, critical=CRITICAL)


MARKED = replace(
    history(),
    marks=(
        ("hot, end of life", 70.0),
        ("cold, beginning of life", 0.0),
        ("survival", 0.0),
        ("a case with a name that is much too long for the room at the right", 68.0),
    ),
)


@pytest.mark.parametrize("days", [1, 9, 59, 100, 365, 2000, 9000])
def test_no_text_overlaps_in_a_day_or_in_decades(days: int) -> None:
    assert_legible(beta_figure(history(days, first=date(2027, 2, 20)), ORIGIN, title="Beta"))


@pytest.mark.parametrize("swing", [75.0, 20.0, 66.0, 90.0, 0.0])
def test_no_text_overlaps_near_the_critical_angle_and_marks(swing: float) -> None:
    marked = replace(history(swing=swing), marks=MARKED.marks)
    assert_legible(beta_figure(marked, ORIGIN, title="Heron: beta angle over a year, " * 4))


def test_beta_stands_over_the_share_of_shadow_in_percent_on_the_same_days() -> None:
    figure = beta_figure(history(), ORIGIN, title="Beta")
    (beta,), (shadow,) = marks(figure, "beta"), marks(figure, "shadow")
    assert across(beta) == across(shadow) == tuple(range(366))
    # Derived: at beta 0 an orbit 500 km up is in shadow for 37.788 % (check value 3.1).
    assert (up(beta)[0], up(shadow)[0]) == pytest.approx((0.0, 37.788), abs=2e-3)
    plots = [axes for axes in figure.axes if axes.get_label() != "sheet"]
    assert plots[0].get_xlim() == plots[1].get_xlim() == (0.0, 365.0)


def test_lines_at_zero_and_at_the_critical_angle_of_either_sign() -> None:
    figure = beta_figure(history(), ORIGIN, title="Beta")
    heights = [up(line)[0] for line in (*marks(figure, "zero"), *marks(figure, "above"))]
    assert heights == pytest.approx([0.0, CRITICAL])
    names = by_name(figure, "line-name")
    assert names == ["no shadow above 68.0°", "no shadow below −68.0°"]


def test_an_ellipse_has_no_critical_angle_and_no_line_for_one() -> None:
    figure = beta_figure(replace(history(), critical=None), ORIGIN, title="Beta")
    assert by_name(figure, "line-name") == []


def test_cases_are_marked_by_lines_named_with_their_angles_even_where_names_are_cut() -> None:
    figure = beta_figure(MARKED, ORIGIN, title="Beta")
    (line,) = marks(figure, "line hot, end of life")
    assert up(line) == pytest.approx((70.0, 70.0))
    names = by_name(figure, "line-name")
    assert names[:3] == ["hot, end of life 70.0°", "cold, beginning of life 0.0°", "survival 0.0°"]
    assert names[3].startswith("a case")
    assert names[3].endswith(" 68.0°")


def test_extremes_are_marked_with_value_and_date() -> None:
    figure = beta_figure(history(), ORIGIN, title="Beta")
    # Derived: the sine of two periods peaks after 365/8 = 45.625 and 228.125 days; of whole days
    # 228 (17 August) is the nearest to a peak. It is lowest after 136.875 and 319.375: day 137
    # (18 May).
    # An eighth of a day off, the cosine of 4 pi/365/8 lowers 75° by less than 0.001°.
    (highest,), (lowest,) = marks(figure, "highest"), marks(figure, "lowest")
    assert (*across(highest), *up(highest)) == pytest.approx((228.0, 75.0), abs=1e-3)
    assert (*across(lowest), *up(lowest)) == pytest.approx((137.0, -75.0), abs=1e-3)
    assert by_name(figure, "highest-value") == ["highest 75.0° on 2027-08-17"]
    assert by_name(figure, "lowest-value") == ["lowest −75.0° on 2027-05-18"]
    assert by_name(figure, "longest-value") == ["longest 37.8 % on 2027-01-01"]


def test_a_year_without_shadow_says_so() -> None:
    steady = replace(history(), beta=np.full(366, 80.0), shadow=np.zeros(366))
    figure = beta_figure(steady, ORIGIN, title="Beta")
    assert by_name(figure, "no-shadow") == ["no shadow on any of these days"]
    assert marks(figure, "longest") == []
    assert len(by_name(figure, "highest-value")) == 1
    assert by_name(figure, "lowest-value") == []


def test_months_stand_at_their_first_days_and_name_the_year_once() -> None:
    ticks = date_ticks(date(2027, 11, 20), 0.0, 365.0, 109.0)
    # Derived: 11 days to 1 December, 42 to 1 January, 73 to 1 February.
    assert ticks[:3] == [(11.0, "Dec\n2027"), (42.0, "Jan\n2028"), (73.0, "Feb")]
    assert len(ticks) == 12


@given(
    first=st.dates(date(1990, 1, 1), date(2060, 1, 1)),
    low=st.floats(0.0, 400.0),
    span=st.floats(1.0, 20000.0),
)
def test_dates_under_the_axis_are_true_and_never_crowd(
    first: date, low: float, span: float
) -> None:
    ticks = date_ticks(first, low, low + span, 109.0)
    days = np.array([day for day, _ in ticks])
    assert len(ticks) > 0
    assert (days >= low).all()
    assert (days <= low + span).all()
    least = 0.75 * DATE_APART if ticks[0][1][0].isdigit() and " " in ticks[0][1] else 7.4
    assert (np.diff(days) * 109.0 / span >= least).all()
    for day, text in ticks:
        when = first + timedelta(days=day)
        assert str(when.year) in text or when.strftime("%b") in text


def test_every_tick_of_the_lower_axis_is_named_and_none_of_the_upper() -> None:
    figure = beta_figure(history(), ORIGIN, title="Beta")
    figure.draw_without_rendering()
    upper, lower = (axes for axes in figure.axes if axes.get_label() != "sheet")
    shown = {text.get_text().strip() for text in texts(figure) if text.get_visible()}
    assert {"Feb", "Jan\n2027", "Jan\n2028"} <= shown
    assert [tick.label1.get_visible() for tick in lower.xaxis.get_major_ticks()] == [True] * 13
    assert not any(tick.label1.get_visible() for tick in upper.xaxis.get_major_ticks())


def test_a_history_of_unequal_lengths_is_refused() -> None:
    with pytest.raises(ValueError, match="for each day"):
        replace(history(), beta=np.zeros(3))
