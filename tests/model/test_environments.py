"""Environments: published pairs, what a model states itself, and what the body gives."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermnet.model.kinds.body import body
from thermnet.model.kinds.environment import (
    Environment,
    albedo_correction,
    environment,
    inclination_class,
    library_environment,
)

EARTH = body("Earth", {})
MOON = body("Moon", {})


@pytest.mark.parametrize("inclination", [31.0, 51.6, 98.0])
def test_a_pair_that_no_source_confirms_is_refused_with_what_to_do(inclination: float) -> None:
    with pytest.raises(ValueError, match="no published environment 'cold'") as caught:
        library_environment("cold", inclination)
    assert "give `albedo` and `infrared` of your own under `environments.cold`" in str(caught.value)


def test_a_retrograde_orbit_is_of_the_class_of_its_supplement() -> None:
    found = [inclination_class(angle) for angle in (0, 30, 30.1, 60, 60.1, 90, 98, 130, 150.0, 180)]
    assert found == [
        "low", "low", "medium", "medium", "high", "high", "high", "medium", "low", "low",
    ]  # fmt: skip


@given(st.floats(0.0, 180.0))
def test_every_inclination_has_a_hot_pair(inclination: float) -> None:
    pair = library_environment("hot", inclination)
    assert pair == library_environment("hot", 180.0 - inclination)
    assert pair.averaging_time == 5400.0


@pytest.mark.parametrize("angle", [-1.0, 181.0, math.nan])
def test_no_orbit_has_such_an_inclination(angle: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 180 degrees"):
        inclination_class(angle)


@given(st.floats(-90.0, 90.0))
def test_the_correction_of_the_albedo_grows_with_the_beta_angle_either_way(beta: float) -> None:
    found = albedo_correction(beta)
    assert found == albedo_correction(-beta)
    assert 0.04 <= found <= 0.31
    assert albedo_correction(min(90.0, abs(beta) + 1.0)) >= found


def test_the_correction_has_no_value_beyond_the_pole() -> None:
    with pytest.raises(ValueError, match="between -90 and 90 degrees"):
        albedo_correction(90.1)


def test_the_facts_keep_albedo_and_correction_apart() -> None:
    facts = environment("hot", {}, EARTH, 98.0)
    assert (facts.albedo, facts.corrected) == (0.26, True)
    assert facts.albedo_at(-60.0) == pytest.approx(0.38)


def test_the_published_pair_stands_at_the_height_of_its_source() -> None:
    facts = environment("hot", {}, EARTH, 20.0)
    assert (facts.infrared, facts.day_infrared, facts.infrared_height) == (275.0, 0.0, 30e3)
    assert facts.averaging_time == 5400.0
    assert "NASA/TM-2001-211221" in facts.source
    assert facts.air is None


def test_a_pair_of_the_models_own_stands_above_the_refusal() -> None:
    own = {"cold": Environment(albedo=0.19, infrared=218.0, note="project document")}
    facts = environment("cold", own, EARTH, 98.0)
    assert (facts.albedo, facts.infrared, facts.corrected) == (0.19, 218.0, False)
    assert facts.sun_distance == EARTH.greatest_sun_distance
    assert facts.source == "project document"


def test_the_models_own_pair_may_take_the_correction_too() -> None:
    own = {"cold": Environment(albedo=0.19, infrared=218.0, albedo_correction=True)}
    assert environment("cold", own, EARTH, 98.0).albedo_at(0.0) == pytest.approx(0.23)


@pytest.mark.parametrize("half", [{"albedo": 0.3}, {"infrared": 250.0}])
def test_half_a_pair_does_not_join_the_published_half(half: Mapping[str, float]) -> None:
    with pytest.raises(ValueError, match="needs both albedo and infrared, or neither"):
        environment("hot", {"hot": Environment.model_validate(half)}, EARTH, 98.0)


def test_a_published_pair_needs_an_inclination() -> None:
    with pytest.raises(ValueError, match="depends on an inclination"):
        environment("hot", {}, EARTH, None)


def test_an_entry_may_add_air_to_a_published_pair() -> None:
    thin = Environment(density=1e-10, density_altitude=2e5, scale_height=3e4, accommodation=0.9)
    facts = environment("hot", {"hot": thin}, EARTH, 20.0)
    assert facts.albedo == 0.24
    assert facts.air == (1e-10, 2e5, 3e4)
    assert facts.accommodation == 0.9


def test_density_alone_is_the_same_at_every_altitude() -> None:
    facts = environment("hot", {"hot": Environment(density=1e-10)}, EARTH, 20.0)
    assert facts.air == (1e-10, 0.0, math.inf)
    assert facts.accommodation == 1.0


def test_another_body_is_hot_where_it_is_nearest_to_the_sun() -> None:
    mars = body("Mars", {})
    hot, cold = environment("hot", {}, mars), environment("cold", {}, mars)
    assert hot.sun_distance == mars.least_sun_distance
    assert cold.sun_distance == mars.greatest_sun_distance
    assert hot.albedo == cold.albedo == mars.albedo
    assert hot.infrared == cold.infrared == mars.night_infrared
    assert not hot.corrected


def test_an_airless_body_emits_by_day_as_the_sunlight_is() -> None:
    """derived: total emission of the subsolar point goes with the inverse square of distance"""
    hot, mean = environment("hot", {}, MOON), environment("mean", {}, MOON)
    by_day = (hot.infrared + hot.day_infrared) / (mean.infrared + mean.day_infrared)
    assert by_day == pytest.approx(hot.sunlight / mean.sunlight)
    assert hot.infrared == mean.infrared == 5.2


def test_the_nearest_statement_of_the_suns_distance_counts() -> None:
    def distance(entry: Environment, **stated: float) -> float:
        return environment("own", {"own": entry}, EARTH, **stated).sun_distance

    assert distance(Environment()) == 1.0
    assert distance(Environment(), of_date=1.01) == 1.01
    assert distance(Environment(season="hot"), of_date=1.01) == EARTH.least_sun_distance
    assert distance(Environment(season="hot"), of_orbit=0.7, of_date=1.01) == 0.7
    assert distance(Environment(sun_distance=0.5), of_orbit=0.7) == 0.5
    assert distance(Environment(sunlight=4.0 * 1361.0), of_orbit=0.7) == 0.5


def test_away_from_all_bodies_there_is_only_the_sun() -> None:
    facts = environment("far", {"far": Environment(sun_distance=2.0)}, None)
    assert (facts.sunlight, facts.albedo, facts.infrared) == (1361.0 / 4.0, 0.0, 0.0)
    with pytest.raises(ValueError, match="needs `sunlight` or `sun_distance`"):
        environment("hot", {}, None)


def test_an_environment_takes_from_the_body_what_it_leaves_out() -> None:
    facts = environment("dusty", {"dusty": Environment(albedo=0.3)}, body("Mars", {}))
    assert facts.albedo == 0.3
    assert facts.infrared == 30.0
    assert facts.source.startswith("infrared of the body Mars: ")


def test_an_unknown_environment_is_named_with_the_nearest() -> None:
    with pytest.raises(ValueError, match="unknown environment 'hott'; did you mean 'hot'"):
        environment("hott", {}, EARTH, 20.0)


@pytest.mark.parametrize(
    ("keys", "message"),
    [
        ({"sunlight": 1400.0, "sun_distance": 1.0}, "give either `sunlight` or `sun_distance`"),
        ({"sunlight": 1400.0, "season": "hot"}, "leave out the season"),
        ({"scale_height": 3e4}, "needs `density`"),
        ({"accommodation": 0.9}, "needs `density`"),
        ({"density": 1e-10, "density_altitude": 2e5}, "go together"),
        ({"infrared": 200.0, "night_infrared": 10.0}, "give either `infrared`"),
    ],
)
def test_keys_of_an_environment_that_contradict_each_other_are_refused(
    keys: Mapping[str, object], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        Environment.model_validate(keys)


def test_a_uniform_body_needs_both_sides_from_the_environment() -> None:
    with pytest.raises(ValueError, match="states no day and night side"):
        environment("own", {"own": Environment(day_infrared=300.0)}, EARTH)
    both = Environment(day_infrared=300.0, night_infrared=100.0)
    facts = environment("own", {"own": both}, EARTH)
    assert (facts.infrared, facts.day_infrared) == (100.0, 200.0)
