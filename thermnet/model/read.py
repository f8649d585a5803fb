"""From a file to a model, with every problem in it reported at once."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from thermnet.errors import InputError, Problem
from thermnet.model.assemble import problems_of_cases
from thermnet.model.kinds import SECTIONS, TABLES
from thermnet.model.kinds.settings import Settings
from thermnet.model.model import Model
from thermnet.text.bind import bind
from thermnet.text.collector import collector_paused
from thermnet.text.tree import compose, decode


def load(file: str | Path) -> Model:
    """Read a model file with its side files.

    Raises InputError with every problem in it, cases included, sorted by place; OSError when the
    file cannot be read.
    """
    path = Path(file)
    text = decode(path.read_bytes(), str(path))
    if isinstance(text, Problem):
        raise InputError([text])
    return parse({str(path): text}, str(path), folder=path.parent)


def parse(sources: Mapping[str, str], file: str, *, folder: Path | None = None) -> Model:
    """Read a model from texts by file name; side files among them are not read from disk.

    Raises InputError as `load` does.
    """
    with collector_paused():
        return _parse(sources, file, folder)


def _parse(sources: Mapping[str, str], file: str, folder: Path | None) -> Model:
    root, problems = compose(sources[file], file)
    if root is None:
        raise InputError(problems)
    bound = bind(
        root,
        settings=Settings,
        sections=SECTIONS,
        tables=TABLES,
        folder=folder,
        sources=sources,
    )
    found = {(problem.message, problem.place): problem for problem in (*problems, *bound.problems)}
    if found or bound.settings is None:
        raise InputError(found.values())
    model = Model(
        settings=bound.settings,
        sections=bound.sections,
        places=bound.places,
        sources=bound.sources,
        file=file,
    )
    later = problems_of_cases(model)
    if later:
        raise InputError(model.located(later))
    return model
