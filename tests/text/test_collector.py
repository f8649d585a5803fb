"""The garbage collector is paused while a file is read, and is as it was afterwards."""

from __future__ import annotations

import gc
from pathlib import Path

import pytest

from tests.model.small import SMALL, read
from thermnet.errors import InputError
from thermnet.model import read as reader
from thermnet.text.collector import collector_paused


def test_the_collector_rests_inside_and_works_again_afterwards() -> None:
    assert gc.isenabled()
    with collector_paused(), collector_paused():
        assert not gc.isenabled()
    assert gc.isenabled()


def test_a_collector_that_was_off_stays_off() -> None:
    gc.disable()
    try:
        with collector_paused():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()


def test_the_collector_rests_until_the_cases_are_assembled(monkeypatch: pytest.MonkeyPatch) -> None:
    seen = []

    def problems_of_cases(_: object) -> list[object]:
        seen.append(gc.isenabled())
        return []

    monkeypatch.setattr(reader, "problems_of_cases", problems_of_cases)
    read(SMALL)
    assert seen == [False]


@pytest.mark.parametrize("text", ["a: [1", "thermnet: 1\nnodes: {a: {}}\n", ""])
def test_the_collector_works_again_after_a_bad_file(text: str, tmp_path: Path) -> None:
    path = tmp_path / "bad.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError):
        reader.load(path)
    assert gc.isenabled()
