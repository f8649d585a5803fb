"""Repeating orbits in a process of their own, whose peak memory is then theirs alone.

`python -m tests.benchmarks.children MODEL OUTPUT` solves a model by name or from a file, writes the
temperatures to OUTPUT and prints what it took.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.benchmarks.peers import called
from thermnet.network.primitives import Floats

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True, slots=True, kw_only=True)
class Orbit:
    """CPU time [s] without imports, peak memory [bytes] with them, counts, and temperatures.

    `temperature` f8[outputs, n] is of the nodes without cold space.
    """

    seconds: float
    peak: int
    passes: int
    steps: int
    factorizations: int
    estimate: float
    temperature: Floats


def orbit_of(model: str) -> Orbit:
    """Solve in a child process, from building or loading on."""
    with tempfile.TemporaryDirectory() as folder:
        output = Path(folder, "temperature.npy")
        command = [sys.executable, "-m", "tests.benchmarks.children", model, str(output)]
        found = json.loads(called(command, ROOT))
        return Orbit(temperature=np.load(output), **found)


def peak_memory() -> int:
    """Of this process [bytes]. What `getrusage` tells may be that of the one that started it."""
    for line in Path("/proc/self/status").read_text(encoding="utf-8").splitlines():
        if line.startswith("VmHWM"):
            return 1024 * int(line.split()[1])
    raise OSError("no peak memory in /proc/self/status")


def main(model: str, output: str) -> None:
    from tests.benchmarks.measure import options
    from tests.benchmarks.models import network_of
    from thermnet.model.assemble import assemble
    from thermnet.model.read import load
    from thermnet.solve.cyclic import cyclic

    begin = time.process_time()
    network = assemble(load(model), "orbit") if model.endswith(".yaml") else network_of(model)
    solution = cyclic(network, options(1))
    seconds, peak = time.process_time() - begin, peak_memory()
    if solution.failure:
        raise SystemExit(solution.failure)
    np.save(output, solution.temperature[:, network.free])
    stats = solution.stats
    found = {
        "seconds": seconds,
        "peak": peak,
        "passes": stats.passes,
        "steps": stats.steps,
        "factorizations": stats.factorizations,
        "estimate": stats.error_estimate,
    }
    sys.stdout.write(json.dumps(found))


if __name__ == "__main__":
    main(*sys.argv[1:])
