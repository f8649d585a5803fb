"""What an entry of the file may hold: annotations for frozen, strict pydantic models.

    class Link(Entry):
        from_: Annotated[str, name_of("nodes", "boundaries")]
        conductance: Annotated[float, quantity("W/K", above=0)] = Field(description="...")

An annotation carries the unit, the bounds and the words of its messages, so that the reader, the
JSON Schema and the reference pages all say the same. Lists are `tuple[X, ...]` or `tuple[X, X]`,
groups of entries `dict[str, X]`. A trailing underscore keeps a key apart from a Python word: the
file says `from`. Values are SI and kelvin after validation.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import PydanticCustomError, core_schema

from thermnet.text.tree import shortened
from thermnet.units import NUMBER, UNIT, Scale, to_difference, to_kelvin, to_si


@dataclass(frozen=True, slots=True)
class Given:
    """A value with the scale of its bare temperatures, which overrules that of the context."""

    value: float | int
    temperatures: Scale | None = None


class Absent(Enum):
    """What stands in for a value that is not there.

    `NOTHING` for a key without a value and `BROKEN` for one that a reported problem covers. No
    annotation takes them, so that a key left empty never counts as a key left out.
    """

    NOTHING = "nothing"
    BROKEN = "broken"


def spelled(name: str) -> str:
    """The key of a field in a file: `from_` is `from`, which Python keeps for itself."""
    return name.rstrip("_")


class Entry(BaseModel):
    """Base of everything that the file describes: frozen, strict, no unknown keys."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        strict=True,
        defer_build=True,  # a kind of entry that a file has none of costs nothing
        alias_generator=spelled,
    )


def fault(key: str, message: str) -> PydanticCustomError:
    """The error that a model validator raises to blame one key (`low`, or `band.0`)."""
    return PydanticCustomError("fault", "{message}", {"key": key, "message": message})


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """A number with or without a unit, within bounds; `kind` says how its unit is read.

    `unit` is the SI unit of the value, "" for a dimensionless number or a count.
    """

    kind: Literal["quantity", "difference", "number", "count"]
    unit: str
    above: float | None = None
    at_least: float | None = None
    below: float | None = None
    at_most: float | None = None

    @property
    def expected(self) -> str:
        if self.kind == "quantity":
            return f"a number in {self.unit}"
        return {
            "difference": "a temperature difference such as '5 K'",
            "number": "a number",
            "count": "a whole number",
        }[self.kind]

    def read(self, value: Any) -> float:
        """Convert to SI and hold against the bounds; an error is a sentence."""
        if isinstance(value, Given):
            value = value.value
        if not _may_be_number(value):
            raise _refused(self.expected, value)
        try:
            number = to_difference(value) if self.kind == "difference" else self._si(value)
        except ValueError as error:
            raise _sentence(str(error)) from None
        if self.above is not None and not number > self.above:
            raise self._outside("above", self.above, value)
        if self.at_least is not None and not number >= self.at_least:
            raise self._outside("at least", self.at_least, value)
        if self.below is not None and not number < self.below:
            raise self._outside("below", self.below, value)
        if self.at_most is not None and not number <= self.at_most:
            raise self._outside("at most", self.at_most, value)
        return number

    def _si(self, value: float | int | str) -> float:
        if not self.unit and isinstance(value, str):
            raise ValueError(f"expected {self.expected}, got {shown(value)}")
        if self.kind == "count" and not isinstance(value, int):
            raise ValueError(f"expected {self.expected}, got {shown(value)}")
        number = to_si(value, self.unit)
        return int(value) if self.kind == "count" else number

    def _outside(self, side: str, bound: float, value: object) -> PydanticCustomError:
        limit = f"{bound:g} {self.unit}".rstrip()
        unit = f" {self.unit}" if self.unit and not isinstance(value, str) else ""
        return _sentence(f"must be {side} {limit}, got {shown(value)}{unit}")

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        bounds = {
            "exclusiveMinimum": self.above,
            "minimum": self.at_least,
            "exclusiveMaximum": self.below,
            "maximum": self.at_most,
        }
        plain: dict[str, Any] = {"type": "integer" if self.kind == "count" else "number"}
        plain |= {word: bound for word, bound in bounds.items() if bound is not None}
        if not self.unit:
            return plain
        return {"anyOf": [plain, WITH_UNIT], "unit": self.unit}


@dataclass(frozen=True, slots=True)
class Temperature:
    """A temperature, in kelvin once read."""

    unit: str = "K"
    expected: str = "a temperature such as '20 degC' or '293 K'"

    def read(self, value: Any, info: core_schema.ValidationInfo) -> float:
        """Convert to kelvin on the scale of the value, or else of the context."""
        return self.convert(value, (info.context or {}).get("temperatures"))

    def convert(self, value: Any, scale: Scale | None) -> float:
        """Convert to kelvin on the scale of the value, or else on this one."""
        if isinstance(value, Given):
            value, scale = value.value, value.temperatures
        if not _may_be_number(value):
            raise _refused(self.expected, value)
        try:
            return to_kelvin(value, scale)
        except ValueError as error:
            raise _sentence(str(error)) from None

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.with_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {"anyOf": [{"type": "number"}, WITH_UNIT], "unit": "K"}


@dataclass(frozen=True, slots=True)
class Words:
    """Text. With `sections` it is the name of an entry in one of them, or one of `also`.

    Names are looked up by the binder, in the file's tree: here any text will do.
    """

    sections: tuple[str, ...] = ()
    also: tuple[str, ...] = ()
    unit: str = ""

    @property
    def expected(self) -> str:
        article = "an" if self.noun[:1] in tuple("aeiou") else "a"
        return f"the name of {article} {self.noun}" if self.sections else "text"

    @property
    def noun(self) -> str:
        """What the name is a name of, in the singular: "node or boundary"."""
        return " or ".join(singular(section) for section in self.sections)

    def read(self, value: Any) -> str:
        """Let text pass."""
        if isinstance(value, str):
            return value
        if isinstance(value, Given):
            value = value.value
        quotes = "; put it in quotes" if isinstance(value, (int, float)) else ""
        raise _sentence(f"expected {self.expected}, got {shown(value)}{quotes}")

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {"type": "string"}


@dataclass(frozen=True, slots=True)
class Anything:
    """A value that is read later, when it is known what for: a number, text, truth or a list."""

    unit: str = ""
    expected: str = "a value"

    def read(self, value: Any) -> Any:
        """Let values and lists of values pass, except NaN, infinities and nothing."""
        if isinstance(value, tuple):
            return tuple(self.read(each) for each in value)
        bare = value.value if isinstance(value, Given) else value
        if isinstance(bare, (bool, str)):
            return value
        if not isinstance(bare, (int, float)):
            raise _refused(self.expected, value)
        try:
            to_si(bare, "")
        except ValueError as error:
            raise _sentence(str(error)) from None
        return value

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {"type": ["number", "string", "boolean", "array"]}


Annotation = Number | Temperature | Words | Anything

Text = Annotated[str, Words()]
"""Free text."""

_LONGEST = 80  # characters of a number with its unit

WITH_UNIT = {"type": "string", "pattern": rf"^\s*{NUMBER}\s*({UNIT})\s*$"}
"""JSON Schema of a number with its unit."""


def quantity(
    unit: str,
    *,
    above: float | None = None,
    at_least: float | None = None,
    below: float | None = None,
    at_most: float | None = None,
) -> Number:
    """A ratio quantity in an SI unit, with bounds in that unit."""
    return Number(
        kind="quantity", unit=unit, above=above, at_least=at_least, below=below, at_most=at_most
    )


def difference(
    *, above: float | None = None, at_least: float | None = None, at_most: float | None = None
) -> Number:
    """A temperature difference [K]: `5 degC` is 5 K."""
    return Number(kind="difference", unit="K", above=above, at_least=at_least, at_most=at_most)


def number(
    *,
    above: float | None = None,
    at_least: float | None = None,
    below: float | None = None,
    at_most: float | None = None,
) -> Number:
    """A dimensionless number."""
    return Number(
        kind="number", unit="", above=above, at_least=at_least, below=below, at_most=at_most
    )


def count(*, at_least: int | None = None, at_most: int | None = None) -> Number:
    """A whole number; the type it annotates is int."""
    return Number(kind="count", unit="", at_least=at_least, at_most=at_most)


def temperature() -> Temperature:
    """A temperature; a bare number needs the file's scale."""
    return Temperature()


def name_of(*sections: str, also: tuple[str, ...] = ()) -> Words:
    """The name of an entry in one of the sections, or one of the names in `also`."""
    return Words(sections, also)


def anything() -> Anything:
    """A value to be read later, as overrides are; the type it annotates is object."""
    return Anything()


def singular(section: str) -> str:
    """The noun for one entry of a section: "boundaries" gives "boundary", "boxes" gives "box"."""
    if section.endswith("ies"):
        return f"{section[:-3]}y"
    hissing = section.endswith(("xes", "ches", "shes", "sses", "gases"))
    return section.removesuffix("es" if hissing else "s")


def shown(value: object) -> str:
    """A value as it stands in a message."""
    if isinstance(value, Given):
        value = value.value
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float, str)):
        return f"'{shortened(value)}'" if isinstance(value, str) else shortened(repr(value))
    if isinstance(value, (tuple, list)):
        return "a list"
    return "keys and values" if isinstance(value, Mapping) else "nothing"


def _may_be_number(value: object) -> bool:
    """Numbers, and text short enough to be one; True and False are no numbers here."""
    if isinstance(value, str):
        return len(value) <= _LONGEST
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _refused(expected: str, value: object) -> PydanticCustomError:
    return _sentence(f"expected {expected}, got {shown(value)}")


def _sentence(sentence: str) -> PydanticCustomError:
    # The sentence travels in the context: braces in it must not be read as a template.
    return PydanticCustomError("refused", "{message}", {"message": sentence})
