"""The command `orbit`."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from thermnet.cli.main import main

HOLDS, BAD_INPUT = 0, 2  # as `thermnet --help` documents them

FILE = """
thermnet: 1
name: Tern
nodes: {box: {capacity: 900 J/K}}
boundaries: {space: {temperature: 2.7 K}, ground: {temperature: 230 K}}
surfaces:
  roof: {node: box, area: 2 m2, absorptance: 0.5, emittance: 0.8, normal: -z}
  lens: {node: box, area: 0.1 m2, absorptance: 0.9, emittance: 0.9, normal: +z}
orbits:
  low: {altitude: 500 km, beta: 0 deg, shadow: cylinder}
  dusk: {altitude: 500 km, beta: 90 deg}
  dated: {altitude: 420 km, inclination: 51.6 deg, node: 40 deg, date: 2026-03-01}
  cruise: {body: none, sun_distance: 2 au}
sites:
  plain: {body: Mars, latitude: 10 deg, ground: ground}
pointings:
  nadir: {axis: +z, to: nadir, second_axis: +x, second_to: velocity}
  sunward: {axis: -z, to: sun}
environments:
  own: {albedo: 0.3, infrared: 237 W/m2, sunlight: 1361 W/m2, infrared_height: 0 m, note: by hand}
cases:
  low: {orbit: low, pointing: nadir, environment: own}
  dusk: {orbit: dusk, pointing: nadir, environment: own}
  dated: {solve: repeating, orbit: dated, pointing: nadir, environment: own}
  cruise: {orbit: cruise, pointing: sunward}
  day: {site: plain, environment: mean}
  lamp: {orbit: none}
"""


@pytest.fixture
def model(tmp_path: Path) -> str:
    path = tmp_path / "model.yaml"
    path.write_text(FILE, encoding="utf-8")
    return str(path)


def printed(model: str, case: str, capsys: pytest.CaptureFixture[str]) -> str:
    assert main(["orbit", model, "--case", case]) == HOLDS
    return capsys.readouterr().out


def data(model: str, case: str, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    assert main(["orbit", model, "--case", case, "--json"]) == HOLDS
    (found,) = json.loads(capsys.readouterr().out)
    return dict(found)


def test_it_says_where_the_case_flies_and_how_much_of_it_is_dark(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    # check-values 3.1 (derived): 5677.0 s, 0.37788 of the orbit at beta 0.
    told = printed(model, "low", capsys)
    assert "around Earth at 500.0 km, period 5677.0 s, beta angle 0.00 deg" in told
    assert "shadow 37.79 % of the time: 1765.9 to 3911.1 s" in told
    assert "sunlight 1361.0 W/m2" in told
    assert "albedo 0.300; planet infrared 237.0 W/m2" in told
    assert "environment own: by hand" in told


def test_a_dawn_to_dusk_orbit_stays_in_the_light(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "always in sunlight" in printed(model, "dusk", capsys)


def test_its_table_has_the_heat_of_each_cause_and_the_sink(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = printed(model, "low", capsys).splitlines()
    roof = next(line.split() for line in lines if line.startswith("roof"))
    # By hand: 0.5 x 2 m2 x 1361 x (2 sin(90 deg))/(2 pi) = 433.22 W; nothing from the planet;
    # sink (433.22 / (0.8 x 2 x sigma))^(1/4) = 262.87 K.
    assert [float(cell) for cell in roof[4:9]] == pytest.approx(
        [433.22, 0.0, 0.0, 433.22, -10.3], abs=0.2
    )


def test_programs_get_si_units_and_kelvin(model: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = data(model, "low", capsys)
    roof = found["surfaces"][0]
    assert roof["mean"]["solar"] == pytest.approx(433.22, rel=1e-3)
    assert roof["sink"]["mean"] == pytest.approx(262.87, abs=0.1)
    assert found["shadow"] == pytest.approx(0.37788, abs=1e-4)


def test_between_the_planets_there_is_the_sun_alone(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    told = printed(model, "cruise", capsys)
    assert "between the planets" in told
    assert "sunlight 340.2 W/m2 at 2.0000 au" in told
    # 0.5 x 2 m2 x 1361/4
    assert data(model, "cruise", capsys)["surfaces"][0]["mean"] == {"solar": pytest.approx(340.25)}


def test_a_site_has_a_day_and_a_night(model: str, capsys: pytest.CaptureFixture[str]) -> None:
    told = printed(model, "day", capsys)
    assert "on Mars at a latitude of 10 deg" in told
    assert "night 50.00 % of the time" in told


def test_without_an_orbit_it_says_so(model: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert "no orbit" in printed(model, "lamp", capsys)


def test_it_writes_the_histories_and_draws_them(
    model: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "out"
    assert main(["orbit", model, "--case", "dated", "--out", str(folder)]) == HOLDS
    capsys.readouterr()
    assert sorted(path.name for path in folder.iterdir()) == [
        "beta-dated.png",
        "heat-dated.csv",
        "heat-dated.png",
    ]
    with (folder / "heat-dated.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert {row["surface"] for row in rows} == {"roof", "lens"}
    assert {row["cause"] for row in rows} == {"solar", "albedo", "planet_infrared"}


def test_an_override_moves_the_orbit(model: str, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["orbit", model, "--case", "low", "--set", "orbits.low.altitude=800 km"]
    assert main(arguments) == HOLDS
    assert "period 6052.4 s" in capsys.readouterr().out  # check-values 3.1


def test_a_broken_orbit_is_told_with_its_place(
    model: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["orbit", model, "--set", "orbits.low.altitude=-5 km"]) == BAD_INPUT
    assert "orbits.low.altitude: must be above 0 m" in capsys.readouterr().err
