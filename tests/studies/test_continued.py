"""What follows a case when all stays as it is at its end: gas in blankets, and their bounds."""

from __future__ import annotations

import pytest

from tests.solving import closed
from tests.studies.test_times import solved
from thermnet.account import account
from thermnet.studies.continued import continued
from thermnet.studies.times import times

# A tank with 5 W inside a blanket of ten layers, whose gas thins out while a launcher climbs.
CLIMBING = """
thermnet: 1
nodes: {tank: {capacity: 100 J/K, initial: 300 K}}
boundaries: {wall: {temperature: 200 K}}
blankets:
  tank: {from: tank, to: wall, area: 1 m2, effective_emittance: 0.02, low: 0.01, high: 0.04,
         layers: {count: 10, thickness: 5 mm}}
loads: {tank: {node: tank, heat: 5 W}}
atmospheres:
  ascent: {gas: nitrogen, time: [0 s, 100 s, 300 s], pressures: [100 Pa, 1 Pa, 0.01 Pa]}
  half way: {gas: nitrogen, pressure: 0.1 Pa}
components: {tank: {at: tank, operating: [100 K, 500 K]}}
cases:
  climb: {solve: transient, duration: 200 s, initial: given, atmosphere: ascent}
  waiting: {solve: steady, atmosphere: half way}
  leaky: {solve: transient, duration: 200 s, initial: given, blankets: high,
          set: {blankets.tank.use: nominal}}
  plain: {solve: steady}
"""


def test_an_ascent_goes_on_at_the_pressure_of_its_end() -> None:
    """Half way between 1 and 0.01 Pa on the logarithm: 0.1 Pa (by hand)."""
    later = continued(solved(CLIMBING, "climb"))
    closed(later.network, later.solution)
    expected = solved(CLIMBING, "waiting").of("tank")[0]
    assert later.solution.kind == "steady"
    assert later.of("tank")[0] == pytest.approx(expected, abs=1e-3)
    assert account(later.network, later.solution).closes


def test_times_of_an_ascent_say_whether_limits_are_ever_reached() -> None:
    every = times(solved(CLIMBING, "climb"))
    assert every.reason == ""
    assert {each.ever for each in every.limits} <= {"within the case", "after the case", "never"}


def test_a_bound_that_the_case_itself_overrules_does_not_come_back() -> None:
    later = continued(solved(CLIMBING, "leaky"))
    closed(later.network, later.solution)
    assert later.of("tank")[0] == pytest.approx(solved(CLIMBING, "plain").of("tank")[0], abs=1e-3)
