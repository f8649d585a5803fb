"""The columns of a whole table: converted together they say what each cell says by itself."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic_core import PydanticCustomError

from thermnet.errors import Place
from thermnet.text.fields import Number, Temperature, name_of, quantity, temperature
from thermnet.text.side_files import Files
from thermnet.text.table_files import TextTable, open_table
from thermnet.text.tables import TableError
from thermnet.text.tree import Scalar, resolve
from thermnet.units import Scale

START = Place("model.yaml", 1, 1)

ODD = ["", "nan", "NaN", ".nan", "inf", "-.inf", "1_000", "٣", "0x10", "0o17", "010", "+1", ".5",
       "5.", "1e-3", "1e999", "true", "~", "5 W/K", "5 mW/K", "20 degC", "293 K", "-1", "-300",
       "a", '"5"']  # fmt: skip

CELLS = st.one_of(
    st.sampled_from(ODD),
    st.floats(allow_nan=False, allow_infinity=False).map(repr),
    st.integers().map(str),
)


def table(text: str) -> TextTable:
    """The table of a CSV file with this text."""
    files = Files(folder=None, model="model.yaml", texts={"t.csv": text})
    found = open_table(START, Scalar("t.csv", START, "t.csv"), files, ["x", "y"])
    assert isinstance(found, TextTable)
    return found


def by_itself(kind: Number | Temperature, cell: str, scale: Scale | None) -> float | None:
    """A cell as an entry of the file would have it, None where it is refused."""
    value = cell[1:-1] if cell.startswith('"') else resolve(cell)
    try:
        return kind.convert(value, scale) if isinstance(kind, Temperature) else kind.read(value)
    except PydanticCustomError:
        return None


@pytest.mark.parametrize(
    ("kind", "scale"),
    [(quantity("W/K", above=0), None), (temperature(), "degC"), (temperature(), None)],
    ids=["quantity", "Celsius", "no scale"],
)
@given(cells=st.lists(CELLS, min_size=1, max_size=5))
def test_a_column_says_what_its_cells_say(
    kind: Number | Temperature, scale: Scale | None, cells: list[str]
) -> None:
    rows = "".join(f"{cell},1\n" for cell in cells)
    values, faults = table(f"x,y\n{rows}").column("x", kind, scale)
    expected = [by_itself(kind, cell, scale) for cell in cells]
    assert [fault.row for fault in faults] == [k for k, each in enumerate(expected) if each is None]
    for value, each in zip(values, expected, strict=True):
        if each is not None:
            # A sum of the same two numbers; a scale of 1 changes nothing.
            assert value == each


def test_a_unit_of_the_head_is_that_of_its_numbers() -> None:
    values, faults = table("x [mW/K],y\n2500,1\n3,1\n").column("x", quantity("W/K"), None)
    np.testing.assert_allclose(np.asarray(values), [2.5, 0.003], rtol=1e-15)
    assert not faults


def test_whole_numbers_where_names_may_stand_count_rows() -> None:
    names = name_of("nodes")
    counted, _ = table("x,y\n0,1\n 12 ,1\n").column("x", names, None)
    assert isinstance(counted, np.ndarray)
    assert counted.tolist() == [0, 12]
    named, faults = table("x,y\na,1\n b ,1\n").column("x", names, None)
    assert (named, faults) == (["a", "b"], [])
    mixed, faults = table("x,y\na,1\n12,1\n").column("x", names, None)
    assert [fault.row for fault in faults] == [1]
    quoted, faults = table('x,y\n"12",1\n').column("x", names, None)
    assert (quoted, faults) == (["12"], [])
    assert isinstance(mixed, list)


def test_remarks_and_empty_lines_keep_their_place_in_the_count_of_lines() -> None:
    found = table("# a mesh\nx,y\n\n1,2\n# more\n3,4\n\n")
    assert [found.where(row, "y")[0] for row in range(found.count)] == [
        Place("t.csv", 4, 3),
        Place("t.csv", 6, 3),
    ]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "an empty table; it needs a head row"),
        ("x,y\n1\n", "1 cell under 2 heads"),
        ("x,y\n1,2,3\n", "3 cells under 2 heads"),
        ("x,x\n1,2\n", "'x' is given twice"),
        ('x,y\n"1,2\n', "quotes must enclose a whole cell"),
    ],
)
def test_a_table_of_another_form_is_refused(text: str, message: str) -> None:
    with pytest.raises(TableError, match=message):
        table(text)
