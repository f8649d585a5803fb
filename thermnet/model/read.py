"""From a file to a model, with every problem in it reported at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from thermnet.errors import InputError, Problem
from thermnet.model.assemble import problems_of_cases
from thermnet.model.bounds import with_bounds
from thermnet.model.failures import problems_of_failures
from thermnet.model.kinds import SECTIONS, TABLES, battery, interface, limit
from thermnet.model.kinds.battery import Battery
from thermnet.model.kinds.interface import COUNTS, Interface
from thermnet.model.kinds.limit import Limit
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
    sections, faults = _within_host(bound.sections, bound.brought)
    model = Model(
        settings=bound.settings,
        sections=sections,
        places=bound.places,
        sources=bound.sources,
        file=file,
        brought=bound.brought,
        scales=bound.scales,
    )
    if faults:
        raise InputError(model.located(faults))
    model = with_bounds(model)
    later = [*_loose(model), *problems_of_cases(model), *problems_of_failures(model)]
    if later:
        raise InputError(model.located(later))
    return model


def _within_host(
    sections: Mapping[str, Mapping[str, Entry]], brought: Mapping[str, str]
) -> tuple[Mapping[str, Mapping[str, Entry]], list[Problem]]:
    """The sections with the entries of parts as they are within their host, and what is wrong.

    Interfaces are joined to what carries them; what goes for all units or heaters where a model
    is solved alone goes for those of the part.
    """
    changed: dict[str, dict[str, Entry]] = {}
    problems: list[Problem] = []
    for path, part in brought.items():
        section, name = path.split(".", 1)
        entry = sections[section].get(name)
        if not isinstance(entry, Interface | Limit | Battery):
            continue
        units, heaters = (
            _names_of_part(part, each, sections, brought) for each in ("units", "heaters")
        )
        try:
            changed.setdefault(section, {})[name] = _of_part(entry, units, heaters)
        except ValueError as error:
            problems.append(Problem(message=str(error), path=path))
    return {each: {**found, **changed.get(each, {})} for each, found in sections.items()}, problems


def _of_part(
    entry: Interface | Limit | Battery, units: tuple[str, ...], heaters: tuple[str, ...]
) -> Entry:
    """An entry of a part with these units and heaters as it is within its host."""
    if isinstance(entry, Interface):
        return interface.joined(entry)
    if isinstance(entry, Limit):
        return limit.of_part(entry, heaters)
    return battery.of_part(entry, units, heaters)


def _names_of_part(
    part: str,
    section: str,
    sections: Mapping[str, Mapping[str, Entry]],
    brought: Mapping[str, str],
) -> tuple[str, ...]:
    """The names of a section that a part brought in, with those of its own parts."""
    return tuple(
        name
        for name in sections[section]
        if f"{brought.get(f'{section}.{name}', '')}/".startswith(f"{part}/")
    )


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
