"""Parts of many with a history for each: the network is that of parts of one."""

from __future__ import annotations

import numpy as np
import pytest

from tests.solving import solved_cyclic
from thermnet.network.build import build
from thermnet.network.network import flows, sources
from thermnet.network.parts import (
    RADIATION,
    BoundaryPart,
    HeatPart,
    HeatsPart,
    History,
    LinkPart,
    LinksPart,
    NodePart,
    Part,
)

TIME = np.array([0.0, 40.0, 40.0, 100.0])
HEAT = np.array([[0.0, 5.0], [8.0, 5.0], [2.0, 1.0], [0.0, 0.0]])
AREA = np.array([[1.0, 0.5], [0.2, 0.5], [0.2, 0.0], [1.0, 0.1]])
ENDS: list[Part] = [
    NodePart(name="one", capacity=50.0),
    NodePart(name="other", capacity=80.0),
    BoundaryPart(name="space", temperature=3.0),
]
NODES = ("one", "other", "space")
PLACES = np.array([0, 1], dtype=np.int32)
SPACE = np.array([2, 2], dtype=np.int32)
STRENGTH = np.array([5e-9, 9e-9])
MANY: list[Part] = [
    HeatPart(node="one", amplitude=3.0, history=History(time=TIME, value=AREA[:, 0])),
    HeatsPart(nodes=NODES, node=PLACES, amplitude=np.array([2.0, 4.0]),
              history=History(time=TIME, value=HEAT)),
    LinksPart(nodes=NODES, a=PLACES, b=SPACE, strength=STRENGTH, potential=RADIATION,
              history=History(time=TIME, value=AREA)),
    HeatPart(node="other", amplitude=1.5, history=History(time=TIME, value=AREA[:, 1])),
]  # fmt: skip
EACH: list[Part] = [
    MANY[0],
    *(HeatPart(node=NODES[k], amplitude=2.0 * (k + 1), history=History(time=TIME, value=HEAT[:, k]))
      for k in range(2)),
    *(LinkPart(a=NODES[k], b="space", strength=STRENGTH[k], potential=RADIATION,
               history=History(time=TIME, value=AREA[:, k])) for k in range(2)),
    MANY[3],
]  # fmt: skip


def test_a_part_of_many_has_the_heat_and_the_flows_of_as_many_parts() -> None:
    many, each = (build([*ENDS, *parts], period=100.0) for parts in (MANY, EACH))
    temperature = np.array([[290.0, 310.0, 3.0]] * 5)
    times = np.array([0.0, 17.0, np.nextafter(40.0, 0.0), 40.0, 93.0])
    for found in (sources, flows):
        np.testing.assert_array_equal(
            found(many, temperature, times), found(each, temperature, times)
        )
    assert many.histories.start.shape == (2, 6)


def test_a_part_of_many_is_solved_as_as_many_parts_are() -> None:
    many, each = (solved_cyclic(build([*ENDS, *parts], period=100.0)) for parts in (MANY, EACH))
    np.testing.assert_allclose(many.temperature, each.temperature, rtol=1e-12)


def test_a_history_that_several_parts_follow_is_kept_once() -> None:
    shared = History(time=TIME, value=HEAT)
    parts = [
        HeatsPart(nodes=NODES, node=PLACES, amplitude=np.ones(2), history=shared) for _ in range(3)
    ]
    network = build([*ENDS, *parts, *EACH[3:5]], period=100.0)
    assert network.histories.start.shape[1] == 2 + 2
    np.testing.assert_array_equal(network.heats.history, [2, 3] * 3)


@pytest.mark.parametrize(
    ("part", "message"),
    [
        (HeatPart(node="one", amplitude=1.0, history=History(time=TIME, value=HEAT)),
         "a part of one cannot follow many histories"),
        (HeatsPart(nodes=NODES, node=PLACES[:1], amplitude=np.ones(1), origin="loads.sun",
                   history=History(time=TIME, value=HEAT)),
         "'loads.sun': 2 histories for a part of 1"),
    ],
    ids=["one", "misfit"],
)  # fmt: skip
def test_histories_that_do_not_fit_their_part_are_refused(part: Part, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        build([*ENDS, *EACH[3:5], part], period=100.0)


def test_a_history_has_as_many_rows_of_values_as_instants() -> None:
    with pytest.raises(ValueError, match="as many values as instants"):
        History(time=TIME, value=HEAT[:3])
