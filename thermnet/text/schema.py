"""The file's form for editors and readers: its JSON Schema, and tables of every key."""

from __future__ import annotations

import inspect
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from pydantic.json_schema import models_json_schema

from thermnet.text import shapes, tables
from thermnet.text.fields import WITH_UNIT, Entry
from thermnet.text.rows import Columns
from thermnet.text.shapes import ByName, Either, Leaf, Many, Record, Shape

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema(
    settings: type[Entry],
    sections: Mapping[str, type[Entry]],
    whole: Mapping[str, type[Entry]] | None = None,
) -> dict[str, Any]:
    """The JSON Schema (2020-12) of a file with these settings and sections.

    `whole` are the classes of entries that hold a whole table, by section.
    It says less than the reader checks: units, references and what entry classes check across
    keys are beyond it. The keyword `unit` names the SI unit of a bare number.
    """
    of_tables = whole or {}
    kinds = dict.fromkeys([settings, *sections.values(), *of_tables.values()])
    names, found = models_json_schema([(kind, "validation") for kind in kinds])
    definitions: dict[str, Any] = _plain(found["$defs"], names_of_keys=True)
    references = {kind: names[kind, "validation"]["$ref"] for kind in kinds}
    for kind in kinds:
        _allow_table(definitions[references[kind].rpartition("/")[2]], kind)
    top = definitions.pop(references[settings].rpartition("/")[2])
    top["properties"] |= {
        section: {
            "type": "object",
            "propertyNames": {"not": {"pattern": r"[.*]"}},
            "properties": {tables.KEY: _TABLE},
            "additionalProperties": _either(
                references[each] for each in (kind, of_tables.get(section)) if each is not None
            ),
        }
        for section, kind in sections.items()
    }
    definitions[_WITH_UNIT_NAME] = WITH_UNIT
    return {"$schema": DIALECT, **top, "$defs": definitions}


def reference(
    settings: type[Entry],
    sections: Mapping[str, type[Entry]],
    whole: Mapping[str, type[Entry]] | None = None,
) -> str:
    """Markdown tables of every key of a file: value, unit, default, and what it is."""
    parts = [_chapter("Top of the file", settings)]
    for section, kind in sections.items():
        parts.append(_chapter(f"`{section}`", kind))
        if section in (whole or {}):
            parts.append(_chapter(f"`{section}`: a whole table", (whole or {})[section]))
    return "\n".join(parts)


_WITH_UNIT_NAME = "NumberWithUnit"

_TABLE = {
    "type": "string",
    "description": "rows of entries: a block after `|`, or a .csv file beside the model",
}


def _either(references: Iterable[str]) -> dict[str, Any]:
    """The schema of one of several definitions."""
    found = [{"$ref": reference} for reference in references]
    return found[0] if len(found) == 1 else {"anyOf": found}


def _plain(schema: Any, *, names_of_keys: bool = False) -> Any:
    """A schema without made-up titles and without null, which no key of the file may be.

    Where `names_of_keys`, the keys are names of the file and not keywords of the schema.
    """
    if isinstance(schema, list):
        return [_plain(each) for each in schema if each != {"type": "null"}]
    if schema == WITH_UNIT:
        return {"$ref": f"#/$defs/{_WITH_UNIT_NAME}"}
    if not isinstance(schema, dict):
        return schema
    if names_of_keys:
        return {key: _plain(each) for key, each in schema.items()}
    plain = {
        key: each if key == "default" else _plain(each, names_of_keys=key == "properties")
        for key, each in schema.items()
        if key != "title" and not (key == "default" and each is None)
    }
    if len(plain.get("anyOf", ())) == 1:
        plain |= plain.pop("anyOf")[0]
    return plain


def _allow_table(schema: dict[str, Any], kind: type[Entry]) -> None:
    """Let the lists of an entry come from a table instead."""
    lists = [key for key, known in shapes.keys_of(kind).items() if isinstance(known.shape, Many)]
    needed = [key for key in schema.get("required", ()) if key in lists]
    if len(needed) < 2:
        return
    schema["properties"][tables.KEY] = _TABLE
    schema["required"] = [key for key in schema["required"] if key not in lists]
    schema["anyOf"] = [{"required": [tables.KEY]}, {"required": needed}]


def _chapter(title: str, kind: type[Entry]) -> str:
    lines = [f"## {title}", ""]
    if kind.__doc__:
        lines += [inspect.cleandoc(kind.__doc__), ""]
    lines += [
        "| key | value | unit | default | required | description |",
        "|---|---|---|---|---|---|",
        *(_row(path, key) for path, key in _rows(Record(kind), "")),
        "",
    ]
    return "\n".join(lines)


def _rows(shape: Shape, path: str) -> Iterator[tuple[str, shapes.Key]]:
    """Every key at and below a shape, with its path."""
    if isinstance(shape, Record):
        for key, known in shapes.keys_of(shape.entry).items():
            below = f"{path}.{key}" if path else key
            yield below, known
            yield from _rows(known.shape, below)
    elif isinstance(shape, ByName):
        yield from _rows(shape.item, f"{path}.(name)")
    elif isinstance(shape, Many):
        yield from _rows(shape.item, f"{path}.(position)")
    elif isinstance(shape, Leaf) and isinstance(shape.kind, Columns):
        for head, column in shape.kind.columns:
            yield (
                f"{path}, column {head}",
                shapes.Key(
                    attribute=head,
                    shape=Leaf(column.kind),
                    required=column.needed,
                    default=None,
                    description=column.description,
                ),
            )
    elif isinstance(shape, Either):
        for member in shape.members:
            yield from _rows(member, path)


def _row(path: str, key: shapes.Key) -> str:
    cells = (
        f"`{path}`",
        shapes.expected(key.shape),
        shapes.unit_of_shape(key.shape),
        _default(key.default),
        "yes" if key.required else "",
        key.description,
    )
    return f"| {' | '.join(cell.replace('|', '&#124;') for cell in cells)} |"


def _default(value: object) -> str:
    """A default as the file would say it; "" for none and for what further rows tell."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return f"{value:g}"
    return value if isinstance(value, str) else ""
