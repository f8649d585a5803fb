"""Parts: a model brought into another is, to the last bit, the same model written out."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.model.supplied import HOST, PARTS, instrument, supplied, together, write
from tests.solving import closed
from thermnet.errors import InputError
from thermnet.model.assemble import assemble
from thermnet.model.failures import changes_in, faults
from thermnet.model.model import Model
from thermnet.model.paths import apply_case, value, vary
from thermnet.model.read import load, parse
from thermnet.network.network import Network
from thermnet.results import solve
from thermnet.saved import open_result, save


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A host with the same part twice, and the same model written out."""
    supplied(tmp_path / "supplier")
    file = "supplier/camera.yaml"
    parts = {"parts": {name: {"file": file} for name in PARTS}}
    write(tmp_path / "host.yaml", together(HOST, parts))  # type: ignore[arg-type]
    out = together(HOST, *(instrument(f"{part}/") for part in PARTS))
    # Where a host writes links as rows, they come after those written one by one.
    for part in PARTS:
        walls = [name for name in out["links"] if name.startswith(f"{part}/wall")]
        others = [
            name for name in out["links"] if name.startswith(f"{part}/") and name not in walls
        ]
        for name in [*others, *walls]:
            out["links"][name] = out["links"].pop(name)
        out["nodes"][f"{part}/mount"] = out["nodes"].pop(f"{part}/mount", {"massless": True})
    write(tmp_path / "flat.yaml", out)
    return tmp_path


def assert_same(one: Any, other: Any, where: str = "network") -> None:
    """The same arrays to the last bit, and the same names, all the way down."""
    if dataclasses.is_dataclass(one) and not isinstance(one, type):
        assert type(one) is type(other), where
        for each in dataclasses.fields(one):
            assert_same(getattr(one, each.name), getattr(other, each.name), f"{where}.{each.name}")
    elif isinstance(one, np.ndarray):
        assert one.dtype == other.dtype, where
        assert one.shape == other.shape, where
        assert one.tobytes() == other.tobytes(), where
    elif isinstance(one, tuple):
        assert len(one) == len(other), where
        for k, (a, b) in enumerate(zip(one, other, strict=True)):
            assert_same(a, b, f"{where}.{k}")
    elif isinstance(one, str | int | float | None):
        assert one == other, where


def as_written_out(network: Network) -> Network:
    """A network whose interfaces are called what they are where all is written out: nodes."""
    origins = tuple(each.replace("interfaces.", "nodes.") for each in network.node_origins)
    return dataclasses.replace(network, node_origins=origins)


@pytest.mark.parametrize("case", HOST["cases"])
def test_a_part_brought_in_twice_is_to_the_last_bit_the_model_written_out(
    folder: Path, case: str
) -> None:
    brought = assemble(load(folder / "host.yaml"), case)
    flat = assemble(load(folder / "flat.yaml"), case)
    assert len([name for name in brought.names if name.startswith("camera one/")]) == 20 + 1
    assert_same(as_written_out(brought), flat)


@pytest.mark.parametrize("case", ["mean", "orbit"])
def test_a_part_solves_as_the_model_written_out_does(folder: Path, case: str) -> None:
    brought = solve(load(folder / "host.yaml"), case)
    flat = solve(load(folder / "flat.yaml"), case)
    closed(brought.network, brought.solution)
    np.testing.assert_array_equal(brought.solution.temperature, flat.solution.temperature)


def test_a_part_solved_alone_is_at_its_own_interface_temperature(folder: Path) -> None:
    result = solve(load(folder / "supplier" / "camera.yaml"), "alone")
    closed(result.network, result.solution)
    assert result.of("mount")[0] == 293.15


def test_components_of_a_part_are_judged_by_their_new_names(folder: Path) -> None:
    model = load(folder / "host.yaml")
    assert list(model.sections["components"]) == ["camera one/detector", "camera two/detector"]
    assert model.sections["components"]["camera two/detector"].model_dump(by_alias=True)["at"] == (
        "camera two/box 12",
        "camera two/deck 2",
    )


def test_a_value_of_a_part_stands_in_its_own_file(folder: Path) -> None:
    model = load(folder / "host.yaml")
    place = model.places["surfaces.camera two/radiator.area"]
    assert place.file == str(folder / "supplier" / "camera.yaml")
    line = (folder / "supplier" / "camera.yaml").read_text().splitlines()[place.line - 1]
    assert line[place.column - 1 :].startswith('"0.04 m2"')


def test_a_row_of_a_table_beside_a_part_stands_in_that_table(folder: Path) -> None:
    place = load(folder / "host.yaml").places["links.camera one/wall 1.conductance"]
    assert (Path(place.file).name, place.line) == ("walls.csv", 3)


def test_a_case_of_the_host_changes_one_of_two_parts(folder: Path) -> None:
    text = (folder / "host.yaml").read_text()
    change = '"set": {"units.camera two/head.heat.on": "0.5 W"}, "life"'
    (folder / "host.yaml").write_text(text.replace('"life"', change, 1))
    model = apply_case(load(folder / "host.yaml"), "mean")
    assert value(model, "units.camera one/head.heat.on") == 6.1
    assert value(model, "units.camera two/head.heat.on") == 0.5


def test_a_pattern_changes_all_parts_alike(folder: Path) -> None:
    model = vary(load(folder / "host.yaml"), {"links.*/foot.conductance": 2.0})
    assert [value(model, f"links.{part}/foot.conductance") for part in PARTS] == [2.0, 2.0]


def test_modes_that_the_host_does_not_have_are_left_out(folder: Path) -> None:
    heat = value(load(folder / "host.yaml"), "units.camera one/head.heat")
    assert heat == {"on": 6.1, "safe": 1.3}


def test_a_boundary_that_the_host_has_too_is_that_of_the_host(folder: Path) -> None:
    model = load(folder / "host.yaml")
    assert list(model.sections["boundaries"]) == ["space"]
    assert value(model, "boundaries.space.temperature") == 2.7


def test_a_boundary_of_the_part_alone_is_brought_in_and_the_default_sink_is_it(
    folder: Path,
) -> None:
    text = (folder / "host.yaml").read_text()
    # The host calls its own sky by another name.
    text = text.replace('"space": {', '"sky": {').replace(
        '"emittance": 0.81', '"emittance": 0.81, "to": "sky"'
    )
    (folder / "host.yaml").write_text(text)
    model = load(folder / "host.yaml")
    assert list(model.sections["boundaries"]) == ["sky", "camera one/space", "camera two/space"]
    assert value(model, "surfaces.camera two/face.to") == "camera two/space"


def test_the_hash_covers_the_text_of_a_part(folder: Path) -> None:
    before = load(folder / "host.yaml").hash()
    part = folder / "supplier" / "camera.yaml"
    part.write_text(part.read_text() + "# another remark\n")
    assert load(folder / "host.yaml").hash() != before


def test_a_saved_result_with_parts_opens_without_their_files(folder: Path, tmp_path: Path) -> None:
    result = solve(load(folder / "host.yaml"), "mean")
    file = save(result, tmp_path / "mean.nc")
    for path in [*folder.glob("**/*.yaml"), *folder.glob("**/*.csv")]:
        path.unlink()
    found = open_result(file)
    assert_same(found.network, result.network)


def small(folder: Path, part: str, host: str = "") -> Model:
    """A host with a node `plate` and the part `box` from this text."""
    (folder / "box.yaml").write_text(part, encoding="utf-8")
    text = (
        "thermnet: 1\ntemperatures: degC\nnodes:\n  plate: {capacity: 10 J/K}\n"
        "boundaries:\n  wall: {temperature: 20}\n"
        f"parts:\n  box: {{file: box.yaml}}\n{host}"
    )
    (folder / "host.yaml").write_text(text, encoding="utf-8")
    return load(folder / "host.yaml")


def test_bare_temperatures_of_a_part_are_on_its_own_scale(tmp_path: Path) -> None:
    part = "thermnet: 1\ntemperatures: K\nboundaries:\n  tank: {temperature: 20}\n"
    assert value(small(tmp_path, part), "boundaries.box/tank.temperature") == 20.0


def test_a_part_without_a_scale_does_not_take_that_of_the_host(tmp_path: Path) -> None:
    part = "thermnet: 1\nboundaries:\n  tank: {temperature: 20}\n"
    with pytest.raises(InputError, match=r"box\.yaml:3:23: boundaries\.box/tank\.temperature"):
        small(tmp_path, part)


def test_parts_have_parts(tmp_path: Path) -> None:
    (tmp_path / "lens").mkdir()
    lens = (
        "thermnet: 1\nmodes:\n  on: {}\nnodes:\n  glass: {capacity: 3 J/K}\n"
        "boundaries:\n  wall: {temperature: 3 K}\n"
        "links:\n  rim: {from: glass, to: wall, conductance: 1 W/K}\n"
        "units:\n  led: {node: glass, heat: {on: 2 W}}\n"
    )
    (tmp_path / "lens" / "lens.yaml").write_text(lens, encoding="utf-8")
    part = (
        "thermnet: 1\nparts:\n  lens: {file: lens/lens.yaml}\nnodes:\n  tube: {capacity: 5 J/K}\n"
        "links:\n  ring: {from: tube, to: lens/glass, conductance: 1 W/K}\n"
    )
    model = small(tmp_path, part, "modes:\n  on: {}\n")
    assert list(model.sections["nodes"]) == ["plate", "box/tube", "box/lens/glass"]
    assert value(model, "links.box/ring.to") == "box/lens/glass"
    # The wall is the host's, as it would be if the lens were its own part.
    assert value(model, "links.box/lens/rim.to") == "wall"
    assert value(model, "units.box/lens/led.heat.on") == 2.0
    assert model.brought["nodes.box/lens/glass"] == "box/lens"


def test_a_failure_of_a_part_changes_the_part(tmp_path: Path) -> None:
    part = (
        "thermnet: 1\nnodes:\n  tube: {capacity: 5 J/K}\n"
        "loads:\n  tube: {node: tube, heat: 1 W}\n"
        "failures:\n  stuck: {set: {loads.tube.heat: 9 W, 'loads.t*.heat': 9 W}}\n"
    )
    failure = small(tmp_path, part).sections["failures"]["box/stuck"]
    changed = failure.model_dump()["set"]
    assert list(changed) == ["loads.box/tube.heat", "loads.box/t*.heat"]


REFUSED = {
    "a unit whose modes the host has none of": (
        "units:\n  led: {node: tube, heat: {bright: 2 W}}\n",
        "has no mode 'bright'",
    ),
    "a heater whose modes the host has none of": (
        (
            "heaters:\n  film: {node: tube, power: 2 W, on_below: 270 K, off_above: 280 K, "
            "modes: [survival]}\n"
        ),
        "has no mode 'survival'",
    ),
    "a name that nothing bears": (
        "loads:\n  tube: {node: tub, heat: 2 W}\n",
        "unknown node 'box/tub'; did you mean 'box/tube'",
    ),
    "a misspelt section": ("lods:\n  tube: {node: tube, heat: 2 W}\n", "unknown key 'lods'"),
}


@pytest.mark.parametrize("what", REFUSED)
def test_a_part_is_refused_for(what: str, tmp_path: Path) -> None:
    text, message = REFUSED[what]
    part = f"thermnet: 1\nnodes:\n  tube: {{capacity: 5 J/K}}\n{text}"
    with pytest.raises(InputError) as caught:
        small(tmp_path, part, "modes:\n  on: {}\n")
    (problem,) = caught.value.problems
    assert message in problem.message
    assert problem.place is not None
    assert Path(problem.place.file).name == "box.yaml"


def test_a_link_in_a_folder_does_not_let_a_file_be_a_part_of_itself_for_ever(
    tmp_path: Path,
) -> None:
    (tmp_path / "again").symlink_to(tmp_path, target_is_directory=True)
    part = "thermnet: 1\nparts:\n  box: {file: again/box.yaml}\n"
    with pytest.raises(InputError, match="more than 8 deep"):
        small(tmp_path, part)


WITH_WALL = "thermnet: 1\nboundaries:\n  wall: {{temperature: {} K}}\n"


@pytest.mark.parametrize("order", ["a: {file: a.yaml}, b: {file: b.yaml}",
                                   "b: {file: b.yaml}, a: {file: a.yaml}"])  # fmt: skip
def test_boundaries_of_two_parts_stay_two_whichever_part_comes_first(order: str) -> None:
    """The host's part `a` has a wall, and so has the part `a` of its part `b`."""
    sources = {
        "host.yaml": f"{WITH_WALL.format(3).replace('wall', 'sky')}parts: {{{order}}}\n",
        "a.yaml": WITH_WALL.format(100),
        "b.yaml": "thermnet: 1\nparts: {a: {file: c.yaml}}\n",
        "c.yaml": WITH_WALL.format(300),
    }
    model = parse(sources, "host.yaml")
    walls = {
        name: value(model, f"boundaries.{name}.temperature") for name in ("a/wall", "b/a/wall")
    }
    assert walls == {"a/wall": 100.0, "b/a/wall": 300.0}


STUCK = (
    "thermnet: 1\n{}boundaries:\n  tank: {{temperature: 20 K}}\n"
    "failures:\n  stuck: {{set: {{boundaries.tank.temperature: 300}}}}\n"
)
ONE_CASE = "cases:\n  case: {}\n"


def test_bare_temperatures_of_a_failure_of_a_part_are_on_its_own_scale(tmp_path: Path) -> None:
    """300 K, and not 300 degC as the host would have it."""
    model = small(tmp_path, STUCK.format("temperatures: K\n"), ONE_CASE)
    (change,) = changes_in(apply_case(model, "case"), faults(model)["box/stuck"])
    assert change.after == 300.0


def test_a_failure_of_a_part_without_a_scale_does_not_take_that_of_the_host(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"box\.yaml:5:46: failures\.box/stuck\.set"):
        small(tmp_path, STUCK.format(""), ONE_CASE)


PAINTED = (
    "thermnet: 1\nboundaries:\n  space: {temperature: 0 K}\nnodes:\n  tube: {capacity: 5 J/K}\n"
    "surfaces:\n  tube: {node: tube, area: 0.1 m2, finish: white paint}\n"
)
REDEFINED = "finishes:\n  white paint: {absorptance: 0.9, emittance: 0.5}\n"


def test_a_finish_of_the_host_does_not_pass_for_that_of_the_library_in_a_part(
    tmp_path: Path,
) -> None:
    with pytest.raises(InputError, match="has a finish of its own by that name") as caught:
        small(tmp_path, PAINTED, REDEFINED)
    assert str(caught.value.problems[0].place) == f"{tmp_path / 'box.yaml'}:7:44"
    # What the part states itself is its own, whatever the host states.
    model = small(tmp_path, PAINTED + REDEFINED.replace("0.9", "0.3"), REDEFINED)
    assert value(model, "finishes.box/white paint.absorptance") == 0.3
    assert value(model, "surfaces.box/tube.finish") == "box/white paint"


def test_failures_of_a_part_in_modes_and_cases_of_its_own_alone_are_left_out(
    tmp_path: Path,
) -> None:
    part = (
        "thermnet: 1\nnodes:\n  tube: {capacity: 5 J/K}\n"
        "boundaries:\n  wall: {temperature: 9 K}\n"
        "links:\n  rim: {from: tube, to: wall, conductance: 1 W/K}\n"
        "modes:\n  dim: {}\n  on: {}\ncases:\n  alone: {mode: on}\n  case: {mode: dim}\n"
        "failures:\n"
        "  dimmed: {mode: dim}\n"
        "  left on: {mode: on}\n"
        "  loose: {links: [rim], cases: [alone]}\n"
        "  loose in both: {links: [rim], cases: [alone, case]}\n"
    )
    model = small(tmp_path, part, "modes:\n  on: {}\ncases:\n  case: {mode: on}\n")
    assert list(model.sections["failures"]) == ["box/left on", "box/loose in both"]
    assert value(model, "failures.box/loose in both.cases") == ("case",)
