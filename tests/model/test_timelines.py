"""Timelines: when steps begin, what is repeated, and that heat changes exactly at their edges."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tests.model.operated import changed, read
from thermnet.account import account
from thermnet.errors import InputError
from thermnet.margins import margins
from thermnet.model.activity import Activity
from thermnet.model.assemble import assemble
from thermnet.model.budgets import over_budget
from thermnet.model.exterior import exteriors
from thermnet.model.histories import mean
from thermnet.model.model import Model
from thermnet.model.paths import apply_case, vary
from thermnet.model.plan import Plan, plan
from thermnet.network.network import sources
from thermnet.results import solve

STEPS = """\
      imaging: {mode: imaging, at: shadow exit, offset: 100 s, duration: 600 s}
      idle: {mode: idle}
"""


FLIES = "solve: repeating, orbit: low, pointing: nadir, environment: hot"


def planned(model: Model, case: str = "day") -> Plan:
    return plan(apply_case(model, case), case)


def activity(model: Model, case: str = "day") -> Activity:
    done = planned(model, case).activity
    assert done is not None
    return done


def with_steps(steps: str, *more: tuple[str, str]) -> Model:
    body = "".join(f"      {line}\n" for line in steps.split("; "))
    return changed((STEPS, body), *more)


def told(model_text: tuple[tuple[str, str], ...]) -> str:
    with pytest.raises(InputError) as error:
        changed(*model_text)
    return str(error.value)


def test_a_step_begins_at_the_edge_of_the_shadow_where_half_of_the_sun_is_seen() -> None:
    how = planned(read())
    assert how.activity is not None
    assert how.sky is not None
    (shadow,) = how.shadows(how.span)
    # Derived: circular orbit, the shadow is symmetric about midnight, half a period after noon.
    assert_allclose((shadow[0] + shadow[1]) / 2.0, how.span / 2.0, atol=1e-3)
    assert_allclose(how.activity.begin, [0.0, shadow[1] + 100.0, shadow[1] + 700.0], atol=1e-6)
    assert how.activity.modes == ("idle", "imaging", "idle")


def test_a_step_before_the_edge_has_a_negative_offset() -> None:
    done = activity(
        with_steps(
            "a: {mode: idle, at: shadow entry, offset: -300 s}; b: {mode: imaging, angle: 180 deg}"
        )
    )
    (shadow,) = planned(read()).shadows(5677.0)
    assert_allclose(done.begin[1], shadow[0] - 300.0, atol=1e-6)


def test_orbit_angles_are_turned_into_time_in_a_circular_orbit_in_proportion() -> None:
    done = activity(with_steps("a: {mode: idle, angle: 0 deg}; b: {mode: imaging, angle: 90 deg}"))
    assert_allclose(done.begin, [0.0, planned(read()).span / 4.0], atol=1e-9)


def test_what_goes_on_at_the_end_of_a_repeated_timeline_goes_on_at_its_beginning() -> None:
    done = activity(
        with_steps("a: {mode: imaging, time: 1000 s, duration: 500 s}; b: {mode: idle}")
    )
    assert_allclose(done.begin, [0.0, 1000.0, 1500.0])
    assert done.steps == ("b", "a", "b")


def test_steps_that_run_over_the_end_of_the_period_go_on_at_its_beginning() -> None:
    done = activity(
        with_steps("a: {mode: imaging, at: shadow exit, duration: 40 min}; b: {mode: idle}")
    )
    (shadow,) = planned(read()).shadows(5677.0)
    assert done.modes == ("imaging", "idle", "imaging")
    assert_allclose(done.begin[1], shadow[1] + 2400.0 - planned(read()).span, atol=1e-6)


def test_a_timeline_repeats_at_the_end_of_its_durations() -> None:
    model = with_steps(
        "a: {mode: imaging, duration: 100 s}; b: {mode: idle, duration: 300 s}",
        ("repeats: orbit", "repeats: at its end"),
        (
            "solve: repeating, orbit: low, pointing: nadir, environment: hot",
            "solve: repeating, orbit: none",
        ),
    )
    how = planned(model)
    assert how.span == 400.0
    assert activity(model).period == 400.0


def test_changing_one_duration_moves_all_that_follows_and_the_case_itself() -> None:
    model = with_steps(
        "a: {mode: imaging, duration: 100 s}; b: {mode: idle, duration: 300 s}",
        ("repeats: orbit", "repeats: at its end"),
        (
            "solve: repeating, orbit: low, pointing: nadir, environment: hot",
            "solve: repeating, orbit: none",
        ),
    )
    longer = vary(model, {"timelines.day.steps.a.duration": 160.0})
    assert planned(longer).span == 460.0
    assert_allclose(activity(longer).begin, [0.0, 160.0])
    heat = assemble(longer, "day").histories
    assert_allclose(np.unique(heat.instants), [0.0, 160.0, 460.0])


def test_a_step_by_the_shadow_is_left_out_where_there_is_none_with_those_that_follow() -> None:
    model = with_steps(
        "base: {mode: idle, angle: 0 deg}; "
        "pass: {mode: imaging, at: shadow exit, duration: 60 s}; rest: {mode: idle}",
        ("orbit: low", "orbit: always lit"),
    )
    assert activity(model).steps == ("base",)


def test_a_timeline_without_any_step_that_happens_is_refused() -> None:
    message = told((("orbit: low", "orbit: always lit"),))
    assert "nothing of it happens in an orbit without shadow" in message


def test_once_the_next_shadow_after_the_step_before_counts() -> None:
    model = with_steps(
        "wait: {mode: idle, time: 0 s}; late: {mode: idle, time: 10000 s}; "
        "pass: {mode: imaging, at: shadow entry}",
        ("    repeats: orbit\n", ""),
        ("solve: repeating", "solve: transient, duration: 8 h"),
    )
    (shadow,) = planned(read()).shadows(5677.0)
    period = planned(read()).span
    assert_allclose(activity(model).begin[-1], shadow[0] + 2.0 * period, atol=1e-5)


def test_a_transient_lasts_as_long_as_its_timeline_unless_it_says_otherwise() -> None:
    model = with_steps(
        "a: {mode: idle, duration: 1 h}; b: {mode: imaging, duration: 10 min}",
        ("    repeats: orbit\n", ""),
        ("solve: repeating", "solve: transient"),
    )
    assert planned(model).span == 4200.0


def test_stuck_in_a_mode_whatever_the_steps_say() -> None:
    stuck = vary(read(), {"timelines.day.stuck": "imaging"})
    assert set(activity(stuck).modes) == {"imaging"}


def test_the_heat_of_a_unit_jumps_exactly_at_the_edges_of_its_mode() -> None:
    model = apply_case(read(), "day")
    network, done = assemble(model), activity(read())
    box = network.heats.node == network.index("box")
    start, end = done.begin[1], done.begin[2]
    # By hand: the computer's 5 W, with the camera's three quarters of 12 W and 7 W while imaging.
    for time, watts in ((start - 1e-9, 5.0), (start, 16.0), (end - 1e-9, 16.0), (end, 5.0)):
        given = sources(network, np.full(len(network.names), 280.0), float(time))[box].sum()
        assert_allclose(given, watts, rtol=1e-12)
    assert np.isin([start, end], network.histories.instants).all()


SQUARE = """\
      on: {mode: imaging, duration: 3240 s}
      off: {mode: idle, duration: 2160 s}
"""


def test_a_square_wave_of_modes_swings_a_linear_node_by_the_closed_form() -> None:
    """Derived: Tmax = Tm (1 - a)/(1 - a b), Tmin = b Tmax above the sink, a and b the decay in the
    time on and off; Q 20 W, duty 0.6, G 2 W/K, C 1000 J/K, period 5400 s."""
    model = changed(
        (STEPS, SQUARE),
        ("repeats: orbit", "repeats: at its end"),
        (FLIES, "solve: repeating, orbit: none"),
        ("heat: {idle: 5 W, imaging: 7 W}", "heat: {imaging: 20 W}"),
        ("heat: {imaging: 12 W}, sent: {imaging: 2 W}", "heat: {}"),
    )  # fmt: skip
    result = solve(model, "day")
    box = result.network.index("box")
    assert_allclose(result.solution.extremes.lowest[:, box].min(), 250.132798, atol=2e-3)
    assert_allclose(result.solution.extremes.highest[:, box].max(), 259.984866, atol=2e-3)
    assert account(result.network, result.solution).closes


def test_pointings_of_a_timeline_absorb_what_a_sequence_of_them_does() -> None:
    sequence = changed(
        ("surfaces:", "  both: {sequence: [nadir, sun, nadir], angle: [0, 100, 200]}\nsurfaces:"),
        ("pointing: nadir, ", "pointing: both, "),
    )
    timeline = with_steps(
        "a: {mode: idle, angle: 0 deg}; b: {mode: idle, angle: 100 deg, pointing: sun}; "
        "c: {mode: idle, angle: 200 deg}"
    )
    heat = [_absorbed(model) for model in (sequence, timeline)]
    assert heat[0].keys() == heat[1].keys()
    for cause, mean_of_sequence in heat[0].items():
        # Both are sampled to 0.1 % of the integral, from different first points.
        assert_allclose(heat[1][cause], mean_of_sequence, rtol=2e-3)


def test_pointings_may_change_from_one_orbit_to_the_next() -> None:
    model = with_steps(
        "a: {mode: idle, time: 0 s, pointing: nadir}; "
        "b: {mode: idle, angle: 360 deg, pointing: sun}",
        ("    repeats: orbit\n", ""),
        ("solve: repeating", "solve: repeating, revolutions: 2"),
    )
    alone = [
        _absorbed(changed(("pointing: nadir, ", f"pointing: {each}, ")))["solar"]
        for each in ("nadir", "sun")
    ]
    assert_allclose(_absorbed(model)["solar"], sum(alone) / 2.0, rtol=1e-9)


def test_a_steady_case_takes_the_mean_over_the_pointings_of_its_orbit() -> None:
    steps = "a: {mode: idle, angle: 0 deg}; b: {mode: imaging, angle: 100 deg, pointing: sun}"
    orbit = with_steps(steps)
    steady = with_steps(steps, ("solve: repeating", "solve: steady"))
    network = assemble(steady, "day")
    given = sources(network, np.full(len(network.names), 280.0), 0.0)
    solar = given[[network.origins[k].endswith("solar") for k in network.heats.origin]]
    assert_allclose(solar.sum(), _absorbed(orbit)["solar"], rtol=1e-9)


def _absorbed(model: Model) -> dict[str, float]:
    """Mean absorbed heat of the plate [W] by cause."""
    applied = apply_case(model, "day")
    how = plan(applied, "day")
    heat = exteriors(applied, how, how.span)["plate"].heat
    return {
        cause: each.amplitude * (1.0 if each.history is None else mean(each.history, how.span))
        for cause, each in heat.items()
    }


@pytest.mark.parametrize(
    ("steps", "message"),
    [
        ("a: {mode: idle}; b: {mode: imaging}", "missing key 'duration': nothing says when 'b'"),
        (
            "a: {mode: idle, time: 6000 s}; b: {mode: imaging, time: 10 s}",
            "begins beyond the period",
        ),
        ("a: {mode: idle, time: 0 s, duration: 2 h}; b: {mode: imaging}", "the steps do not fit"),
        ("a: {mode: idle, time: 0 s, angle: 0 deg}", "begins at 'time' already"),
        ("a: {mode: idle, time: 0 s, offset: 3 s}", "counts from an edge of the shadow"),
        ("a: {mode: idle, duration: 9 s}; b: {mode: idle, time: 30 s}", "'b' says itself when"),
        ("a: {mode: idel, time: 0 s}", "unknown mode 'idel'; did you mean 'idle'?"),
        (
            "a: {mode: idle, time: 0 s, pointing: sum}",
            "unknown pointing 'sum'; did you mean 'sun'?",
        ),
    ],
)
def test_steps_that_cannot_be(steps: str, message: str) -> None:
    body = "".join(f"      {line}\n" for line in steps.split("; "))
    assert message in told(((STEPS, body),))


def test_a_case_of_a_model_with_modes_names_one() -> None:
    assert "missing key 'mode' (or 'timeline')" in told(((", timeline: day}", "}"),))


def test_a_period_that_does_not_fit_the_case_is_refused() -> None:
    by_time = ((STEPS, STEPS.replace("at: shadow exit, offset: 100 s", "time: 0 s")),)
    assert "does not fit" in told((*by_time, ("repeats: orbit", "repeats: 5000 s")))


def test_an_edge_of_the_shadow_needs_a_timeline_that_repeats_with_the_orbit() -> None:
    message = told((("repeats: orbit", "repeats: 5000 s"),))
    assert "an edge of the shadow needs a timeline that repeats with the orbit" in message


def test_a_repeating_timeline_that_ends_before_it_begins_again_is_refused() -> None:
    steps = (
        "      a: {mode: idle, time: 0 s}\n      b: {mode: imaging, time: 300 s, duration: 60 s}\n"
    )
    message = told(((STEPS, steps),))
    # By hand: 360 s of the orbit are said, and the rest is not.
    rest = planned(read()).span - 360.0
    assert f"'b' ends after 60 s, {rest:.3f} s before the timeline begins again" in message


POLE = """\
sites:
  pole: {body: Mars, latitude: 80 deg, declination: -24 deg, ground: wall}
pointings:
  up: {axis: +z, to: zenith, second_axis: +x, second_to: north}
"""


def test_where_the_sun_never_rises_no_step_begins_at_the_edge_of_its_light() -> None:
    # Derived: 80 degrees north in the winter of 24 degrees: the Sun is 14 degrees down at noon.
    there = FLIES.replace("orbit: low, pointing: nadir", "site: pole, pointing: up")
    message = told((("pointings:\n", POLE), (FLIES, there)))
    assert "there is no shadow exit: it is dark all along" in message


def test_revolutions_take_the_place_of_the_period_of_the_case_below() -> None:
    span = planned(read()).span
    more = f"timeline: day, period: {span!r} s}}\n  two: {{extends: day, revolutions: 2}}"
    assert_allclose(planned(changed(("timeline: day}", more)), "two").span, 2.0 * span)


WAIT = "wait: {mode: idle, time: 0 s}; pass: {mode: imaging, time: 1000 s}"
ONCE = ("    repeats: orbit\n", "")


def test_a_steady_case_of_a_timeline_that_does_not_repeat_is_that_of_its_first_step() -> None:
    model = with_steps(WAIT, ONCE, ("solve: repeating", "solve: steady"))
    assert activity(model).steps == ("wait",)
    network = assemble(model, "day")
    given = sources(network, np.full(len(network.names), 280.0), 0.0)
    # By hand: the computer alone is on, with its 5 W.
    assert_allclose(given[network.heats.node == network.index("box")].sum(), 5.0)
    assert {margin.band for margin in margins(solve(model, "day"))} == {"non-operating"}


def test_steps_that_a_transient_never_comes_to_do_not_count() -> None:
    for duration, due in ((500.0, []), (2000.0, ["modes.imaging.budget"])):
        model = with_steps(
            WAIT,
            ONCE,
            ("solve: repeating", f"solve: transient, duration: {duration} s"),
            ("budget: 21 W", "budget: 20 W"),
        )
        applied = apply_case(model, "day")
        # By hand: imaging takes 21 W.
        assert [problem.path for problem in over_budget(applied, plan(applied, "day"))] == due


def test_a_step_that_a_repeating_case_never_comes_to_is_refused() -> None:
    steps = WAIT.replace("1000 s", "6000 s").split("; ")
    body = "".join(f"      {line}\n" for line in steps)
    assert "begins at 6000 s, which case 'day'" in told(((STEPS, body), ONCE))


@pytest.mark.parametrize("rest", ["{mode: idle}", "{mode: idle, pointing: sun}"])
def test_a_steady_case_multiplies_shading_by_a_timeline_of_two_orbits_as_it_comes(
    rest: str,
) -> None:
    """The mean of light times shade, which is not the product of their means: as in the orbits."""
    shade = (
        ("absorptance: 0.3, normal: +z}", "absorptance: 0.3, normal: -x, sunlit: {schedule: lit}}"),
        ("modes:\n", "schedules: {lit: {modes: [imaging]}}\nmodes:\n"),
        ("repeats: orbit", f"repeats: {2.0 * planned(read()).span!r} s"),
    )
    steps = f"a: {{mode: imaging, time: 0 s, duration: 1000 s}}; b: {rest}"
    orbits = with_steps(steps, *shade, ("solve: repeating", "solve: repeating, revolutions: 2"))
    steady = with_steps(steps, *shade, ("solve: repeating", "solve: steady"))
    solar = _absorbed(orbits)["solar"]
    assert solar > 1.0
    assert _absorbed(steady)["solar"] == pytest.approx(solar, rel=1e-9)
