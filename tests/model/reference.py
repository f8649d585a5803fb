"""The reference of the model file, as `docs/reference` has it, from the kinds themselves."""

from __future__ import annotations

import json
from pathlib import Path

from thermnet.model.kinds import SECTIONS, TABLES
from thermnet.model.kinds.settings import Settings
from thermnet.text.schema import json_schema, reference

FOLDER = Path(__file__).parents[2] / "docs" / "reference"
PAGE = FOLDER / "model-file.md"
SCHEMA = FOLDER / "model-file.schema.json"

HEAD = (
    "<!-- Made from thermnet/model/kinds; after a change there, run at the root of the repository\n"
    'python -c "from tests.model.reference import write; write()" -->\n'
    "\n"
    "# The model file\n"
    "\n"
    "Every key of a model file (format 1). A number may carry any unit of the same dimension; "
    "without one it is in the unit given here. A bare temperature needs `temperatures` at the top "
    "of the file. Any section may instead, or as well, hold a `table`: rows after `table: |`, or "
    "the name of a CSV file beside the model, whose head row names keys, perhaps with a unit "
    "(`conductance [W/K]`). Under an entry of `nodes`, `links`, `radiation` or `loads` a table is "
    "one entry with one path, for thousands of rows ([big models](../how-to/big-models.md)). "
    "Editors that know JSON Schema can check a file as it is typed against "
    "[model-file.schema.json](model-file.schema.json); `thermnet check` knows more.\n"
    "\n"
)


def page() -> str:
    """The page in Markdown."""
    return HEAD + reference(Settings, SECTIONS, TABLES).rstrip() + "\n"


def schema() -> str:
    """The JSON Schema as text."""
    return json.dumps(json_schema(Settings, SECTIONS, TABLES), indent=1, ensure_ascii=False) + "\n"


def write() -> None:
    """Write both files."""
    PAGE.write_text(page(), encoding="utf-8")
    SCHEMA.write_text(schema(), encoding="utf-8")
