"""Changing the values of an entry afterwards, and asking for them by path."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.text.toy import SOUND, Box, Part, Strap, sound
from thermnet.errors import InputError
from thermnet.text.fields import Entry
from thermnet.text.rebind import rebind, unit_of, value_of


@pytest.fixture
def strap() -> Strap:
    entry = sound(SOUND).sections["straps"]["s"]
    assert isinstance(entry, Strap)
    return entry


@pytest.fixture
def part() -> Part:
    entry = sound(SOUND).sections["parts"]["p"]
    assert isinstance(entry, Part)
    return entry


def test_rebinding_changes_one_value_and_nothing_else(strap: Strap) -> None:
    changed = rebind(strap, {"conductance": 4})
    assert (changed.conductance, changed.from_, strap.conductance) == (4.0, "big", 2.5)
    assert rebind(strap, {"conductance": "4000 mW/K"}) == changed


def test_numbers_of_numpy_are_numbers(strap: Strap, part: Part) -> None:
    assert rebind(strap, {"conductance": np.float32(4)}).conductance == 4.0
    assert rebind(part, {"copies": np.int64(2)}).copies == 2


def test_rebinding_keeps_what_was_left_out_left_out(strap: Strap) -> None:
    changed = rebind(strap, {"conductance": 4})
    assert changed.model_fields_set == strap.model_fields_set


def test_bare_temperatures_are_rebound_on_the_scale_given(part: Part) -> None:
    assert rebind(part, {"operating.1": 300}).operating == (263.15, 300.0)
    assert rebind(part, {"operating.1": 20}, temperatures="degC").operating == (263.15, 293.15)
    assert rebind(part, {"operating": [0, "300 K"]}, temperatures="degC").operating == (
        273.15,
        300.0,
    )
    assert rebind(part, {"windows.w.until": 5}, temperatures="degC").windows["w"].until == 5.0


def test_rebinding_part_of_a_default_starts_from_the_default() -> None:
    plain = Part(at="big")
    assert rebind(plain, {"operating.1": 300.0}).operating == (273.15, 300.0)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"conductance": -1}, "straps.s.conductance: must be above 0 W/K, got -1 W/K"),
        ({"conductance": "1 W"}, "straps.s.conductance: '1 W' is not in W/K or a unit"),
        ({"conductance": True}, "straps.s.conductance: expected a number in W/K, got true"),
        ({"conductance": None}, "straps.s.conductance: expected a number in W/K, got nothing"),
        ({"conductance": float("nan")}, "straps.s.conductance: expected a finite number, got nan"),
        ({"from": 5}, "straps.s.from: expected the name of a box or fence, got 5"),
        ({"from": "bog"}, "straps.s.from: unknown box or fence 'bog'; did you mean 'big'?"),
        ({"conductence": 1}, "straps.s: no such key: 'conductence'; did you mean 'conductance'?"),
        ({"": 1}, "straps.s: no such key: ''"),
        ({"conductance.x": 1}, "straps.s: no such key: 'conductance.x'"),
    ],
)
def test_rebinding_is_as_strict_as_the_file(
    strap: Strap, changes: Mapping[str, object], message: str
) -> None:
    with pytest.raises(InputError) as caught:
        rebind(strap, changes, path="straps.s", names={"boxes": ["big"], "fences": []})
    assert str(caught.value).startswith(message)


def test_rebinding_checks_across_keys(part: Part) -> None:
    with pytest.raises(InputError, match=r"^p.operating.0: the lower end of the band comes first$"):
        rebind(part, {"operating.0": 400.0}, path="p")


@given(st.floats(1e-300, 1e300))
def test_any_value_survives_rebinding(value: float) -> None:
    box = Box(capacity=1.0)
    assert rebind(box, {"capacity": value}).capacity == value
    assert rebind(box, {"capacity": f"{value!r} J/K"}).capacity == value


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("at.1", "thin"),
        ("operating.0", 263.15),
        ("windows.w.band.1", 283.15),
        ("windows.w.until", 0.0),
        ("copies", 1),
    ],
)
def test_the_value_at_a_path_is_found(part: Part, path: str, value: object) -> None:
    assert value_of(part, path) == value


def test_the_value_under_a_path_that_is_a_name_is_found() -> None:
    case = sound(SOUND).sections["cases"]["hot"]
    assert value_of(case, "set.straps.s.conductance") == "3 W/K"


@pytest.mark.parametrize("path", ["operating.2", "windows.v.band", "oprating", "copies.x"])
def test_there_is_no_value_at_a_path_that_leads_nowhere(part: Part, path: str) -> None:
    with pytest.raises(InputError, match="no such key"):
        value_of(part, path)


@pytest.mark.parametrize(
    ("entry", "path", "unit"),
    [
        (Strap, "conductance", "W/K"),
        (Strap, "share", ""),
        (Strap, "from", ""),
        (Part, "operating", "K"),
        (Part, "operating.1", "K"),
        (Part, "windows.any.until", "s"),
        (Part, "on", ""),
    ],
)
def test_every_path_has_a_unit(entry: type[Entry], path: str, unit: str) -> None:
    assert unit_of(entry, path) == unit


def test_an_unknown_path_has_no_unit() -> None:
    with pytest.raises(InputError, match="no such key: 'shar'; did you mean 'share'"):
        unit_of(Strap, "shar")
