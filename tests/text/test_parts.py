"""Parts by the toy classes: what of a file is renamed, what stays, and what is refused."""

from __future__ import annotations

from typing import Annotated

import pytest
from pydantic import Field

from tests.text.toy import Strap
from thermnet.text.bind import Bound, bind
from thermnet.text.fields import Entry, Text, Words, name_of, number, quantity
from thermnet.text.parts import Rules
from thermnet.text.rows import Column, Rows, columns, rows_of
from thermnet.text.tree import compose


class Top(Entry):
    """What stands at the top."""

    toy: Annotated[float, number()]


class Part(Entry):
    """Another file."""

    file: Text


class Box(Entry):
    """Something."""

    weight: Annotated[float, number()] = 1.0


class Boxes(Entry):
    """A whole table of boxes."""

    table: Annotated[
        Rows,
        columns(
            {
                "name": Column(kind=Words(), description="name", needed=False),
                "weight": Column(kind=number(), description="weight"),
            },
            named=True,
        ),
    ]


class Fence(Entry):
    """Something that a host may have as well."""


class Song(Entry):
    """Belongs to the host alone."""


class Rope(Entry):
    """A reference of each sort."""

    from_: Annotated[str, name_of("boxes", "fences")] = "gate"
    to: Annotated[str, name_of("boxes", "fences", also=("sky",))]
    over: tuple[Annotated[str, name_of("boxes")], ...] = ()
    pulls: dict[Annotated[str, name_of("boxes")], Annotated[float, quantity("N")]] = Field({})
    either: bool | Annotated[str, name_of("ropes")] = False
    sings: dict[Annotated[str, name_of("songs")], Annotated[float, number()]] = Field({})
    when: tuple[Annotated[str, name_of("songs")], ...] = ()
    note: Text = ""


SECTIONS: dict[str, type[Entry]] = {
    "parts": Part,
    "boxes": Box,
    "fences": Fence,
    "doors": Box,
    "songs": Song,
    "ropes": Rope,
}
RULES = Rules(section="parts", left=frozenset({"songs"}), shared=("fences",))

HOST = """
toy: 1
parts: {p: {file: part.yaml}}
boxes: {mine: {}}
fences: {gate: {}}
songs: {loud: {}, soft: {}}
"""


def bound(part: str, host: str = HOST) -> Bound[Top]:
    sources = {"host.yaml": host, "part.yaml": f"toy: 1\n{part}"}
    root, problems = compose(host, "host.yaml")
    assert root is not None
    assert not problems
    return bind(
        root,
        settings=Top,
        sections=SECTIONS,
        tables={"boxes": Boxes},
        parts=RULES,
        counts={"doors": "boxes"},
        sources=sources,
    )


def rope(
    text: str, part: str = "boxes: {big: {}, small: {}}\nfences: {gate: {}, hedge: {}}\n"
) -> Rope:
    """A sound rope of the part."""
    found = bound(f"{part}ropes: {{r: {text}}}\n")
    assert found.problems == ()
    entry = found.sections["ropes"]["p/r"]
    assert isinstance(entry, Rope)
    return entry


def messages(part: str, host: str = HOST) -> list[str]:
    return [problem.message for problem in bound(part, host).problems]


@pytest.mark.parametrize(
    ("written", "key", "becomes"),
    [
        ("{to: big}", "to", "p/big"),
        ("{to: hedge}", "to", "p/hedge"),
        ("{to: gate}", "to", "gate"),
        ("{to: sky}", "to", "sky"),
        ("{to: big}", "from_", "gate"),
        ("{to: big, over: [big, small]}", "over", ("p/big", "p/small")),
        ("{to: big, pulls: {small: 2 N}}", "pulls", {"p/small": 2.0}),
        ("{to: big, either: r}", "either", "p/r"),
        ("{to: big, either: true}", "either", True),
        ("{to: big, sings: {loud: 1, shrill: 2}}", "sings", {"loud": 1.0}),
        ("{to: big, when: [shrill, soft]}", "when", ("soft",)),
        ("{to: big, note: big}", "note", "big"),
    ],
)
def test_references_follow_what_they_name(written: str, key: str, becomes: object) -> None:
    assert getattr(rope(written), key) == becomes


def test_a_default_is_the_part_s_own_where_the_host_has_no_such_thing() -> None:
    part = "boxes: {big: {}}\nfences: {gate: {}}\nropes: {r: {to: big}}\n"
    found = bound(part, HOST.replace("gate", "hedge"))
    assert found.sections["ropes"]["p/r"].model_dump()["from_"] == "p/gate"


def test_a_name_that_the_part_has_is_its_own_even_if_also_known() -> None:
    assert rope("{to: sky}", "boxes: {sky: {}}\n").to == "p/sky"


def test_what_counts_as_something_else_is_renamed_as_that() -> None:
    assert rope("{to: front}", "doors: {front: {}}\n").to == "p/front"


def test_whole_tables_and_their_rows_are_renamed() -> None:
    part = (
        "boxes:\n  deck:\n    table: |\n      weight\n      1\n      2\nropes: {r: {to: deck 1}}\n"
    )
    found = bound(part)
    assert found.problems == ()
    assert list(found.sections["boxes"]) == ["mine", "p/deck"]
    rows = rows_of(found.sections["boxes"]["p/deck"])
    assert rows is not None
    assert rows.names == ("p/deck 0", "p/deck 1")
    assert found.sections["ropes"]["p/r"].model_dump()["to"] == "p/deck 1"


def test_entries_of_the_host_come_first() -> None:
    found = bound(
        "boxes: {big: {}}\n", HOST.replace("boxes: {mine: {}}", "boxes: {p2: {}, mine: {}}")
    )
    assert list(found.sections["boxes"]) == ["p2", "mine", "p/big"]
    assert found.brought == {"boxes.p/big": "p"}


def test_places_are_those_of_the_part_s_file() -> None:
    place = bound("boxes:\n  big: {weight: 7}\n").places["boxes.p/big.weight"]
    assert str(place) == "part.yaml:3:17"


@pytest.mark.parametrize(
    ("part", "message"),
    [
        ("boxes: {big: {}}\nropes: {r: {to: bigg}}", "did you mean 'p/big'?"),
        ("boxes: {big: {}}\nropes: {r: {to: big, when: [shrill]}}", "has no song 'shrill'"),
        ("boxes: {big: {}}\nropes: {r: {to: big, sings: {x: 1, y: 2}}}", "has no song 'x', 'y'"),
        # An empty list would mean always: what else the rope sings does not save it.
        ("boxes: {b: {}}\nropes: {r: {to: b, sings: {loud: 1}, when: [x]}}", "no song 'x'"),
        ("boxen: {big: {}}", "unknown key 'boxen'; did you mean 'boxes'?"),
        ("boxes: 3", "expected names with keys and values below, got 3"),
        ("toy: 2", "'toy' is given twice"),
        ("parts: {q: {file: part.yaml}}", "a file cannot be a part of itself"),
        ("parts: {q: {file: host.yaml}}", "part.yaml -> host.yaml"),
    ],
)
def test_one_clear_problem_for(part: str, message: str) -> None:
    (found,) = messages(part)
    assert message in found


def test_a_song_that_the_host_does_have_saves_the_rest() -> None:
    assert rope("{to: big, sings: {x: 1}, when: [loud]}").sings == {}


def test_a_clash_with_a_name_of_the_part_is_a_name_given_twice() -> None:
    host = HOST.replace("{mine: {}}", "{p/big: {}}")
    (found,) = messages("boxes: {big: {}}", host)
    assert found.startswith("'p/big' is given twice; the part 'p' has the other, at part.yaml:2:9")


def test_references_to_a_broken_part_are_not_reported_as_well() -> None:
    host = HOST.replace("part.yaml", "none.yaml") + "ropes: {r: {to: p/big}}\n"
    (found,) = messages("", host)
    assert "side file needs a model" in found


def test_a_part_brought_in_twice_has_its_mistakes_told_once() -> None:
    host = HOST.replace("{p: {file: part.yaml}}", "{p: {file: part.yaml}, q: {file: part.yaml}}")
    assert len(messages("boxes: {big: {weight: heavy}}", host)) == 1


def test_a_toy_of_another_kind_keeps_its_words() -> None:
    # A class from elsewhere whose reference may be one of its own words.
    root, _ = compose("toy: 1\nparts: {p: {file: part.yaml}}\nfences: {f: {}}\n", "host.yaml")
    assert root is not None
    found = bind(
        root,
        settings=Top,
        sections={"parts": Part, "boxes": Box, "fences": Fence, "straps": Strap},
        parts=RULES,
        sources={
            "part.yaml": "toy: 1\nboxes: {b: {}}\n"
            "straps: {s: {from: b, to: sky, conductance: 1 W/K}}\n"
        },
    )
    assert found.problems == ()
    assert found.sections["straps"]["p/s"].model_dump()["to"] == "sky"
