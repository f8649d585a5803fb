"""Tables of heat and of couplings by time: the histories they make, and what is refused."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermnet.account import account
from thermnet.errors import InputError
from thermnet.model.assemble import assemble
from thermnet.model.histories import Timing, joined, means, unrolled
from thermnet.model.model import Model
from thermnet.model.paths import vary
from thermnet.model.read import load, parse
from thermnet.model.tables_by_time import pieces
from thermnet.network import grid
from thermnet.network.network import sources
from thermnet.network.primitives import Floats
from thermnet.physics.constants import STEFAN_BOLTZMANN
from thermnet.results import Result, solve
from thermnet.text.instants import runs_of
from thermnet.text.rows import Ends, Rows

# `left` and `right` have no mass and hang on the wall by 2 W/K each: whatever heat q they take,
# they stand at 300 K + q / (2 W/K), at every instant (closed form: their heat balance).
MODEL = """\
thermnet: 1
nodes:
  left: {massless: true}
  right: {massless: true}
boundaries:
  wall: {temperature: 300 K}
links:
  left: {from: left, to: wall, conductance: 2 W/K}
  right: {from: right, to: wall, conductance: 2 W/K}
loads:
  sunlight:
    period: 100 s
    table: |
      node,  time [s], heat [W]
      left,  0,        0
      left,  50,       40
      left,  50,       10
      left,  100,      0
      right, 0,        20
      right, 50,       20
      right, 50,       60
      right, 100,      20
cases:
  orbit: {solve: repeating, period: 100 s}
  two orbits: {solve: repeating, period: 200 s}
  day: {solve: transient, duration: 250 s}
  mean: {solve: steady}
"""
LEFT = np.array([[0.0, 50.0, 50.0, 100.0], [0.0, 40.0, 10.0, 0.0]])
RIGHT = np.array([[0.0, 50.0, 50.0, 100.0], [20.0, 20.0, 60.0, 20.0]])

# Between a hot wall and space a plate without mass stands where what it takes equals what it
# gives: T^4 = (A1 T1^4 + A2 T2^4) / (A1 + A2) (closed form).
COUPLINGS = """\
thermnet: 1
nodes:
  plate: {massless: true, initial: 300 K}
boundaries:
  hot: {temperature: 400 K}
  cold: {temperature: 100 K}
radiation:
  moving:
    period: 100 s
    table: |
      from, to,    time, area
      hot,  plate, 0,    0.1
      plate, cold, ,     0.2
      hot,  plate, 40,   0.3
      hot,  plate, 80,   0
      hot,  plate, 100,  0.1
cases:
  orbit: {solve: repeating, period: 100 s}
  mean: {solve: steady}
"""


def model_of(text: str = MODEL) -> Model:
    return parse({"m.yaml": text}, "m.yaml")


def changed(old: str, new: str, text: str = MODEL) -> Model:
    assert old in text
    return model_of(text.replace(old, new))


def refused(old: str, new: str, text: str = MODEL) -> list[str]:
    """What is wrong with a model that says something else, with the places."""
    with pytest.raises(InputError) as caught:
        changed(old, new, text)
    return [f"{each.place}: {each.path}: {each.message}" for each in caught.value.problems]


def heat_on(model: Model, case: str, node: str, times: Floats) -> Floats:
    """Heat [W] on a node at some times."""
    network = assemble(model, case)
    each = sources(network, np.zeros((len(times), len(network.names))), times)
    return np.asarray(each[:, network.heats.node == network.index(node)].sum(axis=1))


def settled(model: Model, case: str) -> Result:
    """A case solved, after its energy account was seen to close."""
    result = solve(model, case)
    assert result.solution.failure == ""
    assert account(result.network, result.solution).closes
    return result


def test_each_node_follows_its_own_history() -> None:
    result = settled(model_of(), "orbit")
    times = result.solution.t
    inside = (times != 50.0) & (times != 100.0)
    for name, (time, heat) in (("left", LEFT), ("right", RIGHT)):
        expected = 300.0 + np.interp(times, time, heat) / 2.0
        np.testing.assert_allclose(result.of(name)[inside], expected[inside], rtol=1e-12)


def test_a_repeated_instant_is_a_jump() -> None:
    around_it = np.array([np.nextafter(50.0, 0.0), 50.0])
    np.testing.assert_allclose(heat_on(model_of(), "orbit", "left", around_it), [40.0, 10.0])
    np.testing.assert_allclose(heat_on(model_of(), "orbit", "right", around_it), [20.0, 60.0])


def test_between_instants_the_heat_is_straight() -> None:
    found = heat_on(model_of(), "orbit", "left", np.array([12.5, 75.0]))
    np.testing.assert_allclose(found, [10.0, 5.0], rtol=1e-15)


def test_steps_hold_each_value_until_the_next_instant() -> None:
    once = changed("      left,  50,       10\n", "").sources["m.yaml"]
    once = once.replace("      right, 50,       20\n", "")
    steps = changed("period: 100 s\n", "period: 100 s\n    shape: steps\n", once)
    found = heat_on(steps, "orbit", "left", np.array([0.0, 49.0, 50.0, 99.0]))
    np.testing.assert_allclose(found, [0.0, 0.0, 40.0, 40.0])
    assert heat_on(steps, "mean", "right", np.array([0.0])) == pytest.approx([40.0])


def test_a_jump_at_the_end_of_a_period_is_one_jump_to_the_next() -> None:
    points = joined(np.array([0.0, 50.0, 100.0]), np.array([1.0, 2.0, 9.0]), "steps", 100.0)
    history = unrolled(points, 100.0, 200.0)
    np.testing.assert_array_equal(history.time, [0, 50, 50, 100, 100, 150, 150, 200, 200])
    np.testing.assert_array_equal(history.value, [1, 1, 2, 2, 1, 1, 2, 2, 9])


def test_a_steady_case_takes_the_mean_over_the_period() -> None:
    # Areas under the straight lines, for 50 s each: left 20 and 5 W, right 20 and 40 W.
    result = settled(model_of(), "mean")
    assert result.of("left")[0] == pytest.approx(300.0 + 12.5 / 2.0, abs=1e-9)
    assert result.of("right")[0] == pytest.approx(300.0 + 30.0 / 2.0, abs=1e-9)


def test_a_period_repeats_over_the_case() -> None:
    for case in ("two orbits", "day"):
        first = heat_on(model_of(), case, "left", np.array([10.0, 60.0]))
        again = heat_on(model_of(), case, "left", np.array([110.0, 160.0]))
        np.testing.assert_allclose(again, first, rtol=1e-13)


def test_without_a_period_the_last_value_holds() -> None:
    once = changed("    period: 100 s\n", "")
    for case in ("two orbits", "day"):
        found = heat_on(once, case, "right", np.array([75.0, 100.0, 180.0]))
        np.testing.assert_allclose(found, [40.0, 20.0, 20.0])


def test_before_its_first_instant_a_period_has_the_first_value() -> None:
    late = changed("      right, 0,        20\n      right, 50,       20\n", "")
    assert heat_on(late, "orbit", "right", np.array([0.0, 49.0])) == pytest.approx([60.0, 60.0])


def test_nodes_may_have_instants_of_their_own() -> None:
    other = changed("right, 50,       20\n      right, 50,       60", "right, 30,       80")
    found = heat_on(other, "orbit", "right", np.array([0.0, 15.0, 30.0, 65.0]))
    np.testing.assert_allclose(found, [20.0, 50.0, 80.0, 50.0], rtol=1e-14)
    assert heat_on(other, "orbit", "left", np.array([25.0])) == pytest.approx([20.0])


def test_a_row_without_an_instant_is_constant() -> None:
    text = MODEL.partition("      right, 0")[0] + "      right, ,  7\n"
    model = model_of(text + "cases:" + MODEL.partition("cases:")[2])
    assert heat_on(model, "orbit", "right", np.array([0.0, 70.0])) == pytest.approx([7.0, 7.0])
    assert heat_on(model, "mean", "right", np.array([0.0])) == pytest.approx([7.0])
    assert heat_on(model, "orbit", "left", np.array([25.0])) == pytest.approx([20.0])


def test_the_scale_multiplies_the_whole_history() -> None:
    dimmed = vary(model_of(), {"loads.sunlight.scale": 0.5})
    times = np.array([25.0, 60.0])
    for case in ("orbit", "mean"):
        whole = heat_on(model_of(), case, "left", times)
        np.testing.assert_allclose(heat_on(dimmed, case, "left", times), 0.5 * whole, rtol=1e-15)


def test_heat_taken_out_is_as_good_as_heat_given() -> None:
    model = changed("      left,  0,        0\n", "      left,  0,        -40\n")
    assert heat_on(model, "orbit", "left", np.array([0.0, 25.0])) == pytest.approx([-40.0, 0.0])


def test_a_coupling_follows_its_history_beside_constant_ones() -> None:
    result = settled(model_of(COUPLINGS), "orbit")
    area = np.interp(result.solution.t, [0.0, 40.0, 80.0, 100.0], [0.1, 0.3, 0.0, 0.1])
    fourth = (area * 400.0**4 + 0.2 * 100.0**4) / (area + 0.2)
    # Within the 0.01 K that a solve is good for unless more is asked.
    np.testing.assert_allclose(result.of("plate"), fourth**0.25, atol=5e-3)


def test_the_mean_of_a_coupling_counts_in_a_steady_case() -> None:
    # Area under the straight lines over 100 s: 40 x 0.2 + 40 x 0.15 + 20 x 0.05 = 15 m2 s.
    result = settled(model_of(COUPLINGS), "mean")
    fourth = (0.15 * 400.0**4 + 0.2 * 100.0**4) / 0.35
    assert result.of("plate")[0] == pytest.approx(fourth**0.25, rel=1e-9)


def test_the_scale_of_couplings_multiplies_what_varies_and_what_does_not() -> None:
    doubled = vary(model_of(COUPLINGS), {"radiation.moving.scale": 2.0})
    ratio = (
        assemble(doubled, "orbit").links.strength
        / assemble(model_of(COUPLINGS), "orbit").links.strength
    )
    np.testing.assert_allclose(ratio, 2.0, rtol=1e-15)
    largest = assemble(model_of(COUPLINGS), "orbit").links.strength / STEFAN_BOLTZMANN
    np.testing.assert_allclose(np.sort(largest), [0.2, 0.3], rtol=1e-15)


def test_a_coupling_that_is_never_there_joins_nothing() -> None:
    text = re.sub(r"(hot,  plate, \d+, +)[0-9.]+", r"\g<1>0", COUPLINGS)
    result = settled(model_of(text), "orbit")
    np.testing.assert_allclose(result.of("plate"), 100.0, rtol=1e-9)


def test_arrays_and_a_csv_file_say_the_same_as_a_block(tmp_path: Path) -> None:
    begin, _, rest = MODEL.partition("    table: |\n")
    block, _, end = rest.partition("cases:")
    (tmp_path / "heat.csv").write_text(
        "\n".join(line.strip() for line in block.splitlines()) + "\n", encoding="utf-8"
    )
    np.savez(
        tmp_path / "heat.npz",
        node=np.array(["left"] * 4 + ["right"] * 4),
        time=np.concatenate([LEFT[0], RIGHT[0]]),
        heat=np.concatenate([LEFT[1], RIGHT[1]]),
    )
    times = np.array([0.0, 20.0, 50.0, 80.0])
    for file in ("heat.csv", "heat.npz"):
        path = tmp_path / "m.yaml"
        path.write_text(f"{begin}    table: {file}\ncases:{end}", encoding="utf-8")
        for node in ("left", "right"):
            expected = heat_on(model_of(), "orbit", node, times)
            np.testing.assert_array_equal(heat_on(load(path), "orbit", node, times), expected)


def test_in_arrays_nan_is_no_instant(tmp_path: Path) -> None:
    begin, _, rest = MODEL.partition("    table: |\n")
    (tmp_path / "m.yaml").write_text(
        f"{begin}    table: h.npz\ncases:{rest.partition('cases:')[2]}"
    )
    node, time = np.array(["left", "right", "left"]), np.array([0.0, np.nan, 50.0])
    np.savez(tmp_path / "h.npz", node=node, time=time, heat=np.array([0.0, 7.0, 10.0]))
    model = load(tmp_path / "m.yaml")
    assert heat_on(model, "orbit", "right", np.array([30.0])) == pytest.approx([7.0])
    assert heat_on(model, "orbit", "left", np.array([25.0])) == pytest.approx([5.0])


@given(order=st.permutations([0] * 3 + [1] * 3 + [2] * 3))
def test_how_nodes_are_mixed_in_the_file_is_of_no_matter(order: list[int]) -> None:
    node = np.array(order)
    heat = np.array([[0.0, 4.0, -8.0], [1.0, 2.0, 3.0], [0.0, 0.0, 0.0]])
    instants, time, mixed = np.array([0.0, 10.0, 30.0]), np.empty(9), np.empty(9)
    for k in range(3):
        time[node == k], mixed[node == k] = instants, heat[k]
    (piece,) = pieces(
        table(node, time, mixed),
        "heat",
        shape="linear",
        period=None,
        timing=Timing(span=30.0, repeating=False),
    )
    assert piece.history is not None
    np.testing.assert_array_equal(node[piece.rows], [0, 1, 2])
    np.testing.assert_allclose(piece.history.value.T * piece.size[:, None], heat, rtol=1e-15)


def table(node: np.ndarray, time: Floats, heat: Floats) -> Rows:
    ends = Ends(at=node.astype(np.int32), counted=True)
    return Rows(
        count=len(node),
        numbers={"time": time, "heat": heat},
        ends={"node": ends},
        runs=runs_of([ends], time),
    )


def test_ten_thousand_nodes_with_the_same_instants_are_one_part() -> None:
    nodes, instants = 10_000, 100
    node = np.tile(np.arange(nodes), instants)
    time = np.repeat(np.linspace(0.0, 99.0, instants), nodes)
    found = list(pieces(table(node, time, time * 2.0), "heat", shape="linear", period=None,
                        timing=Timing(span=99.0, repeating=True)))  # fmt: skip
    assert [len(piece.size) for piece in found] == [nodes]


@pytest.mark.parametrize("turns", [1, 7, 40])
def test_a_period_of_any_length_unrolls_without_a_gap(turns: int) -> None:
    for period in np.random.default_rng(4).uniform(5000.0, 7000.0, 100):
        points = joined(np.array([0.0, period / 2.0]), np.array([0.0, 1.0]), "linear", period)
        history = unrolled(points, period, turns * period)
        assert np.count_nonzero(np.diff(history.time) == 0.0) == turns - 1
        assert history.time[-1] == turns * period


def test_a_period_that_does_not_fit_the_case_is_refused() -> None:
    old = "orbit: {solve: repeating, period: 100 s}"
    problems = refused(old, "orbit: {solve: repeating, period: 150 s}")
    message = "a period of 100 s does not fit a whole number of times into that of case 'orbit'"
    assert problems == [f"m.yaml:12:13: loads.sunlight.period: {message} (150 s)"]


def test_the_period_of_an_orbit_needs_one() -> None:
    problems = refused("    period: 100 s\n", "    period: orbit\n")
    message = "case 'orbit' has no orbit to repeat with: state a period in its 'set'"
    assert f"m.yaml:12:13: loads.sunlight.period: {message}" in problems


def test_steps_hold_the_last_value_of_the_turn_before_until_the_first_instant() -> None:
    # 40 over 10 to 50 min, 20 over the other hour of 100 min: 28, by hand.
    points = joined(np.array([600.0, 3000.0]), np.array([40.0, 20.0]), "steps", 6000.0)
    assert float(means(points, 6000.0)) == pytest.approx(28.0)


def test_a_table_that_outlasts_the_case_is_refused() -> None:
    problems = refused("    period: 100 s\n    table: |\n      from", "    table: |\n      from",
                       COUPLINGS.replace("orbit: {solve: repeating, period: 100 s}",
                                         "orbit: {solve: repeating, period: 90 s}"))  # fmt: skip
    message = "goes on beyond the period of case 'orbit' (90 s)"
    assert problems == [f"m.yaml:8:3: radiation.moving.period: {message}"]


def test_more_histories_than_memory_holds_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    model = model_of()
    monkeypatch.setattr(grid, "MOST_VALUES", 13)
    with pytest.raises(ValueError, match="2 histories with 7 instants between them are too many"):
        assemble(model, "day")
