"""Cases solved over the beta angle: which angle governs each component is found, not assumed.

The answer is meant to equal that of solving every angle of the grid; `beta_gaps` says by which
rule most of them are left out, and what that rule assumes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from thermnet.errors import InputError, Problem, nearest, once_a_path
from thermnet.margins import Margin, gravity
from thermnet.model.model import Model
from thermnet.model.paths import vary
from thermnet.model.usable import components as every_component
from thermnet.physics import orbit as kepler
from thermnet.physics.shadow import shadow_instants
from thermnet.results import Result, solve
from thermnet.solve.solution import Options
from thermnet.studies.beta_gaps import angles, first_round, halved, least, spread
from thermnet.studies.beta_points import Key, Point, Scan, ScannedCase, point_of, temperature
from thermnet.studies.beta_range import Course, Reach, course, orbit_of, reach

ASIDE = 0.01
"""Degrees to the side of an angle at which an attitude is not defined: a body that points to the
planet and turns to the Sun cannot say how it stands below a Sun straight above."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Where something is gravest: in `case` at `beta` [deg], where it is `value`.

    `everywhere`: it is the same, within the accuracy of the solves, at all angles of the case.
    """

    case: str
    beta: float
    value: float
    everywhere: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Governing:
    """A component over all cases and angles of a scan.

    `hot` and `cold` are the gravest temperature margins of each side, None where no band is
    judged, and `others` those of limits on differences, rates and duties, each with the place
    where it is found and its margin as value. `highest` and `lowest` [K] are calculated.
    """

    component: str
    group: str
    hot: tuple[Margin, Found] | None
    cold: tuple[Margin, Found] | None
    others: tuple[tuple[Margin, Found], ...]
    highest: Found
    lowest: Found

    @property
    def sides(self) -> tuple[tuple[Margin, Found], ...]:
        """All margins that there are, the gravest first."""
        found = [each for each in (self.hot, self.cold, *self.others) if each is not None]
        return tuple(sorted(found, key=lambda each: gravity(each[0])))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Track:
    """A case on its way: its grid of angles [deg], and what is solved by place in it.

    `flat` is its orbit in the plane from which beta counts, orbit noon along x.
    """

    case: str
    model: Model
    course: Course
    reach: Reach
    flat: kepler.Orbit
    grid: tuple[float, ...]
    notes: tuple[str, ...]
    solved: dict[int, Point] = field(default_factory=dict)


def scan(
    model: Model,
    cases: Iterable[str] | None = None,
    options: Options = Options(),
    *,
    low: float | None = None,
    high: float | None = None,
    step: float = 1.0,
    components: Iterable[str] = (),
    progress: Callable[[str, float, int], None] | None = None,
) -> Scan:
    """Solve cases over the beta angle and weigh every margin.

    The angles are the multiples of `step` from `low` to `high` [deg] and these two, which are by
    default what the orbit of a case can reach. Without `cases` all that fly in an orbit are
    scanned; without `components` all are weighed. A scan sets the orbit's `beta`, which stands
    above its node and date; everything else stays as the case has it, the season too.
    `progress` is told the case, the angle and how many points were solved, before each solve.

    Raises InputError for a case without an orbit, an unknown component, angles out of range, and
    all that is wrong with a model. A point that the solver gives up on is kept with its failure.
    """
    only = _components(model, components)
    tracks = [_track(model, case, low, high, step) for case in _flying(model, cases)]
    problems: list[Problem] = []
    wanted = [first_round(track.grid, _edges(track)) for track in tracks]
    count = 0
    while any(wanted):
        for beta, track, place in _by_angle(tracks, wanted):
            if progress is not None:
                progress(track.case, beta, count)
            result, moved = _solved(track, beta, options)
            track.solved[place] = point_of(result, beta, only, moved)
            problems += result.problems
            count += 1
        best = least([point for track in tracks for point in track.solved.values()])
        wanted = [halved(track.grid, track.solved, best, options.accuracy) for track in tracks]
    return Scan(
        model=model,
        step=step,
        accuracy=options.accuracy,
        cases=tuple(_scanned(track) for track in tracks),
        points=tuple(track.solved[place] for track in tracks for place in sorted(track.solved)),
        problems=once_a_path(problems),
    )


def governing(found: Scan) -> tuple[Governing, ...]:
    """Every component over all cases and angles, the gravest first, those without a band last.

    Points without a solution count for nothing. Of equals the first case and least angle stands.
    """
    best = least(found.points)
    by_case: dict[str, list[Point]] = {}
    for point in found.points:
        by_case.setdefault(point.case, []).append(point)

    def place(key: Key, value: float) -> Found:
        point = best[key]
        several = len(by_case[point.case]) > 1
        everywhere = several and spread(by_case[point.case], key) <= found.accuracy
        return Found(case=point.case, beta=point.beta, value=value, everywhere=everywhere)

    def margin(key: Key) -> tuple[Margin, Found] | None:
        if key not in best:
            return None
        worst = best[key].margins[key]
        return worst, place(key, worst.margin)

    def extreme(key: Key) -> Found:
        return place(key, temperature(key, best[key].weights[key]))

    entries = every_component(found.model)
    rows = []
    for name in dict.fromkeys(key[0] for key in best):
        others = [key for key in best if key[0] == name and key[1] not in ("margin", "extreme")]
        entry = entries[name]
        rows.append(
            Governing(
                component=name,
                group=entry.group,
                hot=margin((name, "margin", "hot")),
                cold=margin((name, "margin", "cold")),
                others=tuple(each for key in others if (each := margin(key)) is not None),
                highest=extreme((name, "extreme", "highest")),
                lowest=extreme((name, "extreme", "lowest")),
            )
        )

    def grave(row: Governing) -> tuple[int, bool, float]:
        return gravity(row.sides[0][0]) if row.sides else (9, True, 0.0)

    return tuple(sorted(rows, key=grave))


def _components(model: Model, wanted: Iterable[str]) -> Collection[str]:
    known = every_component(model)
    chosen = tuple(wanted)
    for name in chosen:
        if name not in known:
            message = f"unknown component '{name}'{nearest(name, known)}"
            raise InputError([Problem(message=message)])
    if not known:
        raise InputError([Problem(message=f"{model.file}: the model has no components to judge")])
    return frozenset(chosen or known)


def _flying(model: Model, cases: Iterable[str] | None) -> tuple[str, ...]:
    if cases is not None:
        return model.solved_as(cases)
    found = tuple(case for case in model.cases if orbit_of(model, case) is not None)
    if not found:
        message = f"{model.file}: no case has an orbit around a body, so none has a beta angle"
        raise InputError([Problem(message=message)])
    return found


def _track(model: Model, case: str, low: float | None, high: float | None, step: float) -> _Track:
    flown = course(model, case)
    reached = reach(model, case) if low is None or high is None else None
    asked = reached or Reach(low=-90.0, high=90.0, why="")
    if low is not None or high is not None:
        asked = Reach(
            low=asked.low if low is None else low,
            high=asked.high if high is None else high,
            why="as asked for",
        )
    flat, changes, notes = _laid_flat(flown)
    return _Track(
        case=case,
        model=vary(model, changes) if changes else model,
        course=flown,
        reach=asked,
        flat=flat,
        grid=angles(asked.low, asked.high, step),
        notes=notes,
    )


def _laid_flat(flown: Course) -> tuple[kepler.Orbit, dict[str, float], tuple[str, ...]]:
    """The orbit in the plane from which beta counts, what this changes in the model, and a note.

    With `beta` the periapsis counts from orbit noon, without it from the node.
    """
    stated = flown.flight.orbit
    # Only by name does a circle begin at its periapsis; then it must keep its place all the same.
    anywhere = flown.circular and flown.entry.start != "periapsis"
    if anywhere or flown.entry.beta is not None:
        return replace(stated, inclination=0.0, node=0.0), {}, ()
    noon = kepler.true_anomaly_towards(stated, np.array(flown.flight.sun))
    flat = replace(stated, inclination=0.0, node=0.0, periapsis=-noon)
    ahead = math.degrees(-noon) % 360.0
    point = "start" if flown.circular else "lowest point"
    note = f"the {point} stays {ahead:.0f}° ahead of orbit noon, as it is at the orbit's date"
    return flat, {f"orbits.{flown.name}.periapsis": ahead}, (note,)


def _edges(track: _Track) -> Callable[[float], int]:
    """How many shadow edges the orbit has at an angle [deg]."""
    flight = track.course.flight

    def count(beta: float) -> int:
        sun = np.array([math.cos(math.radians(beta)), 0.0, math.sin(math.radians(beta))])
        return len(shadow_instants(track.flat, sun, flight.radius, flight.sun_distance))

    return count


def _by_angle(tracks: list[_Track], wanted: list[set[int]]) -> list[tuple[float, _Track, int]]:
    """Points to solve, angle by angle: cases under one sky then share what shines on them."""
    asked = [
        (track.grid[place], number, place)
        for number, track in enumerate(tracks)
        for place in wanted[number]
    ]
    return [(beta, tracks[number], place) for beta, number, place in sorted(asked)]


def _solved(track: _Track, beta: float, options: Options) -> tuple[Result, float]:
    """The case at an angle, and how far aside [deg] it had to be solved."""
    path = f"orbits.{track.course.name}.beta"
    try:
        return solve(vary(track.model, {path: beta}), track.case, options), 0.0
    except InputError:
        aside = ASIDE if beta < track.grid[-1] else -ASIDE
        try:
            return solve(vary(track.model, {path: beta + aside}), track.case, options), aside
        except InputError:
            pass
        raise


def _scanned(track: _Track) -> ScannedCase:
    moved = [f"{point.beta:g}°" for point in track.solved.values() if point.moved]
    notes = track.notes
    if moved:
        notes += (
            f"solved {ASIDE:g}° beside {', '.join(moved)}, where the attitude is not defined",
        )
    return ScannedCase(
        name=track.case,
        low=track.grid[0],
        high=track.grid[-1],
        why=track.reach.why,
        angles=len(track.grid),
        sun_distance=track.course.sky.sun_distance,
        notes=notes,
    )
