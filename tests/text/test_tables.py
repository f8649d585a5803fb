"""Tables in the file and beside it: the entries they make, their places, and what is refused."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.text.toy import SECTIONS, Course, Part, Strap, Top, messages, read, sound
from thermnet.errors import Place
from thermnet.text.bind import bind
from thermnet.text.tree import compose

BOXES = """\
name: a toy
temperatures: degC
boxes:
  a: {capacity: 1}
  b: {capacity: 1}
"""


NO_TABLE = "expected a block of rows after `table: |`, or a .csv file beside the model"


def strap_table(*rows: str) -> str:
    return BOXES + "straps:\n  table: |\n" + "".join(f"    {row}\n" for row in rows)


def straps(text: str, folder: Path | None = None) -> dict[str, float]:
    entries = sound(text, folder).sections["straps"]
    return {name: entry.conductance for name, entry in entries.items() if isinstance(entry, Strap)}


def test_a_row_is_an_entry_named_by_its_ends() -> None:
    text = strap_table("from, to, conductance", "a, b, 2.5", "b, a, 3 mW/K")
    assert straps(text) == {"a – b": 2.5, "b – a": 0.003}


def test_alike_rows_get_numbers_and_leave_entries_of_the_file_alone() -> None:
    text = strap_table("from, to, conductance", "a, b, 1", "a, b, 2", "a, b, 3")
    text += "  a – b (2): {from: a, to: b, conductance: 9}\n"
    assert straps(text) == {"a – b (2)": 9, "a – b": 1, "a – b (3)": 2, "a – b (4)": 3}


def test_a_column_of_names_names_the_entries() -> None:
    text = strap_table("name, from, to, conductance", "one, a, b, 1", '"two, too", a, b, 2')
    assert straps(text) == {"one": 1, "two, too": 2}


def test_the_unit_of_a_column_is_that_of_its_bare_numbers() -> None:
    text = strap_table("from,to,conductance [mW/K]", "a,b,2500", "b,a,1 W/K")
    assert straps(text) == {"a – b": 2.5, "b – a": 1.0}


def test_a_cell_is_read_as_a_value_of_the_file() -> None:
    text = BOXES + (
        "parts:\n  table: |\n    name, at, on, copies\n    p, a, false, 010\n    q, a, , 1\n"
    )
    parts = sound(text).sections["parts"]
    assert [part.model_dump(exclude_unset=True) for part in parts.values()] == [
        {"at": "a", "on": False, "copies": 10},
        {"at": "a", "copies": 1},
    ]


def test_dotted_heads_make_lists_and_keys_below_keys() -> None:
    text = BOXES + (
        "parts:\n  table: |\n"
        "    name, at, operating.0 [degC], operating.1 [degC], windows.w.band.0, windows.w.band.1\n"
        "    p, a, -10, 40, 0, 300 K\n"
        "    q, b, , , ,\n"
    )
    p, q = sound(text).sections["parts"].values()
    assert isinstance(p, Part)
    assert isinstance(q, Part)
    assert p.operating == (263.15, 313.15)
    assert p.windows["w"].band == (273.15, 300.0)
    assert q.model_fields_set == {"at"}


def test_remarks_and_empty_lines_are_passed_over() -> None:
    text = strap_table("# straps", "from, to, conductance", "", "# the first", "a, b, 1")
    assert straps(text) == {"a – b": 1}


def test_a_cell_knows_its_place_in_the_block() -> None:
    text = strap_table("from, to, conductance", "a, b,  2.5")
    places = sound(text).places
    assert places["straps.a – b"] == Place("toy.yaml", 9, 5)
    assert places["straps.a – b.conductance"] == Place("toy.yaml", 9, 12)


def test_a_schedule_may_be_a_table_of_its_points() -> None:
    text = (
        "name: x\ncourses:\n  c:\n    shape: steps\n    table: |\n"
        "      time [min], value\n      0, 1\n      5, .5\n"
    )
    bound = sound(text)
    course = bound.sections["courses"]["c"]
    assert isinstance(course, Course)
    assert (course.time, course.value, course.shape) == ((0.0, 300.0), (1.0, 0.5), "steps")
    assert bound.places["courses.c.value.1"] == Place("toy.yaml", 8, 10)


def test_a_table_may_stand_in_a_file_beside_the_model(tmp_path: Path) -> None:
    (tmp_path / "far").mkdir()
    content = '\ufefffrom,to,conductance [W/K]\r\na,b,2.5\r\n"b",a,3\r\n'
    (tmp_path / "far" / "straps.csv").write_bytes(content.encode())
    text = BOXES + "straps: {table: far/straps.csv}\n"
    assert straps(text, tmp_path) == {"a – b": 2.5, "b – a": 3.0}
    bound = sound(text, tmp_path)
    assert bound.places["straps.b – a.conductance"] == Place("far/straps.csv", 3, 7)
    assert set(bound.sources) == {"toy.yaml", "far/straps.csv"}


def test_a_side_file_is_shown_beside_the_model_as_that_was_named(tmp_path: Path) -> None:
    (tmp_path / "straps.csv").write_text("from,to,conductance\na,c,1\n")
    root, _ = compose(BOXES + "straps: {table: straps.csv}\n", "cases/toy/toy.yaml")
    assert root is not None
    problems = bind(root, settings=Top, sections=SECTIONS, folder=tmp_path).problems
    assert str(problems[0]).splitlines() == [
        (
            "cases/toy/straps.csv:2:3: straps.a – c.to: unknown box or fence 'c'; "
            "expected one of: a, b, sky"
        ),
        "    a,c,1",
        "      ^",
    ]


def test_a_side_file_that_is_given_is_not_read_again() -> None:
    root, _ = compose(BOXES + "straps: {table: straps.csv}\n", "toy.yaml")
    assert root is not None
    sources = {"straps.csv": "from,to,conductance\na,b,1\n"}
    bound = bind(root, settings=Top, sections=SECTIONS, sources=sources)
    assert not bound.problems
    assert list(bound.sections["straps"]) == ["a – b"]


@pytest.mark.parametrize(
    "name",
    ["/etc/x.csv", "../x.csv", "a/../../x.csv", "C:/x.csv", "a\\x.csv", "link.csv", "way/x.csv"],
)
def test_a_side_file_lies_within_the_folder_of_the_model(tmp_path: Path, name: str) -> None:
    inside = tmp_path / "model"
    inside.mkdir()
    (tmp_path / "x.csv").write_text("from,to,conductance\na,b,1\n")
    (inside / "link.csv").symlink_to(tmp_path / "x.csv")
    (inside / "way").symlink_to(tmp_path)
    [found] = messages(BOXES + f"straps: {{table: '{name}'}}\n", inside)
    assert "within the model's folder" in found or "leads out of the model's folder" in found


@pytest.mark.parametrize(
    ("value", "message"),
    [
        (
            "strap.csv",
            "6: straps: no file 'strap.csv' beside the model; did you mean 'straps.csv'?",
        ),
        (
            "latin.csv",
            "6: straps: latin.csv:2:1: not UTF-8 text: byte 0xe9; save the file as UTF-8",
        ),
        ("empty.csv", "6: straps: an empty table; it needs a head row"),
        (
            "straps.txt",
            f"6: straps: {NO_TABLE}, got 'straps.txt'",
        ),
        (
            "[a.csv]",
            f"6: straps: {NO_TABLE}, got a list",
        ),
    ],
)
def test_a_side_file_that_cannot_be_read_is_told(tmp_path: Path, value: str, message: str) -> None:
    (tmp_path / "straps.csv").write_text("from,to,conductance\n")
    (tmp_path / "latin.csv").write_bytes("from,to,conductance\né,b,1\n".encode("latin-1"))
    (tmp_path / "empty.csv").write_text("# nothing\n")
    assert messages(BOXES + f"straps: {{table: {value}}}\n", tmp_path) == [message]


def test_a_side_file_needs_a_folder() -> None:
    assert messages(BOXES + "straps: {table: a.csv}\n") == [
        "6: straps: a side file needs a model that is read from a folder"
    ]


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        (
            ["from, to, conductence", "a, b, 1"],
            ["8: straps.a – b: unknown key 'conductence'; did you mean 'conductance'?"],
        ),
        (
            ["from, to", "a, b", "b, a"],
            [
                "8: straps.a – b: missing key 'conductance' [W/K]: the table has no such column"
            ],
        ),
        (
            ["from, to, conductance", "a, b,", "b, a, 1"],
            ["9: straps.a – b: missing key 'conductance' [W/K]"],
        ),
        (
            ["from, to, conductance [W]", "a, b, 2"],
            [
                "9: straps.a – b.conductance: '2 W' is not in W/K or a unit that converts to it"
            ],
        ),
        (
            ["from, to, conductance", "a, b, -2", "a, b, .nan", "a, b, ~"],
            [
                "9: straps.a – b.conductance: must be above 0 W/K, got -2 W/K",
                "10: straps.a – b (2).conductance: expected a finite number, got nan",
                "11: straps.a – b (3).conductance: expected a number in W/K, got nothing",
            ],
        ),
        (
            ["from, to, conductance", "a, b", "a, b, 1, 2"],
            ["9: straps: 2 cells under 3 heads", "10: straps: 4 cells under 3 heads"],
        ),
        (
            ["conductance", "1"],
            ["8: straps: a table without a column 'name' needs the columns 'from' and 'to'"],
        ),
        (
            ["name, from, to, conductance", "x, a, b, 1", "x, a, b, 2"],
            ["10: straps: 'x' is given twice; first at toy.yaml:9:5"],
        ),
        (
            ["name, from, to, conductance", ", a, b, 1", "12, a, b, 1", "y.z, a, b, 1"],
            [
                "9: straps: a name must be text, got nothing",
                '10: straps: a name must be text, got 12; put it in quotes: "12"',
                "11: straps.y.z: a name cannot hold '.', which paths need",
            ],
        ),
        (["from, to, to", "a, b, b"], ["8: straps: 'to' is given twice; first at toy.yaml:8:11"]),
        (
            ["from, to, share, share.x", "a, b, 1, 1"],
            ["8: straps: 'share.x' is given twice; first at toy.yaml:8:15"],
        ),
        (
            ["from, , conductance", "a, b, 1"],
            ["8: straps: cannot read the head ''; write a key, perhaps with a unit: mass [kg]"],
        ),
        (
            ["from, to, conductance [W", "a, b, 1"],
            [
                ("8: straps: cannot read the head 'conductance [W'; write a key, perhaps with a "
                "unit: mass [kg]")
            ],
        ),
        (
            ["from, to, conductance", 'a "x", b, 1'],
            ['9: straps: quotes must enclose a whole cell; write "" for a quote within'],
        ),
    ],
)  # fmt: skip
def test_a_mistake_in_a_table_is_told_at_its_cell(rows: list[str], expected: list[str]) -> None:
    assert messages(strap_table(*rows)) == expected


def test_a_thousand_alike_mistakes_are_counted_and_not_listed() -> None:
    found = messages(strap_table("from, to, conductance [W]", *["a, b, 2"] * 1000))
    assert len(found) == 4
    assert "8: 997 more such problems in the column 'conductance'" in found


def test_a_wrong_head_of_a_thousand_rows_is_one_problem() -> None:
    found = messages(strap_table("from, to, conductence", *["a, b, 2"] * 1000))
    assert found == ["8: straps.a – b: unknown key 'conductence'; did you mean 'conductance'?"]


def test_a_thousand_rows_that_do_not_fit_are_counted_and_not_listed() -> None:
    found = messages(strap_table("from, to, conductance", *["a, b"] * 1000))
    assert len(found) == 4
    assert "8: straps: 997 more rows do not fit the head" in found


def test_references_to_the_entries_of_a_broken_table_are_not_blamed() -> None:
    text = "name: x\nboxes: {table: gone.csv}\nstraps:\n  s: {from: a, to: b, conductance: 1}\n"
    assert [each.split(":")[0] for each in messages(text)] == ["2"]


def test_a_broken_table_of_points_is_one_problem() -> None:
    text = "name: x\ncourses:\n  c: {table: gone.csv}\n"
    assert messages(text) == ["3: courses.c: a side file needs a model that is read from a folder"]


def test_a_table_of_points_does_not_overrule_what_is_written_out() -> None:
    text = "name: x\ncourses:\n  c:\n    value: [1]\n    table: |\n      time, value\n      0, 1\n"
    assert messages(text) == ["6: courses.c: 'value' is given twice; first at toy.yaml:4:5"]


def test_an_empty_cell_in_a_list_is_a_value_that_is_not_there() -> None:
    text = "name: x\ncourses:\n  c:\n    table: |\n      time, value\n      0, 1\n      1,\n"
    assert messages(text) == ["7: courses.c.value.1: expected a number, got nothing"]


def test_an_entry_cannot_be_called_table() -> None:
    [found] = messages("name: x\nboxes:\n  table: {capacity: 1}\n")
    assert found.startswith("3: boxes: expected a block of rows after `table: |`")


cells = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Zl", "Zp"]), max_size=12)


@given(st.lists(st.tuples(cells, cells), max_size=4))
def test_quoted_cells_come_back_as_they_were_written(rows: list[tuple[str, str]]) -> None:
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\n")
    writer.writerow(["name", "note", "capacity [J/K]"])
    for number, (first, second) in enumerate(rows):
        writer.writerow([f"{number} {first}x", second, "1 J/K"])
    text = out.getvalue()
    root, _ = compose("name: x\nboxes: {table: b.csv}\n", "toy.yaml")
    assert root is not None
    bound = bind(root, settings=Top, sections=SECTIONS, sources={"b.csv": text})
    notes = [entry.model_dump()["note"] for entry in bound.sections["boxes"].values()]
    if not bound.problems:
        assert notes == [second for _, second in rows]
    else:
        assert all("a name " in each.message for each in bound.problems)


@given(st.text(st.sampled_from('abxto,"\n #[]1. -~'), max_size=60))
def test_any_text_is_a_table_or_is_reported_at_a_place(text: str) -> None:
    root, _ = compose(BOXES + "straps: {table: s.csv}\n", "toy.yaml")
    assert root is not None
    bound = bind(root, settings=Top, sections=SECTIONS, sources={"s.csv": f"from,to,share\n{text}"})
    assert all(problem.place is not None for problem in bound.problems)
    assert read(BOXES)[1] == ()
