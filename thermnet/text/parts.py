"""Files brought into another as parts: all that they name is called `part/name` from then on.

What a part refers to within itself is renamed with it, by the annotations of the entry classes;
places stay those of the part's own file.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from thermnet.errors import Place, Problem
from thermnet.text import shapes, tree
from thermnet.text.explain import fault_of_name
from thermnet.text.fields import Entry, singular
from thermnet.text.opening import Brought, Opened, scale_of
from thermnet.text.renaming import Names, renamed, renamed_rows
from thermnet.text.tree import Node, Scalar, compose

DEEPEST = 8
"""Parts within parts; more are rather a folder that leads back into itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """What parts are in a file.

    `section` holds them: each names its file under the key `file`. Entries of the sections `left`
    are not brought in: a part refers to the host's. Of the sections `shared` an entry that the
    host has under the same name is the host's. Of the sections `dispensable` an entry that names
    something of the sections `left` which the host does not have is left out. `paths` are the
    keys, by section, below which keys are paths of values.
    """

    section: str
    left: frozenset[str]
    shared: tuple[str, ...] = ()
    dispensable: frozenset[str] = frozenset()
    paths: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Work:
    """What stays the same for all parts of a file: its form, and the rules of parts."""

    rules: Rules
    settings: type[Entry]
    sections: Mapping[str, type[Entry]]

    @property
    def brought(self) -> dict[str, type[Entry]]:
        """The sections whose entries parts bring in."""
        without = {*self.rules.left, self.rules.section}
        return {name: kind for name, kind in self.sections.items() if name not in without}


def bring_in(
    host: Opened,
    rules: Rules,
    settings: type[Entry],
    sections: Mapping[str, type[Entry]],
) -> None:
    """Bring the parts of an opened file into it: entries, names, whole tables, problems."""
    work = _Work(rules=rules, settings=settings, sections=sections)
    # As they stand now: what parts bring in is no name of the host's own.
    above = {each: {*host.names.get(each, {})} for each in (*rules.left, *rules.shared)}
    _bring_in(work, host, above, (host.files.model,))


def _bring_in(
    work: _Work, host: Opened, above: Mapping[str, Collection[str]], chain: tuple[str, ...]
) -> None:
    """Bring in parts whose host stands at the end of a `chain` of files.

    `above` are the names, by section, that belong to the host or to what it is itself a part of.
    """
    body = host.bodies.get(work.rules.section)
    for name, (place, node) in {} if body is None else body.entries.items():
        part = None
        if not fault_of_name(name) and isinstance(node, tree.Mapping):
            part = _opened(work, host, name, node.entries.get("file"), chain)
        if part is None:  # whose names nobody knows
            of_tables = (f"{singular(each)} tables" for each in work.sections)
            host.unsure |= {*work.sections, *of_tables}
            continue
        below = {
            each: {*names, *part.names.get(each, ())} if each in work.rules.shared else names
            for each, names in above.items()
        }
        _bring_in(work, part, below, (*chain, part.files.model))
        _merge(work, host, part, name, place, above)


def _opened(
    work: _Work,
    host: Opened,
    name: str,
    file: tuple[Place, Node] | None,
    chain: tuple[str, ...],
) -> Opened | None:
    """The file of a part opened, None when it cannot be used, which is reported."""
    if file is None or not isinstance(file[1], Scalar) or not isinstance(file[1].value, str):
        return None  # which is reported with the entry
    written, place = file[1].value, file[1].place
    try:
        root, problems = _root(work, host, written, chain)
    except ValueError as error:
        path = f"{work.rules.section}.{name}.file"
        host.reports.add(Problem(message=str(error), path=path, place=place))
        return None
    for problem in problems:
        host.reports.add(problem)
    part = Opened(
        files=host.files.of_part(written),
        scale=scale_of(root),
        reports=host.reports,
        tables=host.tables,
        counts=host.counts,
    )
    part.check_top(root, work.settings, work.sections)
    part.open_sections(root, {**work.brought, work.rules.section: work.settings})
    part.tops.append(root)
    return part


def _root(
    work: _Work, host: Opened, written: str, chain: tuple[str, ...]
) -> tuple[tree.Mapping, tuple[Problem, ...]]:
    """The tree of a part's file, and what is wrong with its form. Raises ValueError."""
    shown, text = host.files.read(written)
    if shown in chain:
        ring = " -> ".join([*chain[chain.index(shown) :], shown])
        raise ValueError(f"a file cannot be a part of itself: {ring}")
    if len(chain) > DEEPEST:
        raise ValueError(f"parts within parts, more than {DEEPEST} deep")
    root, problems = compose(text, shown)
    if root is None:
        raise ValueError(f"'{written}' is no model: {problems[0].place}: {problems[0].message}")
    needed = (key for key, each in shapes.keys_of(work.settings).items() if each.required)
    lacking = next((key for key in needed if key not in root.entries), None)
    if lacking is not None:
        raise ValueError(f"'{written}' is no model: it has no key '{lacking}' at its top")
    return root, problems


def _merge(
    work: _Work,
    host: Opened,
    part: Opened,
    name: str,
    place: Place,
    above: Mapping[str, Collection[str]],
) -> None:
    """Add all that a part brings in to its host, under its new names."""
    names = Names(
        part=name,
        own=_own(work, part, above),
        above=above,
        left=work.rules.left,
        taken={each: {*found} for each, found in host.names.items()},
    )
    for section, kind in work.brought.items():
        known = host.bodies.get(section)
        entries = _entries(work, host, part, section, kind, names)
        if entries:
            before = {} if known is None else known.entries
            at = place if known is None else known.place
            host.bodies[section] = tree.Mapping({**before, **entries}, at)
            host.places.setdefault(section, place)
    without = {*work.rules.left, work.rules.section}
    for group, found in part.names.items():
        shared = above[group] if group in work.rules.shared else ()
        if group not in without:
            kept = {each: at for each, at in found.items() if each not in shared}
            _add_names(host, group, name, kept)
    host.unsure |= part.unsure - without
    host.tops += part.tops


def _entries(
    work: _Work,
    host: Opened,
    part: Opened,
    section: str,
    kind: type[Entry],
    names: Names,
) -> dict[str, tuple[Place, Node]]:
    """The entries of a section of a part under their new names; tells the host about each."""
    found: dict[str, tuple[Place, Node]] = {}
    body = part.bodies.get(section)
    shared = names.above[section] if section in work.rules.shared else ()
    for old, (place, node) in {} if body is None else body.entries.items():
        new = f"{names.part}/{old}"
        if old in shared or new in host.names.get(section, {}):
            continue  # the latter is reported with the names
        table = part.read.get((section, old))
        shape = shapes.Record(kind if table is None else part.tables[section])
        paths = work.rules.paths.get(section, "")
        entry, problems, lost = renamed(node, shape, names, paths=paths)
        if lost and section in work.rules.dispensable:
            continue
        found[new] = place, entry
        path = f"{section}.{new}"
        for problem in problems:
            host.reports.add(replace(problem, path=path))
        inner = part.brought.get(f"{section}.{old}")
        host.brought[path] = Brought(
            names.part if inner is None else f"{names.part}/{inner.part}",
            part.scale if inner is None else inner.scale,
        )
        if table is not None:
            rows = renamed_rows(table, names)
            host.read[section, new] = replace(table, name=new, rows=rows)
    return found


def _add_names(host: Opened, group: str, part: str, found: Mapping[str, Place]) -> None:
    """Add names of a part to those of its host; reports those that the host has already."""
    known = host.names.setdefault(group, {})
    for name, place in found.items():
        new = f"{part}/{name}"
        if new in known:
            message = f"'{new}' is given twice; the part '{part}' has the other, at {place}"
            path = f"{group}.{new}"
            host.reports.add(Problem(message=message, path=path, place=known[new]))
        known.setdefault(new, place)


def _own(work: _Work, part: Opened, above: Mapping[str, Collection[str]]) -> dict[str, set[str]]:
    """The names of a part by section, less those of the host's; with those that count as such."""
    own = {
        group: set(found).difference(above[group] if group in work.rules.shared else ())
        for group, found in part.names.items()
    }
    for section, other in part.counts.items():
        own[other] = own.get(other, set()) | own.get(section, set())
    return own
