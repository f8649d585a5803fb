"""From parts to arrays: names resolved, numbers refused that no network can have."""

from __future__ import annotations

import numpy as np
import pytest

from thermnet.network.build import build
from thermnet.network.network import heat
from thermnet.network.parts import (
    RADIATION,
    BoundaryPart,
    FlowLinkPart,
    HeatPart,
    HeatsPart,
    History,
    LinkPart,
    LinksPart,
    NodePart,
    NodesPart,
    Part,
    ThermostatPart,
)
from thermnet.network.primitives import Potential
from thermnet.physics.curves import Curve

BASE: tuple[Part, ...] = (
    NodePart(name="plate", capacity=1.0),
    BoundaryPart(name="space", temperature=3.0),
)
CURVE = Curve(x=np.array([1.0, 2.0]), y=np.array([1.0, 2.0]))
FALLING = Curve(x=np.array([1.0, 2.0]), y=np.array([2.0, 1.0]), extend=True)


def test_boundaries_come_last_and_are_not_solved_for() -> None:
    network = build(BASE[::-1])
    assert network.names == ("plate", "space")
    assert list(network.free) == [0]
    assert list(network.boundary) == [1]


def test_a_name_leads_to_its_position() -> None:
    assert build(BASE).index("space") == 1
    with pytest.raises(KeyError, match="moon"):
        build(BASE).index("moon")


def test_the_arrays_of_a_network_cannot_be_changed() -> None:
    network = build([*BASE, LinkPart(a="plate", b="space", strength=1.0)])
    for array in (network.capacity, network.links.strength, network.links.a, network.boundary):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0


def test_equal_potentials_are_stored_once() -> None:
    links = [LinkPart(a="plate", b="space", strength=1.0, potential=RADIATION) for _ in range(3)]
    same = LinkPart(a="plate", b="space", strength=1.0, potential=Potential(exponent=4.0))
    assert len(build([*BASE, *links, same]).links.potentials) == 1


def test_a_history_used_twice_is_stored_once() -> None:
    shared = History(time=np.array([0.0, 5.0]), value=np.array([0.0, 1.0]))
    heats = [HeatPart(node="plate", amplitude=w, history=shared) for w in (1.0, 2.0)]
    assert build([*BASE, *heats]).histories.start.shape[1] == 1


def test_every_node_stands_on_the_diagonal_of_the_pattern() -> None:
    """So that factors exist for a node without links, and a solver may add to the diagonal."""
    from thermnet.network.network import jacobian

    matrix = jacobian(build(BASE), np.array([300.0, 3.0]), 0.0)
    assert matrix.nnz == 2
    np.testing.assert_array_equal(matrix.toarray(), np.zeros((2, 2)))


def test_further_instants_are_sorted_and_kept_once() -> None:
    assert list(build(BASE, instants=[30.0, 10.0, 30.0]).instants) == [10.0, 30.0]


def test_parallel_links_add_up() -> None:
    links = [
        LinkPart(a="plate", b="space", strength=1.5),
        LinkPart(a="space", b="plate", strength=1),
    ]
    balance = heat(build([*BASE, *links]), np.array([13.0, 3.0]), 0.0)
    assert balance == pytest.approx([-25.0, 25.0])


@pytest.mark.parametrize(
    ("part", "message"),
    [
        (LinkPart(a="plate", b="spacer", strength=1.0), "unknown node 'spacer'.*space"),
        (HeatPart(node="plat", amplitude=1.0), "unknown node 'plat'.*plate"),
        (FlowLinkPart(a="x", b="plate", rate=1.0), "unknown node 'x'"),
        (LinkPart(a="plate", b="plate", strength=1.0, origin="l"), "'l' joins 'plate' to itself"),
        (LinkPart(a="plate", b="space", strength=-1.0, origin="l"), "'l': negative strength"),
        (LinkPart(a="plate", b="space", strength=float("nan"), origin="l"), "negative|finite"),
        (LinkPart(a="plate", b="space", strength=float("inf"), origin="l"), "finite"),
        (LinkPart(a="plate", b="space", strength=1.0, curve=CURVE, origin="l"), "'l'.*sensor"),
        (HeatPart(node="plate", amplitude=1.0, sensor="plate", origin="q"), "'q'.*sensor"),
        (HeatPart(node="plate", amplitude=float("inf")), "finite"),
        (FlowLinkPart(a="plate", b="space", rate=-2.0, origin="f"), "'f': negative rate"),
        (NodePart(name="plate", capacity=1.0), "come twice: plate"),
        (BoundaryPart(name="plate", temperature=1.0), "come twice: plate"),
        (NodePart(name="light", capacity=-1.0), "'light': negative heat capacity"),
        (NodePart(name="light", capacity=float("nan")), "'light': negative|finite"),
        (NodePart(name="wax", content=FALLING), "'wax': heat content must rise"),
        (NodePart(name="wax", content=CURVE), "'wax': a heat content must continue"),
        (BoundaryPart(name="wall", temperature=float("nan")), "finite"),
        (
            ThermostatPart(node="plate", sensor="plate", power=1.0, on=5.0, off=5.0, origin="t"),
            "'t': must switch on below where it goes off",
        ),
        (
            ThermostatPart(node="plate", sensor="plate", power=-1.0, on=1.0, off=5.0, origin="t"),
            "'t': negative power",
        ),
        (ThermostatPart(node="plate", sensor="y", power=1.0, on=1.0, off=5.0), "unknown node 'y'"),
    ],
)
def test_what_no_network_can_have_is_refused(part: Part, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        build([*BASE, part])


def test_many_alike_parts_are_the_same_network_as_one_by_one() -> None:
    names = ("a", "b", "c")
    ends, strength = np.array([[0, 1], [1, 2], [0, 3]], dtype=np.int32), np.array([1.0, 2.0, 3e-8])
    day = History(time=np.array([0.0, 5.0]), value=np.array([0.0, 1.0]))
    bulk = build(
        [
            NodesPart(names=names, capacity=np.array([1.0, 2.0, 0.0])),
            BoundaryPart(name="space", temperature=3.0),
            LinksPart(
                nodes=names, a=ends[:2, 0], b=ends[:2, 1], strength=strength[:2], origin="mesh"
            ),
            LinksPart(
                nodes=(*names, "space"),
                a=ends[2:, 0],
                b=ends[2:, 1],
                strength=strength[2:],
                potential=RADIATION,
            ),
            HeatsPart(nodes=names, node=ends[:2, 1], amplitude=np.array([5.0, 6.0]), history=day),
        ]
    )
    single = build(
        [
            *(NodePart(name=name, capacity=c) for name, c in zip(names, (1, 2, 0), strict=True)),
            BoundaryPart(name="space", temperature=3.0),
            LinkPart(a="a", b="b", strength=1.0),
            LinkPart(a="b", b="c", strength=2.0),
            LinkPart(a="a", b="space", strength=3e-8, potential=RADIATION),
            HeatPart(node="b", amplitude=5.0, history=day),
            HeatPart(node="c", amplitude=6.0, history=day),
        ]
    )
    temperature = np.array([250.0, 300.0, 280.0, 3.0])
    assert bulk.names == single.names
    assert bulk.origins[bulk.links.origin[0]] == "mesh"
    assert heat(bulk, temperature, 2.0) == pytest.approx(heat(single, temperature, 2.0), rel=1e-14)


@pytest.mark.parametrize(
    ("part", "said"),
    [
        (NodesPart(names=("a",), capacity=np.array([-1.0])), "negative heat capacity -1"),
        (NodesPart(names=("a",), capacity=np.array([1.0, 2.0])), "as many capacities as names"),
        (
            LinksPart(
                nodes=("plate", "space"),
                a=np.array([0, 1], dtype=np.int32),
                b=np.array([1, 1], dtype=np.int32),
                strength=np.ones(2),
                origin="mesh",
            ),
            "link 'mesh' joins 'space' to itself",
        ),
        (
            HeatsPart(nodes=("plate",), node=np.array([1], dtype=np.int32), amplitude=np.ones(1)),
            "a place is none of its 1 nodes",
        ),
        (
            HeatsPart(nodes=("plate",), node=np.array([0], dtype=np.int32), amplitude=np.ones(2)),
            "2 values for 1 places",
        ),
    ],
)
def test_many_alike_parts_are_refused_like_single_ones(part: Part, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        build([*BASE, part])
