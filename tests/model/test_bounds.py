"""Cases that are solved at both bounds of their blankets."""

from __future__ import annotations

from pathlib import Path

import pytest

import thermnet as tn
from thermnet.cli.main import main
from thermnet.errors import InputError, nearest
from thermnet.margins import summaries
from thermnet.model.bounds import BOUNDS
from thermnet.model.read import parse
from thermnet.saved import open_result, save

MODEL = """
thermnet: 1
temperatures: degC
uncertainty: {policy: flat, allowance: 5 K}
nodes:
  box: {capacity: 2000 J/K, initial: 20}
  face: {massless: true}
boundaries: {space: {temperature: 2.7 K}}
blankets:
  box: {from: box, to: face, area: 1 m2, effective_emittance: 0.02, low: 0.01, high: 0.04}
surfaces:
  face: {node: face, area: 1 m2, emittance: 0.8, absorbed: {solar: {heat: 0 W}}}
  radiator: {node: box, area: 0.05 m2, emittance: 0.8}
loads: {box: {node: box, heat: 15 W}}
components: {box: {at: box, operating: [-60, 60]}}
cases:
"""

BOTH = MODEL + "  hot: {solve: steady, kind: hot, title: warm, blankets: both}\n"


def model(text: str) -> tn.Model:
    return parse({"m.yaml": text}, "m.yaml")


def box(result: tn.Result) -> float:
    return float(result.of("box")[-1])


def test_a_case_sets_which_bound_of_every_blanket_is_used() -> None:
    first = "  hot: {solve: steady, blankets: low}\n"
    text = MODEL + first + "  cold: {solve: steady, blankets: high}\n"
    hot, cold = tn.solve_cases(model(text))
    by_hand = tn.solve(tn.vary(model(text), {"blankets.box.use": "high"}), "hot")
    assert box(hot) > box(cold)
    assert box(by_hand) == pytest.approx(box(cold), abs=1e-9)


def test_both_bounds_are_two_cases_and_the_margins_name_the_one_that_governs() -> None:
    loaded = model(BOTH)
    assert loaded.cases == ("hot, blankets low", "hot, blankets high")
    results = tn.solve_cases(loaded)
    (row,) = summaries(results)
    assert row.hot is not None
    assert row.cold is not None
    assert row.hot.case == "hot, blankets low"  # heat that cannot get out
    assert row.cold.case == "hot, blankets high"


def test_which_bound_is_the_worse_hangs_on_the_sun() -> None:
    # A face that the Sun keeps warmer than the box: the better blanket is then the colder one.
    sunny = tn.vary(model(BOTH), {"surfaces.face.absorbed.solar.heat": 900.0})
    low, high = tn.solve_cases(sunny)
    assert box(high) > box(low)


def test_the_two_cases_inherit_title_kind_and_what_extends_them() -> None:
    loaded = model(BOTH + "  later: {extends: hot, set: {loads.box.heat: 20 W}}\n")
    assert loaded.cases[2:] == ("later, blankets low", "later, blankets high")
    low, _, later, _ = tn.solve_cases(loaded)
    assert (low.plan.title, low.plan.kind) == ("warm, blankets low", "hot")
    assert box(later) > box(low)


def test_two_cases_that_would_be_alike_are_refused() -> None:
    text = BOTH + "  alike: {extends: hot, set: {blankets.*.use: nominal}}\n"
    with pytest.raises(InputError, match="makes two that are alike"):
        model(text)
    with pytest.raises(InputError, match="change them one by one"):
        tn.vary(model(BOTH), {"blankets.*.use": "nominal"})


def test_a_model_without_blankets_has_no_bounds_of_them() -> None:
    text = MODEL.replace("  box: {from: box, to: face, area: 1 m2, effective_emittance: 0.02", "#")
    links = "links: {face: {from: box, to: face, conductance: 1 W/K}}\n"
    text = text.replace("blankets:\n", links) + "  hot: {solve: steady, blankets: high}\n"
    with pytest.raises(InputError, match=r"cases.hot.blankets: the model has no blankets"):
        model(text)


def test_the_values_of_a_case_stand_above_its_bounds_as_with_one_bound() -> None:
    values = "set: {blankets.box.use: nominal}"
    own = f"  hot: {{solve: steady, blankets: both, {values}}}\n"
    below = "  base: {solve: steady, blankets: both}\n" + f"  hot: {{extends: base, {values}}}\n"
    plain = box(tn.solve(model(MODEL + "  hot: {solve: steady}\n"), "hot"))
    for text in (own, below):
        found = [box(tn.solve(model(MODEL + text), f"hot, blankets {each}")) for each in BOUNDS]
        assert found == pytest.approx([plain, plain], abs=1e-9)


def test_a_case_that_extends_one_at_both_bounds_stands_above_it() -> None:
    text = BOTH + "  calm: {extends: hot, blankets: nominal}\n"
    assert model(text).cases[2:] == ("calm",)
    low, high, calm = tn.solve_cases(model(text))
    assert box(high) < box(calm) < box(low)


def test_a_case_after_one_at_both_bounds_starts_after_that_of_its_own_bound() -> None:
    text = BOTH + "  cooling: {solve: transient, duration: 1 h, after: hot, blankets: both}\n"
    low, high, after_low, after_high = tn.solve_cases(model(text))
    for before, after in ((low, after_low), (high, after_high)):
        assert float(after.of("box")[0]) == pytest.approx(box(before), abs=1e-9)


def test_a_case_of_one_bound_starts_after_that_one() -> None:
    text = BOTH + "  cooling: {solve: transient, duration: 1 h, after: hot, blankets: high}\n"
    _, high, after = tn.solve_cases(model(text))
    assert float(after.of("box")[0]) == pytest.approx(box(high), abs=1e-9)


def test_a_case_that_decides_on_no_bound_cannot_start_after_both() -> None:
    text = BOTH + "  cooling: {solve: transient, duration: 1 h, after: hot}\n"
    with pytest.raises(InputError, match="say of this case too whether"):
        model(text)


def test_a_name_that_is_taken_is_refused_at_its_place() -> None:
    with pytest.raises(InputError, match=r"m.yaml:18.*makes a case of this name"):
        model(BOTH + "  hot, blankets low: {solve: steady}\n")


def test_a_blanket_without_the_bound_is_an_error_that_names_the_case() -> None:
    text = BOTH.replace(", low: 0.01", "")
    with pytest.raises(InputError, match="states no 'low' bound") as caught:
        model(text)
    (problem,) = caught.value.problems
    assert problem.path == "cases.hot.blankets"
    assert str(problem.place).startswith("m.yaml:17:")


def test_the_command_line_takes_the_name_of_the_case_for_both(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "m.yaml"
    file.write_text(BOTH, encoding="utf-8")
    assert main(["margins", str(file), "--case", "hot", "--all"]) == 0
    printed = capsys.readouterr().out
    assert "hot, blankets low" in printed
    assert "hot, blankets high" in printed


def test_names_that_hold_commas_are_told_apart() -> None:
    assert nearest("x", ("hot, blankets low", "cold")).endswith(": hot, blankets low; cold")
    assert nearest("x", ("hot", "cold")).endswith(": hot, cold")


def test_what_a_case_leaves_as_it_is_is_no_change(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "m.yaml"
    file.write_text(BOTH + "  calm: {extends: hot, blankets: nominal}\n", encoding="utf-8")
    assert main(["check", str(file), "--case", "calm"]) == 0
    assert "nominal -> nominal" not in capsys.readouterr().out


def test_results_of_both_bounds_are_saved_and_opened(tmp_path: Path) -> None:
    for result in tn.solve_cases(model(BOTH)):
        again = open_result(save(result, tmp_path / f"{result.case}.nc"))
        assert again.case == result.case
        assert box(again) == box(result)


def test_python_is_told_which_two_names_there_are() -> None:
    with pytest.raises(InputError, match="name 'hot, blankets low' or 'hot, blankets high'"):
        tn.solve(model(BOTH), "hot")
