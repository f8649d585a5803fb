"""Joints by fasteners and contacts: numbers by hand, ends of ranges by cases, rows of a model."""

from __future__ import annotations

import pytest

from tests.model.doubted import doubts_of
from tests.model.small import SMALL, network, read
from tests.small_models import solved
from thermnet.errors import InputError
from thermnet.model.assemble import assemble
from thermnet.model.kinds.contact import Contact, contact
from thermnet.model.kinds.fastener import Fastener, fastener
from thermnet.model.paths import vary


def with_joint(body: str, more: str = "") -> str:
    joint = f"joints:\n  own: {{from: box, to: plate, {body}}}\n"
    return SMALL.replace("links:\n", f"{joint}{more}links:\n")


def strength(text: str, case: str = "mean") -> float:
    found = network(case, text)
    (place,) = [k for k, origin in enumerate(found.origins) if origin == "joints.own"]
    (value,) = found.links.strength[found.links.origin == place]
    return float(value)


M4 = "fasteners: {size: screw M4, count: 8}"


@pytest.mark.parametrize(("use", "each"), [("low", 0.264), ("nominal", 0.46), ("high", 0.8)])
def test_fasteners_add_up_at_each_end_of_their_range(use: str, each: float) -> None:
    assert strength(with_joint(f"{M4}, use: {use}")) == pytest.approx(8 * each)


def test_faces_in_contact_conduct_by_their_area_beside_the_fasteners() -> None:
    """8 x 0.46 and 1220 W/m2/K x 0.01 m2 by hand."""
    body = f"{M4}, contact: {{of: bolted plate with filler, area: 0.01 m2}}"
    assert strength(with_joint(body)) == pytest.approx(8 * 0.46 + 12.2)


def test_pressure_changes_a_bare_contact_in_a_vacuum() -> None:
    """3650 W/m2/K at 0.1 MPa x 0.01 m2 x 10^0.73."""
    body = "contact: {of: bare aluminium at 100 kPa, area: 0.01 m2, pressure: 1 MPa}"
    assert strength(with_joint(body)) == pytest.approx(36.5 * 10**0.73)


@pytest.mark.parametrize(("pressure", "count"), [("250 kPa", 0), ("1 MPa", 1), ("20 kPa", 1)])
def test_a_pressure_far_from_that_of_the_contact_is_doubted(pressure: str, count: int) -> None:
    """derived: 10^0.73 is 5.4, and published ranges rise by 7 to 14 in two decades."""
    body = f"contact: {{of: bare aluminium at 100 kPa, area: 0.01 m2, pressure: {pressure}}}"
    found = doubts_of(solved(with_joint(body), "mean"), "joints.own")
    assert [path for path, _ in found] == ["joints.own.contact.pressure"] * count
    if pressure == "1 MPa":
        assert "at 100000 Pa is taken times 5.4" in found[0][1]
    assert doubts_of(solved(with_joint(f"{body}, lost: true"), "mean"), "joints.own") == []


def test_pressure_has_no_part_in_a_contact_that_states_none() -> None:
    body = "contact: {of: thermal grease, area: 0.01 m2, pressure: 1 MPa}"
    with pytest.raises(InputError, match="does not say at which pressure it holds"):
        network("mean", with_joint(body))


def test_a_case_takes_the_ends_of_all_joints() -> None:
    text = with_joint(M4).replace(
        "  cooling: {solve: transient, duration: 250 s}\n",
        "  cooling: {solve: transient, duration: 250 s}\n"
        '  tight: {set: {"joints.*.use": high}}\n  loose: {set: {"joints.*.use": low}}\n',
    )
    assert "tight" in text
    text = text.replace("heaters:\n", "heaters:\n", 1)
    assert strength(text, "tight") == pytest.approx(6.4)
    assert strength(text, "loose") == pytest.approx(2.112)


def test_a_joint_without_the_end_that_a_case_asks_for_is_told_at_the_joint() -> None:
    with pytest.raises(InputError) as caught:
        network("mean", with_joint("conductance: 2 W/K, high: 3 W/K, use: low"))
    assert "joints.own" in str(caught.value)
    assert "states no 'low' value" in str(caught.value)


def test_a_stated_conductance_has_a_range_of_its_own() -> None:
    body = "conductance: 2 W/K, low: 1 W/K, high: 3 W/K"
    found = [strength(with_joint(f"{body}, use: {use}")) for use in ("low", "nominal", "high")]
    assert found == pytest.approx([1.0, 2.0, 3.0])


def test_a_lost_joint_carries_nothing() -> None:
    model = vary(read(with_joint(M4)), {"joints.own.lost": True})
    found = assemble(model, "mean")
    place = found.origins.index("joints.own")
    assert found.links.strength[found.links.origin == place].tolist() == [0.0]


def test_a_row_of_the_model_changes_the_library_and_loses_its_range_with_a_new_nominal() -> None:
    own = Fastener(nominal=0.5, note="measured")
    row = fastener("screw M4", {"screw M4": own})
    assert (row.low, row.nominal, row.high) == (None, 0.5, None)
    assert row.source == "the model states nominal; measured"  # nothing of the row is left
    wider = fastener("screw M4", {"screw M4": Fastener(high=0.9)})
    assert (wider.low, wider.nominal, wider.high) == (0.264, 0.46, 0.9)


def test_a_contact_of_the_model_takes_no_pressure_of_the_library_for_its_own_value() -> None:
    own = contact("bare aluminium at 100 kPa", {"bare aluminium at 100 kPa": Contact(nominal=3e3)})
    assert own.pressure is None


def test_another_pressure_for_the_values_of_the_library_is_refused() -> None:
    rows = "contacts:\n  bare aluminium at 100 kPa: {pressure: 300 kPa}\n"
    with pytest.raises(InputError, match="states another `pressure` for the library's values"):
        network("mean", with_joint(M4, rows))


def test_the_row_of_a_part_changes_that_of_the_library() -> None:
    row = fastener("camera/screw M4", {"camera/screw M4": Fastener(high=0.9)})
    assert (row.low, row.high) == (0.264, 0.9)


def test_an_unknown_contact_names_the_nearest() -> None:
    with pytest.raises(ValueError, match="unknown contact 'thermal greese'; did you mean 'thermal"):
        contact("thermal greese", {})


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("lost: false", "missing key 'fasteners'"),
        ("conductance: 2 W/K, low: 3 W/K", "lies above the conductance"),
        ("conductance: 2 W/K, high: 1 W/K", "lies below the conductance"),
        (f"{M4}, low: 1 W/K", "give that too"),
        ("fasteners: {size: screw M44, count: 8}", "did you mean 'screw M4'"),
        ("fasteners: {size: screw M4, count: 0}", "at least 1"),
    ],
)
def test_a_joint_that_cannot_be_is_refused(body: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        read(with_joint(body))


def test_ends_out_of_order_are_told_where_they_stand() -> None:
    rows = "fasteners:\n  rivet: {low: 2 W/K, nominal: 1 W/K}\n"
    with pytest.raises(InputError, match="'low' 2 lies above 'nominal' 1"):
        read(with_joint(M4, rows))


def test_a_new_row_needs_a_nominal_value() -> None:
    rows = "fasteners:\n  rivet: {low: 2 W/K}\n"
    with pytest.raises(InputError, match=r"fastener 'rivet' is not in the library and needs"):
        network("mean", with_joint(M4, rows))
