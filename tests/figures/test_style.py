from __future__ import annotations

from pathlib import Path

import matplotlib as mpl
import pytest

from tests.figures import invented
from tests.figures.pages import assert_legible
from tests.full import first_of
from thermnet.figures import style
from thermnet.figures.margin_plot import margin_figures


@pytest.mark.parametrize("suffix", first_of([".png", ".svg", ".pdf"], keep=2))
def test_same_figure_gives_the_same_bytes(suffix: str, tmp_path: Path) -> None:
    radio = invented.fleet(5)[:1]
    one, other = (margin_figures(radio, invented.FOOT)[0] for _ in range(2))
    first = style.save(one, tmp_path / f"one{suffix}").read_bytes()
    assert first == style.save(other, tmp_path / f"other{suffix}").read_bytes()
    assert b"Date" not in first


def test_picture_has_at_least_200_dots_per_inch(tmp_path: Path) -> None:
    (figure,) = margin_figures(invented.fleet(5)[:1], invented.FOOT)
    path = style.save(figure, tmp_path / "margins.png")
    width = int.from_bytes(path.read_bytes()[16:20], "big")  # PNG specification: width in IHDR
    assert width >= 170.0 / 25.4 * 200.0


def test_unknown_suffix_names_the_ones_there_are(tmp_path: Path) -> None:
    (figure,) = margin_figures(invented.fleet(5)[:1], invented.FOOT)
    with pytest.raises(ValueError, match=r"\.png, \.svg or \.pdf"):
        style.save(figure, tmp_path / "margins.bmp")


def test_settings_of_the_user_are_neither_used_nor_changed() -> None:
    with mpl.rc_context({"font.size": 30.0, "text.parse_math": True}):
        with style.look():
            assert mpl.rcParams["font.size"] == style.BODY
        assert mpl.rcParams["font.size"] == 30.0


def test_rounding_to_zero_keeps_the_sign_of_a_violation() -> None:
    assert style.signed(-0.04) == "−0.0 K"
    assert style.signed(3.25) == "+3.2 K"


def test_wrapping_loses_no_word_while_there_is_room() -> None:
    text = "pressure transducer of the propellant feed line"
    lines = style.wrap(text, 36.0, 7.5, lines=3)
    assert " ".join(lines) == text
    assert all(style.text_width(line, 7.5) <= 36.0 for line in lines)


def test_shortening_leaves_both_ends() -> None:
    short = style.shorten("communication unit 21 blanket", 26.0, 7.0)
    assert short.startswith("comm")
    assert short.endswith("ket")
    assert style.text_width(short, 7.0) <= 26.0


def test_round_ticks_stand_off_the_ends() -> None:
    # Derived: 1 mm/K; 9 mm apart asks for steps of 10, of which 3 mm at each end stay free.
    assert style.round_ticks(-21.0, 42.0, 63.0, apart=9.0, edge=3.0) == [-10, 0, 10, 20, 30]


def test_overlapping_texts_are_found_by_the_check_that_all_figures_pass() -> None:
    with style.look():
        figure, sheet = style.page(100.0, 50.0)
        style.write(sheet, 10.0, 10.0, "star camera")
        style.write(sheet, 18.0, 11.0, "battery")
    with pytest.raises(AssertionError, match="overlap"):
        assert_legible(figure)


def test_lines_of_text_are_centred_on_their_height() -> None:
    with style.look():
        figure, sheet = style.page(100.0, 50.0)
        one = style.write(sheet, 10.0, 25.0, "Hxg")
        two = style.write(sheet, 50.0, 25.0, "Hxg\nHxg")
        figure.draw_without_rendering()
        middles = [text.get_window_extent().y0 + text.get_window_extent().y1 for text in (one, two)]
    assert middles[0] == pytest.approx(middles[1], abs=3.0)
    assert middles[0] / figure.bbox.y1 == pytest.approx(1.0, abs=0.03)
