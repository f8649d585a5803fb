"""Random networks against a circuit simulator: kelvin are volts, watts amperes, J/K farads.

Conduction is a resistor, radiation a nonlinear current source, a pulse a piecewise linear one, a
massless node a node without a capacitor. The simulator (ngspice) knows nothing of ours.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.properties.strategies import SPAN, networks
from tests.reference import instants
from tests.solving import solved_transient
from thermnet.network.build import build
from thermnet.network.parts import BoundaryPart, HeatPart, History, LinkPart, NodePart, Part
from thermnet.network.primitives import Floats

pytestmark = pytest.mark.skipif(shutil.which("ngspice") is None, reason="ngspice is not installed")

KINDS = ["conduction", "radiation", "heat", "pulses", "massless"]
RISE = 1e-6
"""s that a jump takes in the circuit."""


def waveform(history: History | None, amplitude: float) -> str:
    if history is None:
        return f"DC {amplitude!r}"
    points, before = [], -1.0
    for t, value in zip(history.time.tolist(), history.value.tolist(), strict=True):
        points.append(f"{t + RISE if t == before else t!r} {amplitude * value!r}")
        before = t
    return f"PWL({' '.join(points)})"


def fourth(name: str) -> str:
    """T^4, made increasing below 0 V too: a circuit might else settle at minus T."""
    return f"V({name})*V({name})*V({name})*abs(V({name}))"


def element(number: int, part: Part, start: dict[str, float]) -> str:
    """The line, or lines, of a part."""
    if isinstance(part, NodePart):
        line = f".ic V({part.name})={start[part.name]!r}"
        return f"C{number} {part.name} 0 {part.capacity!r}\n{line}" if part.capacity else line
    if isinstance(part, BoundaryPart):
        return f"V{number} {part.name} 0 DC {part.temperature!r}"
    if isinstance(part, HeatPart):
        return f"I{number} 0 {part.node} {waveform(part.history, part.amplitude)}"
    if isinstance(part, LinkPart) and part.potential.exponent == 1.0:
        return f"R{number} {part.a} {part.b} {1.0 / part.strength!r}"
    if isinstance(part, LinkPart) and part.potential.exponent == 4.0:
        drive = f"{fourth(part.a)}-{fourth(part.b)}"
        return f"B{number} {part.a} {part.b} I={part.strength!r}*({drive})"
    raise ValueError(f"no circuit element for {part}")


def netlist(parts: Sequence[Part], start: dict[str, float], table: Path) -> str:
    names = [part.name for part in parts if isinstance(part, NodePart)]
    lines = [
        "thermal network",
        *(element(number, part, start) for number, part in enumerate(parts)),
        ".options reltol=1e-6 abstol=1e-9 vntol=1e-7 trtol=1 gmin=1e-15",
        f".tran 1 {SPAN!r} 0 0.5 uic",
        ".control",
        "set wr_singlescale",
        "run",
        f"wrdata {table} {' '.join(f'V({name})' for name in names)}",
        "quit",
        ".endc",
        ".end",
    ]
    return "\n".join(lines)


def by_circuit(parts: Sequence[Part], start: dict[str, float], outputs: Floats) -> Floats:
    """Temperatures [K] of the free nodes at the outputs."""
    with TemporaryDirectory() as folder:
        table, text = Path(folder, "table.data"), Path(folder, "network.cir")
        text.write_text(netlist(parts, start, table), encoding="utf-8")
        run = subprocess.run(
            ["ngspice", "-b", str(text)], capture_output=True, text=True, timeout=60, check=False
        )
        assert table.exists(), run.stdout + run.stderr
        rows = np.loadtxt(table)
    assert rows[-1, 0] == pytest.approx(SPAN)
    return np.array([np.interp(outputs, rows[:, 0], column) for column in rows[:, 1:].T]).T


@settings(max_examples=8)
@given(parts=networks(KINDS, sinks=[200.0, 300.0]), seed=st.integers(0, 2**31))
def test_random_networks_agree_with_their_circuit(parts: tuple[Part, ...], seed: int) -> None:
    """To 0.01 K at outputs off the jumps, where a massless node has two temperatures."""
    edges = np.array(instants(parts, SPAN))
    outputs = np.array([t for t in np.linspace(0.0, SPAN, 9) if np.abs(t - edges).min() > 1.0])
    network = build(parts, instants=outputs.tolist())
    start = np.random.default_rng(seed).uniform(230.0, 330.0, len(network.names))
    given = dict(zip(network.names, start.tolist(), strict=True))
    expected = by_circuit(parts, given, outputs)
    record = solved_transient(network, SPAN, start=start).record
    rows = [int(np.argmin(np.abs(record.time - t))) for t in outputs]
    np.testing.assert_allclose(record.temperature[rows][:, network.free], expected, atol=0.01)
