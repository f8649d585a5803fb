"""Exchange areas against networks of resistances solved apart, and the laws that they obey."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some
from scipy.sparse import csr_array

from tests.enclosed import by_resistances, closed_enclosure
from thermnet.physics.curves import Floats
from thermnet.physics.exchange import (
    closure,
    direct_areas,
    exchange_areas,
    exchanging,
    reciprocity,
    repaired,
)

CUBE = np.full((6, 6), 0.200043776)
for _k in range(6):
    CUBE[_k, _k], CUBE[_k, _k ^ 1] = 0.0, 0.199824896


def net(exchange: Floats, emission: Floats) -> Floats:
    """Net heat f8[n] [W] that leaves each face by its exchange areas."""
    return np.asarray((exchange * (emission[:, None] - emission[None, :])).sum(axis=1))


enclosures = some.builds(
    closed_enclosure, some.integers(min_value=2, max_value=9), some.integers(0, 2**31)
)
emittances = some.lists(
    some.one_of(some.floats(min_value=0.01, max_value=0.99), some.just(1.0)), min_size=9, max_size=9
)


def test_two_plates_exchange_by_the_sum_of_their_resistances() -> None:
    direct = np.array([[0.0, 2.0], [2.0, 0.0]])
    found = exchange_areas(np.array([2.0, 2.0]), direct, np.array([0.8, 0.4]))
    assert found[0, 1] == pytest.approx(2.0 / (1.0 / 0.8 + 1.0 / 0.4 - 1.0), rel=1e-14)


def test_a_concave_face_sees_itself_and_the_inner_sphere_by_its_own_emittance() -> None:
    """Areas 1 and 4, emittances 0.8 and 0.4; derived: closed form."""
    direct = np.array([[0.0, 1.0], [1.0, 3.0]])
    found = exchange_areas(np.array([1.0, 4.0]), direct, np.array([0.8, 0.4]))
    assert found[0, 1] == pytest.approx(1.0 / (1.0 / 0.8 + 0.25 * (1.0 / 0.4 - 1.0)), rel=1e-14)


def test_black_faces_exchange_by_their_view_factors_alone() -> None:
    area, direct = closed_enclosure(5, 3)
    assert (exchange_areas(area, direct, np.ones(5)) == direct).all()


def test_a_cube_of_gray_faces() -> None:
    """Emittances 0.1, 0.9, four of 0.5; values of an independent radiosity solution."""
    found = exchange_areas(np.ones(6), CUBE, np.array([0.1, 0.9, 0.5, 0.5, 0.5, 0.5]))
    expected = {
        (0, 1): 0.03220379, (0, 2): 0.01659912, (0, 0): 0.00139972, (1, 1): 0.17657204,
        (1, 2): 0.17280604,
    }  # fmt: skip
    for pair, value in expected.items():
        assert found[pair] == pytest.approx(value, abs=6e-9)


@given(enclosures, emittances)
def test_the_heat_of_every_face_is_that_of_a_circuit_of_resistances(
    enclosure: tuple[Floats, Floats], emittance: list[float]
) -> None:
    area, direct = enclosure
    e = np.array(emittance[: len(area)])
    emission = np.linspace(100.0, 900.0, len(area))
    found = net(exchange_areas(area, direct, e), emission)
    wanted = by_resistances(area, direct, e, emission)
    assert found == pytest.approx(wanted, abs=1e-9 * area.sum() * 900.0)


@given(enclosures, emittances)
def test_the_heat_of_other_faces_around_a_re_radiating_one_is_that_of_the_circuit(
    enclosure: tuple[Floats, Floats], emittance: list[float]
) -> None:
    area, direct = enclosure
    e = np.array(emittance[: len(area)])
    e[1::2] = 0.0
    emission = np.linspace(100.0, 900.0, len(area))
    found = net(exchange_areas(area, direct, e), emission)
    assert (found[1::2] == 0.0).all()
    assert found == pytest.approx(
        by_resistances(area, direct, e, emission), abs=1e-9 * area.sum() * 900.0
    )


@given(enclosures, emittances)
def test_exchange_areas_are_symmetric_and_never_negative(
    enclosure: tuple[Floats, Floats], emittance: list[float]
) -> None:
    area, direct = enclosure
    found = exchange_areas(area, direct, np.array(emittance[: len(area)]))
    assert np.abs(found - found.T).max() <= 1e-12 * area.max()
    assert (found >= 0.0).all()


@given(enclosures, emittances)
def test_a_closed_enclosure_absorbs_all_that_each_face_emits(
    enclosure: tuple[Floats, Floats], emittance: list[float]
) -> None:
    """Rows sum to emittance times area."""
    area, direct = enclosure
    e = np.array(emittance[: len(area)])
    sums = exchange_areas(area, direct, e).sum(axis=1)
    assert np.abs(sums - e * area).max() <= 1e-10 * area.max()


@given(enclosures, emittances)
def test_nothing_flows_where_all_are_equally_warm_and_else_from_warm_to_cold(
    enclosure: tuple[Floats, Floats], emittance: list[float]
) -> None:
    """The second law: what leaves the warmest is no less than nothing, and entropy is made."""
    area, direct = enclosure
    found = exchange_areas(area, direct, np.array(emittance[: len(area)]))
    assert (net(found, np.full(len(area), 459.3)) == 0.0).all()
    temperature = np.linspace(400.0, 200.0, len(area))
    heat = net(found, 5.67e-8 * temperature**4)
    assert heat[0] >= 0.0
    assert heat[-1] <= 0.0
    assert -(heat / temperature).sum() >= -1e-12 * area.sum()


@given(enclosures, emittances, some.floats(min_value=0.05, max_value=0.95))
def test_a_face_that_is_cut_in_two_alike_ones_changes_nothing(
    enclosure: tuple[Floats, Floats], emittance: list[float], share: float
) -> None:
    area, direct = enclosure
    size = len(area)
    e = np.array(emittance[:size])
    whole = exchange_areas(area, direct, e)
    spread = np.vstack([np.eye(size), np.eye(size)[:1]])  # the last row is the second piece
    spread[0, 0], spread[size, 0] = share, 1.0 - share
    cut = exchange_areas(spread @ area, spread @ direct @ spread.T, np.append(e, e[0]))
    gather = (spread > 0.0).astype(float)
    assert gather.T @ cut @ gather == pytest.approx(whole, abs=1e-11 * area.sum())


def test_pairs_of_groups_that_do_not_see_each_other_are_those_of_each_group_alone() -> None:
    """Interleaved so that no group stands together."""
    first, second = closed_enclosure(5, 1), closed_enclosure(4, 2)
    order = np.array([4, 0, 5, 6, 1, 2, 7, 3, 8])  # the first five are of the first group
    direct = np.zeros((9, 9))
    direct[:5, :5], direct[5:, 5:] = first[1], second[1]
    area = np.append(first[0], second[0])
    emittance = np.linspace(0.1, 0.9, 9)
    whole = exchange_areas(area, direct, emittance)[np.ix_(order, order)]
    a, b, found = exchanging(area[order], csr_array(direct[np.ix_(order, order)]), emittance[order])
    assert (a < b).all()
    gathered = np.zeros((9, 9))
    gathered[a, b] = found
    assert gathered == pytest.approx(np.triu(whole, 1), abs=1e-14)


def test_black_faces_stay_a_sparse_list_of_those_that_see_each_other() -> None:
    """A ring of 40,000 faces, whose full matrix would take 13 gigabytes."""
    size = 40_000
    place = np.arange(size)
    ones = np.ones(size)
    ring = csr_array((ones, (place, np.roll(place, -1))), (size, size))
    a, b, found = exchanging(2.0 * ones, csr_array(ring + ring.T), ones)
    assert len(a) == len(b) == size
    assert (found == 1.0).all()


def test_more_gray_faces_in_one_group_than_memory_can_hold_are_refused() -> None:
    size = 12_001
    place = np.arange(size)
    ones = np.ones(size)
    ring = csr_array((ones, (place, np.roll(place, -1))), (size, size))
    with pytest.raises(ValueError, match="12001 faces see each other"):
        exchanging(2.0 * ones, csr_array(ring + ring.T), 0.5 * ones)


def test_no_faces_exchange_nothing() -> None:
    a, b, found = exchanging(np.empty(0), csr_array((0, 0)), np.empty(0))
    assert len(a) == len(b) == len(found) == 0


def test_radiation_that_nothing_ever_absorbs_is_refused() -> None:
    direct = np.array([[0.0, 1.0], [1.0, 0.0]])
    with pytest.raises(ValueError, match="radiation is caught"):
        exchange_areas(np.ones(2), direct, np.zeros(2))


def test_faces_that_see_more_than_there_is_are_refused() -> None:
    direct = np.array([[0.0, 1.5], [1.5, 0.0]])
    with pytest.raises(ValueError, match="sum to more than 1"):
        exchange_areas(np.ones(2), direct, np.full(2, 0.1))


def test_a_view_that_is_stated_one_way_counts_for_both() -> None:
    factor = csr_array(np.array([[0.0, 0.5], [0.0, 0.0]]))
    assert direct_areas(np.array([2.0, 4.0]), factor).toarray().tolist() == [[0.0, 1.0], [1.0, 0.0]]


def test_of_a_view_that_is_stated_both_ways_the_mean_counts() -> None:
    factor = csr_array(np.array([[0.2, 0.5], [0.3, 0.0]]))
    found = direct_areas(np.array([2.0, 4.0]), factor).toarray()
    assert found == pytest.approx(np.array([[0.4, 1.1], [1.1, 0.0]]))


def test_a_view_that_is_stated_as_nothing_is_a_statement_too() -> None:
    """0.5 one way and an entry of 0 the other: the mean, not the one."""
    factor = csr_array((np.array([0.5, 0.0]), (np.array([0, 1]), np.array([1, 0]))), (2, 2))
    assert direct_areas(np.ones(2), factor).toarray() == pytest.approx(
        np.array([[0.0, 0.25], [0.25, 0.0]])
    )


def test_reciprocity_is_missed_by_the_error_of_the_smaller_face() -> None:
    """2 x 0.5 against 4 x 0.3: 0.2 m2, a tenth of the view of the smaller face."""
    factor = csr_array(np.array([[0.0, 0.5], [0.3, 0.0]]))
    assert reciprocity(np.array([2.0, 4.0]), factor).max() == pytest.approx(0.1)


def test_a_view_stated_one_way_misses_no_reciprocity() -> None:
    factor = csr_array(np.array([[0.0, 0.5, 0.1], [0.0, 0.0, 0.2], [0.1, 0.0, 0.0]]))
    assert reciprocity(np.array([2.0, 4.0, 2.0]), factor).max() == 0.0


def test_closure_is_the_sum_of_the_view_factors() -> None:
    direct = csr_array(np.array([[0.0, 1.0], [1.0, 3.0]]))
    assert closure(np.array([2.0, 4.0]), direct).tolist() == [0.5, 1.0]


@given(enclosures, some.integers(0, 2**31))
def test_a_repair_closes_every_row_and_keeps_it_alike_both_ways(
    enclosure: tuple[Floats, Floats], seed: int
) -> None:
    """Direct areas with errors of 1 %, on faces that also see themselves."""
    area, direct = enclosure
    direct = direct + np.diag(0.05 * area)
    area = direct.sum(axis=1)
    rough = direct * np.random.default_rng(seed).uniform(0.99, 1.01, direct.shape)
    rough = (rough + rough.T) / 2.0
    found = repaired(area, csr_array(rough)).toarray()
    assert np.abs(found.sum(axis=1) / area - 1.0).max() < 1e-12
    assert (found == found.T).all()
    assert ((found > 0.0) == (direct > 0.0)).all()


def test_a_repair_of_what_closes_already_changes_nothing() -> None:
    area, direct = closed_enclosure(5, 8)
    assert repaired(area, csr_array(direct)).toarray() == pytest.approx(direct, rel=1e-12)


def test_faces_of_two_sizes_that_see_only_each_other_cannot_be_repaired() -> None:
    direct = csr_array(np.array([[0.0, 1.0], [1.0, 0.0]]))
    with pytest.raises(ValueError, match="no factors make every row sum to its area"):
        repaired(np.array([1.0, 2.0]), direct)


def test_a_face_that_sees_nothing_cannot_be_repaired() -> None:
    direct = csr_array(np.array([[0.0, 1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 0.0]]))
    with pytest.raises(ValueError, match="face 2 sees nothing"):
        repaired(np.ones(3), direct)
