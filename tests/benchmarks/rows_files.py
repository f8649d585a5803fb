"""From files and from the shell: loading, start-up, and the largest models with their memory."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import yaml

from tests.benchmarks import peers
from tests.benchmarks.children import ROOT, Orbit, orbit_of
from tests.benchmarks.files import as_arrays, as_entries, as_tables
from tests.benchmarks.measure import (
    TARGET,
    Bench,
    Case,
    Goal,
    Row,
    Subject,
    accurate,
    faster,
    subject,
)
from tests.benchmarks.models import SKETCHES, Sketch
from tests.benchmarks.rows_transient import against
from tests.benchmarks.sundials import by_cvode
from thermnet.model.assemble import assemble
from thermnet.model.read import load

GIBIBYTE = 2.0**30


def loading(bench: Bench) -> Row:
    """Text and arrays, against a plain parser of YAML and a graph of Python objects."""
    meshes, cavities = ("p1k", "e500") if bench.quick else ("p10k", "e5k")
    mesh, cavity = _unheated(meshes), SKETCHES[cavities]()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        entries, tables = folder / "entries.yaml", folder / "tables.yaml"
        entries.write_text(as_entries(mesh), encoding="utf-8")
        tables.write_text(as_tables(mesh), encoding="utf-8")
        arrays = as_arrays(cavity, folder)
        found = bench.interleaved({
            "entries": partial(_dropped, load, entries),
            "tables": partial(_dropped, load, tables),
            "plain CSafeLoader": partial(_dropped, _parsed, entries),
            "NPZ to network": partial(_dropped, _assembled, arrays),
            "networkx graph": partial(_dropped, _graph, folder / "cavity.npz"),
        })  # fmt: skip
    seconds = {key: timed.seconds for key, timed in found.items()}
    plain, graph = seconds["plain CSafeLoader"], seconds["networkx graph"]
    size = len(cavity.radiation[0])
    return Row(
        name="loading",
        workload=f"{meshes} as YAML ({len(mesh.names):,} nodes), {cavities} from NPZ ({size:,} "
        "couplings)",
        subjects=[subject(key, timed) for key, timed in found.items()],
        goals=[
            Goal(what="entries / plain", value=seconds["entries"] / plain, limit=0.35),
            Goal(what="tables / plain", value=seconds["tables"] / plain, limit=0.02),
            Goal(what="NPZ / networkx", value=seconds["NPZ to network"] / graph, limit=0.1),
        ],
        note="ours check and bind every value; the plain parser only makes dictionaries",
    )


def _unheated(name: str) -> Sketch:
    """Nodes and couplings alone."""
    sketch = SKETCHES[name]()
    return replace(sketch, heat=0.0 * sketch.heat, lit=0.0 * sketch.lit)


def _dropped(run: Callable[[Path], Any], path: Path) -> None:
    """Keep nothing: whoever runs next would pay for collecting garbage among it."""
    run(path)


def _assembled(path: Path) -> Any:
    return assemble(load(path), "mean")


def _parsed(path: Path) -> Any:
    return yaml.load(path.read_text(encoding="utf-8"), yaml.CSafeLoader)


def _graph(path: Path) -> Any:
    """What it takes to have the couplings in a graph of networkx."""
    import networkx as nx

    with np.load(path) as arrays:
        rows = zip(*(arrays[key].tolist() for key in ("from", "to", "area")), strict=True)
        graph: nx.Graph[int] = nx.Graph()
        graph.add_weighted_edges_from(rows)
    return graph


def start_up(bench: Bench) -> Row:
    """The command line, beside what it could at least import."""
    python = sys.executable
    with tempfile.TemporaryDirectory() as name:
        path = Path(name, "satellite.yaml")
        path.write_text(as_entries(SKETCHES["sat30"]()), encoding="utf-8")
        commands = {
            "--help": [python, "-m", "thermnet", "--help"],
            "argparse": [python, "-c", "import argparse"],
            "solve": [python, "-m", "thermnet", "solve", "--case", "mean", str(path)],
            "scipy and yaml": [python, "-c", "import scipy.sparse.linalg, yaml"],
        }
        for command in commands.values():
            peers.called(command, ROOT)  # so that bytecode is there
        found = bench.interleaved({
            key: partial(peers.called, command, ROOT) for key, command in commands.items()
        })  # fmt: skip
    seconds = {key: timed.seconds for key, timed in found.items()}
    return Row(
        name="start-up",
        workload="command line: --help, and a steady state of sat30",
        subjects=[subject(key, timed) for key, timed in found.items()],
        goals=[
            Goal(what="--help / argparse", value=seconds["--help"] / seconds["argparse"], limit=2),
            Goal(
                what="solve / scipy and yaml",
                value=seconds["solve"] / seconds["scipy and yaml"],
                limit=1.4,
            ),
        ],
    )


def orbit_large(bench: Bench) -> Row:
    """Fifty thousand nodes with long-range radiation, and what they need in memory."""
    case = bench.case("r50k")
    found = orbit_of(case.name)
    error = _error(case, found)
    return Row(
        name="orbit-large",
        workload="repeating, r50k, 0.01 K, in a process of its own",
        subjects=[_alone(case, found, error)],
        goals=[
            Goal(what="orbits", value=found.passes, limit=6),
            Goal(what="peak memory [GiB]", value=found.peak / GIBIBYTE, limit=4.0),
            Goal(what="error [K]", value=error, limit=TARGET),
        ],
        note=f"estimate {found.estimate:.1g} K; errors against CVODE from the same begin",
    )


def orbit_enclosure(bench: Bench) -> Row:
    """A million couplings, from NPZ to a repeating orbit; and against SUNDIALS in a transient."""
    case, orbits = bench.case("e5k"), bench.orbits(10)
    with tempfile.TemporaryDirectory() as name:
        found = orbit_of(str(as_arrays(SKETCHES[case.name](), Path(name))))
    error = _error(case, found)
    subjects, seconds, _ = against(bench, case, orbits, {"CVODE, GMRES": by_cvode})
    return Row(
        name="orbit-enclosure",
        workload=f"e5k: NPZ to repeating orbit; transient of {orbits} orbits, 0.01 K",
        subjects=[_alone(case, found, error), *subjects],
        goals=[
            Goal(what="NPZ to orbit [s]", value=found.seconds, limit=60.0),
            Goal(what="orbits", value=found.passes, limit=6),
            Goal(what="error of the orbit [K]", value=error, limit=TARGET),
            faster("CVODE / ours", seconds["CVODE, GMRES"] / seconds["ours"], 1.3),
            accurate(subjects[0]),
        ],
        note=f"peak memory {found.peak / GIBIBYTE:.2f} GiB; estimate {found.estimate:.1g} K",
    )


def _alone(case: Case, found: Orbit, error: float) -> Subject:
    counts = f"{found.passes} orbits, {found.steps} steps, {found.factorizations} LUs"
    return Subject(
        name=f"{case.name}, repeating",
        seconds=found.seconds,
        error=error,
        counts=f"{counts}, {found.peak / GIBIBYTE:.2f} GiB",
    )


def _error(case: Case, found: Orbit) -> float:
    """Largest difference [K] along the orbit from CVODE, tight, that begins in the same state."""
    begin = found.temperature[0]
    course = by_cvode(case.plain, begin, peers.outputs(1), rtol=1e-6, atol=1e-5)
    return case.error(found.temperature, course.temperature)
