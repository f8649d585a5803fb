"""The reference pages say what the reader takes, and the schema takes every shipped model."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from tests.model.reference import PAGE, SCHEMA, page, schema
from tests.model.small import SMALL
from tests.model.test_whole_tables import MODEL as WHOLE
from thermnet.text.tree import Mapping, Node, Sequence, compose

MODELS = sorted(Path(__file__).parents[2].glob("cases/*/model.yaml"))


def plain(node: Node) -> object:
    """The values of a tree as JSON has them."""
    if isinstance(node, Mapping):
        return {key: plain(child) for key, (_, child) in node.entries.items()}
    return [plain(item) for item in node.items] if isinstance(node, Sequence) else node.value


def complaints(text: str) -> list[str]:
    """What the schema has against a file."""
    root, problems = compose(text, "model.yaml")
    assert root is not None
    assert not problems
    validator = Draft202012Validator(json.loads(SCHEMA.read_text(encoding="utf-8")))
    return [error.message for error in validator.iter_errors(plain(root))]


def test_the_reference_page_is_that_of_the_kinds() -> None:
    assert PAGE.read_text(encoding="utf-8") == page()


def without_twins(node: object) -> object:
    """A schema without the list of one value that older pydantic puts beside a constant."""
    if isinstance(node, dict):
        return {
            k: without_twins(v) for k, v in node.items() if not (k == "enum" and "const" in node)
        }
    return [without_twins(each) for each in node] if isinstance(node, list) else node


def test_the_schema_beside_it_is_that_of_the_kinds() -> None:
    assert without_twins(json.loads(SCHEMA.read_text(encoding="utf-8"))) == without_twins(
        json.loads(schema())
    )
    Draft202012Validator.check_schema(json.loads(schema()))


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model.parent.name)
def test_the_schema_takes_every_shipped_model(model: Path) -> None:
    assert complaints(model.read_text(encoding="utf-8")) == []


def test_the_schema_takes_a_model_with_every_kind_of_entry() -> None:
    assert complaints(SMALL) == []


def test_the_schema_takes_whole_tables_and_only_their_keys() -> None:
    assert complaints(WHOLE) == []
    assert complaints(WHOLE.replace("initial: 20", "capacity: 20")) != []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("capacity: 900 J/K", "capcity: 900 J/K"),
        ("capacity: 900 J/K", "capacity: -900"),
        ("emittance: 0.8, ", "emittance: 1.2, "),
        ("solve: transient", "solve: cyclic"),
        ("thermnet: 1", "thermnet: 2"),
        ("operating: [-10, 40]", "operating: [-10]"),
    ],
)
def test_the_schema_refuses_what_it_can_tell(old: str, new: str) -> None:
    text = SMALL.replace("emittance: 0.8}", "emittance: 0.8, view: 1}")
    assert old in text
    assert complaints(text.replace(old, new, 1))
