"""Numbers and text with a unit, to SI. The only place that knows units of measurement.

Ratio quantities (`to_si`), temperatures (`to_kelvin`) and temperature differences
(`to_difference`) are three things: only a temperature takes the offset of its scale. A number
without a unit is SI. pint is imported when a unit needs it and sees nothing but unit names that
passed the pattern below; physical constants that pint would take for units are refused, so that
a stray `5 k` cannot become a multiple of Boltzmann's constant.
"""

from __future__ import annotations

import functools
import math
import re
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from pint import UnitRegistry

Scale = Literal["degC", "K"]
"""The scales a file may declare for its bare temperatures."""

NUMBER = r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?"
"""Pattern of a decimal number, as in the core schema of YAML 1.2."""

_ZERO_CELSIUS = 273.15  # K, by definition of the degree Celsius

_NAME = r"[A-Za-zµμ°]+"
_FACTOR = rf"{_NAME}(?:\^?-?[1-9])?"
_PRODUCT = rf"{_FACTOR}(?:\s*[·*]\s*{_FACTOR})*"
UNIT = rf"(?:1\s*/\s*)?{_FACTOR}(?:\s*[·*/]\s*{_FACTOR}|\s*/\s*\(\s*{_PRODUCT}\s*\))*"
"""Pattern of a unit: names with small powers, joined by · * /, perhaps with one in brackets."""

_IS_UNIT = re.compile(UNIT)
_NUMBER_AND_UNIT = re.compile(rf"\s*({NUMBER})\s*(.*?)\s*", re.DOTALL)
_EACH_FACTOR = re.compile(rf"([·*/]?)\s*(\(?)\s*({_NAME})\^?(-?[1-9])?\s*(\)?)\s*")
_SUPERSCRIPTS = str.maketrans("²³", "23")

_DIFFERENCES = {"degC": "delta_degC", "degF": "delta_degF", "°C": "delta_degC", "°F": "delta_degF"}
_OFFSET_SCALES = {"degC": "degC", "°C": "degC", "degF": "degF", "°F": "degF"}

_COMMON = {
    "mm": ("m", 1e-3),
    "cm": ("m", 1e-2),
    "g": ("kg", 1e-3),
    "min": ("s", 60.0),
    "minute": ("s", 60.0),
    "h": ("s", 3600.0),
    "hour": ("s", 3600.0),
    "mW": ("W", 1e-3),
    "kW": ("W", 1e3),
    "kJ": ("J", 1e3),
    "degC": ("K", 1.0),
}
"""Unit and factor for the names met in most files: loading pint takes half a second."""

_CONSTANTS = frozenset({
    "pi", "tansec", "zeta", "gravity", "eulers_number", "speed_of_light", "planck_constant",
    "elementary_charge", "avogadro_number", "boltzmann_constant", "standard_gravity",
    "dirac_constant", "avogadro_constant", "molar_gas_constant", "faraday_constant",
    "stefan_boltzmann_constant", "fine_structure_constant",
})  # fmt: skip
"""pint's names of the constants that it would accept where a unit is meant."""

_LOOKALIKES = {
    "C": "C is the coulomb; write degC",
    "F": "F is the farad; write degF",
    "k": "k is a constant, not a unit; the kelvin is K",
    "deg": "deg is an angle; write degC",
}


def to_si(value: float | int | str, unit: str) -> float:
    """Convert a number in `unit`, or text such as "0.25 in", to a number in `unit` (an SI unit).

    Raises ValueError with a sentence when the value is neither, when its unit is unknown or of
    another dimension, and when the result is not finite.
    """
    if not isinstance(value, str):
        return _finite(value)
    match = _NUMBER_AND_UNIT.fullmatch(value)
    if match is None or not match[2]:
        example = f"'1 {unit}'" if unit else "1"
        raise ValueError(f"expected a number, or text such as {example}, got '{value}'")
    number, text = match.groups()
    try:
        scale = 1.0 if text == unit else factor(text, unit)
    except ValueError as reason:
        wanted = f"in {unit} or a unit that converts to it" if unit else "a number without a unit"
        detail = f" ({reason})" if str(reason) else ""
        raise ValueError(f"'{value}' is not {wanted}{detail}") from None
    return _finite(float(number) * scale, value)


def to_kelvin(value: float | int | str, scale: Scale | None) -> float:
    """Convert a temperature to kelvin: text such as "20 degC", or a number on `scale`.

    Raises ValueError for a bare number without a scale, for anything that is no temperature and
    for a temperature below 0 K.
    """
    if isinstance(value, str):
        return _above_zero(_kelvin_of_text(value), value)
    number = _finite(value)
    if scale is None:
        raise ValueError(
            "a bare temperature needs `temperatures: degC` (or K) at the top of the file, or a unit"
        )
    return _above_zero(number + _ZERO_CELSIUS if scale == "degC" else number, value)


def to_difference(value: float | int | str) -> float:
    """Convert a temperature difference to kelvin: "5 degC" is 5 K, "9 degF" is 5 K.

    Raises ValueError for anything that is no temperature difference.
    """
    try:
        return to_si(value, "K")
    except ValueError:
        if not isinstance(value, str) or _NUMBER_AND_UNIT.fullmatch(value) is None:
            raise
        raise ValueError(f"'{value}' is not a temperature difference such as '5 K'") from None


@functools.lru_cache(maxsize=1024)
def factor(text: str, unit: str) -> float:
    """The number of `unit` in one `text`; degC and degF count as differences.

    Raises ValueError, with the reason where there is more to say than another dimension.
    """
    powers, wanted = _powers(text), _powers(unit) if unit else {}
    common, scale = _by_common_names(powers)
    return scale if common == wanted else _factor_by_pint(powers, wanted)


def _by_common_names(powers: dict[str, int]) -> tuple[dict[str, int], float]:
    """Powers of units after the common ones are replaced, and the factor that this takes."""
    replaced: dict[str, int] = {}
    scale = 1.0
    for name, power in powers.items():
        unit, each = _COMMON.get(name, (name, 1.0))
        replaced[unit] = replaced.get(unit, 0) + power
        scale *= each**power
    return {unit: power for unit, power in replaced.items() if power}, scale


def _powers(text: str) -> dict[str, int]:
    """Powers by unit name: "W/(m2·K)" is {"W": 1, "m": -2, "K": -1}."""
    text = text.translate(_SUPERSCRIPTS)
    if text.startswith(","):
        raise ValueError("decimals follow a point")
    if _IS_UNIT.fullmatch(text) is None:
        raise ValueError(f"cannot read the unit '{text}'; write it like W/m2 or J/(kg*K)")
    powers: dict[str, int] = {}
    in_brackets = False
    for operator, opening, name, power, closing in _EACH_FACTOR.findall(text.removeprefix("1")):
        in_brackets = in_brackets or bool(opening)
        sign = -1 if operator == "/" or in_brackets else 1
        in_brackets = in_brackets and not closing
        powers[name] = powers.get(name, 0) + sign * int(power or 1)
    return powers


def _factor_by_pint(powers: dict[str, int], wanted: dict[str, int]) -> float:
    from pint import DimensionalityError

    registry = _registry()
    for name in powers:
        _refuse_unknown(name, registry)
    try:
        return float(registry.convert(1.0, _pint_text(powers), _pint_text(wanted)))
    except DimensionalityError:
        hints = [_LOOKALIKES[name] for name in powers if name in _LOOKALIKES]
        raise ValueError("; ".join(hints)) from None


def _refuse_unknown(name: str, registry: UnitRegistry[Any]) -> None:
    if name in _DIFFERENCES:
        return
    meanings = registry.parse_unit_name(name)
    if not meanings:
        raise ValueError(f"unknown unit '{name}'")
    if meanings[0][1] in _CONSTANTS:
        raise ValueError(_LOOKALIKES.get(name, f"{name} is a constant, not a unit"))


def _pint_text(powers: dict[str, int]) -> str:
    return " * ".join(
        f"{_DIFFERENCES.get(name, name)} ** {power}" for name, power in powers.items()
    )


@functools.cache
def _registry() -> UnitRegistry[Any]:
    from pint import UnitRegistry

    return UnitRegistry()


def _kelvin_of_text(value: str) -> float:
    match = _NUMBER_AND_UNIT.fullmatch(value)
    scale = _OFFSET_SCALES.get(match[2]) if match else None
    if match is not None and scale is not None:
        number = _finite(float(match[1]), value)
        celsius = number if scale == "degC" else (number - 32.0) * 5.0 / 9.0
        return celsius + _ZERO_CELSIUS
    try:
        return to_si(value, "K")
    except ValueError as error:
        hint = next((text for name, text in _LOOKALIKES.items() if text in str(error)), "")
        raise ValueError(
            f"'{value}' is not a temperature such as '20 degC' or '293 K'"
            + (f" ({hint})" if hint else "")
        ) from None


def _above_zero(kelvin: float, value: float | int | str) -> float:
    if kelvin < 0.0:
        raise ValueError(f"{_shown(value)} is below absolute zero")
    return kelvin


def _finite(value: float | int, shown: float | int | str | None = None) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise ValueError(f"expected a number, got {_shown(value)}")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        text = _shown(value if shown is None else shown)
        raise ValueError(f"expected a finite number, got {text}")
    return number


def _shown(value: object) -> str:
    """The value as the user would write it; long integers shortened."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and abs(value) >= 10**20:
        return "a number too large to hold"
    return f"'{value}'" if isinstance(value, str) else str(value)
