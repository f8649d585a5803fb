"""The command `enclosures`: how view factors keep to the rules, and what they make."""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from thermnet.cli.inputs import chosen_cases, loaded
from thermnet.cli.outputs import tell
from thermnet.cli.status import HOLDS
from thermnet.cli.tables import grid
from thermnet.enclosures import EnclosureTable, enclosure_table
from thermnet.errors import InputError, Problem
from thermnet.files import write_rows
from thermnet.model.paths import apply_case
from thermnet.text.tables import counted

MOST_FACES = 40
"""Faces that are all listed; of more only those whose views are off the most."""

ROUNDING = 1e-9
"""Error of a view factor below which rules hold as well as numbers of a computer can."""

FACES = ["face", "node", "area m2", "emittance", "sum of views", "exchange m2"]
PAIRS = ["face", "and", "exchange area m2"]

HEADS = ["case", "enclosure", "first", "second", "exchange_area"]


def enclosures(options: argparse.Namespace) -> int:
    """Print the enclosures of a model as each case has them."""
    model = loaded(options.model, options.changes)
    if not model.sections["enclosures"]:
        raise InputError([Problem(message=f"{model.file}: the model has no enclosures")])
    cases = chosen_cases(model, options.case)
    found = {case: enclosure_table(apply_case(model, case)) for case in model.solved_as(cases)}
    if options.json:
        print(json.dumps([_data(model.name, *each) for each in found.items()], indent=1))
    else:
        print("\n\n".join(_texts(found)))
    if options.out:
        folder = Path(options.out)
        folder.mkdir(parents=True, exist_ok=True)
        rows = (
            [case, table.name, table.faces[i].face, table.faces[j].face, area]
            for case, tables in found.items()
            for table in tables
            for i, j, area in zip(table.first, table.second, table.area.tolist(), strict=True)
        )
        tell(write_rows(folder / "enclosures.csv", HEADS, rows))
    return HOLDS


def _texts(found: dict[str, tuple[EnclosureTable, ...]]) -> list[str]:
    """Each enclosure once for all cases in which it is the same."""
    told: dict[str, list[str]] = {}
    for case, tables in found.items():
        for table in tables:
            told.setdefault(_text(table), []).append(case)
    return [
        text.replace("\n", f" in {', '.join(cases)}\n", 1) if len(cases) < len(found) else text
        for text, cases in told.items()
    ]


def _text(table: EnclosureTable) -> str:
    faces = table.faces
    if len(faces) > MOST_FACES:
        faces = tuple(sorted(faces, key=lambda face: -abs(face.closure - 1.0)))[:MOST_FACES]
    rows = [
        [face.face, face.node or "re-radiates", f"{face.area:.4g}", f"{face.emittance:.3g}"]
        + [f"{face.closure:.6f}", f"{face.exchange:.4g}"]
        for face in faces
    ]
    lines = [f"enclosure {table.name}", grid(FACES, rows)]
    if left := len(table.faces) - len(faces):
        lines.append(f"and {left} faces whose views are off less")
    lines += [*_measures(table), counted(len(table.area), "coupling")]
    if len(table.area) <= MOST_FACES:
        pairs = zip(table.first, table.second, table.area.tolist(), strict=True)
        named = [[table.faces[i].face, table.faces[j].face, f"{area:.6g}"] for i, j, area in pairs]
        lines.append(grid(PAIRS, named))
    return "\n".join(lines)


def _measures(table: EnclosureTable) -> list[str]:
    closure = "all faces close to within rounding"
    if abs(table.lacking) > ROUNDING:
        closure = f"off by {abs(table.lacking):.2g} at most, '{table.lacking_at}'"
    lines = [f"closure: {closure}"]
    missed = "no pair stated both ways is off"
    if table.missed > ROUNDING:
        missed = f"off by {table.missed:.2g} at most, {_between(table.missed_at)}"
    lines.append(f"reciprocity: {missed}")
    if table.repair:
        lines.append(
            f"repaired: a view factor changed by {table.moved:.2g} at most, "
            f"{_between(table.moved_at)}, and by {100.0 * table.moved_share:.3g} % at most"
        )
    return lines


def _between(pair: tuple[str, str]) -> str:
    return f"'{pair[0]}' and '{pair[1]}'" if pair[0] else "no pair"


def _data(model: str, case: str, tables: Sequence[EnclosureTable]) -> dict[str, Any]:
    """The enclosures of a case for programs: SI."""
    return {
        "model": model,
        "case": case,
        "enclosures": [
            {
                "enclosure": table.name,
                "faces": [
                    {
                        "face": face.face,
                        "node": face.node or None,
                        "area": face.area,
                        "emittance": face.emittance,
                        "sum_of_views": face.closure,
                        "exchange_area": face.exchange,
                    }
                    for face in table.faces
                ],
                "closure": {"off": table.lacking, "face": table.lacking_at},
                "reciprocity": {"off": table.missed, "faces": list(table.missed_at)},
                "repair": None
                if math.isnan(table.moved)
                else {
                    "most": table.moved,
                    "faces": list(table.moved_at),
                    "most_relative": table.moved_share,
                },
                "couplings": len(table.area),
            }
            for table in tables
        ],
    }
