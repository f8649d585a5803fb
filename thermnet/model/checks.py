"""What is wrong or suspicious with the network of a case: its structure, how parts join it, and
what blankets say.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from thermnet.errors import Problem
from thermnet.model.assemble import faces_of
from thermnet.model.kinds.blanket_entry import Blanket
from thermnet.model.kinds.blanket_practice import doubts
from thermnet.model.kinds.enclosure import loose
from thermnet.model.kinds.enclosure_entry import Enclosure, Enclosures
from thermnet.model.kinds.kind import Surroundings
from thermnet.model.kinds.separator import Separator, separators
from thermnet.model.model import Change, Model
from thermnet.model.shelf import Shelf
from thermnet.model.usable import unjudged
from thermnet.network.checks import check
from thermnet.network.network import Network
from thermnet.network.primitives import Indices


def problems_of_network(model: Model, network: Network) -> tuple[Problem, ...]:
    """All problems of the network of a model with a case applied, located, errors first."""
    doubtful = [*_doubtful_blankets(model), *idle_emittances(model), *unjudged(model)]
    doubtful += _loose_enclosures(model)
    return model.located([*check(network), *_unjoined(model, network), *doubtful])


def _unjoined(model: Model, network: Network) -> Iterator[Problem]:
    """A warning for each interface of a part to which only the part itself joins anything."""
    for path, part in model.brought.items():
        if not path.startswith("interfaces."):
            continue
        node = network.index(path.removeprefix("interfaces."))
        if node in network.boundary:
            continue
        entries = {".".join(network.origins[k].split(".", 2)[:2]) for k in _touching(network, node)}
        owners = (model.brought.get(entry, "") for entry in entries)
        if all(f"{owner}/".startswith(f"{part}/") for owner in owners):
            message = (
                f"nothing but its own part '{part}' is joined to this interface: add a link of "
                "the model that carries it"
            )
            yield Problem(message=message, path=path, severity="warning")


def _touching(network: Network, node: int) -> Indices:
    """Origins of all links, heats and heaters that bring heat to a node or take it."""
    links, carried = network.links, network.flow_links
    heats, stats = network.heats, network.thermostats
    found = [
        links.origin[(links.a == node) | (links.b == node)],
        carried.origin[(carried.a == node) | (carried.b == node)],
        heats.origin[heats.node == node],
        stats.origin[stats.node == node],
    ]
    return np.unique(np.concatenate(found))


def _loose_enclosures(model: Model) -> Iterator[Problem]:
    """A warning for each enclosure whose view factors miss reciprocity or closure."""
    if not model.sections["enclosures"]:
        return
    # What the faces emit has no part in how they see each other.
    around = Surroundings(
        histories={},
        means={},
        bus_voltage=None,
        rows=model.tables("nodes"),
        shelf=Shelf(emittance=lambda _: 1.0),
    )
    around = replace(around, faces=faces_of(model, around))
    taken: dict[str, str] = {}
    for name, entry in model.sections["enclosures"].items():
        if isinstance(entry, Enclosures):
            other = taken.setdefault(entry.faces, name)
            if other != name:
                message = f"has the faces of '{other}' too, which exchange heat in both"
                path = f"enclosures.{name}.faces"
                yield Problem(message=message, path=path, severity="warning")
        if isinstance(entry, Enclosure | Enclosures):
            for message in loose(entry, around):
                yield Problem(message=message, path=f"enclosures.{name}", severity="warning")


def _doubtful_blankets(model: Model) -> Iterator[Problem]:
    """A warning for layers beyond what their formula is good for, and for slips of units."""
    entries = model.entries(Blanket, "blankets")
    known = separators(model.entries(Separator, "separators")) if entries else {}
    for name, entry in entries.items():
        for path, message in doubts(entry, f"blankets.{name}", known):
            yield Problem(message=message, path=path, severity="warning")


EMITTANCES: Mapping[str, str] = {"nominal": "effective_emittance", "low": "low", "high": "high"}
"""Key of the effective emittance of a blanket that each `use` takes."""

_NAMED = {"nominal": "the nominal value", "low": "the 'low' bound", "high": "the 'high' bound"}


def idle_emittances(model: Model) -> Iterator[Problem]:
    """A warning for each effective emittance of a blanket that is changed in a model with a case
    applied, by the case or by a caller, while the case uses another one that stays as it is.
    """
    changed: dict[str, dict[str, Change]] = {}
    for change in model.changes:
        section, name, key = change.path.split(".", 2)
        if section == "blankets" and key in EMITTANCES.values() and change.before != change.after:
            changed.setdefault(name, {})[key] = change
    entries = model.entries(Blanket, "blankets")
    for name, changes in changed.items():
        use = entries[name].use
        if EMITTANCES[use] in changes:
            continue
        for key, change in changes.items():
            if key in _used_by_pair(model):
                continue  # the other of the two cases uses it
            message = (
                f"{key} is changed, but case '{model.case}' uses {_NAMED[use]}, which stays at "
                f"{entries[name].used:g}"
            )
            at = change.path if change.by == "override" else f"{change.by}.{change.pattern}"
            yield Problem(message=message, path=at, severity="warning")


def _used_by_pair(model: Model) -> set[str]:
    """Keys that one of two cases uses which are solved in place of the case, at both bounds."""
    pairs = (set(pair.values()) for pair in model.paired.values())
    return {"low", "high"} if any(model.case in pair for pair in pairs) else set()
