"""Gas between the layers of blankets: what a model says of it, and what it leads."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tests.small_models import model_of, solved
from thermnet.account import account
from thermnet.errors import InputError
from thermnet.model.assemble import assemble, surroundings
from thermnet.model.between import Between
from thermnet.model.kinds.blanket_entry import Blanket
from thermnet.model.kinds.blanket_gas import cold_gas, gas_term
from thermnet.model.kinds.gas import COLUMNS, FILE, GASES, Gas, gas, library
from thermnet.model.library.rows import packaged, read_rows
from thermnet.model.paths import apply_case, vary
from thermnet.model.plan import plan
from thermnet.network.parts import History
from thermnet.physics.gas import GasFacts
from thermnet.results import Result

AREA, LAYERS, THICKNESS, EMITTANCE = 1.5, 20, 5e-3, 0.01
HOT, COLD, CAPACITY = 300.0, 100.0, 2000.0

MODEL = f"""
thermnet: 1
nodes:
  tank: {{capacity: {CAPACITY} J/K, initial: {HOT} K}}
boundaries:
  warm wall: {{temperature: {HOT} K}}
  shroud: {{temperature: {COLD} K}}
blankets:
  wall:
    from: warm wall
    to: shroud
    area: {AREA} m2
    effective_emittance: {EMITTANCE}
    low: 0.005
    high: 0.02
    layers: {{count: {LAYERS}, thickness: {THICKNESS} m}}
  tank:
    from: tank
    to: shroud
    area: {AREA} m2
    effective_emittance: {EMITTANCE}
    low: 0.005
    high: 0.02
    layers: {{count: {LAYERS}, thickness: {THICKNESS} m}}
atmospheres:
  chamber: {{gas: nitrogen, pressure: 0.001 Pa}}
  ascent:
    gas: nitrogen
    time: [0 s, 60 s, 150 s, 300 s]
    pressures: [101325 Pa, 20 kPa, 10 Pa, 0.01 Pa]
cases:
  vacuum: {{solve: steady}}
  case: {{solve: steady, atmosphere: chamber}}
  exhausted: {{extends: case, atmosphere: none}}
  leaky: {{extends: case, blankets: high}}
  ascent: {{solve: transient, duration: 600 s, initial: given, atmosphere: ascent}}
"""

PATCHED = MODEL.replace(
    f"layers: {{count: {LAYERS}, thickness: {THICKNESS} m}}",
    f"""layers: {{count: {LAYERS}, thickness: {THICKNESS} m}}
    openings: {{hatch: {{share: 0.2, to: shroud}}}}
    bounds: {{low: 0.5, high: 3}}""",
)

MOLAR_MASS, ROOM = 0.0280134, 293.15
FREE = 6.0 * np.sqrt(8.314462618 / (8.0 * np.pi * MOLAR_MASS * ROOM))
"""W/m2/K/Pa: (g + 1)/(g - 1) = 6 for g = 1.4, accommodation 1."""


def leaking(result: Result, origin: str = "blankets.wall.gas") -> float:
    """Heat [W] that leaves the warm wall by links of an origin."""
    entries = account(result.network, result.solution).of_node("warm wall")
    return -sum(entry.amount for entry in entries if entry.origin == origin)


def term_of(text: str, case: str, blanket: str = "wall") -> tuple[Between, Blanket]:
    """What a case of a model says of gas, and one of its blankets."""
    model = apply_case(model_of(text), case)
    between = surroundings(model, plan(model, case)).atmosphere
    assert between is not None
    return between, model.entries(Blanket, "blankets")[blanket]


def refused(text: str) -> str:
    """What is said about a model that is read, its cases included."""
    with pytest.raises(InputError) as caught:
        model_of(text)
    return str(caught.value)


def test_thin_gas_adds_what_free_molecules_carry_through_all_gaps() -> None:
    exact = AREA / (LAYERS + 1) * FREE * 1e-3 * (HOT - COLD)
    assert leaking(solved(MODEL)) == pytest.approx(exact, rel=1e-3)


def test_dense_gas_adds_its_conductivity_over_the_thickness_of_all_layers() -> None:
    """Sutherland's form integrated by hand: k0 (T0+S)/T0^1.5 times that of T^1.5/(T+S).

    With u = sqrt(T): the integral of 2 u^4/(u^2+S) = 2 (u^3/3 - S u + S^1.5 atan(u/sqrt(S))).
    """
    s = 150.0

    def primitive(temperature: float) -> float:
        u = np.sqrt(temperature)
        return float(2.0 * (u**3 / 3.0 - s * u + s**1.5 * np.arctan(u / np.sqrt(s))))

    integral = 0.0242 * (273.0 + s) / 273.0**1.5 * (primitive(HOT) - primitive(COLD))
    found = leaking(solved(MODEL, changes={"atmospheres.chamber.pressure": 1e7}))
    assert found == pytest.approx(AREA * integral / THICKNESS, rel=2e-4)


def test_a_changing_pressure_does_not_start_from_a_steady_state_that_has_none() -> None:
    said = refused(MODEL.replace("initial: given, atmosphere: ascent", "atmosphere: ascent"))
    assert "cases.ascent: the pressure changes: start at the end of a case at the first" in said
    on_the_pad = "  pad: {solve: steady, atmosphere: pad}\n"
    after = MODEL.replace("initial: given, atmosphere: ascent", "after: pad, atmosphere: ascent")
    pad = "atmospheres:\n  pad: {gas: nitrogen, pressure: 101325 Pa}"
    model_of(after.replace("atmospheres:", pad) + on_the_pad)


def test_a_constant_pressure_may_start_from_the_steady_state_in_it() -> None:
    held = "solve: transient, duration: 600 s, atmosphere: chamber"
    model_of(MODEL.replace("case: {solve: steady, atmosphere: chamber", f"case: {{{held}"))


def test_no_pressure_is_a_vacuum() -> None:
    empty = solved(MODEL, changes={"atmospheres.chamber.pressure": 0.0})
    vacuum, exhausted = solved(MODEL, "vacuum"), solved(MODEL, "exhausted")
    assert leaking(empty) == leaking(vacuum) == leaking(exhausted) == 0.0
    for other in (vacuum, exhausted):
        assert (empty.solution.temperature == other.solution.temperature).all()


def test_bounds_of_a_blanket_leave_the_gas_alone() -> None:
    nominal, leaky = solved(PATCHED), solved(PATCHED, "leaky")
    assert leaking(leaky) == pytest.approx(leaking(nominal), rel=1e-12)
    stated, hatch = "blankets.wall", "blankets.wall.openings.hatch"
    assert leaking(leaky, stated) == pytest.approx(2.0 * leaking(nominal, stated))
    assert leaking(leaky, hatch) == pytest.approx(3.0 * leaking(nominal, hatch))


def test_a_bare_patch_holds_no_gas() -> None:
    assert leaking(solved(PATCHED)) == pytest.approx(0.8 * leaking(solved(MODEL)), rel=1e-9)


def test_a_cold_gauge_at_the_same_reading_means_more_gas() -> None:
    cold = MODEL.replace("pressure: 0.001 Pa}", "pressure: 0.001 Pa, gauge_temperature: 75 K}")
    ratio = leaking(solved(cold)) / leaking(solved(MODEL))
    assert ratio == pytest.approx(np.sqrt(ROOM / 75.0), rel=1e-3)


def test_faces_that_take_half_of_the_energy_leave_a_third_of_the_heat() -> None:
    half = MODEL.replace("pressure: 0.001 Pa}", "pressure: 0.001 Pa, accommodation: 0.5}")
    between, entry = term_of(half, "case")
    assert between.gas.accommodation == 0.5
    assert leaking(solved(half)) / leaking(solved(MODEL)) == pytest.approx(1 / 3, rel=1e-3)
    source = gas_term(entry, "blankets.wall", between).source
    assert source.startswith("accommodation 0.5 of every face; the atmosphere 'chamber' states")


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_a_pressure_between_two_instants_lies_on_the_logarithm(share: float) -> None:
    between, _ = term_of(MODEL, "ascent")
    found = between.pressure_at(np.array([60.0 + 90.0 * share]))
    assert found[0] == pytest.approx(2e4 * (10.0 / 2e4) ** share)


def test_the_last_pressure_holds() -> None:
    between, _ = term_of(MODEL, "ascent")
    np.testing.assert_allclose(between.pressure_at(np.array([300.0, 1e6])), 0.01)
    constant, _ = term_of(MODEL, "case")
    assert constant.pressure_at(np.array([0.0, 1e6])).tolist() == [0.001, 0.001]


def reference(span: float, instants: np.ndarray) -> np.ndarray:  # type: ignore[type-arg]
    """Temperature [K] of the tank, by another integrator and the exact conductance h(P, T)."""
    times, logs = [0.0, 60.0, 150.0, 300.0], np.log([101325.0, 2e4, 10.0, 0.01])
    nodes, weights = np.polynomial.legendre.leggauss(24)
    gaps = LAYERS + 1

    def falling(time: float, state: np.ndarray) -> list[float]:  # type: ignore[type-arg]
        hot = float(state[0])
        pressure = float(np.exp(np.interp(time, times, logs)))
        at = COLD + (hot - COLD) * (nodes + 1.0) / 2.0
        known = 0.0242 * (at / 273.0) ** 1.5 * (273.0 + 150.0) / (at + 150.0)
        h = 1.0 / (1.0 / (FREE * pressure) + THICKNESS / gaps / known)
        gas = AREA / gaps * float(weights @ h) * (hot - COLD) / 2.0
        shining = AREA * EMITTANCE * 5.670374419e-8 * (hot**4 - COLD**4)
        return [-(gas + shining) / CAPACITY]

    found = solve_ivp(
        falling, (0.0, span), [HOT], "LSODA", instants, rtol=1e-8, atol=1e-6, max_step=10.0
    )
    return np.asarray(found.y[0])


def test_a_tank_cools_through_an_ascent_as_by_the_exact_conductance() -> None:
    result = solved(MODEL, "ascent")
    times = result.solution.t
    tank = result.solution.temperature[:, result.network.index("tank")]
    exact = reference(600.0, times)
    assert HOT - exact[-1] > 40.0  # most of it while there is gas
    np.testing.assert_allclose(HOT - tank, HOT - exact, rtol=1e-3, atol=0.02)


def test_blankets_alike_share_their_potentials() -> None:
    """So that a spacecraft of a hundred blankets has no more tables than one of one."""
    network = assemble(model_of(MODEL), "ascent")
    curves = [each for each in network.links.potentials if each.curve is not None]
    assert len(curves) <= 12
    assert len(network.links.strength) == 2 * (len(curves) + 1)


def test_an_ascent_stays_small_in_the_network() -> None:
    network = assemble(model_of(MODEL), "ascent")
    assert len(network.links.strength) <= 2 * 13
    assert len(network.histories.instants) <= 200
    assert (network.links.strength >= 0.0).all()
    values = np.concatenate([network.histories.start, network.histories.stop])
    assert ((values >= 0.0) & (values <= 1.0)).all()


def test_a_term_says_which_gas_and_where_its_numbers_are_from() -> None:
    between, entry = term_of(MODEL, "case")
    term = gas_term(entry, "blankets.wall", between)
    assert (term.path, term.what) == ("blankets.wall.gas", "nitrogen at 0.001 Pa")
    assert {part.origin for part in term.parts} == {"blankets.wall.gas"}
    assert term.source == f"accommodation 1 of every face; {library()['nitrogen'].source}"
    assert cold_gas(between.gas, 70.0) == ()
    (held,) = cold_gas(between.gas, 60.0)
    assert held.startswith("at 60 K nitrogen may condense: below 63.15 K")
    between, entry = term_of(MODEL, "ascent")
    assert gas_term(entry, "blankets.wall", between).what == "nitrogen at 101325 to 0.01 Pa"


def test_layers_of_unknown_thickness_are_asked_for() -> None:
    thin = MODEL.replace(f", thickness: {THICKNESS} m", "")
    told = refused(thin)
    assert "gas between the layers: state the `density` or `thickness` of its layers" in told
    assert "blankets.wall" in told


@pytest.mark.parametrize("solve", ["steady", "repeating, period: 600 s"])
def test_a_pressure_that_changes_is_for_a_transient_case_only(solve: str) -> None:
    text = MODEL.replace(
        "{solve: steady, atmosphere: chamber}", f"{{solve: {solve}, atmosphere: ascent}}"
    )
    told = refused(text)
    assert "atmospheres.ascent: its pressure changes over time, and the case is steady" in told
    assert "state a constant `pressure`" in told


def test_a_pressure_is_varied_by_its_path() -> None:
    model = vary(model_of(MODEL), {"atmospheres.chamber.pressure": "2 mPa"})
    between = surroundings(apply_case(model, "case"), plan(apply_case(model, "case"), "case"))
    assert between.atmosphere is not None
    assert between.atmosphere.pressure == pytest.approx(2e-3)


def test_every_gas_of_the_library_says_where_its_numbers_are_from() -> None:
    rows = read_rows(packaged(FILE), FILE, COLUMNS)
    assert tuple(row.name for row in rows) == GASES
    for facts in library().values():
        assert facts.source
        assert (facts.sutherland is None) != (facts.exponent is None)


def own(**keys: float | str) -> dict[str, Gas]:
    return {"xenon": Gas.model_validate(keys)}


NEW = {
    "molar_mass": 0.131293,
    "heat_capacity_ratio": 1.66,
    "accommodation": 1.0,
    "conductivity": 0.0055,
    "conductivity_at": "300 K",
    "exponent": 0.9,
}


def test_a_new_gas_needs_all_keys() -> None:
    facts = gas("xenon", own(**NEW))
    assert isinstance(facts, GasFacts)
    assert (facts.exponent, facts.sutherland, facts.lowest) == (0.9, None, 0.0)
    lacking = {key: value for key, value in NEW.items() if key not in {"molar_mass", "exponent"}}
    with pytest.raises(ValueError, match="needs `molar_mass`, `sutherland` or `exponent`"):
        gas("xenon", own(**lacking))
    with pytest.raises(ValueError, match=r"unknown gas 'helum'; did you mean 'helium'\?"):
        gas("helum", {})


def test_an_entry_changes_only_the_keys_that_it_states() -> None:
    known = library()["helium"]
    changed = gas("helium", {"helium": Gas.model_validate({"accommodation": 0.4})})
    assert changed.accommodation == 0.4
    assert changed.conductivity == known.conductivity
    assert changed.source == f"the model states accommodation; {known.source}"
    of_part = gas("dewar/helium", {"dewar/helium": Gas.model_validate({"accommodation": 0.4})})
    assert of_part.molar_mass == known.molar_mass


def test_another_form_of_the_conductivity_takes_the_place_of_the_librarys() -> None:
    changed = gas("helium", {"helium": Gas.model_validate({"sutherland": 80.0})})
    assert (changed.sutherland, changed.exponent) == (80.0, None)


def test_a_history_of_pressure_is_kept_as_it_was_given() -> None:
    between, _ = term_of(MODEL, "ascent")
    assert isinstance(between.pressure, History)
    assert between.pressure.value.tolist() == [101325.0, 2e4, 10.0, 0.01]
