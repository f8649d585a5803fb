"""Every mutant of a model file: one key, list item or cell changed in the text, by its position.

Positions come from PyYAML's own composer, so that they do not rest on the reader under test. Rows
of a table are alike, so each column is mutated in one row of each table.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import yaml

NINE = (
    "drop",
    "misspell",
    "wrong unit",
    "wrong type",
    "sign",
    "NaN",
    "dangling name",
    "duplicate",
    "null",
)

SETTINGS = ("uncertainty", "bus_voltage")
"""What stands at the top of a file with keys of its own, which are no entries."""

NUMBER = "0123456789+-."
UNIT_OF_NOTHING = "1 kg"  # no key of the format is a mass
NO_SUCH_NAME = "no such thing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """Text in place of the characters from `start` to before `end` of a file."""

    file: str
    start: int
    end: int
    text: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mutant:
    """One change, and where it must be reported.

    `pattern` is the path with `*` for names and positions. A problem counts when its path is
    `owner` or below and its line holds any of the text from `since` to the end of the edit; for
    a drop the line of `since` alone, which is that of the key that holds what was dropped.
    `place` is the path of the key itself.
    `named` is the (section, name) of an entry that is dropped or gets another name.
    """

    mutation: str
    pattern: str
    owner: str
    edit: Edit
    since: int
    place: tuple[str, ...] = ()
    named: tuple[str, str] | None = None

    def __str__(self) -> str:
        return f"{self.mutation} {self.pattern} at {self.edit.file}[{self.edit.start}]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A key with its value, or a list item (`key` is None), and how it stands in its container."""

    file: str
    path: tuple[str, ...]
    key: tuple[int, int] | None
    value: tuple[int, int]
    container: int
    flow: bool
    node: yaml.Node

    @property
    def start(self) -> int:
        return self.value[0] if self.key is None else self.key[0]


def sources_of(model: Path) -> dict[str, str]:
    """The texts of a model and of all files beside it, by the names that problems give them."""
    beside = sorted(model.parent.rglob("*.csv"))
    return {str(path): path.read_text(encoding="utf-8") for path in (model, *beside)}


def mutants_of(model: Path, sources: dict[str, str]) -> list[Mutant]:
    """Every mutant of a model and its side files."""
    file = str(model)
    root = yaml.compose(sources[file], Loader=yaml.SafeLoader)
    assert isinstance(root, yaml.MappingNode)
    found: list[Mutant] = []
    for spot in spots(root, sources[file], file, (), 0):
        found += mutants_of_spot(spot, sources[file])
        if spot.path[-1] == "table":
            found += mutants_of_table(spot, sources, model)
    return found


def spots(
    node: yaml.Node, text: str, file: str, path: tuple[str, ...], container: int
) -> Iterator[Spot]:
    """Every key and list item below a node."""
    if isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            spot = Spot(
                file=file,
                path=(*path, key.value),
                key=span(key, text),
                value=span(value, text),
                container=container,
                flow=bool(node.flow_style),
                node=value,
            )
            yield spot
            yield from spots(value, text, file, spot.path, spot.start)
    elif isinstance(node, yaml.SequenceNode):
        for position, item in enumerate(node.value):
            below = (*path, str(position))
            yield Spot(
                file=file,
                path=below,
                key=None,
                value=span(item, text),
                container=container,
                flow=bool(node.flow_style),
                node=item,
            )
            yield from spots(item, text, file, below, container)


def span(node: yaml.Node, text: str) -> tuple[int, int]:
    """First and last offset of a node, without the space and remarks behind it."""
    start: int = node.start_mark.index
    end: int = node.end_mark.index
    if isinstance(node, yaml.MappingNode) and not node.flow_style:
        end = span(node.value[-1][1], text)[1]
    return start, start + len(text[start:end].rstrip())


def pattern_of(path: Sequence[str]) -> str:
    """A path with `*` for what the user names: entries, positions, entries in overrides."""
    keys = ["*" if key.isdecimal() else key for key in path]
    if len(keys) > 1 and keys[0] not in SETTINGS:
        keys[1] = "*" if keys[1] != "table" else keys[1]
    if keys[0] == "cases" and len(keys) > 3 and keys[2] == "set":
        section, _, below = keys[3].split(".", 2)
        keys[3] = f"{section}.*.{below}"
    return ".".join(keys)


def owner_of(path: Sequence[str]) -> str:
    """The path at or below which a mutant of a path is reported."""
    if path[0] == "cases" and len(path) > 3 and path[2] == "set":
        return ".".join(path[:4])
    return path[0] if path[0] in SETTINGS or path[1:] == ("table",) else ".".join(path[:2])


def mutants_of_spot(spot: Spot, text: str) -> Iterator[Mutant]:
    """The mutations of a key or a list item."""
    owner = owner_of(spot.path[:-1] or spot.path)
    in_section = len(spot.path) == 2 and spot.path[0] not in SETTINGS
    entry = (spot.path[0], spot.path[1]) if in_section and spot.path[1] != "table" else None
    as_key = Mutant(
        mutation="",
        pattern=pattern_of(spot.path),
        # An unknown key, or one given twice, is reported at its holder or under its own name.
        owner="" if len(spot.path) == 1 else owner,
        edit=Edit(file=spot.file, start=spot.start, end=spot.value[1], text=""),
        since=spot.start,
        place=spot.path,
    )
    dropped = as_key.edit
    if spot.flow:
        dropped = without_comma(dropped, text)
    yield replace(as_key, mutation="drop", edit=dropped, since=spot.container, named=entry)
    if spot.key is not None:
        middle = (spot.key[0] + spot.key[1]) // 2
        inserted = replace(as_key.edit, start=middle, end=middle, text="x")
        yield replace(as_key, mutation="misspell", edit=inserted, named=entry)
    again = text[spot.start : spot.value[1]]
    column = spot.start - (text.rfind("\n", 0, spot.start) + 1)
    between = ", " if spot.flow else "\n" + " " * column
    end = spot.value[1]
    copied = replace(as_key.edit, start=end, end=end, text=between + again)
    yield replace(as_key, mutation="duplicate", edit=copied)
    for mutation, value in other_values(spot.node):
        edit = replace(as_key.edit, start=spot.value[0], end=end, text=value)
        own = owner_of(spot.path)
        yield replace(as_key, mutation=mutation, owner=own, edit=edit)


def without_comma(edit: Edit, text: str) -> Edit:
    """An edit that also takes the comma behind, or else the one before."""
    after = text[edit.end :]
    if after.lstrip().startswith(","):
        return replace(edit, end=edit.end + after.index(",") + 1)
    before = text[: edit.start].rstrip()
    return replace(edit, start=len(before) - 1) if before.endswith(",") else edit


def other_values(node: yaml.Node) -> Iterator[tuple[str, str]]:
    """What each mutation writes in place of a value."""
    yield "wrong unit", UNIT_OF_NOTHING
    yield "NaN", ".nan"
    yield "dangling name", NO_SUCH_NAME
    yield "null", "null"
    if not isinstance(node, yaml.ScalarNode):
        yield "wrong type", "5"
        return
    yield "wrong type", "true" if node.value[:1] in NUMBER else "[1, 2]"
    if node.style is None:
        yield "sign", node.value[1:] if node.value.startswith("-") else f"-{node.value}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A cell of a table: its text and where that stands; `line` is where its line stands."""

    text: str
    start: int
    line: tuple[int, int]

    @property
    def end(self) -> int:
        return self.start + len(self.text)


def mutants_of_table(spot: Spot, sources: dict[str, str], model: Path) -> Iterator[Mutant]:
    """The mutations of a head row, and of one cell in each column."""
    if isinstance(spot.node, yaml.ScalarNode) and spot.node.style == "|":
        file, first = spot.file, sources[spot.file].index("\n", spot.value[0]) + 1
        end = spot.value[1]
    else:
        file, first = str(model.parent / str(spot.node.value)), 0
        end = len(sources[file])
    head, *rows = rows_of(sources[file], first, end)
    heads = [cell.text.partition(" [")[0] for cell in head]
    of_section = len(spot.path) == 2
    owner = ".".join(spot.path[:-1])
    stem = f"{owner}.*" if of_section else pattern_of(spot.path[:-1])
    taken: set[int] = set()
    for position, key in enumerate(heads):
        pattern = f"{stem}.{key}" if of_section else f"{stem}.{key}.*"
        yield from mutants_of_head(head, position, key, f"{pattern} (head)", owner, file)
        row = chosen(rows, position, taken)
        taken.add(row)
        entry = name_of_row(heads, rows[row], owner) if of_section else owner
        yield from mutants_of_cell(rows[row], position, pattern, entry, owner, file)


def mutants_of_head(
    head: list[Cell], position: int, key: str, pattern: str, owner: str, file: str
) -> Iterator[Mutant]:
    """The mutations of one cell of a head row; what is dropped there moves every column."""
    cell, other = head[position], head[position - 1]
    middle = cell.start + len(key) // 2
    changes = {
        "misspell": Edit(file=file, start=middle, end=middle, text="x"),
        "null": Edit(file=file, start=cell.start, end=cell.end, text="null"),
        "duplicate": Edit(file=file, start=other.start, end=other.end, text=cell.text),
    }
    if cell.text != key:
        text = f"{key} [kg]"
        changes["wrong unit"] = Edit(file=file, start=cell.start, end=cell.end, text=text)
    for mutation, edit in changes.items():
        yield Mutant(mutation=mutation, pattern=pattern, owner=owner, edit=edit, since=cell.line[0])


def mutants_of_cell(
    row: list[Cell], position: int, pattern: str, entry: str, table: str, file: str
) -> Iterator[Mutant]:
    """The mutations of one cell; those of its row for the first column."""
    cell = row[position]
    names = pattern.endswith(".name")
    value = Mutant(
        mutation="",
        pattern=pattern,
        # The name of an entry is what its path is made of, and so are two ends.
        owner=table if names or pattern.endswith((".from", ".to")) else entry,
        edit=Edit(file=file, start=cell.start, end=cell.end, text=""),
        since=cell.line[0],
    )
    named = (table, cell.text) if names else None
    if not names:
        yield replace(value, mutation="drop")
    else:
        whole = Edit(file=file, start=cell.line[0], end=cell.line[1], text="")
        yield replace(value, mutation="drop", edit=whole, named=named)
        middle = (cell.start + cell.end) // 2
        misspelt = replace(value.edit, start=middle, end=middle, text="x")
        yield replace(value, mutation="misspell", edit=misspelt, named=named)
    if position == 0:
        line = "\n" + cell_line(row)
        twice = Edit(file=file, start=cell.line[1], end=cell.line[1], text=line)
        yield replace(value, mutation="duplicate", edit=twice, owner=table)
    texts = {
        "wrong unit": UNIT_OF_NOTHING,
        "wrong type": "true" if cell.text[:1] in NUMBER else "12",
        "sign": cell.text[1:] if cell.text.startswith("-") else f"-{cell.text}",
        "NaN": ".nan",
        "dangling name": NO_SUCH_NAME,
        "null": "null",
    }
    for mutation, text in texts.items():
        renamed = named if mutation in ("wrong unit", "sign", "dangling name") else None
        edit = replace(value.edit, text=text)
        yield replace(value, mutation=mutation, edit=edit, named=renamed)


def cell_line(row: list[Cell]) -> str:
    """A row written out again, indented as it was."""
    indent = row[0].start - row[0].line[0]
    return " " * indent + ", ".join(cell.text for cell in row)


def rows_of(text: str, start: int, end: int) -> list[list[Cell]]:
    """The cells of each line of a table; a quoted cell keeps its quotes."""
    rows = []
    for line in text[start:end].split("\n"):
        if line.strip():
            rows.append(list(cells_of(line, start)))
        start += len(line) + 1
    return rows


def cells_of(line: str, offset: int) -> Iterator[Cell]:
    begin, quoted = 0, False
    for at, character in enumerate(f"{line},"):
        quoted = quoted != (character == '"')
        if character == "," and not quoted:
            part = line[begin:at]
            start = offset + begin + len(part) - len(part.lstrip())
            yield Cell(text=part.strip(), start=start, line=(offset, offset + len(line)))
            begin = at + 1


def chosen(rows: list[list[Cell]], position: int, taken: set[int]) -> int:
    """A row with something in a column, one of its own for each column where there are enough."""
    filled = [k for k, row in enumerate(rows) if row[position].text]
    return next((k for k in filled if k not in taken), filled[0])


def name_of_row(heads: list[str], row: list[Cell], section: str) -> str:
    """The path of the entry that a row becomes."""
    cells = {head: cell.text for head, cell in zip(heads, row, strict=True)}
    return f"{section}.{cells['name'] if 'name' in cells else default_name(cells)}"


def default_name(cells: dict[str, str]) -> str:
    return f"{cells['from']} – {cells['to']}"
