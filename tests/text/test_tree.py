"""The located tree: how scalars resolve, where things are, and what the form of a file may be."""

from __future__ import annotations

import gc
import math

import pytest
import yaml.loader
from hypothesis import example, given
from hypothesis import strategies as st

from thermnet.errors import Place, Problem
from thermnet.text import tree
from thermnet.text.tree import Mapping, Node, Scalar, Sequence, compose, decode, excerpt, resolve

TOP = "expected keys and values such as `nodes:` at the top of the file"


def composed(text: str) -> Mapping:
    root, problems = compose(text, "a.yaml")
    assert not problems, "\n".join(map(str, problems))
    assert root is not None
    return root


def problems_of(text: str) -> list[str]:
    return [str(problem) for problem in compose(text, "a.yaml")[1]]


def value(text: str) -> object:
    node = composed(f"key: {text}").get("key")
    assert isinstance(node, Scalar)
    return node.value


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # YAML 1.2.2, section 10.3.2, the core schema (from memory)
        ("1e-3", 1e-3),
        ("1E3", 1000.0),
        (".5", 0.5),
        ("5.", 5.0),
        ("+1.5", 1.5),
        ("010", 10),
        ("-7", -7),
        ("0x1F", 31),
        ("0o17", 15),
        ("true", True),
        ("False", False),
        ("null", None),
        ("~", None),
        ("", None),
        (".inf", math.inf),
        ("-.INF", -math.inf),
        ("no", "no"),
        ("on", "on"),
        ("yes", "yes"),
        ("y", "y"),
        ("12:30", "12:30"),
        ("2024-01-31", "2024-01-31"),
        ("1_000", "1_000"),
        ("1.2.3", "1.2.3"),
        ("0b11", "0b11"),
        ("12 W/K", "12 W/K"),
        ("nan", "nan"),
        ("'1e-3'", "1e-3"),
        ('"true"', "true"),
    ],
)
def test_a_scalar_is_what_it_looks_like(text: str, expected: object) -> None:
    found = value(text)
    assert found == expected
    assert type(found) is type(expected)


def test_not_a_number_is_a_number_until_it_is_bound() -> None:
    found = value(".nan")
    assert isinstance(found, float)
    assert math.isnan(found)


def test_a_number_of_thousands_of_digits_is_infinite() -> None:
    assert value("9" * 5000) == math.inf


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_float_survives_its_text(number: float) -> None:
    assert resolve(repr(number)) == number


@given(st.integers(-(10**30), 10**30))
def test_every_integer_survives_its_text(number: int) -> None:
    assert resolve(str(number)) == number


def test_every_key_and_value_has_its_place() -> None:
    root = composed("one: 1\ntwo:\n  three: [4, five]\n")
    assert root.entries["one"][0] == Place("a.yaml", 1, 1)
    assert root.entries["one"][1].place == Place("a.yaml", 1, 6)
    two = root.get("two")
    assert isinstance(two, Mapping)
    place, three = two.entries["three"]
    assert place == Place("a.yaml", 3, 3)
    assert isinstance(three, Sequence)
    assert [item.place.column for item in three.items] == [11, 14]


def test_columns_count_characters() -> None:
    assert composed("é: {ö: 1}").entries["é"][1].place.column == 4


def test_a_literal_block_knows_the_column_of_its_content() -> None:
    node = composed("a:\n  b: |\n\n      1, 2\n        3\n").get("a")
    assert isinstance(node, Mapping)
    block = node.get("b")
    assert isinstance(block, Scalar)
    assert block.value == "\n1, 2\n  3\n"
    assert (block.place.line, block.block) == (2, 6)


def test_a_byte_order_mark_and_windows_line_ends_change_nothing() -> None:
    assert composed("\ufeffa: 1\r\nb: |\r\n  x\r\n").get("b") is not None
    assert composed("a: 1\r\nb: 2\r\n").entries["b"][0].line == 2


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", f"1:1: {TOP}, got an empty file"),
        ("- 1", f"1:1: {TOP}, got a list"),
        ("a", f"1:1: {TOP}, got 'a'"),
        ("a: 1\na: 2", "2:1: a: 'a' is given twice; first at a.yaml:1:1"),
        ("a: &x {b: 1}", "1:4: a: the anchor &x is not used here; write values out"),
        ("a: *x", "1:4: a: the alias *x is not used here; write the value out"),
        (
            "a: !!int 1",
            "1:4: a: the tag tag:yaml.org,2002:int is not used here; write the bare value",
        ),
        ("<<: {a: 1}", "1:1: merge keys are not used here; write the keys out"),
        ("12: 1", "1:1: a key must be text, got 12; put it in quotes: '12'"),
        ("true: 1", "1:1: a key must be text, got true; put it in quotes: 'true'"),
        ("~: 1", "1:1: a key must be text, got nothing; put it in quotes: '~'"),
        ("? [a]\n: 1", "1:3: a key must be text, not a list"),
        ("a:\n\t- b", "2:1: a tab cannot indent; use spaces"),
        ("a: 1\n---\nb: 2", "2:1: a second document in the file; keep one"),
        ("a: \x07", "1:4: the character U+0007 cannot stand in a file"),
        ("a: x\u2028b: 1", "1:5: the character U+2028 cannot stand in a file"),
    ],
)
def test_what_is_wrong_with_the_form_is_said_where_it_is(text: str, expected: str) -> None:
    assert [found.split("\n")[0] for found in problems_of(text)] == [f"a.yaml:{expected}"]


def test_a_problem_shows_its_line_with_a_caret() -> None:
    [problem] = problems_of("a: {b: 1, b: 2}")
    assert problem.split("\n")[1:] == [
        "    a: {b: 1, b: 2}",
        "              ^",
    ]


def test_nothing_in_a_file_can_run_code() -> None:
    root, problems = compose("a: !!python/object/apply:os.system [ls]", "a.yaml")
    assert root is not None
    assert "the tag tag:yaml.org,2002:python/object/apply:os.system is not" in str(problems[0])


def test_several_mistakes_of_form_are_found_at_once() -> None:
    found = problems_of("a: {b: &x 1, b: 2}\nc: *x\n3: 4\nd: [1, 2")
    assert [line.split(": ")[0] for line in found] == [
        "a.yaml:1:8",
        "a.yaml:1:14",
        "a.yaml:2:4",
        "a.yaml:3:1",
        "a.yaml:4:9",
    ]


def test_a_value_that_is_refused_leaves_the_rest_of_the_tree() -> None:
    root, problems = compose("a: *x\nb: 1\n<<: {c: 2}", "a.yaml")
    assert len(problems) == 2
    assert root is not None
    assert list(root.entries) == ["a", "b"]
    assert not root.whole


@pytest.mark.parametrize("text", ["[" * 100_000, "a: " + "{b: " * 500, "- " * 300])
def test_deep_nesting_is_an_error_and_not_a_crash(text: str) -> None:
    root, problems = compose(text, "a.yaml")
    assert root is None
    assert problems


def test_text_in_a_message_cannot_command_a_terminal() -> None:
    assert "\x1b" not in problems_of('{"\\e[31m": 1, "\\e[31m": 2}')[0]


def test_a_file_that_is_not_utf8_is_an_error_at_its_first_bad_byte() -> None:
    found = decode("a: 1\nb: é".encode("latin-1"), "a.yaml")
    assert isinstance(found, Problem)
    assert found.place == Place("a.yaml", 2, 4)
    assert "byte 0xe9" in found.message


def test_utf8_with_a_byte_order_mark_is_read() -> None:
    assert decode("é".encode("utf-8-sig"), "a.yaml") == "é"


@pytest.mark.parametrize(("line", "expected"), [(1, "a"), (2, "b"), (3, ""), (4, "")])
def test_an_excerpt_is_one_line_of_the_file(line: int, expected: str) -> None:
    assert excerpt("a\r\nb\n", line) == expected


def test_composing_leaves_the_garbage_collector_as_it_was() -> None:
    assert gc.isenabled()
    compose("a: [1", "a.yaml")
    assert gc.isenabled()


any_text = st.text(
    st.one_of(st.characters(), st.sampled_from("ab:- \n\t{}[],&*!|>'\"#%?~<.01")), max_size=60
)


@given(any_text)
@example("\ud800")
@example("%YAML 9.9\n---\na: 1")
@example("? ")
@example("a: |\n")
@example("a: !<x> 1")
def test_any_text_gives_a_tree_or_located_problems(text: str) -> None:
    root, problems = compose(text, "a.yaml")
    lines = tree.lines_of(text)
    assert root is not None or problems
    for problem in problems:
        assert problem.place is not None
        assert 1 <= problem.place.line <= len(lines)
        str(problem).encode()


@given(any_text)
def test_the_parser_without_libyaml_sees_the_same_tree(text: str) -> None:
    by_c, _ = compose(text, "a.yaml")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tree, "_Parser", yaml.loader.Loader)
        by_python, _ = compose(text, "a.yaml")
    if by_c is not None and by_python is not None:
        assert _bare(by_c) == _bare(by_python)


def _bare(node: Node) -> object:
    if isinstance(node, Mapping):
        return {key: _bare(child) for key, (_, child) in node.entries.items()}
    if isinstance(node, Sequence):
        return [_bare(item) for item in node.items]
    return node.text
