"""Sampling: integral and peak within the tolerance, at the order that the rules promise."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, trapezoid

from thermnet.network.parts import History
from thermnet.physics.curves import Floats
from thermnet.physics.sampling import Function, Samples, sample

PERIOD = 5677.0
RATE = 2.0 * math.pi / PERIOD
ENDS = np.array([0.0, PERIOD])
SHADOW = np.array([0.0, 1820.0, 3930.0, PERIOD])


def integral(samples: Samples) -> Floats:
    return trapezoid(samples.value, samples.time, axis=0)


def sunlit(time: Floats) -> Floats:
    return np.where((time < SHADOW[1]) | (time > SHADOW[2]), 1.0, 0.0)


def recording(function: Function, asked: list[Floats]) -> Function:
    def recorded(time: Floats) -> Floats:
        asked.append(time)
        return function(time)

    return recorded


def test_peak_integral_and_number_of_instants_follow_the_tolerance_at_their_orders() -> None:
    """Lines miss a peak by a share of width^2, Simpson's rule an integral by width^4 (textbook).

    So the peak's error falls as the tolerance, the integral's as its square, and the number of
    instants grows as its square root. Twelve phases, so that no peak is met by chance.
    """
    phase = np.arange(12) / 12.0

    def function(time: Floats) -> Floats:
        return np.exp(np.cos(5.0 * time[:, None] / PERIOD - 2.0 - phase))

    def by_quadrature(shift: float) -> float:
        return quad(
            lambda t: math.exp(math.cos(5.0 * t / PERIOD - 2.0 - shift)),
            *ENDS,
            epsabs=0.0,
            epsrel=1e-13,
        )[0]

    exact = np.array([by_quadrature(shift) for shift in phase])
    tolerances = 4.0 ** -np.arange(4.0, 10.0)
    peaks, integrals, counts = [], [], []
    for tolerance in tolerances:
        found = sample(function, ENDS, tolerance)
        peaks.append(np.abs(1.0 - found.value.max(axis=0) / math.e).max())
        integrals.append(np.abs(1.0 - integral(found) / exact).max())
        counts.append(len(found.time))

    def slope(values: list[float]) -> float:
        return np.polyfit(np.log(tolerances), np.log(values), 1)[0]

    assert (np.array(peaks) < tolerances).all()
    assert (np.array(integrals) < tolerances**2).all()
    assert slope(peaks) == pytest.approx(1.0, abs=0.15)
    assert slope(integrals) > 1.85
    assert slope(counts) == pytest.approx(-0.5, abs=0.03)


@pytest.mark.parametrize("phase", np.arange(12) / 12.0)
def test_the_integral_of_a_single_wave_keeps_its_order_where_its_bend_changes_sign(
    phase: float,
) -> None:
    """There Simpson and trapezoid agree by chance; an interval left wide would spoil the order."""

    def wave(time: Floats) -> Floats:
        return np.exp(np.cos(6.0 * time / PERIOD - 2.0 - phase))

    exact = quad(wave, *ENDS, epsabs=0.0, epsrel=1e-13)[0]
    for tolerance in 10.0 ** -np.arange(2.5, 5.6, 0.5):
        found = integral(sample(lambda t: wave(t)[:, None], ENDS, tolerance))[0]
        assert found == pytest.approx(exact, rel=0.5 * tolerance**2)


@pytest.mark.parametrize("shift", np.arange(8) / 8.0)
def test_the_peak_of_a_narrow_hump_is_found_wherever_it_falls_between_instants(
    shift: float,
) -> None:
    """Its integral alone would not ask for it; the instants gather where it bends."""
    width, middle = PERIOD / 20.0, 2000.0 + shift * PERIOD / 24.0

    def hump(time: Floats) -> Floats:
        return 1.0 + np.exp(-(((time - middle) / width) ** 2))[:, None]

    for tolerance in (3e-3, 1e-3, 1e-4):
        found = sample(hump, ENDS, tolerance)
        assert found.value.max() == pytest.approx(2.0, rel=tolerance)
    assert len(found.time) < 140
    assert np.median(np.abs(found.time - middle)) < 2.0 * width


@settings(deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(-0.5, 2.0),  # constant part
            st.floats(0.2, 3.0),  # turns in the span
            st.floats(0.0, 6.3),  # phase
            st.floats(1e-3, 1e3),  # size
            st.booleans(),  # only in sunlight
        ),
        min_size=1,
        max_size=4,
    ),
    st.sampled_from([1e-2, 1e-3, 1e-4]),
)
def test_integral_and_peak_of_any_clipped_wave_are_within_the_tolerance(
    waves: list[tuple[float, float, float, float, bool]], tolerance: float
) -> None:
    constant, turns, phase, size, dark = (np.array(column) for column in zip(*waves, strict=True))

    def function(time: Floats) -> Floats:
        wave = constant + np.cos(RATE * turns * time[:, None] + phase)
        return size * np.maximum(wave, 0.0) * np.where(dark, sunlit(time)[:, None], 1.0)

    found = sample(function, SHADOW, tolerance)
    # Independent: the middles of 6,000 equal pieces of each stretch.
    widths = np.diff(SHADOW)[:, None] / 6000
    middles = (SHADOW[:-1, None] + widths * (np.arange(6000) + 0.5)).ravel()
    values = function(middles)
    exact = (values * np.repeat(widths, 6000)[:, None]).sum(axis=0)
    # Slivers of a few seconds are too short for the middles themselves.
    assume((exact > 1e-4 * size * PERIOD).all())
    np.testing.assert_array_less(np.abs(integral(found) - exact), tolerance * exact + 1e-6 * size)
    sides = np.concatenate([SHADOW[:-1] + 1e-6, SHADOW[1:] - 1e-6])
    peak = np.maximum(values.max(axis=0), function(sides).max(axis=0))
    np.testing.assert_array_less(
        np.abs(found.value.max(axis=0) - peak), tolerance * peak + 1e-6 * size
    )


@pytest.mark.parametrize(
    ("constant", "turns", "phase"),
    [(0.5, 0.2622659801188468, 3.6196357150694283), (0.5, 0.5352100801867983, 2.0)],
)
def test_the_integral_of_a_face_lit_for_minutes_does_not_rest_on_errors_that_cancel(
    constant: float, turns: float, phase: float
) -> None:
    """A kink and a bend in one interval: trapezoid and Simpson agree by chance, both wrong."""

    def wave(time: Floats) -> Floats:
        lit = np.maximum(np.cos(RATE * turns * time + phase) - constant, 0.0)
        return (lit * sunlit(time))[:, None]

    found = sample(wave, SHADOW, 1e-3)
    turn = RATE * turns
    begins = (2.0 * math.pi - math.acos(constant) - phase) / turn
    # Closed form: the integral of the wave from where it rises above zero to the end.
    rise = math.sin(turn * PERIOD + phase) - math.sin(turn * begins + phase)
    exact = rise / turn - constant * (PERIOD - begins)
    assert integral(found)[0] == pytest.approx(exact, rel=1e-3)


def test_a_kink_is_not_chased_to_nothing() -> None:
    found = sample(lambda t: np.maximum(np.cos(RATE * t), 0.0)[:, None], ENDS, 1e-3)
    assert integral(found)[0] == pytest.approx(PERIOD / math.pi, rel=1e-3)  # closed form
    assert len(found.time) < 120
    assert np.diff(found.time).min() > PERIOD / 10000


def test_a_jump_at_an_edge_is_two_values_at_one_instant_and_exact() -> None:
    found = sample(lambda t: 5.0 * sunlit(t)[:, None], SHADOW, 1e-3)
    for edge, values in ((SHADOW[1], [5.0, 0.0]), (SHADOW[2], [0.0, 5.0])):
        assert found.value[found.time == edge, 0].tolist() == values
    assert integral(found)[0] == pytest.approx(5.0 * (PERIOD - 2110.0), rel=1e-14)  # by hand


def test_an_edge_at_which_nothing_jumps_is_recorded_once() -> None:
    found = sample(lambda t: 2.0 + np.sin(RATE * t)[:, None], SHADOW, 1e-3)
    assert (np.diff(found.time) > 0.0).all()
    assert np.isin(SHADOW, found.time).all()


def test_all_columns_share_the_instants_and_each_is_a_history() -> None:
    def function(time: Floats) -> Floats:
        wave = np.cos(RATE * time)
        return np.stack([sunlit(time) * np.maximum(wave, 0.0), 2.0 - wave, 0.0 * time], axis=1)

    found = sample(function, SHADOW, 1e-3)
    assert found.time[0] == SHADOW[0]
    assert found.time[-1] == SHADOW[-1]
    for column in found.value.T:
        History(time=found.time, value=column)  # would refuse a third record of an instant


def test_a_column_of_zeros_asks_for_nothing_and_stays_zero() -> None:
    def wave(time: Floats) -> Floats:
        return np.maximum(np.cos(RATE * time), 0.0)[:, None]

    alone = sample(wave, ENDS, 1e-3)

    def beside(time: Floats) -> Floats:
        dust = 1e-14 * np.cos(7.0 * RATE * time)[:, None]
        return np.concatenate([wave(time), np.zeros_like(dust), dust], axis=1)

    found = sample(beside, ENDS, 1e-3)
    np.testing.assert_array_equal(found.time, alone.time)
    assert (found.value[:, 1] == 0.0).all()
    assert len(sample(lambda t: np.zeros((len(t), 2)), ENDS, 1e-6).time) == 25


def test_zeros_and_signs_of_the_function_stay() -> None:
    def function(time: Floats) -> Floats:
        return np.minimum(np.cos(RATE * time), 0.0)[:, None]

    found = sample(function, ENDS, 1e-2)
    inner = slice(1, -1)
    np.testing.assert_array_equal(np.sign(found.value[inner]), np.sign(function(found.time[inner])))


def test_a_wave_without_a_mean_is_scaled_within_the_tolerance() -> None:
    found = sample(lambda t: np.sin(RATE * t)[:, None], ENDS, 1e-2)
    assert abs(integral(found)[0]) < 1e-2 * 2.0 * PERIOD / math.pi  # the integral of |sin|
    assert found.value.max() == pytest.approx(1.0, abs=1e-2)


def test_the_s_curve_of_a_short_penumbra_is_seen() -> None:
    """Its three points lie on a line: a single piece would take it for one."""
    edges = np.array([0.0, 1000.0, 1008.0, PERIOD])

    def function(time: Floats) -> Floats:
        share = np.clip((time - 1000.0) / 8.0, 0.0, 1.0)
        # Twice: as a part of a long sunlit arc, and for itself.
        curve = share**3 * (10.0 - 15.0 * share + 6.0 * share**2)
        return np.stack([curve, np.where((time > 1000.0) & (time < 1008.0), curve, 0.0)], axis=1)

    found = sample(function, edges, 1e-3)
    assert integral(found)[0] == pytest.approx(PERIOD - 1004.0, rel=1e-3)  # symmetric about 1004 s
    assert integral(found)[1] == pytest.approx(4.0, rel=1e-3)
    inside = (found.time > 1000.0) & (found.time < 1008.0)
    assert inside.sum() >= 8


def test_no_instant_is_evaluated_twice_and_a_pass_is_one_call() -> None:
    asked: list[Floats] = []
    wave = recording(lambda t: np.maximum(np.cos(RATE * t), 0.0)[:, None], asked)
    found = sample(wave, SHADOW, 1e-4)
    instants = np.concatenate(asked)
    assert len(np.unique(instants)) == len(instants)
    assert len(instants) < 2.1 * len(found.time)
    assert len(asked) < 12


def test_edges_are_evaluated_a_microsecond_inside_their_stretch() -> None:
    asked: list[Floats] = []
    sample(recording(lambda t: np.ones((len(t), 1)), asked), np.array([0.0, 100.0]), 1e-2)
    assert min(asked[0]) == pytest.approx(1e-6)
    assert max(asked[0]) == pytest.approx(100.0 - 1e-6, abs=1e-9)


def test_edges_that_coincide_count_as_one() -> None:
    edges = np.array([0.0, 1e-7, 1820.0, 1820.0, 1820.000002, 3930.0, PERIOD - 1e-7, PERIOD])
    found = sample(lambda t: sunlit(t)[:, None], edges, 1e-3)
    plain = sample(lambda t: sunlit(t)[:, None], SHADOW, 1e-3)
    np.testing.assert_array_equal(found.time, plain.time)
    np.testing.assert_array_equal(found.value, plain.value)


def test_a_jump_that_no_edge_tells_is_chased_only_to_the_shortest_interval() -> None:
    found = sample(lambda t: np.where(t < 1000.0, 1.0, 0.0)[:, None], ENDS, 1e-9)
    assert np.diff(found.time).min() >= 1e-6 * PERIOD
    assert integral(found)[0] == pytest.approx(1000.0, abs=2e-6 * PERIOD)


@pytest.mark.parametrize(
    ("edges", "tolerance", "message"),
    [
        ([0.0], 1e-3, "two edges"),
        ([0.0, 1e-6], 1e-3, "two edges"),
        ([0.0, 2.0, 1.0], 1e-3, "in order"),
        ([0.0, float("nan")], 1e-3, "finite instants"),
        ([0.0, 1.0], 0.0, "tolerance"),
        ([0.0, 1.0], 1.0, "tolerance"),
        ([0.0, 1.0], float("nan"), "tolerance"),
    ],
)
def test_edges_and_tolerances_without_a_meaning_are_refused(
    edges: list[float], tolerance: float, message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        sample(lambda t: np.ones((len(t), 1)), np.array(edges), tolerance)


@pytest.mark.parametrize(
    ("function", "message"),
    [
        (lambda t: np.ones(len(t)), "a row of values for each instant"),
        (lambda _: np.ones((3, 1)), "a row of values for each instant"),
        (lambda t: np.full((len(t), 1), np.nan), "finite values"),
    ],
)
def test_a_function_without_finite_rows_is_refused(function: Function, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        sample(function, ENDS, 1e-3)
