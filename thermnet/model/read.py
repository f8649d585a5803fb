"""From a file to a model, with every problem in it reported at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from thermnet.errors import InputError, Problem
from thermnet.model.assemble import problems_of_cases
from thermnet.model.failures import problems_of_failures
from thermnet.model.kinds import SECTIONS, TABLES
from thermnet.model.kinds.interface import COUNTS, Interface, joined
from thermnet.model.kinds.part import RULES
from thermnet.model.kinds.settings import Settings
from thermnet.model.model import Model
from thermnet.text.bind import bind
from thermnet.text.collector import collector_paused
from thermnet.text.fields import Entry
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
        parts=RULES,
        counts=COUNTS,
        folder=folder,
        sources=sources,
    )
    found = {(problem.message, problem.place): problem for problem in (*problems, *bound.problems)}
    if found or bound.settings is None:
        raise InputError(found.values())
    model = Model(
        settings=bound.settings,
        sections=_with_joined(bound.sections, bound.brought),
        places=bound.places,
        sources=bound.sources,
        file=file,
        brought=bound.brought,
    )
    later = [*_loose(model), *problems_of_cases(model), *problems_of_failures(model)]
    if later:
        raise InputError(model.located(later))
    return model


def _with_joined(
    sections: Mapping[str, Mapping[str, Entry]], brought: Mapping[str, str]
) -> Mapping[str, Mapping[str, Entry]]:
    """The sections with the interfaces of parts joined to what carries them."""
    found = {
        name: joined(entry)
        if isinstance(entry, Interface) and f"interfaces.{name}" in brought
        else entry
        for name, entry in sections["interfaces"].items()
    }
    return {**sections, "interfaces": found}


def _loose(model: Model) -> Iterator[Problem]:
    """Interfaces of a model that is solved alone, at no temperature."""
    if not model.cases:
        return
    for name, entry in model.entries(Interface, "interfaces").items():
        path = f"interfaces.{name}"
        if entry.temperature is None and path not in model.brought:
            message = (
                "missing key 'temperature': the model has cases of its own, in which nothing "
                "else says how warm the interface is"
            )
            yield Problem(message=message, path=path)
