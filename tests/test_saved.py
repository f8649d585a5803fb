"""Results on disk: opened again they are the same to the last bit, or they are refused."""

from __future__ import annotations

import csv
import dataclasses
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.io import netcdf_file

import thermnet
from tests.small_models import STEADY, model_of
from thermnet.errors import InputError
from thermnet.margins import margins
from thermnet.model.paths import vary
from thermnet.results import Result, solve
from thermnet.saved import open_result, save, write_csv
from thermnet.solve.solution import Extremes, Options, Record

MODEL = (
    STEADY.replace("plate, heat: 20 W}", "plate, heat: 20 W, schedule: day}")
    + """
  history: {solve: transient, duration: 900 s, initial: given}
  orbit: {solve: repeating, period: 600 s}
heaters:
  mirror: {node: mirror, power: 40 W, on_below: 13, off_above: 15}
schedules:
  day: {time: [0 s, 300 s], value: [1, 0], shape: steps, period: 600 s}
components:
  unit: {at: plate, operating: [-10, 40], on: day}
"""
)
CASES = ("case", "history", "orbit")


def result_of(case: str, **changes: Any) -> Result:
    model = model_of(MODEL)
    return solve(vary(model, changes) if changes else model, case, Options(accuracy=0.02))


def arrays(part: Any) -> dict[str, Any]:
    return {field.name: getattr(part, field.name) for field in dataclasses.fields(part)}


def about(path: Path) -> dict[str, Any]:
    with netcdf_file(str(path), "r", mmap=False) as file:
        text: dict[str, Any] = json.loads(b"".join(file.variables["about"][:].tolist()))
    return text


def rewrite(path: Path, old: str, new: str) -> None:
    """Change text of one length inside the file."""
    assert len(old) == len(new)
    data = path.read_bytes()
    assert data.count(old.encode()) >= 1
    path.write_bytes(data.replace(old.encode(), new.encode()))


@pytest.mark.parametrize("case", CASES)
def test_an_opened_result_is_the_saved_one_to_the_last_bit(case: str, tmp_path: Path) -> None:
    result = result_of(case)
    again = open_result(save(result, tmp_path / "result.nc"))
    for name, wanted in arrays(result.solution).items():
        found = getattr(again.solution, name)
        if isinstance(wanted, Extremes | Record):
            for inner, values in arrays(wanted).items():
                np.testing.assert_array_equal(getattr(found, inner), values, f"{name}.{inner}")
        elif isinstance(wanted, np.ndarray):
            np.testing.assert_array_equal(found, wanted, name)
            assert found.dtype == wanted.dtype
        else:
            assert found == wanted


@pytest.mark.parametrize("case", CASES)
def test_an_opened_result_has_the_same_margins(case: str, tmp_path: Path) -> None:
    result = result_of(case)
    assert margins(open_result(save(result, tmp_path / "result.nc"))) == margins(result)


def test_the_file_holds_texts_overrides_hash_version_and_options(tmp_path: Path) -> None:
    result = result_of("history", **{"loads.plate.heat": 25.0})
    kept = about(save(result, tmp_path / "result.nc"))
    assert kept["sources"] == {"model.yaml": MODEL}
    assert kept["overrides"] == [[["loads.plate.heat", 25.0]]]
    assert kept["hash"] == result.model.hash()
    assert kept["version"] == thermnet.__version__
    assert kept["options"]["accuracy"] == 0.02
    assert kept["case"] == "history"


def test_overrides_are_there_again_after_opening(tmp_path: Path) -> None:
    changes = {"loads.plate.heat": {"scale": 2.0}, "heaters.mirror.on_below": "12 degC"}
    model = vary(vary(model_of(MODEL), changes), {"loads.plate.heat": 31.0})
    result = solve(model, "case")
    again = open_result(save(result, tmp_path / "result.nc"))
    assert again.model.hash() == result.model.hash()
    assert again.network.heats.amplitude == pytest.approx(result.network.heats.amplitude, abs=0.0)
    assert again.network.thermostats.on == pytest.approx([285.15])


def test_a_model_without_heaters_is_opened_too(tmp_path: Path) -> None:
    text = STEADY.replace("{solve: steady}", "{solve: transient, duration: 60 s, initial: given}")
    again = open_result(save(solve(model_of(text), "case"), tmp_path / "result.nc"))
    assert again.solution.duty.shape == (len(again.solution.t), 0)
    assert again.solution.record.duty.shape == (len(again.solution.record.time), 0)
    assert again.solution.switchings.shape == (0,)


def test_a_failed_solve_stays_failed(tmp_path: Path) -> None:
    result = solve(model_of(STEADY.replace("heat: 20 W", "heat: 1e6 W")), "case")
    assert result.solution.failure
    again = open_result(save(result, tmp_path / "result.nc"))
    assert again.solution.failure == result.solution.failure


def test_warnings_are_kept(tmp_path: Path) -> None:
    text = STEADY.replace("mirror: {capacity: 1000 J/K", "mirror: {capacity: 1e-4 J/K")
    text = text.replace("from: mirror, to: sink", "from: mirror, to: plate")
    result = solve(model_of(text), "case")
    assert result.problems
    again = open_result(save(result, tmp_path / "result.nc"))
    assert [p.message for p in again.problems] == [p.message for p in result.problems]
    assert {p.severity for p in again.problems} == {"warning"}


def test_a_file_whose_model_was_changed_is_refused(tmp_path: Path) -> None:
    path = save(result_of("case"), tmp_path / "result.nc")
    rewrite(path, "heat: 20 W", "heat: 21 W")
    with pytest.raises(InputError, match="do not give the hash"):
        open_result(path)


def test_a_file_whose_overrides_were_changed_is_refused(tmp_path: Path) -> None:
    path = save(result_of("case", **{"loads.plate.heat": 25.0}), tmp_path / "result.nc")
    rewrite(path, '"loads.plate.heat", 25.0', '"loads.plate.heat", 26.0')
    with pytest.raises(InputError, match="do not give the hash"):
        open_result(path)


def test_a_file_of_another_layout_is_refused(tmp_path: Path) -> None:
    path = save(result_of("case"), tmp_path / "result.nc")
    rewrite(path, '"format": 1', '"format": 9')
    with pytest.raises(InputError, match="saved in format 9"):
        open_result(path)


@pytest.mark.parametrize("share", [0.0, 0.01, 0.3, 0.6, 0.95])
def test_a_file_that_was_cut_off_is_refused(share: float, tmp_path: Path) -> None:
    path = save(result_of("case"), tmp_path / "result.nc")
    data = path.read_bytes()
    path.write_bytes(data[: int(share * len(data))])
    with pytest.raises(InputError, match="not a saved result"):
        open_result(path)


def test_another_kind_of_file_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "model.nc"
    path.write_text(MODEL, encoding="utf-8")
    with pytest.raises(InputError, match="not a saved result"):
        open_result(path)


def test_a_file_that_is_not_there_is_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"nowhere\.nc"):
        open_result(tmp_path / "nowhere.nc")


def test_a_save_that_breaks_off_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = save(result_of("case"), tmp_path / "result.nc")
    before = path.read_bytes()

    def broken(*_: object, **__: object) -> str:
        raise MemoryError

    other = result_of("history")
    with monkeypatch.context() as patch:
        patch.setattr("thermnet.saved.json.dumps", broken)
        with pytest.raises(MemoryError):
            save(other, path)
    assert path.read_bytes() == before
    assert open_result(path).case == "case"


def test_no_other_file_is_left_behind(tmp_path: Path) -> None:
    save(result_of("case"), tmp_path / "result.nc")
    write_csv(result_of("case"), tmp_path / "result.csv")
    assert sorted(file.name for file in tmp_path.iterdir()) == ["result.csv", "result.nc"]


def test_csv_holds_the_outputs_in_degrees_celsius(tmp_path: Path) -> None:
    result = result_of("history")
    path = write_csv(result, tmp_path / "history.csv")
    with path.open(encoding="utf-8", newline="") as file:
        head, *rows = list(csv.reader(file))
    assert head == ["time [s]", "plate [degC]", "mirror [degC]", "sink [degC]", "heaters.mirror"]
    values = np.array(rows, dtype=float)
    np.testing.assert_allclose(values[:, 0], result.solution.t, atol=1e-3)
    np.testing.assert_allclose(values[:, 1], result.of("plate") - 273.15, atol=1e-4)
    assert set(values[:, 4]) <= {0.0, 1.0}
