"""The kinds of entry of a model file, one file each. To add one, add its file and a line here."""

from __future__ import annotations

from thermnet.model.kinds import (
    atmosphere,
    battery,
    blanket,
    body,
    boundary,
    case,
    component,
    environment,
    failure,
    finish,
    gas,
    heater,
    interface,
    limit,
    link,
    load,
    loop,
    material,
    mode,
    node,
    orbit,
    part,
    plume,
    pointing,
    radiation,
    schedule,
    separator,
    site,
    sunshield,
    surface,
    timeline,
    unit,
)
from thermnet.model.kinds.kind import Kind

KINDS: dict[str, Kind] = {
    module.KIND.section: module.KIND
    for module in (
        node,
        boundary,
        interface,
        part,
        link,
        loop,
        radiation,
        blanket,
        separator,
        sunshield,
        surface,
        plume,
        finish,
        material,
        atmosphere,
        gas,
        orbit,
        site,
        pointing,
        environment,
        body,
        mode,
        timeline,
        unit,
        battery,
        load,
        schedule,
        heater,
        component,
        limit,
        case,
        failure,
    )
}
"""Every kind by its section, in the order of the file and of the reference."""

SECTIONS = {section: kind.entry for section, kind in KINDS.items()}
"""The class of the entries of each section."""

TABLES = {section: kind.table for section, kind in KINDS.items() if kind.table is not None}
"""The class of the entries that hold a whole table, for the sections that take such."""
