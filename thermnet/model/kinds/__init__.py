"""The kinds of entry of a model file, one file each. To add one, add its file and a line here."""

from __future__ import annotations

from thermnet.model.kinds import (
    blanket,
    body,
    boundary,
    case,
    component,
    environment,
    finish,
    heater,
    link,
    load,
    node,
    orbit,
    pointing,
    radiation,
    schedule,
    site,
    surface,
)
from thermnet.model.kinds.kind import Kind

KINDS: dict[str, Kind] = {
    module.KIND.section: module.KIND
    for module in (
        node,
        boundary,
        link,
        radiation,
        blanket,
        surface,
        finish,
        orbit,
        site,
        pointing,
        environment,
        body,
        load,
        schedule,
        heater,
        component,
        case,
    )
}
"""Every kind by its section, in the order of the file and of the reference."""

SECTIONS = {section: kind.entry for section, kind in KINDS.items()}
"""The class of the entries of each section."""

TABLES = {section: kind.table for section, kind in KINDS.items() if kind.table is not None}
"""The class of the entries that hold a whole table, for the sections that take such."""
