"""The form of the file as JSON Schema and as tables for readers."""

from __future__ import annotations

from typing import Any

import pytest
from jsonschema import Draft202012Validator

from tests.text.toy import SECTIONS, SOUND, Top
from thermnet.text.schema import json_schema, reference
from thermnet.text.tree import Mapping, Node, Sequence, compose

SCHEMA = json_schema(Top, SECTIONS)
VALIDATOR = Draft202012Validator(SCHEMA)


def plain(node: Node) -> object:
    """The values of a tree as JSON has them; YAML's own reader would take `on` for true."""
    if isinstance(node, Mapping):
        return {key: plain(child) for key, (_, child) in node.entries.items()}
    return [plain(item) for item in node.items] if isinstance(node, Sequence) else node.value


def values(text: str) -> object:
    root, problems = compose(text, "toy.yaml")
    assert root is not None
    assert not problems
    return plain(root)


def valid(text: str) -> bool:
    return bool(VALIDATOR.is_valid(values(text)))


def test_the_schema_is_a_schema() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_a_sound_file_fits_the_schema() -> None:
    assert list(VALIDATOR.iter_errors(values(SOUND))) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("conductance: 2.5", "conductence: 2.5"),
        ("    conductance: 2.5\n", ""),
        ("2.5", "-2.5"),
        ("2.5", "two"),
        ("2.5", "true"),
        ("2.5", "null"),
        ("from: big", "from: 5"),
        ("massless: true", "massless: 1"),
        ("[-10, 313.15 K]", "[-10]"),
        ("[-10, 313.15 K]", "[-10, 1, 2]"),
        ("temperatures: degC", "temperatures: degF"),
        ("  wall:", "  w.all:"),
        ("    on: c", "    on: c\n    copies: 0"),
        ("straps:", "strap:"),
        ("name: a toy\n", ""),
    ],
)
def test_what_the_schema_can_tell_is_refused(old: str, new: str) -> None:
    assert SOUND.count(old) == 1
    assert not valid(SOUND.replace(old, new))


def test_a_section_may_hold_a_table() -> None:
    assert valid("name: x\nboxes: {table: a.csv}\n")
    assert not valid("name: x\nboxes: {table: 5}\n")


def test_the_lists_of_an_entry_may_come_from_a_table() -> None:
    assert valid("name: x\ncourses: {c: {table: a.csv}}\n")
    assert valid("name: x\ncourses: {c: {time: [0], value: [1]}}\n")
    assert not valid("name: x\ncourses: {c: {time: [0]}}\n")
    assert not valid("name: x\nparts: {p: {at: b, table: a.csv}}\n")


def test_the_schema_names_units_and_describes_keys() -> None:
    conductance: dict[str, Any] = SCHEMA["$defs"]["Strap"]["properties"]["conductance"]
    assert conductance["unit"] == "W/K"
    assert conductance["description"] == "heat | kelvin"
    assert conductance["anyOf"][0] == {"type": "number", "exclusiveMinimum": 0}


def test_the_reference_has_a_row_for_every_key() -> None:
    rows = reference(Top, SECTIONS).splitlines()
    assert "## `straps`" in rows
    assert "A conductance between two things." in rows
    assert "| `from` | the name of a box or fence |  |  | yes | one end |" in rows
    assert "| `conductance` | a number in W/K | W/K |  | yes | heat &#124; kelvin |" in rows
    assert "| `share` | a number |  | 1 |  |  |" in rows
    assert "| `massless` | true or false |  | false |  |  |" in rows
    assert "| `shape` | 'linear' or 'steps' |  | linear |  |  |" in rows
    assert "| `windows.(name).until` | a number in s | s | 0 |  |  |" in rows
    assert any(row.startswith("| `policy.allowance` |") for row in rows)
