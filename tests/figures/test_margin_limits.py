"""Rows of the margin plot for limits of their own: heat flows, energies, rates."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from matplotlib.figure import Figure

from tests.figures import invented
from tests.figures.pages import assert_legible, by_name, row_names, texts
from thermnet.figures.margin_plot import margin_figures


@cache
def with_limits() -> list[Figure]:
    return margin_figures(
        [
            *invented.small_probe(),
            invented.limit("thermal strap", "heat flow", 12.34, 10.0, verdict="outside band"),
            invented.limit("heat pipe", "heat flow", 3.0, 2.0, side="cold"),
            invented.limit("night", "energy", 7200.0, 10800.0),
            invented.limit("detector", "rate", 0.1 / 60.0, 0.5 / 60.0),
        ],
        invented.FOOT,
    )


def words_of(figure: Figure, name: str) -> str:
    """What the row of a limit says."""
    row = row_names(figure).index(name)
    (words,) = by_name(figure, f"row-{row}-limit") or by_name(figure, f"row-{row}-violation")
    return words


def test_limits_of_their_own_are_legible() -> None:
    for figure in with_limits():
        assert_legible(figure)


def test_every_limit_has_a_row_that_says_what_it_reaches_in_units_that_people_read() -> None:
    """Derived: 7200 J is 2 Wh, 10800 J is 3 Wh; 0.1 K in 60 s is 0.1 K/min."""
    (figure,) = with_limits()
    assert words_of(figure, "night") == "energy in shadow 2 Wh where 3 Wh is allowed (hot)"
    assert words_of(figure, "detector") == "rate 0.1 K/min where 0.5 K/min is allowed (hot)"


def test_a_least_heat_flow_says_that_it_is_needed() -> None:
    (figure,) = with_limits()
    assert words_of(figure, "heat pipe") == "heat flow 3 W where at least 2 W is needed (hot)"


def test_a_limit_that_does_not_hold_stands_in_white_on_black_with_those_outside() -> None:
    (figure,) = with_limits()
    row = row_names(figure).index("thermal strap")
    (words,) = [text for text in texts(figure) if text.get_gid() == f"row-{row}-violation"]
    assert words.get_text() == "heat flow 12.34 W where 10 W is allowed (hot)"
    assert words.get_color() == "1.0"
    assert row < row_names(figure).index("radio")


def test_the_worst_limit_is_told_by_its_share_where_units_differ() -> None:
    """Derived: 1 W over 10 W is less than 3600 J over 3600 J, whatever the names are."""
    strap = invented.limit("a strap", "heat flow", 11.0, 10.0, verdict="outside band")
    night = invented.limit("night", "energy", 7200.0, 3600.0, verdict="outside band")
    (figure,) = margin_figures([strap, night], invented.FOOT)
    title = " ".join(by_name(figure, "title"))
    worst = "night, energy in shadow 2 Wh where 1 Wh is allowed (hot)"
    assert title == f"0 of 2 hold. Worst: {worst}"


def test_a_limit_that_was_not_judged_is_listed_apart() -> None:
    never = replace(invented.limit("never", "rate", 0.0, 1.0), others=())
    (figure,) = margin_figures([*invented.small_probe(), never], invented.FOOT)
    assert "never" in row_names(figure)
    assert "Limits judged in none of these cases: 1" in by_name(figure, "heading")


def test_a_slide_counts_limits_that_it_leaves_out() -> None:
    spare = [invented.limit(f"limit {k}", "heat flow", 1.0, 2.0) for k in range(40)]
    (figure,) = margin_figures([*invented.fleet(5), *spare], invented.FOOT, compact=True)
    shown = row_names(figure)
    assert f"{45 - len(shown)} more hold." in " ".join(by_name(figure, "foot"))
