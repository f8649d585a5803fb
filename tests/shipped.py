"""The cases that are shipped, by what stands in their files: nothing of them is read as a model."""

from __future__ import annotations

from pathlib import Path

import yaml

FOLDERS = sorted(path.parent for path in (Path(__file__).parents[1] / "cases").glob("*/model.yaml"))
LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


def cases() -> list[tuple[str, str]]:
    """Folder and case, of every case of every folder."""
    found = []
    for folder in FOLDERS:
        model = yaml.load((folder / "model.yaml").read_text("utf-8"), LOADER)
        found += [(folder.name, case) for case in model["cases"]]
    return found
