"""What every surface of a model is in a case: its optics, what it sees, and what it absorbs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from thermnet.errors import InputError, Problem
from thermnet.model.driven import Driven, product, spliced
from thermnet.model.histories import mean, unrolled
from thermnet.model.kinds.directions import unit_vector
from thermnet.model.kinds.finish import Finish, absorptance, emittance, finish
from thermnet.model.kinds.kind import Exterior, effective_emittance
from thermnet.model.kinds.material import Material, material
from thermnet.model.kinds.radiator import Radiator, fin_efficiency
from thermnet.model.kinds.site import Site
from thermnet.model.kinds.surface import ByAngle, BySchedule, Share, Surface
from thermnet.model.model import Model
from thermnet.model.plan import Plan, misfit
from thermnet.model.sky import Sky
from thermnet.model.surfaces import path_of, surfaces_of
from thermnet.network.grid import common_grid
from thermnet.network.parts import History
from thermnet.physics.curves import Floats
from thermnet.physics.exposure import Exposure, exposure
from thermnet.physics.orbit import instant_at_angle
from thermnet.physics.setting import Face, Flight


@dataclass(frozen=True, slots=True, kw_only=True)
class Optics:
    """Solar absorptance (NaN where nobody states it) and infrared emittance in a case."""

    absorptance: float
    emittance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Outside:
    """Optics of a surface, and the area [m2] that counts."""

    optics: Optics
    area: float


def exteriors(model: Model, how: Plan, span: float) -> dict[str, Exterior]:
    """Every surface of a model, by name, from 0 to `span` [s]; for a span of 0 its time means.

    Raises InputError with all problems: finishes without a life, surfaces that see what is not
    there, fractions that do not sum to 1, and attitudes or faces that are not defined.
    """
    sky, life = how.sky, how.life
    surfaces = surfaces_of(model)
    finishes = model.entries(Finish, "finishes")
    optics: dict[str, Optics] = {}
    problems = [*_without_sky(model, surfaces)]
    for name, surface in surfaces.items():
        try:
            optics[name] = _optics(surface, finishes, life)
        except ValueError as error:
            path = f"{path_of(model, name)}.finish"
            if surface.finish in finishes:
                path = f"finishes.{surface.finish}"
            if life is None and "say `life`" in str(error):
                path = f"cases.{model.case}"
            problems.append(Problem(message=str(error), path=path))
    faces = {name: _face(surface) for name, surface in surfaces.items() if surface.faces_out}
    received: dict[str, Exposure] = {}
    distinct = tuple(dict.fromkeys(faces.values()))
    for pointing, above in how.skies.items() if faces else ():
        try:
            received[pointing] = exposure(above.setting, distinct)
        except ValueError as error:
            problems += _undefined(model, above, faces, str(error))
    if problems:
        raise InputError(model.located(problems))
    places = {face: k for k, face in enumerate(dict.fromkeys(faces.values()))}
    found = {}
    over = _Over(how=how, span=span)
    for name, surface in surfaces.items():
        fractions = {each: over.share(part) for each, part in surface.fractions.items()}
        if message := _unfit(surface, fractions, sky):
            key = "sees" if surface.sees else "to"
            problems.append(Problem(message=message, path=f"{path_of(model, name)}.{key}"))
            continue
        column = places[faces[name]] if name in faces else None
        exchanging = _exchanging(fractions, sky, received, column, over)
        try:
            share = _efficiency(model, surface, optics[name].emittance, exchanging)
        except ValueError as error:
            problems.append(Problem(message=str(error), path=f"{path_of(model, name)}.fin"))
            continue
        heat: dict[str, Driven] = {}
        seen = _Outside(optics=optics[name], area=surface.area * share)
        if sky is not None and column is not None:
            heat = over.spliced(
                {
                    pointing: _absorbed(surface, seen, sky, each, column, fractions, over)
                    for pointing, each in received.items()
                }
            )
        found[name] = Exterior(
            node=surface.node,
            area=seen.area,
            absorptance=optics[name].absorptance,
            emittance=optics[name].emittance,
            fractions={each: over.finished(part) for each, part in exchanging.items()},
            heat={cause: over.finished(part) for cause, part in heat.items()},
            drawn_from=_drawn_from(surface, heat, over),
            efficiency=share,
        )
    if problems:
        raise InputError(model.located(problems))
    return found


def _drawn_from(surface: Surface, heat: Mapping[str, Driven], over: _Over) -> Driven | None:
    """Sunlight times the schedule by which its power is drawn, multiplied before any mean."""
    if surface.cells is None or surface.cells.drawn is None or "solar" not in heat:
        return None
    share = over.share(BySchedule(schedule=surface.cells.drawn))
    return over.finished(product(heat["solar"], share))


def _efficiency(
    model: Model, surface: Surface, emittance: float, fractions: Mapping[str, Driven]
) -> float:
    """The share of its area by which a surface counts: that of a radiator with a fin."""
    if not isinstance(surface, Radiator):
        return 1.0
    materials = model.entries(Material, "materials")
    outward = effective_emittance(emittance, fractions)
    return fin_efficiency(surface, outward, lambda name: material(name, materials))


def _without_sky(model: Model, surfaces: Mapping[str, Surface]) -> Iterator[Problem]:
    """Surfaces that say what they see, and no sky among it."""
    seen = {name: each for name, each in surfaces.items() if each.sees}
    for name, surface in seen.items():
        if surface.to not in surface.sees:
            message = (
                f"states no fraction of the sky '{surface.to}': give it, 0 for none, or name the "
                "sky in 'to'"
            )
            yield Problem(message=message, path=f"{path_of(model, name)}.sees")


def _optics(surface: Surface, finishes: Mapping[str, Finish], life: str | None) -> Optics:
    """Absorptance and emittance: the surface's own, or else those of its finish."""
    absorbs, emits = surface.absorptance, surface.emittance
    if surface.finish is not None:
        facts = finish(surface.finish, finishes)
        if absorbs is None and surface.faces_out:
            absorbs = absorptance(facts, life)
        if emits is None:
            emits = emittance(facts, life)
    if emits is None:
        raise ValueError("missing key 'emittance'")
    return Optics(absorptance=math.nan if absorbs is None else absorbs, emittance=emits)


def _face(surface: Surface) -> Face:
    axis = {"plate": surface.normal, "cylinder": surface.along, "sphere": None}[surface.shape]
    if surface.follows_sun is not None:
        axis = surface.about
    return Face(
        axis=None if axis is None else unit_vector(axis),
        cylinder=surface.shape == "cylinder",
        follows=surface.follows_sun or "",
        back=surface.side == "back",
    )


def _undefined(
    model: Model, sky: Sky, faces: Mapping[str, Face], message: str
) -> Iterator[Problem]:
    """Which surface, or else which pointing, an exposure cannot be computed for."""
    blamed = [path_of(model, name) for name, face in faces.items() if not _alone(sky, face)]
    if len(blamed) == len(faces) or not blamed:
        yield Problem(message=message, path=sky.pointing)
        return
    for path in blamed:
        yield Problem(message=message, path=path)


def _alone(sky: Sky, face: Face) -> bool:
    try:
        exposure(sky.setting, (face,))
    except ValueError:
        return False
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class _Over:
    """The time of a case: `span` [s], or one period of its orbit where means are wanted."""

    how: Plan
    span: float

    @property
    def period(self) -> float | None:
        """s after which the orbit or day repeats, None where nothing changes by itself."""
        return None if self.how.sky is None else self.how.sky.period

    @property
    def end(self) -> float:
        """The last instant [s] of histories."""
        return self.span or self._turn or self.period or 0.0

    @property
    def _turn(self) -> float | None:
        """s after which a timeline repeats, if with whole orbits or with several pointings."""
        done = self.how.activity
        if done is None or done.period is None or len(self.how.skies) > 1:
            return None if done is None else done.period
        whole = self.period is not None and not misfit(self.period, done.period)
        return done.period if whole else None

    def spliced(self, parts: Mapping[str, Mapping[str, Driven]]) -> dict[str, Driven]:
        """What holds in each pointing, by cause, as the timeline goes through them."""
        done = self.how.activity
        if done is None or len(parts) == 1:
            return dict(next(iter(parts.values())))
        if self.span == 0.0 and done.period is None:  # a steady case is that of the first step
            return dict(parts[done.pointings[0]])
        edges, pointings = done.stretches(self.end)
        causes = dict.fromkeys(cause for each in parts.values() for cause in each)
        nothing = Driven(amplitude=0.0)
        return {
            cause: spliced([parts[each].get(cause, nothing) for each in pointings], edges)
            for cause in causes
        }

    def repeated(self, time: Floats, value: Floats) -> Driven:
        """What is f8[k] at f8[k] [s] of one period of the orbit; constant without one."""
        if self.period is None or (value == value[0]).all():
            return Driven(amplitude=float(value[0]))
        history = unrolled(History(time=time, value=value), self.period, self.end)
        return Driven(amplitude=1.0, history=history)

    def share(self, fraction: Share) -> Driven:
        """A fraction over the time of the case; in means, schedules count by theirs."""
        if isinstance(fraction, BySchedule):
            schedule = self.how.schedules[fraction.schedule]
            # What repeats with the orbit is multiplied as it comes, before a mean is taken.
            turns = (
                self.end > 0.0
                and schedule.period is not None
                and not misfit(schedule.period, self.end)
            )
            if self.end == 0.0 or (self.how.solve == "steady" and not turns):
                return Driven(amplitude=schedule.mean(0.0))
            return Driven(amplitude=1.0, history=schedule.history(self.end))
        if not isinstance(fraction, ByAngle):
            return Driven(amplitude=fraction)
        # Straight in angle; on an ellipse that is no straight line in time, and so in short pieces.
        angle = np.unique([*np.linspace(0.0, 360.0, 73), *fraction.angle])
        value: Floats = np.interp(angle, fraction.angle, fraction.fraction, period=360.0)
        flight = None if self.how.sky is None else self.how.sky.setting
        if not isinstance(flight, Flight):
            return Driven(amplitude=mean(History(time=angle, value=value), 360.0))
        time = instant_at_angle(flight.orbit, np.radians(angle))
        time[-1] = flight.period
        return self.repeated(time, value)

    def finished(self, driven: Driven) -> Driven:
        """As it stands, or its mean where means are wanted."""
        if driven.history is None or self.span > 0.0:
            return driven
        return Driven(amplitude=driven.amplitude * mean(driven.history, self.end))


def _unfit(surface: Surface, fractions: Mapping[str, Driven], sky: Sky | None) -> str:
    """What is wrong with what a surface sees in a case, "" for nothing."""
    site = None if sky is None or not surface.faces_out else sky.site
    if site is not None and site.ground in fractions:
        return (
            f"at a site the ground '{site.ground}' takes its share by the tilt of the surface: "
            "leave it out"
        )
    return _unequal(fractions) if surface.sees else ""


def _unequal(fractions: Mapping[str, Driven]) -> str:
    """What is wrong with fractions that should sum to 1 at each instant, "" for nothing."""
    total = sum((each.amplitude for each in fractions.values() if each.history is None), 0.0)
    changing = [each for each in fractions.values() if each.history is not None]
    if not changing:
        return "" if abs(total - 1.0) <= 1e-6 else f"the fractions sum to {total:g}, not to 1"
    grid = common_grid([each.history for each in changing if each.history is not None])
    weights = np.array([each.amplitude for each in changing])
    for value, time in ((grid.start, grid.instants[:-1]), (grid.stop, grid.instants[1:])):
        sums = value @ weights + total
        wrong = np.abs(sums - 1.0) > 1e-6
        if wrong.any():
            k = int(np.argmax(wrong))
            return f"the fractions sum to {sums[k]:g} at {time[k]:g} s, not to 1"
    return ""


def _exchanging(
    fractions: dict[str, Driven],
    sky: Sky | None,
    received: Mapping[str, Exposure],
    column: int | None,
    over: _Over,
) -> dict[str, Driven]:
    """What a surface exchanges radiation with: what it sees, and at a site its part of the ground.

    `column` is its place in the exposures, None for one that faces no sky.
    """
    if sky is None or column is None or (site := sky.site) is None:
        return fractions
    return over.spliced(
        {
            pointing: _with_ground(fractions, each, column, site, over)
            for pointing, each in received.items()
        }
    )


def _with_ground(
    fractions: Mapping[str, Driven], received: Exposure, column: int, site: Site, over: _Over
) -> dict[str, Driven]:
    """At a site the ground takes its view from the sky's, by the tilt of the surface."""
    first, *others = fractions
    below = received.planet[:, column]
    above = over.repeated(received.time, 1.0 - below)
    glowing = over.repeated(received.time, below * site.ground_emittance)
    found = {first: product(above, fractions[first])}
    found |= {name: fractions[name] for name in others}
    return found | {site.ground: product(glowing, fractions[first])}


def _absorbed(
    surface: Surface,
    outside: _Outside,
    sky: Sky,
    received: Exposure,
    column: int,
    fractions: Mapping[str, Driven],
    over: _Over,
) -> dict[str, Driven]:
    """Absorbed heat [W] by cause; only what there is."""
    open_sky = next(iter(fractions.values()))
    lit = over.share(surface.sunlit)
    area, optics = outside.area, outside.optics
    light = optics.absorptance * area * sky.sunlight
    direct, reflected, planet, air = (
        each[:, column]
        for each in (received.direct, received.reflected, received.planet, received.air)
    )
    parts = {
        "solar": (light, direct, lit),
        "albedo": (light * sky.albedo, reflected, open_sky),
        "planet_infrared": (
            optics.emittance * area,
            sky.infrared * planet + sky.day_infrared * reflected,
            open_sky,
        ),
        "free_molecular": (area * sky.accommodation, air, lit),
    }
    return {
        cause: product(over.repeated(received.time, factor * shape), share)
        for cause, (factor, shape, share) in parts.items()
        if factor > 0.0 and shape.max() > 0.0
    }
