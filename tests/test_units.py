"""Numbers with units: definitions of units, dimensions, scales, and what is refused."""

from __future__ import annotations

import contextlib
import importlib.resources
import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermnet import units
from thermnet.units import to_difference, to_kelvin, to_si

finite = st.floats(allow_nan=False, allow_infinity=False)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("12 W/K", "W/K", 12.0),
        # 1 in = 25.4 mm exactly: international yard and pound agreement, 1959 (from memory)
        ("0.25 in", "m", 0.00635),
        ("2 ft", "m", 0.6096),
        ("1 in2", "m2", 6.4516e-4),
        # 1 lb = 0.45359237 kg exactly, of the same agreement (from memory)
        ("1 lb", "kg", 0.45359237),
        # derived: 60 s to the minute, 3600 s to the hour
        ("5 min", "s", 300.0),
        ("1.5 h", "s", 5400.0),
        ("1.5 hour", "s", 5400.0),
        ("-3 kW", "W", -3000.0),
        ("1e3 mW", "W", 1.0),
        (".5 mm", "m", 0.0005),
        # derived: decimal prefixes
        ("1 W/cm2", "W/m2", 1e4),
        ("1 kJ/(kg*K)", "J/kg/K", 1000.0),
        ("1 W·m^-1·K^-1", "W/(m·K)", 1.0),
        ("1 W/m²", "W/m2", 1.0),
        ("2 1/min", "1/s", 2.0 / 60.0),
        # derived: a degree Celsius is a kelvin, a degree Fahrenheit 5/9 K, where differences count
        ("4 W/degC", "W/K", 4.0),
        ("9 degF/min", "K/s", 5.0 / 60.0),
    ],
)
def test_units_convert_by_their_definitions(text: str, unit: str, value: float) -> None:
    assert to_si(text, unit) == pytest.approx(value, rel=1e-15)


def test_british_thermal_unit_is_that_of_the_international_table() -> None:
    # 1 BTU = 1055.05585262 J, rounded to 1055.056 J in ISO 80000-5 (from memory)
    assert to_si("3 BTU/hour", "W") == pytest.approx(3 * 1055.056 / 3600, rel=1e-6)


def test_a_bare_number_is_si() -> None:
    assert to_si(7, "W/K") == 7.0


@pytest.mark.parametrize("name", sorted(units._COMMON))
def test_factors_known_without_pint_are_those_of_pint(name: str) -> None:
    unit, factor = units._COMMON[name]
    assert units._factor_by_pint({name: 1}, {unit: 1}) == pytest.approx(factor, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "unit"), [("5 mW/K", "W/K"), ("3 K/hour", "K/s"), ("2 cm2", "m^2"), ("5 min", "s")]
)
def test_common_units_spare_loading_pint(
    text: str, unit: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(units, "_factor_by_pint", None)
    to_si(text, unit)


@given(finite)
def test_any_number_survives_its_own_text(value: float) -> None:
    assert to_si(f"{value!r} W/K", "W/K") == value


@pytest.mark.parametrize(
    ("value", "unit", "message"),
    [
        ("12 W", "W/K", "'12 W' is not in W/K or a unit that converts to it"),
        ("5 foo", "W", "'5 foo' is not in W or a unit that converts to it (unknown unit 'foo')"),
        ("2 W", "", "'2 W' is not a number without a unit"),
        ("2 W/m2 K", "W/m2/K", "cannot read the unit 'W/m2 K'; write it like W/m2 or J/(kg*K)"),
        ("12", "W", "expected a number, or text such as '1 W', got '12'"),
        ("2,5 W", "W", "a unit that converts to it (decimals follow a point)"),
        ("nan W", "W", "expected a number, or text such as '1 W', got 'nan W'"),
        (True, "W", "expected a number, got true"),
        (math.nan, "W", "expected a finite number, got nan"),
        (-math.inf, "W", "expected a finite number, got -inf"),
        (10**400, "W", "expected a finite number, got a number too large to hold"),
        ("1e999 W", "W", "expected a finite number, got '1e999 W'"),
        ("1e306 kW", "W", "expected a finite number, got '1e306 kW'"),
    ],
)
def test_what_is_no_such_quantity_is_refused_with_a_sentence(
    value: float | str, unit: str, message: str
) -> None:
    with pytest.raises(ValueError, match=re.escape(message)):
        to_si(value, unit)


@pytest.mark.parametrize(
    "text",
    ["1 __import__", "1 W()", "1 W;W", "1 W**2", "1 2 W", "1 m^99", "1 m+m", "1 [W]", "1 W/"],
)
def test_a_unit_that_is_no_plain_product_never_reaches_pint(
    text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: object) -> float:
        raise AssertionError("pint was asked")

    monkeypatch.setattr(units, "_factor_by_pint", never)
    with pytest.raises(ValueError, match="cannot read the unit"):
        to_si(text, "W")


def _constants_of_pint() -> list[str]:
    """Names of the constants in pint's own list that the pattern of a unit lets through."""
    source = importlib.resources.files("pint").joinpath("constants_en.txt").read_text("utf-8")
    names: set[str] = set()
    for line in source.splitlines():
        name, _, *others = (part.strip() for part in f"{line.split('#')[0]}==".split("="))
        names.update(each for each in (name, *others) if units._IS_UNIT.fullmatch(each))
    return sorted(names - {"atm", "atmosphere"})  # a pressure in use


@pytest.mark.parametrize("name", [*_constants_of_pint(), "mc", "kk"])
def test_a_physical_constant_is_no_unit(name: str) -> None:
    with pytest.raises(ValueError, match="constant"):
        units._refuse_unknown(name, units._registry())


def test_boltzmanns_constant_is_not_a_heat_capacity() -> None:
    with pytest.raises(ValueError, match="k is a constant, not a unit; the kelvin is K"):
        to_si("5 k", "J/K")


@pytest.mark.parametrize(
    ("text", "kelvin"),
    [
        # 0 degC = 273.15 K by definition; derived: 68 degF = (68 - 32) 5/9 degC = 20 degC
        ("20 degC", 293.15),
        ("20 °C", 293.15),
        ("-273.15 degC", 0.0),
        ("293 K", 293.0),
        ("68 degF", 293.15),
        ("50 mK", 0.05),
    ],
)
def test_a_temperature_takes_the_offset_of_its_scale(text: str, kelvin: float) -> None:
    assert to_kelvin(text, None) == pytest.approx(kelvin, rel=1e-15)


def test_a_bare_temperature_is_on_the_scale_that_is_given() -> None:
    assert to_kelvin(20, "degC") == 293.15
    assert to_kelvin(20, "K") == 20.0


def test_a_bare_temperature_without_a_scale_is_refused() -> None:
    with pytest.raises(ValueError, match="needs `temperatures: degC` \\(or K\\) at the top"):
        to_kelvin(20, None)


@pytest.mark.parametrize(
    ("value", "message"),
    [
        ("-1 K", "'-1 K' is below absolute zero"),
        (-273.16, "-273.16 is below absolute zero"),
        ("20 W", "'20 W' is not a temperature such as '20 degC' or '293 K'"),
        ("20 C", "C is the coulomb; write degC"),
        ("hot", "'hot' is not a temperature"),
        ("20", "'20' is not a temperature"),
        (math.nan, "expected a finite number, got nan"),
        ("1e999 degC", "expected a finite number, got '1e999 degC'"),
        (True, "expected a number, got true"),
    ],
)
def test_what_is_no_temperature_is_refused(value: float | str, message: str) -> None:
    with pytest.raises(ValueError, match=re.escape(message)):
        to_kelvin(value, "degC")


@pytest.mark.parametrize("value", ["5 K", "5 degC", "9 degF", "5000 mK", 5])
def test_a_temperature_difference_never_takes_an_offset(value: int | str) -> None:
    assert to_difference(value) == pytest.approx(5.0, rel=1e-15)


def test_a_difference_in_another_unit_is_refused() -> None:
    with pytest.raises(ValueError, match="'5 W' is not a temperature difference such as '5 K'"):
        to_difference("5 W")


@given(st.text(max_size=30))
def test_any_text_is_a_finite_number_or_a_value_error(text: str) -> None:
    with contextlib.suppress(ValueError):
        assert math.isfinite(to_si(text, "W/K"))


@given(st.floats(0.0, 1e6))
def test_celsius_and_kelvin_agree_on_any_temperature(kelvin: float) -> None:
    celsius = kelvin - 273.15
    assert to_kelvin(f"{celsius!r} degC", None) == to_kelvin(celsius, "degC")
    assert to_kelvin(celsius, "degC") == pytest.approx(kelvin, abs=1e-9)
