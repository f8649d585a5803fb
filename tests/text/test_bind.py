"""From the tree to entries: values, places, and one broken thing at a time."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.text.toy import SECTIONS, SOUND, Part, Top, messages, read, sound
from thermnet.errors import Place
from thermnet.text import bind, shapes, tree
from thermnet.text.fields import Entry


def with_line(old: str, new: str) -> str:
    assert SOUND.count(old) == 1
    return SOUND.replace(old, new)


def test_values_come_out_in_si_and_kelvin() -> None:
    bound = sound(SOUND)
    assert isinstance(bound.settings, Top)
    assert bound.settings.policy is not None
    assert bound.settings.policy.allowance == 5.0
    sections = bound.sections
    assert sections["boxes"]["big"].model_dump(exclude_unset=True) == {
        "capacity": 1200.0,
        "initial": 293.15,
    }
    assert sections["fences"]["wall"].model_dump() == {"temperature": 293.15, "swing": 5.0}
    assert sections["straps"]["s"].model_dump(by_alias=True) == {
        "from": "big",
        "to": "sky",
        "conductance": 2.5,
        "share": 1.0,
    }
    assert sections["courses"]["c"].model_dump()["time"] == (0.0, 60.0)
    part = sections["parts"]["p"]
    assert isinstance(part, Part)
    assert (part.at, part.operating, part.on) == (("big", "thin"), (263.15, 313.15), "c")


def test_values_to_be_read_later_stay_as_they_are() -> None:
    case = sound(SOUND).sections["cases"]["hot"].model_dump(exclude_unset=True)
    assert case["set"] == {
        "straps.s.conductance": "3 W/K",
        "boxes.*.capacity": {"scale": 1.1},
        "fences.wall.temperature": 5,
    }


@pytest.mark.parametrize(
    ("path", "line", "column"),
    [
        ("name", 1, 7),
        ("policy", 3, 1),
        ("policy.allowance", 3, 21),
        ("boxes", 4, 1),
        ("boxes.big", 5, 3),
        ("boxes.big.initial", 5, 38),
        ("parts.p.at", 18, 9),
        ("parts.p.at.1", 18, 15),
        ("parts.p.windows.w", 22, 7),
        ("parts.p.windows.w.band.1", 22, 21),
        ("cases.hot.set.straps.s.conductance", 25, 33),
    ],
)
def test_every_path_knows_its_place(path: str, line: int, column: int) -> None:
    assert sound(SOUND).places[path] == Place("toy.yaml", line, column)


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        # keys
        (
            "conductance: 2.5",
            "conductence: 2.5",
            "13: straps.s: unknown key 'conductence'; did you mean 'conductance'?",
        ),
        ("    conductance: 2.5\n", "", "10: straps.s: missing key 'conductance' [W/K]"),
        ("from: big", "form: big", "11: straps.s: unknown key 'form'; did you mean 'from'?"),
        ("    from: big\n", "", "10: straps.s: missing key 'from'"),
        ("{band: [0, 10]}", "{}", "22: parts.p.windows.w: missing key 'band' [K]"),
        ("name: a toy\n", "", "1: missing key 'name'"),
        ("courses:", "curses:", "14: unknown key 'curses'; did you mean 'courses'?"),
        ("straps:", "straps: {}\nxyz:", "10: unknown key 'xyz'"),
        # values
        (
            "2.5",
            "12 W",
            "13: straps.s.conductance: '12 W' is not in W/K or a unit that converts to it",
        ),
        ("2.5", "-2.5", "13: straps.s.conductance: must be above 0 W/K, got -2.5 W/K"),
        ("2.5", "-2 W/K", "13: straps.s.conductance: must be above 0 W/K, got '-2 W/K'"),
        ("2.5", "0", "13: straps.s.conductance: must be above 0 W/K, got 0 W/K"),
        ("2.5", ".nan", "13: straps.s.conductance: expected a finite number, got nan"),
        ("2.5", "-.inf", "13: straps.s.conductance: expected a finite number, got -inf"),
        ("2.5", "true", "13: straps.s.conductance: expected a number in W/K, got true"),
        ("2.5", "'2.5'", ("13: straps.s.conductance: expected a number, or text such as '1 W/K', "
         "got '2.5'")),
        ("2.5", "[2.5]", "13: straps.s.conductance: expected a number in W/K, got a list"),
        ("2.5", "{}", "13: straps.s.conductance: expected a number in W/K, got keys and values"),
        ("2.5", "", "13: straps.s.conductance: expected a number in W/K, got nothing"),
        ("2.5", "2.5\n    share: 1.5", "14: straps.s.share: must be at most 1, got 1.5"),
        ("2.5", "2.5\n    share: 50 W", "14: straps.s.share: expected a number, got '50 W'"),
        ("massless: true", "massless: yes", ("6: boxes.thin.massless: expected true or false, "
         "got 'yes'")),
        ("massless: true", "massless: 1", "6: boxes.thin.massless: expected true or false, got 1"),
        ("name: a toy", "name: 12", "1: name: expected text, got 12; put it in quotes"),
        ("name: a toy", "name: no", ""),
        ("initial: 20", "initial: -300", "5: boxes.big.initial: -300 is below absolute zero"),
        ("initial: 20", "initial: ", ("5: boxes.big.initial: expected a temperature such as "
         "'20 degC' or '293 K', got nothing")),
        ("swing: 9 degF", "swing: -1 K", "8: fences.wall.swing: must be at least 0 K, got '-1 K'"),
        ("degC\n", "degF\n", ("2: temperatures: expected 'degC' or 'K', got 'degF'; "
         "did you mean 'degC'?")),
        ("on: c", "on: 5", "20: parts.p.on: expected true or false or the name of a course, got 5"),
        ("on: c", "on: false", ""),
        ("on: c", "on: c\n    copies: 1.5", "21: parts.p.copies: expected a whole number, got 1.5"),
        ("on: c", "on: c\n    copies: 0", "21: parts.p.copies: must be at least 1, got 0"),
        # lists
        ("[-10, 313.15 K]", "[-10]", "19: parts.p.operating: expected a list of 2 values, got 1"),
        ("[-10, 313.15 K]", "[]", "19: parts.p.operating: expected a list of 2 values, got 0"),
        ("[-10, 313.15 K]", "[1, 2, 3]", ("19: parts.p.operating: expected a list of 2 values, "
         "got 3")),
        ("[-10, 313.15 K]", "5", "19: parts.p.operating: expected a list of 2 values, got 5"),
        ("[-10, 313.15 K]", "[5, x]", ("19: parts.p.operating.1: 'x' is not a temperature such as "
         "'20 degC' or '293 K'")),
        ("time: [0, 1 min]", "time: 5", ("15: courses.c.time: expected a list, each a number in s, "
         "got 5")),
        # entries
        ("{massless: true}", "", ("6: boxes.thin: expected keys and values (capacity, massless, "
         "initial, note), got nothing")),
        ("{massless: true}", "5", ("6: boxes.thin: expected keys and values (capacity, massless, "
         "initial, note), got 5")),
        ("policy: {allowance: 5 degC}", "policy: 5", ("3: policy: expected keys and values "
         "(allowance), got 5")),
        ("{scale: 1.1}", "{scale: x}", ("25: cases.hot.set.boxes.*.capacity.scale: expected a "
         "number, got 'x'")),
        ("3 W/K", "", ("25: cases.hot.set.straps.s.conductance: expected a value or keys and "
         "values (scale, offset), got nothing")),
        # across keys
        ("{massless: true}", "{massless: true, capacity: 5}", ("6: boxes.thin.capacity: give "
         "either a capacity or `massless: true`")),
        ("{massless: true}", "{}", ("6: boxes.thin.capacity: give either a capacity or "
         "`massless: true`")),
        ("[-10, 313.15 K]", "[50, 40]", ("19: parts.p.operating.0: the lower end of the band comes "
         "first")),
        ("value: [0, 1.5]", "value: [0]", "15: courses.c: time and value differ in length"),
        # names
        ("from: big", "from: bog", ("11: straps.s.from: unknown box or fence 'bog'; did you mean "
         "'big'?")),
        ("to: sky", "to: skye", ("12: straps.s.to: unknown box or fence 'skye'; did you mean "
         "'sky'?")),
        ("[big, thin]", "[big, wall]", ("18: parts.p.at.1: unknown box 'wall'; expected one of: "
         "big, thin")),
        ("on: c", "on: d", "20: parts.p.on: unknown course 'd'; expected one of: c"),
        ("  wall:", "  w.all:", "8: fences.w.all: a name cannot hold '.', which paths need"),
        ("  wall:", "  w*:", "8: fences.w*: a name cannot hold '*', which paths need"),
        ("  wall:", "  'wall ':", ("8: fences.wall : a name needs at least one character, all of "
         "them printable, and no space at its ends")),
        ("      w:", "      w.x:", "22: parts.p.windows: a name cannot hold '.', which paths need"),
        ("  wall:", "  big:", ("8: fences.big: 'big' is a box already, at toy.yaml:5:3; "
         "a reference could mean either")),
    ],
)  # fmt: skip
def test_a_mistake_is_told_where_it_was_made(old: str, new: str, expected: str) -> None:
    found = messages(with_line(old, new))
    assert found == ([expected] if expected else [])


def test_several_mistakes_are_found_at_once_in_the_order_of_the_file() -> None:
    text = with_line("2.5", "12 W").replace("initial: 20", "initial: -300")
    text = text.replace("band: [0, 10]", "band: [0, x]").replace("name: a toy", "nam: a toy")
    assert [each.split(": ")[:2] for each in messages(text)] == [
        ["1", "unknown key 'nam'; did you mean 'name'?"],
        ["5", "boxes.big.initial"],
        ["13", "straps.s.conductance"],
        ["22", "parts.p.windows.w.band.1"],
    ]


def test_a_problem_shows_its_line_and_a_caret() -> None:
    problem = read(with_line("2.5", "12 W"))[1][0]
    assert str(problem).split("\n") == [
        "toy.yaml:13:18: straps.s.conductance: '12 W' is not in W/K or a unit that converts to it",
        "        conductance: 12 W",
        "                     ^",
    ]


def test_a_broken_entry_hides_neither_its_name_nor_the_other_entries() -> None:
    bound, problems = read(with_line("1.2 kJ/K", "-1"))
    assert bound is not None
    assert [problem.path for problem in problems] == ["boxes.big.capacity"]
    assert list(bound.sections["boxes"]) == ["thin"]
    assert "s" in bound.sections["straps"]


def test_bare_temperatures_need_a_scale() -> None:
    found = messages(with_line("temperatures: degC\n", ""))
    assert all("a bare temperature needs `temperatures: degC` (or K)" in each for each in found)
    assert [each.split(":")[0] for each in found] == ["4", "18", "21", "21"]


@pytest.mark.parametrize("line", ["temperature: degC", "temperatures: Celsius", "temperatures:"])
def test_a_misspelt_scale_does_not_blame_every_temperature(line: str) -> None:
    found = messages(with_line("temperatures: degC", line))
    assert len(found) == 1
    assert found[0].startswith("2: ")


@pytest.mark.parametrize("line", ["boxs:", "boxes: [1]\nb:"])
def test_a_broken_section_does_not_blame_those_that_refer_to_it(line: str) -> None:
    found = messages(with_line("boxes:\n", f"{line}\n"))
    assert not [each for each in found if "unknown box" in each]
    assert found


def test_what_follows_from_a_refused_value_is_held_back() -> None:
    assert messages(with_line("conductance: 2.5", "conductance: *c")) == [
        "13: straps.s.conductance: the alias *c is not used here; write the value out"
    ]
    assert messages(with_line("    conductance: 2.5", "    <<: *c")) == [
        "13: straps.s: merge keys are not used here; write the keys out",
        "13: straps.s: the alias *c is not used here; write the value out",
    ]
    assert messages(with_line("{massless: true}", "&a {massless: true}")) == [
        "6: boxes.thin: the anchor &a is not used here; write values out"
    ]


def test_a_section_left_out_is_empty() -> None:
    bound = sound("name: nothing\n")
    assert bound.sections == {section: {} for section in SECTIONS}


def test_a_choice_between_entries_is_judged_by_the_keys_given() -> None:
    class Add(Entry):
        add: bool

    class Take(Entry):
        take: bool
        twice: bool = False

    class Item(Entry):
        change: Add | Take

    text = "items:\n  a: {change: {take: 1}}\n  b: {change: {give: true}}\n"
    root, _ = tree.compose(text, "a.yaml")
    assert root is not None
    found = bind.bind(root, settings=Entry, sections={"items": Item}).problems
    assert [(each.path, each.message) for each in found] == [
        ("items.a.change.take", "expected true or false, got 1"),
        (
            "items.b.change",
            "expected keys and values (add) or keys and values (take, twice), got keys and values",
        ),
    ]


def test_an_annotation_that_no_file_can_hold_is_refused_early() -> None:
    class Bare(Entry):
        number: float

    with pytest.raises(TypeError, match="needs one of the annotations"):
        shapes.keys_of(Bare)


bits = st.one_of(
    st.sampled_from(["", "5", "-1 K", "big", "true", "~", ".nan", "x.y", "12 W/K", "a: b"]),
    st.text(st.characters(codec="utf-8"), max_size=6),
)
values = st.recursive(
    bits.map(repr) | bits,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda each: f"[{', '.join(each)}]"),
        st.dictionaries(
            st.sampled_from(["at", "band", "from", "table", "w"]), inner, max_size=3
        ).map(lambda each: "{" + ", ".join(f"{key}: {part}" for key, part in each.items()) + "}"),
    ),
    max_leaves=6,
)
keys = [key for kind in SECTIONS.values() for key in shapes.keys_of(kind)]


@given(st.sampled_from([*SECTIONS, "policy", "name"]), st.sampled_from([*keys, "table"]), values)
def test_any_value_anywhere_is_bound_or_reported_at_a_place(
    section: str, key: str, text: str
) -> None:
    bound, problems = read(f"name: x\n{section}:\n  big: {{{key}: {text}}}\n")
    assert all(problem.place is not None for problem in problems)
    assert bound is None or problems or bound.settings is not None
