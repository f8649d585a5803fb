"""Tables on disk."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from thermnet.files import write_rows


def test_what_is_not_a_number_has_an_empty_cell(tmp_path: Path) -> None:
    rows = [["a", float("nan"), 1.5], ["nan", np.float64("nan"), np.float64(2.0)]]
    path = write_rows(tmp_path / "table.csv", ["name", "x", "y"], rows)
    # A name stays as it is.
    assert path.read_text(encoding="utf-8").split() == ["name,x,y", "a,,1.5", "nan,,2.0"]
