"""YAML text to a located tree: every key and value with its place. The only importer of yaml.

The parser's events are composed here, because every position must survive, because scalars are
resolved as YAML 1.2 does (`1e-3` is a number, `010` is ten, `no`, `12:30` and dates are text) and
because aliases, anchors, merge keys, tags, duplicate keys and deep nesting are errors.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field, replace
from enum import Enum
from typing import Any

from yaml.error import MarkedYAMLError, YAMLError
from yaml.events import (
    AliasEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    StreamEndEvent,
)

from thermnet.errors import Place, Problem
from thermnet.text.collector import collector_paused
from thermnet.units import NUMBER

try:
    from yaml._yaml import CParser as _Parser
except ImportError:  # PyYAML without libyaml gives the same events, more slowly
    from yaml.loader import Loader as _Parser  # type: ignore[assignment]

DEEPEST = 16
"""Levels of nesting; the deepest key of the format needs seven."""


class Broken(Enum):
    """Value of a scalar that a reported problem covers already."""

    BROKEN = "broken"


Value = str | int | float | bool | None | Broken


@dataclass(frozen=True, slots=True)
class Scalar:
    """One value: resolved, with its place and its text as written.

    `block` is the column (from 0) of the content of a literal block, whose first line follows the
    line of `place`; None for every other style.
    """

    value: Value
    place: Place
    text: str
    block: int | None = None


@dataclass(frozen=True, slots=True)
class Sequence:
    """A list of nodes."""

    items: tuple[Node, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Head:
    """The head row of a table: its place and the keys that its columns fill."""

    place: Place
    columns: frozenset[str]


@dataclass(frozen=True, slots=True)
class Mapping:
    """Nodes by key, each with the place of its key, in the order of the file.

    `whole` is false when a reported problem cost keys; `head` is set on the row of a table.
    """

    entries: dict[str, tuple[Place, Node]]
    place: Place
    whole: bool = True
    head: Head | None = None

    def get(self, key: str) -> Node | None:
        """The node under a key, or None."""
        found = self.entries.get(key)
        return None if found is None else found[1]


Node = Scalar | Sequence | Mapping

_FIRST_OF_NUMBER = frozenset("0123456789+-.")
_NAME = re.compile(r"[a-zA-Z]")
IS_NUMBER = re.compile(NUMBER)
_INTEGER = re.compile(r"[-+]?[0-9]+|0o[0-7]+|0x[0-9a-fA-F]+")
_WORDS: dict[str, bool | float | None] = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL")),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
    **dict.fromkeys((".nan", ".NaN", ".NAN"), math.nan),
    **dict.fromkeys((f"{s}.{w}" for s in ("", "+") for w in ("inf", "Inf", "INF")), math.inf),
    **dict.fromkeys(("-.inf", "-.Inf", "-.INF"), -math.inf),
}

# YAML 1.1 breaks lines at these, editors and YAML 1.2 do not: the line numbers would differ.
_OTHER_BREAKS = ("\x85", "\u2028", "\u2029")
_UNPRINTABLE = re.compile(
    "[^\t\n\r\x20-\x7e\xa0-\u2027\u202a-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]"
)
_LINE_END = re.compile(r"\r\n|\n|\r")


def resolve(text: str) -> str | int | float | bool | None:
    """Resolve a plain scalar by the core schema of YAML 1.2."""
    if text[:1] in _FIRST_OF_NUMBER:
        if _INTEGER.fullmatch(text):
            return _integer(text)
        if IS_NUMBER.fullmatch(text):
            return float(text)
    return _WORDS.get(text, text)


def are_text(scalars: list[str]) -> bool:
    """Whether plain scalars surely resolve to text, by a quick look at all of them together."""
    begins = {text[:1] for text in scalars}
    return begins.isdisjoint(_FIRST_OF_NUMBER) and _WORDS.keys().isdisjoint(scalars)


def _integer(text: str) -> int | float:
    if text.startswith(("0o", "0x")):
        return int(text, 0)
    # Python refuses to convert thousands of digits; such a number is infinite for every purpose.
    return int(text) if len(text) < 400 else float(text)


def decode(content: bytes, file: str) -> str | Problem:
    """The text of a file, or the problem that it is not UTF-8. A byte order mark is dropped."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = content[: error.start].decode("utf-8-sig")
        message = f"not UTF-8 text: byte 0x{content[error.start]:02x}; save the file as UTF-8"
        return _at_offset(message, file, before)


def lines_of(text: str) -> list[str]:
    """The lines of a text, broken where places count lines."""
    return _LINE_END.split(text) if "\r" in text else text.split("\n")


def excerpt(text: str, line: int) -> str:
    """Line number `line` (from 1) of a text, without its end; "" where there is none."""
    lines = lines_of(text)
    return printable(lines[line - 1][:300]) if 0 < line <= len(lines) else ""


def finished(problem: Problem, lines: dict[str, list[str]]) -> Problem:
    """A problem with its line, from the lines of each file; all of it fit for a terminal."""
    place = problem.place
    of_file = lines.get(place.file, []) if place is not None else []
    line = of_file[place.line - 1] if place is not None and place.line <= len(of_file) else ""
    return replace(
        problem,
        message=_LINE_END.sub(" ", printable(problem.message)),
        path=_LINE_END.sub(" ", printable(problem.path)),
        excerpt=printable(line[:300]),
    )


def compose(text: str, file: str) -> tuple[Mapping | None, tuple[Problem, ...]]:
    """Compose the located tree of a file's text, and every problem of its form.

    The tree is None when the text cannot be read as YAML or does not hold keys and values. With
    other problems the tree is still whole enough to look for more.
    """
    text = text.removeprefix("\ufeff")
    lines = lines_of(text)
    composer = _Composer(file, lines)
    root: Node | None = None
    try:
        with collector_paused():
            root = composer.document(text)
        if not isinstance(root, Mapping):
            found = "an empty file" if root is None else described(root)
            wanted = "expected keys and values such as `nodes:` at the top of the file"
            place = Place(file, 1, 1) if root is None else root.place
            composer.problems.append(Problem(message=f"{wanted}, got {found}", place=place))
    except _TooDeepError as error:
        composer.problems.append(error.problem)
    except MarkedYAMLError as error:
        composer.problems.append(_syntax(error, lines, file))
    except (YAMLError, UnicodeEncodeError):
        composer.problems = [_unprintable(text, file)]
    problems = tuple(finished(each, {file: lines}) for each in composer.problems)
    return root if isinstance(root, Mapping) else None, problems


def _syntax(error: MarkedYAMLError, lines: list[str], file: str) -> Problem:
    """A problem from the parser's own error."""
    mark = error.problem_mark or error.context_mark
    line, column = (mark.line, mark.column) if mark is not None else (0, 0)
    if line >= len(lines) or (line == len(lines) - 1 and column > len(lines[line])):
        line = len(lines) - 1
        column = len(lines[line])
    context = f" {error.context}" if error.context else ""
    if error.context_mark is not None and error.context_mark.line != line:
        context += f" that begins in line {error.context_mark.line + 1}"
    message = f"not valid YAML: {error.problem}{context}"
    if lines[line][column : column + 1] == "\t":
        message = "a tab cannot indent; use spaces"
    return Problem(message=message, place=Place(file, line + 1, column + 1))


def _unprintable(text: str, file: str) -> Problem:
    """The first character that a YAML file cannot hold."""
    match = _UNPRINTABLE.search(text)
    position = match.start() if match else 0
    code = f"U+{ord(text[position]):04X}" if text else "nothing"
    return _at_offset(f"the character {code} cannot stand in a file", file, text[:position])


def _at_offset(message: str, file: str, before: str) -> Problem:
    """A problem behind the given beginning of a file."""
    *above, line = lines_of(before)
    return Problem(message=message, place=Place(file, len(above) + 1, len(line) + 1))


def described(node: Node) -> str:
    """What a node is, in words for a message."""
    if isinstance(node, Mapping):
        return "keys and values"
    if isinstance(node, Sequence):
        return "a list"
    if node.value is None:
        return "nothing"
    if isinstance(node.value, str):
        return f"'{shortened(node.value)}'"
    return shortened(node.text)


def shortened(text: str) -> str:
    """Text of one line and of a length that fits into a message."""
    first, *rest = lines_of(text)
    return printable(f"{first[:60]}…" if rest or len(first) > 60 else first)


def printable(text: str) -> str:
    """Text that a terminal shows and does not obey."""
    return _UNPRINTABLE.sub("\ufffd", text)


class _TooDeepError(Exception):
    def __init__(self, problem: Problem) -> None:
        self.problem = problem


@dataclass(slots=True)
class _Composer:
    """Builds nodes from the parser's events; collects problems with the path being read."""

    file: str
    lines: list[str]
    next: Any = None
    problems: list[Problem] = field(default_factory=list)
    path: list[str] = field(default_factory=list)

    def document(self, text: str) -> Node | None:
        """The only document of the text, None when there is none."""
        if any(mark in text for mark in _OTHER_BREAKS):
            raise YAMLError("a line break of YAML 1.1")
        self.next = _Parser(text).get_event
        self.next()  # start of the stream
        if isinstance(self.next(), StreamEndEvent):
            return None
        root = self.node(self.next(), 0)
        self.next()  # end of the document
        following = self.next()
        if not isinstance(following, StreamEndEvent):
            self.report("a second document in the file; keep one", self.place(following))
        return root

    def node(self, event: Any, depth: int) -> Node:
        """The node that begins with an event."""
        if event.anchor is not None or getattr(event, "tag", None) is not None:
            return self.refused(event, depth)
        if event.__class__ is ScalarEvent:
            return self.scalar(event)
        if depth == DEEPEST:
            message = f"nested more than {DEEPEST} levels deep"
            path = ".".join(self.path)
            raise _TooDeepError(Problem(message=message, path=path, place=self.place(event)))
        if isinstance(event, MappingStartEvent):
            return self.mapping(event, depth + 1)
        return self.sequence(event, depth + 1)

    def scalar(self, event: Any) -> Scalar:
        """A scalar. Quoted text and blocks stay text."""
        text = event.value
        place = self.place(event)
        if event.implicit[0]:
            return Scalar(resolve(text), place, text)
        return Scalar(text, place, text, self.indent(event) if event.style == "|" else None)

    def indent(self, event: Any) -> int:
        """Columns before the content of a literal block, whose lines stand as they are."""
        below = self.lines[event.start_mark.line + 1 :]
        pairs = zip(below, event.value.split("\n"), strict=False)
        return next((len(line) - len(content) for line, content in pairs if content), 0)

    def sequence(self, event: Any, depth: int) -> Sequence:
        """A list, up to its end."""
        items: list[Node] = []
        while not isinstance(each := self.next(), SequenceEndEvent):
            self.path.append(str(len(items)))
            items.append(self.node(each, depth))
            self.path.pop()
        return Sequence(tuple(items), self.place(event))

    def mapping(self, event: Any, depth: int) -> Mapping:
        """Keys and values, up to their end."""
        entries: dict[str, tuple[Place, Node]] = {}
        whole = True
        following, path = self.next, self.path
        while (each := following()).__class__ is not MappingEndEvent:
            key = self.key(each, depth)
            if key is None:
                whole = False
                self.node(following(), depth)
                continue
            place = self.place(each)
            path.append(key)
            node = self.node(following(), depth)
            if key in entries:
                self.report(f"'{key}' is given twice; first at {entries[key][0]}", place)
            else:
                entries[key] = place, node
            path.pop()
        return Mapping(entries, self.place(event), whole)

    def key(self, event: Any, depth: int) -> str | None:
        """The text of a key, None when it is no text, which is reported."""
        if event.__class__ is ScalarEvent and event.tag is None and event.anchor is None:
            # Nearly every key; the rest looks like a number or a word of YAML, or is in error.
            text: str = event.value
            if _NAME.match(text) and text not in _WORDS:
                return text
        node = self.node(event, depth)
        if not isinstance(node, Scalar):
            self.report(f"a key must be text, not {described(node)}", node.place)
            return None
        if isinstance(node.value, Broken):
            return None
        if node.text == "<<" and event.implicit[0]:
            self.report("merge keys are not used here; write the keys out", node.place)
            return None
        if not isinstance(node.value, str):
            quoted = f"; put it in quotes: '{node.text}'" if node.text else ""
            self.report(f"a key must be text, got {described(node)}{quoted}", node.place)
            return None
        return node.value

    def refused(self, event: Any, depth: int) -> Scalar:
        """Report an alias, anchor or tag, read past what it stands on, return a broken value."""
        place = self.place(event)
        if isinstance(event, AliasEvent):
            self.report(f"the alias *{event.anchor} is not used here; write the value out", place)
            return Scalar(Broken.BROKEN, place, "")
        if event.anchor is not None:
            self.report(f"the anchor &{event.anchor} is not used here; write values out", place)
            event.anchor = None
        if event.tag is not None:
            self.report(f"the tag {event.tag} is not used here; write the bare value", place)
            event.tag = None
        self.node(event, depth)
        return Scalar(Broken.BROKEN, place, "")

    def place(self, event: Any) -> Place:
        """Where an event begins."""
        mark = event.start_mark
        return Place(self.file, mark.line + 1, mark.column + 1)

    def report(self, message: str, place: Place) -> None:
        """Note a problem at a place, under the path being read."""
        self.problems.append(Problem(message=message, path=".".join(self.path), place=place))
