"""Values by path: read, changed, and changed by cases. Expected values are derived by hand."""

from __future__ import annotations

from typing import Any

import pytest

from tests.model.small import read, with_case
from thermnet.errors import InputError
from thermnet.model.model import Model
from thermnet.model.paths import apply_case, unit, value, vary


def changed(body: str) -> Model:
    """The small model with one more steady case applied, whose overrides are `body`."""
    return apply_case(with_case(f"solve: steady, set: {{{body}}}"), "more")


def message(changes: dict[str, Any]) -> str:
    with pytest.raises(InputError) as caught:
        vary(read(), changes)
    return str(caught.value)


@pytest.mark.parametrize(
    ("path", "expected", "si"),
    [
        ("links.bolts.conductance", 2.0, "W/K"),
        ("nodes.box.initial", 293.15, "K"),
        ("boundaries.wall.swing", 4.0, "K"),
        ("blankets.box.effective_emittance", 0.02, ""),
        ("surfaces.plate.absorbed.solar.heat", 40.0, "W"),
        ("surfaces.plate.absorbed.solar.schedule", "half", ""),
        ("schedules.pass.time.1", 10.0, "s"),
        ("components.box.operating.0", 263.15, "K"),
        ("surfaces.face.to", "space", ""),
        ("links.bolts.from", "box", ""),
    ],
)
def test_a_value_is_read_in_si_by_its_path(path: str, expected: object, si: str) -> None:
    assert value(read(), path) == pytest.approx(expected)
    assert unit(read(), path) == si


def test_a_number_from_python_is_in_si_and_kelvin() -> None:
    model = vary(read(), {"links.bolts.conductance": 3, "nodes.box.initial": 300.0})
    assert value(model, "links.bolts.conductance") == 3.0
    assert value(model, "nodes.box.initial") == 300.0


def test_text_may_carry_a_unit() -> None:
    model = vary(
        read(),
        {
            "links.bolts.conductance": "800 mW/K",
            "nodes.box.initial": "25 degC",
            "boundaries.wall.swing": "9 degF",
            "surfaces.plate.area": "1 ft^2",
        },
    )
    assert value(model, "links.bolts.conductance") == pytest.approx(0.8)
    assert value(model, "nodes.box.initial") == pytest.approx(298.15)
    assert value(model, "boundaries.wall.swing") == pytest.approx(5.0)
    assert value(model, "surfaces.plate.area") == pytest.approx(0.3048**2)


def test_a_bare_number_in_a_case_is_on_the_scale_of_the_file() -> None:
    model = changed("heaters.box.on_below: 11, heaters.box.off_above: 290 K")
    assert value(model, "heaters.box.on_below") == pytest.approx(284.15)
    assert value(model, "heaters.box.off_above") == pytest.approx(290.0)


def test_a_scale_multiplies_and_an_offset_adds() -> None:
    model = changed("loads.box.heat: {scale: 1.25}, loads.radio.heat: {offset: 500 mW}")
    assert value(model, "loads.box.heat") == pytest.approx(15.0)
    assert value(model, "loads.radio.heat") == pytest.approx(10.5)


@pytest.mark.parametrize("offset", ["5", "5 K", "5 degC", "9 degF"])
def test_an_offset_of_a_temperature_is_a_difference(offset: str) -> None:
    model = changed(f"heaters.box.off_above: {{offset: {offset}}}")
    assert value(model, "heaters.box.off_above") == pytest.approx(291.15)


def test_a_scale_of_a_temperature_acts_on_kelvin() -> None:
    model = vary(read(), {"boundaries.space.temperature": {"scale": 2}})
    assert value(model, "boundaries.space.temperature") == pytest.approx(5.4)


def test_an_offset_from_python_is_in_si() -> None:
    model = vary(read(), {"heaters.box.power": {"offset": 2.0}})
    assert value(model, "heaters.box.power") == 10.0


def test_a_pattern_meets_every_name_that_fits_and_has_the_value() -> None:
    model = changed("surfaces.*.absorbed.solar.heat: {scale: 0.5}, loads.*o*.heat: 1 W")
    assert value(model, "surfaces.plate.absorbed.solar.heat") == 20.0
    assert [value(model, f"loads.{name}.heat") for name in ("box", "radio", "cooler")] == [1] * 3
    assert value(model, "surfaces.face.absorbed.planet_infrared") is None


def test_an_exact_path_stands_above_a_pattern_whatever_their_order() -> None:
    for body in (
        "loads.*.heat: 1 W, loads.box.heat: 2 W",
        "loads.box.heat: 2 W, loads.*.heat: 1 W",
    ):
        model = changed(body)
        assert value(model, "loads.box.heat") == 2.0
        assert value(model, "loads.radio.heat") == 1.0


def test_a_pattern_with_more_letters_stands_above_one_with_fewer() -> None:
    model = changed("loads.*.heat: 1 W, loads.r*o.heat: 2 W")
    assert value(model, "loads.radio.heat") == 2.0
    assert value(model, "loads.box.heat") == 1.0


def test_two_patterns_alike_that_agree_are_no_clash() -> None:
    model = changed("loads.r*.heat: 1 W, loads.*o.heat: 1 W")
    assert value(model, "loads.radio.heat") == 1.0


def test_two_patterns_alike_that_differ_are_refused() -> None:
    with pytest.raises(InputError, match=r"as specific as 'loads\.r\*\.heat'"):
        changed("loads.r*.heat: 1 W, loads.*o.heat: 2 W")


def test_the_case_that_is_extended_comes_first() -> None:
    first = with_case("solve: steady, set: {loads.box.heat: 10 W, loads.radio.heat: 5 W}")
    text = first.sources["small.yaml"]
    body = "{extends: more, set: {loads.box.heat: {scale: 2}, loads.*.heat: {offset: 1 W}}}"
    model = apply_case(read(f"{text}  most: {body}\n"), "most")
    assert value(model, "loads.box.heat") == 20.0
    assert value(model, "loads.radio.heat") == 6.0
    assert value(model, "loads.cooler.heat") == 0.0


def test_an_override_of_the_caller_stands_above_that_of_a_case() -> None:
    model = vary(with_case("solve: steady, set: {loads.box.heat: 10 W}"), {"loads.box.heat": 7.0})
    assert value(apply_case(model, "more"), "loads.box.heat") == 7.0


def test_applying_a_case_twice_scales_once() -> None:
    model = changed("loads.box.heat: {scale: 0.5}")
    assert value(apply_case(model, "more"), "loads.box.heat") == 6.0
    assert value(apply_case(model, "mean"), "loads.box.heat") == 12.0


def test_what_is_not_touched_is_shared() -> None:
    model = read()
    varied = vary(model, {"links.bolts.conductance": 3.0})
    assert value(model, "links.bolts.conductance") == 2.0
    assert varied.sections["links"]["bolts"] is not model.sections["links"]["bolts"]
    assert varied.sections["nodes"]["box"] is model.sections["nodes"]["box"]


def test_every_change_is_on_record_with_the_pattern_that_made_it() -> None:
    change = changed("loads.ra*.heat: {scale: 2}").changes[-1]
    assert (change.path, change.before, change.after) == ("loads.radio.heat", 10.0, 20.0)
    assert (change.pattern, change.by) == ("loads.ra*.heat", "cases.more.set")


def test_an_override_changes_the_hash_of_a_model() -> None:
    model = read()
    assert vary(model, {"links.bolts.conductance": 3.0}).hash() != model.hash()
    assert read().hash() == model.hash()


def test_a_value_left_out_can_be_set() -> None:
    assert value(vary(read(), {"loads.box.schedule": "half"}), "loads.box.schedule") == "half"
    varied = vary(read(), {"surfaces.face.absorbed.solar.heat": 5.0})
    assert value(varied, "surfaces.face.absorbed.solar.heat") == 5.0


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"link.bolts.conductance": 1}, "unknown section 'link'; did you mean 'links'?"),
        ({"cases.more.title": "x"}, "cases cannot be changed by path: choose one with --case"),
        ({"links.bolt.conductance": 1}, "unknown entry 'bolt' in links; did you mean 'bolts'?"),
        ({"links.bolts.conductanc": 1}, "no such key: 'conductanc'; did you mean 'conductance'?"),
        ({"links.bolts": 1}, "expected a path 'section.name.key', got 'links.bolts'"),
        ({"links.x*.conductance": 1}, "'links.x*.conductance' meets nothing"),
        ({"links.bolts.conductance": "1 W"}, "'1 W' is not in W/K"),
        ({"links.bolts.conductance": -1}, "must be above 0 W/K, got -1 W/K"),
        ({"links.bolts.conductance": float("nan")}, "expected a finite number, got nan"),
        ({"links.bolts.conductance": True}, "expected a number in W/K, got true"),
        ({"links.bolts.conductance": None}, "expected a number in W/K, got nothing"),
        ({"links.bolts.to": "plaet"}, "unknown node or boundary 'plaet'; did you mean 'plate'?"),
        ({"surfaces.plate.emittance": {"scale": 2}}, "must be at most 1, got 1.6"),
        ({"loads.box.heat": {"offset": "2 K"}}, "'2 K' is not in W"),
        ({"loads.box.heat": {"factor": 2}}, "expected {'scale': number} or {'offset': value}"),
        ({"loads.radio.schedule": {"scale": 2}}, "only a number can be scaled or offset"),
        ({"heaters.box.on_below": 300.0}, "must lie above 'on_below'"),
    ],
)
def test_a_change_that_cannot_be_is_refused_in_words(
    changes: dict[str, Any], expected: str
) -> None:
    assert expected in message(changes)


def test_all_changes_that_cannot_be_are_told_at_once() -> None:
    changes = {"links.bolt.conductance": 1, "loads.box.heat": "1 kg", "nodes.box.capcity": 1}
    with pytest.raises(InputError) as caught:
        vary(read(), changes)
    assert {problem.path for problem in caught.value.problems} == set(changes)


def test_what_a_pattern_breaks_says_where() -> None:
    told = message({"surfaces.*.emittance": {"scale": 2.0}})
    assert "(at 'surfaces.plate.emittance')" in told


def test_an_unknown_case_is_refused_with_the_nearest_name() -> None:
    with pytest.raises(InputError, match="unknown case 'meen'; did you mean 'mean'"):
        apply_case(read(), "meen")


@pytest.mark.parametrize("path", ["links.*.conductance", "links.bolts", "links.bolts.x"])
def test_only_a_path_to_one_value_can_be_read(path: str) -> None:
    with pytest.raises(InputError):
        value(read(), path)
