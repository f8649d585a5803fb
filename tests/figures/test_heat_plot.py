from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from tests.figures.pages import across, assert_legible, by_name, marks, texts, up
from tests.full import first_of
from thermnet.figures.heat_plot import HeatPanel, heat_figures, sink_words, total_heat
from thermnet.figures.style import Stamp

ORIGIN = Stamp(model="Heron microsatellite", case="hot", hash="3f2a9c81d07b", version="0.2.0")
PERIOD = 5677.0
ENTRY, EXIT = 1000.0, 3145.0
SHADOW = [(ENTRY, EXIT)]
FURTHER = ("free-molecular", "ground infrared", "sunlight from the ground", "fairing wall")


def surface(name: str, *, scale: float = 1.0, further: int = 0) -> HeatPanel:
    """A plate that follows the Sun: 60 W of sunlight outside shadow, and what the planet sends."""
    noon = np.linspace(0.0, PERIOD, 121)
    jumps = np.array([0.0, ENTRY, ENTRY, EXIT, EXIT, PERIOD])
    ends = np.array([0.0, PERIOD])
    heat = {
        "solar": (jumps, scale * np.array([60.0, 60.0, 0.0, 0.0, 60.0, 60.0])),
        "albedo": (noon, scale * 8.0 * np.maximum(np.cos(2.0 * np.pi * noon / PERIOD), 0.0)),
        "planet infrared": (ends, scale * np.array([15.0, 15.0])),
    }
    # Derived: a constant times its share of the orbit, and the mean of half a cosine, 1/pi.
    mean = {
        "solar": scale * 60.0 * (1.0 - (EXIT - ENTRY) / PERIOD),
        "albedo": scale * 8.0 / math.pi,
        "planet infrared": scale * 15.0,
    }
    for cause in FURTHER[:further]:
        heat[cause] = (ends, scale * np.array([2.0, 4.0]))
        mean[cause] = scale * 3.0
    return HeatPanel(name=name, area=0.25, heat=heat, mean=mean, sink=(230.15, 180.25, 301.0))


LONG = "a name that is much too long for the room there is over a panel of this width" * 2
NAMES = ("radiator +y", "solar array, cell side", LONG, "nadir deck", "telescope aperture")
SCALES = (1.0, 20.0, 0.01, 1e-4, 0.0)


def many(count: int, further: int = 0) -> list[HeatPanel]:
    return [
        surface(f"{NAMES[k % 5]} {k}", scale=SCALES[k % 5], further=further) for k in range(count)
    ]


def lines(figure: Figure, name: str) -> list[Line2D]:
    return [line for line in marks(figure, name) if isinstance(line, Line2D)]


def dashes(found: list[Line2D]) -> set[str]:
    return {str(vars(line)["_unscaled_dash_pattern"]) for line in found}


@pytest.mark.parametrize(("count", "further"), first_of([(5, 4), (1, 0), (5, 0), (20, 0)]))
def test_no_text_overlaps_and_none_is_too_small(count: int, further: int) -> None:
    title = "Heron microsatellite: hot, end of life, " * (1 if count < 20 else 4)
    for figure in heat_figures(many(count, further), ORIGIN, title=title, shadow=SHADOW):
        assert_legible(figure)


def test_every_surface_is_on_one_of_the_pages_in_the_order_given() -> None:
    pages = heat_figures(many(20), ORIGIN, title="Hot")
    order = [
        axes.get_label() for page in pages for axes in page.axes if axes.get_label() != "sheet"
    ]
    assert order == [panel.name for panel in many(20)]
    assert len(pages) == 3
    assert by_name(pages[1], "stamp")[0].startswith("page 2 of 3 · Heron microsatellite · hot")


def test_many_causes_give_taller_panels_and_so_more_pages() -> None:
    assert len(heat_figures(many(8), ORIGIN, title="Hot")) == 1
    assert len(heat_figures(many(8, further=4), ORIGIN, title="Hot")) == 2


def test_heat_is_drawn_in_watts_over_minutes_with_upright_steps_at_the_edges_of_shadow() -> None:
    (figure,) = heat_figures([surface("radiator")], ORIGIN, title="Hot", shadow=SHADOW)
    (curve,) = marks(figure, "heat solar")
    minutes = [0.0, ENTRY / 60.0, ENTRY / 60.0, EXIT / 60.0, EXIT / 60.0, PERIOD / 60.0]
    assert across(curve) == pytest.approx(minutes)
    assert up(curve) == pytest.approx([60.0, 60.0, 0.0, 0.0, 60.0, 60.0])
    assert by_name(figure, "time") == ["time [min]"]


def test_total_is_the_sum_of_all_causes_on_both_sides_of_a_jump() -> None:
    t, q = total_heat(surface("radiator"))
    at_entry = q[t == ENTRY]
    # Derived: the sunlight of 60 W goes; albedo at this instant, from the drawn straight pieces,
    # lies below its cosine by at most h^2/8 of it, with h = 2 pi / 120.
    albedo = 8.0 * math.cos(2.0 * math.pi * ENTRY / PERIOD)
    close = 8.0 * (2.0 * math.pi / 120.0) ** 2 / 8.0
    assert at_entry.max() == pytest.approx(60.0 + albedo + 15.0, abs=close)
    assert at_entry.min() == pytest.approx(albedo + 15.0, abs=close)
    assert q[0] == pytest.approx(60.0 + 8.0 + 15.0)
    assert (np.diff(t) >= 0.0).all()


def test_mean_of_the_drawn_total_is_the_sum_of_the_means_printed() -> None:
    panel = surface("radiator")
    t, q = total_heat(panel)
    drawn = float(np.sum(np.diff(t) * (q[1:] + q[:-1]) / 2.0)) / PERIOD
    # Trapezoids take a share of h^2 / 12 from the half cosine, h = 2 pi / 120; its corners lie on
    # instants 30 and 90. The rest is made of straight pieces.
    missed = 8.0 / math.pi * (2.0 * math.pi / 120.0) ** 2 / 12.0
    assert sum(panel.mean.values()) - drawn == pytest.approx(missed, rel=0.01)


def test_total_of_histories_that_begin_later_than_zero_begins_with_them() -> None:
    one = (np.array([100.0, 200.0]), np.array([1.0, 3.0]))
    panel = HeatPanel(
        name="plate", area=1.0, heat={"solar": one, "albedo": one}, mean={"solar": 2, "albedo": 2}
    )
    t, q = total_heat(panel)
    assert (t[0], t[-1]) == (100.0, 200.0)
    assert (q[0], q[-1]) == (2.0, 6.0)


def test_means_and_names_of_causes_stand_at_the_right_total_first_where_it_is_greatest() -> None:
    (figure,) = heat_figures([surface("radiator")], ORIGIN, title="Hot")
    labels = [text for text in texts(figure) if text.get_gid() == "panel-0-label"]
    means = [text for text in texts(figure) if text.get_gid() == "panel-0-mean"]
    names = {label.get_position()[1]: label.get_text() for label in labels}
    values = {mean.get_position()[1]: mean.get_text() for mean in means}
    # At the end, noon: 83 W in all, 60 W, 15 W and 8 W. Means derived: 60 x 3532/5677 = 37.33,
    # 15, 8/pi = 2.55, and their sum.
    assert [names[y] for y in sorted(names)] == ["total", "solar", "planet infrared", "albedo"]
    assert [values[y] for y in sorted(values)] == ["54.9", "37.3", "15.0", "2.5"]


def test_every_cause_has_a_line_of_its_own_beside_its_label_the_same_in_every_panel() -> None:
    panels = [surface("one"), surface("two", further=4)]
    (figure,) = heat_figures(panels, ORIGIN, title="Hot")
    causes = ("solar", "albedo", "planet infrared", *FURTHER)
    patterns = [dashes(lines(figure, f"key {cause}")) for cause in causes]
    assert patterns == [dashes(lines(figure, f"heat {cause}")) for cause in causes]
    assert [len(pattern) for pattern in patterns] == [1] * 7
    assert all(not one & other for one, other in itertools.combinations(patterns, 2))
    assert len(lines(figure, "key solar")) == 2


def test_total_is_told_from_a_single_cause_by_its_width_where_they_coincide() -> None:
    (figure,) = heat_figures([surface("plate")], ORIGIN, title="Hot")
    (total,), (solar,) = lines(figure, "key total"), lines(figure, "key solar")
    assert total.get_linewidth() > 2.0 * solar.get_linewidth()


def test_a_surface_with_one_cause_has_no_second_line_for_the_total() -> None:
    panel = surface("plate")
    alone = replace(panel, heat={"solar": panel.heat["solar"]}, mean={"solar": 37.3})
    (figure,) = heat_figures([alone], ORIGIN, title="Hot")
    assert marks(figure, "heat total") == []
    assert by_name(figure, "panel-0-label") == ["solar"]


def test_shadow_spans_every_panel_and_is_named_once() -> None:
    (figure,) = heat_figures(many(3), ORIGIN, title="Hot", shadow=SHADOW)
    assert len(marks(figure, "shadow")) == 3
    assert by_name(figure, "legend")[0] == "shadow"
    assert by_name(figure, "legend").count("shadow") == 1


def test_sink_temperature_is_printed_in_celsius_with_its_range() -> None:
    # Derived: 230.15 − 273.15 = −43.0, 180.25 − 273.15 = −92.9, 301 − 273.15 = 27.85.
    assert sink_words((230.15, 180.25, 301.25)) == "sink −43.0 °C (−92.9 to 28.1)"
    (figure,) = heat_figures([surface("radiator")], ORIGIN, title="Hot")
    assert by_name(figure, "sink") == [sink_words((230.15, 180.25, 301.0))]
    (without,) = heat_figures([replace(surface("radiator"), sink=None)], ORIGIN, title="Hot")
    assert by_name(without, "sink") == []
    assert "sink" not in by_name(without, "legend")[-1]


def test_means_of_small_heat_keep_three_figures() -> None:
    (figure,) = heat_figures([surface("aperture", scale=1e-4)], ORIGIN, title="Hot")
    # Derived as above, times 1e-4, to the decimals of the greatest: 0.00549 W.
    assert set(by_name(figure, "panel-0-mean")) == {"0.00549", "0.00373", "0.00150", "0.00025"}


def test_panels_share_one_time_axis_and_their_scales_begin_at_zero_or_below() -> None:
    (figure,) = heat_figures(many(5), ORIGIN, title="Hot")
    panels = [axes for axes in figure.axes if axes.get_label() != "sheet"]
    assert {axes.get_xlim() for axes in panels} == {(0.0, PERIOD / 60.0)}
    assert all(axes.get_ylim()[0] <= 0.0 < axes.get_ylim()[1] for axes in panels)


def test_what_cannot_be_drawn_is_refused_in_a_sentence() -> None:
    panel = surface("plate")
    with pytest.raises(ValueError, match="no surface"):
        heat_figures([], ORIGIN, title="Hot")
    with pytest.raises(ValueError, match="no cause of heat"):
        replace(panel, heat={}, mean={})
    with pytest.raises(ValueError, match="give both for each cause"):
        replace(panel, mean={"solar": 1.0})
    with pytest.raises(ValueError, match="drawn as the sum"):
        replace(panel, heat={"total": panel.heat["solar"]}, mean={"total": 1.0})
