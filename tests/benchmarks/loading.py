"""Time and peak memory of loading a million couplings from arrays, beside a graph of objects.

Run `python -m tests.benchmarks.loading` at the root of the repository.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from importlib import import_module
from pathlib import Path

import numpy as np

NODES, COUPLINGS = 5_046, 1_000_000

MODEL = """\
thermnet: 1
temperatures: degC
nodes:
  deck: {table: deck.npz, initial: 20}
boundaries:
  space: {temperature: -270.45}
radiation:
  cavity: {table: cavity.npz, nodes: deck}
  sky: {table: sky.npz, nodes: deck}
cases:
  hot: {solve: steady}
"""


def write(folder: Path) -> Path:
    """An enclosure of random couplings; every seventh node faces space."""
    random = np.random.default_rng(1)
    one = random.integers(0, NODES, COUPLINGS)
    other = (one + 1 + random.integers(0, NODES - 1, COUPLINGS)) % NODES
    area = random.uniform(1e-6, 1e-5, COUPLINGS)
    outside = np.arange(0, NODES, 7)
    np.savez(folder / "deck.npz", capacity=random.uniform(10.0, 20.0, NODES))
    np.savez(folder / "cavity.npz", **{"from": one, "to": other, "area": area})
    np.savez(folder / "sky.npz", **{"from": outside, "to": "space", "area": np.array(0.01)})
    path = folder / "model.yaml"
    path.write_text(MODEL, encoding="utf-8")
    return path


def ours(model: Path) -> None:
    """File to network."""
    from thermnet.model.assemble import assemble
    from thermnet.model.read import load

    network = assemble(load(model), "hot")
    assert len(network.links.a) > COUPLINGS


def graph(model: Path) -> None:
    """The same couplings as a graph of Python objects."""
    import networkx as nx

    with np.load(model.with_name("cavity.npz")) as arrays:
        edges = zip(*(arrays[key].tolist() for key in ("from", "to", "area")), strict=True)
        built: nx.MultiGraph[int] = nx.MultiGraph()
        built.add_edges_from((a, b, {"area": area}) for a, b, area in edges)
    assert built.number_of_edges() == COUPLINGS


def report(subject: str, model: Path) -> None:
    """Import, measure and print: meant for a process of its own."""
    for module in ("networkx", "thermnet.model.read", "thermnet.model.assemble"):
        import_module(module)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    start = time.process_time()
    {"arrays": ours, "graph": graph}[subject](model)
    used = time.process_time() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    sys.stdout.write(
        f"{subject}: {used:.2f} s CPU, peak {peak / 1024:.0f} MB, "
        f"{(peak - before) / 1024:.0f} MB of it beyond the imports\n"
    )


def main() -> None:
    """Write the model, measure each subject in a fresh process."""
    with tempfile.TemporaryDirectory() as folder:
        model = write(Path(folder))
        for subject in ("arrays", "graph"):
            command = [sys.executable, "-m", "tests.benchmarks.loading", subject, str(model)]
            subprocess.run(command, check=True)


if __name__ == "__main__":
    if len(sys.argv) == 3:
        report(sys.argv[1], Path(sys.argv[2]))
    else:
        main()
