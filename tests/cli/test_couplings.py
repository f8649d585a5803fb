"""The command `couplings`: what it prints and writes, and its exit status."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tests.test_couplings import TEXT
from thermnet.cli.couplings import MOST_PAIRS
from thermnet.cli.main import main

FACES = 30


@pytest.fixture
def model(tmp_path: Path) -> str:
    (tmp_path / "box.yaml").write_text(TEXT, encoding="utf-8")
    return str(tmp_path / "box.yaml")


@pytest.fixture
def cavity(tmp_path: Path) -> str:
    """Faces of one area that see all others alike, each on a node of its own."""
    nodes = [f"  n{k}: {{capacity: 10 J/K}}" for k in range(1, FACES)]
    faces = [f"      f{k}, n{k}, 0.01, 0.8" for k in range(FACES)]
    views = [f"      f{i}, f{j}, {1.0 / FACES}" for i in range(FACES) for j in range(i + 1)]
    lines = ["thermnet: 1", "temperatures: K", "nodes:", *nodes]
    lines += ["boundaries:", "  n0: {temperature: 250}", "loads:", "  lamp: {node: n7, heat: 5 W}"]
    lines += ["faces:", "  cavity:", "    table: |", "      name, node, area [m2], emittance"]
    lines += [*faces, "enclosures:", "  cavity:", "    faces: cavity", "    table: |"]
    lines += ["      from, to, factor", *views, "cases:", "  case: {}", ""]
    (tmp_path / "cavity.yaml").write_text("\n".join(lines), encoding="utf-8")
    return str(tmp_path / "cavity.yaml")


def table(out: Path) -> list[dict[str, str]]:
    with (out / "couplings.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_a_steady_case_has_a_line_for_each_pair(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["couplings", model, "--case", "steady"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].endswith("steady (steady)")
    assert lines[1].split("  ")[0] == "coupling"
    (strap,) = (line.split() for line in lines if line.startswith("links.strap"))
    assert strap[1:3] == ["box", "plate"]
    assert float(strap[6]) == pytest.approx(2.0)
    assert float(strap[5]) == pytest.approx(2.0 * (float(strap[3]) - float(strap[4])), abs=0.2)
    (blanket,) = (line.split() for line in lines if line.startswith("blankets.box"))
    assert blanket[-1] == "-"  # it radiates


def test_a_history_has_its_extremes_and_their_instants(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["couplings", model, "--case", "repeating"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[1].split()[-6:] == ["least", "W", "at", "most", "W", "at"]
    (strap,) = (line for line in lines if line.startswith("links.strap"))
    assert strap.endswith("8.3 min")  # 500 s, where the load falls


def test_rows_of_the_library_are_named_below_the_tables(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["couplings", model, "--case", "steady"])
    assert "  joints.feet: screw M4" in capsys.readouterr().out.splitlines()


def test_programs_get_watts_and_kelvin_and_null_for_what_there_is_not(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["couplings", model, "--case", "steady", "--json"]) == 0
    (case,) = json.loads(capsys.readouterr().out)
    rows = {row["entry"]: row for row in case["couplings"]}
    strap = rows["links.strap"]
    difference = strap["from_temperature"] - strap["to_temperature"]
    assert strap["heat"] == pytest.approx(2.0 * difference)
    assert strap["from_temperature"] > 273.15
    assert rows["blankets.box"]["conductance"] is None


def test_all_cases_are_written_as_one_table(model: str, tmp_path: Path) -> None:
    assert main(["couplings", model, "--out", str(tmp_path / "out")]) == 0
    assert [each.name for each in (tmp_path / "out").iterdir()] == ["couplings.csv"]
    assert {row["case"] for row in table(tmp_path / "out")} == {"steady", "repeating"}


def test_the_strongest_pairs_of_an_enclosure_are_shown_and_all_are_written(
    cavity: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["couplings", cavity, "--out", str(tmp_path / "out")]) == 0
    lines = capsys.readouterr().out.splitlines()
    shown = [line for line in lines if line.startswith("enclosures.cavity  ")]
    rows = table(tmp_path / "out")
    assert len(shown) == MOST_PAIRS
    assert len(rows) == FACES * (FACES - 1) // 2
    left = len(rows) - MOST_PAIRS
    weakest = min(abs(float(line.split()[5])) for line in shown)
    note = f"enclosures.cavity: {left} weaker pairs are left out, up to {weakest:.3f} W each"
    assert note in lines
    # All that is given to n7 leaves it, and the most of one pair goes straight to the cold face.
    from_lamp = [
        float(row["heat"]) * (1.0 if row["of"] == "n7" else -1.0)
        for row in rows
        if "n7" in (row["of"], row["to"])
    ]
    assert sum(from_lamp) == pytest.approx(5.0, rel=1e-6)
    assert "n7" in shown[0]
    assert any({"n0", "n7"} <= set(line.split()) for line in shown)


def test_of_pairs_that_carry_alike_none_pushes_out_a_stronger_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nine sinks of one conductance and the last of five times as much."""
    ends = [f"  s{k}: {{temperature: 250}}" for k in range(10)]
    rows = [f"      hub, s{k}, {5.0 if k == 9 else 1.0}" for k in range(10)]
    lines = ["thermnet: 1", "temperatures: K", "nodes:", "  hub: {capacity: 10 J/K}"]
    lines += ["boundaries:", *ends, "loads:", "  lamp: {node: hub, heat: 28 W}", "links:"]
    lines += ["  star:", "    table: |", "      from, to, conductance [W/K]", *rows]
    (tmp_path / "star.yaml").write_text("\n".join([*lines, "cases:", "  case: {}", ""]))
    assert main(["couplings", str(tmp_path / "star.yaml")]) == 0
    printed = capsys.readouterr().out
    assert "s9" in printed
    assert "links.star: 2 weaker pairs are left out, up to 2.000 W each" in printed


def test_a_case_that_cannot_be_solved_is_told(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["couplings", model, "--case", "stedy"]) == 2
    assert "steady" in capsys.readouterr().err
