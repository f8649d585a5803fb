from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import pytest
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from tests.figures import invented
from tests.figures.pages import (
    across,
    assert_legible,
    by_name,
    marks,
    row_names,
    temperature_axes,
    texts,
)
from tests.full import first_of
from thermnet.figures.margin_plot import margin_figures
from thermnet.figures.style import MM_PER_INCH
from thermnet.margins import Summary


@cache
def fleet(count: int) -> list[Figure]:
    return margin_figures(invented.fleet(count), invented.FOOT)


@cache
def mission(compact: bool = False, by_group: bool = False) -> list[Figure]:
    return margin_figures(invented.mission(), invented.FOOT, compact=compact, by_group=by_group)


@cache
def probe(compact: bool = False, by_group: bool = False) -> list[Figure]:
    return margin_figures(invented.small_probe(), invented.FOOT, compact=compact, by_group=by_group)


def one(summary: Summary) -> Figure:
    (figure,) = margin_figures([summary], invented.FOOT)
    return figure


@pytest.mark.parametrize("count", first_of([36, 5, 80]))
def test_no_text_overlaps_and_none_is_too_small(count: int) -> None:
    for figure in fleet(count):
        assert_legible(figure)


@pytest.mark.parametrize("compact", [False, True])
@pytest.mark.parametrize("by_group", first_of([True, False]))
def test_every_verdict_and_form_is_legible(compact: bool, by_group: bool) -> None:
    for figure in mission(compact, by_group) + probe(compact, by_group):
        assert_legible(figure)


def test_very_long_names_and_cases_are_legible() -> None:
    long = "redundant pressure transducer of the upper propellant feed line, bracket side"
    whole = invented.fleet(6)
    whole[4] = replace(whole[4], component=long)
    whole[5] = replace(whole[5], component="x" * 90)
    assert whole[0].hot is not None
    hot = replace(whole[0].hot, case="hot, end of life, one radiator lost, safe mode, transfer")
    whole[0] = replace(whole[0], hot=hot)
    for figure in margin_figures(whole, invented.FOOT):
        assert_legible(figure)


def test_title_is_the_verdict_with_the_worst_margin() -> None:
    # Derived: 50 °C limit - (48.2 °C calculated + 5 K allowance) = -3.2 K.
    (figure,) = fleet(36)
    title = " ".join(by_name(figure, "title"))
    assert title == "34 of 36 hold. Worst: star camera, hot side −3.2 K (hot, end of life)"


def test_page_is_170_mm_wide_and_holds_36_components() -> None:
    figures = fleet(36)
    assert len(figures) == 1
    width, height = (side * MM_PER_INCH for side in figures[0].get_size_inches())
    assert width == pytest.approx(170.0)
    assert height <= 257.0


def test_slide_is_landscape_and_counts_what_it_leaves_out() -> None:
    whole = invented.fleet(80)
    (figure,) = margin_figures(whole, invented.FOOT, compact=True)
    width, height = figure.get_size_inches()
    shown = row_names(figure)
    foot = " ".join(by_name(figure, "foot"))
    assert width / height == pytest.approx(16.0 / 9.0, rel=1e-3)
    assert "star camera" in shown
    assert "payload electronics" in shown
    assert f"{80 - len(shown)} more hold" in foot


def test_slides_never_leave_out_a_component_that_does_not_hold() -> None:
    failing = [
        invented.component(f"unit {k}", (0.0, 5.0), (40.0, 58.0), (-20.0, 50.0)) for k in range(30)
    ]
    figures = margin_figures(failing, invented.FOOT, compact=True)
    shown = [name for figure in figures for name in row_names(figure)]
    assert sorted(shown) == sorted(item.component for item in failing)


def test_no_page_has_more_than_40_rows_and_none_is_lost() -> None:
    whole = invented.fleet(80)
    pages = [row_names(figure) for figure in fleet(80)]
    assert max(len(names) for names in pages) <= 40
    assert sorted(name for names in pages for name in names) == sorted(
        item.component for item in whole
    )


def test_smallest_margin_stands_on_top_within_each_verdict() -> None:
    (figure,) = fleet(36)
    margins = {
        item.component: min(side.margin for side in (item.hot, item.cold) if side is not None)
        for item in invented.fleet(36)
    }
    found = [margins[name] for name in row_names(figure)]
    assert found == sorted(found)


def test_rules_and_headings_separate_the_verdicts() -> None:
    figures = mission()
    headings = [text for figure in figures for text in by_name(figure, "heading")]
    assert headings[:4] == [
        "Outside band: 1",
        "Allowance not covered: 2",
        "Not solved: 1",
        "Holds: 31",
    ]
    assert "No band stated: 2" in headings
    assert len(marks(figures[0], "rule")) == len(by_name(figures[0], "heading"))


def test_operating_band_is_an_open_rectangle_between_its_limits() -> None:
    figure = one(invented.component("radio", (-9.0, 2.0), (25.0, 36.0), (-20.0, 50.0)))
    (band,) = marks(figure, "-operating")
    assert isinstance(band, Rectangle)
    assert (band.get_x(), band.get_x() + band.get_width()) == pytest.approx((-20.0, 50.0))


def test_non_operating_band_is_a_line_beyond_the_operating_one_with_caps() -> None:
    figure = one(
        invented.component("radio", (-9.0, 2.0), (25.0, 36.0), (-20.0, 50.0), (-35.0, 60.0))
    )
    lines = sorted(across(line) for line in marks(figure, "non-operating"))
    caps = sorted(across(cap)[0] for cap in marks(figure, "-cap"))
    assert lines == [pytest.approx((-35.0, -20.0)), pytest.approx((50.0, 60.0))]
    assert caps == pytest.approx([-35.0, 60.0])


def test_bars_span_the_calculated_ranges_hot_grey_and_cold_hatched() -> None:
    figure = one(invented.component("radio", (-9.0, 2.0), (25.0, 36.0), (-20.0, 50.0)))
    (hot,), (cold,) = marks(figure, "-hot-cases"), marks(figure, "-cold-cases")
    assert isinstance(hot, Rectangle)
    assert isinstance(cold, Rectangle)
    assert (hot.get_x(), hot.get_x() + hot.get_width()) == pytest.approx((25.0, 36.0))
    assert (cold.get_x(), cold.get_x() + cold.get_width()) == pytest.approx((-9.0, 2.0))
    assert hot.get_hatch() is None
    assert cold.get_hatch()


def test_stem_leads_from_the_calculated_to_the_predicted_end() -> None:
    figure = one(invented.component("radio", (-9.0, 2.0), (25.0, 36.0), (-20.0, 50.0)))
    for name, ends in (("-hot-allowance", (36.0, 41.0)), ("-cold-allowance", (-9.0, -14.0))):
        (stem,) = marks(figure, name)
        assert across(stem) == pytest.approx(ends)


def test_end_held_by_a_heater_has_a_square_and_its_duty_and_no_stem() -> None:
    battery = invented.component(
        "battery", (9.6, 13.2), (18.0, 27.4), (0.0, 35.0), held_by="battery heater", duty=0.62
    )
    figure = one(battery)
    (square,) = marks(figure, "-cold-held")
    assert isinstance(square, Line2D)
    assert square.get_marker() == "s"
    assert across(square)[0] == pytest.approx(9.6)
    assert by_name(figure, "row-0-cold-held") == ["held 62 %"]
    assert marks(figure, "-cold-allowance") == []


def test_violation_is_a_thick_line_from_the_limit_ending_in_a_cross_with_words_on_black() -> None:
    figure = one(invented.component("camera", (0.0, 5.0), (30.0, 52.5), (-20.0, 50.0)))
    (excess,), (cross,) = marks(figure, "-hot-excess"), marks(figure, "-hot-cross")
    # Derived: predicted 52.5 + 5 = 57.5 °C against 50 °C.
    assert across(excess) == pytest.approx((50.0, 57.5))
    assert across(cross)[0] == pytest.approx(57.5)
    (words,) = [text for text in texts(figure) if str(text.get_gid()) == "row-0-hot-violation"]
    patch = words.get_bbox_patch()
    assert words.get_text() == "outside by 7.5 K"
    assert patch is not None
    assert patch.get_facecolor()[:3] == (0.0, 0.0, 0.0)


def test_uncovered_allowance_has_no_cross_and_says_what_is_missing() -> None:
    figure = one(invented.component("camera", (0.0, 5.0), (30.0, 48.2), (-20.0, 50.0)))
    assert marks(figure, "-hot-cross") == []
    assert by_name(figure, "row-0-hot-violation") == ["short by 3.2 K"]


def test_columns_give_signed_kelvin_with_the_smaller_in_bold() -> None:
    figure = one(invented.component("radio", (-9.0, 2.0), (25.0, 36.0), (-20.0, 50.0)))
    found = {text.get_gid(): text for text in texts(figure)}
    # Derived: -9 - 5 + 20 = 6 K; 50 - 36 - 5 = 9 K.
    cold, hot = found["row-0-cold"], found["row-0-hot"]
    assert (cold.get_text(), hot.get_text()) == ("+6.0 K", "+9.0 K")
    assert (cold.get_fontweight(), hot.get_fontweight()) == ("bold", "normal")


def test_short_case_names_stand_in_every_row() -> None:
    (figure,) = probe()
    cases = [text.get_text() for text in texts(figure) if str(text.get_gid()).endswith("-hot-case")]
    assert by_name(figure, "column-case") == []
    assert len(cases) == len(invented.small_probe())


def test_long_usual_case_stands_in_the_head_and_others_in_their_rows() -> None:
    whole = invented.fleet(6)
    assert whole[3].hot is not None
    whole[3] = replace(whole[3], hot=replace(whole[3].hot, case="safe mode"))
    (figure,) = margin_figures(whole, invented.FOOT)
    named = [text.get_text() for text in texts(figure) if str(text.get_gid()).endswith("-hot-case")]
    assert "hot, end of life" in by_name(figure, "column-case")
    assert [" ".join(name.split()) for name in named] == ["safe mode"]


def test_cryogenic_detector_and_furnace_get_axes_of_their_own() -> None:
    (figure,) = probe()
    labels = [axes.get_label() for axes in temperature_axes(figure)]
    assert sorted(map(str, labels)) == [
        "temperature axis",
        "temperature axis very cold",
        "temperature axis very hot",
        "temperature axis wide-ranging",
    ]


def test_common_axis_is_not_stretched_by_items_that_have_their_own() -> None:
    (figure,) = probe()
    common = next(
        axes for axes in temperature_axes(figure) if axes.get_label() == "temperature axis"
    )
    low, high = common.get_xlim()
    assert -100.0 < low < high < 100.0


def test_component_whose_other_limit_fails_does_not_count_as_holding() -> None:
    probe = [item for item in invented.small_probe() if item.component == "mirror mount"]
    (figure,) = margin_figures(probe, invented.FOOT)
    assert " ".join(by_name(figure, "title")) == (
        "0 of 1 hold. Worst: mirror mount, difference to bench 6.2 K where 5 K is allowed (hot)"
    )
    assert by_name(figure, "row-1-violation") == ["6.2 K where 5 K is allowed (hot)"]
    assert row_names(figure) == ["mirror mount", "– difference to bench"]


def test_unsolved_side_is_named_and_never_counts_as_holding() -> None:
    (figure,) = margin_figures([invented.not_solved("valve")], invented.FOOT)
    assert by_name(figure, "title") == ["0 of 1 hold, 1 not solved"]
    assert by_name(figure, "row-0-cold") == ["not solved"]


def test_component_without_band_is_listed_as_such_at_the_end() -> None:
    whole = [invented.without_band("bus panel"), *invented.fleet(5)]
    (figure,) = margin_figures(whole, invented.FOOT)
    assert row_names(figure)[-1] == "bus panel"
    assert by_name(figure, "row-5-hot") == ["no band"]
    assert by_name(figure, "title")[0].startswith("3 of 5 hold")


def test_groups_are_headed_by_their_name_and_count() -> None:
    figures = mission(by_group=True)
    headings = [text for figure in figures for text in by_name(figure, "heading")]
    assert headings[0] == "attitude: 5 of 7 hold"


def test_foot_states_policy_voltage_and_hash() -> None:
    (figure,) = fleet(5)
    foot = " ".join(by_name(figure, "foot"))
    (stamp,) = by_name(figure, "stamp")
    assert "Allowance: 5 K flat, both sides." in foot
    assert "Bus voltage: 24 V to 32 V." in foot
    assert "hash 3f2a9c81d07b" in stamp
    assert "Heron microsatellite" in stamp
    assert "thermnet 0.1.0" in stamp


def test_nothing_to_plot_is_an_error() -> None:
    with pytest.raises(ValueError, match="no components"):
        margin_figures([], invented.FOOT)


def test_heater_beyond_its_allowed_duty_is_framed_and_named_in_the_title() -> None:
    tank = invented.component(
        "tank", (11.0, 14.0), (17.0, 26.0), (8.0, 40.0), held_by="tank heater", duty=0.92
    )
    assert tank.cold is not None
    figure = one(replace(tank, cold=replace(tank.cold, verdict="allowance not covered")))
    (words,) = [text for text in texts(figure) if text.get_gid() == "row-0-cold-held"]
    patch = words.get_bbox_patch()
    assert words.get_text() == "held 92 % > 80 %"
    assert patch is not None
    assert patch.get_edgecolor()[:3] == (0.0, 0.0, 0.0)
    assert by_name(figure, "title")[-1] == (
        "Worst: tank, cold side held 92 % > 80 % (cold, beginning of life)"
    )


def test_side_without_limit_is_open_and_says_so() -> None:
    radio = invented.component("radio", (-9.0, 2.0), (25.0, 36.0), (-20.0, math.inf))
    figure = one(radio)
    (band,) = marks(figure, "-operating")
    assert isinstance(band, Rectangle)
    assert band.get_x() + band.get_width() > temperature_axes(figure)[0].get_xlim()[1]
    assert by_name(figure, "row-0-hot") == ["no limit"]
    assert_legible(figure)


@pytest.mark.parametrize("compact", [False, True])
def test_usual_case_stands_whole_in_the_head_of_its_column(compact: bool) -> None:
    heads = by_name(mission(compact)[0], "column-case")
    assert " ".join(sorted(heads)).count("…") == 0


@pytest.mark.parametrize("compact", [False, True])
def test_long_policy_stands_whole_at_the_foot(compact: bool) -> None:
    policy = "SMC-S-016, not balance tested; held items: heater duty up to 80 %, " * 2
    foot = replace(invented.FOOT, policy=policy.strip(", "))
    for figure in margin_figures(invented.small_probe(), foot, compact=compact):
        assert policy.strip(", ") in " ".join(by_name(figure, "foot"))
        assert_legible(figure)


def test_the_words_beside_an_axis_of_its_own_are_not_cut() -> None:
    short = [
        invented.component(name, (5.0, 9.0), (20.0, 30.0), (-10.0, 45.0)) for name in ("a", "b")
    ]
    array = invented.component("c", (-148.0, 20.0), (-110.0, 104.0), (-165.0, 125.0))
    (figure,) = margin_figures([*short, array], invented.FOOT)
    assert "wide-ranging items, °C" in [text.get_text() for text in texts(figure)]


def test_cases_of_few_letters_are_not_cut() -> None:
    made = invented.component("bus", (5.0, 9.0), (20.0, 30.0), (-10.0, 45.0))
    assert made.cold is not None
    for case in ("standby", "safe", "hot orbit", "imaging"):
        figure = one(replace(made, cold=replace(made.cold, case=case)))
        assert by_name(figure, "row-0-cold-case") == [case]
