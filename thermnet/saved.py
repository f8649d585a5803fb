"""Results on disk: a NetCDF file that can be opened again without solving, and CSV for people.

The file holds the source texts, the overrides and the solution arrays. Opening it binds and
assembles the model again from the texts and compares the content hash, so that a result can
never be read beside a model that it does not belong to.
"""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Any

import numpy as np

from thermnet import __version__
from thermnet.errors import InputError, Problem
from thermnet.files import write_rows
from thermnet.model.assemble import assemble
from thermnet.model.kinds.kind import Drawn
from thermnet.model.paths import apply_case, vary
from thermnet.model.plan import plan
from thermnet.model.read import parse
from thermnet.network.parts import History
from thermnet.physics.constants import ZERO_CELSIUS
from thermnet.results import Result
from thermnet.solve.solution import Extremes, Options, Record, Solution, Stats

FORMAT = 1
"""Number of the layout of saved results."""


def save(result: Result, path: str | Path) -> Path:
    """Write a result to a NetCDF file (classic format, by scipy) and return its path.

    The file appears whole or not at all.
    """
    from scipy.io import netcdf_file

    path = Path(path)
    part = path.with_name(path.name + ".part")
    solution = result.solution
    with netcdf_file(str(part), "w") as file:
        for name, array in _arrays(solution).items():
            dimensions = []
            for axis, size in enumerate(array.shape):
                dimension = f"{name}_{axis}"
                file.createDimension(dimension, size)
                dimensions.append(dimension)
            if array.size:
                file.createVariable(name, "d", tuple(dimensions)).data[:] = array
        text = np.frombuffer(json.dumps(_about(result)).encode(), dtype="S1")
        file.createDimension("characters", len(text))
        file.createVariable("about", "c", ("characters",))[:] = text
    return part.replace(path)


def open_result(path: str | Path) -> Result:
    """Read a saved result. Raises InputError when it is no such file or does not fit its model."""
    from scipy.io import netcdf_file

    try:
        with netcdf_file(str(path), "r", mmap=False) as file:
            about = json.loads(file.variables["about"][:].tobytes())
            arrays = {
                name: np.array(variable.data, dtype=np.float64)
                for name, variable in file.variables.items()
                if name != "about"
            }
    except (TypeError, ValueError, KeyError, OSError) as error:
        message = f"{path}: not a saved result ({error})"
        raise InputError([Problem(message=message)]) from None
    if about.get("format") != FORMAT:
        message = f"{path}: saved in format {about.get('format')}; this version reads {FORMAT}"
        raise InputError([Problem(message=message)])
    model = parse(about["sources"], about["file"])
    for batch in about["overrides"]:
        model = vary(model, dict(batch))
    applied = apply_case(model, about["case"])
    if applied.hash() != about["hash"]:
        message = f"{path}: the saved texts do not give the hash {about['hash']}; solve again"
        raise InputError([Problem(message=message)])
    warnings = list(about["warnings"])
    if about.get("version") != __version__:
        warnings.append(
            f"{path}: saved by version {about.get('version')}; finishes and bodies of the library "
            f"are those of version {__version__}"
        )
    drawn = {path: _drawn(stored) for path, stored in about.get("drawn", {}).items()}
    network = assemble(applied, drawn=drawn)
    return Result(
        model=applied,
        plan=plan(applied, about["case"]),
        network=network,
        solution=_solution(about, arrays, len(network.names), len(network.thermostats.node)),
        options=Options(**about["options"]),
        problems=tuple(Problem(message=text, severity="warning") for text in warnings),
        drawn=drawn,
        begins=about.get("begins"),
    )


def write_csv(result: Result, path: str | Path) -> Path:
    """Write temperatures [degC] and heater states at the output instants, one row each."""
    path = Path(path)
    solution, network = result.solution, result.network
    # A circuit of several nodes is as many thermostats, all in one state.
    shown = np.sort(np.unique(network.thermostats.origin, return_index=True)[1])
    heaters = [network.origins[network.thermostats.origin[k]] for k in shown]
    head = ["time [s]", *(f"{name} [degC]" for name in network.names), *heaters]
    instants = zip(solution.t, solution.temperature, solution.duty, strict=True)
    return write_rows(
        path,
        head,
        (
            [
                f"{time:.3f}",
                *(f"{value:.4f}" for value in row - ZERO_CELSIUS),
                *(f"{value:.4g}" for value in duty[shown]),
            ]
            for time, row, duty in instants
        ),
    )


def _about(result: Result) -> dict[str, Any]:
    solution = result.solution
    return {
        "format": FORMAT,
        "version": __version__,
        "hash": result.model.hash(),
        "model": result.model.name,
        "case": result.case,
        "file": result.model.file,
        "sources": dict(result.model.sources),
        "overrides": list(result.model.overrides),
        "options": dataclasses.asdict(result.options),
        "kind": solution.kind,
        "stats": dataclasses.asdict(solution.stats),
        "failure": solution.failure,
        "warnings": [problem.message for problem in result.problems],
        "drawn": {
            path: {
                field.name: [
                    getattr(drawn, field.name).time.tolist(),
                    getattr(drawn, field.name).value.tolist(),
                ]
                for field in dataclasses.fields(drawn)
            }
            for path, drawn in result.drawn.items()
        },
        "begins": result.begins,
    }


def _drawn(stored: dict[str, list[list[float]]]) -> Drawn:
    """What is drawn from solar cells, from its instants and values by name."""
    histories = {
        name: History(time=np.array(time), value=np.array(value))
        for name, (time, value) in stored.items()
    }
    return Drawn(**histories)


def _arrays(solution: Solution) -> dict[str, np.ndarray[Any, Any]]:
    """All arrays of a solution by name; those of its parts with the part's name before."""
    result = {}
    for field in dataclasses.fields(solution):
        value = getattr(solution, field.name)
        if isinstance(value, np.ndarray):
            result[field.name] = value
        elif isinstance(value, Extremes | Record):
            for inner in dataclasses.fields(value):
                result[f"{field.name}_{inner.name}"] = getattr(value, inner.name)
    return result


def _solution(
    about: dict[str, Any], arrays: dict[str, np.ndarray[Any, Any]], nodes: int, heaters: int
) -> Solution:
    def get(name: str, width: int | None = None) -> Any:
        if name in arrays:
            return arrays[name]
        rows = len(arrays["record_time" if name.startswith("record") else "t"])
        return np.zeros((rows, width)) if width is not None else np.zeros(heaters)

    stats = about["stats"] | {"notes": tuple(about["stats"]["notes"])}
    return Solution(
        kind=about["kind"],
        t=get("t"),
        temperature=get("temperature", nodes),
        duty=get("duty", heaters),
        mean=get("mean"),
        heater_duty=get("heater_duty"),
        switchings=get("switchings").astype(np.int64),
        extremes=Extremes(
            **{field.name: get(f"extremes_{field.name}") for field in dataclasses.fields(Extremes)}
        ),
        record=Record(
            time=get("record_time"),
            local_time=get("record_local_time"),
            temperature=get("record_temperature", nodes),
            duty=get("record_duty", heaters),
            weight=get("record_weight"),
        ),
        stats=Stats(**stats),
        failure=about["failure"],
    )
