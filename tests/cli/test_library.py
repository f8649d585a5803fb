"""The command `library`: every table with its rows, and every row with its source."""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path

import pytest

from thermnet.cli.library import FACTS, rows_of
from thermnet.cli.main import main
from thermnet.model.kinds import SECTIONS
from thermnet.used import tables

OWN = """\
thermnet: 1
temperatures: degC
nodes:
  lid: {capacity: 900 J/K}
boundaries:
  space: {temperature: 2.7 K}
finishes:
  white paint: {absorptance: 0.17, note: 'a sample, measured'}
  velvet: {absorptance: 0.99, emittance: 0.95}
  half: {emittance: 0.5}
gases:
  helium: {lowest: -260}
environments:
  hot: {sunlight: 1400 W/m2}
cases:
  case: {}
"""


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    (tmp_path / "own.yaml").write_text(OWN, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return "own.yaml"


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> list[str]:
    assert main(["library", *arguments]) == 0
    return capsys.readouterr().out.splitlines()


def data(capsys: pytest.CaptureFixture[str], *arguments: str) -> list[dict[str, object]]:
    assert main(["library", *arguments, "--json"]) == 0
    found: list[dict[str, object]] = json.loads(capsys.readouterr().out)
    return found


# Tables


def test_every_file_of_the_library_is_a_table_and_a_section() -> None:
    files = {each.name for each in resources.files("thermnet.model.library").iterdir()}
    assert {f"{table}.csv" for table in tables()} == {each for each in files if ".csv" in each}
    assert set(tables()) <= set(SECTIONS)
    assert set(FACTS) == set(tables()) - {"environments"}


def test_the_tables_are_listed_with_their_rows(capsys: pytest.CaptureFixture[str]) -> None:
    rows = [line.split() for line in said(capsys)[2:] if not line.startswith(" ")]
    assert [cells[0] for cells in rows] == list(tables())
    assert ["bodies", "8", "radius,"] in [cells[:3] for cells in rows]


@pytest.mark.parametrize("table", tables())
def test_every_row_of_every_table_says_how_it_is_known(table: str) -> None:
    rows = rows_of(table)
    assert rows
    for row in rows:
        assert row.known, row.name
        assert row.source


BESIDE = {
    "environments": {"inclination", "averaging_time", "refused"},
    "materials": {"specific_heat_by_temperature", "conductivity_by_temperature"},
}


@pytest.mark.parametrize("table", tables())
def test_every_column_is_a_key_of_a_model_or_words_of_the_library(table: str) -> None:
    # what an entry of a model cannot state is told of an environment alone
    keys = {key for row in rows_of(table) for key in row.values}
    beside = BESIDE.get(table, set())
    assert keys - set(SECTIONS[table].model_fields) == beside


# Rows


def test_a_table_is_listed_with_both_ends_of_life(capsys: pytest.CaptureFixture[str]) -> None:
    lines = said(capsys, "finishes")
    keys = ["absorptance", "absorptance_end", "emittance", "emittance_end"]
    assert lines[0].split() == ["name", *keys]
    (paint,) = (line for line in lines if line.startswith("white paint") and "0.88" in line)
    assert paint.split()[2:] == ["0.2", "0.35", "0.88", "0.88"]
    (gold,) = (line for line in lines if line.startswith("gold ") and "0.04" in line)
    assert gold.split()[1:] == ["0.25", "-", "0.04", "0.04"]


def test_a_wide_table_is_listed_in_blocks_of_a_page(capsys: pytest.CaptureFixture[str]) -> None:
    lines = said(capsys, "bodies")
    assert max(map(len, lines)) <= 100
    assert sum(line.startswith("Moon") for line in lines) == 3


def test_one_row_has_all_its_numbers_and_its_source(capsys: pytest.CaptureFixture[str]) -> None:
    lines = said(capsys, "finishes", "machined stainless steel")
    text = " ".join(" ".join(lines).split())
    assert "absorptance_end not known" in text
    assert "emittance 0.14 hemispherical infrared emittance" in text
    assert "how known second-hand" in text
    assert text.endswith(
        "source second-hand (Henninger, NASA RP-1121, 1984). End of life not known"
    )


def test_a_name_may_have_several_rows(capsys: pytest.CaptureFixture[str]) -> None:
    found = data(capsys, "environments", "cold")
    values = [row["values"] for row in found]
    assert [each["inclination"] for each in values if isinstance(each, dict)] == [
        "low",
        "medium",
        "high",
    ]


def test_people_read_temperatures_in_degrees_celsius_and_programs_in_kelvin(
    capsys: pytest.CaptureFixture[str],
) -> None:
    (row,) = data(capsys, "gases", "nitrogen")
    assert isinstance(row["values"], dict)
    assert row["values"]["lowest"] == pytest.approx(63.15)
    (line,) = (line for line in said(capsys, "gases", "nitrogen") if line.startswith("lowest"))
    assert line.split()[1:3] == ["-210.0", "degC"]
    # a temperature within a formula stays in its unit
    (line,) = (line for line in said(capsys, "gases", "nitrogen") if line.startswith("sutherl"))
    assert line.split()[1:3] == ["150", "K"]


# With a model


def test_a_model_changes_a_row_as_it_does_when_it_is_solved(
    own: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (row,) = data(capsys, "finishes", "white paint", "--model", own)
    assert row["values"] == {
        "absorptance": 0.17,
        "absorptance_end": 0.17,  # a value without its end of life holds all life long
        "emittance": 0.88,
        "emittance_end": 0.88,
    }
    assert row["stated_by_model"] == ["absorptance"]
    assert row["place"] == "own.yaml:8:3"
    text = "\n".join(said(capsys, "finishes", "white paint", "--model", own))
    assert "0.17 (library: 0.2)" in text
    assert "the model states absorptance; a sample, measured;" in text


def test_a_list_says_what_is_the_model_s(own: str, capsys: pytest.CaptureFixture[str]) -> None:
    lines = said(capsys, "finishes", "--model", own)
    ends = {line.split("  ")[0]: line for line in lines if "library" in line or "model" in line}
    assert ends["white paint"].endswith("library; model: absorptance")
    assert ends["velvet"].endswith("model")
    assert ends["gold"].endswith("library")


def test_a_new_row_that_lacks_a_key_is_shown_as_it_stands(
    own: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (row,) = data(capsys, "finishes", "half", "--model", own)
    assert row["values"] == {
        "absorptance": None,
        "absorptance_end": None,
        "emittance": 0.5,
        "emittance_end": None,
    }


def test_an_environment_of_a_model_stands_beside_the_published_ones(
    own: str, capsys: pytest.CaptureFixture[str]
) -> None:
    found = data(capsys, "environments", "hot", "--model", own)
    values = [row["values"] for row in found]
    assert [each["albedo"] for each in values if isinstance(each, dict)] == [0.24, 0.26, 0.26, None]
    assert isinstance(values[-1], dict)
    assert values[-1]["sunlight"] == 1400.0


def test_other_rows_stay_as_they_are(own: str, capsys: pytest.CaptureFixture[str]) -> None:
    changed = data(capsys, "finishes", "--model", own)
    plain = {str(row["name"]): row for row in data(capsys, "finishes")}
    for row in changed:
        if row["name"] not in {"white paint", "velvet", "half"}:
            assert row == plain[str(row["name"])]


# What a model uses

FLOWN = """\
thermnet: 1
temperatures: degC
nodes:
  lid: {material: copper, mass: 1 kg}
boundaries:
  space: {temperature: 2.7 K}
surfaces:
  lid: {node: lid, area: 0.1 m2, finish: white paint, shaded: true}
finishes:
  white paint: {absorptance: 0.17, note: 'a sample, measured'}
  velvet: {absorptance: 0.99, emittance: 0.95}
orbits:
  low: {altitude: 500 km, beta: 0, inclination: 51 deg}
  far: {body: Mars, altitude: 500 km, beta: 0}
cases:
  near: {orbit: low, environment: hot, life: beginning of life}
  far: {orbit: far, environment: hot, life: beginning of life}
"""


@pytest.fixture
def flown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    (tmp_path / "flown.yaml").write_text(FLOWN, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return "flown.yaml"


def test_rows_used_are_listed_with_how_they_are_known_and_where_they_are_named(
    flown: str, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = said(capsys, "--model", flown, "--used")
    heads = [line for line in lines if not line.startswith(" ")]
    assert heads == ["bodies:", "environments:", "finishes:", "materials:"]
    at = next(k for k, line in enumerate(lines) if line.startswith("  white paint"))
    assert lines[at].endswith("stated at flown.yaml:10:3")
    assert lines[at + 1] == "    used by surfaces.lid.finish"
    assert lines[at + 2].startswith("    source: the model states absorptance; a sample, measured;")
    assert not any("velvet" in line for line in lines)  # which no entry names


def test_only_the_pair_of_an_inclination_that_is_flown_is_listed(
    flown: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (row,) = data(capsys, "environments", "--model", flown, "--used")
    assert isinstance(row["values"], dict)
    assert row["values"]["inclination"] == "medium"
    assert row["used_by"] == ["cases.near.environment"]  # Mars has numbers of its own


def test_rows_used_of_one_table_and_of_one_name(
    flown: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert [row["name"] for row in data(capsys, "bodies", "--model", flown, "--used")] == [
        "Earth",
        "Mars",
    ]
    (row,) = data(capsys, "bodies", "Mars", "--model", flown, "--used")
    assert row["used_by"] == ["orbits.far.body"]
    assert data(capsys, "gases", "--model", flown, "--used") == []


# Mistakes


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("finishs",), "the library has no table 'finishs'; did you mean 'finishes'?"),
        (("finishes", "whit paint"), "finishes has no 'whit paint'; did you mean 'white paint'?"),
        (("finishes", "velvet"), "finishes has no 'velvet'"),
    ],
)
def test_an_unknown_name_is_told_with_the_nearest(
    arguments: tuple[str, ...], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["library", *arguments]) == 2
    assert message in capsys.readouterr().err


# Rows that a model uses


@pytest.fixture
def using(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    text = OWN.replace(
        "finishes:", "surfaces:\n  lid: {node: lid, area: 1, finish: white paint}\nfinishes:"
    )
    text = text.replace("case: {}", "case: {life: beginning of life}")
    (tmp_path / "using.yaml").write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return "using.yaml"


def test_only_used_rows_are_listed_with_where_they_are_named(
    using: str, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = said(capsys, "--model", using, "--used")
    assert [line for line in lines if not line.startswith(" ")] == ["finishes:"]
    assert "    used by surfaces.lid.finish" in lines
    (row,) = data(capsys, "finishes", "--model", using, "--used")
    assert (row["name"], row["used_by"]) == ("white paint", ["surfaces.lid.finish"])


def test_a_row_that_is_not_used_is_no_error(using: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert said(capsys, "finishes", "black paint", "--model", using, "--used") == []


@pytest.mark.parametrize("asked", [["finish"], ["finishes", "white pain"]])
def test_a_table_or_row_that_there_is_not_is_an_error_among_used_ones_too(
    using: str, asked: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["library", *asked, "--model", using, "--used"]) == 2
    assert "did you mean" in capsys.readouterr().err


def test_used_rows_need_a_model(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["library", "--used"]) == 2
    assert "--model MODEL" in capsys.readouterr().err
