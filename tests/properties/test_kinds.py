"""Laws that every kind of entry obeys, whatever its numbers: conservation and the second law."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from tests.full import FULL
from tests.properties.kinds import DRAWN, LEFT_OUT, LOOKED_UP, model_text
from tests.small_models import model_of
from tests.solving import solved_steady
from thermnet.model.assemble import assemble
from thermnet.model.kinds import KINDS
from thermnet.model.kinds.kind import nothing
from thermnet.network.network import (
    Network,
    duties,
    flows,
    heat,
    heater_powers,
    jacobian,
    sources,
)
from thermnet.network.primitives import Floats
from thermnet.text.rows import rows_of


def network_of(data: st.DataObject, chosen: set[str]) -> Network:
    return assemble(model_of(model_text(data, chosen)), "case")


def temperatures(data: st.DataObject, network: Network) -> Floats:
    """Any temperatures, 180 to 340 K."""
    seed = data.draw(st.integers(0, 10_000))
    return np.random.default_rng(seed).uniform(180.0, 340.0, len(network.names))


def conserves(network: Network, T: Floats) -> None:
    given_off = sources(network, T, 20.0).sum()
    heaters = heater_powers(network, duties(network, T), 20.0).sum()
    gained = heat(network, T, 20.0)
    assert gained.sum() == pytest.approx(
        given_off + heaters, abs=1e-9 * max(np.abs(gained).sum(), 1.0)
    )


def flows_from_warm_to_cold(network: Network, T: Floats) -> None:
    links = network.links
    through = flows(network, T, 20.0)[: len(links.a)]
    made = through * (1.0 / T[links.b] - 1.0 / T[links.a])
    assert made.min(initial=0.0) >= -1e-12 * max(np.abs(through).max(initial=0.0), 1.0)


def fluids_flow_on_and_obey_it_in_sum(network: Network, T: Floats) -> None:
    carried = network.flow_links
    through = flows(network, T, 20.0)[len(network.links.a) :]
    rate = through / T[carried.a]
    assert rate.min(initial=0.0) >= 0.0
    size = len(network.names)
    come, gone = np.bincount(carried.b, rate, size), np.bincount(carried.a, rate, size)
    assert come[network.free] == pytest.approx(gone[network.free])
    if come == pytest.approx(gone):  # no line from one boundary to another
        assert (through * (1.0 / T[carried.b] - 1.0 / T[carried.a])).sum() >= 0.0


def has_its_slopes(network: Network, T: Floats) -> None:
    exact, step = jacobian(network, T, 20.0).toarray(), 1e-3
    for k in range(len(T)):
        up, down = T.copy(), T.copy()
        up[k] += step
        down[k] -= step
        found = (heat(network, up, 20.0) - heat(network, down, 20.0)) / (2.0 * step)
        assert exact[:, k] == pytest.approx(found, rel=1e-4, abs=1e-5 * np.abs(exact).max())


def closes(network: Network, _: Floats) -> None:
    solved_steady(network)  # which holds the account of every solve to zero


LAWS: tuple[Callable[[Network, Floats], None], ...] = (
    conserves, flows_from_warm_to_cold, fluids_flow_on_and_obey_it_in_sum, has_its_slopes, closes
)  # fmt: skip


@pytest.mark.parametrize("kind", sorted(DRAWN))
def test_every_kind_conserves_heat_obeys_the_second_law_and_closes_its_account(kind: str) -> None:
    @settings(
        max_examples=25 if FULL else 3,
        phases=[Phase.generate],  # what fails is small as it is, and slow to make smaller
        database=None,
        derandomize=True,
        deadline=None,
    )
    @given(data=st.data())
    def obeys(data: st.DataObject) -> None:
        others = data.draw(st.sets(st.sampled_from(sorted(DRAWN)), min_size=2, max_size=5))
        network = network_of(data, {kind, *others})
        T = temperatures(data, network)
        for law in LAWS:
            law(network, T)

    obeys()


def test_every_kind_that_makes_primitives_is_drawn() -> None:
    """Names each kind that has no strategy, or whose entries make nothing."""
    making = {
        section
        for section, kind in KINDS.items()
        if kind.expand is not nothing or kind.expand_table is not nothing
    }
    assert making - LOOKED_UP - LEFT_OUT.keys() - DRAWN.keys() == set()
    seen: set[str] = set()
    tables: set[str] = set()

    @settings(max_examples=4, database=None, derandomize=True, deadline=None)
    @given(data=st.data())
    def collect(data: st.DataObject) -> None:
        model = model_of(model_text(data, set(DRAWN)))
        network = assemble(model, "case")
        tables.update(
            section for section, entries in model.sections.items()
            if any(rows_of(entry) is not None for entry in entries.values())
        )  # fmt: skip
        for origin in (*network.origins, *network.node_origins):
            seen.add(origin.split(".", 1)[0])

    collect()
    assert DRAWN.keys() - LOOKED_UP - seen == set()
    assert {section for section, kind in KINDS.items() if kind.table is not None} - tables == set()
