"""Materials of blankets, judged as components are: where, against what, and with what margin."""

from __future__ import annotations

import pytest

from tests.small_models import celsius, model_of, solved
from thermnet.errors import InputError
from thermnet.margins import Margin, margins, summaries
from thermnet.model.paths import apply_case
from thermnet.model.usable import components, problems_of_materials, unjudged, usable
from thermnet.results import solve_cases

OUTER, LAYERS = "tank blanket, outer layer", "tank blanket, layers"

# The wall of the tank is imposed by a strong link; the face by another: both are known.
MODEL = """
thermnet: 1
temperatures: degC
uncertainty: {policy: flat, allowance: 5 K}
nodes:
  tank: {capacity: 1000 J/K, initial: 30}
  face: {massless: true}
boundaries:
  inside: {temperature: 30}
  outside: {temperature: 140}
links:
  tank: {from: tank, to: inside, conductance: 1e6 W/K}
  face: {from: face, to: outside, conductance: 1e6 W/K}
blankets:
  tank:
    from: tank
    to: face
    area: 1 m2
    effective_emittance: 0.02
    made_of: {MADE_OF}
cases:
  case: {solve: steady}
"""


def text(made_of: str) -> str:
    return MODEL.replace("MADE_OF", made_of)


def judged(made_of: str, more: str = "") -> dict[tuple[str, str], Margin]:
    found = margins(solved(text(made_of) + more))
    return {(each.component, each.side): each for each in found}


# Where each is judged, and against what


def test_the_outer_layer_is_held_against_the_outer_face() -> None:
    """140 degC and 5 K of allowance, against 250 degC for polyimide."""
    found = judged("outer: polyimide film")
    hot = found[OUTER, "hot"]
    assert (hot.node, hot.band, hot.group, hot.level) == ("face", "usable", "blankets", "design")
    assert hot.margin == pytest.approx(250.0 - 145.0, abs=1e-3)
    assert hot.verdict == "holds"


def test_layers_are_held_against_the_worse_of_both_faces() -> None:
    """Polyester from -250 to 120 degC: too hot at the face, coldest at the tank."""
    found = judged("layers: polyester film")
    hot, cold = found[LAYERS, "hot"], found[LAYERS, "cold"]
    assert (hot.node, hot.verdict) == ("face", "outside band")
    assert hot.clearance == pytest.approx(-20.0, abs=1e-3)
    assert (cold.node, cold.verdict) == ("tank", "holds")
    assert cold.margin == pytest.approx(25.0 + 250.0, abs=1e-3)


def test_a_cover_and_the_separators_are_judged_by_themselves() -> None:
    found = judged("cover: glass cloth with fluoropolymer, separators: polyester net")
    assert {name for name, _ in found} == {"tank blanket, cover", "tank blanket, separators"}
    assert found["tank blanket, cover", "hot"].node == "face"


def test_the_limit_of_a_short_time_counts_only_where_it_is_asked_for() -> None:
    long = judged("outer: polyimide film")
    short = judged("outer: polyimide film, short_time: true")
    assert celsius(long[OUTER, "hot"].limit) == pytest.approx(250.0)
    assert celsius(short[OUTER, "hot"].limit) == pytest.approx(400.0)


def test_without_a_limit_of_a_short_time_that_for_long_counts() -> None:
    found = judged("layers: polyester film, short_time: true")
    assert celsius(found[LAYERS, "hot"].limit) == pytest.approx(120.0)


def test_an_imposed_covered_face_is_judged_like_a_node() -> None:
    """500 degC behind polyester, which bears 120: the film that touches it does not hold."""
    hot = text("layers: polyester film").replace(
        "inside: {temperature: 30}", "inside: {temperature: 500}"
    )
    hot = hot.replace("    from: tank\n", "    from: inside\n")
    found = {(each.component, each.side): each for each in margins(solved(hot))}[LAYERS, "hot"]
    assert (found.node, found.verdict) == ("inside", "outside band")
    assert found.clearance == pytest.approx(120.0 - 500.0)


def test_an_imposed_outer_face_is_judged_like_a_node() -> None:
    onto = text("outer: polyimide film").replace("to: face\n    area", "to: outside\n    area")
    found = {(each.component, each.side): each for each in margins(solved(onto))}[OUTER, "hot"]
    assert found.node == "outside"
    assert found.margin == pytest.approx(250.0 - 145.0)


def test_the_swing_of_an_imposed_face_is_judged_at_its_peak() -> None:
    swinging = (
        text("layers: polyester film")
        .replace(
            "inside: {temperature: 30}", "inside: {temperature: 30, swing: 80 K, schedule: swing}"
        )
        .replace("case: {solve: steady}", "case: {solve: repeating, period: 100 s}")
    )
    swinging = swinging.replace("    from: tank\n", "    from: inside\n")
    swinging = swinging.replace("outside: {temperature: 140}", "outside: {temperature: 20}")
    swinging += "schedules: {swing: {time: [0 s, 43 s, 100 s], value: [0, 1, 0], period: 100 s}}\n"
    found = {(each.component, each.side): each for each in margins(solved(swinging))}
    hot = found[LAYERS, "hot"]
    assert celsius(hot.calculated) == pytest.approx(110.0)
    assert hot.node == "inside"
    assert hot.instant == pytest.approx(43.0)


@pytest.mark.parametrize(
    "seen", ["", "surfaces: {lid: {node: tank, area: 1 m2, emittance: 0.8, to: outside}}\n"]
)
def test_a_sink_is_no_face_and_what_leads_to_it_is_told_as_not_judged(seen: str) -> None:
    """Neither of deep space, nor of a chamber whose walls surfaces see, is a film as cold as it."""
    sink = "outside" if seen else "space"
    onto = text("outer: polyimide film, layers: polyester film").replace(
        "to: face\n", f"to: {sink}\n"
    )
    model = model_of(
        onto.replace("boundaries:\n", "boundaries:\n  space: {temperature: -270}\n") + seen
    )
    assert usable(model) == {}
    told = [(each.path, each.severity) for each in unjudged(model)]
    assert told == [
        ("blankets.tank.made_of.outer", "warning"), ("blankets.tank.made_of.layers", "warning")
    ]  # fmt: skip


def test_of_judged_materials_nothing_is_told() -> None:
    assert not list(unjudged(model_of(text("outer: polyimide film, layers: polyester film"))))


def test_a_material_of_the_model_is_judged_by_its_own_temperatures() -> None:
    found = judged("outer: mica", "materials: {mica: {lowest: -100, highest: 142}}\n")
    hot = found[OUTER, "hot"]
    assert hot.verdict == "allowance not covered"
    assert hot.margin == pytest.approx(-3.0, abs=1e-3)


def test_a_blanket_that_says_nothing_of_materials_adds_nothing() -> None:
    model = model_of(MODEL.replace("    made_of: {MADE_OF}\n", ""))
    assert usable(model) == {}
    assert components(model) == {}


def test_what_is_judged_says_where_its_limits_come_from() -> None:
    assert "ESA list of preferred materials" in (
        usable(model_of(text("outer: fluorinated polymer film")))[OUTER].note
    )


# In every case of a transient


def test_the_hottest_instant_governs_over_all_of_a_case() -> None:
    transient = (
        text("outer: polyimide film")
        .replace(
            "outside: {temperature: 140}",
            "outside: {temperature: 140, swing: 1 K, schedule: swing}",
        )
        .replace(
            "case: {solve: steady}", "case: {solve: transient, duration: 100 s, initial: given}"
        )
        + "schedules: {swing: {time: [0 s, 40 s, 60 s], value: [0, 90, -20]}}\n"
    )
    found = {(each.component, each.side): each for each in margins(solved(transient))}
    hot = found[OUTER, "hot"]
    assert celsius(hot.calculated) == pytest.approx(230.0, abs=1e-2)
    assert hot.instant == pytest.approx(40.0)


# In summaries


def test_a_material_that_only_one_case_names_is_in_the_summary() -> None:
    model = model_of(text("outer: polyimide film") + """
  covered:
    solve: steady
    set: {blankets.tank.made_of.cover: polyester film}
""")  # fmt: skip
    rows = {row.component: row for row in summaries(solve_cases(model))}
    cover = rows["tank blanket, cover"]
    assert cover.hot is not None
    assert (cover.hot.case, cover.hot.verdict) == ("covered", "outside band")
    assert [each.case for each in cover.ranges] == ["covered"]
    assert rows[OUTER].bands["usable"] == pytest.approx((4.15, 523.15))


# What is refused


def test_a_component_may_not_bear_the_name_of_a_material_that_is_judged() -> None:
    clash = text("outer: polyimide film") + f"components: {{'{OUTER}': {{at: tank}}}}\n"
    clash = clash.replace("cases:\n  case: {solve: steady}\n", "")
    (problem,) = problems_of_materials(model_of(clash))
    assert problem.path == "blankets.tank.made_of.outer"
    assert f"'{OUTER}', which a component has" in problem.message


def test_a_new_material_without_an_end_is_told_by_its_path() -> None:
    lacking = text("outer: mica") + "materials: {mica: {highest: 142}}\n"
    lacking = lacking.replace("cases:\n  case: {solve: steady}\n", "")
    with pytest.raises(InputError, match="needs `lowest`") as caught:
        usable(model_of(lacking))
    assert caught.value.problems[0].place is not None


def test_materials_are_judged_as_the_case_has_them() -> None:
    model = model_of(text("outer: polyimide film").replace(
        "case: {solve: steady}",
        "case: {solve: steady, set: {blankets.tank.made_of.outer: polyester film}}",
    ))  # fmt: skip
    assert usable(apply_case(model, "case"))[OUTER].note.startswith("polyester film: ")
