"""Files with many mistakes, and every word of what is said about them."""

from __future__ import annotations

from pathlib import Path

import pytest

import thermnet
from tests.text.toy import SECTIONS, Top
from thermnet.errors import InputError
from thermnet.text.bind import bind
from thermnet.text.tree import compose

FOLDER = Path(__file__).parent / "toy"
MODELS = Path(__file__).parent / "model"


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


@pytest.mark.parametrize("path", sorted(MODELS.glob("*.yaml")), ids=lambda path: path.stem)
def test_every_mistake_of_a_bad_model_is_told_in_these_words(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(MODELS)
    with pytest.raises(InputError) as caught:
        thermnet.load(path.name)
    assert f"{caught.value}\n" == path.with_suffix(".txt").read_text(encoding="utf-8")


def test_all_mistakes_of_a_model_are_told_at_once_by_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(MODELS)
    with pytest.raises(InputError) as caught:
        thermnet.load("wrong_dimensions.yaml")
    lines = [problem.place.line for problem in caught.value.problems if problem.place is not None]
    assert lines == [3, 4, 8, 10, 12, 14, 16, 16, 18]


def test_nothing_in_a_model_runs_code() -> None:
    with pytest.raises(InputError):
        thermnet.load(MODELS / "runs_code.yaml")
    assert not Path("was_here").exists()
    assert not (MODELS / "was_here").exists()
