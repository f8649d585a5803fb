"""Values by path: read them, change them, and apply the changes of a case.

A path is `section.name.key`; its name may hold `*`. Where several paths of one case meet the same
value, the most specific one wins: an exact name before a pattern, then the pattern with more
letters of its own. Two equally specific paths with different values are an error.
"""

from __future__ import annotations

import fnmatch
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from thermnet.errors import InputError, Problem, nearest
from thermnet.model.kinds.case import Case, Offset, Scale
from thermnet.model.model import Change, Model
from thermnet.text.fields import Entry
from thermnet.text.rebind import rebind, unit_of, value_of
from thermnet.units import Scale as TemperatureScale
from thermnet.units import to_difference, to_si

ALL_BOUNDS = "blankets.*.use"
"""The path by which a case says which bound of every blanket counts."""


def value(model: Model, path: str) -> Any:
    """The value at a path, SI and kelvin. Raises InputError with the nearest valid path."""
    section, name, below = _split(model, path)
    return value_of(model.sections[section][name], below)


def unit(model: Model, path: str) -> str:
    """The SI unit of the value at a path, "" for none."""
    section, name, below = _split(model, path)
    return unit_of(type(model.sections[section][name]), below)


def vary(model: Model, changes: Mapping[str, Any]) -> Model:
    """The model with other values at some paths; everything else is shared with the old one.

    Numbers are in SI units and kelvin; text may carry a unit (`"0.8 W/K"`, `"20 degC"`). A mapping
    `{"scale": 1.1}` or `{"offset": 5.0}` changes the value that is there. Paths may hold `*`.
    Raises InputError for a path that leads nowhere or a value that the key does not take.
    """
    if ALL_BOUNDS in changes and model.paired:
        message = "there are cases at both bounds of their blankets: change them one by one"
        raise InputError([Problem(message=message, path=ALL_BOUNDS)])
    changed = _changed(model, dict(changes), by="override", temperatures="K")
    done = tuple((path, _plain(changes[path])) for path in changes)
    written = model.sections if model.written is None else model.written
    return replace(changed, overrides=(*model.overrides, done), written=written)


def apply_case(model: Model, case: str) -> Model:
    """The model with a case's values in place, those of the cases that it extends first.

    It begins with what the file says, so that nothing is scaled twice. Overrides of the caller
    come last and stand above those of a case. Raises InputError.
    """
    if case not in model.sections["cases"]:
        message = f"unknown case '{case}'{nearest(case, model.cases)}"
        raise InputError([Problem(message=message)])
    if case in model.paired:
        first, second = model.paired[case].values()
        message = f"case '{case}' is solved at both bounds: name '{first}' or '{second}'"
        raise InputError([Problem(message=message)])
    written = model.sections if model.written is None else model.written
    applied = replace(model, sections=written, changes=())
    for name in lineage(model, case):
        entry = case_of(model, name)
        bound = _bound(model, case, name)
        by, scale = f"cases.{name}.set", model.settings.temperatures
        try:
            applied = _changed(applied, {**bound, **entry.set}, by=by, temperatures=scale)
        except InputError as error:
            written_as = {f"{by}.{path}": f"cases.{name}.blankets" for path in bound}
            moved = (_moved(problem, written_as) for problem in error.problems)
            raise InputError(model.located(moved)) from None
    for batch in model.overrides:
        applied = _changed(applied, dict(batch), by="override", temperatures="K")
    return replace(applied, case=case, written=written)


def _bound(model: Model, case: str, name: str) -> dict[str, Any]:
    """What a case does to the bounds of all blankets, as one of those that another case extends.

    Of two cases in the place of one, the bound counts where `both` was said, so that the values
    of the same case stand above it.
    """
    pairs = {each: bound for pair in model.paired.values() for bound, each in pair.items()}
    said: str | None = case_of(model, name).blankets
    if said == "both":
        said = pairs.get(case)
    return {} if said is None or name in pairs else {ALL_BOUNDS: said}


def _moved(problem: Problem, written_as: Mapping[str, str]) -> Problem:
    """A problem at the key by which the file says what a path stands for."""
    path = written_as.get(problem.path)
    return problem if path is None else replace(problem, path=path, place=None, excerpt="")


def lineage(model: Model, case: str) -> tuple[str, ...]:
    """The case and all that it extends, from the first to itself. Raises InputError for a ring."""
    names = [case]
    while (before := case_of(model, names[0]).extends) is not None:
        if before in names:
            ring = " -> ".join([before, *names[: names.index(before) + 1]])
            problem = Problem(message=f"cases extend each other: {ring}", path=f"cases.{case}")
            raise InputError([problem])
        names.insert(0, before)
    return tuple(names)


def case_of(model: Model, case: str) -> Case:
    """The entry of a case as the file has it."""
    return model.entries(Case, "cases")[case]


def _changed(
    model: Model,
    changes: Mapping[str, Any],
    *,
    by: str,
    temperatures: TemperatureScale | None,
) -> Model:
    chosen, problems = _chosen(model, changes, by)
    sections = {section: dict(entries) for section, entries in model.sections.items()}
    by_entry: dict[tuple[str, str], dict[str, str]] = {}
    for path, pattern in chosen.items():
        section, name, below = path.split(".", 2)
        by_entry.setdefault((section, name), {})[below] = pattern
    log: list[Change] = []
    names = model.names()
    for (section, name), patterns in by_entry.items():
        entry = sections[section][name]
        path = f"{section}.{name}"
        wanted: dict[str, Any] = {}
        for below, pattern in patterns.items():
            try:
                wanted[below] = _resolved(entry, below, changes[pattern])
            except InputError as error:
                blamed = {below: pattern}
                problems += [_blamed(problem, by, blamed, path) for problem in error.problems]
        if wanted.keys() != patterns.keys():
            continue
        try:
            new = rebind(entry, wanted, temperatures=temperatures, path=path, names=names)
        except InputError as error:
            problems += [_blamed(problem, by, patterns, path) for problem in error.problems]
            continue
        sections[section][name] = new
        for below, pattern in patterns.items():
            log.append(
                Change(
                    path=f"{section}.{name}.{below}",
                    before=_value_or_none(entry, below),
                    after=_value_or_none(new, below),
                    pattern=pattern,
                    by=by,
                )
            )
    if problems:
        raise InputError(model.located(problems))
    return replace(model, sections=sections, changes=(*model.changes, *log))


def _chosen(
    model: Model, changes: Mapping[str, Any], by: str
) -> tuple[dict[str, str], list[Problem]]:
    """The pattern that wins at each path that any pattern meets."""
    chosen: dict[str, str] = {}
    problems: list[Problem] = []
    for pattern in changes:
        paths, problem = _matches(model, pattern)
        if problem is not None:
            problems.append(replace(problem, path=_written_at(by, pattern)))
        for path in paths:
            rival = chosen.get(path)
            if rival is None or _specific(pattern) > _specific(rival):
                chosen[path] = pattern
            elif _specific(pattern) == _specific(rival) and changes[pattern] != changes[rival]:
                message = f"as specific as '{rival}', and they differ at '{path}'; drop one"
                problems.append(Problem(message=message, path=_written_at(by, pattern)))
    return chosen, problems


def _matches(model: Model, pattern: str) -> tuple[list[str], Problem | None]:
    parts = pattern.split(".", 2)
    section = parts[0]
    if len(parts) < 3:
        message = f"expected a path 'section.name.key', got '{pattern}'"
        return [], Problem(message=message)
    if section not in model.sections or section == "cases":
        known = [each for each in model.sections if each != "cases"]
        message = f"unknown section '{section}'{nearest(section, known)}"
        if section == "cases":
            message = "cases cannot be changed by path: choose one with --case"
        return [], Problem(message=message)
    entries, (_, name, below) = model.sections[section], parts
    if "*" not in name:
        if name not in entries:
            hint = nearest(name, entries)
            return [], Problem(message=f"unknown entry '{name}' in {section}{hint}")
        return [pattern], None
    expression = name.replace("[", "[[]").replace("?", "[?]")
    met = [each for each in entries if fnmatch.fnmatchcase(each, expression)]
    # A pattern changes what is there: a surface without sunlight has no sunlight to scale.
    found = [each for each in met if _value_or_none(entries[each], below) is not None]
    if not found:
        return [], Problem(message=f"'{pattern}' meets nothing")
    return [f"{section}.{each}.{below}" for each in found], None


def _specific(pattern: str) -> tuple[bool, int]:
    return "*" not in pattern, len(pattern.replace("*", ""))


def _resolved(entry: Entry, below: str, wanted: Any) -> Any:
    """The new value: given, or the old one scaled or offset. Raises InputError."""
    unit = unit_of(type(entry), below)
    if isinstance(wanted, Mapping):
        wanted = _change(dict(wanted), below)
    if not isinstance(wanted, Scale | Offset):
        return wanted
    old = value_of(entry, below)
    if isinstance(old, bool) or not isinstance(old, int | float):
        raise InputError([Problem(message="only a number can be scaled or offset", path=below)])
    if isinstance(wanted, Scale):
        new = float(old) * wanted.scale
    else:
        new = float(old) + _offset(wanted, unit, below)
    # As text with its unit, so that no scale of bare temperatures is applied to it again.
    return f"{new!r} {unit}" if unit == "K" else new


def _change(wanted: dict[str, Any], below: str) -> Scale | Offset:
    """A change as a caller writes it, `{"scale": 1.1}` or `{"offset": 5.0}`."""
    try:
        return (Scale if "scale" in wanted else Offset).model_validate(wanted)
    except ValueError:
        message = f"expected {{'scale': number}} or {{'offset': value}}, got {wanted}"
        raise InputError([Problem(message=message, path=below)]) from None


def _offset(wanted: Offset, unit: str, below: str) -> float:
    """An offset in the SI unit of what it is added to."""
    offset: Any = wanted.offset
    try:
        return to_difference(offset) if unit == "K" else to_si(offset, unit)
    except ValueError as error:
        raise InputError([Problem(message=str(error), path=below)]) from None


def _blamed(problem: Problem, by: str, patterns: Mapping[str, str], entry: str) -> Problem:
    """Put the blame for a refused value on the override that brought it."""
    below = problem.path.removeprefix(f"{entry}.")
    pattern = patterns.get(below) or next(
        (each for key, each in patterns.items() if below.startswith(f"{key}.")),
        next(iter(patterns.values())),
    )
    at = f" (at '{problem.path}')" if "*" in pattern else ""
    return Problem(message=f"{problem.message}{at}", path=_written_at(by, pattern))


def _written_at(by: str, pattern: str) -> str:
    return pattern if by == "override" else f"{by}.{pattern}"


def _value_or_none(entry: Entry, below: str) -> Any:
    try:
        return value_of(entry, below)
    except InputError:
        return None


def _split(model: Model, path: str) -> tuple[str, str, str]:
    paths, problem = _matches(model, path)
    if problem is not None or "*" in path:
        raise InputError([problem or Problem(message=f"'{path}' names more than one value")])
    section, name, below = paths[0].split(".", 2)
    return section, name, below


def _plain(value: Any) -> Any:
    return dict(value) if isinstance(value, Mapping) else value
