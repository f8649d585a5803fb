"""The command `trade`."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest

from tests.studies.test_trade import BETWEEN_PLATES, NETWORK, PUBLISHED
from tests.studies.test_trade_bounds import BOUNDED, STACKED
from thermnet.cli.main import main

HOLDS, BAD_INPUT, UNSOLVED = 0, 2, 3  # as `thermnet --help` documents them
DECK = ["--component", "deck"]


@pytest.fixture
def model(tmp_path: Path) -> str:
    """The network of check value 11.4, both of whose blanket's links have one emittance."""
    path = tmp_path / "model.yaml"
    path.write_text(NETWORK, encoding="utf-8")
    return str(path)


def test_the_table_goes_over_the_bounds_of_the_blanket_over_the_component(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["trade", model, *DECK, "--points", "4"]) == HOLDS
    out = capsys.readouterr().out
    rows = [line.split() for line in out.splitlines() if line.lstrip().startswith("0.0")]
    assert [row[0] for row in rows] == ["0.015", "0.02", "0.025", "0.03"]
    at_nominal = next(row for row in rows if row[0] == "0.02")
    assert at_nominal[1:3] == ["0.0200", f"{PUBLISHED[0.020][0]:.2f}"]
    assert "value: blankets.wrap.effective_emittance" in out
    assert "the lower end of its operating band" in out
    assert "installed: 80.00 W of 'deck'" in out


def test_the_table_names_where_the_power_is_reached(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["trade", model, *DECK, "--values", "0.02,0.08"])
    out = capsys.readouterr().out
    assert "64.00 W at a duty of 80 %" in out
    assert "(straight between two points)" in out


def test_the_head_says_which_bounds_each_case_uses(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "model.yaml"
    path.write_text(BOUNDED, encoding="utf-8")
    main(["trade", str(path), "--component", "tank", "--values", "0.02"])
    out = capsys.readouterr().out
    assert "the value is the effective emittance of 'wrap' in both cases" in out
    assert "blankets high in 'cold', low in 'hot'" in out


def test_a_whole_number_is_enough_where_it_is_whole(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "model.yaml"
    path.write_text(STACKED.replace("5 mW/m/K", "0.1 mW/m/K"), encoding="utf-8")
    more = ["--path", "blankets.wrap.layers.count", "--values", "2,4,8,16"]
    more += ["--set", "heaters.tank.power=10 W"]
    main(["trade", str(path), "--component", "tank", *more])
    assert re.search(r"between (\d+) and (\d+), and enough at \2 ", capsys.readouterr().out)


def test_json_holds_powers_and_margins_in_si(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["trade", model, *DECK, "--values", "0.02", "--json"])
    found = json.loads(capsys.readouterr().out)
    assert (found["cold"], found["hot"], found["limit"]) == ("cold", "hot", 273.15)
    (point,) = found["points"]
    assert point["needed"] == pytest.approx(PUBLISHED[0.020][0], abs=1e-4)
    assert point["margin"]["side"] == "hot"
    assert point["by_itself"] is None


def test_another_temperature_needs_its_unit(model: str, capsys: pytest.CaptureFixture[str]) -> None:
    powers = []
    for text in ("283.15 K", "10 degC"):
        main(["trade", model, *DECK, "--values", "0.02", "--at", text, "--json"])
        powers.append(json.loads(capsys.readouterr().out)["points"][0]["needed"])
    assert powers[0] == pytest.approx(powers[1])
    assert powers[0] > PUBLISHED[0.020][0]
    assert main(["trade", model, *DECK, "--values", "0.02", "--at", "10"]) == 2
    assert "--at: give it a unit: '10 degC' or '10 K'" in capsys.readouterr().err


def test_out_writes_the_table_and_the_figure(
    model: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "out"
    main(["trade", model, *DECK, "--points", "2", "--out", str(folder)])
    assert "wrote " in capsys.readouterr().err
    assert sorted(file.name for file in folder.iterdir()) == ["trade.csv", "trade.png"]
    with (folder / "trade.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [float(row["blankets.wrap.effective_emittance"]) for row in rows] == [0.015, 0.03]
    assert all(float(row["hot margin [K]"]) > 0.0 for row in rows)


def test_a_repeating_case_has_a_column_of_peaks(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "model.yaml"
    path.write_text(BETWEEN_PLATES, encoding="utf-8")
    args = ["trade", str(path), "--component", "tank", "--values", "0.02"]
    assert main([*args, "--cold", "turning"]) == HOLDS
    assert "peak W" in capsys.readouterr().out
    assert main(args) == HOLDS
    assert "peak W" not in capsys.readouterr().out


def test_a_value_without_a_solution_has_its_status_and_is_told(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is 1e30 W into a box leaves no temperature that a solver reaches."""
    changes = ["--set", "loads.box.heat=1e30"]
    assert main(["trade", model, *DECK, "--values", "0.02", *changes]) == UNSOLVED
    assert "not solved" in capsys.readouterr().err


@pytest.mark.parametrize(
    "more",
    [
        ["--component", "dek"],
        [*DECK, "--cold", "nowhere"],
        [*DECK, "--blanket", "rap"],
        [*DECK, "--values", "0.01,much"],
        [*DECK, "--values", "0.01", "--from", "0.02"],
        [*DECK, "--from", "0.02"],
        [*DECK, "--from", "0.03", "--to", "0.02"],
        [*DECK, "--at", "warm"],
        [*DECK, "--path", "blankets.wrap.low"],
        [*DECK, "--values", "-0.01"],
    ],
)
def test_what_cannot_be_traded_is_bad_input(model: str, more: list[str]) -> None:
    assert main(["trade", model, *more]) == BAD_INPUT


def test_a_model_without_a_hot_case_is_bad_input(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "model.yaml"
    path.write_text(NETWORK.replace("kind: hot", "kind: other"), encoding="utf-8")
    assert main(["trade", str(path), *DECK]) == BAD_INPUT
    assert "the model has no hot case: name one with --hot" in capsys.readouterr().err
