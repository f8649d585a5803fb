"""Random small models in which every kind of entry that makes primitives is drawn.

Four nodes hang on a sink and on space; further entries of each kind join them. Models are drawn as
text and read as any other, so that what is held to the laws is what a file makes of a network.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from hypothesis import strategies as st

HEAD = """
thermnet: 1
temperatures: K
"""

BASE: dict[str, list[str]] = {
    "nodes": ["d: {capacity: 500 J/K}", "face: {massless: true}", "sheet: {massless: true}"],
    "boundaries": ["sink: {temperature: 240}", "space: {temperature: 3}"],
    "links": [
        "ab: {from: a, to: b, conductance: 0.5}", "bc: {from: b, to: c, conductance: 0.4}",
        "cd: {from: c, to: d, conductance: 0.3}", "sink: {from: c, to: sink, conductance: 0.2}",
    ],
    "surfaces": [
        "face: {node: face, area: 0.3, emittance: 0.7}",
        "sheet: {node: sheet, area: 0.3, emittance: 0.6}",
    ],
    "schedules": ["half: {time: [0 s, 50 s], value: [1, 0.5], shape: steps, period: 100 s}"],
    "modes": ["on: {}"],
}  # fmt: skip
"""What every model holds, by section; `a`, `b` and `c` are drawn."""

Draw = Callable[[st.DataObject], dict[str, list[str]]]


def number(data: st.DataObject, low: float, high: float) -> float:
    """A number between two, by ratio, in 24 steps."""
    return float(low * (high / low) ** (data.draw(st.integers(0, 24)) / 24.0))


def pick(data: st.DataObject, *values: str) -> str:
    return data.draw(st.sampled_from(values))


def nodes(data: st.DataObject) -> dict[str, list[str]]:
    stores = [
        f"{{capacity: {number(data, 50, 5000)}}}",
        f"{{material: aluminium 6061-T6, mass: {number(data, 0.1, 3)} kg, by_temperature: true}}",
        f"{{melting: {{material: n-octadecane, mass: {number(data, 0.01, 1)} kg, over: 1 K}}}}",
    ]
    found = {"nodes": [f"{name}: {data.draw(st.sampled_from(stores))}" for name in "abc"]}
    return joined(found, strip(data)) if data.draw(st.booleans()) else found


def strip(data: st.DataObject) -> dict[str, list[str]]:
    """Nodes and links as whole tables."""
    size = data.draw(st.integers(2, 5))
    rows = ["strip:", "  table: |", "    name, capacity [J/K]"]
    rows += [f"    s{k}, {number(data, 1, 100)}" for k in range(size)]
    ends = ["strip:", "  table: |", "    from, to, conductance [W/K]"]
    ends += [f"    s{k}, s{k + 1}, {number(data, 0.1, 10)}" for k in range(size - 1)]
    return {"nodes": ["\n  ".join(rows)], "links": ["\n  ".join([*ends, "    a, s0, 0.5"])]}


def joined(*drawn: Mapping[str, list[str]]) -> dict[str, list[str]]:
    """Entries of several draws together, by section."""
    found: dict[str, list[str]] = {}
    for each in drawn:
        for section, entries in each.items():
            found.setdefault(section, []).extend(entries)
    return found


def links(data: st.DataObject) -> dict[str, list[str]]:
    factor = f"[{number(data, 0.2, 1)}, {number(data, 0.2, 1)}]"
    by = f"{{node: {pick(data, 'a', 'b')}, temperature: [220, 330], factor: {factor}}}"
    return {"links": [f"ad: {{from: a, to: d, conductance: 1, by_temperature: {by}}}"]}


def conductors(data: st.DataObject) -> dict[str, list[str]]:
    shape = pick(
        data,
        f"bar: {{area: {number(data, 1e-6, 1e-3)}, length: 0.1}}",
        f"cylinder: {{inner_radius: 0.01, outer_radius: {number(data, 0.02, 0.1)}, length: 0.01}}",
        f"sphere: {{inner_radius: 0.01, outer_radius: {number(data, 0.02, 0.1)}}}",
        "strap: {layers: 8, thickness: 0.1 mm, width: 20 mm, length: 0.1, ends: 2 W/K}",
    )
    material = pick(data, "stainless steel 304", "titanium 6Al-4V", "epoxy resin", "copper")
    return {"conductors": [f"own: {{from: a, to: c, material: {material}, {shape}}}"]}


def panels(data: st.DataObject) -> dict[str, list[str]]:
    size = pick(
        data,
        f"direction: through, area: {number(data, 0.01, 0.5)}",
        "direction: ribbon, width: 0.5, length: 0.4",
        "direction: across, width: 0.5, length: 0.4",
    )
    core = "core: {material: aluminium 5052, foil: 25 um, cell: 6 mm, height: 20 mm}"
    faces = "faces: {material: aluminium 2024-T6, thickness: 0.3 mm}"
    return {"panels": [f"own: {{from: b, to: d, {size}, {faces}, {core}}}"]}


def joints(data: st.DataObject) -> dict[str, list[str]]:
    body = f"fasteners: {{size: screw M3, count: {data.draw(st.integers(1, 6))}}}"
    return {"joints": [f"own: {{from: a, to: b, {body}, use: {pick(data, 'low', 'high')}}}"]}


def heat_switches(data: st.DataObject) -> dict[str, list[str]]:
    side = pick(data, "closes_above", "closes_below")
    at, over = number(data, 230, 320), number(data, 5, 40)
    body = f"on: 0.5, off: 0.05, {side}: {at}, over: {over} K"
    return {"heat_switches": [f"own: {{from: b, to: sink, {body}}}"]}


def heat_pipes(data: st.DataObject) -> dict[str, list[str]]:
    at = f"at: {{a: {number(data, 1, 20)}, b: {number(data, 1, 20)}, d: 5}}"
    gas = "variable: {condenser: [d], sensor: a, shut_below: 250, open_above: 300, shut: 0.2}"
    return {"heat_pipes": [f"own: {{{at}, {pick(data, gas, 'most: 500 W')}}}"]}


def loops(data: st.DataObject) -> dict[str, list[str]]:
    flow = f"fluid: water, mass_flow: {number(data, 1e-5, 1e-3)}"
    way = pick(data, "through: [a, b, c]", "through: [sink, a, b, space], returns: false")
    return {"loops": [f"own: {{{way}, {flow}, schedule: half}}"]}


def radiation(data: st.DataObject) -> dict[str, list[str]]:
    table = ["moving:", "  table: |", "    from, to, time [s], area [m2]"]
    table += [f"    b, space, {time}, {number(data, 1e-3, 0.2)}" for time in (0, 50, 50, 100)]
    own = f"own: {{from: a, to: space, area: {number(data, 1e-3, 0.2)}}}"
    return {"radiation": [own, "\n  ".join([*table, "    c, a, , 0.01"])]}


def enclosures(data: st.DataObject) -> dict[str, list[str]]:
    small = [
        "own:", "  faces:", f"    one: {{node: a, area: 0.2, emittance: {number(data, 0.03, 1)}}}",
        f"    two: {{node: b, area: 0.2, emittance: {number(data, 0.03, 1)}}}",
        "    wall: {area: 0.4, reradiating: true}",
        "    out: {node: space, area: 0.01, opening: true}", "  views:",
        f"    a: {{from: one, to: two, factor: {number(data, 0.05, 0.8)}}}", "  rest: wall",
    ]  # fmt: skip
    return {"enclosures": ["\n  ".join(small)]}


def faces(data: st.DataObject) -> dict[str, list[str]]:
    table = ["cavity:", "  table: |", "    name, node, area [m2], emittance"]
    table += [
        f"    f{k}, {node}, {number(data, 0.05, 0.1)}, {number(data, 0.05, 1)}"
        for k, node in enumerate("abcd")
    ]
    views = ["cavity:", "  faces: cavity", "  repair: true", "  table: |", "    from, to, factor"]
    views += [f"    f{i}, f{j}, 0.3" for i in range(4) for j in range(i + 1)]
    return {"faces": ["\n  ".join(table)], "enclosures": ["\n  ".join(views)]}


def blankets(data: st.DataObject) -> dict[str, list[str]]:
    ways = (
        f"effective_emittance: {number(data, 0.005, 0.1)}",
        f"layers: {{count: {data.draw(st.integers(10, 30))}, density: 2000, separator: silk net}}",
    )
    more = (
        f"scale: {number(data, 0.5, 2)}",
        "seams: {edge: {length: 2, conductance: 3 mW/m/K}}",
        f"openings: {{gap: {{area: {number(data, 1e-4, 1e-2)}, emittance: 0.8}}}}",
    )
    body = f"{pick(data, *ways)}, {pick(data, *more)}"
    return {"blankets": [f"own: {{from: a, to: face, area: 0.3, {body}}}"]}


def sunshields(data: st.DataObject) -> dict[str, list[str]]:
    body = f"sheets: 3, emittance: 0.05, behind_emittance: 0.8, sideways: {number(data, 0.05, 0.5)}"
    return {"sunshields": [f"own: {{sunward: sheet, behind: b, area: 0.3, {body}}}"]}


def surfaces(data: st.DataObject) -> dict[str, list[str]]:
    heat = f"absorbed: {{solar: {{heat: {number(data, 1, 50)}, schedule: half}}}}"
    return {"surfaces": [f"own: {{node: c, area: 0.1, emittance: 0.8, {heat}}}"]}


def radiators(data: st.DataObject) -> dict[str, list[str]]:
    fin = f"fin: {{length: {number(data, 0.02, 0.3)}, thickness: 1 mm, conductivity: 150, at: 280}}"
    air = "convection: 0.5, convection_to: sink"
    return {"radiators": [f"main: {{node: d, area: 0.1, emittance: 0.85, {fin}, {air}}}"]}


def louvers(data: st.DataObject) -> dict[str, list[str]]:
    blades = f"emittance_closed: 0.1, emittance_open: {number(data, 0.3, 0.8)}"
    return {
        "louvers": [f"own: {{node: d, area: 0.1, {blades}, closed_below: 250, open_above: 300}}"]
    }


def plumes(data: st.DataObject) -> dict[str, list[str]]:
    return {"plumes": [f"own: {{surfaces: {{face: {number(data, 1, 100)}}}, schedule: half}}"]}


def units(data: st.DataObject) -> dict[str, list[str]]:
    by = "by_temperature: {temperature: [200, 350], factor: [0.8, 1.2]}"
    return {"units": [f"own: {{node: b, heat: {{on: {number(data, 1, 30)}}}, {by}}}"]}


def loads(data: st.DataObject) -> dict[str, list[str]]:
    by = "by_temperature: {node: b, temperature: [200, 350], factor: [1.2, 0.8]}"
    table = ["moving:", "  table: |", "    node, time [s], heat [W]"]
    table += [f"    d, {time}, {number(data, 1, 20)}" for time in (0, 50, 50, 100)]
    own = f"own: {{node: a, heat: {number(data, 1, 60)}, schedule: half, {by}}}"
    return {"loads": [own, "\n  ".join([*table, "    b, , -0.5"])]}


def heaters(data: st.DataObject) -> dict[str, list[str]]:
    control = pick(data, "thermostat", "proportional")
    body = f"power: {number(data, 1, 40)}, on_below: 270, off_above: 290, control: {control}"
    return {"heaters": [f"own: {{node: c, {body}}}"]}


def boundaries(data: st.DataObject) -> dict[str, list[str]]:
    bath = f"bath: {{temperature: {number(data, 200, 320)}, swing: 5 K, schedule: half}}"
    return {"boundaries": [bath], "links": ["bath: {from: b, to: bath, conductance: 0.3}"]}


def interfaces(data: st.DataObject) -> dict[str, list[str]]:
    return {
        "interfaces": [f"mount: {{temperature: {number(data, 250, 300)}}}"],
        "links": ["mount: {from: d, to: mount, conductance: 0.2}"],
    }


DRAWN: dict[str, Draw] = {
    each.__name__: each
    for each in (
        nodes, boundaries, interfaces, links, conductors, panels, joints, heat_switches, heat_pipes,
        loops, radiation, enclosures, faces, blankets, sunshields, surfaces, radiators, louvers,
        plumes, units, loads, heaters,
    )
}  # fmt: skip
"""What draws the entries of each kind, by its section; `faces` with the enclosure of a table."""

LOOKED_UP = frozenset({"separators", "materials", "fasteners", "contacts", "gases", "faces"})
"""Kinds whose entries make no primitives of their own: others look them up as they expand."""

LEFT_OUT = {
    "batteries": "the heat of a battery follows from solutions: see tests/test_power.py",
}
"""Kinds that make primitives and are not drawn, and why."""


def model_text(data: st.DataObject, chosen: set[str]) -> str:
    """The text of a model with entries of these kinds, and of nodes."""
    drawn = [draw(data) for kind, draw in DRAWN.items() if kind in chosen or kind == "nodes"]
    sections = joined(BASE, *drawn)
    lines = [HEAD]
    for section, entries in sections.items():
        lines.append(f"{section}:")
        lines += [f"  {entry}" for entry in entries]
    return "\n".join([*lines, "cases:", "  case: {solve: repeating, period: 100 s, mode: on}", ""])
