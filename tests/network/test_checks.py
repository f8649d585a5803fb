"""Structural checks: what makes a network unsolvable is an error, what is suspicious a warning."""

from __future__ import annotations

import numpy as np
import pytest

from thermnet.network.build import build
from thermnet.network.checks import check, islands
from thermnet.network.parts import (
    RADIATION,
    BoundaryPart,
    FlowLinkPart,
    HeatPart,
    History,
    LinkPart,
    NodePart,
    Part,
    ThermostatPart,
)
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.physics.curves import Curve

SOUND: tuple[Part, ...] = (
    NodePart(name="box", capacity=900.0, origin="nodes.box"),
    NodePart(name="face", origin="nodes.face"),
    BoundaryPart(name="space", temperature=3.0, origin="boundaries.space"),
    LinkPart(a="box", b="face", strength=0.5, origin="links.strap"),
    LinkPart(
        a="face",
        b="space",
        strength=0.5 * STEFAN_BOLTZMANN,
        potential=RADIATION,
        origin="radiation.face",
    ),
    HeatPart(node="box", amplitude=5.0, origin="loads.box"),
)


def found(*extra: Part) -> list[tuple[str, str, str]]:
    """(severity, path, message) of every problem of the sound network with more parts."""
    return [(p.severity, p.path, p.message) for p in check(build([*SOUND, *extra]))]


def only(*extra: Part) -> tuple[str, str, str]:
    problems = found(*extra)
    assert len(problems) == 1, problems
    return problems[0]


def test_a_sound_network_has_no_problems() -> None:
    assert found() == []


def test_an_island_with_heat_and_no_sink_is_an_error() -> None:
    severity, path, message = only(
        NodePart(name="camera", capacity=5.0, origin="nodes.camera"),
        NodePart(name="lens", capacity=5.0, origin="nodes.lens"),
        LinkPart(a="camera", b="lens", strength=0.3),
        HeatPart(node="lens", amplitude=1.0),
    )
    assert severity == "error"
    assert path == "nodes.camera"
    assert "no route to a boundary node for the heat on 'camera', 'lens'" in message


def test_a_heater_on_an_island_is_heat_on_an_island() -> None:
    severity, _, message = only(
        NodePart(name="camera", capacity=5.0),
        ThermostatPart(node="camera", sensor="camera", power=1.0, on=270.0, off=275.0),
    )
    assert severity == "error"
    assert "for the heat on 'camera'" in message


def test_an_island_without_heat_is_an_error_too() -> None:
    severity, _, message = only(NodePart(name="spare", capacity=5.0))
    assert severity == "error"
    assert "'spare'" in message
    assert "undefined" in message


def test_a_link_of_no_strength_joins_nothing() -> None:
    problems = found(
        NodePart(name="spare", capacity=5.0), LinkPart(a="spare", b="box", strength=0.0)
    )
    assert any("'spare'" in message for _, _, message in problems)


def test_a_massless_node_without_a_link_is_an_error() -> None:
    problems = found(NodePart(name="film", origin="nodes.film"))
    assert ("error", "nodes.film") in [(severity, path) for severity, path, _ in problems]
    assert any("massless node 'film' has no link" in message for _, _, message in problems)


def test_a_boundary_to_which_nothing_is_attached_is_a_warning() -> None:
    severity, path, message = only(
        BoundaryPart(name="deck", temperature=290.0, origin="boundaries.deck")
    )
    assert (severity, path) == ("warning", "boundaries.deck")
    assert "nothing is attached to 'deck'" in message


def test_a_sensor_on_a_massless_node_is_an_error_of_the_heater() -> None:
    severity, path, message = only(
        ThermostatPart(
            node="box", sensor="face", power=1.0, on=270.0, off=275.0, origin="heaters.box"
        )
    )
    assert (severity, path) == ("error", "heaters.box")
    assert "'face' is massless" in message


def test_a_link_that_follows_a_massless_node_is_warned_of() -> None:
    falling = Curve(x=np.array([270.0, 280.0]), y=np.array([1.0, 0.2]))
    severity, path, message = only(
        LinkPart(a="face", b="box", strength=1.0, curve=falling, sensor="face", origin="links.own")
    )
    assert (severity, path) == ("warning", "links.own")
    assert "'face', which has no heat capacity" in message


def test_fluid_that_does_not_leave_as_fast_as_it_enters_is_an_error() -> None:
    severity, path, message = only(
        FlowLinkPart(a="space", b="box", rate=3.0), FlowLinkPart(a="box", b="space", rate=2.0)
    )
    assert (severity, path) == ("error", "nodes.box")
    assert "1 W/K more enters than leaves" in message


def test_fluid_may_begin_and_end_at_boundaries() -> None:
    inlet = BoundaryPart(name="inlet", temperature=290.0)
    through = [
        FlowLinkPart(a="inlet", b="box", rate=3.0),
        FlowLinkPart(a="box", b="space", rate=3.0),
    ]
    assert found(inlet, *through) == []


def test_fluid_must_balance_at_all_times() -> None:
    """One branch rises while the other falls: they agree at the middle instant, only there."""
    rising = History(time=np.array([0.0, 100.0]), value=np.array([0.0, 1.0]))
    falling = History(time=np.array([0.0, 100.0]), value=np.array([1.0, 0.0]))
    severity, _, message = only(
        FlowLinkPart(a="space", b="box", rate=3.0, history=rising),
        FlowLinkPart(a="box", b="space", rate=3.0, history=falling),
    )
    assert severity == "error"
    assert "'box' does not balance" in message


def test_fluid_whose_branches_share_a_history_balances() -> None:
    pump = History(time=np.array([0.0, 50.0, 50.0, 100.0]), value=np.array([0.0, 1.0, 0.2, 0.2]))
    loop = [
        FlowLinkPart(a="space", b="box", rate=3.0, history=pump),
        FlowLinkPart(a="box", b="space", rate=3.0, history=pump),
    ]
    assert found(*loop) == []


def test_a_link_far_weaker_than_all_others_at_both_its_ends_is_a_warning() -> None:
    """5e-10 W/K beside a strap of 0.5 W/K: no doubt a slip of the unit."""
    problems = found(LinkPart(a="box", b="face", strength=5e-10, origin="links.slip"))
    assert [(severity, path) for severity, path, _ in problems] == [("warning", "links.slip")]
    assert "is its unit right?" in problems[0][2]


def test_capacities_that_differ_a_millionfold_are_a_warning() -> None:
    severity, path, message = only(
        NodePart(name="foil", capacity=5e-4, origin="nodes.foil"),
        LinkPart(a="foil", b="box", strength=0.5),
    )
    assert (severity, path) == ("warning", "nodes.foil")
    assert "beside 900 J/K of 'box'" in message


def test_errors_come_before_warnings() -> None:
    problems = found(
        BoundaryPart(name="deck", temperature=290.0), NodePart(name="spare", capacity=5.0)
    )
    assert [severity for severity, _, _ in problems] == ["error", "warning"]


@pytest.mark.parametrize("joined", [False, True])
def test_islands_are_groups_that_no_link_joins(joined: bool) -> None:
    nodes: list[Part] = [NodePart(name=name, capacity=1.0) for name in "abcd"]
    links: list[Part] = [LinkPart(a="a", b="c", strength=1.0), LinkPart(a="b", b="d", strength=1.0)]
    bridge: list[Part] = [FlowLinkPart(a="c", b="d", rate=1.0)] if joined else []
    groups = {frozenset(group) for group in islands(build([*nodes, *links, *bridge]))}
    assert groups == (
        {frozenset({0, 1, 2, 3})} if joined else {frozenset({0, 2}), frozenset({1, 3})}
    )
