"""Blankets term by term: what becomes of each key, and how the terms work together."""

from __future__ import annotations

from typing import Any

import pytest

from tests.model.blanketed import FOLDED, IDEAL, NET, SPOILT, model, network, through
from thermnet.errors import InputError
from thermnet.model.assemble import assemble, surroundings
from thermnet.model.kinds.blanket_entry import Blanket
from thermnet.model.kinds.blanket_practice import slips, unusual
from thermnet.model.kinds.blanket_term import Term
from thermnet.model.kinds.blanket_terms import terms
from thermnet.model.paths import apply_case, vary
from thermnet.model.plan import plan

SIGMA = 5.670374419e-8  # W m-2 K-4, CODATA 2018 (exact since 2019)


def told(body: str, bound: str = "nominal", **more: Any) -> str:
    """What is said of a blanket that does not fit."""
    with pytest.raises(InputError) as caught:
        network(body, bound, **more)
    return str(caught.value)


def found_terms(body: str, area: float = 1.5) -> tuple[Blanket, tuple[Term, ...]]:
    applied = apply_case(vary(model(body), {"blankets.tank.area": area}), "case")
    entry = applied.entries(Blanket, "blankets")["tank"]
    around = surroundings(applied, plan(applied, "case"))
    return entry, terms(entry, "blankets.tank", around)


def test_a_stated_emittance_keeps_the_path_of_the_blanket() -> None:
    stated = through(network("effective_emittance: 0.02"))
    assert stated == pytest.approx({"": SIGMA * 1.5 * 0.02 * (300.0**4 - 200.0**4)})


def test_a_blanket_leads_to_its_outer_face_and_to_nothing_else() -> None:
    assembled = network(f"{FOLDED}, {SPOILT}")
    ends = {
        (assembled.names[a], assembled.names[b])
        for a, b, origin in zip(
            assembled.links.a, assembled.links.b, assembled.links.origin, strict=True
        )
        if assembled.origins[origin].startswith("blankets.")
        and "openings" not in assembled.origins[origin]
    }
    assert ends == {("tank", "face")}


def test_every_term_has_its_own_path() -> None:
    assert set(through(network(f"{FOLDED}, {SPOILT}"))) == {
        "layers.separator",
        "layers.radiation",
        "layers.compressed.folds",
        "seams.rim",
        "fixings.pins",
        "openings.vent",
    }


def test_an_ideal_stack_of_two_sided_layers_is_n_plus_one_gaps_in_series() -> None:
    body = "layers: {count: 10, emittance: 0.03, other_side: 0.1, covered: 0.8, outer: 0.5}"
    gaps = (1 / 0.8 + 1 / 0.03 - 1) + 9 * (1 / 0.1 + 1 / 0.03 - 1) + (1 / 0.1 + 1 / 0.5 - 1)
    expected = SIGMA * 1.5 * (300.0**4 - 200.0**4) / gaps
    assert through(network(body)) == pytest.approx({"layers": expected})


def test_covered_surface_and_outer_layer_are_by_default_as_the_layers() -> None:
    body = "layers: {count: 10, emittance: 0.03, other_side: 0.1}"
    expected = SIGMA * 1.5 * (300.0**4 - 200.0**4) / (11 * (1 / 0.1 + 1 / 0.03 - 1))
    assert through(network(body)) == pytest.approx({"layers": expected})


def test_a_thickness_stands_for_a_density() -> None:
    by_thickness = NET.replace("density: 2000 1/m", "thickness: 1 cm")
    assert through(network(by_thickness)) == pytest.approx(through(network(NET)))


def test_an_emittance_stands_for_that_of_the_formula() -> None:
    other = through(network(NET.replace("silk net", "silk net, emittance: 0.062")))
    formula = through(network(NET))
    assert other["layers.radiation"] == pytest.approx(2.0 * formula["layers.radiation"])
    assert other["layers.separator"] == formula["layers.separator"]


def test_compressed_layers_conduct_more_and_radiate_as_before() -> None:
    plain, folded = through(network(NET)), through(network(FOLDED))
    assert folded["layers.separator"] == pytest.approx(0.9 * plain["layers.separator"])
    assert folded["layers.radiation"] == pytest.approx(0.9 * plain["layers.radiation"])
    expected = 0.1 * (2.0**2.56 * plain["layers.separator"] + plain["layers.radiation"])
    assert folded["layers.compressed.folds"] == pytest.approx(expected)


def test_openings_take_their_area_from_the_layers_and_pass_the_outer_face() -> None:
    body = f"{NET}, openings: {{vent: {{area: 0.3 m2, emittance: 0.9}}, slit: {{share: 0.1}}}}"
    plain, opened = through(network(NET)), through(network(body))
    # 0.3 of 1.5 m2 is a share of 0.2
    assert opened["layers.separator"] == pytest.approx(0.7 * plain["layers.separator"])
    assert opened["openings.vent"] == pytest.approx(SIGMA * 0.3 * 0.9 * (300.0**4 - 2.7**4))
    assert opened["openings.slit"] == pytest.approx(SIGMA * 0.15 * (300.0**4 - 2.7**4))


def test_gas_between_the_layers_needs_to_know_the_layers() -> None:
    nothing = told("effective_emittance: 0.02", pressure="1 Pa")
    assert "state the `count` and the `density` or `thickness` of its `layers`" in nothing
    assert "state the `density` or `thickness`" in told(IDEAL, pressure="1 Pa")


@pytest.mark.parametrize("bound", ["low", "high"])
def test_bounds_and_factor_leave_the_gas_alone(bound: str) -> None:
    plain = through(network(NET, pressure="1 Pa"))
    body = f"{NET}, factor: 2, bounds: {{low: 0.5, high: 2}}"
    assert through(network(body, bound, pressure="1 Pa"))["gas"] == plain["gas"] > 0.0


@pytest.mark.parametrize("form", [IDEAL, FOLDED, "effective_emittance: 0.02"])
def test_a_scale_multiplies_every_term_but_the_gas(form: str) -> None:
    body = f"{form}, {SPOILT}, bounds: {{low: 0.5, high: 2}}"
    gas = "" if "effective" in form or "density" not in form else "1 Pa"
    bound = "nominal" if "effective" in form else "high"
    plain = through(network(body, bound, pressure=gas))
    for term, heat in through(network(f"{body}, scale: 3", bound, pressure=gas)).items():
        assert heat == pytest.approx(plain[term] * (1.0 if term == "gas" else 3.0)), term


def test_no_gas_leads_heat_through_an_opening() -> None:
    plain = through(network(NET, pressure="1 Pa"))
    opened = through(network(f"{NET}, openings: {{vent: {{share: 0.25}}}}", pressure="1 Pa"))
    assert opened["gas"] == pytest.approx(0.75 * plain["gas"])


def test_an_opening_may_show_another_node() -> None:
    body = f"{NET}, openings: {{hatch: {{area: 0.01 m2, to: frame}}}}"
    expected = SIGMA * 0.01 * (300.0**4 - 290.0**4)
    assert through(network(body))["openings.hatch"] == pytest.approx(expected)


def test_a_seam_leads_heat_in_one_of_three_ways() -> None:
    body = (
        f"{NET}, seams: {{a: {{length: 3 m, conductance: 2 mW/m/K}}, "
        "b: {length: 3 m, width: 1 mm, emittance: 0.7}, "
        "c: {length: 3 m, overlap: 30 mm, sheet_conductance: 2e-5 W/K}}"
    )
    found = through(network(body))
    assert found["seams.a"] == pytest.approx(3 * 2e-3 * 100.0)
    assert found["seams.b"] == pytest.approx(SIGMA * 3e-3 * 0.7 * (300.0**4 - 200.0**4))
    assert found["seams.c"] == pytest.approx(3 * 2e-5 / 0.03 * 100.0)


def test_fixings_lead_heat_each_and_may_lead_elsewhere() -> None:
    body = (
        f"{NET}, fixings: {{pins: {{count: 8, conductance: 0.1 mW/K}}, "
        "posts: {count: 2, conductivity: 0.25 W/m/K, section: 28 mm2, length: 14 mm, to: frame}}"
    )
    found = through(network(body))
    assert found["fixings.pins"] == pytest.approx(8 * 1e-4 * 100.0)
    assert found["fixings.posts"] == pytest.approx(2 * 0.25 * 28e-6 / 14e-3 * 10.0)


@pytest.mark.parametrize("body", [IDEAL, FOLDED])
def test_the_factor_multiplies_what_layers_let_through_and_nothing_else(body: str) -> None:
    plain = through(network(f"{body}, {SPOILT}"))
    spoilt = through(network(f"{body}, factor: 3, {SPOILT}"))
    for path, value in plain.items():
        expected = 3.0 * value if path.startswith("layers") else value
        assert spoilt[path] == pytest.approx(expected)


@pytest.mark.parametrize(("bound", "times"), [("nominal", 1.0), ("low", 0.5), ("high", 2.5)])
@pytest.mark.parametrize("body", [IDEAL, FOLDED])
def test_bounds_multiply_every_term_of_layers(body: str, bound: str, times: float) -> None:
    bounded = f"{body}, {SPOILT}, bounds: {{low: 0.5, high: 2.5}}"
    nominal, found = through(network(bounded)), through(network(bounded, bound))
    assert found == pytest.approx({path: times * value for path, value in nominal.items()})


def test_bounds_leave_a_stated_emittance_to_its_own() -> None:
    body = f"effective_emittance: 0.02, high: 0.03, low: 0.01, {SPOILT}"
    bounded = f"{body}, bounds: {{low: 0.5, high: 2.5}}"
    nominal, upper = through(network(bounded)), through(network(bounded, "high"))
    assert upper[""] == pytest.approx(1.5 * nominal[""])
    assert upper["seams.rim"] == pytest.approx(2.5 * nominal["seams.rim"])


def test_a_bound_that_is_not_stated_is_an_error_where_it_is_used() -> None:
    assert "no 'low' bound: give it 'bounds'" in told(IDEAL, "low")
    stated = f"effective_emittance: 0.02, low: 0.01, {SPOILT}"
    assert "no 'low' bound of its seams, fixings and openings" in told(stated, "low")


def test_a_density_varied_by_its_path_changes_conduction_alone() -> None:
    before = model(f"{FOLDED}, {SPOILT}")
    after = vary(before, {"blankets.tank.layers.density": "3000 1/m"})
    old, new = through(assemble(before, "case")), through(assemble(after, "case"))
    expected = old | {"layers.separator": 1.5**2.56 * old["layers.separator"]}
    assert new == pytest.approx(expected)


def test_layers_may_be_counted_by_their_path() -> None:
    after = vary(model(IDEAL), {"blankets.tank.layers.count": 21})
    assert through(assemble(after, "case"))["layers"] == pytest.approx(
        0.5 * through(network(IDEAL))["layers"]
    )


def test_a_model_may_change_a_separator_and_state_its_own() -> None:
    changed = through(network(NET, separators="silk net: {conduction: 17.9e-8, note: tests}"))
    assert changed["layers.separator"] == pytest.approx(
        2.0 * through(network(NET))["layers.separator"]
    )
    own = (
        "dimples: {conduction: 1e-8, density_exponent: 2, radiation: 5e-10, "
        "radiation_exponent: 4.5, divisor: layers}"
    )
    body = NET.replace("silk net", "dimples, emittance: 0.04")
    found = through(network(body, separators=own))
    conduction = 1.5 * 1e-8 * 20.0**2 * (300.0**2 - 200.0**2) / (2.0 * 20.0)
    radiation = 1.5 * 5e-10 * 0.04 * (300.0**4.5 - 200.0**4.5) / 20.0
    assert found == pytest.approx({"layers.separator": conduction, "layers.radiation": radiation})


def test_a_new_separator_needs_every_coefficient_and_an_emittance_somewhere() -> None:
    body = NET.replace("silk net", "dimples")
    message = told(body, separators="dimples: {conduction: 1e-8, divisor: gaps}")
    assert "separators.dimples: the separator 'dimples' is not in the library and needs" in message
    assert "`density_exponent`, `radiation`, `radiation_exponent`" in message
    own = (
        "dimples: {conduction: 1e-8, density_exponent: 2, radiation: 5e-10, "
        "radiation_exponent: 4.5, divisor: layers}"
    )
    assert "give `layers` their `emittance`" in told(body, separators=own)


def test_terms_say_where_their_numbers_are_from_and_where_they_are_not_good() -> None:
    crowded = NET.replace("2000 1/m", "6000 1/m").replace("count: 20", "count: 8")
    _, found = found_terms(f"{crowded}, {SPOILT}, note: from a drawing")
    separator, radiation, *others = found
    assert separator.source.endswith("; from a drawing")
    assert "second-hand" in separator.source
    assert separator.beyond == radiation.beyond
    assert [sentence.split()[0] for sentence in separator.beyond] == ["6000", "the"]
    assert radiation.what == "radiation between layers of emittance 0.031, of the formula"
    assert [term.what for term in others] == ["seam", "8 fixings", "opening to space"]
    assert all(term.beyond == () for term in others)


def test_every_part_of_a_term_has_its_path_as_origin() -> None:
    _, found = found_terms(f"{FOLDED}, {SPOILT}")
    assert all(part.origin == term.path for term in found for part in term.parts)


def notes(body: str, bound: str = "nominal", area: float = 1.5, **more: Any) -> tuple[str, ...]:
    """What is said of a blanket beside installed ones."""
    applied = apply_case(vary(model(body, bound, **more), {"blankets.tank.area": area}), "case")
    around = surroundings(applied, plan(applied, "case"))
    return unusual(applied.entries(Blanket, "blankets")["tank"], around)


def test_a_blanket_better_than_installed_ones_of_its_size_is_told() -> None:
    (note,) = notes(NET)
    assert "installed ones of large, well-made blankets are known from 0.01 to 0.05" in note
    assert notes("effective_emittance: 0.02") == ()
    assert notes(f"{NET}, fixings: {{all: {{conductance: 0.1 W/K}}}}") == ()
    assert notes(f"{NET}, fixings: {{gas: {{conductance: 0.1 W/K}}}}") == ()
    assert "small blankets, below 0.1 m2" in notes("effective_emittance: 0.04", area=0.05)[0]


def test_a_blanket_worse_than_installed_ones_of_its_size_is_told() -> None:
    (note,) = notes("effective_emittance: 0.0512")
    assert "effective emittance of 0.0512 between" in note
    assert "known from 0.01 to 0.05: is it meant?" in note
    assert notes("effective_emittance: 0.2", area=0.05) == ()
    assert "known from 0.05 to 0.3: is it meant?" in notes("effective_emittance: 0.4", area=0.05)[0]


def test_a_blanket_that_lets_more_through_than_none_at_all_is_told() -> None:
    # 8 pins of 10 W/K where 10 mW/K was meant
    (note,) = notes(f"{NET}, fixings: {{pins: {{count: 8, conductance: 10 W/K}}}}")
    assert "more than no blanket at all" in note


def test_a_blanket_is_held_against_installed_ones_at_its_nominal_bound_and_in_a_vacuum() -> None:
    stated = "effective_emittance: 0.012, low: 0.006, high: 0.06"
    assert notes(stated, "low") == notes(stated, "high") == ()
    bounded = f"{NET}, factor: 5, bounds: {{low: 0.1, high: 10}}"
    assert notes(bounded, "low") == notes(bounded, "high") == notes(bounded)
    assert notes(NET, pressure="1 kPa") == notes(NET)


@pytest.mark.parametrize(
    ("layers", "said"),
    [
        ("density: 20 1/m", "the layers together are 1 m thick"),
        ("thickness: 10 dm", "the layers together are 1 m thick"),
        ("density: 6e5 1/m", "only 1.67 um"),
        ("density: 2000 1/m", ""),
    ],
)
def test_layers_far_apart_or_thinner_than_any_film_are_a_slip_of_units(
    layers: str, said: str
) -> None:
    entry, _ = found_terms(NET.replace("density: 2000 1/m", layers))
    assert [said in sentence for sentence in slips(entry)] == ([True] if said else [])


def test_few_layers_far_apart_are_a_slip_of_units_even_where_they_are_thin_together() -> None:
    entry, _ = found_terms("layers: {count: 3, emittance: 0.03, density: 50 1/m}")
    assert slips(entry) == ("from layer to layer it is 0.02 m: is the unit right?",)


def test_compressed_layers_lie_closer_than_the_others() -> None:
    said = told(FOLDED.replace("4000", "2000"))
    assert "compressed.folds.density: must lie above that of the layers, 2000 1/m" in said


def test_the_open_line_of_a_seam_may_see_the_sky_past_the_outer_face() -> None:
    body = f"{NET}, seams: {{rim: {{length: 3 m, width: 1 mm, emittance: 0.7, to: space}}}}"
    found = through(network(body))
    assert found["seams.rim"] == pytest.approx(SIGMA * 3e-3 * 0.7 * (300.0**4 - 2.7**4))
    assert found_terms(body)[1][-1].what == "open line of a seam to space"


def test_a_seam_that_leads_elsewhere_needs_a_width_and_another_node() -> None:
    rim = f"{NET}, seams: {{rim: {{length: 3 m, VALUES}}}}"
    led = told(rim.replace("VALUES", "conductance: 1 mW/m/K, to: space"))
    assert "seams.rim.to: goes with 'width', which is not given" in led
    assert "joins 'tank' to itself" in told(rim.replace("VALUES", "width: 1 mm, to: tank"))


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("", "covered surface and outer layer as the layers"),
        (", covered: 0.8", "outer layer as the layers"),
        (", outer: 0.5", "covered surface as the layers"),
        (", covered: 0.8, outer: 0.5", ""),
    ],
)
def test_an_ideal_stack_says_which_of_its_faces_it_takes_as_its_layers(
    more: str, said: str
) -> None:
    _, (term,) = found_terms(IDEAL.replace("0.03}", f"0.03{more}}}"))
    assert term.source == "; ".join(
        part for part in ("shields in series, in closed form: derived", said) if part
    )


def test_gas_without_pressure_is_no_term() -> None:
    assert set(through(network(NET, pressure="0 Pa"))) == {"layers.separator", "layers.radiation"}
    applied = apply_case(model(NET, pressure="0 Pa"), "case")
    around = surroundings(applied, plan(applied, "case"))
    entry = applied.entries(Blanket, "blankets")["tank"]
    paths = [term.path for term in terms(entry, "blankets.tank", around)]
    assert paths == ["blankets.tank.layers.separator", "blankets.tank.layers.radiation"]
