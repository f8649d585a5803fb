"""Tables on disk: each file appears whole or not at all."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Sequence
from pathlib import Path


def write_rows(path: Path, head: Sequence[str], rows: Iterable[Sequence[object]]) -> Path:
    """Write a table as CSV and return its path. The file appears whole or not at all.

    The cell of what is not a number is empty.
    """
    part = path.with_name(path.name + ".part")
    with part.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(head)
        writer.writerows([_cell(value) for value in row] for row in rows)
    return part.replace(path)


def _cell(value: object) -> object:
    return "" if isinstance(value, float) and math.isnan(value) else value
