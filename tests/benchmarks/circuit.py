"""A circuit simulator, ngspice, as an independent answer for small models.

Kelvin are volts, watts amperes, J/K farads; radiation is a nonlinear source of current.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from tests.benchmarks.peers import Course
from tests.benchmarks.plain import Plain
from thermnet.network.parts import History
from thermnet.network.primitives import Floats


def has_circuit_simulator() -> bool:
    return shutil.which("ngspice") is not None


def by_circuit(model: Plain, start: Floats, times: Floats, *, reltol: float = 1e-5) -> Course:
    """ngspice over one orbit: kelvin are volts, watts amperes, J/K farads."""
    with TemporaryDirectory() as folder:
        table, text = Path(folder, "table.data"), Path(folder, "network.cir")
        lines = [
            "thermal network",
            *_circuit(model, start),
            f".options method=gear reltol={reltol!r} abstol=1e-9 vntol=1e-6 trtol=1 gmin=1e-15",
            f".tran 1 {float(times[-1])!r} 0 5 uic",
            ".control",
            "set wr_singlescale",
            "run",
            f"wrdata {table} {' '.join(f'V(n{k})' for k in range(len(start)))}",
            "quit",
            ".endc",
            ".end",
        ]
        text.write_text("\n".join(lines), encoding="utf-8")
        subprocess.run(["ngspice", "-b", str(text)], capture_output=True, timeout=600, check=False)
        rows = np.loadtxt(table)
    temperature = np.array([np.interp(times, rows[:, 0], column) for column in rows[:, 1:].T]).T
    return Course(temperature=temperature, counts=f"{len(rows)} steps")


def _circuit(model: Plain, start: Floats) -> Iterator[str]:
    """Capacitors, resistors between nodes, and sources for radiation and heat."""
    for k, (capacity, begin) in enumerate(zip(model.capacity, start, strict=True)):
        yield f"C{k} n{k} 0 {float(capacity)!r}"
        yield f".ic V(n{k})={float(begin)!r}"
        yield f"I{k} 0 n{k} DC {float(model.constant[k])!r}"
    whole: Any = model.conduction.tocoo()
    own = np.asarray(model.conduction.sum(axis=1))
    for a, b, strength in zip(whole.row, whole.col, whole.data, strict=True):
        if a < b:
            yield f"R{a}x{b} n{a} n{b} {1.0 / float(strength)!r}"
    for k in np.flatnonzero(own < -1e-12).tolist():
        yield f"R{k}x n{k} 0 {-1.0 / float(own[k])!r}"
    whole = model.radiation.tocoo()
    own = np.asarray(model.radiation.sum(axis=1))
    for a, b, strength in zip(whole.row, whole.col, whole.data, strict=True):
        if a < b:
            yield f"B{a}x{b} n{a} n{b} I={float(strength)!r}*({_fourth(a)}-{_fourth(b)})"
    for k in np.flatnonzero(own < -1e-16).tolist():
        yield f"B{k}x n{k} 0 I={-float(own[k])!r}*{_fourth(k)}"
    for number, (amplitude, history) in enumerate(model.timed):
        for k in np.flatnonzero(amplitude).tolist():
            yield f"I{number}x{k} 0 n{k} {_waveform(history, float(amplitude[k]))}"


def _fourth(k: int) -> str:
    """T^4, made increasing below 0 V too: a circuit might else settle at minus T."""
    return f"(V(n{k})*V(n{k})*V(n{k})*abs(V(n{k})))"


def _waveform(history: History, amplitude: float) -> str:
    """A piecewise linear source; a jump takes a microsecond."""
    points, before = [], -1.0
    for t, value in zip(history.time.tolist(), history.value.tolist(), strict=True):
        points.append(f"{t + 1e-6 if t == before else t!r} {amplitude * value!r}")
        before = t
    return f"PWL({' '.join(points)})"
