"""The strategies draw every class of part and every field of each: a new one must be drawn too."""

from __future__ import annotations

from dataclasses import MISSING, fields
from typing import Any, get_args

import pytest
from hypothesis import given, settings

from tests.properties.strategies import LAWS, gathered, networks
from thermnet.network.build import build
from thermnet.network.parts import LinkPart, Part
from thermnet.network.primitives import Potential

ONLY_NAMES = {"name", "a", "b", "node", "origin"}


def marks(part: Part) -> set[str]:
    """What a part shows: its class, and each field that differs from its default."""
    kind = type(part).__name__
    used = {
        f"{kind}.{field.name}"
        for field in fields(part)
        if field.name not in ONLY_NAMES
        and (field.default is MISSING or getattr(part, field.name) is not field.default)
    }
    if isinstance(part, LinkPart):
        law = part.potential
        used.add("potential curve" if law.curve else f"potential {law.exponent:g}")
    return used | {kind}


def everything_there_is() -> set[str]:
    kinds: tuple[Any, ...] = get_args(Part)
    every = {kind.__name__ for kind in kinds}
    for kind in kinds:
        names = {field.name for field in fields(kind)} - ONLY_NAMES
        every |= {f"{kind.__name__}.{name}" for name in names}
    return every | {f"potential {p:g}" for p in (1.0, 2.0, 4.0, 4.67)} | {"potential curve"}


def test_the_strategies_draw_every_field_of_every_part() -> None:
    drawn: set[str] = set()

    @settings(max_examples=80, database=None, derandomize=True)
    @given(parts=networks())
    def collect(parts: tuple[Part, ...]) -> None:
        for part in (*parts, *gathered(parts)):
            drawn.update(marks(part))

    collect()
    assert everything_there_is() - drawn == set()


def test_a_potential_has_no_field_that_is_not_drawn() -> None:
    assert {field.name for field in fields(Potential)} == {"exponent", "curve"}


@pytest.mark.parametrize("law", LAWS)
def test_every_law_alone_makes_networks(law: str) -> None:
    @settings(max_examples=5, database=None, derandomize=True)
    @given(parts=networks([law]))
    def check(parts: tuple[Part, ...]) -> None:
        found = {mark for part in parts for mark in marks(part) if mark.startswith("potential")}
        assert found
        assert build(parts).names

    check()
