"""Files with many mistakes, and every word of what is said about them."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.text.toy import SECTIONS, Top
from thermnet.errors import InputError
from thermnet.text.bind import bind
from thermnet.text.tree import compose

FOLDER = Path(__file__).parent / "toy"


def told(path: Path) -> str:
    """All that is said about a file, as a user reads it."""
    text = path.read_text(encoding="utf-8")
    root, problems = compose(text, path.name)
    if root is not None:
        sources = {path.name: text}
        bound = bind(root, settings=Top, sections=SECTIONS, folder=path.parent, sources=sources)
        problems = (*problems, *bound.problems)
    return f"{InputError(problems)}\n"


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.yaml")), ids=lambda path: path.stem)
def test_every_mistake_of_a_bad_file_is_told_in_these_words(path: Path) -> None:
    assert told(path) == path.with_suffix(".txt").read_text(encoding="utf-8")
