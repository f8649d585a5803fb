"""The benchmarks' models as files: an entry for each thing, tables in the YAML, or NPZ arrays."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np

from tests.benchmarks.models import NOONS, PERIOD, SPACE, Sketch, planet_light, sunlight
from thermnet.network.primitives import Floats

HEAD = "thermnet: 1\ntemperatures: K\n"
BOUNDARIES = f"boundaries:\n  {SPACE}: {{temperature: 3}}\n"
CASES = f"cases:\n  orbit: {{solve: repeating, period: {PERIOD:g} s}}\n  mean: {{solve: steady}}\n"
MESH = "mesh"


def _schedules() -> dict[str, str]:
    """Entries of the section `schedules` by name."""
    histories = {f"side {side}": sunlight(side) for side in range(len(NOONS))}
    histories["planet"] = planet_light()
    return {
        name: (
            f"{{time: {history.time.tolist()}, value: {history.value.tolist()}, "
            f"shape: linear, period: {PERIOD:g} s}}"
        )
        for name, history in histories.items()
    }


def _section(name: str, lines: Iterable[str]) -> str:
    """A section, or nothing where it would be empty."""
    body = "\n".join(lines)
    return f"{name}:\n{body}\n" if body else ""


def as_entries(sketch: Sketch) -> str:
    """A model file with an entry of several lines for every node, link and load."""
    names = [*sketch.names, SPACE]

    def linked(ends: tuple[Floats, ...], key: str) -> Iterator[str]:
        for k, (a, b, value) in enumerate(zip(*(end.tolist() for end in ends), strict=True)):
            yield f"  {key} {k}:\n    from: {names[a]}\n    to: {names[b]}\n    {key}: {value!r}"

    capacity = zip(sketch.names, sketch.capacity.tolist(), strict=True)
    loads = [
        f"  {title} {names[k]}:\n    node: {names[k]}\n    heat: {heat[k]!r}{schedule}"
        for title, heat, schedule in _loads(sketch)
        for k in np.flatnonzero(heat).tolist()
    ]
    heaters = [
        f"  {part.node}:\n    node: {part.node}\n    power: {part.power!r}\n"
        f"    on_below: {part.on!r}\n    off_above: {part.off!r}"
        for part in sketch.thermostats
    ]
    return "".join([
        HEAD,
        _section("nodes", (f"  {name}:\n    capacity: {value!r}" for name, value in capacity)),
        BOUNDARIES,
        _section("links", linked(sketch.conduction, "conductance")),
        _section("radiation", linked(sketch.radiation, "area")),
        _section("loads", loads),
        _section("heaters", heaters),
        _section("schedules", (f"  {name}: {entry}" for name, entry in _schedules().items())),
        CASES,
    ])  # fmt: skip


def _loads(sketch: Sketch) -> Iterator[tuple[str, list[float], str]]:
    """Constant heat, then that of each history: a title, heat of every node, and the line of
    its schedule.
    """
    yield "units", sketch.heat.tolist(), ""
    for name, heat in zip(_schedules(), sketch.lit, strict=True):
        yield name, heat.tolist(), f"\n    schedule: {name}"


def as_tables(sketch: Sketch) -> str:
    """A model file in which nodes, links and radiation are tables; nodes go by their rows."""
    n = len(sketch.names)

    def table(entry: str, heads: str, rows: Iterable[tuple[object, ...]], more: str = "") -> str:
        body = "\n".join(f"      {', '.join(map(str, row))}" for row in rows)
        return f"  {entry}:\n{more}    table: |\n      {heads}\n{body}"

    a, b, conductance = (end.tolist() for end in sketch.conduction)
    c, d, area = (end.tolist() for end in sketch.radiation)
    between = [row for row in zip(c, d, area, strict=True) if row[1] < n]
    outward = [(row[0], SPACE, row[2]) for row in zip(c, d, area, strict=True) if row[1] == n]
    here = f"    nodes: {MESH}\n"
    radiation = [table("sky", "from, to, area", outward, here)]
    if between:
        radiation.append(table("cavity", "from, to, area", between, here))
    loads = [
        table(
            title,
            "node, heat",
            [(k, heat[k]) for k in np.flatnonzero(heat).tolist()],
            here + (schedule[1:] + "\n" if schedule else ""),
        )
        for title, heat, schedule in _loads(sketch)
        if any(heat)
    ]
    return "".join([
        HEAD,
        _section("nodes", [table(MESH, "capacity", [(x,) for x in sketch.capacity.tolist()])]),
        BOUNDARIES,
        _section("links", [table("mesh", "from, to, conductance", zip(a, b, conductance, strict=True), here)]),  # noqa: E501
        _section("radiation", radiation),
        _section("loads", loads),
        _section("schedules", (f"  {name}: {entry}" for name, entry in _schedules().items())),
        CASES,
    ])  # fmt: skip


def as_arrays(sketch: Sketch, folder: Path) -> Path:
    """A model file in a folder, with every table in an NPZ file beside it."""
    n = len(sketch.names)
    a, b, conductance = sketch.conduction
    c, d, area = sketch.radiation
    outward = d == n
    np.savez(folder / "nodes.npz", capacity=sketch.capacity)
    np.savez(folder / "links.npz", **{"from": a, "to": b, "conductance": conductance})
    np.savez(
        folder / "sky.npz", **{"from": c[outward], "to": np.array(SPACE), "area": area[outward]}
    )
    here = f"nodes: {MESH}"
    radiation = [f"  sky: {{table: sky.npz, {here}}}"]
    if not outward.all():
        np.savez(
            folder / "cavity.npz",
            **{"from": c[~outward], "to": d[~outward], "area": area[~outward]},
        )
        radiation.append(f"  cavity: {{table: cavity.npz, {here}}}")
    loads = []
    for number, (title, heat, schedule) in enumerate(_loads(sketch)):
        given = np.flatnonzero(heat)
        if len(given):
            np.savez(folder / f"load{number}.npz", node=given, heat=np.array(heat)[given])
            driven = f", {schedule.strip()}" if schedule else ""
            loads.append(f"  {title}: {{table: load{number}.npz, {here}{driven}}}")
    text = "".join([
        HEAD,
        f"nodes:\n  {MESH}: {{table: nodes.npz}}\n",
        BOUNDARIES,
        f"links:\n  mesh: {{table: links.npz, {here}}}\n",
        _section("radiation", radiation),
        _section("loads", loads),
        _section("schedules", (f"  {name}: {entry}" for name, entry in _schedules().items())),
        CASES,
    ])  # fmt: skip
    path = folder / "model.yaml"
    path.write_text(text, encoding="utf-8")
    return path
